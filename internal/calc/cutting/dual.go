package cutting

import (
	"math"
	"math/bits"
)

// The simplex method works in floating point; what is claimed from it is worked
// out again here in whole numbers. The duals are scaled and rounded down, the
// knapsack over them is solved exactly, and
//
//	sum of dual_i wanted_i + sum over stocks of min(0, price_s - gain_s) boards_s
//
// is a lower bound for any duals that are not negative (nor above the price of a
// missing part), gain_s being the greatest gain of a pattern of stock s. (Lagrangian bound; P. C. Gilmore and R. E. Gomory,
// Operations Research 9 (1961) 849-859 for the patterns; A. A. Farley, Operations
// Research 38 (1990) 922-923 for the scaled form used beside it; from memory.)

// dualBits is the precision of scaled prices.
const dualBits = 34

// rest is what is still to be planned at a node of the search.
type rest struct {
	wanted []int // by kind
	boards []int // by stock
}

// oracle adds patterns and gives bounds.
type oracle struct {
	*program
	sack  knapsack
	scale int
	gain  []int
	most  []int // greatest gain by stock
}

func newOracle(p *program) *oracle {
	o := &oracle{program: p, sack: knapsack{model: p.model, effort: p.effort}, scale: 1 << max(1, dualBits-bits.Len(uint(p.aim.top())))}
	o.gain = make([]int, len(p.kinds))
	o.most = make([]int, len(p.stocks))
	return o
}

// refreshEvery is the number of pivots, besides two a row, after which the
// inverse is worked out afresh.
const refreshEvery = 500

// generate solves the program for r, adding patterns, until no pattern can
// improve it, the bound reaches enough, or no better whole number can follow. It
// gives the greatest lower bound it met.
func (o *oracle) generate(r rest, enough int) int {
	bound := 0
	for o.primal() {
		o.price()
		if o.pivots > refreshEvery+2*o.rows {
			o.refresh()
			o.pivots = 0
		}
		added := o.extend(r)
		if o.over {
			break
		}
		bound = max(bound, o.bound(r))
		if !added || bound >= enough || float64(bound) >= o.objective()-1e-6 {
			break
		}
	}
	return bound
}

// refresh works the inverse out afresh, against gathered rounding.
func (o *oracle) refresh() {
	basis := append([]int(nil), o.basis...)
	if !o.rebuild(basis) || !o.restore() {
		o.reset()
	}
}

// extend asks each stock for its best pattern at the present duals.

func (o *oracle) extend(r rest) bool {
	for k := range o.gain {
		o.gain[k] = 0
		if r.wanted[k] > 0 {
			o.gain[k] = int(max(0, o.dual[k]) * float64(o.scale))
		}
		if o.aim.miss != nil {
			o.gain[k] = min(o.gain[k], o.aim.miss[k]*o.scale)
		}
	}
	room := 0
	for s, n := range r.boards {
		if n > 0 {
			room = max(room, o.stocks[s].room)
		}
	}
	o.sack.load(o.gain, r.wanted, room)
	if cells := o.sack.cells(room); cells > maxCells*len(o.stocks) {
		if added, whole := o.byTree(r, maxNodes/10); added || whole || cells > cellsEver {
			return added
		}
	}
	return o.byTable(r, room)
}

// limit is the gain above which a pattern of stock s improves the program.
func (o *oracle) limit(s int) int {
	price := float64(o.aim.price[s]) - min(0, o.dual[len(o.kinds)+s])
	return int(price*float64(o.scale)*(1+1e-9)) + 1
}

func (o *oracle) byTable(r rest, room int) bool {
	o.sack.fillTable(room)
	added := false
	for s, st := range o.stocks {
		if o.most[s] = 0; r.boards[s] == 0 || o.over {
			continue
		}
		o.most[s] = o.sack.best[st.room]
		open := false // a pattern that is not barred improves
		for _, end := range o.sack.finest(s, columnsAtOnce/len(o.stocks)+1, o.limit(s)) {
			if cuts := o.sack.read(st.room, end); !o.barred(s, cuts) {
				added = o.fresh(s, cuts) || added
				open = true
			}
		}
		if !open && o.most[s] > o.limit(s) {
			found, best, whole := o.sack.search(o.gain, r.wanted, st.room, o.limit(s), maxNodes, o.allows(s))
			if whole {
				o.most[s] = best
			}
			added = o.keepLast(s, found) || added
		}
	}
	return added
}

// byTree does the same by a tree search; whole is false when it was cut short, in
// which case the gains it leaves are upper bounds.
func (o *oracle) byTree(r rest, nodes int) (added, whole bool) {
	whole = true
	for s, st := range o.stocks {
		if o.most[s] = 0; r.boards[s] == 0 {
			continue
		}
		found, best, all := o.sack.search(o.gain, r.wanted, st.room, o.limit(s), nodes, o.allows(s))
		o.most[s] = best
		if !all {
			whole = false
			o.most[s] = o.fraction(st.room)
		}
		added = o.keepLast(s, found) || added
	}
	return added, whole
}

// columnsAtOnce is how many patterns one table may give.
const columnsAtOnce = 12

// fresh adds a pattern and says whether it is new.
func (o *oracle) fresh(s int, cuts []cut) bool {
	n := len(o.patterns)
	return o.add(s, cuts) == n
}

// keepLast adds the last, the best, of what a tree search found.
func (o *oracle) keepLast(s int, found [][]cut) bool {
	added := false
	for _, cuts := range found[max(0, len(found)-columnsAtOnce/2):] {
		added = o.fresh(s, cuts) || added
	}
	return added
}

// fraction is the gain of the best rate over the whole room.
func (o *oracle) fraction(room int) int {
	best := 0.0
	for k, g := range o.gain {
		best = max(best, float64(g)/float64(o.kinds[k].size))
	}
	return int(math.Ceil(best * float64(room) * (1 + 1e-9)))
}

func (o *oracle) barred(s int, cuts []cut) bool {
	i, ok := o.byKey[patternKey(s, cuts)]
	return ok && o.patterns[i].barred > 0
}

func (o *oracle) allows(s int) func([]cut) bool {
	return func(cuts []cut) bool {
		sorted := append(make([]cut, 0, len(cuts)), cuts...)
		sortCuts(sorted)
		return !o.barred(s, sorted)
	}
}

// bound is the lower bound that the last extend gives.
func (o *oracle) bound(r rest) int {
	sum := 0
	for k, g := range o.gain {
		sum += g * r.wanted[k]
	}
	lagrange := sum
	farley := sum / o.scale // rounded down: only where no stock gains more than its price
	if sum%o.scale > 0 {
		farley++
	}
	for s, price := range o.aim.price {
		over := o.most[s] - price*o.scale
		if r.boards[s] == 0 || over <= 0 {
			continue
		}
		lagrange -= min(over, math.MaxInt/4/max(1, r.boards[s])) * r.boards[s]
		farley = min(farley, mulDivCeil(sum, price, o.most[s]))
	}
	return max(farley, ceilDiv(max(0, lagrange), o.scale))
}
