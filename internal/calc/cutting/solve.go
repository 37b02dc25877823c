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
	fill  *filler
	best  draft
	worth worth
	reach []int
	bound int
}

func (s *search) run() answer {
	s.best = draft{left: make([]int, len(s.kinds))}
	for i, k := range s.kinds {
		s.best.left[i] = k.demand
	}
	s.worth = s.model.worth(s.best)
	s.reach = s.reaches()
	if len(s.stocks) == 0 {
		return answer{draft: s.best, placed: true}
	}
	for _, r := range rules {
		if s.over && r != quick {
			break
		}
		d := s.greedy(s.effort, s.fill, r)
		s.shrink(&d)
		s.offer(d)
	}
	_, size := s.pieces()
	s.bound = s.coverBound(size-s.sizeOf(s.best.left), s.reach)
	return answer{draft: s.best, bound: s.bound, placed: s.worth.leftPieces == 0}
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
