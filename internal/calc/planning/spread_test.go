package planning

import (
	"context"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// luckyIn reads a problem from JSON.
func luckyIn(t *testing.T, raw string) In {
	t.Helper()
	var in In
	require.NoError(t, json.Unmarshal([]byte(raw), &in))
	return in
}

// One step alone takes a triangular time: the share of draws that end by a minute
// must follow the distribution's closed form.
func TestSpreadIsTriangular(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 300, "low_minutes": 100, "high_minutes": 900}]}]}`)
	out := mustPlan(t, in)
	const draws = 4000
	ends, err := Spread(in, out, draws)
	require.NoError(t, err)
	require.Len(t, ends[0], draws)
	tests := []struct {
		minute int64
		want   float64
		source string
	}{
		{100, 0, "nothing below the low"},
		{200, 100 * 100 / (800.0 * 200), "(x-a)^2 / ((b-a)(m-a))"},
		{300, 200 / 800.0, "(m-a) / (b-a)"},
		{600, 1 - 300*300/(800.0*600), "1 - (b-x)^2 / ((b-a)(b-m))"},
		{900, 1, "nothing above the high"},
	}
	for _, tt := range tests {
		n := 0
		for _, e := range ends[0] {
			if e <= tt.minute {
				n++
			}
		}
		// Three standard errors of a share of 4000, and half a minute of rounding.
		require.InDelta(t, tt.want, float64(n)/draws, 3*0.5/math.Sqrt(draws)+0.003, tt.source)
	}
	// Four of five: b - sqrt(0.2 (b-a)(b-m)) = 900 - sqrt(0.2 x 800 x 600) = 590.2.
	require.NotNil(t, out.Jobs[0].EndP80Minute)
	require.InDelta(t, 590, float64(*out.Jobs[0].EndP80Minute), 40)
}

func TestSpreadPlaysByTheRules(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, raw string
		low, high []int64 // of the ends of each job
		source    string
	}{
		{"no luck at all", `{"jobs": [{"id": "a", "due_minute": 0, "weight": 2, "minutes": 10}, {"id": "b", "due_minute": 50, "weight": 1, "minutes": 5}]}`,
			[]int64{10, 15}, []int64{10, 15}, "nothing to draw"},
		{"the second waits for the first", `{"jobs": [{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 10, "low_minutes": 8, "high_minutes": 30}]}, {"id": "b", "due_minute": 50, "weight": 1, "minutes": 5}]}`,
			[]int64{8, 13}, []int64{30, 35}, "one hand, order a b"},
		{"a held job starts no sooner", `{"jobs": [{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 10, "low_minutes": 5, "high_minutes": 30}]}, {"id": "b", "due_minute": 50, "weight": 1, "minutes": 5, "fixed_start_minute": 20}]}`,
			[]int64{5, 25}, []int64{30, 35}, "from minute 20, or behind a"},
		{"over the closed hour", `{"jobs": [{"id": "a", "due_minute": 0, "weight": 9, "steps": [{"minutes": 10, "high_minutes": 30, "unbroken": true}]}], "calendar": [{"from_minute": 0, "to_minute": 20, "hands": 1}, {"from_minute": 80, "to_minute": 140, "hands": 1}]}`,
			[]int64{10}, []int64{110}, "10 to 20 in the first spell, else unbroken in the second"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			in := luckyIn(t, tt.raw)
			ends, err := Spread(in, mustPlan(t, in), 500)
			require.NoError(t, err)
			for j, e := range ends {
				require.GreaterOrEqual(t, e[0], tt.low[j], tt.source)
				require.LessOrEqual(t, e[len(e)-1], tt.high[j], tt.source)
				if tt.low[j] < tt.high[j] {
					require.Less(t, e[0], e[len(e)-1])
				}
			}
		})
	}
}

// The calendar may end before an unlucky course of the work does.
func TestSpreadRunsOutOfHours(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 1, "steps": [{"minutes": 10, "high_minutes": 90}]}, {"id": "b", "due_minute": 0, "weight": 1, "minutes": 1, "predecessors": ["a"]}],
	  "calendar": [{"from_minute": 0, "to_minute": 12, "hands": 1}]}`)
	out := mustPlan(t, in)
	require.Nil(t, out.Jobs[0].EndP80Minute, "in most cases it is never done")
	ends, err := Spread(in, out, 200)
	require.NoError(t, err)
	require.EqualValues(t, never, ends[0][199])
	require.EqualValues(t, never, ends[1][199], "what waits for it neither")
	_, err = Spread(In{}, out, 1)
	require.ErrorContains(t, err, "lay the plan anew first")
	_, err = Plan(context.Background(), in)
	require.NoError(t, err)
}
