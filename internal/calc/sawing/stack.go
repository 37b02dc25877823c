package sawing

import (
	"context"
	"math"
	"sort"
)

// stack lays rows upon each other. Places are ticks from the pith; above and
// below it are alike.
type stack struct {
	in    PatternIn
	row   *rower
	kinds []kind
	kerf  int
	heart int // half the side of the box
	size  int // places from the pith to the bark at the large end
	step  int // how finely the innermost row is placed

	known [2][][]float64 // value of a row by kind and far edge; NaN: not yet; [1] crosses the box
	hope  [2][][]float64 // the same or more, for every far edge
	above []float64      // never less than the best of all rows from a place outwards
	exact []float64      // the best of all rows from a place outwards; NaN: not yet
	pick  []int          // the kind that gives exact, or stop or skip
}

const (
	stop = -1 // no further row
	skip = -2 // leave out what is beside the heart box

	coarse = 6 // steps: a row's value is first known at far edges so far apart
)

func newStack(in PatternIn) *stack {
	c := in.cone()
	s := &stack{in: in, kerf: c.up(in.KerfMM), heart: c.up(in.HeartBoxMM / 2), size: int(c.large) + 1}
	s.kinds = in.kinds(c, s.kerf)
	s.row = newRower(c, s.kerf, s.heart)
	s.step = 1
	for _, k := range s.kinds {
		if k.tapers {
			s.step = c.step // ten times as many places would gain a few parts in 10 000
		}
	}
	s.row.step = s.step
	for _, k := range s.kinds {
		for i := range k.pieces {
			k.pieces[i].rights = offsets(k.pieces[i].across, s.step)
		}
	}
	for x := range s.known {
		for range s.kinds {
			s.known[x] = append(s.known[x], unknown(s.size+1))
		}
	}
	s.exact, s.pick = unknown(s.size+1), make([]int, s.size+1)
	s.dream()
	return s
}

func unknown(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}

// value gives the value of the best row of a kind with a far edge.
func (s *stack) value(k, out int, crossing bool) float64 {
	x := 0
	if crossing {
		x = 1
	}
	v := s.known[x][k][out]
	if math.IsNaN(v) {
		v, _ = s.row.best(&s.kinds[k], out, crossing)
		s.known[x][k][out] = v
	}
	return v
}

// dream fills hope and above. A row is worth no more when it lies farther out,
// so what is known at one far edge holds for all beyond it.
func (s *stack) dream() {
	for x := range s.hope {
		for k, kind := range s.kinds {
			hope := make([]float64, s.size+1)
			last := math.Inf(1)
			for out := (kind.high + 1) / 2; out <= s.size; out++ {
				cheap := x == 0 && !kind.tapers
				if (x == 0 || s.heart > 0) && (cheap || math.IsInf(last, 1) || out%(coarse*s.row.step) == 0) {
					last = s.value(k, out, x == 1)
				}
				hope[out] = last
			}
			s.hope[x] = append(s.hope[x], hope)
		}
	}
	s.above = make([]float64, s.size+1)
	for at := s.size; at >= 0; at-- {
		if at < s.heart {
			s.above[at] = s.upTo(s.heart)
		}
		for k := range s.kinds {
			s.above[at] = math.Max(s.above[at], s.hoped(k, at))
		}
	}
}

func (s *stack) upTo(at int) float64 {
	if at > s.size {
		return 0
	}
	return s.above[at]
}

// hoped bounds a row of a kind at a place with all that may follow.
func (s *stack) hoped(k, at int) float64 {
	out := at + s.kinds[k].high
	if out > s.size {
		return 0
	}
	x := 0
	if at < s.heart {
		x = 1
	}
	v := s.hope[x][k][out]
	if v == 0 {
		return 0
	}
	return v + s.upTo(out+s.kerf)
}

// from gives the best value of rows from a place outwards. Kinds are tried in
// the order of hope, until none left can do better.
func (s *stack) from(at int) float64 {
	if at > s.size {
		return 0
	}
	if v := s.exact[at]; !math.IsNaN(v) {
		return v
	}
	top, pick := 0.0, stop
	if at < s.heart {
		if v := s.from(s.heart); v > 0 {
			top, pick = v, skip
		}
	}
	type chance struct {
		kind int
		hope float64
	}
	var list []chance
	for k := range s.kinds {
		if h := s.hoped(k, at); h > top {
			list = append(list, chance{k, h})
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].hope > list[j].hope })
	for _, c := range list {
		if c.hope <= top {
			break
		}
		out := at + s.kinds[c.kind].high
		row := s.value(c.kind, out, at < s.heart)
		if row == 0 || row+s.upTo(out+s.kerf) <= top {
			continue
		}
		if v := row + s.from(out+s.kerf); v > top*(1+1e-12) {
			top, pick = v, c.kind
		}
	}
	s.exact[at], s.pick[at] = top, pick
	return top
}

// middle is one way to begin a stack: a row over the pith, or a gap.
type middle struct {
	kind  int // -1: a gap
	below int // how far the row reaches below the pith; the next row's edge for a gap
	above int // the same above
	hope  float64
}

// middles lists every way to begin that is not the mirror of another.
func (s *stack) middles() []middle {
	var list []middle
	gap := func(above int) {
		m := middle{kind: -1, below: s.kerf - above, above: above}
		m.hope = s.upTo(m.below) + s.upTo(m.above)
		list = append(list, m)
	}
	gap((s.kerf + 1) / 2)
	for u := 0; 2*u <= s.kerf; u += s.step {
		gap(u)
	}
	if s.kerf%s.step != 0 { // the other edge on a whole step
		for u := s.kerf % s.step; 2*u <= s.kerf; u += s.step {
			gap(u)
		}
	}
	for k, kind := range s.kinds {
		over := func(above int) {
			m := middle{kind: k, below: kind.high - above, above: above}
			out := max(m.above, m.below)
			if out > s.size {
				return
			}
			x := 0
			if s.heart > 0 {
				x = 1
			}
			v := s.hope[x][k][out]
			if v == 0 {
				return
			}
			m.hope = v + s.upTo(m.below+s.kerf) + s.upTo(m.above+s.kerf)
			list = append(list, m)
		}
		for _, above := range offsets(kind.high, s.step) {
			over(above)
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].hope > list[j].hope })
	return list
}

// best gives the layout of the best stack.
func (s *stack) best(ctx context.Context) ([]Laid, error) {
	top := 0.0
	var from *middle
	for _, m := range s.middles() {
		if m.hope <= top {
			break
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		v := 0.0
		if m.kind < 0 {
			v = s.from(m.below) + s.from(m.above)
		} else {
			v = s.value(m.kind, max(m.above, m.below), s.heart > 0)
			if v == 0 || v+s.upTo(m.below+s.kerf)+s.upTo(m.above+s.kerf) <= top {
				continue
			}
			v += s.from(m.below+s.kerf) + s.from(m.above+s.kerf)
		}
		if v > top*(1+1e-12) {
			top, from = v, &m
		}
	}
	if from == nil {
		return []Laid{}, nil
	}
	return s.lay(*from), nil
}

// lay draws the stack that best found, from the top row down.
func (s *stack) lay(m middle) []Laid {
	down, up := m.below, m.above
	if m.kind >= 0 {
		down, up = down+s.kerf, up+s.kerf
	}
	out := []Laid{}
	rows := s.rows(up)
	for i := len(rows) - 1; i >= 0; i-- {
		out = s.draw(out, rows[i].kind, rows[i].at+s.kinds[rows[i].kind].high, rows[i].at < s.heart, rows[i].at)
	}
	if m.kind >= 0 {
		out = s.draw(out, m.kind, max(m.above, m.below), s.heart > 0, -m.below)
	}
	for _, r := range s.rows(down) {
		far := r.at + s.kinds[r.kind].high
		out = s.draw(out, r.kind, far, r.at < s.heart, -far)
	}
	return out
}

type placed struct{ kind, at int }

func (s *stack) rows(at int) []placed {
	var out []placed
	for at <= s.size && s.from(at) > 0 {
		k := s.pick[at]
		if k == skip {
			at = s.heart
			continue
		}
		out = append(out, placed{k, at})
		at += s.kinds[k].high + s.kerf
	}
	return out
}

// draw adds the boards of a row whose lower edge is at bottom.
func (s *stack) draw(out []Laid, k, far int, crossing bool, bottom int) []Laid {
	for _, c := range s.row.lay(&s.kinds[k], far, crossing) {
		b := s.in.Boards[c.piece.board]
		across, high := b.WidthMM, b.ThicknessMM
		if high != s.kinds[k].trueHigh {
			across, high = high, across
		}
		out = append(out, Laid{ID: b.ID, XMM: s.row.mm(c.at), YMM: s.row.mm(float64(bottom)),
			WidthMM: across, ThicknessMM: high, FromButtMM: tidy(c.from), LengthMM: tidy(tidy(c.from+c.length) - tidy(c.from))})
	}
	return out
}
