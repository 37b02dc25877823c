package travel

import (
	"context"
	"math"
)

// What branch and bound has said about an edge.
const (
	free = iota
	forced
	barred
)

// bounder gives lower bounds of tours over a net by 1-trees: a spanning tree of
// all nodes but node 0, and the two cheapest edges of node 0. Prices on the
// nodes are moved until the tree looks like a tour as far as it will. Source: M.
// Held and R. M. Karp, The travelling-salesman problem and minimum spanning
// trees: part II, Mathematical Programming 1 (1971).
type bounder struct {
	*net
	whole bool // tours have whole lengths
	work  int

	degree []int
	parent []int // of each node in the tree; node 0 has its two edges in spoke
	spoke  [2]int
	key    []float64
	in     []bool
}

func newBounder(w *net, whole bool) *bounder {
	return &bounder{net: w, whole: whole, degree: make([]int, w.n), parent: make([]int, w.n),
		key: make([]float64, w.n), in: make([]bool, w.n)}
}

// node is a part of the search: what is settled, the best prices, the bound.
type node struct {
	state  []uint8 // free, forced or barred, n x n
	price  []float64
	bound  float64
	parent []int // the tree that gave the bound
	spoke  [2]int
	degree []int
}

// tree finds the cheapest 1-tree at the given prices and gives the bound, which
// is infinite when what is barred leaves none.
func (b *bounder) tree(state []uint8, price []float64) float64 {
	const gift = 1e15 // makes Prim's method take a forced edge first
	n := b.n
	for i := 1; i < n; i++ {
		b.key[i], b.in[i], b.degree[i] = math.Inf(1), false, 0
	}
	b.degree[0] = 2
	total, at := 0.0, 1
	b.in[1] = true
	b.work += n * n
	for range n - 2 {
		next, least := -1, math.Inf(1)
		row := b.d[at*n : (at+1)*n]
		for j := 1; j < n; j++ {
			if b.in[j] {
				continue
			}
			v := row[j] + price[at] + price[j]
			if state != nil {
				switch state[at*n+j] {
				case forced:
					v -= gift
				case barred:
					v = math.Inf(1)
				}
			}
			if v < b.key[j] {
				b.key[j], b.parent[j] = v, at
			}
			if b.key[j] < least {
				next, least = j, b.key[j]
			}
		}
		if next < 0 {
			return math.Inf(1)
		}
		p := b.parent[next]
		total += b.at(p, next) + price[p] + price[next]
		b.degree[p]++
		b.degree[next]++
		b.in[next] = true
		at = next
	}
	first, second := -1, -1
	cost := func(j int) float64 {
		v := b.d[j] + price[0] + price[j]
		if state != nil && state[j] == forced {
			v -= gift
		}
		return v
	}
	for j := 1; j < n; j++ {
		if state != nil && state[j] == barred {
			continue
		}
		switch {
		case first < 0 || cost(j) < cost(first):
			first, second = j, first
		case second < 0 || cost(j) < cost(second):
			second = j
		}
	}
	if second < 0 {
		return math.Inf(1)
	}
	b.spoke = [2]int{first, second}
	b.degree[first]++
	b.degree[second]++
	total += b.d[first] + b.d[second] + 2*price[0] + price[first] + price[second]
	for _, p := range price {
		total -= 2 * p
	}
	return total
}

// ascend raises the prices of nodes met too often and lowers those met too
// seldom, at most rounds times, towards a known length. It leaves the best
// bound, its prices and its tree in x. The rule for the step: M. Held, P. Wolfe
// and H. P. Crowder, Mathematical Programming 6 (1974).
func (b *bounder) ascend(ctx context.Context, x *node, length float64, rounds, patience int) {
	price := append([]float64(nil), x.price...)
	last := make([]float64, b.n)
	scale, idle := 1.0, 0
	x.bound = math.Inf(-1)
	for range rounds {
		v := b.tree(x.state, price)
		if v > x.bound {
			if v > x.bound+(length+b.tied)*1e-7 {
				idle = 0
			}
			x.bound = v
			copy(x.price, price)
			copy(x.parent, b.parent)
			copy(x.degree, b.degree)
			x.spoke = b.spoke
		}
		off := 0.0
		for _, g := range b.degree {
			off += float64((g - 2) * (g - 2))
		}
		if off == 0 || math.IsInf(v, 1) || b.beats(v, length) || ctx.Err() != nil {
			return
		}
		if idle++; idle > patience {
			scale, idle = scale*0.6, 0
			if scale < 1e-3 {
				return
			}
		}
		move := scale * math.Max(length-v, 1e-6*(length+b.tied)) / off
		for i, g := range b.degree {
			now := float64(g - 2)
			price[i] += move * (0.7*now + 0.3*last[i])
			last[i] = now
		}
	}
}

// beats tells whether no tour with this bound can be shorter than length.
func (b *bounder) beats(bound, length float64) bool {
	if b.whole {
		return math.Ceil(bound-1e-6) >= length
	}
	return bound >= length-slack*(length+b.tied)
}

// root bounds the whole task.
func (b *bounder) root(ctx context.Context, length float64) *node {
	x := b.newNode()
	rounds := max(8, min(1500, ascentWork/(b.n*b.n)))
	b.ascend(ctx, x, length, rounds, max(4, min(15, rounds/10)))
	return x
}

func (b *bounder) newNode() *node {
	return &node{price: make([]float64, b.n), parent: make([]int, b.n), degree: make([]int, b.n)}
}
