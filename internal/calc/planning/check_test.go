package planning

import (
	"context"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCheckFindsEveryBreach breaks a lawful plan in one way at a time.
func TestCheckFindsEveryBreach(t *testing.T) {
	t.Parallel()
	const raw = `{"jobs": [
	  {"id": "a", "due_minute": 40, "weight": 2, "steps": [{"minutes": 10, "wait_minutes": 5, "batch": {"key": "k", "setup_minutes": 3}}, {"minutes": 8, "needs": ["clamp"]}]},
	  {"id": "b", "due_minute": 10, "weight": 1, "release_minute": 13, "steps": [{"minutes": 5, "unbroken": true, "needs": ["clamp"]}]},
	  {"id": "c", "due_minute": 90, "weight": 1, "predecessors": ["b"], "minutes": 4},
	  {"id": "d", "due_minute": 90, "weight": 1, "fixed_start_minute": 50, "minutes": 4}],
	 "resources": [{"id": "clamp", "count": 1}],
	 "calendar": [{"from_minute": 0, "to_minute": 20, "hands": 1}, {"from_minute": 30, "to_minute": 100, "hands": 2}]}`
	lawful := func() (In, Out) {
		var in In
		require.NoError(t, json.Unmarshal([]byte(raw), &in))
		// a: 0-13 with set-up, wait, 30-38; b: 13-18; c: 18-32 over the gap; d: 50-54.
		step := func(s, e int64, hand int, setup int64) StepPlan { return StepPlan{s, e, hand, setup} }
		return in, Out{Order: []string{"a", "b", "c", "d"}, WeightedTardiness: 8, Bound: 8, Proved: true, Jobs: []JobPlan{
			{ID: "a", EndMinute: 38, Steps: []StepPlan{step(0, 13, 1, 3), step(30, 38, 2, 0)}},
			{ID: "b", StartMinute: 13, EndMinute: 18, TardyMinutes: 8, Steps: []StepPlan{step(13, 18, 1, 0)}},
			{ID: "c", StartMinute: 18, EndMinute: 32, Steps: []StepPlan{step(18, 32, 1, 0)}},
			{ID: "d", StartMinute: 50, EndMinute: 54, Steps: []StepPlan{step(50, 54, 1, 0)}}}}
	}
	move := func(p *JobPlan, k int, by int64) {
		p.Steps[k].StartMinute += by
		p.Steps[k].EndMinute += by
		p.StartMinute, p.EndMinute = p.Steps[0].StartMinute, p.Steps[len(p.Steps)-1].EndMinute
	}
	tests := []struct {
		name, says string
		spoil      func(in *In, out *Out)
	}{
		{"a job left out", "jobs planned", func(_ *In, out *Out) { out.Jobs = out.Jobs[:3] }},
		{"a step left out", "all its steps", func(_ *In, out *Out) { out.Jobs[0].Steps = out.Jobs[0].Steps[:1] }},
		{"start is not that of the first step", "first step", func(_ *In, out *Out) { out.Jobs[0].StartMinute = 1 }},
		{"too short", "minutes it needs", func(_ *In, out *Out) { out.Jobs[3].EndMinute--; out.Jobs[3].Steps[0].EndMinute-- }},
		{"in closed time", "minutes it needs|closed", func(_ *In, out *Out) { move(&out.Jobs[3], 0, -26) }},
		{"ends in closed time", "closed", func(in *In, out *Out) {
			*in.Jobs[2].Minutes = 2
			out.Jobs[2].EndMinute, out.Jobs[2].Steps[0].EndMinute = 25, 25
		}},
		{"broken", "broken", func(in *In, out *Out) {
			in.Jobs[0].Steps[1].Unbroken = true
			move(&out.Jobs[0], 1, -12)
			out.Jobs[0].Steps[1].EndMinute, out.Jobs[0].EndMinute = 36, 36
		}},
		{"no such hand", "no hand", func(_ *In, out *Out) { out.Jobs[3].Steps[0].Hand = 3 }},
		{"set-up of another size", "not its own", func(_ *In, out *Out) { out.Jobs[0].Steps[0].SetupMinutes = 2 }},
		{"set-up not paid", "set-up", func(_ *In, out *Out) {
			out.Jobs[0].Steps[0].SetupMinutes = 0
			out.Jobs[0].Steps[0].EndMinute = 10
		}},
		{"before its release", "release", func(in *In, _ *Out) { in.Jobs[1].ReleaseMinute = 14 }},
		{"not at the held minute", "held minute", func(_ *In, out *Out) { move(&out.Jobs[3], 0, 1) }},
		{"before its predecessor", "before \"a\" has ended", func(in *In, _ *Out) { in.Jobs[2].Predecessors = []string{"a"} }},
		{"does not wait", "wait for the one before", func(in *In, _ *Out) { in.Jobs[0].Steps[0].WaitMinutes = 18 }},
		{"clamp twice", "more of \"clamp\"", func(in *In, _ *Out) {
			in.Jobs[0].Steps[1].Needs = []string{"clamp", "clamp"}
		}},
		{"two hands in a lean spell", "hands", func(in *In, out *Out) {
			in.Calendar[1].Hands = in.Calendar[0].Hands
			three := 3
			in.Calendar = append(in.Calendar, Spell{200, 210, &three})
		}},
		{"one hand twice", "at once", func(_ *In, out *Out) { out.Jobs[0].Steps[1].Hand = 1 }},
		{"tardy minutes", "tardy", func(_ *In, out *Out) { out.Jobs[1].TardyMinutes = 7 }},
		{"sum", "weighted tardiness", func(_ *In, out *Out) { out.WeightedTardiness = 9 }},
		{"bound above the plan", "bound", func(_ *In, out *Out) { out.Bound = 9 }},
		{"proved without reason", "proved", func(_ *In, out *Out) { out.Bound = 7 }},
		{"order", "order", func(_ *In, out *Out) { out.Order[0], out.Order[1] = "b", "a" }},
		{"order with one twice", "order", func(_ *In, out *Out) { out.Order[3] = "c" }},
	}
	in, out := lawful()
	require.NoError(t, Check(in, out))
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			in, out := lawful()
			tt.spoil(&in, &out)
			err := Check(in, out)
			require.Error(t, err)
			require.Regexp(t, tt.says, err.Error())
		})
	}
}

func FuzzPlan(f *testing.F) {
	topic := Topics()[0]
	f.Add([]byte(topic.Example))
	f.Add([]byte(`{"jobs": [{"id": "a", "steps": [{"minutes": 0, "wait_minutes": 9}, {"minutes": 3}], "due_minute": 1, "weight": 0.5, "fixed_start_minute": 4}], "hands": 2}`))
	f.Add([]byte(`{"jobs": [{"id": "a", "minutes": 52704000, "due_minute": 1, "weight": 100000000}, {"id": "b", "minutes": 1, "due_minute": 1, "weight": 3}]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var in In
		if json.Unmarshal(raw, &in) == nil && len(in.Jobs) > 30 {
			return // large plans are right too, but slow to fuzz
		}
		ctx, stop := context.WithCancel(context.Background())
		stop() // rules only: a lawful plan in no time
		_, err := topic.Run(ctx, raw)
		requireBadOrNil(t, err)
	})
}
