package sawing

import (
	"math"
	"slices"
	"sort"
)

// piece is a board size as it may lie in a row.
type piece struct {
	board  int     // number in the input
	across int     // ticks along the row
	value  float64 // for each mm of length
	leastM float64 // shortest length, mm
	reach2 float64 // the farthest a corner may lie, squared ticks
	rights []int   // offsets of the right edge when it lies over the pith
	slim   int     // across of the narrowest piece that may stand behind it
	follow float64 // the most that may stand behind it is worth, for each mm
}

// kind is all that may lie in rows of one height.
type kind struct {
	high     int     // ticks
	trueHigh float64 // mm
	pieces   []piece
	tapers   bool      // some piece may be shorter than the log
	packed   []float64 // best value of full-length boards whose widths and kerfs fill so many ticks
	groups   [][]group // for each piece what may stand behind it in its lane
}

// kinds sorts the board sizes into rows, leaving out what can never lie in the log.
func (in PatternIn) kinds(c cone, kerf int) []kind {
	byHeight := map[float64]*kind{} // by the true height: two of them never share a row
	for i, b := range in.Boards {
		least := in.LengthMM
		if b.MinLengthMM != nil {
			least = *b.MinLengthMM
		}
		if least > in.LengthMM || b.Value == 0 {
			continue
		}
		w, t := c.up(b.WidthMM), c.up(b.ThicknessMM)
		for turn, lie := range [][2]int{{w, t}, {t, w}} {
			high := b.ThicknessMM
			if turn == 1 {
				high = b.WidthMM
			}
			p := piece{board: i, across: lie[0], value: b.Value / metreMM, leastM: least, reach2: c.reach2(least)}
			if half2 := float64(lie[0]*lie[0]+lie[1]*lie[1]) / 4; half2 > p.reach2 {
				continue
			}
			k := byHeight[high]
			if k == nil {
				k = &kind{high: lie[1], trueHigh: high}
				byHeight[high] = k
			}
			k.pieces = append(k.pieces, p)
			k.tapers = k.tapers || p.reach2 > c.small2
			if b.WidthMM == b.ThicknessMM {
				break
			}
		}
	}
	out := make([]kind, 0, len(byHeight))
	for _, k := range byHeight {
		k.pack(int(2*c.small)+1+kerf, kerf, c.lengthMM)
		k.behind(kerf, c.lengthMM)
		out = append(out, *k)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].trueHigh < out[j].trueHigh })
	return out
}

// pack fills the table for full-length boards side by side.
func (k *kind) pack(ticks, kerf int, lengthMM float64) {
	k.packed = make([]float64, ticks+1)
	for w := 1; w <= ticks; w++ {
		k.packed[w] = k.packed[w-1]
		for _, p := range k.pieces {
			if pitch := p.across + kerf; pitch <= w {
				k.packed[w] = math.Max(k.packed[w], k.packed[w-pitch]+p.value*lengthMM)
			}
		}
	}
}

// rower finds the best boards of one row. Its tables are used again for each row.
type rower struct {
	cone
	kerf, heart int       // ticks; heart is half the side of the box
	half        []float64 // best value from a place outwards, to one side
	length      []float64 // longest board by its far edge, mm
	seen, cut   []int32   // the row for which half and length hold
	now         int32
	kind        *kind
	out2        float64  // square of how far the row's far edge lies from the pith
	full        int      // far edge up to which boards are as long as the log
	limit       []int    // far edge up to which each piece is long enough
	kept        [][]keep // where ends of a piece at a place stand in arena
	arena       []end
	starts      []float64 // where boards behind may begin, while ends are sought, mm
}

// keep tells where a list stands in the arena, and for which row.
type keep struct {
	now      int32
	from, to int
}

func newRower(c cone, kerf, heart int) *rower {
	size := int(c.large) + 2
	return &rower{cone: c, kerf: kerf, heart: heart, half: make([]float64, size), length: make([]float64, size),
		seen: make([]int32, size), cut: make([]int32, size)}
}

// take begins a row.
func (r *rower) take(k *kind, out int) {
	r.now++
	r.kind, r.out2 = k, float64(out)*float64(out)
	r.full = r.edge(r.small2)
	r.limit = r.limit[:0]
	for _, p := range k.pieces {
		r.limit = append(r.limit, r.edge(p.reach2))
	}
	for len(r.kept) < len(k.pieces) {
		r.kept = append(r.kept, make([]keep, len(r.half)))
	}
	r.arena = r.arena[:0]
}

// edge gives how far along the row a corner may lie, -1 when the row is out.
func (r *rower) edge(reach2 float64) int {
	if reach2 < r.out2 {
		return -1
	}
	return int(math.Sqrt(reach2 - r.out2))
}

// start is where a row begins: the left edge of the board over the pith and its
// piece, or no such board and a place on each side where the next may begin.
type start struct {
	left, right int // next edges on both sides, ticks from the pith
	over        int // piece over the pith, or -1
	packed      int // width in which full boards are packed, centred, or -1
}

// best gives the value of the best row of a kind whose far edge lies out ticks
// from the pith, and how it begins. Where the row crosses the heart box, boards
// keep clear of it.
func (r *rower) best(k *kind, out int, crossing bool) (float64, start) {
	r.take(k, out)
	top, from := 0.0, start{over: -1, packed: -1}
	if !crossing {
		if chord2 := r.small2 - r.out2; chord2 > 0 {
			if w := int(2*math.Sqrt(chord2)) + r.kerf; k.packed[w] > 0 {
				top, from.packed = k.packed[w], w
			}
		}
		if !k.tapers {
			return top, from
		}
	}
	try := func(over, left, right int, value float64) {
		if v := value + r.side(left) + r.side(right); v > top*(1+1e-12) {
			top, from = v, start{left: left, right: right, over: over, packed: -1}
		}
	}
	for _, u := range r.gaps(crossing) {
		try(-1, max(r.kerf-u, r.clear(crossing)), u, 0)
	}
	if crossing {
		return top, from
	}
	for i, p := range k.pieces {
		r.over(i, p, &top, try)
	}
	return top, from
}

func (r *rower) clear(crossing bool) int {
	if crossing {
		return r.heart
	}
	return 0
}

// gaps gives the right edges of a gap over the pith. One side is as good as the
// other, so only the nearer half is tried.
func (r *rower) gaps(crossing bool) []int {
	low := r.clear(crossing)
	if 2*low >= r.kerf {
		return []int{low}
	}
	out := []int{(r.kerf + 1) / 2}
	for u := (low + r.step - 1) / r.step * r.step; 2*u <= r.kerf; u += r.step {
		out = append(out, u)
	}
	if r.kerf%r.step != 0 { // the other edge on a whole step
		for u := r.kerf % r.step; 2*u <= r.kerf; u += r.step {
			if u >= low {
				out = append(out, u)
			}
		}
	}
	return out
}

// over tries a piece over the pith at all its offsets.
func (r *rower) over(i int, p piece, top *float64, try func(over, left, right int, value float64)) {
	put := func(right int) {
		left := p.across - right
		if right > r.limit[i] || r.most(i, -left)+r.side(left+r.kerf)+r.side(right+r.kerf) <= *top {
			return
		}
		v, _ := r.lane(i, -left, 0)
		try(i, left+r.kerf, right+r.kerf, v)
	}
	for _, right := range p.rights {
		put(right)
	}
}

// offsets gives the far edges from the pith at which a width over the pith is
// tried, and which are not the mirror of another: centred, and with either edge or
// the middle on a whole step.
func offsets(across, step int) []int {
	out := []int{(across + 1) / 2}
	for far := (across + 1) / 2; far < across; far++ {
		if far%step == 0 || (across-far)%step == 0 || (2*far-across)%(2*step) == 0 {
			out = append(out, far)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// side gives the best value of boards from a place outwards.
func (r *rower) side(at int) float64 {
	if at >= len(r.half) {
		return 0
	}
	if r.seen[at] == r.now {
		return r.half[at]
	}
	top := 0.0
	for i := range r.kind.pieces {
		p := &r.kind.pieces[i]
		if at+p.across > r.limit[i] || r.most(i, at)+r.side(at+p.across+r.kerf) <= top {
			continue
		}
		if v := r.put(i, at); v > top {
			top = v
		}
	}
	r.seen[at], r.half[at] = r.now, top
	return top
}

// put gives the value of a piece at a place and of the best beyond it, or 0.
func (r *rower) put(i, at int) float64 {
	p := &r.kind.pieces[i]
	far := at + p.across
	if far > r.limit[i] {
		return 0
	}
	v, _ := r.lane(i, at, 0)
	return v + r.side(far+r.kerf)
}

// lengthAt gives the longest board with a far edge.
func (r *rower) lengthAt(far int) float64 {
	if far <= r.full {
		return r.lengthMM
	}
	if r.cut[far] != r.now {
		r.cut[far], r.length[far] = r.now, r.boardMM(float64(far)*float64(far)+r.out2)
	}
	return r.length[far]
}

// cell is a piece laid in a row, its left edge in ticks.
type cell struct {
	piece  piece
	at     float64
	from   float64 // mm from the butt
	length float64 // mm
}

// lay gives the boards of the row that best found, from left to right.
func (r *rower) lay(k *kind, out int, crossing bool) []cell {
	_, from := r.best(k, out, crossing)
	if from.packed >= 0 {
		return r.layPacked(k, from.packed)
	}
	var cells []cell
	outwards := func(at int, mirror bool) {
		for i, ok := r.next(at); ok; i, ok = r.next(at) {
			cells = r.fill(cells, i, at, 0, mirror)
			at += k.pieces[i].across + r.kerf
		}
	}
	outwards(from.left, true)
	if from.over >= 0 {
		cells = r.fill(cells, from.over, r.kerf-from.left, 0, false)
	}
	outwards(from.right, false)
	sort.SliceStable(cells, func(i, j int) bool {
		if cells[i].at != cells[j].at {
			return cells[i].at < cells[j].at
		}
		return cells[i].from < cells[j].from
	})
	return cells
}

// next gives the piece that side chose at a place.
func (r *rower) next(at int) (int, bool) {
	want := r.side(at)
	for i := range r.kind.pieces {
		if v := r.put(i, at); v > 0 && v == want {
			return i, true
		}
	}
	return 0, false
}

// layPacked reads the packing table and centres what it finds.
func (r *rower) layPacked(k *kind, w int) []cell {
	var chosen []piece
	total := -r.kerf
	for k.packed[w] > 0 {
		if k.packed[w-1] == k.packed[w] {
			w--
			continue
		}
		for _, p := range k.pieces {
			if pitch := p.across + r.kerf; pitch <= w && k.packed[w] == k.packed[w-pitch]+p.value*r.lengthMM {
				chosen = append(chosen, p)
				total += pitch
				w -= pitch
				break
			}
		}
	}
	at := -float64(total) / 2
	cells := make([]cell, len(chosen))
	for i, p := range chosen {
		cells[i] = cell{p, at, 0, r.lengthMM}
		at += float64(p.across + r.kerf)
	}
	return cells
}
