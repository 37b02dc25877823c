package planning

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Simulated workshops whose true rate is known: twelve builds, one of them gone wrong by
// anything from three to thirty times. What is learnt stays near the truth, where the plain
// mean of the logs, which is beside it for comparison, goes astray.
func TestLearnFromABuildGoneWrong(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(8, 8))
	astray := 0
	for range 200 {
		truth := math.Log(0.7 + 0.9*rng.Float64())
		took, sum := make([]float64, 12), 0.0
		for i := range took {
			took[i] = math.Exp(truth + 0.08*rng.NormFloat64())
		}
		calm := Learn(took)
		took[rng.IntN(len(took))] *= 3 + 27*rng.Float64()
		for _, x := range took {
			sum += math.Log(x)
		}
		got := Learn(took)
		want := truth * 12 / (12 + priorCases) // drawn towards the standard as two builds would
		require.InDelta(t, want, got.Mean, 0.16)
		require.InDelta(t, calm.Mean, got.Mean, 0.1)
		require.Less(t, got.Scale, calm.Scale+0.15)
		if math.Abs(sum/(12+priorCases)-want) > 0.16 {
			astray++
		}
	}
	require.Greater(t, astray, 60, "the plain mean would have done as well")
}

// By hand: the middle of 0, 0, 0.1, 5 is 0.05, their middle distance 0.05; the scale is not
// taken for less than 0.3, so nothing counts beyond 0.95.
func TestClipped(t *testing.T) {
	t.Parallel()
	require.InDeltaSlice(t, []float64{0, 0, 0.1, 0.95}, clipped([]float64{0, 0, 0.1, 5}), 1e-12)
	require.InDeltaSlice(t, []float64{-1, 1}, clipped([]float64{-1, 1}), 1e-12, "two that differ: who knows which is wrong")
	require.Empty(t, clipped(nil))
}
