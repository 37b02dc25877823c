package planning

import (
	"context"
	"math/rand/v2"
	"slices"
	"sort"
)

const (
	// lineRounds is the work limit of the one-hand search, in descents for 40 jobs;
	// for other numbers it shrinks with the cube, which is what a descent costs.
	lineRounds = 1500
	// lineFewest is the least number of descents however many jobs there are.
	lineFewest = 3
	// kickSwaps is how many random swaps lead from one valley to the next.
	kickSwaps = 5
	// roundsHome is after how many valleys without gain the search goes back to
	// the best one.
	roundsHome = 30
)

// moveKind is one way to change an order between places i and k, i < k.
type moveKind uint8

const (
	keep    moveKind = iota
	swap             // the jobs at i and k change places
	later            // the job at i goes behind k
	earlier          // the job at k goes before i
)

// dynasearch descends from orders to valleys. One pass finds, by dynamic
// programming over the places, the best set of moves that do not overlap.
type dynasearch struct {
	*line
	ends  []int64 // ends[k]: work done before place k
	best  []int64 // best[k]: least cost of the first k places
	kind  []moveKind
	from  []int
	shift []int64 // shift[i]: cost of places i+1..k, each moved up by the job at i
}

func newDynasearch(l *line) *dynasearch {
	return &dynasearch{line: l, ends: make([]int64, l.n+1), best: make([]int64, l.n+1),
		kind: make([]moveKind, l.n+1), from: make([]int, l.n+1), shift: make([]int64, l.n)}
}

// descend improves order in place until no set of moves helps, and gives its cost.
func (s *dynasearch) descend(order []int) int64 {
	cost := s.pass(order)
	for {
		next := s.pass(order)
		if next >= cost {
			return next
		}
		cost = next
	}
}

// pass applies the best set of moves and gives the cost after it.
func (s *dynasearch) pass(order []int) int64 {
	for k, j := range order {
		s.ends[k+1] = s.ends[k] + s.p[j]
	}
	for k := range order {
		s.extend(order, k)
	}
	for k := s.n; k > 0; {
		i := s.from[k]
		switch part := order[i:k]; s.kind[k] {
		case swap:
			part[0], part[len(part)-1] = part[len(part)-1], part[0]
		case later:
			first := part[0]
			copy(part, part[1:])
			part[len(part)-1] = first
		case earlier:
			last := part[len(part)-1]
			copy(part[1:], part)
			part[0] = last
		}
		k = i
	}
	return s.best[s.n]
}

// extend finds the least cost of the first k+1 places, the last move ending at k.
func (s *dynasearch) extend(order []int, k int) {
	jk, pk, end := order[k], s.p[order[k]], s.ends[k+1]
	best, kind, from := s.best[k]+s.cost(jk, end), keep, k
	s.shift[k] = 0
	var down int64 // cost of places i..k-1, each moved back by the job at k
	for i := k - 1; i >= 0; i-- {
		ji, pi := order[i], s.p[order[i]]
		s.shift[i] += s.cost(jk, end-pi)
		endI := s.cost(ji, end)
		if v := s.best[i] + s.shift[i] + endI; v < best {
			best, kind, from = v, later, i
		}
		down += s.cost(ji, s.ends[i+1]+pk)
		front := s.cost(jk, s.ends[i]+pk)
		if v := s.best[i] + down + front; v < best {
			best, kind, from = v, earlier, i
		}
		v, by := s.best[i]+front+endI, pk-pi
		for m := i + 1; m < k && v < best; m++ {
			v += s.cost(order[m], s.ends[m+1]+by)
		}
		if v < best {
			best, kind, from = v, swap, i
		}
	}
	s.best[k+1], s.kind[k+1], s.from[k+1] = best, kind, from
}

// search gives a good order and its cost: descents from several rules, then kicks
// from valley to valley. enough ends it early: a cost that cannot be beaten.
func (l *line) search(ctx context.Context, enough int64) ([]int, int64) {
	s := newDynasearch(l)
	var best []int
	var least int64
	for _, order := range l.firstOrders() {
		if c := s.descend(order); best == nil || c < least {
			best, least = order, c
		}
		if ctx.Err() != nil {
			return best, least
		}
	}
	rng := rand.New(rand.NewPCG(firstSeed, secondSeed))
	here, cost, stale := slices.Clone(best), least, 0
	next := make([]int, l.n)
	for range l.rounds() {
		if least <= enough || ctx.Err() != nil {
			break
		}
		copy(next, here)
		for range kickSwaps {
			i, k := rng.IntN(l.n), rng.IntN(l.n)
			next[i], next[k] = next[k], next[i]
		}
		c := s.descend(next)
		if stale++; c <= cost || stale%3 == 0 {
			copy(here, next)
			cost = c
		}
		if c < least {
			copy(best, next)
			least, stale = c, 0
		}
		if stale >= roundsHome {
			copy(here, best)
			cost, stale = least, 0
		}
	}
	return best, least
}

// rounds is the work limit for this many jobs.
func (l *line) rounds() int {
	n := float64(max(l.n, 10)) / 40
	return max(lineFewest, int(lineRounds/(n*n*n)))
}

// firstOrders gives orders by due minute, by weight for the work, and by both
// together at several paces.
func (l *line) firstOrders() [][]int {
	by := func(key func(j int) float64) []int {
		order := make([]int, l.n)
		for j := range order {
			order[j] = j
		}
		sort.SliceStable(order, func(a, b int) bool { return key(order[a]) < key(order[b]) })
		return order
	}
	return [][]int{
		by(func(j int) float64 { return float64(l.d[j]) }),
		by(func(j int) float64 { return -float64(l.w[j]) / float64(l.p[j]) }),
		by(func(j int) float64 { return float64(max(l.d[j], l.p[j])) }),
	}
}
