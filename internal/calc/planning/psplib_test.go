package planning

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// psplib reads a project: each activity is a job of no weight, the last dummy one
// of a single minute that is due at once, so that its end is the makespan plus one.
func psplib(t testing.TB, name string) In {
	t.Helper()
	raw, err := os.ReadFile("testdata/psplib_j30/" + name)
	require.NoError(t, err)
	section := func(title string, skip int) [][]int {
		_, rest, ok := strings.Cut(string(raw), title)
		require.True(t, ok, title)
		var rows [][]int
		for _, line := range strings.Split(rest, "\n")[1+skip:] {
			if strings.HasPrefix(line, "*") {
				break
			}
			var row []int
			for w := range strings.FieldsSeq(line) {
				v, err := strconv.Atoi(w)
				require.NoError(t, err)
				row = append(row, v)
			}
			rows = append(rows, row)
		}
		return rows
	}
	hands := 30
	in := In{Hands: &hands}
	for r, count := range section("RESOURCEAVAILABILITIES:", 1)[0] {
		in.Resources = append(in.Resources, Resource{ID: fmt.Sprint("R", r+1), Count: count})
	}
	for _, row := range section("REQUESTS/DURATIONS:", 2) {
		s := Step{Minutes: int64(row[2])}
		for r, units := range row[3:] {
			s.Needs = append(s.Needs, slices.Repeat([]string{fmt.Sprint("R", r+1)}, units)...)
		}
		in.Jobs = append(in.Jobs, Job{ID: fmt.Sprint(row[0]), Steps: []Step{s}})
	}
	last := len(in.Jobs) - 1
	in.Jobs[0].Steps[0].Minutes = 1 // the dummy at the start, one minute too
	in.Jobs[last].Steps[0].Minutes, in.Jobs[last].Weight = 1, 1
	for _, row := range section("PRECEDENCE RELATIONS:", 1) {
		for _, succ := range row[3:] {
			in.Jobs[succ-1].Predecessors = append(in.Jobs[succ-1].Predecessors, fmt.Sprint(row[0]))
		}
	}
	return in
}

// Source: PSPLIB j30, R. Kolisch and A. Sprecher, EJOR 96 (1997) 205-216, with the
// optimal makespans of its j30opt file.
func TestProjectLibrary(t *testing.T) {
	t.Parallel()
	rows := printed.Rows(t, "psplib_j30/optimum.csv")
	for _, row := range rows {
		t.Run(row[0], func(t *testing.T) {
			t.Parallel()
			want, err := strconv.Atoi(row[1])
			require.NoError(t, err)
			in, limit := psplib(t, row[0]), int64(300)
			in.TimeLimitMS = &limit
			out, err := Plan(context.Background(), in)
			require.NoError(t, err)
			t.Logf("optimum %d, found %g, bound %g, proved %v", want, out.WeightedTardiness-2, out.Bound-2, out.Proved)
			require.LessOrEqual(t, out.Bound-2, float64(want))
			require.GreaterOrEqual(t, out.WeightedTardiness-2, float64(want))
		})
	}
}
