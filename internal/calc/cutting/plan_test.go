package cutting

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
)

func run(t *testing.T, in In) Out {
	t.Helper()
	out, err := Plan(context.Background(), in)
	require.NoError(t, err)
	require.NoError(t, Check(in, out))
	return out
}

func money(s string) *Cost { return NewCost(decimal.RequireFromString(s)) }

func TestKerfTrimAndOffcut(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, source string
		in           In
		boards       int
		offcut       float64
	}{
		{"flush end loses no kerf", "two parts and one kerf: 2 x 498.4 + 3.2 = 1000",
			In{KerfMM: 3.2, Boards: []Board{{ID: "b", LengthMM: 1000, Count: 2}}, Parts: []Part{{ID: "p", LengthMM: 498.4, Count: 2}}}, 1, 0},
		{"a tenth too long", "2 x 498.5 + 3.2 = 1000.2 does not go on 1000: each board gives 1000 - 498.5 - 3.2",
			In{KerfMM: 3.2, Boards: []Board{{ID: "b", LengthMM: 1000, Count: 2}}, Parts: []Part{{ID: "p", LengthMM: 498.5, Count: 2}}}, 2, 498.3},
		{"last kerf comes off the offcut", "1000 - 2 x 400 - 2 x 4 = 192",
			In{KerfMM: 4, Boards: []Board{{ID: "b", LengthMM: 1000, Count: 2}}, Parts: []Part{{ID: "p", LengthMM: 400, Count: 2}}}, 1, 192},
		{"less than a kerf is left", "1000 - 2 x 497 - 4 = 2, which the last kerf eats",
			In{KerfMM: 4, Boards: []Board{{ID: "b", LengthMM: 1000, Count: 2}}, Parts: []Part{{ID: "p", LengthMM: 497, Count: 2}}}, 1, 0},
		{"trim at each end", "1000 - 2 x 10 - 2 x 480 - 2 x 5 = 10",
			In{KerfMM: 5, TrimMM: 10, Boards: []Board{{ID: "b", LengthMM: 1000, Count: 2}}, Parts: []Part{{ID: "p", LengthMM: 480, Count: 2}}}, 1, 10},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			out := run(t, tt.in)
			require.True(t, out.Proved)
			require.Equal(t, tt.boards, out.BoardsUsed, tt.source)
			require.Equal(t, UnitBoards, out.BoundUnit)
			require.InDelta(t, tt.offcut, out.Layouts[0].OffcutMM, 1e-9, tt.source)
		})
	}
}

func TestObjectiveUnits(t *testing.T) {
	t.Parallel()
	in := In{Boards: []Board{{ID: "long", LengthMM: 3000, Count: 3}, {ID: "short", LengthMM: 1000, Count: 3}},
		Parts: []Part{{ID: "p", LengthMM: 900, Count: 2}}}
	out := run(t, in)
	require.Equal(t, 2000.0, out.LengthUsedMM, "two short boards are shorter than one long")
	require.Equal(t, "mm 2000", out.BoundUnit+" "+out.Bound.String())
	require.True(t, out.Proved)
	require.Nil(t, out.Cost)

	in.Boards[0].Cost, in.Boards[1].Cost = money("4.50"), money("2.30")
	out = run(t, in)
	require.Equal(t, "4.5", out.Cost.String(), "one long board at 4.50 against two short at 4.60")
	require.True(t, out.Proved)
	raw, err := json.Marshal(out)
	require.NoError(t, err)
	require.Contains(t, string(raw), `"cost":"4.50","bound":"4.50","bound_unit":"cost","proved":true`)
	require.Contains(t, string(raw), `"unplaced":[]`)
}

func TestOldestOffcutFirst(t *testing.T) {
	t.Parallel()
	in := In{KerfMM: 2, Boards: []Board{
		{ID: "new", LengthMM: 800, Count: 5},
		{ID: "young offcut", LengthMM: 800, Count: 1, Offcut: true, AgeDays: 3},
		{ID: "old offcut", LengthMM: 800, Count: 1, Offcut: true, AgeDays: 90},
	}, Parts: []Part{{ID: "p", LengthMM: 700, Count: 2}}}
	out := run(t, in)
	require.Equal(t, 2, out.BoardsUsed)
	require.Equal(t, []string{"old offcut", "young offcut"}, []string{out.Layouts[0].Board, out.Layouts[1].Board})
}

func TestUnplaced(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name     string
		in       In
		unplaced []PartCount
		proved   bool
	}{
		{"one board, three parts, two fit", In{KerfMM: 3, Boards: []Board{{ID: "b", LengthMM: 1000, Count: 1}},
			Parts: []Part{{ID: "p", LengthMM: 450, Count: 3}}}, []PartCount{{"p", 1}}, true},
		{"empty rack", In{KerfMM: 3, Parts: []Part{{ID: "p", LengthMM: 450, Count: 3}}}, []PartCount{{"p", 3}}, true},
		{"the greatest length is placed, not the most parts", In{Boards: []Board{{ID: "b", LengthMM: 1000, Count: 1}},
			Parts: []Part{{ID: "one", LengthMM: 900, Count: 1}, {ID: "two", LengthMM: 400, Count: 2}}}, []PartCount{{"two", 2}}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, tt.unplaced, run(t, tt.in).Unplaced)
		})
	}
}

func TestRefuses(t *testing.T) {
	t.Parallel()
	good := func() In {
		return In{KerfMM: 3, Boards: []Board{{ID: "b", LengthMM: 2400, Count: 4}, {ID: "c", LengthMM: 900, Count: 4}},
			Parts: []Part{{ID: "p", LengthMM: 500, Count: 4}, {ID: "q", LengthMM: 300, Count: 4}}}
	}
	tests := []struct {
		name, pointer, says string
		change              func(*In)
	}{
		{"part longer than every board", "/parts/0/length_mm", `part "p" is 2401 mm long; the longest board, "b", gives 2400 mm`, func(in *In) { in.Parts[0].LengthMM = 2401 }},
		{"part longer than the trimmed boards", "/parts/0/length_mm", "gives 2380 mm", func(in *In) { in.Parts[0].LengthMM = 2381; in.TrimMM = 10 }},
		{"trim eats the boards", "/trim_mm", "leaves nothing", func(in *In) { in.TrimMM = 1200 }},
		{"no parts", "/parts", "at least one", func(in *In) { in.Parts = nil }},
		{"zero count", "/parts/1/count", "between 1 and", func(in *In) { in.Parts[1].Count = 0 }},
		{"negative count", "/boards/1/count", "between 1 and", func(in *In) { in.Boards[1].Count = -3 }},
		{"a million parts", "/parts/1/count", "between 1 and", func(in *In) { in.Parts[1].Count = 1000000 }},
		{"many parts in all", "/parts", "at most", func(in *In) { in.Parts[0].Count, in.Parts[1].Count = 60000, 60000 }},
		{"kerf wider than a part", "/kerf_mm", `wider than part "q"`, func(in *In) { in.KerfMM = 50; in.Parts[1].LengthMM = 49 }},
		{"negative kerf", "/kerf_mm", "between", func(in *In) { in.KerfMM = -1 }},
		{"kerf that is no number", "/kerf_mm", "must be a number", func(in *In) { in.KerfMM = math.NaN() }},
		{"endless board", "/boards/0/length_mm", "must be a number", func(in *In) { in.Boards[0].LengthMM = math.Inf(1) }},
		{"zero length", "/parts/0/length_mm", "above 0", func(in *In) { in.Parts[0].LengthMM = 0 }},
		{"finer than a thousandth", "/parts/0/length_mm", "three decimals", func(in *In) { in.Parts[0].LengthMM = 500.00005 }},
		{"equal part ids", "/parts/1/id", "twice", func(in *In) { in.Parts[1].ID = "p" }},
		{"equal board ids", "/boards/1/id", "twice", func(in *In) { in.Boards[1].ID = "b" }},
		{"empty id", "/boards/1/id", "empty", func(in *In) { in.Boards[1].ID = "" }},
		{"cost on some boards", "/boards/1/cost", "every board or on none", func(in *In) { in.Boards[0].Cost = money("3") }},
		{"negative cost", "/boards/0/cost", "between 0", func(in *In) { in.Boards[0].Cost, in.Boards[1].Cost = money("-3"), money("1") }},
		{"absurd cost", "/boards/0/cost", "between 0", func(in *In) { in.Boards[0].Cost, in.Boards[1].Cost = money("1e3000"), money("1") }},
		{"no time", "/time_limit_ms", "between 1", func(in *In) { zero := 0; in.TimeLimitMS = &zero }},
		{"negative age", "/boards/0/age_days", "between 0", func(in *In) { in.Boards[0].AgeDays = -1 }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			in := good()
			_, err := Plan(context.Background(), in)
			require.NoError(t, err)
			tt.change(&in)
			_, err = Plan(context.Background(), in)
			var bad *contract.Error
			require.True(t, errors.As(err, &bad), "got %v", err)
			require.Equal(t, tt.pointer, bad.Fields[0].Pointer)
			require.Contains(t, bad.Fields[0].Detail, tt.says)
		})
	}
}

func TestTopic(t *testing.T) {
	t.Parallel()
	topic := Topics()[0]
	got, err := topic.Run(context.Background(), []byte(topic.Example))
	require.NoError(t, err)
	require.Empty(t, got.(Out).Unplaced)
	for name, text := range map[string]string{
		"unknown field": `{"kerf_mm": 3, "boards": [], "parts": [{"id": "p", "length_mm": 3, "count": 1}], "blade": 2}`,
		"no kerf":       `{"boards": [], "parts": [{"id": "p", "length_mm": 3, "count": 1}]}`,
		"no boards":     `{"kerf_mm": 3, "parts": [{"id": "p", "length_mm": 3, "count": 1}]}`,
		"half a part":   `{"kerf_mm": 3, "boards": [], "parts": [{"id": "p", "length_mm": 3, "count": 1.5}]}`,
		"cost in words": `{"kerf_mm": 3, "boards": [{"id": "b", "length_mm": 9, "count": 1, "cost": "dear"}], "parts": [{"id": "p", "length_mm": 3, "count": 1}]}`,
	} {
		_, err := topic.Run(context.Background(), []byte(text))
		var bad *contract.Error
		require.True(t, errors.As(err, &bad), "%s: %v", name, err)
	}
}

func TestCancelledContextStillGivesAPlan(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithDeadline(context.Background(), time.Unix(0, 0))
	defer cancel()
	in := references(t, "Falkenauer_u500")[0].in()
	out, err := Plan(ctx, in)
	require.NoError(t, err)
	require.NoError(t, Check(in, out))
	require.Empty(t, out.Unplaced)
}

// TestWhatComesAfterThePrice: by hand, each case has several plans of the least
// length.
func TestWhatComesAfterThePrice(t *testing.T) {
	t.Parallel()
	t.Run("fewer boards", func(t *testing.T) {
		t.Parallel()
		// 1800 + 600 and 1200 + 1200 are both 2400 in two boards, 600 x 4 in four.
		out := run(t, In{Boards: []Board{{ID: "a", LengthMM: 600, Count: 4}, {ID: "b", LengthMM: 1200, Count: 2}},
			Parts: []Part{{ID: "p", LengthMM: 300, Count: 8}}})
		require.Equal(t, 2400.0, out.LengthUsedMM)
		require.Equal(t, 2, out.BoardsUsed, "two of 1200")
		require.True(t, out.Proved)
	})
	t.Run("offcuts among lengths", func(t *testing.T) {
		t.Parallel()
		// 1000 + 1400 (offcuts) or 1100 + 1300: both 2400 for parts of 900 and 1000.
		out := run(t, In{Boards: []Board{{ID: "new 1100", LengthMM: 1100, Count: 1}, {ID: "new 1300", LengthMM: 1300, Count: 1},
			{ID: "off 1000", LengthMM: 1000, Count: 1, Offcut: true, AgeDays: 9}, {ID: "off 1400", LengthMM: 1400, Count: 1, Offcut: true, AgeDays: 9}},
			Parts: []Part{{ID: "p", LengthMM: 950, Count: 1}, {ID: "q", LengthMM: 1290, Count: 1}}})
		require.Equal(t, 2300.0, out.LengthUsedMM, "1000 for p and 1300 for q")
		require.Equal(t, 2, out.BoardsUsed)
	})
	t.Run("few layouts", func(t *testing.T) {
		t.Parallel()
		out := run(t, In{Boards: []Board{{ID: "b", LengthMM: 1000, Count: 4}},
			Parts: []Part{{ID: "p", LengthMM: 400, Count: 4}, {ID: "q", LengthMM: 300, Count: 4}, {ID: "r", LengthMM: 250, Count: 4}}})
		require.Equal(t, 4, out.BoardsUsed, "3800 mm of parts")
		require.Len(t, out.Layouts, 1, "p + q + r, four times")
	})
	t.Run("one long offcut", func(t *testing.T) {
		t.Parallel()
		// 5 x 300 on two boards of 1000: 3 + 2 keeps 400.
		keep := 350.0
		out := run(t, In{Boards: []Board{{ID: "b", LengthMM: 1000, Count: 2}}, KeepOffcutMM: &keep,
			Parts: []Part{{ID: "p", LengthMM: 300, Count: 4}, {ID: "q", LengthMM: 310, Count: 1}}})
		require.Equal(t, 2, out.BoardsUsed)
		require.Equal(t, 400.0, out.KeptOffcutMM, "2 x 300 on one board")
	})
	t.Run("equal lengths under two names", func(t *testing.T) {
		t.Parallel()
		out := run(t, In{Boards: []Board{{ID: "b", LengthMM: 1000, Count: 2}},
			Parts: []Part{{ID: "p", LengthMM: 480, Count: 2}, {ID: "q", LengthMM: 480, Count: 2}}})
		require.Equal(t, 2, out.BoardsUsed)
		require.Empty(t, out.Unplaced)
	})
}

// A board that is overfull by a hundredth of a millimetre does not pass.
func TestCheckMeasuresExactly(t *testing.T) {
	t.Parallel()
	in := In{Boards: []Board{{ID: "b", LengthMM: 1000, Count: 1}}, Parts: []Part{{ID: "p", LengthMM: 500, Count: 2}}}
	out := run(t, in)
	in.Parts[0].LengthMM = 500.005
	require.ErrorContains(t, Check(in, out), "short by 0.01 mm")
}

// TestCheckFindsFaults spoils a good plan in every way that Check looks for.
func TestCheckFindsFaults(t *testing.T) {
	t.Parallel()
	in := In{KerfMM: 3, TrimMM: 5, Boards: []Board{{ID: "a", LengthMM: 2400, Count: 3}, {ID: "b", LengthMM: 1800, Count: 3}},
		Parts: []Part{{ID: "p", LengthMM: 700, Count: 5}, {ID: "q", LengthMM: 410, Count: 4}}}
	for name, spoil := range map[string]func(*Out){
		"unknown board":        func(o *Out) { o.Layouts[0].Board = "c" },
		"no times":             func(o *Out) { o.Layouts[0].Times = 0 },
		"a part too many":      func(o *Out) { o.Layouts[0].Cuts[0].Count++ },
		"no cuts":              func(o *Out) { o.Layouts[0].Cuts = nil },
		"unknown part":         func(o *Out) { o.Layouts[0].Cuts[0].Part = "r" },
		"wrong offcut":         func(o *Out) { o.Layouts[0].OffcutMM += 0.1 },
		"lost layout":          func(o *Out) { o.Layouts = o.Layouts[1:] },
		"unplaced and cut":     func(o *Out) { o.Unplaced = []PartCount{{"p", 1}} },
		"unplaced, unasked":    func(o *Out) { o.Unplaced = []PartCount{{"r", 1}} },
		"board count":          func(o *Out) { o.BoardsUsed++ },
		"length":               func(o *Out) { o.LengthUsedMM-- },
		"cost out of air":      func(o *Out) { o.Cost = money("1") },
		"bound too high":       func(o *Out) { o.Bound.Decimal = o.Bound.Add(decimal.NewFromInt(50)) },
		"bound not met":        func(o *Out) { o.Bound.Decimal = o.Bound.Sub(decimal.NewFromInt(50)) },
		"unplaced, uncounted":  func(o *Out) { o.UnplacedMM = 700 },
		"least above unplaced": func(o *Out) { o.LeastUnplacedMM = 1 },
		"kept offcut":          func(o *Out) { o.KeptOffcutMM += 1 },
		"bound's unit":         func(o *Out) { o.BoundUnit = UnitBoards },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			out := run(t, in)
			require.True(t, out.Proved)
			spoil(&out)
			require.Error(t, Check(in, out))
		})
	}
}
