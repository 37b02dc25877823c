package planning

import (
	"context"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

// owned is the owner at the bench from 0 to 100 and from 200 to 300, a second pair of
// hands from 50 to 150.
func owned(t require.TestingT, jobs string) In {
	var in In
	require.NoError(t, json.Unmarshal([]byte(`{"jobs": `+jobs+`, "resources": [{"id": "owner", "count": 1, "hours": [{"from_minute": 200, "to_minute": 300}, {"from_minute": 0, "to_minute": 100}]}],
	 "calendar": [{"from_minute": 0, "to_minute": 50, "hands": 1}, {"from_minute": 50, "to_minute": 100, "hands": 2}, {"from_minute": 100, "to_minute": 150, "hands": 1}, {"from_minute": 200, "to_minute": 300, "hands": 1}]}`), &in))
	return in
}

// By hand, on the calendar of owned.
func TestStepsKeepToTheHoursOfWhatTheyNeed(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, jobs string
		want       []JobPlan
	}{
		{"it pauses while the owner is away", `[{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 120, "needs": ["owner"]}]}]`,
			[]JobPlan{{ID: "a", StartMinute: 0, EndMinute: 220}}},
		{"the second hands work meanwhile", `[{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 120, "needs": ["owner"]}]}, {"id": "b", "due_minute": 0, "weight": 1, "minutes": 90}]`,
			[]JobPlan{{ID: "a", StartMinute: 0, EndMinute: 220}, {ID: "b", StartMinute: 50, EndMinute: 140}}},
		{"two of the owner's never at once", `[{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 60, "needs": ["owner"]}]}, {"id": "b", "due_minute": 0, "weight": 1, "steps": [{"minutes": 30, "needs": ["owner"]}]}]`,
			[]JobPlan{{ID: "a", StartMinute: 0, EndMinute: 60}, {ID: "b", StartMinute: 60, EndMinute: 90}}},
		{"in one go only within the owner's hours", `[{"id": "a", "release_minute": 60, "due_minute": 0, "weight": 1, "steps": [{"minutes": 50, "unbroken": true, "needs": ["owner"]}]}]`,
			[]JobPlan{{ID: "a", StartMinute: 200, EndMinute: 250}}},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			in := owned(t, tc.jobs)
			out := mustPlan(t, in)
			for i, p := range out.Jobs {
				require.Equal(t, tc.want[i], JobPlan{ID: p.ID, StartMinute: p.StartMinute, EndMinute: p.EndMinute}, "by hand")
			}
		})
	}
}

// Owner and second hands are never there together, and yet both are at work: what pauses
// takes nobody's hands.
func TestOnePausesWhileTheOtherWorks(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 80, "needs": ["owner"]}]}, {"id": "b", "due_minute": 0, "weight": 1, "minutes": 40}],
	 "resources": [{"id": "owner", "count": 1, "hours": [{"from_minute": 0, "to_minute": 50}, {"from_minute": 100, "to_minute": 150}]}],
	 "calendar": [{"from_minute": 0, "to_minute": 150, "hands": 1}]}`)
	out := mustPlan(t, in)
	require.Equal(t, []int64{0, 130, 50, 90}, []int64{out.Jobs[0].StartMinute, out.Jobs[0].EndMinute, out.Jobs[1].StartMinute, out.Jobs[1].EndMinute}, "by hand")
}

// One more job of the owner's goes where the owner is, beside what is laid; what becomes of
// a plan keeps to it, and a course without luck is the plan.
func TestOwnHoursInEarliestReplayAndCourse(t *testing.T) {
	t.Parallel()
	in := owned(t, `[{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 90, "needs": ["owner"]}]}, {"id": "b", "due_minute": 0, "weight": 1, "minutes": 90}]`)
	out := mustPlan(t, in)
	thirty := int64(30)
	more := Job{ID: "c", DueMinute: 0, Weight: 1, Steps: []Step{{Minutes: 30, Needs: []string{"owner"}}}}
	p, err := Earliest(in, out, more)
	require.NoError(t, err)
	require.Equal(t, []int64{90, 220}, []int64{p.StartMinute, p.EndMinute}, "by hand: ten minutes before the owner goes, twenty when he is back")
	p, err = Earliest(in, out, Job{ID: "d", Weight: 1, Minutes: &thirty})
	require.NoError(t, err)
	require.Equal(t, []int64{140, 220}, []int64{p.StartMinute, p.EndMinute}, "by hand: from 100 to 140 the only hand is at b, and work that anybody does pauses for nobody")

	in.Jobs[0].Steps[0].Minutes = 120 // it takes longer after all
	again, lost, err := Replay(in, out)
	require.NoError(t, err)
	require.Empty(t, lost)
	require.EqualValues(t, 220, again.Jobs[0].EndMinute)
	c, err := NewCourse(in, again, 0)
	require.NoError(t, err)
	require.Equal(t, [][]int64{{220}, {again.Jobs[1].EndMinute}}, c.Ends(NewLaw(Luck{}, 1), []int{0, 1}, []int{0}))
	ends, err := Spread(in, again, 1)
	require.NoError(t, err)
	require.Equal(t, []int64{220}, ends[0])

	in.Resources[0].Count = 0
	_, err = Earliest(In{Calendar: in.Calendar, Resources: in.Resources}, Out{}, more)
	require.ErrorContains(t, err, "finds no place", "there is none of it")
	_, err = Plan(t.Context(), in)
	require.ErrorContains(t, err, `it needs 1 of resource "owner", there are 0`)
}

// The judge: a plan whose steps were moved by hand into hours they must not have is found.
func TestCheckHoldsOwnHours(t *testing.T) {
	t.Parallel()
	in := owned(t, `[{"id": "a", "due_minute": 300, "weight": 9, "steps": [{"minutes": 20, "needs": ["owner"]}]}, {"id": "b", "due_minute": 300, "weight": 1, "minutes": 20}]`)
	plan := func(a, b int64, hand int) Out {
		out := Out{Order: []string{"a", "b"}, Proved: true, Jobs: []JobPlan{{ID: "a", StartMinute: a, EndMinute: a + 20, Steps: []StepPlan{{a, a + 20, 1, 0}}}, {ID: "b", StartMinute: b, EndMinute: b + 20, Steps: []StepPlan{{b, b + 20, hand, 0}}}}}
		if b < a {
			out.Order = []string{"b", "a"}
		}
		return out
	}
	require.NoError(t, Check(in, plan(60, 70, 2)))
	require.ErrorContains(t, Check(in, plan(110, 70, 2)), "has not the minutes it needs")
	require.ErrorContains(t, Check(in, plan(10, 20, 2)), "more hands work than there are")
	out := plan(90, 100, 2) // it pauses from 100 on, so the second hands are free for b
	out.Jobs[0].EndMinute, out.Jobs[0].Steps[0].EndMinute = 210, 210
	require.NoError(t, Check(in, out))
	in.Resources[0].Hours = nil
	require.Error(t, Check(in, out), "without hours it does not pause")
}

// Against the slow solver, which tries every minute: what the plan claims holds, it never
// beats the best there is, no bound passes it, and nothing is refused that could be.
func TestOwnHoursAgainstTheSlowSolver(t *testing.T) {
	t.Parallel()
	best, all := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		in := unhurried(drawTiny(t, 3))
		count := rapid.IntRange(1, 2).Draw(t, "owners")
		at := rapid.Int64Range(0, 4).Draw(t, "there from")
		to := at + rapid.Int64Range(1, 4).Draw(t, "there")
		back := to + rapid.Int64Range(1, 4).Draw(t, "gone")
		in.Resources = append(in.Resources, Resource{ID: "owner", Count: count, Hours: []Stretch{{at, to}, {back, back + 60}}})
		for j := range in.Jobs {
			for k := range in.Jobs[j].Steps {
				if rapid.IntRange(0, 2).Draw(t, "owner only") > 0 {
					in.Jobs[j].Steps[k].Needs = append(in.Jobs[j].Steps[k].Needs, "owner")
				}
			}
		}
		out, err := Plan(context.Background(), in)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			if bad.Fields[0].Detail[:17] != "no plan was found" {
				require.True(t, math.IsInf(bruteForce(in, 16, math.Inf(1)), 1), "refused with %v, but there is a plan", err)
			}
			return
		}
		least := bruteForce(in, 20, out.WeightedTardiness)
		require.LessOrEqual(t, least, out.WeightedTardiness)
		require.LessOrEqual(t, out.Bound, least)
		if out.Proved {
			require.Equal(t, out.WeightedTardiness, least)
		}
		if all++; least == out.WeightedTardiness {
			best++
		}
	})
	require.Greater(t, float64(best), 0.75*float64(all), "%d of %d plans are the best there is", best, all)
}
