package planning

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/printed"
)

// allOrders gives the least cost over every order of the jobs.
func allOrders(l *line) int64 {
	best := int64(never)
	var put func(order, left []int)
	put = func(order, left []int) {
		if len(left) == 0 {
			best = min(best, l.costOf(order))
			return
		}
		for i := range left {
			rest := slices.Delete(slices.Clone(left), i, i+1)
			put(append(order, left[i]), rest)
		}
	}
	put(nil, indices(l.n))
	return best
}

// bestMove gives the least cost that one exchange or one job moved leads to.
func (l *line) bestMove(order []int) int64 {
	best := int64(never)
	for i := range order {
		for k := range order {
			swapped := slices.Clone(order)
			swapped[i], swapped[k] = swapped[k], swapped[i]
			moved := slices.Insert(slices.Delete(slices.Clone(order), i, i+1), k, order[i])
			best = min(best, l.costOf(swapped), l.costOf(moved))
		}
	}
	return best
}

// indices gives 0 to n-1.
func indices(n int) []int {
	all := make([]int, n)
	for j := range all {
		all[j] = j
	}
	return all
}

// drawLine draws a plain problem; with a calendar where gaps are wanted.
func drawLine(t *rapid.T, jobs int) In {
	var in In
	total := int64(0)
	for j := range rapid.IntRange(1, jobs).Draw(t, "jobs") {
		p := rapid.Int64Range(1, 30).Draw(t, "minutes")
		total += p
		in.Jobs = append(in.Jobs, Job{ID: fmt.Sprint(j), Minutes: &p, DueMinute: rapid.Int64Range(0, 100).Draw(t, "due"),
			Weight: float64(rapid.IntRange(0, 9).Draw(t, "weight"))})
	}
	if rapid.Bool().Draw(t, "calendar") {
		for at := int64(0); total > 0; {
			at += rapid.Int64Range(0, 20).Draw(t, "closed")
			open := rapid.Int64Range(5, 40).Draw(t, "open")
			in.Calendar = append(in.Calendar, Spell{FromMinute: at, ToMinute: at + open})
			at += open
			total -= open
		}
	}
	return in
}

func TestLineIsBest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawLine(t, 6)
		p, err := newProblem(in)
		require.NoError(t, err)
		l, err := p.newLine()
		require.NoError(t, err)
		require.NotNil(t, l)
		want := allOrders(l)
		out := mustPlan(t, in)
		require.EqualValues(t, want, out.WeightedTardiness)
		require.EqualValues(t, want, out.Bound)
		require.True(t, out.Proved)

		// The proof alone, started from a plan that is no good, neither claims too
		// much nor misses the best order.
		poor := want + rapid.Int64Range(1, 500).Draw(t, "poor")
		better, bound := l.prove(context.Background(), poor, 0)
		require.NotNil(t, better)
		require.Equal(t, want, l.costOf(better))
		require.Equal(t, want, bound)
		better, bound = l.prove(context.Background(), want, 0)
		require.Nil(t, better)
		require.Equal(t, want, bound)

		// The relaxations by themselves never pass the best plan.
		r := newRelax(l, relaxNodes)
		require.LessOrEqual(t, relaxClimb.climb(context.Background(), r, poor), want)
		require.LessOrEqual(t, chainClimb.climb(context.Background(), newChain(r), poor), want)
	})
}

// TestDescentEndsInAValley looks that a descent knows what it has come down to,
// never goes up, and stops only where no single move leads further down.
func TestDescentEndsInAValley(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawLine(t, 25)
		for j := range in.Jobs { // late on the whole, so that there is much to gain
			in.Jobs[j].Weight++
		}
		p, err := newProblem(in)
		require.NoError(t, err)
		l, err := p.newLine()
		require.NoError(t, err)
		order := rapid.Permutation(indices(l.n)).Draw(t, "order")
		from := l.costOf(order)
		got := newDynasearch(l).descend(context.Background(), order)
		require.Equal(t, l.costOf(order), got)
		require.LessOrEqual(t, got, from)
		require.GreaterOrEqual(t, l.bestMove(order), got)
	})
}

// TestTables runs the weighted rows of the two collections of worked instances.
func TestTables(t *testing.T) {
	t.Parallel()
	seen := 0
	for _, name := range []string{"textbook.csv", "enumerated.csv"} {
		for _, row := range printed.Rows(t, name) {
			// Sum T is sum wT with weights of 1; sum wC is sum wT with dues of 0.
			if kind := row[1]; kind != "1||sum wT" && kind != "1||sum T" && kind != "1||sum wC" {
				continue
			}
			seen++
			data := map[string][]int64{}
			for part := range strings.SplitSeq(row[2], ";") {
				key, list, _ := strings.Cut(strings.TrimSpace(part), "=")
				for w := range strings.FieldsSeq(list) {
					v, err := strconv.ParseInt(w, 10, 64)
					require.NoError(t, err)
					data[key] = append(data[key], v)
				}
			}
			var in In
			for j, p := range data["p"] {
				job := Job{ID: strconv.Itoa(j + 1), Minutes: &p, DueMinute: data["d"][j], Weight: 1}
				if row[1] != "1||sum T" {
					job.Weight = float64(data["w"][j])
				}
				if row[1] == "1||sum wC" {
					job.DueMinute = 0
				}
				in.Jobs = append(in.Jobs, job)
			}
			want, err := strconv.ParseFloat(row[3], 64)
			require.NoError(t, err)
			out := mustPlan(t, in)
			require.Equal(t, want, out.WeightedTardiness, "%s: %s", name, row[0])
			require.True(t, out.Proved)
		}
	}
	require.Equal(t, 6, seen)
}
