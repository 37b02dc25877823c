package cutting

import (
	"cmp"
	"math"
	"slices"
)

// brancher searches whole-number plans by branching on patterns: a pattern of
// the linear program is cut once more, or is barred from what is still to be
// planned. Each dive follows the first choice; a dive may differ from it in a few
// places, more of them each time round (limited discrepancy search, W. D. Harvey
// and M. L. Ginsberg, IJCAI 1995, from memory).
type brancher struct {
	*search
	aim   aim
	o     *oracle
	rest  rest
	price int // of what is taken
	taken []bin
	whole bool // every branch was looked at or ruled out by its bound
	low   int  // no plan has a smaller value
	// ceiling is the value from which on a plan is of no use.
	ceiling int
	// gain and most are the scaled duals of the first node, see dual.go.
	gain, most []int
}

func (s *search) newBrancher(a aim) *brancher {
	p := newProgram(s.model, s.effort, a)
	b := &brancher{search: s, aim: a, ceiling: math.MaxInt, o: newOracle(p), rest: rest{wanted: slices.Clone(s.demand), boards: make([]int, len(s.stocks))}}
	for i, st := range s.stocks {
		b.rest.boards[i] = st.count
	}
	for _, used := range s.best.bins {
		p.add(used.stock, used.cuts)
	}
	return b
}

// value is what the best plan so far comes to under the aim.
func (b *brancher) value() int {
	if b.aim.miss == nil {
		return b.worth.price
	}
	return min(b.missing(b.best.left), b.ceiling)
}

func (b *brancher) missing(left []int) int {
	sum := 0
	for k, n := range left {
		sum += n * b.aim.miss[k]
	}
	return sum
}

// root solves the linear program and gives its bound.
func (b *brancher) root() int {
	b.low = max(b.low, b.reachable(b.o.generate(b.rest, b.value())))
	b.gain, b.most = slices.Clone(b.o.gain), slices.Clone(b.o.most)
	return b.low
}

// reachable is the least value from low up that a plan can have at all.
func (b *brancher) reachable(low int) int {
	if b.aim.miss == nil {
		return b.raise(low)
	}
	return low
}

// branch dives with ever more freedom until the plan meets the bound, everything
// was searched, which raises the bound to the plan, or the effort ends. Before
// each dive but the first, other may look for plans in its own way for as much
// work as the dive before took.
func (b *brancher) branch(other func(work int)) {
	basis := slices.Clone(b.o.basis)
	for free := 0; !b.done(); free = 2*free + 1 {
		b.whole = true
		before := b.work
		b.node(free)
		if b.done() {
			return
		}
		if b.whole {
			b.low = b.value()
			return
		}
		if !b.o.rebuild(basis) {
			b.o.reset()
		}
		other(b.work - before)
	}
}

func (b *brancher) node(free int) {
	if b.done() || b.complete() {
		return
	}
	low := b.o.generate(b.rest, b.value()-b.price)
	if b.over || b.reachable(b.price+low) >= b.value() {
		return
	}
	v, x := b.widest()
	if v < 0 {
		b.whole = false
		return
	}
	basis := slices.Clone(b.o.basis)
	times := max(1, int(x+1e-6))
	for times > 0 && !b.take(v, times) {
		times--
	}
	if times > 0 {
		b.node(free)
		b.untake(v, times)
	}
	if b.done() {
		return
	}
	if free == 0 || times > 1 {
		b.whole = false
		if free == 0 {
			return
		}
	}
	if !b.o.rebuild(basis) {
		b.o.reset()
	}
	b.o.patterns[v].barred++
	b.o.program.price()
	b.node(free - 1)
	b.o.patterns[v].barred--
}

func (b *brancher) done() bool { return b.over || b.low >= b.value() }

// complete takes the plan when nothing is left to plan; where parts may be
// missing, every node is a plan.
func (b *brancher) complete() bool {
	none := true
	for _, n := range b.rest.wanted {
		none = none && n == 0
	}
	if none || b.aim.miss != nil && b.missing(b.rest.wanted) < b.value() {
		b.offer(draft{bins: b.taken, left: b.rest.wanted})
	}
	return none
}

// widest is the pattern that the program cuts most often, and how often.
func (b *brancher) widest() (int, float64) {
	best, most := -1, 1e-6
	for r, v := range b.o.basis {
		if v < 0 || b.o.patterns[v].barred > 0 || b.rest.boards[b.o.patterns[v].stock] == 0 {
			continue
		}
		if x := b.o.x[r]; x > most+1e-9 || x > most-1e-9 && v < best {
			best, most = v, x
		}
	}
	return best, most
}

// take cuts pattern v so many times, without what is no longer wanted; false when
// that is not possible.
func (b *brancher) take(v, times int) bool {
	pt := &b.o.patterns[v]
	if b.rest.boards[pt.stock] < times {
		return false
	}
	var cuts []cut
	for _, c := range pt.cuts {
		n := min(c.count, b.rest.wanted[c.kind])
		if times > 1 && b.rest.wanted[c.kind] < c.count*times {
			return false
		}
		if n > 0 {
			cuts = append(cuts, cut{c.kind, n})
		}
	}
	if len(cuts) == 0 {
		return false
	}
	for range times {
		b.taken = append(b.taken, bin{pt.stock, cuts})
	}
	b.move(pt.stock, cuts, times)
	if !b.o.restore() {
		b.o.reset()
	}
	return true
}

func (b *brancher) untake(v, times int) {
	last := b.taken[len(b.taken)-1]
	b.taken = b.taken[:len(b.taken)-times]
	b.move(last.stock, last.cuts, -times)
}

// move takes so many boards with these cuts out of what is still to be planned.
func (b *brancher) move(stock int, cuts []cut, times int) {
	p := b.o.program
	change := func(row, n int) {
		p.rhs[row] -= float64(n)
		axpy(p.x, p.inverse[row], float64(-n))
	}
	for _, c := range cuts {
		b.rest.wanted[c.kind] -= c.count * times
		change(c.kind, c.count*times)
	}
	b.rest.boards[stock] -= times
	change(len(b.kinds)+stock, times)
	b.price += b.aim.price[stock] * times
}

func sortCuts(cuts []cut) {
	slices.SortFunc(cuts, func(a, b cut) int { return cmp.Compare(a.kind, b.kind) })
}
