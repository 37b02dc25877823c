package planning

import (
	"bufio"
	"fmt"
	"os"
	"strconv"
	"testing"

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
			out := mustPlan(t, in)
			// A second is ample on a quiet machine; a busy one may have a minute.
			if limit := int64(60_000); out.WeightedTardiness != best[i+1] {
				in.TimeLimitMS = &limit
				out = mustPlan(t, in)
			}
			t.Logf("%g, bound %g, proved %v", out.WeightedTardiness, out.Bound, out.Proved)
			require.Equal(t, best[i+1], out.WeightedTardiness)
			require.LessOrEqual(t, out.Bound, best[i+1])
		})
	}
}
