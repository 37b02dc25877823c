package planning

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestWorkedByHand holds small plans whose best can be seen on paper.
func TestWorkedByHand(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, raw string
		want      float64
		ends      []int64
		source    string
	}{
		{"a run of one key is not broken", `{"jobs": [
			{"id": "c", "due_minute": 15, "weight": 9, "steps": [{"minutes": 5, "batch": {"key": "k", "setup_minutes": 10}}]},
			{"id": "a", "due_minute": 25, "weight": 5, "release_minute": 20, "steps": [{"minutes": 5, "batch": {"key": "k", "setup_minutes": 10}}]},
			{"id": "b", "due_minute": 20, "weight": 1, "release_minute": 15, "minutes": 5}]}`,
			10, []int64{15, 25, 30}, "b between c and a would make a pay its set-up: 5 x 10 late instead of b's 10"},
		{"set-up once for neighbours", `{"jobs": [
			{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 5, "batch": {"key": "k", "setup_minutes": 10}}]},
			{"id": "b", "due_minute": 0, "weight": 1, "steps": [{"minutes": 6, "batch": {"key": "k", "setup_minutes": 10}}]}]}`,
			36, []int64{15, 21}, "15 + 21"},
		{"glue dries while others work", `{"jobs": [
			{"id": "a", "due_minute": 0, "weight": 2, "steps": [{"minutes": 10, "wait_minutes": 30}, {"minutes": 10}]},
			{"id": "b", "due_minute": 0, "weight": 1, "minutes": 25}]}`,
			135, []int64{50, 35}, "2 x 50 + 35: b fits into the wait"},
		{"a wait runs through the night, work does not", `{"jobs": [
			{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 50, "wait_minutes": 60}, {"minutes": 20}]}],
			"calendar": [{"from_minute": 0, "to_minute": 60, "hands": 1}, {"from_minute": 100, "to_minute": 160, "hands": 1}]}`,
			130, []int64{130}, "dry at 110, on from then"},
		{"a step pauses at the end of a spell", `{"jobs": [{"id": "a", "due_minute": 100, "weight": 1, "minutes": 70}],
			"calendar": [{"from_minute": 0, "to_minute": 60, "hands": 1}, {"from_minute": 100, "to_minute": 160, "hands": 1}]}`,
			10, []int64{110}, "60 minutes, and 10 more from 100"},
		{"an unbroken one does not", `{"jobs": [{"id": "a", "due_minute": 100, "weight": 1, "release_minute": 20, "steps": [{"minutes": 50, "unbroken": true}]}],
			"calendar": [{"from_minute": 0, "to_minute": 60, "hands": 1}, {"from_minute": 100, "to_minute": 160, "hands": 1}]}`,
			50, []int64{150}, "40 minutes are left in the first spell"},
		{"spells that touch make one stretch", `{"jobs": [{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 50, "unbroken": true}]}],
			"calendar": [{"from_minute": 0, "to_minute": 30, "hands": 1}, {"from_minute": 30, "to_minute": 60, "hands": 2}]}`,
			50, []int64{50}, "nobody stops at minute 30"},
		{"one clamp, two hands", `{"jobs": [
			{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 10, "needs": ["clamp"]}]},
			{"id": "b", "due_minute": 0, "weight": 1, "steps": [{"minutes": 20, "needs": ["clamp"]}]}],
			"hands": 2, "resources": [{"id": "clamp", "count": 1}]}`,
			40, []int64{10, 30}, "10 + 30"},
		{"weights with decimals", `{"jobs": [{"id": "a", "due_minute": 3, "weight": 0.25, "minutes": 10}]}`,
			1.75, []int64{10}, "0.25 x 7"},
		{"better to wait for the heavy one", `{"jobs": [
			{"id": "long", "due_minute": 100, "weight": 1, "minutes": 100},
			{"id": "heavy", "due_minute": 11, "weight": 10, "release_minute": 1, "minutes": 10}]}`,
			11, []int64{111, 11}, "the hand idles a minute: 11 late instead of 10 x 99"},
		{"held in the middle", `{"jobs": [
			{"id": "a", "due_minute": 0, "weight": 1, "minutes": 10, "fixed_start_minute": 5},
			{"id": "b", "due_minute": 0, "weight": 1, "minutes": 6}]}`,
			36, []int64{15, 21}, "b does not fit before the held one"},
		{"a wait after the last step does not count", `{"jobs": [
			{"id": "a", "due_minute": 10, "weight": 1, "steps": [{"minutes": 10, "wait_minutes": 99}]},
			{"id": "b", "due_minute": 15, "weight": 1, "minutes": 5, "predecessors": ["a"]}]}`,
			0, []int64{10, 15}, "calculation contract, details"},
		{"nothing to do", `{"jobs": []}`, 0, nil, "an empty plan is a plan"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			in := luckyIn(t, tt.raw)
			out := mustPlan(t, in)
			require.Equal(t, tt.want, out.WeightedTardiness, tt.source)
			require.True(t, out.Proved)
			for j, end := range tt.ends {
				require.Equal(t, end, out.Jobs[j].EndMinute, tt.source)
			}
			if len(in.Jobs) > 0 {
				solversAgree(t, in, tt.want)
			}
		})
	}
}
