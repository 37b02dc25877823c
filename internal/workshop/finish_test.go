package workshop_test

import (
	"context"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

func TestBuildFinishMovesStockAndGivesSerials(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot := w.lot(2400, 3)
	w.haveScrews(40)
	// Two oiled boxes: 8 x 300 + 8 x 200 = 4.0 m from boards of 2.4 m: two boards, 0.8 m left.
	b := w.build(2, func(n *workshop.BuildNew) { n.OptionIDs, n.Units = []int64{w.oiled.ID}, []int64{w.unit} })
	b, err := w.room.CuttingAccept(t.Context(), b.ID)
	require.NoError(t, err)
	_, err = w.room.SpellAdd(t.Context(), b.Operations[0].ID, w.owner, w.now.Add(-2*time.Hour), w.now.Add(-time.Hour))
	require.NoError(t, err)
	_, err = w.room.SpellStart(t.Context(), b.Operations[1].ID, w.helper, w.now)
	require.NoError(t, err)
	w.now = w.now.Add(30 * time.Minute)
	b, err = w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)

	_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version - 1, At: w.now})
	require.True(t, fault.Is(err, fault.Stale), "%v", err)
	_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now, Spoiled: []int{3}})
	requireField(t, err, fault.Invalid, "/spoiled/0")
	l, err := w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, 3, l.OnHand, "nothing half-done")

	out, err := w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now, Place: "shelf by the door"})
	require.NoError(t, err)
	require.Empty(t, out.Notes)
	require.NotNil(t, out.Build.FinishedAt)
	require.Empty(t, out.Build.Claims)
	used, err := postgres.Column[string](t.Context(), w.db, `SELECT DISTINCT ended_how FROM claim WHERE build_id = $1`, b.ID)
	require.NoError(t, err)
	require.ElementsMatch(t, []string{"re-laid", "used"}, used, "meant was laid anew when accepted; the rest is used")
	l, err = w.timber.LotGet(t.Context(), lot.ID)
	require.NoError(t, err)
	require.Equal(t, []int{1, 0, 0}, []int{l.OnHand, l.PutAside, l.Meant})
	lots, _, err := w.timber.LotList(t.Context(), timber.LotFilter{})
	require.NoError(t, err)
	total := 0
	for _, one := range lots {
		total += one.OnHand * one.LengthMM
		require.Equal(t, one.LengthMM != 2400, one.Offcut)
	}
	require.Equal(t, 2400+800, total, "the law: boards = parts + offcuts, without kerf and trim")
	screws, err := w.timber.ItemGet(t.Context(), w.screws.ID)
	require.NoError(t, err)
	require.Equal(t, []int{8, 0}, []int{screws.OnHand, screws.PutAside}, "40 less 2 x 16")

	require.Len(t, out.Boxes, 2)
	require.Equal(t, []string{"1007", "1010"}, []string{out.Boxes[0].Serial, out.Boxes[1].Serial},
		"by hand in the table: 1, 0, 0 lead to 3, 1, 7 and 1, 0, 1 to 3, 1, 0")
	first := out.Boxes[0]
	require.True(t, first.Ours)
	require.Equal(t, w.unit, *first.ClaimedByUnitID)
	require.Nil(t, out.Boxes[1].ClaimedByUnitID)
	require.Equal(t, day("2026-03-09"), *first.CuredOn, "2 March in Brisbane and 7 days")
	require.Equal(t, []string{"brood", "honey"}, []string{first.Sections[0].Section, first.Sections[1].Section})
	require.Equal(t, []string{"oiled"}, first.OptionNames)
	require.Equal(t, "shelf by the door", first.Place)
	// 2 boards of 2.4 m less 0.8 m of offcuts at 3.00 = 12.00; 32 screws at 0.10 = 3.20; an
	// hour and a half at 40.00 = 60.00; all for two boxes.
	require.Equal(t, int64(3760), *first.CostMinor)

	shelf, err := workshop.ShelfBoxes(t.Context(), w.db, w.model.ID, w.species.ID, []int64{w.oiled.ID}, false)
	require.NoError(t, err)
	require.Len(t, shelf, 1)
	require.Equal(t, out.Boxes[1].ID, shelf[0].BoxID)
	shelf, err = workshop.ShelfBoxes(t.Context(), w.db, w.model.ID, w.species.ID, nil, false)
	require.NoError(t, err)
	require.Empty(t, shelf, "not a plain one")
	_, err = w.room.SpellOpen(t.Context(), w.helper)
	require.True(t, fault.Is(err, fault.NotFound), "finishing stops the clocks")
	_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: out.Build.Version, At: w.now})
	require.True(t, fault.Is(err, fault.Conflict))
}

// Boards that the book did not have are taken: physical facts are never refused.
func TestBuildFinishWithOtherBoards(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot, other := w.lot(2400, 2), w.lot(1200, 1)
	later := w.build(1, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-06-01")) }) // meant: one board of 2.4 m
	b := w.build(2, func(n *workshop.BuildNew) { n.Units = []int64{w.unit, w.unit2} })
	out, err := w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now, Spoiled: []int{1},
		Boards: []workshop.BoardsUsed{{lot.ID, 2}, {other.ID, 3}}, Offcuts: []workshop.OffcutIn{{other.ID, 430, 2}}})
	require.NoError(t, err)
	require.Contains(t, out.Notes, "The book had 2 of hoop pine 100 x 28, 1200 mm too few; they are booked as found.")
	require.Contains(t, out.Notes, "The book had 32 of screw 50 mm too few; they are booked as found.")
	require.Len(t, out.Boxes, 1)
	require.Equal(t, w.unit2, *out.Boxes[0].ClaimedByUnitID, "piece 1 was spoiled")
	require.NotNil(t, out.Build.Outputs[0].SpoiledAt)
	later, err = w.room.BuildGet(t.Context(), later.ID)
	require.NoError(t, err)
	require.Empty(t, later.Claims)
	broken, err := claims.BrokenList(t.Context(), w.db, w.now)
	require.NoError(t, err)
	require.Len(t, broken, 1)
	require.Equal(t, later.ID, broken[0].For.BuildID)
	lots, _, err := w.timber.LotList(t.Context(), timber.LotFilter{})
	require.NoError(t, err)
	require.Len(t, lots, 1)
	require.Equal(t, []any{400, 2, true}, []any{lots[0].LengthMM, lots[0].OnHand, lots[0].Offcut})
	_, err = w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: later.ID, Version: later.Version, At: w.now, Boards: []workshop.BoardsUsed{}, Offcuts: []workshop.OffcutIn{{99_999, 430, 2}}})
	requireField(t, err, fault.Invalid, "/offcuts/0/lot_id")
}

func TestSectionsGoToTheShelf(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.lot(2400, 3)
	b := w.build(3, func(n *workshop.BuildNew) { n.Makes, n.Piece, n.Units = "section", "honey", []int64{w.unit} })
	require.Equal(t, []any{1, 12, "200"}, []any{len(b.Parts), b.Parts[0].Count, b.Parts[0].LengthMM.String()})
	require.Empty(t, b.Fittings)
	out, err := w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now})
	require.NoError(t, err)
	require.Empty(t, out.Boxes)
	shelf, err := w.room.ShelfLots(t.Context(), w.model.ID)
	require.NoError(t, err)
	require.Len(t, shelf, 1)
	require.Equal(t, []any{"honey", 3, 1, 2}, []any{shelf[0].Piece, shelf[0].OnHand, shelf[0].PutAside, shelf[0].Free()})
	more, err := w.room.ShelfLotIn(t.Context(), w.rev.ID, "section", "honey", &w.species.ID, 4, w.now)
	require.NoError(t, err)
	require.Equal(t, []any{shelf[0].ID, 7}, []any{more.ID, more.OnHand})
	_, err = w.room.ShelfLotIn(t.Context(), w.rev.ID, "section", "attic", nil, 1, w.now)
	requireField(t, err, fault.Invalid, "/piece")
}

func TestBoxRegister(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	old, err := w.room.BoxRegister(t.Context(), workshop.BoxNew{Serial: "5724", RevisionID: &w.rev.ID, FinishedAt: w.now.AddDate(-4, 0, 0), OwnerID: &w.buyer, Place: "Kenmore"})
	require.NoError(t, err)
	require.False(t, old.Ours)
	require.Len(t, old.Sections, 2)
	other, err := w.room.BoxRegister(t.Context(), workshop.BoxNew{Maker: "somebody up the coast", Description: "a round log hive", FinishedAt: w.now})
	require.NoError(t, err)
	require.Equal(t, "1007", other.Serial, "it gets the next of ours")
	got, err := w.room.BoxBySerial(t.Context(), "5724")
	require.NoError(t, err)
	require.Equal(t, old.ID, got.ID)
	_, err = w.room.BoxBySerial(t.Context(), "5742")
	requireField(t, err, fault.Invalid, "/serial")
	_, err = w.room.BoxBySerial(t.Context(), "1010")
	require.True(t, fault.Is(err, fault.NotFound), "a good serial that we do not know")
	for name, bad := range map[string]workshop.BoxNew{
		"/serial":      {Serial: "5723", Description: "x", FinishedAt: w.now},
		"/description": {FinishedAt: w.now},
		"/finished_at": {Description: "x", FinishedAt: w.now.Add(time.Hour)},
	} {
		_, err := w.room.BoxRegister(t.Context(), bad)
		requireField(t, err, fault.Invalid, name)
	}
	_, err = w.room.BoxRegister(t.Context(), workshop.BoxNew{Serial: "5724", Description: "x", FinishedAt: w.now})
	requireField(t, err, fault.Conflict, "/serial")
	// A serial that an old box bears is passed over.
	_, err = w.room.BoxRegister(t.Context(), workshop.BoxNew{Serial: "1010", Description: "x", FinishedAt: w.now})
	require.NoError(t, err)
	next, err := w.room.BoxRegister(t.Context(), workshop.BoxNew{Description: "y", FinishedAt: w.now})
	require.NoError(t, err)
	require.Equal(t, "102", next.Serial[:3])
	list, _, err := w.room.BoxList(t.Context(), workshop.BoxFilter{Shelf: true})
	require.NoError(t, err)
	require.Len(t, list, 3, "all but the buyer's")
	list, _, err = w.room.BoxList(t.Context(), workshop.BoxFilter{Find: "57"})
	require.NoError(t, err)
	require.Len(t, list, 1)
}

func TestBoxHistoryAndClaims(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	reg := func() workshop.Box {
		b, err := w.room.BoxRegister(t.Context(), workshop.BoxNew{RevisionID: &w.rev.ID, FinishedAt: w.now.AddDate(0, -1, 0)})
		require.NoError(t, err)
		require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
			_, err := claims.Put(ctx, tx, w.now, []claims.Want{{For: claims.Unit(w.unit), Thing: claims.Box(b.ID), Quantity: 1, Strength: claims.PutAside}})
			return err
		}))
		return b
	}
	held := reg()
	held, err := w.room.BoxSave(t.Context(), workshop.BoxChange{ID: held.ID, Version: held.Version, HeldBackBecause: "a crack"})
	require.NoError(t, err)
	require.Nil(t, held.ClaimedByUnitID, "what is held back cannot stay promised")
	held, err = w.room.BoxSave(t.Context(), workshop.BoxChange{ID: held.ID, Version: held.Version, Notes: "glued"})
	require.NoError(t, err)
	_, err = w.room.BoxSave(t.Context(), workshop.BoxChange{ID: held.ID, Version: held.Version - 1})
	require.True(t, fault.Is(err, fault.Stale))

	sold := reg()
	owner := func(party *int64, at time.Time) error {
		return w.tx(func(ctx context.Context, tx pgx.Tx) error { return w.room.BoxOwnerTx(ctx, tx, sold.ID, party, at, "") })
	}
	require.NoError(t, owner(&w.buyer, w.now))
	requireField(t, owner(nil, w.now.Add(-time.Hour)), fault.Invalid, "/from_at")
	sold, err = w.room.BoxMove(t.Context(), sold.ID, nil, "with the buyer", w.now)
	require.NoError(t, err)
	require.Equal(t, []any{false, 2, w.buyer, 2, "with the buyer"}, []any{sold.Ours, len(sold.Owners), *sold.OwnerPartyID, len(sold.Places), sold.Place})
	sold, err = w.room.SectionMove(t.Context(), sold.ID, 2, "", "went to the other box", w.now)
	require.NoError(t, err)
	sold, err = w.room.SectionMove(t.Context(), sold.ID, 2, "honey", "a new one", w.now)
	require.NoError(t, err)
	require.Len(t, sold.Sections, 3)
	require.Equal(t, []string{"", "a new one", "went to the other box"}, []string{sold.Sections[0].Note, sold.Sections[1].Note, sold.Sections[2].Note})
	broken, err := claims.BrokenList(t.Context(), w.db, w.now)
	require.NoError(t, err)
	require.Len(t, broken, 2)
}

// Issue point 6: the build's real cost takes the lot's own metre cost, and offcuts carry
// the cost of the lot they came from.
func TestOffcutsCarryTheCostOfTheirLot(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.haveScrews(100)
	lot := func(cost int64, lengthMM int) timber.Lot {
		t.Helper()
		l, err := w.timber.LotIn(t.Context(), timber.LotKey{SpeciesID: w.species.ID, WidthMM: d("100"), ThicknessMM: d("28"), LengthMM: lengthMM, MetreCostMinor: &cost}, 2, timber.Bought, w.now, "")
		require.NoError(t, err)
		return l
	}
	a, b := lot(500, 2400), lot(701, 1800)
	one := w.build(1)
	out, err := w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: one.ID, Version: one.Version, At: w.now, Boards: []workshop.BoardsUsed{{a.ID, 1}, {b.ID, 1}},
		Offcuts: []workshop.OffcutIn{{a.ID, 400, 1}, {b.ID, 400, 2}}})
	require.NoError(t, err)
	lots, _, err := w.timber.LotList(t.Context(), timber.LotFilter{})
	require.NoError(t, err)
	require.Equal(t, []any{400, 3, true, int64(634)}, []any{lots[0].LengthMM, lots[0].OnHand, lots[0].OwnCost, lots[0].MetreCostMinor}, "(500 + 2 x 701) / 3")
	// 2.0 m at 5.00 and 1.0 m at 7.01 = 17.01; 16 screws at 0.10 = 1.60.
	require.Equal(t, int64(1861), *out.Boxes[0].CostMinor)
}
