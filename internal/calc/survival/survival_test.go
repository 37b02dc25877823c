package survival

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
)

// remissions are the 21 children on 6-mercaptopurine of Freireich and others, Blood 21
// (1963) 699-716, in weeks: the usual worked example of the method. Negative: seen until
// then. Data as printed in the description of the data set "gehan" of R's package MASS.
func remissions() (list []Life) {
	for _, w := range []float64{6, 6, 6, 7, 10, 13, 16, 22, 23, -6, -9, -10, -11, -17, -19, -20, -25, -32, -32, -34, -35} {
		list = append(list, Life{Days: math.Abs(w), Lost: w > 0})
	}
	return list
}

// Shares and standard deviations: NAG Library manual, results printed with the example of
// nag_surviv_kaplanmeier (g12aac), to their last digit. Those at risk: Kaplan and Meier's
// count by hand. Intervals: the survival table of "gehan" with conf.type = "log-log" in
// Venables and Ripley, Modern Applied Statistics with S, 4th edition (2002), section 13.1,
// from memory, to three digits.
func TestWorkedExample(t *testing.T) {
	t.Parallel()
	out, err := Survival(t.Context(), In{Lives: remissions(), AtDays: []float64{6, 5, 21.9, 40}})
	require.NoError(t, err)
	want := []struct {
		weeks             float64
		risk, lost        int
		alive, dev        string
		low, high         float64
		source, otherwise string
	}{
		{weeks: 6, risk: 21, lost: 3, alive: "0.857", dev: "0.076", low: 0.620, high: 0.952},
		{weeks: 7, risk: 17, lost: 1, alive: "0.807", dev: "0.087", low: 0.563, high: 0.923},
		{weeks: 10, risk: 15, lost: 1, alive: "0.753", dev: "0.096", low: 0.503, high: 0.889},
		{weeks: 13, risk: 12, lost: 1, alive: "0.690", dev: "0.107", low: 0.432, high: 0.849},
		{weeks: 16, risk: 11, lost: 1, alive: "0.627", dev: "0.114", low: 0.368, high: 0.805},
		{weeks: 22, risk: 7, lost: 1, alive: "0.538", dev: "0.128", low: 0.268, high: 0.747},
		{weeks: 23, risk: 6, lost: 1, alive: "0.448", dev: "0.135", low: 0.188, high: 0.680},
	}
	require.Len(t, out.Steps, len(want))
	for i, w := range want {
		p := out.Steps[i]
		require.Equal(t, []any{w.weeks, w.risk, w.lost, w.alive, w.dev}, []any{p.Days, p.AtRisk, p.Lost, three(p.Alive), three(p.Error)})
		require.InDelta(t, w.low, p.Low, 5e-4)
		require.InDelta(t, w.high, p.High, 5e-4)
	}
	require.Equal(t, []int{21, 9}, []int{out.Lives, out.Lost})
	require.Equal(t, "0.857", three(out.At[0].Alive))
	require.Equal(t, []int{18, 3}, []int{out.At[0].AtRisk, out.At[0].Lost}, "one was seen until week 6 itself and stays at risk")
	require.Equal(t, []any{1.0, 21, 0}, []any{out.At[1].Alive, out.At[1].AtRisk, out.At[1].Lost})
	require.Equal(t, "0.627", three(out.At[2].Alive))
	require.Equal(t, "0.448", three(out.At[3].Alive))
	require.Equal(t, []any{0, false, true}, []any{out.At[3].AtRisk, out.At[3].Seen, out.At[2].Seen}, "nobody was seen for 40 weeks")
}

func three(v float64) string {
	const digits = "0.000"
	r := int(math.Round(v * 1000))
	return digits[:2] + string([]byte{byte('0' + r/100%10), byte('0' + r/10%10), byte('0' + r%10)})
}

// While nothing or everything was lost the interval is the exact binomial one: 10 of 10
// alive gives 69.2 to 100 in 100. Source: Clopper and Pearson, Biometrika 26 (1934)
// 404-413: with 95 % and none of ten, 0.3085 is the upper limit, from memory; by hand
// 1 - 0.025^(1/10).
func TestNothingLostAndAllLost(t *testing.T) {
	t.Parallel()
	ten := make([]Life, 10)
	for i := range ten {
		ten[i].Days = 100
	}
	out, err := Survival(t.Context(), In{Lives: ten, AtDays: []float64{50, 101}})
	require.NoError(t, err)
	require.Empty(t, out.Steps)
	require.Equal(t, 1.0, out.At[0].Alive)
	require.InDelta(t, 0.6915, out.At[0].Low, 5e-5)
	require.Equal(t, []any{0.0, 1.0, false}, []any{out.At[1].Low, out.At[1].High, out.At[1].Seen}, "nobody was seen so long")
	for i := range ten {
		ten[i].Lost = true
	}
	out, err = Survival(t.Context(), In{Lives: ten})
	require.NoError(t, err)
	require.Equal(t, 0.0, out.Steps[0].Alive)
	require.InDelta(t, 0.3085, out.Steps[0].High, 5e-5)
	empty, err := Survival(t.Context(), In{AtDays: []float64{1}})
	require.NoError(t, err)
	require.Equal(t, Point{Days: 1, Alive: 1, High: 1}, empty.At[0])
}

// Laws: without lives seen in part only it is the plain share; more seen in part after the
// last loss change nothing but the interval at their days; the order of lives is the same.
// The share itself is held against the redistribute-to-the-right algorithm of B. Efron,
// Fifth Berkeley Symposium (1967), which never multiplies.
func TestLaws(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(7, 11))
	for range 300 {
		n := 1 + rng.IntN(40)
		lives := make([]Life, n)
		for i := range lives {
			lives[i] = Life{Days: float64(rng.IntN(30)), Lost: rng.IntN(3) > 0}
		}
		out, err := Survival(context.Background(), In{Lives: lives})
		require.NoError(t, err)
		last := 1.0
		for _, p := range out.Steps {
			require.InDelta(t, redistributed(lives, p.Days), p.Alive, 1e-9)
			require.LessOrEqual(t, p.Alive, last)
			require.LessOrEqual(t, p.Low, p.Alive)
			require.LessOrEqual(t, p.Alive, p.High)
			last = p.Alive
		}
		rng.Shuffle(n, func(i, j int) { lives[i], lives[j] = lives[j], lives[i] })
		again, err := Survival(context.Background(), In{Lives: lives})
		require.NoError(t, err)
		require.Equal(t, out, again)
		for i := range lives {
			lives[i].Lost = true
		}
		out, err = Survival(context.Background(), In{Lives: lives})
		require.NoError(t, err)
		for _, p := range out.Steps {
			alive := 0
			for _, l := range lives {
				if l.Days > p.Days {
					alive++
				}
			}
			require.InDelta(t, float64(alive)/float64(n), p.Alive, 1e-9)
		}
	}
}

// redistributed hands the weight of each life seen in part to all that were seen longer.
func redistributed(lives []Life, day float64) float64 {
	weight := make([]float64, len(lives))
	for i := range weight {
		weight[i] = 1 / float64(len(lives))
	}
	longer := func(i, j int) bool { // j outlasts i; a loss comes before an end of seeing on one day
		a, b := lives[i], lives[j]
		return b.Days > a.Days
	}
	done := make([]bool, len(lives))
	for {
		next := -1
		for i, l := range lives {
			if !l.Lost && !done[i] && (next < 0 || l.Days < lives[next].Days) {
				next = i
			}
		}
		if next < 0 {
			break
		}
		done[next] = true
		var heirs []int
		for j := range lives {
			if longer(next, j) || !lives[j].Lost && !done[j] && lives[j].Days == lives[next].Days {
				heirs = append(heirs, j)
			}
		}
		if len(heirs) == 0 {
			continue
		}
		for _, j := range heirs {
			weight[j] += weight[next] / float64(len(heirs))
		}
		weight[next] = 0
	}
	gone := 0.0
	for i, l := range lives {
		if l.Lost && l.Days <= day {
			gone += weight[i]
		}
	}
	return 1 - gone
}

func TestBadInput(t *testing.T) {
	t.Parallel()
	pct := func(v float64) *float64 { return &v }
	for pointer, in := range map[string]In{
		"/lives/1/days":  {Lives: []Life{{Days: 1}, {Days: -1}}},
		"/lives/0/days":  {Lives: []Life{{Days: math.NaN()}}},
		"/at_days/0":     {AtDays: []float64{math.Inf(1)}},
		"/certainty_pct": {CertaintyPct: pct(100)},
		"/lives":         {Lives: make([]Life, MaxLives+1)},
		"/at_days":       {AtDays: make([]float64, MaxAt+1)},
	} {
		_, err := Survival(t.Context(), in)
		var bad *contract.Error
		require.ErrorAs(t, err, &bad, pointer)
		require.Equal(t, pointer, bad.Fields[0].Pointer)
	}
	_, err := Survival(t.Context(), In{CertaintyPct: pct(math.NaN())})
	require.Error(t, err)
}
