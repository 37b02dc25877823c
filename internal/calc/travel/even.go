package travel

import (
	"context"
	"math"
	"time"
)

// Work limits, in table look-ups: together at most about three quarters of a
// second on the machine this was written on, so that the default second is
// seldom what ends a search.
const (
	searchWork = 240_000_000 // moves on even costs
	unevenWork = 40_000_000  // moves on uneven costs or with pairs, each far slower
	ascentWork = 120_000_000 // bound of the whole task
	branchWork = 250_000_000 // branch and bound
	branchSize = 130         // stops up to which branching is tried at all
)

// net is a task whose costs are the same both ways, as a closed tour over n
// nodes. A run that ends anywhere gets one more node: at no cost from
// everywhere, and tied to the start by an edge so cheap that it is always used.
type net struct {
	n    int
	d    []float64
	tied float64 // what the tie takes off the length of every tour
}

func (w *net) at(i, j int) float64 { return w.d[i*w.n+j] }

// net makes the closed tour, with the cheaper way of each pair. On even costs
// every order has the same length in it; otherwise it is a bound.
func (t *task) net() *net {
	n := t.n
	if !t.back {
		n++
	}
	w := &net{n: n, d: make([]float64, n*n)}
	dearest := 0.0
	for i := range t.n {
		for j := range t.n {
			if i != j {
				w.d[i*n+j] = math.Min(t.at(i, j), t.at(j, i))
				dearest = math.Max(dearest, w.d[i*n+j])
			}
		}
	}
	if !t.back {
		w.tied = math.Floor(dearest*float64(n)) + 1 // more than any path
		w.d[t.start*n+t.n], w.d[t.n*n+t.start] = -w.tied, -w.tied
	}
	return w
}

// order turns a tour over the net into an order that begins at the start.
func (t *task) order(tour []int) []int {
	at := 0
	for i, s := range tour {
		if s == t.start {
			at = i
		}
	}
	n := len(tour)
	step := 1
	if !t.back && tour[(at+1)%n] == t.n { // the added node lies just before the start
		step = n - 1
	}
	order := make([]int, 0, t.n)
	for i := range n {
		if s := tour[(at+i*step)%n]; s < t.n {
			order = append(order, s)
		}
	}
	return order
}

// solveEven searches, bounds, and branches while there is a gap.
func (t *task) solveEven(ctx context.Context) answer {
	w := t.net()
	some, cancel := share(ctx)
	defer cancel()
	kicks := 40 * w.n
	if w.n <= branchSize {
		kicks = 10 * w.n // branching finds what these leave
	}
	tour := w.search(some, searchWork, kicks)
	length := w.length(tour)
	b := newBounder(w, t.whole)
	root := b.root(ctx, length)
	bound := root.bound
	if !t.meets(bound+w.tied, length+w.tied) && w.n <= branchSize {
		var better []int
		better, bound = b.branch(ctx, root, length)
		if better != nil {
			tour, length = better, w.length(better)
		}
	}
	a := answer{order: t.order(tour), bound: bound + w.tied}
	a.proved = t.meets(a.bound, length+w.tied)
	return a
}

// share leaves part of the time that ctx has for bounding what is found.
func share(ctx context.Context) (context.Context, context.CancelFunc) {
	end, ok := ctx.Deadline()
	if !ok {
		return context.WithCancel(ctx)
	}
	const part = 0.6
	return context.WithTimeout(ctx, time.Duration(part*float64(time.Until(end))))
}

func (w *net) length(tour []int) float64 {
	total := 0.0
	for i, s := range tour {
		total += w.at(tour[(i+w.n-1)%w.n], s)
	}
	return total
}
