package cutting

import (
	"slices"

	"kerfbook/internal/calc/contract"
)

// answer is what a search found and what it can say about it.
type answer struct {
	draft  draft
	bound  int  // in steps of price
	placed bool // no plan places more
	// leftLow is a length of parts, thousandths of a millimetre: no plan leaves less.
	leftLow int
}

// solve searches for the best plan within the effort, and then makes it handier.
func (m *model) solve(e *effort) answer {
	a := m.search(e)
	if len(a.draft.bins) > 0 {
		m.polish(e.extra(min(polishWork, e.limit)), &a.draft)
	}
	return a
}

func (m *model) search(e *effort) answer {
	s := newSearch(m, e)
	e.how = s.progress
	if len(m.stocks) == 0 {
		return answer{draft: s.best, placed: true}
	}
	s.build()
	placed := s.worth.leftPieces == 0 || s.placeMost()
	if s.worth.leftPieces > 0 {
		return s.planPlaced(placed)
	}
	s.bound = s.coverBound(s.effort, s.size, s.reach)
	s.improve()
	s.tidy()
	return answer{draft: s.best, bound: s.bound, placed: true}
}

// search holds the best plan so far and the bound that is known.
type search struct {
	*model
	*effort
	fill   *filler
	best   draft
	worth  worth
	demand []int
	size   int   // of all parts
	reach  []int // by stock: the greatest sum of sizes that fits
	bound  int
	// leftLow is what no plan leaves less unplaced than, thousandths of a millimetre.
	leftLow int
	choose  *chooser
	throws  uint64 // packings so far
}

func newSearch(m *model, e *effort) *search {
	s := &search{model: m, effort: e, fill: &filler{}, demand: make([]int, len(m.kinds))}
	for i, k := range m.kinds {
		s.demand[i] = k.demand
	}
	_, s.size = s.pieces()
	s.best = draft{left: slices.Clone(s.demand)}
	s.worth = s.model.worth(s.best)
	s.reach = s.reaches(e)
	return s
}

// build makes first plans, board by board.
func (s *search) build() {
	for _, r := range rules[:3] {
		if s.over && r != quick {
			break
		}
		d := s.greedy(s.effort, s.fill, r)
		s.shrink(&d)
		s.offer(d)
	}
}

// improve raises the bound and betters the plan until they meet or the effort
// ends. All parts are placed.
func (s *search) improve() {
	s.choose = newChooser(s.model, s.effort, s.size, s.worth.price, s.reach)
	if !s.many() {
		s.targets(packWork / quickShare)
	}
	if s.bound >= s.worth.price || s.over {
		return
	}
	b := s.newBrancher(s.cheapest())
	b.low = s.bound
	s.bound = max(s.bound, b.root())
	b.low = s.bound
	if s.many() {
		b.round()
	} else {
		b.settle(packWork, fewColumns)
		s.bound = max(s.bound, b.low)
		s.targets(packWork)
		b.settle(4*packWork, 2*fewColumns)
		s.bound = max(s.bound, b.low)
	}
	// Branching, packing and ruling out choices in turn, each for as long as the
	// first took.
	b.branch(func(work int) {
		if s.many() {
			return
		}
		s.targets(max(work, packWork))
		s.ruleOut(max(work, packWork))
		b.low = s.bound
		b.settle(max(work, packWork), manyColumns)
		s.bound = b.low
	})
	s.bound = b.low
}

// tidy betters what comes after the price, with some effort of its own.
func (s *search) tidy() {
	e := s.effort.extra(tidyWork)
	s.effort = e
	if s.choose != nil {
		s.choose.effort = e
		s.betterBoards()
	}
}

// Work for what comes after the first objective: our estimate.
const (
	tidyWork   = 10_000_000
	polishWork = 3_000_000
)

// many says whether there are so many pieces of a length that patterns are cut
// many times over: rounding the linear program then does better than packing
// piece by piece.
func (s *search) many() bool {
	const pieces, each = 2000, 20
	n, _ := s.pieces()
	return n > pieces || n > each*(len(s.kinds)+10)
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

// progress says how far the search is: the price, once all that can be placed is.
func (s *search) progress() contract.Progress {
	if s.worth.leftPieces > 0 {
		left := mm(s.worth.leftLength)
		return contract.Progress{Best: &left, Unit: UnitMM + " unplaced"}
	}
	best, bound := s.money(s.worth.price).InexactFloat64(), s.money(s.bound).InexactFloat64()
	return contract.Progress{Best: &best, Bound: &bound, Unit: s.unit}
}
