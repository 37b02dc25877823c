package cutting

import (
	"cmp"
	"slices"
)

// rule is one way of building a plan board by board.
type rule struct {
	full  bool // fill by the best sum, else longest first
	start bool // the longest part that is left goes on the next board
	short bool // among equally good boards take the shorter
	last  bool // a board that takes all the rest goes before any other
}

// quick is the first rule; it runs to its end whatever the clock says.
var quick = rule{last: true}

var rules = []rule{
	quick, {short: true}, {full: true}, {full: true, start: true, last: true}, {full: true, start: true},
	{full: true, start: true, short: true},
}

// greedy builds a plan by one rule: of all kinds of board, always the one that
// costs least for what is cut from it, until nothing is left or nothing fits.
func (m *model) greedy(e *effort, f *filler, r rule) draft {
	d := draft{left: make([]int, len(m.kinds))}
	for i, k := range m.kinds {
		d.left[i] = k.demand
	}
	avail := make([]int, len(m.stocks))
	for i, s := range m.stocks {
		avail[i] = s.count
	}
	for {
		best, ok := m.nextBin(e, f, r, d.left, avail)
		if !ok {
			return d
		}
		times := avail[best.stock]
		for _, c := range best.cuts {
			times = min(times, d.left[c.kind]/c.count)
		}
		for _, c := range best.cuts {
			d.left[c.kind] -= c.count * times
		}
		avail[best.stock] -= times
		for range times {
			d.bins = append(d.bins, best)
		}
		if !e.spend(times*len(best.cuts)) && r != quick {
			return d
		}
	}
}

// nextBin gives the best filled board among the kinds of board there still are.
func (m *model) nextBin(e *effort, f *filler, r rule, left, avail []int) (bin, bool) {
	first := -1
	for k, n := range left {
		if n > 0 {
			first = k
			break
		}
	}
	if first < 0 {
		return bin{}, false
	}
	var best bin
	bestPrice, bestLoad, bestAll, found := 0, 0, false, false
	all := m.sizeOf(left)
	for s, st := range m.stocks {
		if avail[s] == 0 {
			continue
		}
		if found && !e.spend(len(m.kinds)) {
			break
		}
		cuts := m.fillBy(e, f, r, st.room, left, first)
		load := m.load(cuts)
		if load == 0 {
			continue
		}
		holdsAll := r.last && load == all
		better := !found
		if found {
			o := cmp.Compare(st.price*bestLoad, bestPrice*load)
			if holdsAll || bestAll {
				o = -cmpBool(holdsAll, bestAll)
				if holdsAll && bestAll {
					o = cmp.Compare(st.price, bestPrice)
				}
			}
			better = o < 0 || o == 0 && r.short
		}
		if better {
			best, bestPrice, bestLoad, bestAll, found = bin{s, cuts}, st.price, load, holdsAll, true
		}
	}
	return best, found
}

func (m *model) fillBy(e *effort, f *filler, r rule, room int, left []int, first int) []cut {
	if !r.full {
		return firstFit(m, room, left)
	}
	must := -1
	if r.start && m.kinds[first].size <= room {
		must = first
	}
	return f.fullest(m, e, room, left, must)
}

func (m *model) sizeOf(left []int) int {
	sum := 0
	for k, n := range left {
		sum += n * m.kinds[k].size
	}
	return sum
}

// shrink moves each filled board to the cheapest unused board that still holds
// it, and each board that a shorter one can replace.
func (m *model) shrink(d *draft) {
	avail := make([]int, len(m.stocks))
	for i, s := range m.stocks {
		avail[i] = s.count
	}
	for _, b := range d.bins {
		avail[b.stock]--
	}
	byPrice := make([]int, len(m.stocks))
	for i := range byPrice {
		byPrice[i] = i
	}
	slices.SortStableFunc(byPrice, func(a, b int) int {
		return cmp.Or(cmp.Compare(m.stocks[a].price, m.stocks[b].price), cmp.Compare(b, a))
	})
	for moved := true; moved; {
		moved = false
		for i := range d.bins {
			b := &d.bins[i]
			load := m.load(b.cuts)
			for _, s := range byPrice {
				if m.stocks[s].price >= m.stocks[b.stock].price {
					break
				}
				if avail[s] > 0 && m.stocks[s].room >= load {
					avail[b.stock]++
					avail[s]--
					b.stock = s
					moved = true
					break
				}
			}
		}
	}
}
