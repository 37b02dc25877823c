package planning

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// wt40 reads the OR-Library instances: 40 jobs each, as lines of work, weights
// and due dates.
func wt40(t testing.TB) []In {
	t.Helper()
	f, err := os.Open("testdata/wt40_001-062.txt")
	require.NoError(t, err)
	defer f.Close()
	sc := bufio.NewScanner(f)
	sc.Split(bufio.ScanWords)
	var numbers []int64
	for sc.Scan() {
		v, err := strconv.ParseInt(sc.Text(), 10, 64)
		require.NoError(t, err)
		numbers = append(numbers, v)
	}
	require.Zero(t, len(numbers)%120)
	var all []In
	for ; len(numbers) > 0; numbers = numbers[120:] {
		var in In
		for j := range 40 {
			p := numbers[j]
			in.Jobs = append(in.Jobs, Job{ID: fmt.Sprint(j + 1), Minutes: &p, Weight: float64(numbers[40+j]), DueMinute: numbers[80+j]})
		}
		all = append(all, in)
	}
	return all
}

// wt40Optimum reads the published optima, by instance from 1.
func wt40Optimum(t testing.TB) map[int]float64 {
	t.Helper()
	rows := printed.Rows(t, "wt40_optimum_001-062.csv")
	best := map[int]float64{}
	for _, row := range rows {
		k, err := strconv.Atoi(row[0])
		require.NoError(t, err)
		v, err := strconv.ParseFloat(row[1], 64)
		require.NoError(t, err)
		best[k] = v
	}
	return best
}

// Source of instances and optima: OR-Library, J. E. Beasley; Crauwels, Potts and
// Van Wassenhove, INFORMS J. Comput. 10 (1998) 341-350.
func TestPublishedWeightedTardiness(t *testing.T) {
	t.Parallel()
	all, best := wt40(t), wt40Optimum(t)
	require.Len(t, all, 62)
	for i, in := range all {
		t.Run(fmt.Sprint(i+1), func(t *testing.T) {
			t.Parallel()
			p, err := newProblem(in)
			require.NoError(t, err)
			l, err := p.newLine()
			require.NoError(t, err)
			// The first third of the search alone has to get there.
			v := newVoyage(l)
			v.start(t.Context())
			v.sail(t.Context(), l.rounds()/3, int64(best[i+1]))
			require.EqualValues(t, best[i+1], v.least)
			require.Equal(t, v.least, l.costOf(v.best))
			if i%wholeEvery == 0 {
				out := mustPlan(t, in)
				require.Equal(t, best[i+1], out.WeightedTardiness)
				require.LessOrEqual(t, out.Bound, best[i+1])
			}
		})
	}
}

// wholeEvery is how many instances stand between two that are planned and proved
// whole in the tests; BenchmarkPublished does all of them.
const wholeEvery = 9

// BenchmarkPublished is the figure: each instance at its optimum, the slowest
// within 1 s on one core of a quiet machine.
func BenchmarkPublished(b *testing.B) {
	all, best := wt40(b), wt40Optimum(b)
	for b.Loop() {
		var slowest time.Duration
		for i, in := range all {
			start := time.Now()
			out, err := Plan(context.Background(), in)
			require.NoError(b, err)
			require.Equal(b, best[i+1], out.WeightedTardiness)
			slowest = max(slowest, time.Since(start))
		}
		b.ReportMetric(float64(slowest.Milliseconds()), "ms/slowest")
	}
}
