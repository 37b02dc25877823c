package sawing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// tried is a slow search of rows whose lanes hold boards one behind the other. It
// tries every place on a millimetre grid, gaps of any width included, and every
// length on a grid, besides as long as the cone allows; it knows nothing of where
// boards had better end. What may stand behind a board is the family of Pattern.
type tried struct {
	in    PatternIn
	zStep float64 // mm
	y, h  float64 // the row's lower edge and height, mm
	lanes map[triedAt]float64
}

type triedAt struct {
	size triedSize
	x, z float64
}

type triedSize struct{ across, value, least float64 }

func (s *tried) sizes() []triedSize {
	var out []triedSize
	for _, b := range s.in.Boards {
		least := s.in.LengthMM
		if b.MinLengthMM != nil {
			least = *b.MinLengthMM
		}
		if b.ThicknessMM == s.h {
			out = append(out, triedSize{b.WidthMM, b.Value / 1000, least})
		}
		if b.WidthMM == s.h && b.WidthMM != b.ThicknessMM {
			out = append(out, triedSize{b.ThicknessMM, b.Value / 1000, least})
		}
	}
	return out
}

// longest gives how far from the butt a width at x stays inside the log.
func (s *tried) longest(x, across float64) float64 {
	far := math.Hypot(math.Max(math.Abs(x), math.Abs(x+across)), math.Max(math.Abs(s.y), math.Abs(s.y+s.h)))
	small, large := (s.in.SmallEndMM-s.in.SweepMM)/2, (s.in.LargeEndMM-s.in.SweepMM)/2
	switch {
	case far <= small+1e-9:
		return s.in.LengthMM
	case far >= large:
		return 0
	}
	return math.Floor(s.in.LengthMM*(large-far)/(large-small)*1000+1e-6) / 1000
}

func (s *tried) lane(b triedSize, x, z float64) float64 {
	last := s.longest(x, b.across)
	if last < z+b.least-1e-9 {
		return 0
	}
	key := triedAt{b, x, z}
	if v, ok := s.lanes[key]; ok {
		return v
	}
	best := b.value*(last-z) + s.behind(b, x, last)
	if last < s.in.LengthMM { // what reaches the small end leaves nothing behind to gain
		for e := math.Ceil((z+b.least)/s.zStep) * s.zStep; e < last; e += s.zStep {
			best = math.Max(best, b.value*(e-z)+s.behind(b, x, e))
		}
	}
	s.lanes[key] = best
	return best
}

func (s *tried) behind(b triedSize, x, z float64) float64 {
	best := 0.0
	for _, one := range s.sizes() {
		if one.across >= b.across || one.value > b.value {
			continue
		}
		for at := x; at+one.across <= x+b.across; at++ {
			best = math.Max(best, s.lane(one, at, z))
		}
		for _, two := range s.sizes() {
			total := one.across + s.in.KerfMM + two.across
			if two.across >= b.across || total > b.across || one.value+two.value > b.value {
				continue
			}
			for _, at := range s.places(x, b.across-total, total, one.across, two.across) {
				v, w := s.lane(one, at, z), s.lane(two, at+one.across+s.in.KerfMM, z)
				if v > 0 && w > 0 {
					best = math.Max(best, v+w)
				}
			}
		}
	}
	return best
}

// places gives where two abreast may lie in a lane: anywhere beside the pith, but
// over it as the family says.
func (s *tried) places(x, room, total, one, two float64) []float64 {
	k, near := s.in.KerfMM, func(at float64) float64 { return math.Min(math.Max(at, x), x+room) }
	if x < 0 && x+room+total > 0 {
		return []float64{near(-total / 2), near(-one / 2), near(-one - k - two/2), near(-one - k/2)}
	}
	var out []float64
	for at := x; at <= x+room; at++ {
		out = append(out, at)
	}
	return out
}

// row gives the best value of a row, from one side of the log to the other.
func (s *tried) row(y, h float64) float64 {
	s.y, s.h, s.lanes = y, h, map[triedAt]float64{}
	half := int(s.in.LargeEndMM/2) + 1
	best := make([]float64, 2*half+2)
	box := s.in.HeartBoxMM / 2
	for i := 2 * half; i >= 0; i-- {
		best[i] = best[i+1]
		x := float64(i - half)
		for _, b := range s.sizes() {
			if box > 0 && x < box && x+b.across > -box && y < box && y+h > -box {
				continue
			}
			if v := s.lane(b, x, 0); v > 0 {
				if next := i + int(b.across+s.in.KerfMM); next < len(best) {
					v += best[next]
				}
				best[i] = math.Max(best[i], v)
			}
		}
	}
	return best[0]
}

// log gives the best value of rows upon each other.
func (s *tried) log() float64 {
	heights := map[float64]bool{}
	for _, b := range s.in.Boards {
		heights[b.WidthMM], heights[b.ThicknessMM] = true, true
	}
	half := int(s.in.LargeEndMM/2) + 1
	best := make([]float64, 2*half+2)
	for i := 2 * half; i >= 0; i-- {
		best[i] = best[i+1]
		for h := range heights {
			if v := s.row(float64(i-half), h); v > 0 {
				if next := i + int(h+s.in.KerfMM); next < len(best) {
					v += best[next]
				}
				best[i] = math.Max(best[i], v)
			}
		}
	}
	return best[0]
}

// drawTaper draws a small log of strong taper with sizes that invite a narrower board
// behind a wide one: even sizes, so that what is centred lies on the grid.
func drawTaper(t *rapid.T) PatternIn {
	number := func(low, high int, name string) float64 { return float64(rapid.IntRange(low, high).Draw(t, name)) }
	in := PatternIn{SmallEndMM: 2 * number(12, 22, "small"), LengthMM: 10 * number(10, 24, "length"), KerfMM: 2 * number(0, 2, "kerf")}
	in.LargeEndMM = in.SmallEndMM + 2*number(4, 16, "taper")
	if rapid.Bool().Draw(t, "heart") {
		in.HeartBoxMM = 2 * number(1, 6, "box")
	}
	if rapid.Bool().Draw(t, "swept") {
		in.SweepMM = 2 * number(1, 3, "sweep")
	}
	thick := 2 * number(3, 6, "t")
	for i := range rapid.IntRange(2, 4).Draw(t, "sizes") {
		b := BoardIn{ID: string(rune('a' + i)), WidthMM: 2 * number(3, 18, "w"), ThicknessMM: thick}
		b.Value = b.WidthMM + number(-3, 3, "better")
		if rapid.IntRange(0, 3).Draw(t, "short") > 0 {
			b.MinLengthMM = ptr(math.Ceil(in.LengthMM * rapid.Float64Range(0.05, 0.6).Draw(t, "least")))
		}
		in.Boards = append(in.Boards, b)
	}
	return in
}

// One row at a time, with lengths on a fine grid. The slow search may lose up to a
// step of the dearest board's value at each end.
func TestRowAgainstEveryPlace(t *testing.T) {
	t.Parallel()
	behind := 0
	rapid.Check(t, func(t *rapid.T) {
		in := drawTaper(t)
		s := newStack(in)
		slow := &tried{in: in, zStep: 2}
		for k, kind := range s.kinds {
			y := float64(rapid.IntRange(0, int(in.LargeEndMM/3)).Draw(t, "y"))
			out := s.row.up(y + kind.trueHigh)
			if out > s.size {
				continue
			}
			crossing := y < in.HeartBoxMM/2
			want := slow.row(y, kind.trueHigh)
			require.GreaterOrEqual(t, s.value(k, out, crossing), want*(1-1e-9), "row at %g, %g high", y, kind.trueHigh)
			if want == 0 {
				continue
			}
			value := 0.0
			for _, c := range s.row.lay(&s.kinds[k], out, crossing) {
				value += c.piece.value * c.length
				if c.from > 0 {
					behind++
				}
			}
			require.InDelta(t, s.value(k, out, crossing), value, 1e-9*(1+value), "what is drawn is worth what was found")
		}
	})
	require.Greater(t, behind, 10, "boards one behind the other came up")
}

// Whole logs, with lengths on a coarse grid.
func TestLogAgainstEveryPlace(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawTaper(t)
		require.GreaterOrEqual(t, pattern(t, in).Value, (&tried{in: in, zStep: 10}).log()*(1-1e-9))
	})
}
