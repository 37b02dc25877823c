package cutting

import "slices"

// placeMost looks for the plan that leaves the least length unplaced, then the
// fewest pieces, and says whether no plan places more.
func (s *search) placeMost() bool {
	all := make([]int, len(s.stocks))
	for i, st := range s.stocks {
		all[i] = st.count
	}
	p := s.packed(all)
	p.more(packWork)
	s.offer(p.draft())
	if s.worth.leftPieces == 0 {
		return true
	}
	miss, ok := s.missPrices()
	if !ok || s.over {
		return false
	}
	b := s.newBrancher(aim{price: make([]int, len(s.stocks)), miss: miss})
	s.within(max(0, s.limit-s.work)/2, func() {
		b.root()
		b.settle(packWork, fewColumns)
		b.settle(4*packWork, 2*fewColumns)
		b.branch(func(work int) { b.settle(max(work, packWork), manyColumns) })
	})
	s.leftLow = min(s.worth.leftLength, s.lengthOf(b.low))
	return b.low >= b.value()
}

// missPrices weighs each missing part by its length, and so that among equal
// lengths fewer pieces are better. It gives false where the weights grow too
// large to be added up.
func (s *search) missPrices() ([]int, bool) {
	const most = 1 << 40 // of the sum of all
	pieces, _ := s.pieces()
	divisor := s.lengthStep()
	miss := make([]int, len(s.kinds))
	sum := 0
	for i, k := range s.kinds {
		miss[i] = k.length/divisor*(pieces+1) + 1
		if sum += miss[i] * k.demand; sum > most {
			return nil, false
		}
	}
	return miss, true
}

// lengthStep is the greatest length that all parts are multiples of.
func (m *model) lengthStep() int {
	step := 0
	for _, k := range m.kinds {
		step = gcd(step, k.length)
	}
	return step
}

// lengthOf is the least length of parts whose miss prices come to low or more.
func (s *search) lengthOf(low int) int {
	pieces, _ := s.pieces()
	return ceilDiv(max(0, low-pieces), pieces+1) * s.lengthStep()
}

// planPlaced plans the parts that can be placed as if they were all. Its bound
// holds for every plan that places the same length in as many pieces, for these
// have the same size in all.
func (s *search) planPlaced(placed bool) answer {
	left := slices.Clone(s.best.left)
	m := *s.model
	m.kinds = slices.Clone(m.kinds)
	for k := range m.kinds {
		m.kinds[k].demand -= left[k]
	}
	bound := s.coverBound(s.effort, s.size-s.sizeOf(left), s.reach)
	sub := newSearch(&m, s.effort)
	sub.best.bins = slices.Clone(s.best.bins)
	sub.best.left = make([]int, len(left))
	sub.shrink(&sub.best)
	sub.worth = sub.model.worth(sub.best)
	s.how = sub.progress
	if sub.bound = bound; sub.worth.price > bound {
		sub.improve()
	}
	sub.tidy()
	return answer{draft: draft{bins: sub.best.bins, left: left}, bound: bound, placed: placed, leftLow: s.leftLow}
}
