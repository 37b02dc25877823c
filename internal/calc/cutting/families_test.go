package cutting

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// family generates further instances in the way the published ones were made.
// Sources: E. Falkenauer, J. Heuristics 2 (1996) 5-30 (uniform and triplets);
// A. Scholl, R. Klein, C. Juergens, Comput. Oper. Res. 24 (1997) 627-645 (sets 1
// and 2: sizes uniform in a range).
type family struct {
	name           string
	limitMS        int
	n, stock       int
	low, high      int
	triplets, hard bool
}

func (f family) in(seed uint64) In {
	r := rand.New(rand.NewPCG(seed, uint64(f.n)))
	in := In{Boards: []Board{{ID: "stock", LengthMM: float64(f.stock), Count: f.n}}, TimeLimitMS: &f.limitMS}
	add := func(size int) {
		in.Parts = append(in.Parts, Part{ID: fmt.Sprint("item ", len(in.Parts)), LengthMM: float64(size), Count: 1})
	}
	for i := 0; i < f.n; i++ {
		if !f.triplets {
			add(f.low + r.IntN(f.high-f.low+1))
			continue
		}
		first := 380 + r.IntN(111)
		second := 250 + r.IntN((f.stock-first)/2-250+1)
		add(first)
		add(second)
		add(f.stock - first - second)
		i += 2
	}
	return in
}

func families() []family {
	all := []family{
		{name: "u120", limitMS: 1000, n: 120, stock: 150, low: 20, high: 100},
		{name: "u250", limitMS: 1000, n: 250, stock: 150, low: 20, high: 100},
		{name: "u500", limitMS: 1000, n: 500, stock: 150, low: 20, high: 100},
		{name: "u1000", limitMS: 1000, n: 1000, stock: 150, low: 20, high: 100},
		{name: "t60", limitMS: 5000, n: 60, stock: 1000, triplets: true},
		{name: "t120", limitMS: 5000, n: 120, stock: 1000, triplets: true},
		{name: "t249", limitMS: 5000, n: 249, stock: 1000, triplets: true},
		{name: "t501", limitMS: 5000, n: 501, stock: 1000, triplets: true},
		{name: "hard", limitMS: 5000, n: 200, stock: 100000, low: 20000, high: 35000, hard: true},
	}
	for _, n := range []int{50, 100, 200, 500} {
		for _, c := range []int{100, 120, 150} {
			for _, w := range []int{1, 20, 30} {
				all = append(all, family{name: fmt.Sprintf("N%dC%dW%d", n, c, w), limitMS: 2000, n: n, stock: c, low: w, high: 100})
			}
		}
		for _, part := range []int{3, 5, 7, 9} {
			for _, spread := range []int{20, 50, 90} {
				mean := 1000 / part
				all = append(all, family{name: fmt.Sprintf("N%dW%dB%d", n, part, spread), limitMS: 2000, n: n, stock: 1000,
					low: mean - mean*spread/100, high: mean + mean*spread/100})
			}
		}
	}
	return all
}

// BenchmarkFamilies reports how many of 20 further instances of each family are
// proved within the limit, and the times.
func BenchmarkFamilies(b *testing.B) {
	for _, f := range families() {
		b.Run(f.name, func(b *testing.B) {
			for b.Loop() {
				var took []time.Duration
				proved := 0
				for seed := uint64(1); seed <= 20; seed++ {
					started := time.Now()
					out, err := Plan(context.Background(), f.in(seed))
					require.NoError(b, err)
					took = append(took, time.Since(started))
					if out.Proved {
						proved++
					} else if os.Getenv("CUTTING_ROWS") != "" {
						b.Logf("%s %d: %d boards, bound %s, %v", f.name, seed, out.BoardsUsed, out.Bound, took[len(took)-1])
					}
				}
				slices.Sort(took)
				b.ReportMetric(float64(proved), "proved")
				b.ReportMetric(float64(took[10].Microseconds())/1000, "median-ms")
				b.ReportMetric(float64(took[19].Microseconds())/1000, "max-ms")
				b.ReportMetric(0, "ns/op")
			}
		})
	}
}
