package drying

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
)

func plain() DryingIn {
	start := 65.0
	return DryingIn{StackedOn: "2031-03-01", ThicknessMM: 28, Species: "hoop-pine", StartMCPct: &start, TargetMCPct: 15, Climate: coast}
}

func dry(t *testing.T, in DryingIn) DryingOut {
	t.Helper()
	out, err := Drying(context.Background(), in)
	require.NoError(t, err)
	return out
}

// TestCurve: laws of the answer; the dates stand where the chances pass a half and
// four fifths, and the chance never falls.
func TestCurve(t *testing.T) {
	t.Parallel()
	out := dry(t, plain())
	require.False(t, out.Never)
	require.Less(t, *out.ReadyOn, *out.ReadyOnP80)
	require.Equal(t, "2031-03-01", out.Curve[0].On)
	require.InDelta(t, 65, out.Curve[0].MCPct, 0.01)
	require.LessOrEqual(t, len(out.Curve), 410)
	for i, p := range out.Curve {
		if i > 0 {
			require.Less(t, out.Curve[i-1].On, p.On)
			require.LessOrEqual(t, out.Curve[i-1].Chance, p.Chance)
		}
		require.Equal(t, p.On >= *out.ReadyOn, p.Chance >= 0.5, p.On)
		require.Equal(t, p.On >= *out.ReadyOnP80, p.Chance >= 0.8, p.On)
	}
	require.Greater(t, out.Curve[len(out.Curve)-1].Chance, 0.99)
}

// TestOrder: what must come later does, and every argument differs.
func TestOrder(t *testing.T) {
	t.Parallel()
	base := *dry(t, plain()).ReadyOn
	change := func(f func(*DryingIn)) string {
		in := plain()
		f(&in)
		return *dry(t, in).ReadyOn
	}
	wet := 110.0
	require.Less(t, base, change(func(in *DryingIn) { in.ThicknessMM = 40 }))
	require.Less(t, base, change(func(in *DryingIn) { in.StartMCPct = &wet }))
	require.Less(t, base, change(func(in *DryingIn) { in.TargetMCPct = 14 }))
	require.Less(t, base, change(func(in *DryingIn) { in.Species = "spotted-gum" }))
	require.Greater(t, base, change(func(in *DryingIn) { in.Species = "paulownia" }))
	reading := func(mc float64) string {
		return change(func(in *DryingIn) { in.Readings = []Reading{{"2031-04-10", mc}} })
	}
	require.Less(t, reading(24), reading(32))
	require.Less(t, change(func(in *DryingIn) { in.Readings = []Reading{{"2031-04-10", 14}} }), base)
}

// TestLateReadingsWeighMore: of two that disagree about the pace, the later has its way.
func TestLateReadingsWeighMore(t *testing.T) {
	t.Parallel()
	in := plain()
	in.ThicknessMM, in.Readings = 50, []Reading{{"2031-04-01", 30}, {"2031-09-01", 30}}
	slow := dry(t, in)
	in.Readings = []Reading{{"2031-04-01", 60}, {"2031-09-01", 18}}
	fast := dry(t, in)
	require.Less(t, slow.Pace, fast.Pace)
	require.Less(t, *fast.ReadyOn, *slow.ReadyOn)
}

// TestNever: source Wood Handbook eq. 4-5: 22 degrees and 90 % settle at about 20 %.
func TestNever(t *testing.T) {
	t.Parallel()
	in := plain()
	in.TargetMCPct = 12
	in.Climate = make([]Month, 12)
	for i := range in.Climate {
		in.Climate[i] = Month{22, 90}
	}
	out := dry(t, in)
	require.True(t, out.Never)
	require.Nil(t, out.ReadyOn)
	require.Nil(t, out.ReadyOnP80)
	require.NotEmpty(t, out.Curve)
	text, err := json.Marshal(out)
	require.NoError(t, err)
	require.Contains(t, string(text), `"ready_on":null,"ready_on_p80":null,"never":true`)
	require.InDelta(t, 20.4, out.Curve[len(out.Curve)-1].MCPct, 0.3, "it settles at the equilibrium")
}

func TestAsOf(t *testing.T) {
	t.Parallel()
	in := plain()
	in.AsOf = "2032-09-01"
	out := dry(t, in)
	require.Equal(t, "2032-09-01", *out.ReadyOn, "no day that is gone is promised")
	in = plain()
	in.Readings = []Reading{{"2031-05-01", 12}}
	require.Equal(t, "2031-05-01", *dry(t, in).ReadyOn, "a pack that reads well below the target is dry")
	in.Readings = []Reading{{in.StackedOn, 30}}
	require.InDelta(t, 30, dry(t, in).Curve[0].MCPct, 1e-9, "read on the day of stacking")
}

// TestSampleBoards: boards read on one day are as good as their mean, and surer than one.
func TestSampleBoards(t *testing.T) {
	t.Parallel()
	in := plain()
	in.Readings = []Reading{{"2031-04-20", 24}}
	one := dry(t, in)
	in.Readings = []Reading{{"2031-04-20", 22}, {"2031-04-20", 27}, {"2031-04-20", 23}}
	three := dry(t, in)
	stacked := time.Date(2031, 3, 1, 0, 0, 0, 0, time.UTC)
	require.InDelta(t, dayOf(t, stacked, *one.ReadyOn), dayOf(t, stacked, *three.ReadyOn), 5)
	require.Less(t, dayOf(t, stacked, *three.ReadyOnP80)-dayOf(t, stacked, *three.ReadyOn),
		dayOf(t, stacked, *one.ReadyOnP80)-dayOf(t, stacked, *one.ReadyOn)+1)
}

func TestRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, from, to, pointer string }{
		{"no date", `"2031-03-01"`, `"1 March"`, "/stacked_on"},
		{"no such day", `"2031-03-01"`, `"2031-02-30"`, "/stacked_on"},
		{"no thickness", `"thickness_mm":28`, `"thickness_mm":0`, "/thickness_mm"},
		{"unknown species", `hoop-pine`, `treacle`, "/species"},
		{"target absurd", `"target_mc_pct":15`, `"target_mc_pct":-1`, "/target_mc_pct"},
		{"eleven months", `{"temperature_c":25,"humidity_pct":68},`, ``, "/climate"},
		{"humidity over a hundred", `"humidity_pct":70`, `"humidity_pct":170`, "/climate/1/humidity_pct"},
		{"reading before stacking", `2031-04-10`, `2031-02-10`, "/readings/0/on"},
		{"readings out of order", `2031-05-10`, `2031-04-09`, "/readings/1/on"},
		{"reading above green", `"mc_pct":33`, `"mc_pct":80`, "/readings/0/mc_pct"},
		{"as of before the last reading", `"as_of":"2031-06-01"`, `"as_of":"2031-05-01"`, "/as_of"},
		{"as of in another age", `"as_of":"2031-06-01"`, `"as_of":"2131-05-01"`, "/as_of"},
		{"target left out", `"target_mc_pct":15,`, ``, "/target_mc_pct"},
	}
	in := plain()
	in.Readings, in.AsOf = []Reading{{"2031-04-10", 33}, {"2031-05-10", 22}}, "2031-06-01"
	raw, err := json.Marshal(in)
	require.NoError(t, err)
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			require.Contains(t, string(raw), tc.from)
			_, err := Topics()[0].Run(context.Background(), []byte(strings.Replace(string(raw), tc.from, tc.to, 1)))
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tc.pointer, bad.Fields[0].Pointer)
		})
	}
}

// TestSpeed: a pack that hardly dries is the slowest case; it stays well under a second.
func TestSpeed(t *testing.T) {
	t.Parallel()
	in := plain()
	in.ThicknessMM, in.TargetMCPct = 250, 13.2
	began := time.Now()
	dry(t, in)
	require.Less(t, time.Since(began), time.Minute, "generous: other work may share the machine")
}

// FuzzDrying: whatever is taken gives chances between 0 and 1 that never fall.
func FuzzDrying(f *testing.F) {
	f.Add([]byte(example))
	raw, err := json.Marshal(plain())
	require.NoError(f, err)
	f.Add(raw)
	f.Fuzz(func(t *testing.T, raw []byte) {
		var in DryingIn
		if contract.Decode(raw, &in) != nil {
			return
		}
		out, err := Drying(context.Background(), in)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		require.Equal(t, out.Never, out.ReadyOn == nil)
		for i, p := range out.Curve {
			require.True(t, p.Chance >= 0 && p.Chance <= 1 && p.MCPct >= 0)
			if i > 0 {
				require.LessOrEqual(t, out.Curve[i-1].Chance, p.Chance)
			}
		}
	})
}
