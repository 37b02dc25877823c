package cutting

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// polisher betters a plan without touching its boards: fewer different layouts,
// then a longer kept offcut. It takes two boards at a time and shares out their
// parts anew: one like a third board, both alike, or one as full as can be.
type polisher struct {
	*model
	*effort
	dice   *rand.Rand
	pack   *packer
	bins   []bin
	offs   []int          // offcut of each board, thousandths of a millimetre
	alike  map[string]int // boards by layout
	pieces []int
}

// maxPolished is the largest plan, in boards, that is polished.
const maxPolished = 400

func (m *model) polish(e *effort, d *draft) {
	n := len(d.bins)
	if n < 2 || n > maxPolished {
		return
	}
	p := &polisher{model: m, effort: e, dice: rand.New(rand.NewPCG(3, 4)), pack: newPacker(m, e, 5), bins: d.bins, alike: map[string]int{}}
	for _, b := range d.bins {
		p.offs = append(p.offs, m.offcut(b))
		p.alike[patternKey(b.stock, b.cuts)]++
	}
	for !p.over {
		p.step()
	}
}

func (p *polisher) step() {
	i := p.dice.IntN(len(p.bins))
	j := p.dice.IntN(len(p.bins) - 1)
	if j >= i {
		j++
	}
	pool := joinCuts(p.bins[i].cuts, p.bins[j].cuts)
	p.spend(stepsPerPiece * (len(pool) + 5))
	var forI []cut
	switch p.dice.IntN(4) {
	case 0:
		forI = p.full(pool, p.stocks[p.bins[i].stock].room)
	case 1:
		forI = half(pool)
	default:
		if model := p.bins[p.dice.IntN(len(p.bins))]; model.stock == p.bins[i].stock {
			forI = model.cuts
		}
	}
	forJ, ok := minusCuts(pool, forI)
	if !ok || len(forI) == 0 || len(forJ) == 0 || p.load(forJ) > p.stocks[p.bins[j].stock].room ||
		p.load(forI) > p.stocks[p.bins[i].stock].room {
		return
	}
	p.exchange(p.pairs(i, j), forI, forJ)
}

// pairs gives boards i and j, and half of the time all further pairs of boards
// that are laid out like these two.
func (p *polisher) pairs(i, j int) [][2]int {
	all := [][2]int{{i, j}}
	a, b := p.bins[i], p.bins[j]
	if p.dice.IntN(2) == 0 || a.stock == b.stock && cmpCuts(a.cuts, b.cuts) == 0 {
		return all
	}
	p.spend(len(p.bins))
	var likeA, likeB []int
	for x, c := range p.bins {
		switch {
		case x == i || x == j:
		case c.stock == a.stock && cmpCuts(c.cuts, a.cuts) == 0:
			likeA = append(likeA, x)
		case c.stock == b.stock && cmpCuts(c.cuts, b.cuts) == 0:
			likeB = append(likeB, x)
		}
	}
	for x := range min(len(likeA), len(likeB)) {
		all = append(all, [2]int{likeA[x], likeB[x]})
	}
	return all
}

// exchange lays out each pair anew and keeps that when the plan is no worse.
func (p *polisher) exchange(pairs [][2]int, forI, forJ []cut) {
	a, b := p.bins[pairs[0][0]], p.bins[pairs[0][1]]
	newA, newB := bin{a.stock, forI}, bin{b.stock, forJ}
	layouts, kept := len(p.alike), p.kept()
	p.lay(pairs, a, b, newA, newB)
	if o := cmp.Or(cmp.Compare(len(p.alike), layouts), cmp.Compare(kept, p.kept())); o > 0 {
		p.lay(pairs, newA, newB, a, b)
	}
}

// lay changes each pair from a and b to newA and newB.
func (p *polisher) lay(pairs [][2]int, a, b, newA, newB bin) {
	offA, offB := p.offcut(newA), p.offcut(newB)
	for _, x := range pairs {
		p.bins[x[0]], p.bins[x[1]] = newA, newB
		p.offs[x[0]], p.offs[x[1]] = offA, offB
	}
	p.count(a, -len(pairs))
	p.count(b, -len(pairs))
	p.count(newA, len(pairs))
	p.count(newB, len(pairs))
}

func (p *polisher) count(b bin, n int) {
	key := patternKey(b.stock, b.cuts)
	if p.alike[key] += n; p.alike[key] == 0 {
		delete(p.alike, key)
	}
}

// kept is the longest offcut worth keeping, 0 for none.
func (p *polisher) kept() int {
	p.spend(len(p.offs))
	if longest := slices.Max(p.offs); longest >= p.keep {
		return longest
	}
	return 0
}

// full is the fullest choice from the pool, taken in a random order.
func (p *polisher) full(pool []cut, room int) []cut {
	p.pieces = p.pieces[:0]
	for _, c := range pool {
		for range c.count {
			p.pieces = append(p.pieces, c.kind)
		}
	}
	p.dice.Shuffle(len(p.pieces), func(x, y int) { p.pieces[x], p.pieces[y] = p.pieces[y], p.pieces[x] })
	taken, _, _ := p.pack.subset(p.pieces, room, nil, nil)
	slices.Sort(taken)
	var cuts []cut
	for _, k := range taken {
		if n := len(cuts); n > 0 && cuts[n-1].kind == k {
			cuts[n-1].count++
		} else {
			cuts = append(cuts, cut{k, 1})
		}
	}
	return cuts
}

// half is half of everything, nil where something is odd.
func half(pool []cut) []cut {
	cuts := make([]cut, len(pool))
	for i, c := range pool {
		if c.count%2 == 1 {
			return nil
		}
		cuts[i] = cut{c.kind, c.count / 2}
	}
	return cuts
}

// joinCuts adds two lists of cuts, kinds rising.
func joinCuts(a, b []cut) []cut {
	sum := make([]cut, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0].kind < b[0].kind:
			sum, a = append(sum, a[0]), a[1:]
		case a[0].kind > b[0].kind:
			sum, b = append(sum, b[0]), b[1:]
		default:
			sum = append(sum, cut{a[0].kind, a[0].count + b[0].count})
			a, b = a[1:], b[1:]
		}
	}
	return append(append(sum, a...), b...)
}

// minusCuts takes part out of whole; false when it is not in it.
func minusCuts(whole, part []cut) ([]cut, bool) {
	rest := make([]cut, 0, len(whole))
	for _, c := range whole {
		if len(part) > 0 && part[0].kind == c.kind {
			c.count -= part[0].count
			part = part[1:]
		}
		if c.count < 0 {
			return nil, false
		}
		if c.count > 0 {
			rest = append(rest, c)
		}
	}
	return rest, len(part) == 0
}
