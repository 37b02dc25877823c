package cutting

import (
	"math/rand/v2"
	"slices"
)

// packer tries to place all parts on a given choice of boards: it fills them one
// after the other and then, over and over, empties two of them and fills both
// anew from what they held and what is left over, so that the waste gathers in
// few places until the last part finds room.
type packer struct {
	*model
	*effort
	dice  *rand.Rand // a fixed sequence: the same plan everywhere
	table bitRows
	bins  []packBin
	left  []int // kinds that are not placed, one entry a piece
	spare int   // size of left

	pool, one, two, other []int // scratch
}

// stepsPerPiece is the work of handling a piece once, tables aside.
const stepsPerPiece = 20

type packBin struct {
	stock, room, load int
	kinds             []int // one entry a piece
}

func newPacker(m *model, e *effort, seed uint64) *packer {
	return &packer{model: m, effort: e, dice: rand.New(rand.NewPCG(1, seed))}
}

// start fills count[s] boards of each stock s, one after the other, with the parts
// of demand.
func (p *packer) start(count, demand []int) {
	p.bins, p.left, p.spare = p.bins[:0], p.left[:0], 0
	for s, n := range count {
		for range n {
			p.bins = append(p.bins, packBin{stock: s, room: p.stocks[s].room})
		}
	}
	for k, n := range demand {
		for range n {
			p.left = append(p.left, k)
			p.spare += p.kinds[k].size
		}
	}
	p.fillAll()
}

// more exchanges until all is placed or so much work is done, and says whether
// all is placed.
func (p *packer) more(work int) bool {
	if p.spare > 0 && len(p.bins) > 1 {
		p.within(work, func() {
			for p.spare > 0 && !p.over {
				p.exchange()
			}
		})
	}
	return p.spare == 0
}

// short is how much the parts that are left exceed the largest waste of a board:
// the less, the nearer the plan is.
func (p *packer) short() int {
	b := p.bins[p.emptiest()]
	return p.spare - (b.room - b.load)
}

// fillAll fills the boards one after the other; each starts with the longest
// part that is left.
func (p *packer) fillAll() {
	for i := range p.bins {
		b := &p.bins[i]
		first := -1
		for j, k := range p.left { // longest first
			if p.kinds[k].size <= b.room {
				first = j
				break
			}
		}
		if first < 0 {
			continue
		}
		k := p.left[first]
		p.left = slices.Delete(p.left, first, first+1)
		some, others := p.sample(b.room)
		taken, rest, load := p.subset(some, b.room-p.kinds[k].size, nil, others)
		b.kinds = append(taken, k)
		b.load = load + p.kinds[k].size
		p.left = append(p.left[:0], rest...)
		slices.Sort(p.left)
		p.spare -= b.load
		if p.over {
			return
		}
	}
}

// sample takes pieces of all lengths out of what is left, enough to fill room in
// many ways, shortest first; and the others.
func (p *packer) sample(room int) (some, others []int) {
	const least, times = 48, 3 // pieces, and their size as a multiple of room
	n := len(p.left)
	want := max(least, times*room*n/max(1, p.spare))
	some, others = p.one[:0], p.other[:0]
	for i := n - 1; i >= 0; i-- {
		if want >= n || (i+1)*want/n > i*want/n {
			some = append(some, p.left[i])
		} else {
			others = append(others, p.left[i])
		}
	}
	p.one, p.other = some, others
	return some, others
}

// exchange empties two boards, one of them with waste, and fills them anew.
func (p *packer) exchange() {
	i := p.dice.IntN(len(p.bins))
	for range 2 * len(p.bins) {
		if p.bins[i].load < p.bins[i].room {
			break
		}
		i = p.dice.IntN(len(p.bins))
	}
	j := p.dice.IntN(len(p.bins) - 1)
	if j >= i {
		j++
	}
	if p.dice.IntN(4) == 0 {
		if w := p.emptiest(); w != i {
			j = w
		}
	}
	a, b := &p.bins[i], &p.bins[j]
	if p.dice.IntN(2) == 0 {
		a, b = b, a
	}
	pool := append(append(append(p.pool[:0], a.kinds...), b.kinds...), p.left...)
	p.pool = pool
	for x := len(pool) - 1; x > 0; x-- {
		y := p.dice.IntN(x + 1)
		pool[x], pool[y] = pool[y], pool[x]
	}
	var forA, forB, rest []int
	var loadA, loadB int
	forA, rest, loadA = p.subset(pool, a.room, p.one[:0], p.other[:0])
	p.one, p.other = forA, rest
	forB, rest, loadB = p.subset(rest, b.room, p.two[:0], pool[:0])
	p.two = forB
	gain := loadA + loadB - a.load - b.load
	if gain < 0 {
		return
	}
	if gain == 0 && max(a.room-loadA, b.room-loadB) < max(a.room-a.load, b.room-b.load) && p.dice.IntN(4) > 0 {
		return
	}
	a.kinds, a.load = append(a.kinds[:0], forA...), loadA
	b.kinds, b.load = append(b.kinds[:0], forB...), loadB
	p.left = append(p.left[:0], rest...)
	p.spare -= gain
}

// emptiest is the board with the most waste.
func (p *packer) emptiest() int {
	at := 0
	for i, b := range p.bins {
		if b.room-b.load > p.bins[at].room-p.bins[at].load {
			at = i
		}
	}
	return at
}

func (p *packer) draft() draft {
	d := draft{left: make([]int, len(p.kinds))}
	for _, k := range p.left {
		d.left[k]++
	}
	taken := make([]int, len(p.kinds))
	for _, b := range p.bins {
		if len(b.kinds) == 0 {
			continue
		}
		clear(taken)
		for _, k := range b.kinds {
			taken[k]++
		}
		d.bins = append(d.bins, bin{b.stock, cutsOf(taken)})
	}
	return d
}

// subset gives the pieces with the greatest sum of sizes that room holds, the
// others, both appended to the lists given, and the sum. Pieces late in the list
// are taken first.
func (p *packer) subset(pieces []int, room int, taken, rest []int) ([]int, []int, int) {
	sum := 0
	step := room/maxTableBits + 1
	for (len(pieces)+1)*(room/step/64+1) > maxTableWords {
		step *= 2
	}
	width := room/step + 1
	p.table.start(width)
	for _, k := range pieces {
		p.table.add(ceilDiv(p.kinds[k].size, step))
	}
	p.spend(p.table.words + stepsPerPiece*len(pieces))
	at := p.table.top()
	for i := len(pieces) - 1; i >= 0; i-- {
		size := ceilDiv(p.kinds[pieces[i]].size, step)
		if at >= size && p.table.has(i, at-size) {
			at -= size
			taken = append(taken, pieces[i])
			sum += p.kinds[pieces[i]].size
		} else {
			rest = append(rest, pieces[i])
		}
	}
	return taken, rest, sum
}

// bitRows are the sums that can be reached: row i with the first i pieces.
type bitRows struct {
	rows  [][]uint64
	n     int // rows in use
	width int
	high  int // no sum lies above
	words int // touched since start
}

func (t *bitRows) start(width int) {
	t.width, t.n, t.high, t.words = width, 0, 0, 0
	t.next(1)[0] = 1
}

func (t *bitRows) next(words int) []uint64 {
	if len(t.rows) == t.n {
		t.rows = append(t.rows, nil)
	}
	if cap(t.rows[t.n]) < words {
		t.rows[t.n] = make([]uint64, words, (t.width+63)/64)
	}
	t.rows[t.n] = t.rows[t.n][:words]
	t.n++
	t.words += words
	return t.rows[t.n-1]
}

func (t *bitRows) add(size int) {
	last := t.rows[t.n-1]
	t.high = min(t.high+size, t.width-1)
	row := t.next(t.high/64 + 1)
	n := copy(row, last)
	clear(row[n:])
	w, b := size/64, uint(size%64)
	if w >= len(row) {
		return
	}
	if b == 0 {
		for i := w; i < len(row) && i-w < len(last); i++ {
			row[i] |= last[i-w]
		}
		return
	}
	carry := uint64(0)
	src := last[:min(len(last), len(row)-w)]
	dst := row[w : w+len(src)]
	for i, v := range src {
		dst[i] |= v<<b | carry
		carry = v >> (64 - b)
	}
	if at := w + len(src); at < len(row) {
		row[at] |= carry
	}
}

// top is the greatest sum below width.
func (t *bitRows) top() int { return highest(t.rows[t.n-1], t.width) }

// has says whether the first i pieces reach the sum.
func (t *bitRows) has(i, sum int) bool {
	row := t.rows[i]
	return sum/64 < len(row) && row[sum/64]>>(uint(sum)%64)&1 == 1
}
