package planning

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

// unhurried gives in with a time limit that no search reaches, so that a busy
// machine or the race detector changes nothing: only the work limits count.
func unhurried(in In) In {
	limit := int64(120_000)
	in.TimeLimitMS = &limit
	return in
}

// mustPlan plans unhurried and looks the plan over.
func mustPlan(t require.TestingT, in In) Out {
	out, err := Plan(context.Background(), unhurried(in))
	require.NoError(t, err)
	require.NoError(t, Check(in, out))
	return out
}

func TestPlanKeepsTheRules(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := unhurried(drawIn(t, 6, 3))
		out, err := Plan(context.Background(), in)
		if err != nil { // held jobs may stand in one another's way
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		require.NoError(t, Check(in, out))
		again := mustPlan(t, in)
		require.Equal(t, out, again, "same input, same plan")
	})
}

func TestPlanExample(t *testing.T) {
	t.Parallel()
	topic := Topics()[0]
	out, err := topic.Run(context.Background(), []byte(topic.Example))
	require.NoError(t, err)
	require.Len(t, out.(Out).Jobs, 3)
}

func TestPlanRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, pointer, says, raw string }{
		{"equal ids", "/jobs/1/id", "twice", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1}, {"id": "a", "minutes": 1, "due_minute": 1, "weight": 1}]}`},
		{"no work", "/jobs/0", "neither", `{"jobs": [{"id": "a", "due_minute": 1, "weight": 1}]}`},
		{"both forms", "/jobs/0", "both", `{"jobs": [{"id": "a", "minutes": 1, "steps": [{"minutes": 1}], "due_minute": 1, "weight": 1}]}`},
		{"no minutes", "/jobs/0", "no minutes", `{"jobs": [{"id": "a", "minutes": 0, "due_minute": 1, "weight": 1}]}`},
		{"negative minutes", "/jobs/0/minutes", "between", `{"jobs": [{"id": "a", "minutes": -1, "due_minute": 1, "weight": 1}]}`},
		{"due before the origin", "/jobs/0/due_minute", "between", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": -1, "weight": 1}]}`},
		{"negative weight", "/jobs/0/weight", "between", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": -1}]}`},
		{"due left out", "/jobs/0/due_minute", "missing", `{"jobs": [{"id": "a", "minutes": 1, "weight": 1}]}`},
		{"ring", "/jobs/0/predecessors", "ring", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["b"]}, {"id": "b", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["a"]}]}`},
		{"waits for itself", "/jobs/0/predecessors", "ring", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["a"]}]}`},
		{"unknown predecessor", "/jobs/0/predecessors/0", "not in the list", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["x"]}]}`},
		{"unknown resource", "/jobs/0/steps/0/needs/0", "not in the list", `{"jobs": [{"id": "a", "steps": [{"minutes": 1, "needs": ["x"]}], "due_minute": 1, "weight": 1}]}`},
		{"empty calendar", "/calendar", "empty", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1}], "calendar": []}`},
		{"calendar of nobody", "/calendar", "nobody|anybody", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1}], "calendar": [{"from_minute": 0, "to_minute": 9, "hands": 0}]}`},
		{"spell backwards", "/calendar/0/to_minute", "after", `{"jobs": [], "calendar": [{"from_minute": 9, "to_minute": 9, "hands": 1}]}`},
		{"spells overlap", "/calendar/1/from_minute", "overlaps", `{"jobs": [], "calendar": [{"from_minute": 0, "to_minute": 9, "hands": 1}, {"from_minute": 8, "to_minute": 12, "hands": 1}]}`},
		{"no hands", "/hands", "between", `{"jobs": [], "hands": 0}`},
		{"held before release", "/jobs/0/fixed_start_minute", "released", `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1, "release_minute": 5, "fixed_start_minute": 4}]}`},
		{"held in closed time", "/jobs/0/fixed_start_minute", `"a" can never start at minute 4`, `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1, "fixed_start_minute": 4}], "calendar": [{"from_minute": 8, "to_minute": 12, "hands": 1}]}`},
		{"timber that never dries", "/jobs/0", `"a" can never be done`, `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 1, "weight": 1, "release_minute": 9000}], "calendar": [{"from_minute": 0, "to_minute": 600, "hands": 1}]}`},
		{"no spell long enough", "/jobs/0", `"a" can never start step 1`, `{"jobs": [{"id": "a", "steps": [{"minutes": 10, "unbroken": true}], "due_minute": 1, "weight": 1}], "calendar": [{"from_minute": 0, "to_minute": 6, "hands": 1}, {"from_minute": 7, "to_minute": 12, "hands": 1}]}`},
		{"no clamps at all", "/jobs/0", "resource", `{"jobs": [{"id": "a", "steps": [{"minutes": 10, "needs": ["clamps"]}], "due_minute": 1, "weight": 1}], "resources": [{"id": "clamps", "count": 0}]}`},
		{"too few hours for all", "/calendar", "never be done", `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 1, "weight": 1}, {"id": "b", "minutes": 10, "due_minute": 1, "weight": 1}], "calendar": [{"from_minute": 0, "to_minute": 15, "hands": 1}]}`},
		{"two held at once", "/jobs/1/fixed_start_minute", `"b" can start at minute 2`, `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 1, "weight": 1, "fixed_start_minute": 0}, {"id": "b", "minutes": 10, "due_minute": 1, "weight": 1, "fixed_start_minute": 2}]}`},
		{"held before what it waits for", "/jobs/1/fixed_start_minute", `"b" can never start at minute 2`, `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 1, "weight": 1}, {"id": "b", "minutes": 10, "due_minute": 1, "weight": 1, "fixed_start_minute": 2, "predecessors": ["a"]}]}`},
		{"waits into the year 3000", "/jobs/1", `"b" cannot be done within a hundred years`, `{"jobs": [{"id": "a", "minutes": 1, "due_minute": 1, "weight": 1}, {"id": "b", "steps": [{"minutes": 1, "wait_minutes": 52704000}, {"minutes": 1}], "due_minute": 1, "weight": 1}]}`},
		{"waits for what takes a hundred years", "/jobs/1", `"b" cannot be done within a hundred years`, `{"jobs": [{"id": "a", "minutes": 52704000, "due_minute": 1, "weight": 1}, {"id": "b", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["a"]}]}`},
		{"no steps", "/jobs/0", "neither", `{"jobs": [{"id": "a", "steps": [], "due_minute": 1, "weight": 1}]}`},
		{"steps of no minutes", "/jobs/0", "no minutes", `{"jobs": [{"id": "a", "steps": [{"minutes": 0, "wait_minutes": 5}], "due_minute": 1, "weight": 1}]}`},
		{"ring of three", "/jobs/1/predecessors", "ring", `{"jobs": [{"id": "z", "minutes": 1, "due_minute": 1, "weight": 1}, {"id": "a", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["c"]}, {"id": "b", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["a"]}, {"id": "c", "minutes": 1, "due_minute": 1, "weight": 1, "predecessors": ["b"]}]}`},
		{"the year 3000", "/jobs/0/release_minute", "between", `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 1, "weight": 1, "release_minute": 512000000}]}`},
		{"low above middle", "/jobs/0/steps/0/low_minutes", "above", `{"jobs": [{"id": "a", "steps": [{"minutes": 10, "low_minutes": 11}], "due_minute": 1, "weight": 1}]}`},
		{"unknown field", "/color", "not a field", `{"jobs": [], "color": 1}`},
	}
	topic := Topics()[0]
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := topic.Run(context.Background(), []byte(tt.raw))
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tt.pointer, bad.Fields[0].Pointer)
			require.Regexp(t, tt.says, bad.Error())
		})
	}
}

// requireBadOrNil allows no error but one about the input; a plan that breaks a
// rule would be another.
func requireBadOrNil(t require.TestingT, err error) {
	if err != nil {
		var bad *contract.Error
		require.ErrorAs(t, err, &bad)
	}
}

// Due before it can begin is no mistake: it is late from its due minute on, and says so.
func TestDueBeforeTheStart(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 0, "weight": 2, "release_minute": 50}, {"id": "b", "minutes": 5, "due_minute": 3, "weight": 1, "fixed_start_minute": 40}]}`)
	out := mustPlan(t, in)
	require.EqualValues(t, 60, out.Jobs[0].TardyMinutes, "by hand: 50 to 60, due at 0")
	require.EqualValues(t, 42, out.Jobs[1].TardyMinutes, "by hand: 40 to 45, due at 3")
	require.Equal(t, 162.0, out.WeightedTardiness)
	require.True(t, out.Proved)
}
