package workshop

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The workshop of these tests: what it really takes beside its standard, which the
// estimates must find again from noisy builds.
var (
	simStandard = map[string]float64{"cut": 10, "glue": 30, "sand": 12} // minutes a piece
	simTruth    = map[string]float64{"cut": 1.4, "glue": 0.8, "sand": 1.3}
	simNames    = []string{"cut", "glue", "sand"}
)

const (
	simSetup = 20.0
	simNoise = 0.1 // of the log of real on standard minutes
)

// simulate makes finished builds, newest first, of which split says what was written down
// as a share of whole days. Standards are those of old for the older half.
func simulate(rng *rand.Rand, n int, old map[string]float64, split func(build int, name string) bool) [][]spentOp {
	var out [][]spentOp
	for b := range n {
		standard, revision := simStandard, int64(2)
		if old != nil && b >= n/2 {
			standard, revision = old, 1
		}
		q := 2 + rng.IntN(6)
		var ops []spentOp
		real, shared := 0.0, 0.0
		for _, name := range simNames {
			o := spentOp{BuildID: int64(n - b), RevisionID: revision, Name: name, Quantity: q, SetupMin: simSetup, PieceMin: standard[name]}
			o.Minutes = simSetup + simTruth[name]*simStandard[name]*float64(q)*math.Exp(simNoise*rng.NormFloat64())
			if split(b, name) {
				real, shared, o.Split = real+o.Minutes, shared+o.SetupMin+o.PieceMin*float64(q), 1
			}
			ops = append(ops, o)
		}
		for i := range ops { // nobody knows more than the sum, split by standard minutes
			if ops[i].Split > 0 {
				ops[i].Minutes = real * (ops[i].SetupMin + ops[i].PieceMin*float64(q)) / shared
				ops[i].Split = ops[i].Minutes
			}
		}
		out = append(out, ops)
	}
	return out
}

// ratesOf gives what was taught as shares of the standard.
func ratesOf(t *testing.T, f figures, builds [][]spentOp) map[string]float64 {
	t.Helper()
	taught, out := newTaught(f, builds), map[string]float64{}
	for _, name := range simNames {
		r, ok := taught.rate(name, simStandard[name])
		require.True(t, ok, name)
		out[name] = r.better / simStandard[name]
	}
	return out
}

func requireNear(t *testing.T, want, got map[string]float64, within float64, msg string) {
	t.Helper()
	for name, x := range want {
		require.InDelta(t, x, got[name], within, "%s: %s", msg, name)
	}
}

func never(int, string) bool  { return false }
func always(int, string) bool { return true }

func TestRatesOfASimulatedWorkshop(t *testing.T) {
	t.Parallel()
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 9))
		at := fmt.Sprint("workshop ", seed)

		requireNear(t, simTruth, ratesOf(t, nil, simulate(rng, 12, nil, never)), 0.14, at+", all measured")

		// Whole days alone: the sum comes right, and nothing is made up about one operation
		// beside another.
		got := ratesOf(t, nil, simulate(rng, 12, nil, always))
		require.InDelta(t, got["cut"], got["glue"], 1e-9, at)
		require.InDelta(t, got["cut"], got["sand"], 1e-9, at)
		real, standard := 0.0, 0.0
		for name, x := range simStandard {
			real, standard = real+simTruth[name]*x, standard+x
		}
		require.InDelta(t, real/standard, got["cut"], 0.1, at)

		// Sanding was never measured, only ever part of days whose other work is known.
		sand := func(b int, name string) bool { return b%2 == 1 || name == "sand" }
		alone := simulate(rng, 12, nil, sand)
		for b := range alone {
			if b%2 == 0 { // measured days: the sanding of these was not written down at all
				alone[b][2].Minutes, alone[b][2].Split = 0, 0
			}
		}
		requireNear(t, simTruth, ratesOf(t, nil, alone), 0.35, at+", sanding from what is left of days")
		require.Greater(t, ratesOf(t, nil, alone)["sand"], 1.0, at)

		// Days gone wrong, the worst of them a clock that ran all night.
		for _, split := range []func(int, string) bool{never, always, sand} {
			builds := simulate(rng, 12, nil, split)
			calm := ratesOf(t, nil, builds)
			wrong := rng.IntN(len(builds))
			for i := range builds[wrong] {
				builds[wrong][i].Minutes *= 8
				builds[wrong][i].Split *= 8
			}
			requireNear(t, calm, ratesOf(t, nil, builds), 0.15, at+", a day gone wrong")
		}
	}
}

// Builds that froze a standard of long ago, half of today's for cutting, teach the same as
// if they had today's: the standard moved, the work did not.
func TestRatesDoNotCountTwice(t *testing.T) {
	t.Parallel()
	old := map[string]float64{"cut": 5, "glue": 30, "sand": 12}
	f := figures{}
	for name, x := range old {
		f[figureKey{1, name}] = figure{RevisionID: 1, Name: name, SetupThen: simSetup, PieceThen: x, SetupNow: simSetup, PieceNow: simStandard[name]}
	}
	for seed := range uint64(10) {
		at := fmt.Sprint("workshop ", seed)
		builds := simulate(rand.New(rand.NewPCG(seed, 4)), 12, old, never)
		same := simulate(rand.New(rand.NewPCG(seed, 4)), 12, nil, never)
		requireNear(t, ratesOf(t, nil, same), ratesOf(t, f, builds), 1e-9, at)
		for i := range builds {
			was, _ := figures(nil).took(same[i])
			now, whole := f.took(builds[i])
			require.True(t, whole)
			require.InDelta(t, was.real/was.standard, now.real/now.standard, 1e-9, at)
		}
	}
	setup, piece := f.now(1, "cut", 20, 2.5) // a section with half of the cutting
	require.Equal(t, []float64{20, 5}, []float64{setup, piece})
	setup, piece = f.now(3, "cut", 20, 2.5)
	require.Equal(t, []float64{20, 2.5}, []float64{setup, piece}, "another drawing")
	setup, piece = f.now(1, "cut", 25, 7)
	require.Equal(t, []float64{25, 12}, []float64{setup, piece}, "5 of set-up and 2 a piece are an option's")
}

// By hand: two builds whose time fell out of the same two days count as one, 300 minutes on
// 250; the third shares but a tenth of its time with them.
func TestProportionsOfSharedDays(t *testing.T) {
	t.Parallel()
	monday, tuesday := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	builds := []tookBuild{{1, 200, 150}, {2, 100, 100}, {3, 300, 200}}
	days := []dayShare{{1, 9, monday, 120}, {2, 9, monday, 60}, {1, 9, tuesday, 80}, {2, 9, tuesday, 40}, {3, 9, tuesday, 30}}
	require.Equal(t, []float64{300.0 / 250, 1.5}, proportionsOf(builds, days))
	require.Equal(t, []float64{200.0 / 150, 1, 1.5}, proportionsOf(builds, nil))
	days[1].AccountID, days[3].AccountID = 8, 8 // somebody else's days
	require.Len(t, proportionsOf(builds, days), 3)
	require.Empty(t, proportionsOf(nil, nil))
}
