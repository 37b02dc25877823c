package timber_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

func TestLotIsRoundedDownAndMerged(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const source = "design.md section 4: usable length rounded down to a step, default 50 mm"
	a := w.lot(2449, 3)
	require.Equal(t, 2400, a.LengthMM, source)
	b := w.lot(2400, 2)
	require.Equal(t, a.ID, b.ID)
	require.Equal(t, 5, b.OnHand)
	require.Equal(t, int64(320), b.MetreCostMinor, "the standard cost")
	other, err := w.room.LotIn(t.Context(), timber.LotKey{SpeciesID: w.species.ID, WidthMM: d("150"), ThicknessMM: d("28"), LengthMM: 2400}, 1, timber.Opening, now, "")
	require.NoError(t, err)
	require.Equal(t, int64(480), other.MetreCostMinor, "150 x 28 is one and a half of 100 x 28")
	require.False(t, other.OwnCost)
	_, err = w.room.LotIn(t.Context(), w.key(49), 1, timber.Opening, now, "")
	requireField(t, err, fault.Invalid, "/length_mm")
	_, err = w.room.LotIn(t.Context(), w.key(2400), 0, timber.Opening, now, "")
	requireField(t, err, fault.Invalid, "/count")
	_, err = w.room.LotIn(t.Context(), w.key(2400), 1, timber.Lost, now, "x")
	requireField(t, err, fault.Invalid, "/kind")

	rack, err := w.room.Rack(t.Context())
	require.NoError(t, err)
	require.Len(t, rack, 2)
	require.Equal(t, []any{"150", int64(2400)}, []any{rack[0].WidthMM.String(), rack[0].TotalMM})
	require.Equal(t, []any{"100", 5, int64(12_000), int64(12_000)}, []any{rack[1].WidthMM.String(), rack[1].Boards, rack[1].TotalMM, rack[1].FreeMM})
}

func TestLotListPages(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, length := range []int{900, 2400, 1200, 600, 3000} {
		w.lot(length, 1)
	}
	var got []int
	after := ""
	for {
		page, next, err := w.room.LotList(t.Context(), timber.LotFilter{Limit: 2, After: after})
		require.NoError(t, err)
		for _, l := range page {
			got = append(got, l.LengthMM)
		}
		if after = next; next == "" {
			break
		}
	}
	require.Equal(t, []int{600, 900, 1200, 2400, 3000}, got)
	_, _, err := w.room.LotList(t.Context(), timber.LotFilter{After: "eyJrIjoieCIsImkiOjF9"})
	requireField(t, err, fault.Invalid, "/after")
}

// A fact is never refused: issue "a cut from an empty lot is taken, booked as found, and
// shown".
func TestCutFromAnEmptyLot(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(2400, 3)
	book := func(kind timber.MoveKind, n int, reason string) timber.Booked {
		t.Helper()
		b, err := w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(lot.ID), Quantity: n, Kind: kind, HappenedAt: now, Reason: reason})
		require.NoError(t, err)
		return b
	}
	require.Empty(t, book(timber.Cut, 3, "").Notes())
	b := book(timber.Cut, 2, "")
	require.Equal(t, 2, b.Found)
	require.Equal(t, []string{"The book had 2 of hoop pine 100 x 28, 2400 mm too few; they are booked as found."}, b.Notes())
	lot, err := w.room.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Zero(t, lot.OnHand)
	moves, _, err := w.room.MoveList(t.Context(), claims.Lot(lot.ID), 0, "")
	require.NoError(t, err)
	require.Equal(t, []any{timber.Cut, -2, timber.Found, 2, "cut without being in the book"},
		[]any{moves[0].Kind, moves[0].Quantity, moves[1].Kind, moves[1].Quantity, moves[1].Reason})
}

func TestFactsBreakClaims(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(2400, 6)
	w.claim(claims.Want{For: claims.Build(w.build), Thing: claims.Lot(lot.ID), Quantity: 3, Strength: claims.PutAside, PromisedOn: ptr(day("2026-04-01"))},
		claims.Want{For: claims.Build(w.build2), Thing: claims.Lot(lot.ID), Quantity: 3, Strength: claims.PutAside, PromisedOn: ptr(day("2026-05-01"))})
	b, err := w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(lot.ID), Quantity: 2, Kind: timber.Lost, HappenedAt: now, Reason: "borers"})
	require.NoError(t, err)
	require.Len(t, b.Broken, 1)
	require.Equal(t, w.build2, b.Broken[0].For.BuildID, "design.md section 4: latest promise first")
	require.Equal(t, 2, b.Broken[0].Quantity)
	require.Contains(t, b.Notes()[0], "2 of hoop pine 100 x 28, 2400 mm were promised")
	sheet, err := claims.BrokenList(t.Context(), w.db, now)
	require.NoError(t, err)
	require.Len(t, sheet, 1)
	require.Equal(t, "borers", sheet[0].Because)

	_, err = w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(lot.ID), Quantity: 1, Kind: timber.Lost, HappenedAt: now})
	requireField(t, err, fault.Invalid, "/reason")
	_, err = w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(lot.ID), Quantity: 1, Kind: timber.Cut, HappenedAt: now.Add(time.Hour)})
	requireField(t, err, fault.Invalid, "/happened_at")
	_, err = w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(lot.ID), Quantity: -1, Kind: timber.Cut, HappenedAt: now})
	requireField(t, err, fault.Invalid, "/quantity")
	_, err = w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(lot.ID), Quantity: 1, Kind: timber.Dressed, HappenedAt: now})
	requireField(t, err, fault.Invalid, "/kind")
}

func TestRackCountPostsDifferences(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	long, short, same := w.lot(2400, 6), w.lot(900, 2), w.lot(600, 4)
	w.claim(claims.Want{For: claims.Build(w.build), Thing: claims.Lot(long.ID), Quantity: 6, Strength: claims.Meant})
	diffs, err := w.room.Count(t.Context(), []timber.CountLine{{claims.Lot(long.ID), 4}, {claims.Lot(short.ID), 5}, {claims.Lot(same.ID), 4}}, now)
	require.NoError(t, err)
	require.Len(t, diffs, 2)
	require.Equal(t, []any{6, 4, 2}, []any{diffs[0].Book, diffs[0].Counted, diffs[0].Booked.Broken[0].Quantity})
	require.Equal(t, []any{2, 5}, []any{diffs[1].Book, diffs[1].Counted})
	for id, want := range map[int64]int{long.ID: 4, short.ID: 5, same.ID: 4} {
		l, err := w.room.LotGet(t.Context(), id)
		require.NoError(t, err)
		require.Equal(t, want, l.OnHand)
	}
	_, err = w.room.Count(t.Context(), []timber.CountLine{{claims.Lot(long.ID), -1}}, now)
	requireField(t, err, fault.Invalid, "/lines/0/counted")
	_, err = w.room.Count(t.Context(), []timber.CountLine{{claims.Lot(long.ID), 1}, {claims.Lot(long.ID), 1}}, now)
	requireField(t, err, fault.Invalid, "/lines/1")
}

func TestItemsAndPurchases(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	supplier, err := w.room.SupplierSave(t.Context(), timber.Supplier{Name: "Fastener Shed", LeadDays: 4})
	require.NoError(t, err)
	screw := w.item(timber.Item{Code: "screw-50", Name: "screw 50 mm", Kind: "fitting", Counted: true, LowMark: 20, CostMinor: 10, SupplierID: &supplier.ID})
	glue := w.item(timber.Item{Code: "glue", Name: "wood glue", Kind: "fitting", LowMark: 1, CostMinor: 1500, LeadDays: ptr(9)})
	require.Equal(t, []int{4, 9}, []int{screw.ComingDays, glue.ComingDays}, "the supplier's days unless it has its own")
	glue, err = w.room.ItemLow(t.Context(), glue.ID, true)
	require.NoError(t, err)
	_, err = w.room.ItemLow(t.Context(), screw.ID, true)
	require.True(t, fault.Is(err, fault.Invalid))
	low, err := w.room.ItemsLow(t.Context())
	require.NoError(t, err)
	require.Len(t, low, 2, "none of the screws are there, and the glue was seen to run low")

	p, err := w.room.PurchaseOrder(t.Context(), timber.Purchase{SupplierID: &supplier.ID, OrderedOn: day("2026-02-26"), ExpectedOn: ptr(day("2026-03-02")),
		Lines: []timber.PurchaseLine{{ItemID: &screw.ID, Quantity: 200, CostExTaxMinor: 2300}, {ItemID: &glue.ID, Quantity: 2, CostExTaxMinor: 3100}, {Description: "freight", Quantity: 1, CostExTaxMinor: 900}}})
	require.NoError(t, err)
	require.Equal(t, "Fastener Shed", p.SupplierName)
	got, err := w.room.PurchaseReceive(t.Context(), p.ID, p.Version, now)
	require.NoError(t, err)
	require.NotNil(t, got.ReceivedAt)
	_, err = w.room.PurchaseReceive(t.Context(), p.ID, got.Version, now)
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	screw, err = w.room.ItemGet(t.Context(), screw.ID)
	require.NoError(t, err)
	require.Equal(t, []int64{200, 12}, []int64{int64(screw.OnHand), screw.CostMinor}, "23.00 for 200 is 11.5 each, half away from zero")
	low, err = w.room.ItemsLow(t.Context())
	require.NoError(t, err)
	require.Empty(t, low)

	_, err = w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Item(glue.ID), Quantity: 1, Kind: timber.Used, HappenedAt: now})
	require.True(t, fault.Is(err, fault.Invalid), "bulk has no count")
	screw.Counted = false
	_, err = w.room.ItemSave(t.Context(), screw)
	requireField(t, err, fault.Invalid, "/counted")
	open, _, err := w.room.PurchaseList(t.Context(), true, 0, "")
	require.NoError(t, err)
	require.Empty(t, open)
	list, _, err := w.room.ItemList(t.Context(), timber.ItemFilter{Find: "SCREW"})
	require.NoError(t, err)
	require.Len(t, list, 1)
	list, _, err = w.room.ItemList(t.Context(), timber.ItemFilter{Find: "%"})
	require.NoError(t, err)
	require.Empty(t, list, "a percent sign stands for itself")
}

func TestSupplyQuestions(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot, thin := w.lot(2400, 6), w.lot(900, 2)
	w.claim(claims.Want{For: claims.Build(w.build), Thing: claims.Lot(lot.ID), Quantity: 2, Strength: claims.PutAside},
		claims.Want{For: claims.Build(w.build2), Thing: claims.Lot(lot.ID), Quantity: 1, Strength: claims.Meant},
		claims.Want{For: claims.Build(w.build2), Thing: claims.Lot(thin.ID), Quantity: 2, Strength: claims.Meant})
	free, err := w.room.FreeBoards(t.Context(), w.species.ID, []int64{lot.SizeID})
	require.NoError(t, err)
	require.Len(t, free, 1)
	require.Equal(t, []any{lot.ID, 3, int64(320)}, []any{free[0].LotID, free[0].Free, free[0].MetreCostMinor})
	own, err := timber.FreeBoards(t.Context(), w.db, w.species.ID, []int64{lot.SizeID}, w.build2)
	require.NoError(t, err)
	require.Equal(t, []int{2, 4}, []int{own[0].Free, own[1].Free}, "its own claims count as free for the build")

	p := w.stack()
	w.claim(claims.Want{For: claims.Build(w.build), Thing: claims.Pack(p.ID), Quantity: 10, Strength: claims.Meant})
	packs, err := w.room.DryingPacks(t.Context(), w.species.ID, []int64{lot.SizeID})
	require.NoError(t, err)
	require.Len(t, packs, 1)
	require.Equal(t, []any{p.ID, 20, int64(44_000), 2400, day("2026-03-31")}, []any{packs[0].PackID, packs[0].Free, packs[0].FreeMM, packs[0].LongestMM, *packs[0].ReadyOnP80},
		"66 m over 30 boards, 20 of them free")
	cost, err := w.room.MetreCost(t.Context(), w.species.ID, d("75"), d("28"))
	require.NoError(t, err)
	require.Equal(t, int64(240), cost)
	require.Equal(t, "3.6 m of 100 x 28 hoop pine short", timber.Shortage{SpeciesName: "hoop pine", WidthMM: d("100"), ThicknessMM: d("28"), MissingMM: 3551}.String(),
		"rounded up to a tenth, so that buying it is enough")
}
