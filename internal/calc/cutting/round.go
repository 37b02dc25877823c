package cutting

import "slices"

// round cuts each pattern of the linear program as often as its whole part says
// and plans what is left over on its own; then again with one and two fewer of
// each, which leaves more freedom.
func (b *brancher) round() {
	for fewer := 0; fewer < 3 && !b.over && b.bound < b.worth.price; fewer++ {
		m := *b.model
		m.kinds, m.stocks = slices.Clone(m.kinds), slices.Clone(m.stocks)
		bins := b.wholeParts(&m, fewer)
		price := 0
		for _, t := range bins {
			price += m.stocks[t.stock].price
		}
		sub := newSearch(&m, b.effort)
		sub.build()
		if sub.worth.leftPieces > 0 {
			continue
		}
		b.offer(draft{bins: append(slices.Clone(bins), sub.best.bins...), left: sub.best.left})
		sub.bound = max(b.bound-price, sub.coverBound(b.effort, sub.size, sub.reach))
		sub.choose = newChooser(&m, b.effort, sub.size, sub.worth.price, sub.reach)
		sub.targets(packWork)
		b.offer(draft{bins: append(bins, sub.best.bins...), left: sub.best.left})
	}
}

// wholeParts takes the whole parts of the program's plan, less so many of each
// pattern, out of m.
func (b *brancher) wholeParts(m *model, fewer int) []bin {
	var bins []bin
	for r, v := range b.o.basis {
		if v < 0 {
			continue
		}
		pt := &b.o.patterns[v]
		n := min(int(b.o.x[r]+1e-6)-fewer, m.stocks[pt.stock].count)
		for _, c := range pt.cuts {
			n = min(n, m.kinds[c.kind].demand/c.count)
		}
		if n <= 0 {
			continue
		}
		for _, c := range pt.cuts {
			m.kinds[c.kind].demand -= n * c.count
		}
		m.stocks[pt.stock].count -= n
		for range n {
			bins = append(bins, bin{pt.stock, pt.cuts})
		}
	}
	return bins
}
