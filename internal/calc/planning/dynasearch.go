package planning

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
)

const (
	// lineRounds is the work limit of the one-hand search, in descents for 40 jobs;
	// for more it shrinks with the square. On the published instances, 6 seeds each,
	// 88 were enough in 99 runs of 100 and 251 in all.
	lineRounds = 1500
	// passCost is what one pass over an order may cost at most, in jobs looked at;
	// with many jobs they are moved less far for it.
	passCost = 4_000_000
	// lineFewest is the least number of descents however many jobs there are.
	lineFewest = 3
	// quickRounds is how many descents make a good order to start from.
	quickRounds = 20
	// kickSwaps is how many random swaps lead from one valley to the next.
	kickSwaps = 5
	// worseEvery is how often a worse valley is gone on from.
	worseEvery = 3
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
	reach int     // how far a job is moved at most
}

func newDynasearch(l *line) *dynasearch {
	reach := max(10, int(math.Sqrt(passCost/float64(l.n))))
	return &dynasearch{line: l, reach: reach, ends: make([]int64, l.n+1), best: make([]int64, l.n+1),
		kind: make([]moveKind, l.n+1), from: make([]int, l.n+1), shift: make([]int64, l.n)}
}

// descend improves order in place until no set of moves helps or time is up, and
// gives its cost.
func (s *dynasearch) descend(ctx context.Context, order []int) int64 {
	cost := s.pass(order)
	for {
		next := s.pass(order)
		if next >= cost || ctx.Err() != nil {
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
	for i := k - 1; i >= max(0, k-s.reach); i-- {
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

// voyage goes from valley to valley.
type voyage struct {
	*dynasearch
	rng        *rand.Rand
	best, here []int
	least      int64                    // cost of best
	cost       int64                    // of here
	idle       int                      // valleys since best was found, or since it was gone back to
	tell       func(least, bound int64) // how far it is; nil where least is no tardiness of a plan
}

func newVoyage(l *line) *voyage {
	return &voyage{dynasearch: newDynasearch(l), rng: rand.New(rand.NewPCG(firstSeed, secondSeed))}
}

// start descends from orders by several rules, the best first.
func (v *voyage) start(ctx context.Context) {
	orders := v.firstOrders()
	sort.SliceStable(orders, func(a, b int) bool { return v.costOf(orders[a]) < v.costOf(orders[b]) })
	for _, order := range orders {
		if v.best != nil && ctx.Err() != nil {
			break
		}
		if c := v.descend(ctx, order); v.best == nil || c < v.least {
			v.best, v.least = order, c
		}
	}
	v.here, v.cost = slices.Clone(v.best), v.least
}

// land takes over a better order found elsewhere.
func (v *voyage) land(order []int) {
	v.best, v.least = order, v.costOf(order)
	v.here, v.cost, v.idle = slices.Clone(order), v.least, 0
}

// sail goes on for so many rounds, or until the best is as good as enough.
func (v *voyage) sail(ctx context.Context, rounds int, enough int64) {
	next := make([]int, v.n)
	for range rounds {
		if v.least <= enough || ctx.Err() != nil {
			return
		}
		if v.tell != nil {
			v.tell(v.least, enough)
		}
		copy(next, v.here)
		for range kickSwaps {
			i, k := v.rng.IntN(v.n), v.rng.IntN(v.n)
			next[i], next[k] = next[k], next[i]
		}
		c := v.descend(ctx, next)
		if v.idle++; c <= v.cost || v.idle%worseEvery == 0 {
			copy(v.here, next)
			v.cost = c
		}
		if c < v.least {
			copy(v.best, next)
			v.least, v.idle = c, 0
		}
		if v.idle >= roundsHome {
			copy(v.here, v.best)
			v.cost, v.idle = v.least, 0
		}
	}
}

// rounds is the work limit for this many jobs.
func (l *line) rounds() int {
	n := float64(max(l.n, 40)) / 40
	return max(lineFewest, int(lineRounds/(n*n)))
}

// firstOrders gives orders by due minute, by weight for the work, and by how
// pressing each job is at several paces.
func (l *line) firstOrders() [][]int {
	by := func(key func(j int) float64) []int {
		order := make([]int, l.n)
		for j := range order {
			order[j] = j
		}
		sort.SliceStable(order, func(a, b int) bool { return key(order[a]) < key(order[b]) })
		return order
	}
	orders := [][]int{
		by(func(j int) float64 { return float64(l.d[j]) }),
		by(func(j int) float64 { return -float64(l.w[j]) / float64(l.p[j]) }),
	}
	for _, pace := range []float64{0.5, 2} {
		orders = append(orders, l.pressing(pace))
	}
	return orders
}

// pressing puts at each place the job with the most weight for its work, less the
// more slack it still has.
//
// Source: apparent tardiness cost, Vepsalainen and Morton, Management Science 33
// (1987) 1035-1047; from memory.
func (l *line) pressing(pace float64) []int {
	left, order := make([]int, l.n), make([]int, 0, l.n)
	for j := range left {
		left[j] = j
	}
	mean := float64(l.total) / float64(l.n)
	var done int64
	for len(left) > 0 {
		best, most := 0, -1.0
		for i, j := range left {
			end := done + l.p[j]
			if l.clock != nil {
				end = l.clock[end]
			}
			slack := float64(max(0, l.d[j]-end))
			if v := float64(l.w[j]) / float64(l.p[j]) * math.Exp(-slack/(pace*mean)); v > most {
				best, most = i, v
			}
		}
		done += l.p[left[best]]
		order = append(order, left[best])
		left = slices.Delete(left, best, best+1)
	}
	return order
}
