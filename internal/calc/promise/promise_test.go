package promise

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

func TestPromise(t *testing.T) {
	t.Parallel()
	pct := func(v float64) *float64 { return &v }
	timber := Part{"timber", []Point{{"2026-09-01", 0.6}, {"2026-09-20", 0.95}}}
	bench := Part{"bench", []Point{{"2026-09-10", 0.9}, {"2026-09-24", 0.99}}}
	bees := Part{"bees", []Point{{"2026-12-01", 0.5}, {"2026-10-01", 0.25}}}
	tests := []struct {
		name    string
		in      In
		on      string
		decides string
		each    map[string]float64
		source  string
	}{
		{"one part", In{Parts: []Part{timber}}, "2026-09-20", "timber", map[string]float64{"timber": 0.95}, "first chance of at least 0.8"},
		{"product reaches 0.855", In{Parts: []Part{timber, bench}}, "2026-09-20", "timber", map[string]float64{"timber": 0.95, "bench": 0.9}, "0.95 x 0.9, by hand"},
		{"just reached", In{Parts: []Part{timber, bench}, CertaintyPct: pct(85.5)}, "2026-09-20", "timber", map[string]float64{"timber": 0.95, "bench": 0.9}, "0.95 x 0.9 = 0.855"},
		{"more certain, the bench decides", In{Parts: []Part{timber, bench}, CertaintyPct: pct(90)}, "2026-09-24", "bench", map[string]float64{"timber": 0.95, "bench": 0.99}, "0.95 x 0.99 = 0.9405"},
		{"low certainty on the bench's first day", In{Parts: []Part{timber, bench}, CertaintyPct: pct(54)}, "2026-09-10", "bench", map[string]float64{"timber": 0.6, "bench": 0.9}, "0.6 x 0.9 = 0.54"},
		{"never: the least likely decides", In{Parts: []Part{timber, bench, bees}}, "", "bees", map[string]float64{"timber": 0.95, "bench": 0.99, "bees": 0.5}, "0.95 x 0.99 x 0.5 = 0.47"},
		{"points in any order", In{Parts: []Part{bees}, CertaintyPct: pct(25)}, "2026-10-01", "bees", map[string]float64{"bees": 0.25}, "sorted by day"},
		{"a part that never comes", In{Parts: []Part{timber, {ID: "colony"}}}, "", "colony", map[string]float64{"timber": 0.95, "colony": 0}, "no points: chance 0"},
		{"two on one day: the less likely decides", In{Parts: []Part{
			{"a", []Point{{"2026-09-20", 0.99}}}, {"b", []Point{{"2026-09-20", 0.9}}}}}, "2026-09-20", "b", map[string]float64{"a": 0.99, "b": 0.9}, "rule of Promise"},
		{"a flat step did not rise again", In{Parts: []Part{
			{"a", []Point{{"2026-09-01", 0.9}, {"2026-09-20", 0.9}}}, {"b", []Point{{"2026-09-10", 0.95}}}}}, "2026-09-10", "b", map[string]float64{"a": 0.9, "b": 0.95}, "a reached 0.9 on the 1st"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			out, err := Promise(context.Background(), tt.in)
			require.NoError(t, err)
			require.Equal(t, tt.on, out.On, tt.source)
			require.Equal(t, tt.on == "", out.Never)
			require.Equal(t, tt.decides, out.Decides, tt.source)
			require.Equal(t, tt.each, out.ChanceOfEach)
			require.Contains(t, out.Assumption, "independent")
		})
	}
}

// TestPromiseAgainstScan compares with a slow walk over all days of a month.
func TestPromiseAgainstScan(t *testing.T) {
	t.Parallel()
	day := func(d int) string { return fmt.Sprintf("2026-10-%02d", d) }
	rapid.Check(t, func(t *rapid.T) {
		var in In
		table := make([][32]float64, rapid.IntRange(1, 5).Draw(t, "parts"))
		for i := range table {
			part := Part{ID: fmt.Sprint("p", i)}
			chance := 0.0
			for d := 1; d <= 31; d++ {
				if rapid.IntRange(0, 5).Draw(t, "step") == 0 {
					chance += (1 - chance) * rapid.Float64Range(0, 1).Draw(t, "up")
					part.Curve = append(part.Curve, Point{day(d), chance})
				}
				table[i][d] = chance
			}
			in.Parts = append(in.Parts, part)
		}
		pct := rapid.Float64Range(0.5, 100).Draw(t, "certainty")
		in.CertaintyPct = &pct
		out, err := Promise(context.Background(), in)
		require.NoError(t, err)
		want, at := "", 31
		for d := 1; d <= 31 && want == ""; d++ {
			p := 1.0
			for i := range table {
				p *= table[i][d]
			}
			if p >= pct/100-chanceTol {
				want, at = day(d), d
			}
		}
		require.Equal(t, want, out.On)
		require.Equal(t, want == "", out.Never)
		for i := range table {
			require.InDelta(t, table[i][at], out.ChanceOfEach[fmt.Sprint("p", i)], 1e-15)
			if want != "" && out.Decides == fmt.Sprint("p", i) {
				require.Greater(t, table[i][at], table[i][at-1], "the deciding part rises on the day")
			}
		}
	})
}

func TestPromiseRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, pointer, raw string }{
		{"no parts", "/parts", `{"parts": []}`},
		{"equal ids", "/parts/1/id", `{"parts": [{"id": "a", "curve": []}, {"id": "a", "curve": []}]}`},
		{"no id", "/parts/0/id", `{"parts": [{"curve": []}]}`},
		{"no such day", "/parts/0/curve/0/on", `{"parts": [{"id": "a", "curve": [{"on": "2026-13-01", "chance": 1}]}]}`},
		{"chance below zero", "/parts/0/curve/0/chance", `{"parts": [{"id": "a", "curve": [{"on": "2026-12-01", "chance": -1}]}]}`},
		{"falling", "/parts/0/curve/0/chance", `{"parts": [{"id": "a", "curve": [{"on": "2026-12-02", "chance": 0.5}, {"on": "2026-12-01", "chance": 0.6}]}]}`},
		{"a day twice", "/parts/0/curve/1/on", `{"parts": [{"id": "a", "curve": [{"on": "2026-12-02", "chance": 0.5}, {"on": "2026-12-02", "chance": 0.6}]}]}`},
		{"certainty over 100", "/certainty_pct", `{"parts": [{"id": "a", "curve": []}], "certainty_pct": 101}`},
		{"certainty of nothing", "/certainty_pct", `{"parts": [{"id": "a", "curve": []}], "certainty_pct": 0}`},
	}
	topic := Topics()[0]
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := topic.Run(context.Background(), []byte(tt.raw))
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tt.pointer, bad.Fields[0].Pointer)
		})
	}
	_, err := Promise(context.Background(), In{Parts: make([]Part, MaxParts+1)})
	require.ErrorContains(t, err, "at most")
	_, err = Promise(context.Background(), In{Parts: []Part{{"a", make([]Point, MaxPoints+1)}}})
	require.ErrorContains(t, err, "at most")
}

func TestPromiseJSON(t *testing.T) {
	t.Parallel()
	topic := Topics()[0]
	out, err := topic.Run(context.Background(), []byte(topic.Example))
	require.NoError(t, err)
	require.Equal(t, "2026-09-20", out.(Out).On)
	out, err = topic.Run(context.Background(), []byte(`{"parts": [{"id": "a", "curve": []}]}`))
	require.NoError(t, err)
	raw, err := json.Marshal(out)
	require.NoError(t, err)
	require.Contains(t, string(raw), `"never":true`)
	require.NotContains(t, string(raw), `"on"`, "never stands in place of the date")
}

func FuzzPromise(f *testing.F) {
	topic := Topics()[0]
	f.Add([]byte(topic.Example))
	f.Fuzz(func(t *testing.T, raw []byte) {
		out, err := topic.Run(context.Background(), raw)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		require.NotEmpty(t, out.(Out).Decides)
	})
}
