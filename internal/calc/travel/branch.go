package travel

import (
	"context"
	"math"
	"sort"

	"kerfbook/internal/calc/contract"
)

// branch looks for a shorter tour than length and proves that there is none, as
// far as the work limit and ctx allow. It gives the best tour found, or nil, and
// a bound for every tour. Branching at a node of the tree with more than two
// edges after T. Volgenant and R. Jonker, European Journal of Operational
// Research 9 (1982).
func (b *bounder) branch(ctx context.Context, root *node, length float64) ([]int, float64) {
	root.state = make([]uint8, b.n*b.n)
	open := []*node{root}
	var best []int
	watch := contract.WatchOf(ctx)
	for limit := b.work + branchWork; len(open) > 0; {
		watch.Tell(func() contract.Progress { return far(length+b.tied, lowest(open)+b.tied) })
		x := open[len(open)-1]
		if b.beats(x.bound, length) {
			open = open[:len(open)-1]
			continue
		}
		if b.work > limit || ctx.Err() != nil {
			return best, math.Min(length, lowest(open))
		}
		open = open[:len(open)-1]
		if tour := b.tour(x); tour != nil {
			if l := b.length(tour); l < length {
				best, length = tour, l
			}
			continue // the tree is a tour: nothing below it is shorter
		}
		children := b.split(x)
		kept := children[:0]
		for _, y := range children {
			b.ascend(ctx, y, length, 40, 5)
			y.bound = math.Max(y.bound, x.bound)
			if !b.beats(y.bound, length) {
				kept = append(kept, y)
			}
		}
		sort.SliceStable(kept, func(i, j int) bool { return kept[i].bound > kept[j].bound })
		open = append(open, kept...)
	}
	return best, length
}

// lowest is the least bound of what is open.
func lowest(open []*node) float64 {
	least := math.Inf(1)
	for _, o := range open {
		least = math.Min(least, o.bound)
	}
	return least
}

// far says how far a search is.
func far(length, bound float64) contract.Progress {
	bound = math.Max(0, math.Min(length, bound))
	return contract.Progress{Best: &length, Bound: &bound, Unit: "km"}
}

// tour gives the tree of x as a tour, or nil when it is none.
func (b *bounder) tour(x *node) []int {
	next := make([][]int, b.n)
	for i, d := range x.degree {
		if d != 2 {
			return nil
		}
		if i > 1 {
			next[i] = append(next[i], x.parent[i])
			next[x.parent[i]] = append(next[x.parent[i]], i)
		}
	}
	for _, s := range x.spoke {
		next[0] = append(next[0], s)
		next[s] = append(next[s], 0)
	}
	tour := []int{0}
	for from, at := 0, next[0][0]; at != 0; {
		tour = append(tour, at)
		to := next[at][0]
		if to == from {
			to = next[at][1]
		}
		from, at = at, to
	}
	if len(tour) != b.n {
		return nil
	}
	return tour
}

// split parts x into nodes that together hold every tour of x: one with a free
// edge of a crowded node barred, one with it forced and another barred, one
// with both forced.
func (b *bounder) split(x *node) []*node {
	crowded := -1
	for i, d := range x.degree {
		if d > 2 && (crowded < 0 || d < x.degree[crowded]) {
			crowded = i
		}
	}
	if crowded < 0 {
		return nil
	}
	var loose []int
	tight := 0
	for _, s := range b.edges(x, crowded) {
		if x.state[crowded*b.n+s] == free {
			loose = append(loose, s)
		} else {
			tight++
		}
	}
	if len(loose) == 0 {
		return nil // more than two forced edges: no tour at all
	}
	// The dearest edges at these prices are the likeliest to go.
	dear := func(s int) float64 { return b.at(crowded, s) + x.price[s] }
	sort.SliceStable(loose, func(i, j int) bool { return dear(loose[i]) > dear(loose[j]) })
	var out []*node
	add := func(change func(*node) bool) {
		y := b.newNode()
		y.state = append([]uint8(nil), x.state...)
		copy(y.price, x.price)
		if change(y) {
			out = append(out, y)
		}
	}
	first := loose[0]
	add(func(y *node) bool { return b.bar(y, crowded, first) })
	if tight > 0 || len(loose) < 2 {
		add(func(y *node) bool { return b.force(y, crowded, first) })
		return out
	}
	second := loose[1]
	add(func(y *node) bool { return b.force(y, crowded, first) && b.bar(y, crowded, second) })
	add(func(y *node) bool { return b.force(y, crowded, first) && b.force(y, crowded, second) })
	return out
}

// edges gives the neighbours of a node in the tree of x.
func (b *bounder) edges(x *node, at int) []int {
	if at == 0 {
		return x.spoke[:]
	}
	var out []int
	for i := 2; i < b.n; i++ {
		if i == at {
			out = append(out, x.parent[i])
		} else if x.parent[i] == at {
			out = append(out, i)
		}
	}
	for _, s := range x.spoke {
		if s == at {
			out = append(out, 0)
		}
	}
	return out
}

// bar takes an edge out and follows what that settles; false when no tour is left.
func (b *bounder) bar(x *node, i, j int) bool {
	switch x.state[i*b.n+j] {
	case barred:
		return true
	case forced:
		return false
	}
	x.state[i*b.n+j], x.state[j*b.n+i] = barred, barred
	return b.settle(x, i) && b.settle(x, j)
}

// force puts an edge in and follows what that settles; false when no tour is left.
func (b *bounder) force(x *node, i, j int) bool {
	switch x.state[i*b.n+j] {
	case forced:
		return true
	case barred:
		return false
	}
	if b.closes(x, i, j) {
		return false
	}
	x.state[i*b.n+j], x.state[j*b.n+i] = forced, forced
	return b.settle(x, i) && b.settle(x, j)
}

// settle bars what is left at a node with two forced edges, and forces the last
// two edges of a node.
func (b *bounder) settle(x *node, i int) bool {
	count := [3]int{}
	for j := range b.n {
		if j != i {
			count[x.state[i*b.n+j]]++
		}
	}
	switch {
	case count[forced] > 2 || count[forced]+count[free] < 2:
		return false
	case count[free] == 0:
		return true
	case count[forced] == 2:
		return b.each(x, i, b.bar)
	case count[forced]+count[free] == 2:
		return b.each(x, i, b.force)
	}
	return true
}

// each does the same to every free edge of a node.
func (b *bounder) each(x *node, i int, do func(*node, int, int) bool) bool {
	for j := range b.n {
		if j != i && x.state[i*b.n+j] == free && !do(x, i, j) {
			return false
		}
	}
	return true
}

// closes tells whether the edge would close a ring of forced edges short of all.
func (b *bounder) closes(x *node, i, j int) bool {
	from, at := -1, i
	for count := 1; ; count++ {
		if at == j {
			return count < b.n
		}
		next := -1
		for s := range b.n {
			if s != from && s != at && x.state[at*b.n+s] == forced {
				next = s
			}
		}
		if next < 0 {
			return false
		}
		from, at = at, next
	}
}
