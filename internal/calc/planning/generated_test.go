package planning

import (
	"context"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// generated draws a weighted tardiness instance as those of the OR-Library were drawn:
// work even in 1..100, weights even in 1..10, due dates even in the total work times
// (1 - TF - RDD/2) .. (1 - TF + RDD/2), those before the start at it; releases, where
// wanted, even in the first half of the work. Source: C. N. Potts and L. N. Van
// Wassenhove, Oper. Res. 33 (1985) 363-377, as told on OR-Library's page of wt40; releases
// are ours.
func generated(rng *rand.Rand, n int, tf, rdd float64, releases bool) In {
	var in In
	total := int64(0)
	for j := range n {
		p := int64(1 + rng.IntN(100))
		total += p
		in.Jobs = append(in.Jobs, Job{ID: fmt.Sprint(j), Minutes: &p, Weight: float64(1 + rng.IntN(10))})
	}
	for j := range in.Jobs {
		due := float64(total) * (1 - tf - rdd/2 + rdd*rng.Float64())
		in.Jobs[j].DueMinute = max(0, int64(math.Round(due)))
		if releases {
			in.Jobs[j].ReleaseMinute = rng.Int64N(total/2 + 1)
		}
	}
	return in
}

// bySubsets gives the least weighted tardiness on one hand, exactly: for each set of jobs
// done first all pairs of end and cost of which none is worse in both. Without releases a
// set ends at one minute only, and this is the dynamic program of Held and Karp,
// J. SIAM 10 (1962) 196-210.
func bySubsets(in In) float64 {
	type state struct{ end, cost int64 }
	n := len(in.Jobs)
	fronts := make([][]state, 1<<n)
	fronts[0] = []state{{0, 0}}
	add := func(list []state, s state) []state {
		kept := list[:0]
		for _, o := range list {
			if o.end <= s.end && o.cost <= s.cost {
				return list
			}
			if o.end < s.end || o.cost < s.cost {
				kept = append(kept, o)
			}
		}
		return append(kept, s)
	}
	for set := range fronts {
		for left := ^set & (1<<n - 1); left != 0; left &= left - 1 {
			k := bits.TrailingZeros(uint(left))
			j := in.Jobs[k]
			for _, s := range fronts[set] {
				end := max(s.end, j.ReleaseMinute) + *j.Minutes
				next := state{end, s.cost + int64(j.Weight)*max(0, end-j.DueMinute)}
				fronts[set|1<<k] = add(fronts[set|1<<k], next)
			}
		}
	}
	best := int64(math.MaxInt64)
	for _, s := range fronts[len(fronts)-1] {
		best = min(best, s.cost)
	}
	return float64(best)
}

// The dynamic program itself against all orders, by hand and by trying them.
func TestBySubsetsAgainstAllOrders(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 11))
	for k := range 40 {
		in := generated(rng, 2+k%6, 0.6, 0.4, k%2 == 0)
		best := math.Inf(1)
		var try func(done int, end, cost int64)
		try = func(done int, end, cost int64) {
			if done == 1<<len(in.Jobs)-1 {
				best = min(best, float64(cost))
				return
			}
			for j, job := range in.Jobs {
				if done>>j&1 == 0 {
					e := max(end, job.ReleaseMinute) + *job.Minutes
					try(done|1<<j, e, cost+int64(job.Weight)*max(0, e-job.DueMinute))
				}
			}
		}
		try(0, 0, 0)
		require.Equal(t, best, bySubsets(in))
	}
}

// Fresh instances of several sizes and all tightnesses of the published generator: the
// plan is the best there is, and without releases it is proved.
func TestGeneratedWeightedTardiness(t *testing.T) {
	t.Parallel()
	steps := []float64{0.2, 0.4, 0.6, 0.8, 1}
	for _, releases := range []bool{false, true} {
		for _, n := range []int{5, 9, 12, 14} {
			t.Run(fmt.Sprintf("%d jobs, releases %v", n, releases), func(t *testing.T) {
				t.Parallel()
				rng := rand.New(rand.NewPCG(uint64(n), 40))
				proved := 0
				for _, tf := range steps {
					for _, rdd := range steps {
						in := generated(rng, n, tf, rdd, releases)
						want, out := bySubsets(in), mustPlan(t, in)
						require.Equal(t, want, out.WeightedTardiness, "TF %g, RDD %g", tf, rdd)
						require.LessOrEqual(t, out.Bound, want)
						if out.Proved {
							proved++
						}
					}
				}
				t.Logf("%d of 25 proved", proved)
				if !releases {
					require.Equal(t, 25, proved)
				}
			})
		}
	}
}

// drawTwoThings is drawTiny with two limited things, of which a step may need both.
func drawTwoThings(t *rapid.T) In {
	in := drawTiny(t, 4)
	in.Resources = []Resource{{ID: "clamp", Count: 1}, {ID: "rack", Count: rapid.IntRange(1, 2).Draw(t, "racks")}}
	for j := range in.Jobs {
		for k := range in.Jobs[j].Steps {
			s := &in.Jobs[j].Steps[k]
			s.Needs = nil
			if rapid.Bool().Draw(t, "clamped") {
				s.Needs = append(s.Needs, "clamp")
			}
			if rapid.Bool().Draw(t, "racked") {
				s.Needs = append(s.Needs, "rack")
			}
		}
	}
	return in
}

// Waits, releases, calendars, batches and two limited things together, against every
// start minute, hand and set-up there is.
func TestTwoThingsAgainstTheSlowSolver(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := unhurried(drawTwoThings(t))
		out, err := Plan(context.Background(), in)
		if err != nil {
			requireBadOrNil(t, err)
			require.True(t, math.IsInf(bruteForce(in, 20, math.Inf(1)), 1), "refused with %v, but there is a plan", err)
			return
		}
		require.NoError(t, Check(in, out))
		require.True(t, out.Proved)
		require.Equal(t, out.WeightedTardiness, bruteForce(in, 30, out.WeightedTardiness))
	})
}
