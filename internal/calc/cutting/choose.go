package cutting

import (
	"cmp"
	"slices"
)

// chooser lists choices of boards that have one total price and hold one total
// size, few boards first.
type chooser struct {
	*model
	*effort
	size  int
	reach []int
	// From stock i on, for each total price: the greatest reach, and the fewest
	// and most boards; reach -1 where no boards have that price.
	tails []tail
}

type tail struct{ reach, few, many []int }

// newChooser prepares for all prices up to total, or gives nil when the tables
// would be too large.
func newChooser(m *model, e *effort, size, total int, reach []int) *chooser {
	if e.over || total > maxCoverCells || total*(len(m.stocks)+1) > 4*maxCoverCells {
		return nil
	}
	for _, s := range m.stocks {
		if s.price == 0 {
			return nil // boards for nothing: no choice is too large
		}
	}
	c := &chooser{model: m, effort: e, size: size, reach: reach, tails: make([]tail, len(m.stocks)+1)}
	last := newTail(total)
	last.reach[0] = 0
	c.tails[len(m.stocks)] = last
	for i := len(m.stocks) - 1; i >= 0; i-- {
		if c.tails[i] = c.extend(c.tails[i+1], i, total); c.over {
			return nil
		}
	}
	return c
}

func newTail(total int) tail {
	t := tail{make([]int, total+1), make([]int, total+1), make([]int, total+1)}
	for v := range t.reach {
		t.reach[v] = -1
	}
	return t
}

// extend adds stock i to the tail behind it, by lots of 1, 2, 4… boards.
func (c *chooser) extend(behind tail, i, total int) tail {
	t := tail{slices.Clone(behind.reach), slices.Clone(behind.few), slices.Clone(behind.many)}
	s := c.stocks[i]
	n := min(s.count, total/s.price)
	for lot := 1; n > 0; lot *= 2 {
		lot = min(lot, n)
		n -= lot
		price := lot * s.price
		for v := total; v >= price; v-- {
			if t.reach[v-price] < 0 {
				continue
			}
			if t.reach[v] < 0 {
				t.few[v], t.many[v] = t.few[v-price]+lot, t.many[v-price]+lot
			} else {
				t.few[v] = min(t.few[v], t.few[v-price]+lot)
				t.many[v] = max(t.many[v], t.many[v-price]+lot)
			}
			t.reach[v] = max(t.reach[v], t.reach[v-price]+lot*c.reach[i])
		}
		if !c.spend(2 * total) {
			break
		}
	}
	return t
}

// holds says whether any boards of total price v may hold everything.
func (c *chooser) holds(v int) bool { return c.tails[0].reach[v] >= c.size }

// list gives up to most choices of total price v, as boards of each stock: first
// those of fewest boards, among them those that use most offcuts, oldest first;
// and whether these are all there are.
func (c *chooser) list(v, most int) ([][]int, bool) {
	if !c.holds(v) {
		return nil, true
	}
	var all [][]int
	whole := true
	for n := c.tails[0].few[v]; n <= c.tails[0].many[v]; n++ {
		if len(all) >= most || c.over {
			return all, false
		}
		var some [][]int
		nodes := walkNodes
		c.walk(0, v, n, 0, make([]int, len(c.stocks)), most, &nodes, &some)
		whole = whole && nodes > 0 && len(some) < most && !c.over
		slices.SortStableFunc(some, func(a, b []int) int { return cmp.Compare(c.offcuts(b), c.offcuts(a)) })
		all = append(all, some...)
	}
	return all, whole
}

// walkNodes is the largest search for choices of one number of boards.
const walkNodes = 20000

func (c *chooser) walk(i, price, boards, reach int, take []int, most int, nodes *int, all *[][]int) {
	*nodes--
	if *nodes < 0 || len(*all) >= most || !c.spend(8) {
		return
	}
	t := c.tails[i]
	if t.reach[price] < 0 || reach+t.reach[price] < c.size || boards < t.few[price] || boards > t.many[price] {
		return
	}
	if i == len(c.stocks) {
		*all = append(*all, slices.Clone(take))
		return
	}
	s := c.stocks[i]
	for n := min(s.count, boards, price/s.price); n >= 0; n-- {
		take[i] = n
		c.walk(i+1, price-n*s.price, boards-n, reach+n*c.reach[i], take, most, nodes, all)
	}
	take[i] = 0
}

// offcuts weighs the offcuts among so many boards of each stock; an old one counts
// a little more than a young one.
func (m *model) offcuts(take []int) float64 {
	const perDay = 1e-7
	sum := 0.0
	for i, n := range take {
		for _, l := range m.stocks[i].lots {
			if !l.offcut || n == 0 {
				break
			}
			used := min(n, l.count)
			n -= used
			sum += float64(used) * (1 + perDay*l.age)
		}
	}
	return sum
}
