package sawing

import (
	"cmp"
	"slices"
)

// A lane is the strip of a row behind one board at the butt, as wide as that
// board. Its place x is the board's left edge, in ticks from the pith, turned so
// that the right edge is the one farther from the pith.

// group is what may stand behind a board: one narrower board, or two abreast.
type group struct {
	one, two int // pieces from left to right; two is -1 for one board
	across   int // ticks
}

// end is one way to end the board at the butt of a lane.
type end struct {
	at    float64 // mm from the butt
	worth float64 // of the lane up to there, from the butt, and of all behind it
}

const (
	slack    = 1e-9 // mm: what sums of lengths may be off
	manyPair = 16   // sizes of one row, up to which two abreast are looked at
)

// behind lists for each piece what may stand behind it: narrower, worth no more
// for a metre all together, and with room for both least lengths.
func (k *kind) behind(kerf int, lengthMM float64) {
	k.groups = make([][]group, len(k.pieces))
	for i, p := range k.pieces {
		k.pieces[i].slim = p.across
		fits := func(m int) bool {
			q := k.pieces[m]
			return q.across < p.across && q.value <= p.value && p.leastM+q.leastM <= lengthMM+slack && !k.outdone(m)
		}
		for a, one := range k.pieces {
			if !fits(a) {
				continue
			}
			k.groups[i] = append(k.groups[i], group{a, -1, one.across})
			k.pieces[i].slim = min(k.pieces[i].slim, one.across)
			k.pieces[i].follow = max(k.pieces[i].follow, one.value)
			for b, two := range k.pieces {
				across := one.across + kerf + two.across
				if len(k.pieces) <= manyPair && across <= p.across && one.value+two.value <= p.value && fits(b) {
					k.pieces[i].follow = max(k.pieces[i].follow, one.value+two.value)
					k.groups[i] = append(k.groups[i], group{a, b, across})
				}
			}
		}
	}
}

// outdone tells that another piece takes no more room, may be as short, and is
// worth as much.
func (k *kind) outdone(m int) bool {
	q := k.pieces[m]
	for j, o := range k.pieces {
		if o.across <= q.across && o.leastM <= q.leastM && o.value >= q.value {
			alike := o.across == q.across && o.leastM == q.leastM && o.value == q.value
			if !alike || j < m {
				return true
			}
		}
	}
	return false
}

// spot is a piece at a place of its lane.
type spot struct{ piece, x int }

// turned gives a place with the right edge farther from the pith, and whether
// that is the mirror of the one given.
func turned(x, across int) (int, bool) {
	if x+across < -x {
		return -x - across, true
	}
	return x, false
}

// lane gives the value of the best lane with piece i at x from z mm on, and how
// its first board ends; 0 where the piece does not fit.
func (r *rower) lane(i, x int, z float64) (float64, end) {
	p := &r.kind.pieces[i]
	x, _ = turned(x, p.across)
	far := x + p.across
	if far > r.limit[i] {
		return 0, end{}
	}
	if far <= r.full || len(r.kind.groups[i]) == 0 {
		last := r.lengthAt(far)
		if last < z+p.leastM-slack {
			return 0, end{}
		}
		return p.value * (last - z), end{last, p.value * last}
	}
	var best end
	for _, e := range r.ends(i, x) {
		if e.at < z+p.leastM-slack {
			break
		}
		best = e
	}
	if best.at == 0 {
		return 0, best
	}
	return best.worth - p.value*z, best
}

// ends lists the ways to end piece i at x that are worth looking at: the longest
// first, each shorter one worth more. A board ends where the cone stops it, or
// where a board behind it must begin so as to be just long enough.
func (r *rower) ends(i, x int) []end {
	p := &r.kind.pieces[i]
	at := x + (p.across+1)/2
	kept := &r.kept[i][at]
	if kept.now == r.now {
		return r.arena[kept.from:kept.to]
	}
	last := r.lengthAt(x + p.across)
	start := len(r.starts) // lanes behind this one use the same room beyond it
	r.starts = append(r.starts, last)
	for _, g := range r.kind.groups[i] {
		at, n := r.places(i, x, g)
		for _, s := range at[:n] {
			r.begins(g.one, s, last, p.leastM)
			if g.two >= 0 {
				r.begins(g.two, r.beside(g, s), last, p.leastM)
			}
		}
	}
	list := r.starts[start:]
	slices.SortFunc(list, func(a, b float64) int { return cmp.Compare(b, a) })
	from := len(r.arena) // all lanes behind are known by now: nothing else is added
	for n, z := range list {
		if n > 0 && z == list[n-1] {
			continue
		}
		more, _ := r.after(i, x, z)
		worth := p.value*z + more
		if len(r.arena) == from || worth > r.arena[len(r.arena)-1].worth*(1+1e-12) {
			r.arena = append(r.arena, end{z, worth})
		}
	}
	r.starts = r.starts[:start]
	*kept = keep{now: r.now, from: from, to: len(r.arena)}
	return r.arena[from:]
}

// begins notes where a piece at x may begin at the latest, between two lengths.
func (r *rower) begins(i, x int, last, least float64) {
	p := &r.kind.pieces[i]
	x, _ = turned(x, p.across)
	far := x + p.across
	if far > r.limit[i] {
		return
	}
	add := func(e float64) {
		if z := e - p.leastM; z < last && z >= least-slack {
			r.starts = append(r.starts, z)
		}
	}
	if far <= r.full || len(r.kind.groups[i]) == 0 {
		add(r.lengthAt(far))
		return
	}
	for _, e := range r.ends(i, x) {
		add(e.at)
	}
}

// places gives the left edges of a group in the lane of piece i at x, as near to
// the pith as the lane allows: of the whole group and, for two abreast in a lane
// over the pith, of either board and of the kerf between them.
func (r *rower) places(i, x int, g group) (at [4]int, n int) {
	room := r.kind.pieces[i].across - g.across
	near := func(s int) {
		s = min(max(s, x), x+room)
		if n == 0 || s != at[n-1] {
			at[n] = s
			n++
		}
	}
	near(-(g.across / 2))
	if g.two >= 0 && x < 0 {
		one, two := r.kind.pieces[g.one].across, r.kind.pieces[g.two].across
		near(-one - (r.kerf+1)/2)
		near(-(one / 2))
		near(-one - r.kerf - two/2)
	}
	return at, n
}

// beside gives the place of a group's second board.
func (r *rower) beside(g group, s int) int {
	return s + r.kind.pieces[g.one].across + r.kerf
}

// after gives the best that may stand behind piece i at x from z mm on, and
// which spots it takes; the second piece is -1 for one board.
func (r *rower) after(i, x int, z float64) (float64, [2]spot) {
	top, pick := 0.0, [2]spot{{piece: -1}, {piece: -1}}
	for _, g := range r.kind.groups[i] {
		at, n := r.places(i, x, g)
		for _, s := range at[:n] {
			v, _ := r.lane(g.one, s, z)
			if v == 0 {
				continue
			}
			two := spot{piece: -1}
			if g.two >= 0 {
				two = spot{g.two, r.beside(g, s)}
				w, _ := r.lane(two.piece, two.x, z)
				if w == 0 {
					continue
				}
				v += w
			}
			if v > top*(1+1e-12) {
				top, pick = v, [2]spot{{g.one, s}, two}
			}
		}
	}
	return top, pick
}

// most bounds the value of a lane with piece i at x. What stands behind a board
// is worth no more for a metre, and reaches no farther than the narrowest piece would.
func (r *rower) most(i, x int) float64 {
	p := &r.kind.pieces[i]
	last := r.lengthAt(x + p.across)
	if last == r.lengthMM || p.follow == 0 {
		return p.value * last
	}
	far := x + p.slim // for a lane beside the pith
	if x < 0 {
		far = max(far, (p.slim+1)/2)
	}
	return p.value*last + p.follow*(r.lengthAt(far)-last)
}

// fill appends the boards of the lane with piece i at x from z mm on.
func (r *rower) fill(cells []cell, i, x int, z float64, mirror bool) []cell {
	p := r.kind.pieces[i]
	x, flipped := turned(x, p.across)
	mirror = mirror != flipped
	_, e := r.lane(i, x, z)
	left := x
	if mirror {
		left = -x - p.across
	}
	cells = append(cells, cell{piece: p, at: float64(left), from: z, length: e.at - z})
	if x+p.across <= r.full || len(r.kind.groups[i]) == 0 {
		return cells
	}
	_, pick := r.after(i, x, e.at)
	for _, s := range pick {
		if s.piece >= 0 {
			cells = r.fill(cells, s.piece, s.x, e.at, mirror)
		}
	}
	return cells
}
