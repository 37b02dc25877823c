package cutting

import "slices"

// column is a variable of the whole-number program: so many boards cut by one pattern,
// or, with stock -1, so many parts of one kind that are missing.
type column struct {
	stock int
	cuts  []cut
	price int
	most  int // it can be used, at most
}

const (
	maxColumnNodes = 400_000 // of the search for them
	maxGainCells   = 4 << 20 // of the table that guides it
	narrowings     = 8       // how often the search is tried with half the slack
)

// lister lists the patterns that a plan better than the best one may use.
type lister struct {
	*brancher
	many    int // columns that are too many
	slack   int // how far, in scaled prices, such a plan may lie above the bound
	rate    []float64
	best    [][]int // by kind: the greatest gain for each room from it on; nil where too large
	over    []int   // by stock: how much its best pattern gains beyond its price
	stock   int
	taken   []int
	nodes   int
	columns []column
}

// usable gives every pattern that fills its board up and that a plan can use which costs
// less than beyond, in scaled prices: less than the value of the best plan, or less than
// that where there would be too many patterns; false when there are too many even so.
//
// The bound of the linear program is sum gain_i d_i - sum over_s a_s. A plan that uses a
// pattern p of stock s once costs at least the bound and its reduced price, price_s +
// over_s - sum gain_i p_i. So patterns whose reduced price is above the gap are of no use.
// A pattern with room for a part more is not needed either: what it lacks may be cut too
// often elsewhere, and the plan that is read from the program leaves out what is too much.
func (b *brancher) usable(many int) (columns []column, beyond int, ok bool) {
	l := &lister{brancher: b, many: many, taken: make([]int, len(b.kinds)), over: make([]int, len(b.stocks))}
	bound := 0
	for k, g := range b.gain {
		bound += g * b.demand[k]
	}
	for s := range b.stocks {
		l.over[s] = max(0, b.most[s]-b.aim.price[s]*b.o.scale)
		bound -= l.over[s] * b.stocks[s].count
	}
	l.slack = (b.value()-1)*b.o.scale - bound
	if l.slack < 0 {
		return nil, bound + l.slack + 1, true
	}
	l.rates()
	for range narrowings {
		if l.list() {
			return l.columns, bound + l.slack + 1, true
		}
		if b.effort.over {
			break
		}
		l.slack /= 2
	}
	return nil, 0, false
}

// list fills columns; false when there are too many.
func (l *lister) list() bool {
	l.columns, l.nodes = l.columns[:0], 0
	for s := range l.stocks {
		if l.stocks[s].count == 0 {
			continue
		}
		l.stock = s
		l.walk(0, l.stocks[s].room, l.aim.price[s]*l.o.scale+l.over[s])
	}
	for k, price := range l.aim.miss {
		if price*l.o.scale-l.gain[k] <= l.slack {
			l.columns = append(l.columns, column{stock: -1, cuts: []cut{{k, 1}}, price: price, most: l.demand[k]})
		}
	}
	return l.nodes <= maxColumnNodes && len(l.columns) <= l.many && !l.effort.over
}

// rates gives for each kind the greatest gain for a unit of size from it on, and for each
// room.
func (l *lister) rates() {
	l.rate = make([]float64, len(l.kinds)+1)
	for k := len(l.kinds) - 1; k >= 0; k-- {
		l.rate[k] = max(l.rate[k+1], float64(l.gain[k])/float64(l.kinds[k].size)*(1+1e-9))
	}
	width := l.stocks[0].room + 1
	if width*(len(l.kinds)+1) > maxGainCells {
		return
	}
	l.best = make([][]int, len(l.kinds)+1)
	l.best[len(l.kinds)] = make([]int, width)
	for k := len(l.kinds) - 1; k >= 0; k-- {
		best, size, gain := slices.Clone(l.best[k+1]), l.kinds[k].size, l.gain[k]
		for v := size; v < width; v++ {
			best[v] = max(best[v], best[v-size]+gain)
		}
		l.best[k] = best
	}
	l.spend(2 * width * len(l.kinds))
}

// walk takes kinds from k on into what room is left; reduced is the reduced price of what
// is taken.
func (l *lister) walk(k, room, reduced int) {
	l.nodes++
	if l.nodes > maxColumnNodes || len(l.columns) > l.many || !l.spend(8) {
		return
	}
	if l.best != nil && reduced-l.best[k][room] > l.slack || float64(reduced)-l.rate[k]*float64(room) > float64(l.slack) {
		return
	}
	if k == len(l.kinds) {
		l.keep(room)
		return
	}
	size := l.kinds[k].size
	for n := min(l.demand[k], room/size); n >= 0; n-- {
		l.taken[k] = n
		l.walk(k+1, room-n*size, reduced-n*l.gain[k])
	}
	l.taken[k] = 0
}

func (l *lister) keep(room int) {
	most := 0
	for k, n := range l.taken {
		if n < l.demand[k] && l.kinds[k].size <= room {
			return
		}
		if n > 0 {
			most = max(most, ceilDiv(l.demand[k], n))
		}
	}
	if cuts := cutsOf(l.taken); len(cuts) > 0 {
		l.columns = append(l.columns, column{stock: l.stock, cuts: cuts, price: l.aim.price[l.stock], most: min(most, l.stocks[l.stock].count)})
	}
}
