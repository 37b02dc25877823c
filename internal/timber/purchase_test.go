package timber_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
)

func (w *world) bought(brings string, lengthMM, n int, costMinor, taxMinor int64) timber.PurchaseLine {
	x := timber.PurchaseLine{Brings: brings, Quantity: n, CostExTaxMinor: costMinor, TaxMinor: taxMinor}
	x.SpeciesID, x.LengthMM, x.Place = &w.species.ID, &lengthMM, "yard"
	if brings == timber.BringsLog {
		x.SmallEndMM, x.LargeEndMM = ptr(d("380")), ptr(d("430"))
	} else {
		x.WidthMM, x.ThicknessMM = ptr(d("100")), ptr(d("28"))
	}
	return x
}

// Issue point 6: purchases of timber; each comes into the book with its cost, partly or
// whole.
func TestTimberIsBought(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	sup, err := w.room.SupplierSave(t.Context(), timber.Supplier{Name: "Old Landing Yard", LeadDays: 12})
	require.NoError(t, err)
	green := w.bought(timber.BringsPack, 2400, 10, 15_000, 0)
	green.WidthMM, green.ThicknessMM = ptr(d("110")), ptr(d("32"))
	p, err := w.room.PurchaseOrder(t.Context(), timber.Purchase{SupplierID: &sup.ID, OrderedOn: day("2026-02-26"), Lines: []timber.PurchaseLine{
		w.bought(timber.BringsBoards, 2449, 6, 7_200, 720), w.bought(timber.BringsLog, 3600, 2, 9_001, 0), green}})
	require.NoError(t, err)
	require.Equal(t, day("2026-03-10"), *p.ExpectedOn, "twelve lead days")
	size, err := w.room.SizeAdd(t.Context(), d("100"), d("28"))
	require.NoError(t, err)
	coming, err := timber.BoardsOnOrder(t.Context(), w.db, w.species.ID, []int64{size.ID})
	require.NoError(t, err)
	require.Len(t, coming, 1)
	require.Equal(t, []any{6, 2449, day("2026-03-10")}, []any{coming[0].Count, coming[0].LengthMM, coming[0].ExpectedOn})

	for name, came := range map[string][]timber.Received{"too many": {{p.Lines[0].ID, 7}}, "none": {{p.Lines[0].ID, 0}}, "a line of another": {{99_999, 1}}, "twice": {{p.Lines[0].ID, 1}, {p.Lines[0].ID, 1}}} {
		_, err := w.room.PurchaseReceive(t.Context(), p.ID, p.Version, now, came...)
		require.True(t, fault.Is(err, fault.Invalid), name)
	}
	p, err = w.room.PurchaseReceive(t.Context(), p.ID, p.Version, now, timber.Received{LineID: p.Lines[0].ID, Quantity: 4})
	require.NoError(t, err)
	require.Nil(t, p.ReceivedAt, "two boards, the logs and the pack are to come")
	lots, _, err := w.room.LotList(t.Context(), timber.LotFilter{})
	require.NoError(t, err)
	require.Len(t, lots, 1)
	require.Equal(t, []any{2400, 4, true, int64(550)}, []any{lots[0].LengthMM, lots[0].OnHand, lots[0].OwnCost, lots[0].MetreCostMinor}, "79.20 with tax over 6 x 2.4 m: not registered, the tax is cost")

	stale := p.Version - 1
	_, err = w.room.PurchaseReceive(t.Context(), p.ID, stale, now)
	require.True(t, fault.Is(err, fault.Stale))
	p, err = w.room.PurchaseReceive(t.Context(), p.ID, p.Version, now)
	require.NoError(t, err)
	require.NotNil(t, p.ReceivedAt)
	lot, err := w.room.LotGet(t.Context(), lots[0].ID)
	require.NoError(t, err)
	require.Equal(t, []any{6, int64(550)}, []any{lot.OnHand, lot.MetreCostMinor})
	logs, _, err := w.room.LogList(t.Context(), timber.LogFilter{})
	require.NoError(t, err)
	require.Len(t, logs, 2)
	require.Equal(t, int64(9_001), logs[0].CostMinor+logs[1].CostMinor, "to the minor unit")
	require.Equal(t, "Old Landing Yard", logs[0].FromWhere)
	packs, _, err := w.room.PackList(t.Context(), timber.PackFilter{})
	require.NoError(t, err)
	require.Equal(t, []any{1, 10, int64(15_000)}, []any{len(packs), packs[0].Boards, packs[0].CostMinor})
	coming, err = timber.BoardsOnOrder(t.Context(), w.db, w.species.ID, []int64{size.ID})
	require.NoError(t, err)
	require.Empty(t, coming)

	p, err = w.room.PurchaseChange(t.Context(), p.ID, p.Version, p.ExpectedOn, ptr(day("2026-03-03")))
	require.NoError(t, err)
	require.Equal(t, day("2026-03-03"), *p.PaidOn)
	_, err = w.room.PurchaseChange(t.Context(), p.ID, p.Version, p.ExpectedOn, ptr(day("2026-03-04")))
	requireField(t, err, fault.Invalid, "/paid_on")
	_, err = w.room.PurchaseChange(t.Context(), p.ID, p.Version, ptr(day("2026-02-01")), nil)
	requireField(t, err, fault.Invalid, "/expected_on")
}

// A workshop that is registered for tax gets the tax back: it is no cost of the boards.
func TestTaxIsNoCostOfARegisteredWorkshop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	require.NoError(t, house.New(w.db).TaxRegister(t.Context(), day("2026-01-01"), true, "GST"))
	p, err := w.room.PurchaseOrder(t.Context(), timber.Purchase{OrderedOn: day("2026-02-26"), Lines: []timber.PurchaseLine{w.bought(timber.BringsBoards, 2400, 6, 7_200, 720)}})
	require.NoError(t, err)
	_, err = w.room.PurchaseReceive(t.Context(), p.ID, p.Version, now)
	require.NoError(t, err)
	lots, _, err := w.room.LotList(t.Context(), timber.LotFilter{})
	require.NoError(t, err)
	require.Equal(t, int64(500), lots[0].MetreCostMinor, "72.00 over 14.4 m")
}

func TestPurchaseRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for name, tc := range map[string]struct {
		pointer string
		change  func(*timber.PurchaseLine)
	}{
		"a thing unknown":       {"/lines/0/brings", func(x *timber.PurchaseLine) { x.Brings = "planks" }},
		"no species":            {"/lines/0/species_id", func(x *timber.PurchaseLine) { x.SpeciesID = nil }},
		"no length":             {"/lines/0/length_mm", func(x *timber.PurchaseLine) { x.LengthMM = nil }},
		"no size":               {"/lines/0/width_mm", func(x *timber.PurchaseLine) { x.WidthMM = nil }},
		"thicker than wide":     {"/lines/0/thickness_mm", func(x *timber.PurchaseLine) { x.ThicknessMM = ptr(d("101")) }},
		"a grade nobody knows":  {"/lines/0/grade", func(x *timber.PurchaseLine) { x.Grade = ptr("A") }},
		"a log of no thickness": {"/lines/0/small_end_mm", func(x *timber.PurchaseLine) { x.Brings = timber.BringsLog }},
		"a girth for a diameter": {"/lines/0/small_end_mm", func(x *timber.PurchaseLine) {
			*x = w.bought(timber.BringsLog, 3600, 1, 1, 0)
			x.SmallEndMM, x.LargeEndMM = ptr(d("1900")), ptr(d("1950"))
		}},
		"ends swapped": {"/lines/0/large_end_mm", func(x *timber.PurchaseLine) {
			*x = w.bought(timber.BringsLog, 3600, 1, 1, 0)
			x.LargeEndMM = ptr(d("300"))
		}},
		"a lorry of logs": {"/lines/0/quantity", func(x *timber.PurchaseLine) { *x = w.bought(timber.BringsLog, 3600, 51, 1, 0) }},
	} {
		x := w.bought(timber.BringsBoards, 2400, 6, 7_200, 720)
		tc.change(&x)
		_, err := w.room.PurchaseOrder(t.Context(), timber.Purchase{OrderedOn: day("2026-02-26"), Lines: []timber.PurchaseLine{x}})
		require.Error(t, err, name)
		requireField(t, err, fault.Invalid, tc.pointer)
	}
}
