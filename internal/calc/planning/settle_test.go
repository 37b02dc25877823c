package planning

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Jobs fitted into a plan one by one, settled, pass the checker, which is written apart
// and charges every set-up from the order of each hand; no end is later than before.
func TestSettleKeepsTheRules(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawTiny(t, 4)
		for j := range in.Jobs {
			in.Jobs[j].FixedStartMinute = nil
		}
		with, out := in, Out{}
		with.Jobs = nil
		for _, j := range in.Jobs {
			p, err := Earliest(with, out, j)
			if err != nil {
				return // no room for a step that may not be broken
			}
			with.Jobs, out.Jobs = append(with.Jobs, j), append(out.Jobs, p)
		}
		got, err := Settle(with, out)
		require.NoError(t, err)
		require.NoError(t, Check(with, got))
		for j := range got.Jobs {
			for k, s := range got.Jobs[j].Steps {
				was := out.Jobs[j].Steps[k]
				require.Equal(t, was.StartMinute, s.StartMinute)
				require.LessOrEqual(t, s.EndMinute, was.EndMinute)
			}
		}
		again, err := Settle(with, got)
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}

// By hand: the saw is set up for b at minute 100; a, put before it, leaves it set up.
func TestSettleTakesANeedlessSetUpOut(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "b", "due_minute": 105, "weight": 2, "release_minute": 100, "steps": [{"minutes": 10, "batch": {"key": "saw", "setup_minutes": 5}}]}]}`)
	out := mustPlan(t, in)
	a := Job{ID: "a", DueMinute: 0, Weight: 1, Steps: []Step{{Minutes: 10, Batch: &Batch{"saw", 5}}}}
	p, err := Earliest(in, out, a)
	require.NoError(t, err)
	in.Jobs, out.Jobs = append(in.Jobs, a), append(out.Jobs, p)
	got, err := Settle(in, out)
	require.NoError(t, err)
	require.NoError(t, Check(in, got))
	require.Equal(t, []StepPlan{{100, 110, 1, 0}}, got.Jobs[0].Steps)
	require.Equal(t, []StepPlan{{0, 15, 1, 5}}, got.Jobs[1].Steps)
	require.Equal(t, []string{"a", "b"}, got.Order)
	require.Equal(t, 25.0, got.WeightedTardiness, "by hand: 2 x 5 and 15")
}

func TestSettleRefusesAnUnpaidSetUp(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 10, "batch": {"key": "saw", "setup_minutes": 5}}]}]}`)
	out := mustPlan(t, in)
	out.Jobs[0].Steps[0].SetupMinutes, out.Jobs[0].Steps[0].EndMinute = 0, 10
	_, err := Settle(in, out)
	require.ErrorContains(t, err, "lay the plan anew first")
	_, err = Settle(in, Out{})
	require.ErrorContains(t, err, "lay the plan anew first")
}

// A course counts the set-ups of the order: with all minutes as planned it is the plan
// played by hand, each step behind the last on its hand and the last of its job, a set-up
// where the key changes. Exhaustive over small drawn plans of one hand, from the beginning
// and from a minute in the middle.
func TestCourseCountsSetUps(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := In{Jobs: drawTiny(t, 4).Jobs}
		for j := range in.Jobs {
			in.Jobs[j].Predecessors, in.Jobs[j].FixedStartMinute = nil, nil
			for k := range in.Jobs[j].Steps {
				in.Jobs[j].Steps[k].Needs = nil
			}
		}
		out := mustPlan(t, in)
		last := int64(0)
		for _, p := range out.Jobs {
			last = max(last, p.EndMinute)
		}
		now := rapid.Int64Range(0, last).Draw(t, "now")
		c, err := NewCourse(in, out, now)
		require.NoError(t, err)
		got := c.Ends(NewLaw(Luck{}, 1), allOf(len(in.Jobs)), []int{0})
		for j, p := range out.Jobs {
			require.LessOrEqual(t, got[j][0], p.EndMinute, "from minute %d", now)
			if now == 0 {
				require.Equal(t, playedByHand(in, out)[j], got[j][0])
			}
		}
	})
}

// playedByHand gives the ends of jobs on one hand that is always there, in the order of a plan.
func playedByHand(in In, plan Out) []int64 {
	type turn struct{ job, step int }
	var order []turn
	for j, p := range plan.Jobs {
		for k := range p.Steps {
			order = append(order, turn{j, k})
		}
	}
	slices.SortStableFunc(order, func(a, b turn) int {
		return int(plan.Jobs[a.job].Steps[a.step].StartMinute - plan.Jobs[b.job].Steps[b.step].StartMinute)
	})
	at, key, ends, ready := int64(0), "", make([]int64, len(in.Jobs)), make([]int64, len(in.Jobs))
	for _, o := range order {
		s := in.Jobs[o.job].Steps[o.step]
		minutes, next := s.Minutes, ""
		if s.Batch != nil {
			if next = s.Batch.Key; next != key {
				minutes += s.Batch.SetupMinutes
			}
		}
		key = next
		at = max(at, ready[o.job], in.Jobs[o.job].ReleaseMinute) + minutes
		ends[o.job], ready[o.job] = at, at+s.WaitMinutes
	}
	return ends
}

// By hand, with the luck of each build known: two builds at the saw behind one another,
// set-up 20, 100 minutes each, the first takes as long again. Its set-up stretches with it,
// the second pays none: 240 and 240 + 100 x 1.5.
func TestCourseStretchesTheSetUpOfItsBuild(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 100, "batch": {"key": "saw", "setup_minutes": 20}}]},
	  {"id": "b", "due_minute": 0, "weight": 1, "steps": [{"minutes": 100, "batch": {"key": "saw", "setup_minutes": 20}}]}]}`)
	c, err := NewCourse(in, mustPlan(t, in), 0)
	require.NoError(t, err)
	end, ready := make([]int64, 2), make([]int64, 2)
	c.play(c.turns, []float64{2, 1.5}, nil, end, ready)
	require.Equal(t, []int64{240, 390}, end)
}
