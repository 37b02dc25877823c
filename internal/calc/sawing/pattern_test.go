package sawing

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/printed"
)

func ptr(v float64) *float64 { return &v }

func pattern(t require.TestingT, in PatternIn) PatternOut {
	out, err := Pattern(context.Background(), in)
	require.NoError(t, err)
	requirePattern(t, in, out)
	return out
}

// requirePattern is the tests' own checker, written from the contract: corners
// inside the cone at the end where the board is nearest to the bark, out of the
// heart box, a kerf from each other, and figures that add up.
func requirePattern(t require.TestingT, in PatternIn, out PatternOut) {
	const eps = 1e-6
	value, volume, count := 0.0, 0.0, map[string]int{}
	for i, l := range out.Layout {
		var b BoardIn
		for _, x := range in.Boards {
			if x.ID == l.ID {
				b = x
			}
		}
		require.Equal(t, l.ID, b.ID)
		require.InDelta(t, b.WidthMM*b.ThicknessMM, l.WidthMM*l.ThicknessMM, eps)
		require.True(t, l.WidthMM == b.WidthMM || l.WidthMM == b.ThicknessMM)
		least := in.LengthMM
		if b.MinLengthMM != nil {
			least = *b.MinLengthMM
		}
		require.GreaterOrEqual(t, l.LengthMM, least-eps)
		require.GreaterOrEqual(t, l.FromButtMM, 0.0)
		require.LessOrEqual(t, l.FromButtMM+l.LengthMM, in.LengthMM+eps)
		share := (l.FromButtMM + l.LengthMM) / in.LengthMM
		radius := (in.LargeEndMM*(1-share) + in.SmallEndMM*share - in.SweepMM) / 2
		for _, x := range []float64{l.XMM, l.XMM + l.WidthMM} {
			for _, y := range []float64{l.YMM, l.YMM + l.ThicknessMM} {
				require.LessOrEqual(t, x*x+y*y, radius*radius+1e-3, "board %d has wane", i)
			}
		}
		h := in.HeartBoxMM / 2
		require.True(t, h == 0 || l.XMM >= h-eps || l.XMM+l.WidthMM <= -h+eps || l.YMM >= h-eps || l.YMM+l.ThicknessMM <= -h+eps, "board %d is in the heart box", i)
		for _, o := range out.Layout[i+1:] {
			k := in.KerfMM - eps
			require.True(t, l.FromButtMM+l.LengthMM <= o.FromButtMM+eps || o.FromButtMM+o.LengthMM <= l.FromButtMM+eps || l.XMM+l.WidthMM+k <= o.XMM || o.XMM+o.WidthMM+k <= l.XMM ||
				l.YMM+l.ThicknessMM+k <= o.YMM || o.YMM+o.ThicknessMM+k <= l.YMM, "no kerf beside board %d", i)
		}
		value += b.Value * l.LengthMM / 1000
		volume += l.WidthMM * l.ThicknessMM * l.LengthMM / 1e9
		count[l.ID]++
	}
	require.InDelta(t, value, out.Value, 1e-6*(1+value))
	require.InDelta(t, volume, out.SawnVolumeM3, 1e-9)
	require.InDelta(t, 100*volume/out.LogVolumeM3, out.RecoveryPct, 1e-6)
	require.Len(t, out.Boards, len(in.Boards))
	for _, c := range out.Boards {
		require.Equal(t, count[c.ID], c.Count)
	}
	for i, h := range out.SawHeightsMM {
		require.True(t, i == 0 || h < out.SawHeightsMM[i-1], "cuts go down")
	}
	for _, l := range out.Layout {
		top, bottom := false, false
		for _, h := range out.SawHeightsMM {
			top = top || math.Abs(h-l.YMM-l.ThicknessMM) < eps
			bottom = bottom || math.Abs(h+in.KerfMM-l.YMM) < 0.11 // a kerf and a size are taken up to a tick
		}
		require.True(t, top && bottom, "board at %g is cut on both faces", l.YMM)
	}
}

// slowBest tries every place of rows and of boards in them on a grid, gaps of any
// width included, from one side of the log to the other. It shares no idea with
// the search but the rows themselves.
func slowBest(in PatternIn, grid float64) float64 {
	cells := int(in.LargeEndMM/grid) + 2
	at := func(i int) float64 { return (float64(i) - float64(cells/2)) * grid }
	steps := func(mm float64) int { return int(math.Round(mm / grid)) }
	row := func(y, high float64) float64 {
		best := make([]float64, cells+1)
		for i := cells - 1; i >= 0; i-- {
			best[i] = best[i+1]
			for _, b := range in.Boards {
				for turn, side := range [][2]float64{{b.WidthMM, b.ThicknessMM}, {b.ThicknessMM, b.WidthMM}} {
					if side[1] != high || (turn == 1 && b.WidthMM == b.ThicknessMM) {
						continue
					}
					x0, x1 := at(i), at(i)+side[0]
					h := in.HeartBoxMM / 2
					if h > 0 && x0 < h-1e-9 && x1 > -h+1e-9 && y < h-1e-9 && y+high > -h+1e-9 {
						continue
					}
					reach := math.Hypot(math.Max(math.Abs(x0), math.Abs(x1)), math.Max(math.Abs(y), math.Abs(y+high))) + in.SweepMM/2
					length := in.LengthMM
					if reach > in.SmallEndMM/2+1e-9 {
						length = in.LengthMM * (in.LargeEndMM/2 - reach) / (in.LargeEndMM - in.SmallEndMM) * 2
					}
					least := in.LengthMM
					if b.MinLengthMM != nil {
						least = *b.MinLengthMM
					}
					if length < least || math.IsNaN(length) {
						continue
					}
					length = math.Floor(length*1000+1e-6) / 1000
					v := b.Value * length / 1000
					if next := i + steps(side[0]+in.KerfMM); next <= cells {
						v += best[next]
					}
					best[i] = math.Max(best[i], v)
				}
			}
		}
		return best[0]
	}
	heights := map[float64]bool{}
	for _, b := range in.Boards {
		heights[b.WidthMM], heights[b.ThicknessMM] = true, true
	}
	best := make([]float64, cells+1)
	for i := cells - 1; i >= 0; i-- {
		best[i] = best[i+1]
		for h := range heights {
			if v := row(at(i), h); v > 0 {
				if next := i + steps(h+in.KerfMM); next <= cells {
					v += best[next]
				}
				best[i] = math.Max(best[i], v)
			}
		}
	}
	return best[0]
}

// drawLog draws small logs with even sizes, so that what is centred lies on the
// slow search's grid too.
func drawLog(t *rapid.T, short bool) PatternIn {
	even := func(low, high int, name string) float64 { return 2 * float64(rapid.IntRange(low, high).Draw(t, name)) }
	in := PatternIn{SmallEndMM: even(20, 45, "small"), LengthMM: even(200, 2000, "length"), KerfMM: even(0, 3, "kerf")}
	in.LargeEndMM = in.SmallEndMM + even(0, 15, "taper")
	if rapid.Bool().Draw(t, "heart") {
		in.HeartBoxMM = even(1, 12, "box")
	}
	if rapid.Bool().Draw(t, "swept") {
		in.SweepMM = even(1, 5, "sweep")
	}
	for i := range rapid.IntRange(1, 4).Draw(t, "sizes") {
		b := BoardIn{ID: strconv.Itoa(i), WidthMM: even(6, 24, "w"), ThicknessMM: even(3, 12, "t"), Value: float64(rapid.IntRange(1, 60).Draw(t, "value"))}
		if short && rapid.Bool().Draw(t, "short") {
			b.MinLengthMM = ptr(math.Ceil(in.LengthMM * rapid.Float64Range(0.1, 1).Draw(t, "least")))
		}
		in.Boards = append(in.Boards, b)
	}
	return in
}

func TestPatternAgainstEveryPlace(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawLog(t, true)
		tapers := false
		for _, b := range in.Boards {
			tapers = tapers || (b.MinLengthMM != nil && *b.MinLengthMM < in.LengthMM)
		}
		got := pattern(t, in).Value
		want := slowBest(in, 1)
		if tapers && in.LargeEndMM > in.SmallEndMM {
			require.GreaterOrEqual(t, got, want*(1-1e-9))
			if newStack(in).step > 1 && len(in.Boards) == 1 { // nothing narrower to stand behind
				out, err := in.best(context.Background(), in) // without the finer places of full lengths
				require.NoError(t, err)
				require.InDelta(t, want, out.Value, 1e-6*(1+want))
			}
			return
		}
		require.GreaterOrEqual(t, got, want*(1-1e-9))
	})
}

// The search passes over rows by bounds. With bounds that pass over nothing it
// must find the same value, on larger logs with odd sizes as well.
func TestBoundsPassOverNothingGood(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		tenth := func(low, high int, name string) float64 { return float64(rapid.IntRange(low, high).Draw(t, name)) / 10 }
		in := PatternIn{SmallEndMM: tenth(1000, 2500, "small"), LengthMM: 3000, KerfMM: tenth(10, 60, "kerf"), HeartBoxMM: tenth(0, 600, "box")}
		in.LargeEndMM = in.SmallEndMM + tenth(0, 400, "taper")
		for i := range rapid.IntRange(1, 4).Draw(t, "sizes") {
			b := BoardIn{ID: strconv.Itoa(i), WidthMM: tenth(300, 1500, "w"), ThicknessMM: tenth(150, 500, "t"), Value: tenth(1, 100, "value")}
			if rapid.Bool().Draw(t, "short") {
				b.MinLengthMM = ptr(float64(rapid.IntRange(300, 3000).Draw(t, "least")))
			}
			in.Boards = append(in.Boards, b)
		}
		out, err := in.best(context.Background(), in) // Pattern also tries full lengths alone
		require.NoError(t, err)
		got := out.Value
		s := newStack(in)
		for k := range s.kinds {
			for i := range s.kinds[k].pieces {
				s.kinds[k].pieces[i].follow = 1e12
			}
			for x := range s.known {
				s.known[x][k] = unknown(s.size + 1)
			}
		}
		for i := range s.above {
			s.above[i] = 1e12
		}
		for x := range s.hope {
			for _, hope := range s.hope[x] {
				for i := range hope {
					hope[i] = 1e12
				}
			}
		}
		layout, err := s.best(context.Background())
		require.NoError(t, err)
		require.InDelta(t, in.report(layout).Value, got, 1e-9*(1+got))
	})
}

// Full-length rows are placed more finely than any grid. A pattern moved onto a
// grid of half a millimetre strays by less than 0.36 mm, so that it fits a log 1 mm
// thicker: the slow search on both logs has the answer between its own.
func TestFullLengthPatternBetweenTwoGrids(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawLog(t, false)
		in.SmallEndMM = min(in.SmallEndMM, 64)
		in.LargeEndMM = in.SmallEndMM
		got := pattern(t, in).Value
		require.GreaterOrEqual(t, got, slowBest(in, 0.5)-1e-6)
		in.SmallEndMM, in.LargeEndMM = in.SmallEndMM+1, in.LargeEndMM+1
		require.LessOrEqual(t, got, slowBest(in, 0.5)+1e-6)
	})
}

func TestPatternLaws(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawLog(t, true)
		if rapid.Bool().Draw(t, "lanes") {
			in = drawTaper(t)
		}
		was := pattern(t, in).Value
		never := func(why string, change func(*PatternIn), sign float64) {
			other := in
			change(&other)
			require.LessOrEqual(t, sign*pattern(t, other).Value, sign*was+1e-6*(1+was), why)
		}
		never("a thicker kerf gives more", func(p *PatternIn) { p.KerfMM += 1.7 }, 1)
		never("a larger log gives less", func(p *PatternIn) { p.SmallEndMM += 3; p.LargeEndMM += 3 }, -1)
		never("another size gives less", func(p *PatternIn) {
			more := BoardIn{ID: "more", WidthMM: float64(rapid.IntRange(6, 40).Draw(t, "w")), ThicknessMM: in.Boards[0].ThicknessMM, Value: float64(rapid.IntRange(0, 60).Draw(t, "value"))}
			if rapid.Bool().Draw(t, "short") {
				more.MinLengthMM = ptr(math.Ceil(in.LengthMM * rapid.Float64Range(0.05, 1).Draw(t, "least")))
			}
			p.Boards = append(append([]BoardIn{}, in.Boards...), more)
		}, -1)
		never("a shorter least length gives less", func(p *PatternIn) {
			p.Boards = append([]BoardIn{}, in.Boards...)
			p.Boards[0].MinLengthMM = ptr(math.Ceil(in.LengthMM / 20))
		}, -1)
		never("a larger heart box gives more", func(p *PatternIn) { p.HeartBoxMM += 4 }, 1)
		never("more sweep gives more", func(p *PatternIn) { p.SweepMM += 2 }, 1)
		never("a mill limit changes the pattern", func(p *PatternIn) { p.MillLimitMM = ptr(20) }, 1)
		require.Equal(t, pattern(t, in), pattern(t, in), "the same again")
	})
}

// Plane geometry: the largest square in a circle has the side D/sqrt 2; the
// rectangle b x d of the strongest beam, greatest b d^2, has b = D/sqrt 3 and d =
// D sqrt(2/3) (A. Parent 1708; any calculus text).
func TestShapesInACircle(t *testing.T) {
	t.Parallel()
	log := PatternIn{SmallEndMM: 300, LargeEndMM: 300, LengthMM: 1000, KerfMM: 3}
	for _, tt := range []struct {
		side  float64
		count int
	}{{212.1, 1}, {212.2, 0}} { // 300/sqrt 2 = 212.13
		in := log
		in.Boards = []BoardIn{{ID: "square", WidthMM: tt.side, ThicknessMM: tt.side, Value: 1}}
		require.Equal(t, tt.count, pattern(t, in).Boards[0].Count, "side %g", tt.side)
	}
	in := log
	for b := 61.2; b < 290; b += 4 {
		d := math.Floor(math.Sqrt(300*300-b*b)*10) / 10
		in.Boards = append(in.Boards, BoardIn{ID: fmt.Sprintf("%.1f", b), WidthMM: b, ThicknessMM: d, Value: b * d * d / 1e6})
	}
	out := pattern(t, in)
	require.Len(t, out.Layout, 1)
	require.Equal(t, "173.2", out.Layout[0].ID) // 300/sqrt 3 = 173.205
}

// The International 1/4-inch rule counts inch boards sawn with a 1/4 inch kerf
// out of logs that taper 1/2 inch in 4 feet. It is a formula fitted to diagrams
// and takes off a part of the diameter for slabs, edgings and crook that a
// perfectly round and straight log does not lose; it also takes off 1/16 inch of
// shrinkage for each board. Our pattern therefore gives more: most in small logs,
// where whole boards hang on a few millimetres and the table is rounded to 5. Two
// hundredths of the ratio are narrower boards behind those that taper cuts short.
func TestInternationalQuarterTable(t *testing.T) {
	t.Parallel()
	all := printed.Rows(t, "international_quarter_table.csv")
	const inch, foot = 25.4, 304.8
	sum, n := 0.0, 0
	for k, row := range all {
		if testing.Short() && k%5 != 0 {
			continue
		}
		var v [3]float64
		for i := range v {
			v[i] = printed.Number(t, row[i])
		}
		diameter, length, table := v[0], v[1], v[2]
		in := PatternIn{SmallEndMM: diameter * inch, LargeEndMM: (diameter + length/8) * inch, LengthMM: length * foot, KerfMM: inch / 4}
		for _, w := range []float64{3, 4, 6, 8, 12} { // board feet for each metre; boards from 4 feet
			in.Boards = append(in.Boards, BoardIn{ID: fmt.Sprint(w), WidthMM: w * inch, ThicknessMM: inch, Value: w / 12 / foot * 1000, MinLengthMM: ptr(4 * foot)})
		}
		ratio := pattern(t, in).Value / table
		low, high := 1.0, 1.15
		if diameter < 15 {
			high = 1.7
		}
		require.True(t, ratio > low && ratio < high, "%g in. x %g ft: ratio %.3f", diameter, length, ratio)
		if diameter >= 15 {
			sum += ratio
			n++
		}
	}
	if testing.Short() {
		return // the mean is of all rows
	}
	require.Equal(t, 33, n)
	t.Logf("our inch boards over the table, mean from 15 in. up: %.3f", sum/float64(n))
	require.InDelta(t, 1.096, sum/float64(n), 0.01, "mean ratio from 15 in. up")
}

// Every expected number follows from the geometry named beside it.
func TestPatternFigures(t *testing.T) {
	t.Parallel()
	board := []BoardIn{{ID: "b", WidthMM: 100, ThicknessMM: 30, Value: 2}}
	log := PatternIn{SmallEndMM: 120, LargeEndMM: 120, LengthMM: 2000, KerfMM: 3, Boards: board}

	out := pattern(t, log)
	require.Equal(t, 2, out.Boards[0].Count) // two rows 63 high: (100/2)^2 + 31.5^2 < 60^2; three would be 96 high
	require.InDelta(t, 8, out.Value, 1e-9)   // 2 boards x 2 m x 2
	require.Equal(t, []float64{31.5, -1.5, -34.5}, out.SawHeightsMM)
	require.InDelta(t, math.Pi*0.06*0.06*2, out.LogVolumeM3, 1e-12)
	require.InDelta(t, 100, out.RecoveryPct+out.SawdustPct+out.SlabPct, 1e-9)
	require.True(t, out.FitsMill)
	require.Nil(t, out.TrimMM)
	require.Nil(t, out.TooThickMM)

	short := log
	short.LargeEndMM = 180
	short.Boards = []BoardIn{{ID: "b", WidthMM: 100, ThicknessMM: 60, Value: 2, MinLengthMM: ptr(200)}}
	got := pattern(t, short)
	require.NotEmpty(t, got.Layout)
	for _, l := range got.Layout {
		far := math.Hypot(math.Max(math.Abs(l.XMM), math.Abs(l.XMM+l.WidthMM)), math.Max(math.Abs(l.YMM), math.Abs(l.YMM+l.ThicknessMM)))
		want := math.Min(2000, 2000*(90-far)/30) // the cone loses 30 mm of radius over 2000 mm
		require.InDelta(t, want, l.LengthMM, 0.1+1e-6)
		require.Zero(t, l.FromButtMM)
	}

	mill := short
	mill.MillLimitMM = ptr(150)
	got = pattern(t, mill)
	require.False(t, got.FitsMill)
	require.InDelta(t, 1000, *got.TrimMM, 1e-9) // half the taper lies in the first metre
	require.InDelta(t, 30, *got.TooThickMM, 1e-9)
	mill.MillLimitMM = ptr(110)
	got = pattern(t, mill)
	require.False(t, got.FitsMill)
	require.Nil(t, got.TrimMM, "the small end is too large as well")
	require.InDelta(t, 70, *got.TooThickMM, 1e-9)

	heart := log
	heart.SmallEndMM, heart.LargeEndMM, heart.HeartBoxMM = 200, 200, 50
	got = pattern(t, heart)
	require.NotEmpty(t, got.Layout)
	nothing := log
	nothing.Boards = []BoardIn{{ID: "b", WidthMM: 130, ThicknessMM: 30, Value: 2}}
	raw, err := json.Marshal(pattern(t, nothing))
	require.NoError(t, err)
	require.Contains(t, string(raw), `"layout":[],"saw_heights_mm":[]`)
}

// BenchmarkPatternOfALargeLog is the figure for a page: under 50 ms.
func BenchmarkPatternOfALargeLog(b *testing.B) {
	in := PatternIn{SmallEndMM: 600, LargeEndMM: 660, LengthMM: 3600, KerfMM: 3.2}
	for _, s := range [][2]float64{{200, 50}, {150, 50}, {110, 32}, {150, 32}, {200, 25}, {100, 100}} {
		in.Boards = append(in.Boards, BoardIn{ID: fmt.Sprint(s), WidthMM: s[0], ThicknessMM: s[1], Value: s[0] * s[1] / 1e4, MinLengthMM: ptr(900)})
	}
	for b.Loop() {
		_, err := Pattern(context.Background(), in)
		require.NoError(b, err)
	}
}

// Very large logs with many odd sizes are laid on a coarser grid instead of
// keeping a page waiting; what comes out is as sound as ever.
func TestPatternOfAHugeLogEnds(t *testing.T) {
	t.Parallel()
	in := PatternIn{SmallEndMM: 1500, LargeEndMM: 1900, LengthMM: 12000, KerfMM: 2.1, HeartBoxMM: 101}
	for i := range printed.Cases(60) {
		w, h := 50.3+float64(i)*3.7, 20.1+float64(i%13)*5.3
		in.Boards = append(in.Boards, BoardIn{ID: strconv.Itoa(i), WidthMM: w, ThicknessMM: h, Value: w * h / 1000, MinLengthMM: ptr(300)})
	}
	began := time.Now()
	out := pattern(t, in)
	require.Less(t, time.Since(began), 5*time.Minute, "a second or two alone; other work and the race detector take their share")
	if !testing.Short() { // fewer sizes take a finer grid
		require.Equal(t, 2.0, out.GridMM)
	}
	require.Greater(t, out.RecoveryPct, 70.0)
}

func TestPatternBadInput(t *testing.T) {
	t.Parallel()
	good := `"length_mm":3000,"kerf_mm":3,"boards":[{"id":"a","width_mm":100,"thickness_mm":30,"value":1}]`
	for _, tt := range []struct{ name, in, pointer string }{
		{"the ends swapped", `{"small_end_mm":400,"large_end_mm":300,` + good + `}`, "/small_end_mm"},
		{"no small end", `{"large_end_mm":300,` + good + `}`, "/small_end_mm"},
		{"larger than any saw", `{"small_end_mm":1e9,"large_end_mm":1e9,` + good + `}`, "/small_end_mm"},
		{"too crooked", `{"small_end_mm":300,"large_end_mm":300,"sweep_mm":300,` + good + `}`, "/sweep_mm"},
		{"negative kerf", `{"small_end_mm":300,"large_end_mm":300,"length_mm":3000,"kerf_mm":-1,"boards":[{"id":"a","width_mm":100,"thickness_mm":30,"value":1}]}`, "/kerf_mm"},
		{"no boards", `{"small_end_mm":300,"large_end_mm":300,"length_mm":3000,"kerf_mm":3,"boards":[]}`, "/boards"},
		{"twice the same", `{"small_end_mm":300,"large_end_mm":300,"length_mm":3000,"kerf_mm":3,"boards":[{"id":"a","width_mm":100,"thickness_mm":30,"value":1},{"id":"a","width_mm":90,"thickness_mm":30,"value":1}]}`, "/boards/1/id"},
		{"a board like a hair", `{"small_end_mm":300,"large_end_mm":300,"length_mm":3000,"kerf_mm":3,"boards":[{"id":"a","width_mm":100,"thickness_mm":0.001,"value":1}]}`, "/boards/0/thickness_mm"},
		{"worth less than nothing", `{"small_end_mm":300,"large_end_mm":300,"length_mm":3000,"kerf_mm":3,"boards":[{"id":"a","width_mm":100,"thickness_mm":30,"value":-1}]}`, "/boards/0/value"},
		{"no least length", `{"small_end_mm":300,"large_end_mm":300,"length_mm":3000,"kerf_mm":3,"boards":[{"id":"a","width_mm":100,"thickness_mm":30,"value":1,"min_length_mm":0}]}`, "/boards/0/min_length_mm"},
		{"an unknown field", `{"girth_mm":1,"small_end_mm":300,"large_end_mm":300,` + good + `}`, "/girth_mm"},
	} {
		_, err := patternTopic(t).Run(context.Background(), []byte(tt.in))
		var bad *contract.Error
		require.True(t, errors.As(err, &bad), tt.name)
		require.Equal(t, tt.pointer, bad.Fields[0].Pointer, tt.name)
	}
}

func patternTopic(t require.TestingT) contract.Topic {
	for _, topic := range Topics() {
		if topic.Name == "sawing" {
			return topic
		}
	}
	require.Fail(t, "no topic sawing")
	return contract.Topic{}
}

func FuzzPattern(f *testing.F) {
	topic := patternTopic(f)
	f.Add([]byte(topic.Example))
	f.Add([]byte(`{"small_end_mm":60,"large_end_mm":70.3,"length_mm":900,"kerf_mm":2.15,"sweep_mm":3,"boards":[{"id":"a","width_mm":20.25,"thickness_mm":9.9,"value":1,"min_length_mm":100}]}`))
	f.Add([]byte(`{"small_end_mm":120,"large_end_mm":180,"length_mm":2000,"kerf_mm":3,"heart_box_mm":8,"boards":[{"id":"a","width_mm":140,"thickness_mm":20,"value":7,"min_length_mm":400},{"id":"b","width_mm":60,"thickness_mm":20,"value":3,"min_length_mm":333.3}]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var in PatternIn
		if contract.Decode(raw, &in) == nil && (in.LargeEndMM > 400 || len(in.Boards) > 6) {
			return // right or wrong does not hang on size, time does
		}
		out, err := topic.Run(context.Background(), raw)
		if err != nil {
			var bad *contract.Error
			require.True(t, errors.As(err, &bad), "only bad input may fail: %v", err)
			return
		}
		requirePattern(t, in, out.(PatternOut))
	})
}
