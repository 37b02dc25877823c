package timber_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

func boards(width string, lengthMM, count int) timber.DressedLot {
	return timber.DressedLot{WidthMM: d(width), ThicknessMM: d("28"), LengthMM: lengthMM, Count: count}
}

// The cost of a pack is given out to the minor unit: issue point 6, "the real cost of a
// metre of each lot". Rounding: the parts of the lots add up exactly; a metre's cost is
// whole minor units, so metres times cost differ by at most half a minor unit a metre.
func TestPackGivesOutItsWholeCost(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.stack() // 264.00; 20 of 2400 and 10 of 1800
	var lots []timber.Lot
	dress := func(x timber.Dressing) timber.DressedOut {
		t.Helper()
		x.PackID, x.Place = p.ID, "rack 2"
		out, err := w.room.PackDress(t.Context(), x)
		require.NoError(t, err)
		lots = append(lots, out.Lots...)
		return out
	}
	first := dress(timber.Dressing{At: now.AddDate(0, 0, -20), Minutes: 50, By: "Jo", DockedFor: "checks", Taken: []timber.Content{{2400, "sound", 7}},
		Boards: []timber.DressedLot{boards("100", 2310, 4), boards("48", 2400, 5)}})
	require.Equal(t, int64(6720), first.Work.BoardsMinor, "16.8 of 66 m of 264.00")
	require.Equal(t, int64(3333), first.Work.LabourMinor, "50 minutes at 40.00 an hour")
	second := dress(timber.Dressing{At: now.AddDate(0, 0, -10), Minutes: 31, Taken: []timber.Content{{1800, "sound", 12}}, Boards: []timber.DressedLot{boards("100", 1777, 11)}})
	require.Len(t, second.Notes, 1, "twelve were dressed, the book had ten")
	last := dress(timber.Dressing{At: now, Done: true, Taken: []timber.Content{{2400, "sound", 11}}, Boards: []timber.DressedLot{boards("100", 2260, 9), boards("75", 2150, 2)}})
	require.Len(t, last.Notes, 1, "two were gone")

	sum, metresTimesCost, metres := int64(0), decimal.Zero, decimal.Zero
	for _, l := range lots {
		k, err := w.room.LotReckoning(t.Context(), l.ID)
		require.NoError(t, err)
		require.Len(t, k, 1)
		require.Equal(t, l.MetreCostMinor, k[0].MetreCostMinor())
		sum += k[0].CostMinor()
		m := decimal.NewFromInt(int64(l.LengthMM * l.OnHand)).Div(decimal.NewFromInt(1000))
		metres = metres.Add(m)
		metresTimesCost = metresTimesCost.Add(m.Mul(decimal.NewFromInt(l.MetreCostMinor)))
	}
	all, err := w.room.PackCame(t.Context(), p.ID)
	require.NoError(t, err)
	require.Equal(t, int64(26_400), all.BoardsMinor, "log, haulage and sawing, to the minor unit")
	require.Equal(t, all.CostMinor(), sum, "the parts of the lots add up to the pack's total")
	require.Greater(t, all.DryingMinor, int64(0))
	require.Equal(t, int64(3333+2067), all.LabourMinor, "31 minutes at 40.00 an hour are 20.67")
	off := metresTimesCost.Sub(decimal.NewFromInt(sum)).Abs()
	require.True(t, off.LessThanOrEqual(metres.Div(decimal.NewFromInt(2))), "%s over %s m", off, metres)

	works, err := w.room.WorkList(t.Context(), p.ID)
	require.NoError(t, err)
	require.Len(t, works, 3)
	require.Equal(t, []any{"Jo", "checks", 50}, []any{works[2].By, works[2].DockedFor, works[2].Minutes})
	// 4 x 2300 whole, 5 x 2400 strips of (48 + 3.2) to (100 + 3.2): 15153.5 of 16800 mm.
	require.Equal(t, "9.8", works[2].DockedPct().String())
	// Green 106 x 31.5 x 16800; dressed 28 x (100 x 9200 + 48 x 12000).
	require.Equal(t, "25.3", works[2].LossPct().String())
	species, err := w.room.SpeciesCame(t.Context(), w.species.ID)
	require.NoError(t, err)
	require.Equal(t, all, species)
	cost, err := w.room.SpeciesRealCost(t.Context(), w.species.ID)
	require.NoError(t, err)
	require.Equal(t, 5, cost.Lots)
	require.InDelta(t, 500, float64(cost.MetreCostMinor), 150, "near the lots of 100 x 28")
}

// Boards that lie there and boards that come are mixed at their mean cost; what left
// before keeps the cost it had.
func TestLaterBoardsOfALotBlendTheirCost(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	in := func(cost int64, n int) timber.Lot {
		t.Helper()
		k := w.key(2400)
		k.MetreCostMinor = &cost
		l, err := w.room.LotIn(t.Context(), k, n, timber.Bought, now, "")
		require.NoError(t, err)
		return l
	}
	l := in(400, 3)
	require.Equal(t, int64(400), l.MetreCostMinor)
	require.Equal(t, int64(425), in(500, 1).MetreCostMinor, "(3 x 400 + 500) / 4")
	_, err := w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(l.ID), Quantity: 4, Kind: timber.Cut, HappenedAt: now})
	require.NoError(t, err)
	require.Equal(t, int64(610), in(610, 2).MetreCostMinor, "an empty lot takes the cost of what comes")
	require.Equal(t, int64(465), func() int64 {
		w.lot(1800, 1)
		c := int64(610)
		k := w.key(1800)
		k.MetreCostMinor = &c
		l, _ := w.room.LotIn(t.Context(), k, 1, timber.Bought, now, "")
		return l.MetreCostMinor
	}(),
		"boards without a cost of their own count at the standard cost, 320")
}

func TestPackDressRefusesWhatCannotBe(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.stack()
	good := timber.Dressing{PackID: p.ID, At: now, Taken: []timber.Content{{2400, "sound", 2}}, Boards: []timber.DressedLot{boards("100", 2390, 2)}}
	tests := []struct {
		name, pointer string
		change        func(*timber.Dressing)
	}{
		{"longer than the board", "/boards/0/length_mm", func(x *timber.Dressing) { x.Boards[0].LengthMM = 2401 }},
		{"wider than green", "/boards/0/width_mm", func(x *timber.Dressing) { x.Boards[0].WidthMM = d("107") }},
		{"thicker than green", "/boards/0/thickness_mm", func(x *timber.Dressing) { x.Boards[0].ThicknessTrueMM = d("32") }},
		{"more than was taken", "/boards", func(x *timber.Dressing) { x.Boards[0].Count = 3 }},
		{"strips and their kerfs", "/boards", func(x *timber.Dressing) { x.Boards = []timber.DressedLot{boards("52", 2400, 4)} }},
		{"nothing taken", "/taken", func(x *timber.Dressing) { x.Taken = nil }},
		{"a year at the planer", "/minutes", func(x *timber.Dressing) { x.Minutes = 10_001 }},
		{"docked for a whim", "/docked_for", func(x *timber.Dressing) { x.DockedFor = "whim" }},
		{"no boards of a line", "/boards/0/count", func(x *timber.Dressing) { x.Boards[0].Count = 0 }},
		{"tomorrow", "/happened_at", func(x *timber.Dressing) { x.At = now.Add(time.Hour) }},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			x := good
			x.Boards = []timber.DressedLot{good.Boards[0]}
			tc.change(&x)
			_, err := w.room.PackDress(t.Context(), x)
			requireField(t, err, fault.Invalid, tc.pointer)
		})
	}
	out, err := w.room.PackDress(t.Context(), timber.Dressing{PackID: p.ID, At: now, Done: true, Boards: []timber.DressedLot{boards("100", 1800, 30)}})
	require.NoError(t, err)
	require.Equal(t, 30, out.Work.Taken, "no line of what was taken and the pack is finished: all that was in it")
	require.Empty(t, out.Notes)
}

func TestLotRip(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	cost := int64(500)
	k := w.key(2400)
	k.MetreCostMinor, k.Place = &cost, "rack 1"
	lot, err := w.room.LotIn(t.Context(), k, 5, timber.Bought, now, "")
	require.NoError(t, err)
	w.claim(claims.Want{For: claims.Build(w.build), Thing: claims.Lot(lot.ID), Quantity: 4, Strength: claims.Meant})
	out, err := w.room.LotRip(t.Context(), timber.Ripping{LotID: lot.ID, At: now, Count: 3, WidthsMM: []decimal.Decimal{d("60"), d("36.8")}, Minutes: 12})
	require.NoError(t, err)
	require.Len(t, out.Lots, 2)
	require.Len(t, out.Broken, 1, "two wide boards are left of the four that were meant")
	require.Equal(t, 2, out.Broken[0].Quantity)
	// 3 x 2.4 m at 5.00 and 12 minutes at 40.00 an hour, by volume over 60 and 36.8 mm.
	require.Equal(t, []int64{3600, 800}, []int64{out.Work.BoardsMinor, out.Work.LabourMinor})
	require.Equal(t, int64(4400), sumOf(t, w, out.Lots))
	require.Equal(t, int64(379), out.Lots[0].MetreCostMinor, "44.00 x 60 / 96.8 / 7.2 m")
	require.Equal(t, "0", out.Work.DockedPct().String(), "60 + 3.2 + 36.8 fill the board of 100")
	moves, _, err := w.room.MoveList(t.Context(), claims.Lot(lot.ID), 1, "")
	require.NoError(t, err)
	require.Equal(t, []any{timber.Ripped, -3}, []any{moves[0].Kind, moves[0].Quantity})

	for name, tc := range map[string]struct {
		pointer string
		change  func(*timber.Ripping)
	}{
		"widths and kerfs beyond the board": {"/widths_mm", func(x *timber.Ripping) { x.WidthsMM = []decimal.Decimal{d("60"), d("36.9")} }},
		"as wide as the board":              {"/widths_mm/0", func(x *timber.Ripping) { x.WidthsMM = []decimal.Decimal{d("100")} }},
		"a batten":                          {"/widths_mm/0", func(x *timber.Ripping) { x.WidthsMM = []decimal.Decimal{d("20")} }},
		"no width":                          {"/widths_mm", func(x *timber.Ripping) { x.WidthsMM = nil }},
		"no boards":                         {"/count", func(x *timber.Ripping) { x.Count = 0 }},
		"longer than the board":             {"/length_mm", func(x *timber.Ripping) { x.LengthMM = 2500 }},
	} {
		x := timber.Ripping{LotID: lot.ID, At: now, Count: 1, WidthsMM: []decimal.Decimal{d("48"), d("48")}}
		tc.change(&x)
		_, err := w.room.LotRip(t.Context(), x)
		require.Error(t, err, name)
		requireField(t, err, fault.Invalid, tc.pointer)
	}
	out, err = w.room.LotRip(t.Context(), timber.Ripping{LotID: lot.ID, At: now, Count: 4, WidthsMM: []decimal.Decimal{d("48"), d("48")}})
	require.NoError(t, err)
	require.Len(t, out.Notes, 1, "the book had two, four were ripped: found")
	require.Equal(t, 8, out.Lots[0].OnHand)
}

func sumOf(t *testing.T, w *world, lots []timber.Lot) int64 {
	t.Helper()
	sum := int64(0)
	for _, l := range lots {
		k, err := w.room.LotReckoning(t.Context(), l.ID)
		require.NoError(t, err)
		for _, one := range k {
			sum += one.CostMinor()
		}
	}
	return sum
}
