package sawing

import (
	"math"
	"slices"
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
		if i > 0 && rapid.Bool().Draw(t, "half") { // two of it lie abreast behind the first
			b.WidthMM = math.Max(6, 2*math.Floor((in.Boards[0].WidthMM-in.KerfMM)/4))
		}
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
			cells := s.row.lay(&s.kinds[k], out, crossing)
			for i, c := range cells {
				value += c.piece.value * c.length
				if c.from > 0 {
					behind++
					require.True(t, slices.ContainsFunc(cells, func(o cell) bool {
						return math.Abs(o.from+o.length-c.from) < 1e-6 && o.at <= c.at && c.at+float64(c.piece.across) <= o.at+float64(o.piece.across)
					}), "it stands behind a board that is as wide")
				}
				for _, o := range cells[:i] {
					if c.from < o.from+o.length-1e-6 && o.from < c.from+c.length-1e-6 {
						require.GreaterOrEqual(t, c.at, o.at+float64(o.piece.across+s.kerf), "a kerf between boards abreast")
					}
				}
			}
			require.InDelta(t, s.value(k, out, crossing), value, 1e-9*(1+value), "what is drawn is worth what was found")
		}
	})
	if !testing.Short() { // chance draws few of them in a fifth of the cases
		require.Greater(t, behind, 10, "boards one behind the other came up")
	}
}

// drawAbreast draws one row of a log, and two narrow sizes of which two may
// lie abreast behind a wide one that only the butt holds.
func drawAbreast(t *rapid.T) (in PatternIn, y float64) {
	number := func(low, high int, name string) float64 { return float64(rapid.IntRange(low, high).Draw(t, name)) }
	in = PatternIn{SmallEndMM: 2 * number(25, 40, "small"), LengthMM: 100, KerfMM: 2 * number(0, 2, "kerf")}
	in.LargeEndMM = in.SmallEndMM + 2*number(4, 15, "taper")
	y = number(0, 15, "y")
	chord := func(d float64) float64 { return 2 * math.Sqrt(d*d/4-(y+6)*(y+6)) }
	wide := 2 * math.Floor((chord(in.SmallEndMM)+(chord(in.LargeEndMM)-chord(in.SmallEndMM))*rapid.Float64Range(0.1, 0.9).Draw(t, "wide"))/2)
	one := 2 * number(3, int(wide/2)-4, "one")
	two := max(6, 2*math.Floor((wide-one-in.KerfMM)/2)-2*number(0, 3, "less"))
	for i, w := range []float64{wide, one, two} {
		in.Boards = append(in.Boards, BoardIn{ID: string(rune('a' + i)), WidthMM: w, ThicknessMM: 6, Value: w * number(6, 8, "value"), MinLengthMM: ptr(5 * number(1, 6, "least"))})
	}
	in.Boards[0].Value = wide * 8.5
	return in, y
}

func TestTwoAbreastAgainstEveryPlace(t *testing.T) {
	t.Parallel()
	abreast := 0
	rapid.Check(t, func(t *rapid.T) {
		in, y := drawAbreast(t)
		s := newStack(in)
		k := slices.IndexFunc(s.kinds, func(k kind) bool { return k.trueHigh == 6 })
		want := (&tried{in: in, zStep: 5}).row(y, 6)
		require.GreaterOrEqual(t, s.value(k, s.row.up(y+6), false), want*(1-1e-9))
		if want == 0 {
			return
		}
		at := map[float64]int{}
		for _, c := range s.row.lay(&s.kinds[k], s.row.up(y+6), false) {
			at[c.from]++
			if c.from > 0 && at[c.from] == 2 {
				abreast++
			}
		}
	})
	if !testing.Short() {
		require.Greater(t, abreast, 10, "two abreast came up")
	}
}

// Whole logs, with lengths on a coarse grid.
func TestLogAgainstEveryPlace(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawTaper(t)
		require.GreaterOrEqual(t, pattern(t, in).Value, (&tried{in: in, zStep: 10}).log()*(1-1e-9))
	})
}

// The kerf leaves room for one row only, 40 mm high and over the pith; every number
// is plane geometry. The cone loses 30 mm of radius over 2000 mm.
func TestOneBehindTheOther(t *testing.T) {
	t.Parallel()
	corner := math.Hypot(70, 20)
	cone := 2000 * (90 - corner) / 30 // 1146.6: as long as the wide one can be
	for _, tt := range []struct {
		name         string
		narrow       float64 // least length of the narrow one
		wide, behind float64 // lengths
	}{
		{"room for the narrow one behind", 600, cone, 2000 - cone},
		{"the wide one gives way to the least length", 1000, 1000, 1000},
		{"to give way would cost more than it brings", 1800, 0, 2000},
	} {
		in := PatternIn{SmallEndMM: 120, LargeEndMM: 180, LengthMM: 2000, KerfMM: 50, Boards: []BoardIn{
			{ID: "wide", WidthMM: 140, ThicknessMM: 40, Value: 7, MinLengthMM: ptr(400)},
			{ID: "narrow", WidthMM: 100, ThicknessMM: 40, Value: 5, MinLengthMM: ptr(tt.narrow)}}}
		out := pattern(t, in)
		require.InDelta(t, (7*tt.wide+5*tt.behind)/1000, out.Value, 1e-5, tt.name)
		last := out.Layout[len(out.Layout)-1]
		require.Equal(t, "narrow", last.ID, tt.name)
		require.InDelta(t, tt.wide, last.FromButtMM, 0.001, tt.name)
		require.InDelta(t, tt.behind, last.LengthMM, 0.001, tt.name)
		require.Len(t, out.SawHeightsMM, 2, tt.name)
		// two cuts of the mill 50 high through the middle, and a rip on both sides of each board
		chord := 2 * math.Sqrt(75*75-45*45)
		require.InDelta(t, 50*(2*chord*2000+2*40*(tt.wide+tt.behind))/1e9/out.LogVolumeM3*100, out.SawdustPct, 0.01, tt.name)
	}
}

// Two abreast behind one in the row over the pith, whose corners show by plane
// geometry how long each is.
func TestTwoAbreastBehindOne(t *testing.T) {
	t.Parallel()
	s := newStack(PatternIn{SmallEndMM: 120, LargeEndMM: 180, LengthMM: 2000, KerfMM: 6, Boards: []BoardIn{
		{ID: "wide", WidthMM: 140, ThicknessMM: 60, Value: 8, MinLengthMM: ptr(400)},
		{ID: "half", WidthMM: 47, ThicknessMM: 60, Value: 3.5, MinLengthMM: ptr(400)}}})
	k := slices.IndexFunc(s.kinds, func(k kind) bool { return k.trueHigh == 60 })
	cone := 2000 * (90 - math.Hypot(70, 30)) / 30
	require.InDelta(t, (8*cone+2*3.5*(2000-cone))/1000, s.value(k, s.row.up(30), false), 1e-5) // hypot(50, 30) = 58.3: full length
	cells := s.row.lay(&s.kinds[k], s.row.up(30), false)
	require.Len(t, cells, 3)
	require.InDelta(t, 3, s.row.mm(cells[2].at), 1e-9, "half a kerf from the pith")
}

// A width over the pith is tried with either edge and with its middle on a whole step.
func TestOffsets(t *testing.T) {
	t.Parallel()
	require.Equal(t, []int{13, 15, 20}, offsets(25, 10)) // centred; left edge at 10; right edge at 20
	require.Equal(t, []int{10}, offsets(20, 10))
	require.Equal(t, []int{17, 20, 24, 27, 30}, offsets(34, 10)) // centred; right 20; left 10; middle at 10; right 30
}

// Full-length boards are placed more finely than shorter ones: a short size of
// little value must not cost the finer places.
func TestShortSizeKeepsFinePlaces(t *testing.T) {
	t.Parallel()
	in := PatternIn{SmallEndMM: 74, LargeEndMM: 76, LengthMM: 400, KerfMM: 6, HeartBoxMM: 2, SweepMM: 6, Boards: []BoardIn{
		{ID: "a", WidthMM: 12, ThicknessMM: 6, Value: 1}, {ID: "b", WidthMM: 14, ThicknessMM: 20, Value: 1},
		{ID: "c", WidthMM: 32, ThicknessMM: 10, Value: 54}, {ID: "d", WidthMM: 12, ThicknessMM: 18, Value: 15}}}
	was := pattern(t, in).Value
	in.Boards = append(in.Boards, BoardIn{ID: "e", WidthMM: 18, ThicknessMM: 6, Value: 3, MinLengthMM: ptr(309)})
	require.GreaterOrEqual(t, pattern(t, in).Value, was-1e-9)
}

// Two boards side by side need three rips, 3 mm each; one behind another is not ripped twice.
func TestSawdustOfRips(t *testing.T) {
	t.Parallel()
	in := PatternIn{SmallEndMM: 400, LargeEndMM: 400, LengthMM: 2000, KerfMM: 3}
	layout := []Laid{{XMM: -103, WidthMM: 100, ThicknessMM: 30, LengthMM: 2000}, {XMM: 0, WidthMM: 100, ThicknessMM: 30, LengthMM: 1500},
		{XMM: 0, WidthMM: 80, ThicknessMM: 30, LengthMM: 500, FromButtMM: 1500}}
	require.InDelta(t, 3*3*30*2000/1e9, in.sawdustM3(PatternOut{Layout: layout}), 1e-15)
}

// Of 40 and 20 abreast with a cut of 6: the whole over the pith, the cut over it,
// either board over it; and pushed no farther than the lane's edges.
func TestPlacesOverThePith(t *testing.T) {
	t.Parallel()
	r := &rower{kerf: 6, kind: &kind{pieces: []piece{{across: 120}, {across: 40}, {across: 20}}}}
	for _, tt := range []struct {
		x    int
		want []int
	}{
		{-60, []int{-33, -43, -20, -56}},
		{-30, []int{-30, -20, -30}},
		{10, []int{10}},
	} {
		at, n := r.places(0, tt.x, group{1, 2, 66})
		require.Equal(t, tt.want, at[:n])
	}
}
