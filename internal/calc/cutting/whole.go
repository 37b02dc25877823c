package cutting

import (
	"math"
	"slices"
)

// whole searches the whole-number program over all patterns that a better plan can use, by
// cutting planes and branching. Where boards hold few parts each, these patterns are few,
// and this settles what the search over patterns one by one does not.
type whole struct {
	*brancher
	columns []column
	holds   [][]int32 // by column and kind: how many
	scale   int
	sure    bool // every branch was ruled out in whole numbers
	low     int  // no plan of the program is below
	first   int  // constraints before planes and branches
}

// Columns of the program: few give a plan soon, many a proof.
const (
	fewColumns  = 1000
	manyColumns = 8000
)

// settle looks for a better plan, for so much work, over so many columns at most. It raises b.low when it comes to the
// end, or when its first node shows more.
func (b *brancher) settle(work, many int) {
	b.within(work, func() {
		columns, beyond, ok := b.usable(many)
		if !ok || b.done() {
			return
		}
		most := ceilDiv(max(0, beyond), b.o.scale) // a plan of other patterns comes to this or more
		w := &whole{brancher: b, columns: columns, scale: b.o.scale, sure: true, low: b.low}
		if len(columns) > 0 {
			w.node(w.program(), 0)
		}
		low := min(w.low, most)
		if w.sure && !b.effort.over {
			low = most
		}
		b.low = max(b.low, min(b.value(), b.reachable(low)))
	})
}

// program is the linear program of the columns: every part covered, no board used more
// often than there are.
func (w *whole) program() *tableau {
	t := newTableau(w.columns)
	w.holds = make([][]int32, len(w.columns))
	for j, c := range w.columns {
		w.holds[j] = make([]int32, len(w.kinds))
		for _, k := range c.cuts {
			w.holds[j][k.kind] = int32(k.count)
		}
	}
	for k, n := range w.demand {
		if n > 0 {
			t.add(w.sum(n, func(j int) int32 { return w.holds[j][k] }))
		}
	}
	for s, st := range w.stocks {
		t.add(w.sum(-st.count, func(j int) int32 { return -same(w.columns[j].stock, s) }))
	}
	w.first = len(t.rows)
	return t
}

// sum is the constraint that the columns, each with its factor, come to least or more.
func (w *whole) sum(least int, factor func(j int) int32) constraint {
	c := constraint{make([]int32, len(w.columns)), least}
	for j := range w.columns {
		c.at[j] = factor(j)
	}
	return c
}

func same(a, b int) int32 {
	if a == b {
		return 1
	}
	return 0
}

// node solves t, which it may change, and branches on it.
func (w *whole) node(t *tableau, depth int) {
	rounds := 3
	if depth == 0 {
		rounds = planeRounds
	}
	for ; ; rounds-- {
		row, ok := t.solve(w.effort)
		if !ok {
			w.sure = false
			return
		}
		if w.ruledOut(t, row, depth) {
			return
		}
		if row >= 0 { // no point, but not shown in whole numbers
			w.sure = false
			return
		}
		x := t.point()
		if allWhole(x) {
			w.take(x)
			// The point is the best of the node: nothing below it is better.
			if w.ruledOut(t, -1, depth) {
				return
			}
			w.sure = false
			return
		}
		if rounds <= 0 || len(t.rows)-w.first > mostPlanes {
			break
		}
		more := t.planes(w.effort, x)
		if len(more) == 0 {
			break
		}
		for _, c := range more {
			t.add(c)
		}
	}
	if depth == 0 {
		if small := w.thin(t); small != nil {
			w.node(small, 1)
			return
		}
	}
	w.fork(t, depth)
}

// thin leaves out the columns that no plan below the best one can use, as the planes now
// show, and gives the smaller program; nil when it is not much smaller.
func (w *whole) thin(t *tableau) *tableau {
	bound, more := t.weigh(w.columns, w.scale, -1, 0)
	slack := (w.value()-1)*w.scale - bound
	var kept []int
	for j, m := range more {
		if m <= slack {
			kept = append(kept, j)
		}
	}
	if len(kept) > thinShare*t.n/10 {
		return nil
	}
	columns, holds := make([]column, len(kept)), make([][]int32, len(kept))
	for i, j := range kept {
		columns[i], holds[i] = w.columns[j], w.holds[j]
	}
	w.columns, w.holds = columns, holds
	small := newTableau(columns)
	for _, c := range t.rows {
		at := make([]int32, len(kept))
		for i, j := range kept {
			at[i] = c.at[j]
		}
		small.add(constraint{at, c.least})
	}
	w.spend(2 * small.cells())
	return small
}

// thinShare, in tenths: a program is made anew when no more of its columns are left.
const thinShare = 8

// ruledOut says whether no plan below the best one can be in this node.
func (w *whole) ruledOut(t *tableau, row, depth int) bool {
	lost := 0.0
	if row >= 0 {
		lost = (float64(w.value()) - t.total + 1) / -t.value[row] * 1.01
		if lost <= 0 || lost > 1e7 {
			return false
		}
	}
	bound, _ := t.weigh(w.columns, w.scale, row, lost)
	low := ceilDiv(max(0, bound), w.scale)
	if depth == 0 && row < 0 {
		w.low = max(w.low, low)
	}
	return w.reachable(low) >= w.value()
}

// take reads a plan from a whole-number point and offers it.
func (w *whole) take(x []float64) {
	d := draft{left: slices.Clone(w.demand)}
	for j, c := range w.columns {
		if c.stock < 0 {
			continue
		}
		for range int(math.Round(x[j])) {
			var cuts []cut
			for _, k := range c.cuts {
				if n := min(k.count, d.left[k.kind]); n > 0 {
					cuts = append(cuts, cut{k.kind, n})
					d.left[k.kind] -= n
				}
			}
			if len(cuts) > 0 {
				d.bins = append(d.bins, bin{c.stock, cuts})
			}
		}
	}
	w.offer(d)
}

func allWhole(x []float64) bool {
	for _, v := range x {
		if math.Abs(v-math.Round(v)) > wholeTol {
			return false
		}
	}
	return true
}

// fork splits the node at a sum of columns that must be whole and is not: first how many
// boards of a stock, then how many boards hold two kinds together, then a column.
func (w *whole) fork(t *tableau, depth int) {
	x := t.point()
	c, v := w.split(x)
	up, down := c, constraint{make([]int32, len(c.at)), -int(math.Floor(v))}
	up.least = int(math.Floor(v)) + 1
	for j, a := range c.at {
		down.at[j] = -a
	}
	first, second := up, down
	if v-math.Floor(v) < 0.5 && c.at != nil && depth%2 == 1 {
		first, second = down, up
	}
	for _, branch := range []constraint{first, second} {
		if w.done() || w.effort.over {
			w.sure = w.sure && w.done()
			return
		}
		next := t.copied()
		w.spend(t.cells())
		next.add(branch)
		w.node(next, depth+1)
	}
}

// split gives the sum to branch on, and what it comes to.
func (w *whole) split(x []float64) (constraint, float64) {
	used := make([]float64, len(w.stocks))
	for j, v := range x {
		if s := w.columns[j].stock; s >= 0 {
			used[s] += v
		}
	}
	if s := oddest(used); s >= 0 {
		return w.sum(0, func(j int) int32 { return same(w.columns[j].stock, s) }), used[s]
	}
	n := len(w.kinds)
	pairs := make([]float64, n*n)
	for j, v := range x {
		if v < wholeTol {
			continue
		}
		cuts := w.columns[j].cuts
		for a, c := range cuts {
			for _, d := range cuts[a+1:] {
				pairs[c.kind*n+d.kind] += v
			}
			if c.count > 1 {
				pairs[c.kind*n+c.kind] += v
			}
		}
	}
	if at := oddest(pairs); at >= 0 {
		return w.sum(0, func(j int) int32 { return w.together(j, at/n, at%n) }), pairs[at]
	}
	j := oddest(x)
	return w.sum(0, func(i int) int32 { return same(i, j) }), x[j]
}

// together is 1 where column j holds both kinds, of one kind two.
func (w *whole) together(j, a, b int) int32 {
	h := w.holds[j]
	if h[a] > 0 && h[b] > 0 && (a != b || h[a] > 1) {
		return 1
	}
	return 0
}

// oddest is the place of the value furthest from a whole number, -1 when all are whole.
func oddest(x []float64) int {
	at, most := -1, wholeTol
	for i, v := range x {
		if off := math.Abs(v - math.Round(v)); off > most+1e-9 {
			at, most = i, off
		}
	}
	return at
}
