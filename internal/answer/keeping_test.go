package answer_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// terms are a split for 80.00 until Friday 6 March 2026.
func terms() apiary.KeepingTerms {
	return apiary.KeepingTerms{Purpose: "split", Agreed: "one split, half for the workshop", PriceMinor: ptr(int64(8000)), BackOn: ptr(day("2026-03-06"))}
}

func (w *world) takeIn(change func(*answer.TakenIn)) (apiary.Keeping, error) {
	t := answer.TakenIn{KeepingTerms: terms(), PartyID: w.buyer.ID, Place: "the far row"}
	change(&t)
	return w.TakeIn(w.t.Context(), t)
}

func TestStrangeBeesComeInAreSplitAndGoBack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.now = monday.Add(-time.Hour)
	k, err := w.takeIn(func(t *answer.TakenIn) { t.SpeciesID, t.Description = w.bees.ID, "blue log hive" })
	require.NoError(t, err)
	w.now = monday
	require.Equal(t, []any{"Colony C0001", "Ottoline Brandreth", "07 5550 0117", "the far row", "split", int64(8000), "2026-03-06"}, []any{k.Called(), k.Owner, k.Phone, k.Place, k.Purpose, *k.PriceMinor, iso(k.BackOn)})
	moves := w.moved()
	require.Len(t, moves, 1, "bees came from somewhere")
	require.Equal(t, []string{"with Ottoline Brandreth", "the far row"}, []string{moves[0].FromPlace, moves[0].ToPlace})
	_, err = w.takeIn(func(t *answer.TakenIn) { t.ColonyID = k.ColonyID })
	require.True(t, fault.Is(err, fault.Conflict), "it is here already: %v", err)

	// The stand-in reads what was agreed; the Day sheet asks from the day before on.
	sheet, err := w.StandInSheet(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, sheet)
	require.Empty(t, w.dayTexts("keeping", day("2026-03-04")))
	require.Equal(t, []string{"Colony C0001 is to be back with Ottoline Brandreth (07 5550 0117) on Fri 6 Mar 2026, to be split."}, w.dayTexts("keeping", day("2026-03-05")))
	require.Len(t, w.dayTexts("keeping", day("2026-03-09")), 1, "late")

	box := w.box()
	child, _, err := w.SplitColony(t.Context(), answer.SplitMade{Splitting: apiary.Splitting{ParentID: *k.ColonyID, BoxID: box.ID}})
	require.NoError(t, err)
	require.False(t, child.Ours())
	here, err := w.Apiary.KeepingList(t.Context(), false)
	require.NoError(t, err)
	require.Len(t, here, 2, "the split is theirs too, and here")
	require.Equal(t, "Split from C0001. one split, half for the workshop", here[1].Agreed)
	require.Nil(t, here[1].PriceMinor, "the price is asked once")

	_, err = w.KeepingEnd(t.Context(), here[1].ID, answer.KeepingOver{How: "kept"})
	require.True(t, fault.Is(err, fault.Invalid), "how so?")
	_, err = w.KeepingEnd(t.Context(), here[1].ID, answer.KeepingOver{How: "kept", Note: "half of the split, as agreed"})
	require.NoError(t, err)
	ours, err := w.Apiary.ColonyGet(t.Context(), child.ID)
	require.NoError(t, err)
	require.True(t, ours.Ours())

	require.NoError(t, w.Apiary.HoldBack(t.Context(), *k.ColonyID, "mites"))
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "back"})
	require.True(t, fault.Is(err, fault.Conflict), "held back: %v", err)
	require.NoError(t, w.Apiary.Release(t.Context(), *k.ColonyID))
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "back", At: w.now.AddDate(0, 0, -3)})
	require.True(t, fault.Is(err, fault.Invalid), "before it came")
	w.now = w.now.AddDate(0, 0, 1)
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "back", Note: "fetched by her brother", Place: "3 Ridge Road"})
	require.NoError(t, err)
	c, err := w.Apiary.ColonyGet(t.Context(), *k.ColonyID)
	require.NoError(t, err)
	require.Equal(t, []any{"Ottoline Brandreth", "3 Ridge Road"}, []any{c.KeeperName, c.PlaceName})
	require.Len(t, w.moved(), 2)
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "back"})
	require.True(t, fault.Is(err, fault.Conflict), "once")
	require.Empty(t, w.dayTexts("keeping", day("2026-03-09")))
}

func TestBoxesComeInAndGoBack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k, err := w.takeIn(func(t *answer.TakenIn) { t.Description, t.Purpose = "box with a split wall", "repair" })
	require.NoError(t, err)
	b, err := w.Workshop.BoxGet(t.Context(), *k.BoxID)
	require.NoError(t, err)
	require.Equal(t, []any{false, "the far row"}, []any{b.Ours, b.Place})
	require.Contains(t, k.Called(), "box with a split wall")
	sold := w.box(func(b *workshop.BoxNew) { b.OwnerID = &w.buyer.ID })
	lived := w.colony(func(n *apiary.NewColony) {
		n.Dwelling, n.BoxID, n.OwnerID, n.KeeperID, n.HousedAt = "box", &sold.ID, &w.buyer.ID, &w.buyer.ID, w.now.AddDate(0, -1, 0)
	})
	second, err := w.takeIn(func(t *answer.TakenIn) { t.BoxID = &sold.ID })
	require.NoError(t, err)
	require.Equal(t, lived.ID, *second.ColonyID, "the bees in it come along")
	require.Len(t, w.moved(), 1)
	mine := w.box()
	for name, change := range map[string]func(*answer.TakenIn){
		"a box of ours":      func(t *answer.TakenIn) { t.BoxID = &mine.ID },
		"a colony of ours":   func(t *answer.TakenIn) { t.ColonyID = ptr(w.colony().ID) },
		"here already":       func(t *answer.TakenIn) { t.BoxID = &sold.ID },
		"nothing":            func(*answer.TakenIn) {},
		"whose":              func(t *answer.TakenIn) { t.PartyID, t.Description = 0, "x" },
		"tomorrow":           func(t *answer.TakenIn) { t.Description, t.CameAt = "x", w.now.AddDate(0, 0, 1) },
		"due back yesterday": func(t *answer.TakenIn) { t.Description, t.BackOn = "x", ptr(day("2026-03-01")) },
		"for free and less":  func(t *answer.TakenIn) { t.Description, t.PriceMinor = "x", ptr(int64(-1)) },
	} {
		_, err := w.takeIn(change)
		require.True(t, fault.Is(err, fault.Conflict) || fault.Is(err, fault.Invalid), "%s: %v", name, err)
	}
	w.now = w.now.AddDate(0, 0, 1)
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "lost"})
	require.True(t, fault.Is(err, fault.Conflict), "it stands there")
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "back"})
	require.NoError(t, err)
	b, err = w.Workshop.BoxGet(t.Context(), *k.BoxID)
	require.NoError(t, err)
	require.Equal(t, "with Ottoline Brandreth", b.Place)
}

func TestWhatDiesInOurKeepingIsToldToItsOwner(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k, err := w.takeIn(func(t *answer.TakenIn) { t.SpeciesID, t.BackOn = w.bees.ID, nil })
	require.NoError(t, err)
	require.NoError(t, w.Apiary.End(t.Context(), *k.ColonyID, "ants", time.Time{}))
	require.Equal(t, []string{"Tell Ottoline Brandreth (07 5550 0117) that colony C0001 is gone: ants."}, w.dayTexts("keeping", day("2026-03-02")))
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "back"})
	require.True(t, fault.Is(err, fault.Conflict))
	_, err = w.KeepingEnd(t.Context(), k.ID, answer.KeepingOver{How: "lost", Note: "told on the phone"})
	require.NoError(t, err)
	require.Empty(t, w.dayTexts("keeping", day("2026-03-02")))
}

func TestWhatIsInOurKeepingIsNeverPromisedOrSold(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	k, err := w.takeIn(func(t *answer.TakenIn) { t.SpeciesID, t.Description = w.bees.ID, "blue log hive" })
	require.NoError(t, err)
	box, err := w.takeIn(func(t *answer.TakenIn) { t.Description = "a box to repair" })
	require.NoError(t, err)
	got, err := w.OrderTypedIn(t.Context(), answer.TypedIn{PartyID: w.buyer.ID, HappenedAt: w.now.Add(-time.Hour), Lines: []answer.TypedLine{{Kind: "box", Description: "a box", Count: 1, PriceMinor: 100, WithColony: true, BeeSpeciesID: w.bees.ID}}})
	require.NoError(t, err)
	unit := got.Order.Lines[0].Units[0].ID
	require.True(t, fault.Is(w.ColonyPutAside(t.Context(), unit, *k.ColonyID), fault.Conflict))
	require.True(t, fault.Is(w.BoxPutAside(t.Context(), unit, *box.BoxID), fault.Conflict))
	_, err = w.SellFromShelf(t.Context(), answer.ShelfSale{Serials: []string{box.Serial}, PartyID: w.buyer.ID, PriceMinor: 100, Method: "cash"})
	require.True(t, fault.Is(err, fault.Conflict))
	require.NotEqual(t, answer.FromShelf, w.ask(sales.Wish{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID}).Units[0].From)
}

func TestAgreementsInOurKeepingChange(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k, err := w.takeIn(func(t *answer.TakenIn) { t.SpeciesID = w.bees.ID })
	require.NoError(t, err)
	w.now = w.now.AddDate(0, 0, 30)
	again := terms()
	again.Agreed = "the same, and a new roof"
	k, err = w.Apiary.KeepingChange(t.Context(), k.ID, k.Version, again)
	require.NoError(t, err, "late as it is, the day may stay")
	require.Equal(t, "the same, and a new roof", k.Agreed)
	_, err = w.Apiary.KeepingChange(t.Context(), k.ID, k.Version-1, again)
	require.True(t, fault.Is(err, fault.Stale))
	again.BackOn = ptr(day("2026-03-20"))
	_, err = w.Apiary.KeepingChange(t.Context(), k.ID, k.Version, again)
	require.True(t, fault.Is(err, fault.Invalid), "another day that is past")
}
