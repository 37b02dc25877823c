package cutting

import "slices"

// answer is what a search found and what it can say about it.
type answer struct {
	draft  draft
	bound  int  // in steps of price
	placed bool // no plan places more
}

// solve searches for the best plan within the effort.
func (m *model) solve(e *effort) answer {
	s := &search{model: m, effort: e, fill: &filler{}}
	return s.run()
}

// search holds the best plan so far and the bound that is known.
type search struct {
	*model
	*effort
	fill   *filler
	pack   *packer
	best   draft
	worth  worth
	demand []int
	size   int // of all parts
	reach  []int
	bound  int
	choose *chooser
}

func (s *search) run() answer {
	s.demand = make([]int, len(s.kinds))
	for i, k := range s.kinds {
		s.demand[i] = k.demand
	}
	_, s.size = s.pieces()
	s.best = draft{left: slices.Clone(s.demand)}
	s.worth = s.model.worth(s.best)
	s.reach = s.reaches()
	if len(s.stocks) == 0 {
		return answer{draft: s.best, placed: true}
	}
	s.pack = newPacker(s.model, s.effort)
	for _, r := range rules[:3] {
		if s.over && r != quick {
			break
		}
		d := s.greedy(s.effort, s.fill, r)
		s.shrink(&d)
		s.offer(d)
	}
	s.bound = s.coverBound(s.size-s.sizeOf(s.best.left), s.reach)
	if s.worth.leftPieces == 0 {
		s.choose = newChooser(s.model, s.effort, s.size, s.worth.price, s.reach)
		s.targets()
		s.exact()
	}
	return answer{draft: s.best, bound: s.bound, placed: s.worth.leftPieces == 0}
}

// targets looks for plans that meet the bound, or come near it: for each price
// from the bound up, boards of just that price are chosen and packed.
func (s *search) targets() {
	if s.bound >= s.worth.price {
		return
	}
	c := s.choose
	if c == nil {
		return
	}
	for v := s.bound; v < s.worth.price && !s.over; v++ {
		for _, take := range c.list(v, 4) {
			d := s.pack.pack(take, s.demand, 1000)
			if s.offer(d) {
				return
			}
			if s.over {
				return
			}
		}
	}
}

// exact raises the bound by the linear program over patterns and looks for a plan
// that meets it by branching.
func (s *search) exact() {
	if s.bound >= s.worth.price || s.over {
		return
	}
	b := s.newBrancher()
	s.bound = max(s.bound, s.raise(b.root()))
	if s.bound >= s.worth.price || s.over {
		return
	}
	if b.branch() {
		s.bound = s.worth.price
	}
}

// raise is the least price from low up that boards of the rack can have when they
// hold everything.
func (s *search) raise(low int) int {
	if s.choose == nil {
		return low
	}
	for low < s.worth.price && !s.choose.holds(low) {
		low++
	}
	return low
}

// offer keeps d when it is better than the best plan so far.
func (s *search) offer(d draft) bool {
	w := s.model.worth(d)
	if !w.less(s.worth) {
		return false
	}
	s.best = draft{bins: slices.Clone(d.bins), left: slices.Clone(d.left)}
	s.worth = w
	return true
}
