package travel

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// task is a run in numbers: visit 0..n-1 once each, beginning at start.
type task struct {
	n      int
	start  int
	back   bool      // the way back counts
	cost   []float64 // n x n, row from, column to, not negative
	before [][2]int
	even   bool // the cost is the same both ways
	whole  bool // every cost is a whole number, so every length is one too
}

// answer is what a search found; bound is true for every order.
type answer struct {
	order  []int
	bound  float64
	proved bool
}

// slack is the part of a length that rounding may lose; less is no difference.
const slack = 1e-9

func (t *task) at(from, to int) float64 { return t.cost[from*t.n+to] }

// finish notes what the costs are like.
func (t *task) finish() {
	t.even, t.whole = true, true
	for i := range t.n {
		for j := range t.n {
			t.even = t.even && t.at(i, j) == t.at(j, i)
			t.whole = t.whole && (i == j || t.at(i, j) == math.Trunc(t.at(i, j)))
		}
	}
}

// length adds up an order.
func (t *task) length(order []int) float64 {
	total := 0.0
	for i := 1; i < len(order); i++ {
		total += t.at(order[i-1], order[i])
	}
	if t.back && t.n > 1 {
		total += t.at(order[t.n-1], order[0])
	}
	return total
}

// check is apart from every search: it refuses an order that does not begin at
// the start, leaves out or repeats a stop, or breaks a pair.
func (t *task) check(order []int) error {
	if len(order) != t.n {
		return fmt.Errorf("has %d stops", len(order))
	}
	if order[0] != t.start {
		return errors.New("does not begin at the start")
	}
	place := make([]int, t.n)
	for i := range place {
		place[i] = -1
	}
	for i, s := range order {
		if s < 0 || s >= t.n || place[s] >= 0 {
			return fmt.Errorf("stop %d is unknown or called at twice", s)
		}
		place[s] = i
	}
	for _, p := range t.before {
		if place[p[0]] > place[p[1]] {
			return fmt.Errorf("stop %d must come before %d", p[0], p[1])
		}
	}
	return nil
}

// circle gives the number of a pair that lies on a circle, or -1.
func (t *task) circle() int {
	waits := make([]int, t.n) // pairs whose first stop is not yet done
	for _, p := range t.before {
		waits[p[1]]++
	}
	var ready []int
	for s, w := range waits {
		if w == 0 {
			ready = append(ready, s)
		}
	}
	next := make([][]int, t.n)
	for _, p := range t.before {
		next[p[0]] = append(next[p[0]], p[1])
	}
	for len(ready) > 0 {
		s := ready[len(ready)-1]
		ready = ready[:len(ready)-1]
		for _, then := range next[s] {
			if waits[then]--; waits[then] == 0 {
				ready = append(ready, then)
			}
		}
	}
	for i, p := range t.before {
		if waits[p[0]] > 0 && waits[p[1]] > 0 {
			return i
		}
	}
	return -1
}

// solve picks the method: exact where it is quick, else a search and a bound.
func (t *task) solve(ctx context.Context) answer {
	switch {
	case t.n <= exactStops:
		order := t.exact()
		return answer{order: order, bound: t.length(order), proved: true}
	case t.even && len(t.before) == 0:
		return t.solveEven(ctx)
	default:
		return t.solveUneven(ctx)
	}
}

// meets tells whether a bound proves a length.
func (t *task) meets(bound, length float64) bool {
	if t.whole {
		return math.Ceil(bound-1e-6) >= length
	}
	return bound >= length*(1-slack)
}
