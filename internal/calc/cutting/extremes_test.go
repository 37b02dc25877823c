package cutting

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkExtremes runs inputs far beyond a workshop's and reports how much of
// the time limit they take; more than 1.1 is too much.
func BenchmarkExtremes(b *testing.B) {
	kinds := func(n, count int, f func(i int) float64) []Part {
		var p []Part
		for i := range n {
			p = append(p, Part{ID: fmt.Sprint("p", i), LengthMM: f(i), Count: count})
		}
		return p
	}
	boards := func(n, count int, f func(i int) float64) []Board {
		var p []Board
		for i := range n {
			p = append(p, Board{ID: fmt.Sprint("b", i), LengthMM: f(i), Count: count})
		}
		return p
	}
	cases := map[string]In{
		"100000 of one":             {KerfMM: 3, Boards: boards(1, 100000, func(int) float64 { return 2400 }), Parts: kinds(1, 100000, func(int) float64 { return 431 })},
		"100 kinds 1000 each":       {KerfMM: 3, Boards: boards(5, 1000000, func(i int) float64 { return 2400 + 300*float64(i) }), Parts: kinds(100, 1000, func(i int) float64 { return 300 + 7*float64(i) })},
		"2000 kinds 50 each":        {KerfMM: 3, Boards: boards(5, 100000, func(i int) float64 { return 2400 + 300*float64(i) }), Parts: kinds(2000, 50, func(i int) float64 { return 100 + 0.7*float64(i) })},
		"2000 kinds 2000 lots":      {KerfMM: 3, Boards: boards(2000, 10, func(i int) float64 { return 2400 + float64(i) }), Parts: kinds(2000, 5, func(i int) float64 { return 100 + 0.7*float64(i) })},
		"2000 kinds 2000 lots one":  {KerfMM: 3, Boards: boards(2000, 1, func(i int) float64 { return 2400 + float64(i) }), Parts: kinds(2000, 50, func(i int) float64 { return 100 + 0.7*float64(i) })},
		"fine units":                {KerfMM: 3.175, Boards: boards(12, 10, func(i int) float64 { return 2400.125 + 133.333*float64(i) }), Parts: kinds(60, 4, func(i int) float64 { return 100.001 + 7.77*float64(i) })},
		"tiny parts in a kilometre": {KerfMM: 0, Boards: boards(3, 1000000, func(i int) float64 { return 1e6 - float64(i) }), Parts: kinds(3, 33333, func(i int) float64 { return 0.001 * float64(i+1) })},
		"one part a board":          {KerfMM: 3, Boards: boards(10, 100000, func(i int) float64 { return 2400 + 300*float64(i) }), Parts: kinds(1000, 100, func(i int) float64 { return 1300 + float64(i) })},
		"not enough":                {KerfMM: 3, Boards: boards(50, 10, func(i int) float64 { return 2400 + 30*float64(i) }), Parts: kinds(500, 100, func(i int) float64 { return 300 + float64(i) })},
	}
	for name, in := range cases {
		for _, limit := range []int{50, 100, 1000, 5000} {
			b.Run(fmt.Sprintf("%s/%d", name, limit), func(b *testing.B) {
				in.TimeLimitMS = &limit
				longest := 0.0
				for b.Loop() {
					started := time.Now()
					out, err := Plan(context.Background(), in)
					require.NoError(b, err)
					longest = max(longest, float64(time.Since(started).Milliseconds()))
					require.NotZero(b, out.BoardsUsed)
				}
				b.ReportMetric(longest/float64(limit), "of-the-limit")
			})
		}
	}
}
