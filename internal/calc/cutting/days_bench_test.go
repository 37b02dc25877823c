package cutting

import (
	"context"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkDays plans the 200 generated days and reports how many are proved
// within 100 ms, the largest gap of the others and the times.
func BenchmarkDays(b *testing.B) {
	limit := 1000
	for b.Loop() {
		var took []time.Duration
		proved, fast, worst := 0, 0, 0.0
		for seed := uint64(1); seed <= 200; seed++ {
			in := day(seed)
			in.TimeLimitMS = &limit
			started := time.Now()
			out, err := Plan(context.Background(), in)
			d := time.Since(started)
			require.NoError(b, err)
			took = append(took, d)
			gap := 0.0
			if out.Proved {
				proved++
				if d <= 100*time.Millisecond {
					fast++
				}
			} else {
				bound, _ := out.Bound.Float64()
				gap = (out.LengthUsedMM - bound) / bound * 100
				worst = max(worst, gap)
			}
			if os.Getenv("CUTTING_ROWS") != "" {
				b.Logf("day %3d kinds %2d lots %2d used %2d of length %6.0f bound %s proved %v gap %.2f unplaced %d %v work %d", seed, len(in.Parts), len(in.Boards),
					out.BoardsUsed, out.LengthUsedMM, out.Bound, out.Proved, gap, len(out.Unplaced), d.Round(time.Millisecond), out.Work)
			}
		}
		slices.Sort(took)
		b.ReportMetric(float64(proved), "proved")
		b.ReportMetric(float64(fast), "proved<100ms")
		b.ReportMetric(worst, "worst-gap-%")
		b.ReportMetric(float64(took[100].Microseconds())/1000, "median-ms")
		b.ReportMetric(float64(took[190].Microseconds())/1000, "p95-ms")
		b.ReportMetric(float64(took[199].Microseconds())/1000, "max-ms")
	}
}

// BenchmarkReference runs every reference instance and reports, by family, how
// many reach the published optimum with proof, and the times.
func BenchmarkReference(b *testing.B) {
	families := []struct {
		prefix string
		limit  int
	}{{"Falkenauer_u120", 1000}, {"Falkenauer_u250", 1000}, {"Falkenauer_u500", 1000}, {"rolls", 1000}, {"Falkenauer_t60", 5000},
		{"Falkenauer_t120", 5000}, {"Falkenauer_t249", 5000}, {"N", 2000}, {"HARD", 5000}}
	for _, f := range families {
		b.Run(f.prefix, func(b *testing.B) {
			all := references(b, f.prefix)
			if f.prefix == "rolls" {
				all = rolls(b)
			}
			for b.Loop() {
				var took []time.Duration
				proved := 0
				for _, r := range all {
					in := r.in()
					in.TimeLimitMS = &f.limit
					started := time.Now()
					out, err := Plan(context.Background(), in)
					d := time.Since(started)
					require.NoError(b, err)
					took = append(took, d)
					if out.Proved && out.BoardsUsed == r.optimum {
						proved++
					}
					if os.Getenv("CUTTING_ROWS") != "" {
						b.Logf("%s optimum %d used %d bound %s proved %v %v work %d", r.name, r.optimum, out.BoardsUsed, out.Bound, out.Proved, d.Round(time.Millisecond), out.Work)
					}
				}
				slices.Sort(took)
				b.ReportMetric(float64(len(all)), "instances")
				b.ReportMetric(float64(proved), "proved")
				b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "median-ms")
				b.ReportMetric(float64(took[len(took)-1].Microseconds())/1000, "max-ms")
			}
		})
	}
}
