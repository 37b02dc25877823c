package cutting

import "slices"

// ruleOut looks, price by price from the bound up, at every choice of boards of
// that price, and asks the linear program and then branching whether it can hold
// all parts. Where none can, the bound rises; where one can, that plan is the best.
// It gives up at the first price with too many choices or one left in doubt.
func (s *search) ruleOut(work int) {
	if s.choose == nil {
		return
	}
	s.within(work, func() {
		for s.bound < s.worth.price && !s.over {
			choices, all := s.choose.list(s.bound, listed)
			if !all {
				return
			}
			for _, take := range choices {
				if v := s.decide(take, work/doubtShare); v != impossible {
					return
				}
			}
			s.bound = s.raise(s.bound + 1)
		}
	})
}

// doubtShare of the work goes to one choice of boards.
const doubtShare = 4

// verdict says whether a choice of boards can hold all parts.
type verdict int

const (
	doubtful verdict = iota
	impossible
	possible
)

// decide looks for a plan on the given boards that leaves nothing over. A plan
// that is found is offered.
func (s *search) decide(take []int, work int) verdict {
	m := *s.model
	m.stocks = slices.Clone(m.stocks)
	miss := make([]int, len(m.kinds))
	for i, n := range take {
		m.stocks[i].count = n
	}
	for k, kd := range m.kinds {
		miss[k] = kd.size
	}
	sub := &search{model: &m, effort: s.effort, fill: s.fill, demand: s.demand, size: s.size, best: draft{left: slices.Clone(s.demand)}}
	sub.worth = m.worth(sub.best)
	b := sub.newBrancher(aim{price: make([]int, len(take)), miss: miss})
	b.ceiling = 1 // a plan with anything missing is of no use
	s.within(work, func() {
		if b.root() < 1 {
			b.branch(func(int) {})
		}
	})
	switch {
	case sub.worth.leftPieces == 0:
		s.offer(sub.best)
		return possible
	case b.low >= 1:
		return impossible
	}
	return doubtful
}
