package travel

import (
	"context"
	"math/rand/v2"
	"sort"

	"kerfbook/internal/calc/contract"
)

// How wide the chains of moves branch at each depth, and how many neighbours of
// a stop are looked at.
var breadth = [...]int{5, 3, 2, 1, 1, 1, 1, 1}

const (
	neighbours = 10
	kickSpan   = 30 // a kick swaps two runs of at most so many stops
)

// chain is a closed tour under improvement. Source of the moves: S. Lin and B.
// W. Kernighan, Operations Research 21 (1973); kicks between local optima after
// O. Martin, S. Otto and E. Felten, Complex Systems 5 (1991).
type chain struct {
	*net
	city  []int // by place in the tour
	place []int // by city
	near  []int // neighbours of each city, nearest first
	k     int
	queue []int // cities whose surroundings changed
	dirty []bool
	undo  [][2]int // reversed stretches: first place, how many
	work  int
}

// search gives a good tour: nearest neighbour, then chained improvement until
// the work limit, the number of kicks, or the end of ctx.
func (w *net) search(ctx context.Context, limit, kicks int) []int {
	c := newChain(w)
	watch := contract.WatchOf(ctx)
	for _, s := range c.city {
		c.push(s)
	}
	c.settle(ctx)
	random := rand.New(rand.NewPCG(1973, 1991))
	for i := 0; i < kicks && c.work < limit && ctx.Err() == nil; i++ {
		c.undo = c.undo[:0]
		watch.Tell(func() contract.Progress { return far(w.length(c.city)+w.tied, 0) })
		if gain := c.kick(random) + c.settle(ctx); gain < 0 {
			for len(c.undo) > 0 {
				c.unflip()
			}
		}
	}
	return c.city
}

func newChain(w *net) *chain {
	c := &chain{net: w, k: min(neighbours, w.n-1), place: make([]int, w.n), dirty: make([]bool, w.n)}
	c.near = make([]int, 0, w.n*c.k)
	others := make([]int, 0, w.n)
	for i := range w.n {
		others = others[:0]
		for j := range w.n {
			if j != i {
				others = append(others, j)
			}
		}
		c.near = append(c.near, nearest(others, c.k, w.d[i*w.n:(i+1)*w.n])...)
	}
	c.city = w.greedy()
	for i, s := range c.city {
		c.place[s] = i
	}
	return c
}

// nearest puts the k cheapest first and gives them sorted; ties by number.
func nearest(list []int, k int, cost []float64) []int {
	less := func(a, b int) bool { return cost[a] < cost[b] || (cost[a] == cost[b] && a < b) }
	best := list[:k]
	sort.Slice(best, func(i, j int) bool { return less(best[i], best[j]) })
	for i := k; i < len(list); i++ {
		if !less(list[i], best[k-1]) {
			continue
		}
		s := list[i]
		list[i] = best[k-1]
		j := k - 1
		for ; j > 0 && less(s, best[j-1]); j-- {
			best[j] = best[j-1]
		}
		best[j] = s
	}
	return best
}

// greedy goes from node 0 always to the nearest not yet visited.
func (w *net) greedy() []int {
	left := make([]int, 0, w.n)
	for i := 1; i < w.n; i++ {
		left = append(left, i)
	}
	tour := []int{0}
	for at := 0; len(left) > 0; {
		best := 0
		for i, s := range left {
			if w.at(at, s) < w.at(at, left[best]) {
				best = i
			}
		}
		at = left[best]
		tour = append(tour, at)
		left = append(left[:best], left[best+1:]...)
	}
	return tour
}

func (c *chain) next(s int) int {
	if p := c.place[s] + 1; p < c.n {
		return c.city[p]
	}
	return c.city[0]
}

func (c *chain) prev(s int) int {
	if p := c.place[s]; p > 0 {
		return c.city[p-1]
	}
	return c.city[c.n-1]
}

func (c *chain) push(s int) {
	if !c.dirty[s] {
		c.dirty[s] = true
		c.queue = append(c.queue, s)
	}
}

// settle improves around the queue until nothing helps, and gives the gain.
func (c *chain) settle(ctx context.Context) float64 {
	gain := 0.0
	for head := 0; head < len(c.queue); head++ {
		s := c.queue[head]
		c.dirty[s] = false
		if head%64 == 63 && ctx.Err() != nil {
			continue // only empties the queue
		}
		for g := c.improve(s); g > 0; g = c.improve(s) {
			gain += g
		}
	}
	c.queue = c.queue[:0]
	return gain
}

// improve tries chains that first take out one of the two edges of t1.
func (c *chain) improve(t1 int) float64 {
	for _, t2 := range [2]int{c.next(t1), c.prev(t1)} {
		if g := c.extend(t1, t2, c.at(t1, t2), 0); g > 0 {
			return g
		}
	}
	return 0
}

type step struct {
	t3, t4 int
	open   float64 // gain before the tour is closed again
}

// extend has a path from t1 to t2 with the gain so far, adds the edge to some
// near t3, and takes out the edge t3-t4 that lets the tour close at t1. It gives
// the gain of the first chain that pays, with the tour changed, or 0.
func (c *chain) extend(t1, t2 int, gain float64, depth int) float64 {
	ahead := c.next(t1) == t2
	var steps [5]step
	found := 0
	for _, t3 := range c.near[t2*c.k : (t2+1)*c.k] {
		c.work++
		left := gain - c.at(t2, t3)
		if left <= slack {
			break
		}
		t4 := c.next(t3)
		if ahead {
			t4 = c.prev(t3)
		}
		if t3 == t1 || t4 == t2 {
			continue
		}
		s := step{t3, t4, left + c.at(t3, t4)}
		i := found
		if found < breadth[depth] {
			found++
		} else if i--; steps[i].open >= s.open {
			continue
		}
		for ; i > 0 && steps[i-1].open < s.open; i-- {
			steps[i] = steps[i-1]
		}
		steps[i] = s
	}
	for _, s := range steps[:found] {
		if ahead {
			c.flip(t2, s.t4)
		} else {
			c.flip(s.t4, t2)
		}
		closed := s.open - c.at(s.t4, t1)
		if closed <= slack && depth+1 < len(breadth) {
			closed = c.extend(t1, s.t4, s.open, depth+1)
		}
		if closed > slack {
			for _, e := range [4]int{t1, t2, s.t3, s.t4} {
				c.push(e)
			}
			return closed
		}
		c.unflip()
	}
	return 0
}

// flip turns round the path from a on to b, or all the rest if that is shorter.
func (c *chain) flip(a, b int) {
	first := c.place[a]
	count := c.place[b] - first + 1
	if count <= 0 {
		count += c.n
	}
	if 2*count > c.n {
		first, count = c.place[b]+1, c.n-count
	}
	c.undo = append(c.undo, [2]int{first, count})
	c.reverse(first, count)
}

func (c *chain) unflip() {
	last := c.undo[len(c.undo)-1]
	c.undo = c.undo[:len(c.undo)-1]
	c.reverse(last[0], last[1])
}

func (c *chain) reverse(first, count int) {
	i, j := first%c.n, (first+count-1)%c.n
	for range count / 2 {
		a, b := c.city[i], c.city[j]
		c.city[i], c.place[b] = b, i
		c.city[j], c.place[a] = a, j
		if i++; i == c.n {
			i = 0
		}
		if j--; j < 0 {
			j = c.n - 1
		}
	}
	c.work += count
}

// kick swaps two neighbouring runs of stops, which no chain of the kind above
// undoes at once, and gives the gain: mostly a loss.
func (c *chain) kick(random *rand.Rand) float64 {
	span := max(1, min(kickSpan, (c.n-2)/2))
	p, la, lb := random.IntN(c.n), 1+random.IntN(span), 1+random.IntN(span)
	city := func(i int) int { return c.city[(p+i)%c.n] }
	before, a1, a2 := city(0), city(1), city(la)
	b1, b2, after := city(la+1), city(la+lb), city((la+lb+1)%c.n)
	gain := c.at(before, a1) + c.at(a2, b1) + c.at(b2, after) - c.at(before, b1) - c.at(b2, a1) - c.at(a2, after)
	for _, r := range [3][2]int{{p + 1, la}, {p + 1 + la, lb}, {p + 1, la + lb}} {
		c.undo = append(c.undo, r)
		c.reverse(r[0], r[1])
	}
	for _, s := range [6]int{before, a1, a2, b1, b2, after} {
		c.push(s)
	}
	return gain
}
