package answer_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
)

// dayTexts are the lines of the Day sheet of one kind.
func (w *world) dayTexts(kind string, on time.Time) (list []string) {
	w.t.Helper()
	lines, err := w.DaySheet(w.t.Context(), on)
	require.NoError(w.t, err)
	for _, l := range lines {
		if l.Kind == kind {
			list = append(list, l.Text)
		}
	}
	return list
}

func TestAStopWithAHeldBackColonyIsNotDoneWithoutTheOwnersReason(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	run := w.beeRun(w.site, nil)
	stop := last(run.Stops).ID
	colony := *last(run.Stops).ColonyID
	require.Empty(t, w.dayTexts("held", day("2026-03-02")))
	require.NoError(t, w.Apiary.HoldBack(t.Context(), colony, "chalk in the brood"))
	require.Equal(t, []string{"Run R0001 on Thu 5 Mar 2026 is to take colony C0001, which is held back: chalk in the brood."}, w.dayTexts("held", day("2026-03-02")))
	require.Len(t, w.dayTexts("broken", day("2026-03-02")), 2, "neither it nor its box is promised any more")
	care, err := w.RunCare(t.Context(), run)
	require.NoError(t, err)
	require.Contains(t, last(care.Stops).Warnings[0], "C0001 is held back (chalk in the brood)")
	sheet, err := w.RunSheet(t.Context(), run.ID)
	require.NoError(t, err)
	require.NotEmpty(t, sheet)

	require.NoError(t, w.StopMark(t.Context(), stop, "closed", w.now), "a closed entrance is a fact and harms nobody")
	err = w.StopMark(t.Context(), stop, "done", w.now)
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	require.ErrorContains(t, err, "/in_spite")
	helper := access.WithPerson(t.Context(), access.Person{ID: 7, Role: access.Helper})
	require.True(t, fault.Is(w.StopMarkAnyway(helper, stop, "done", w.now, "I had it on board"), fault.Forbidden), "a helper does not decide")
	require.NoError(t, w.StopMarkAnyway(t.Context(), stop, "done", w.now, "the inspector took it along"))
	require.Empty(t, w.dayTexts("held", day("2026-03-02")))
	events, err := w.Apiary.EventsOf(t.Context(), colony)
	require.NoError(t, err)
	require.Contains(t, events[0].Note, "With run R0001, in spite of being held back (chalk in the brood): the inspector took it along")
}

func TestAStopIsFreeAgainWhenAnotherColonyGoesOrItIsReleased(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	run := w.beeRun(w.site, nil)
	stop, first := last(run.Stops).ID, *last(run.Stops).ColonyID
	require.NoError(t, w.Apiary.HoldBack(t.Context(), first, "mites"))
	second := w.colony()
	require.NoError(t, w.ColonyPutAside(t.Context(), *last(run.Stops).UnitID, second.ID))
	require.Empty(t, w.dayTexts("held", day("2026-03-02")), "another one goes")
	require.NoError(t, w.Apiary.HoldBack(t.Context(), second.ID, "mites too"))
	require.Len(t, w.dayTexts("held", day("2026-03-02")), 1)
	require.NoError(t, w.Apiary.Release(t.Context(), first))
	require.NoError(t, w.Apiary.Release(t.Context(), second.ID))
	require.NoError(t, w.StopMark(t.Context(), stop, "done", w.now))
}

func TestNoDoorSellsOrPromisesABoxWithBeesThatAreHeldBackOrAnothers(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	other, err := w.Sales.PartyPut(t.Context(), sales.Party{Name: "Barnaby Thrupp"})
	require.NoError(t, err)
	for _, c := range []struct {
		name, says string
		owner      *int64
		hold       bool
	}{{"held back", "held back", nil, true}, {"another's", "of Barnaby Thrupp", &other.ID, false}} {
		t.Run(c.name, func(t *testing.T) {
			b := w.box()
			colony := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.OwnerID = "box", &b.ID, c.owner })
			unit := func(with bool) int64 {
				got, err := w.OrderTypedIn(t.Context(), answer.TypedIn{PartyID: w.buyer.ID, HappenedAt: w.now.Add(-time.Hour), Lines: []answer.TypedLine{{Kind: "box", Description: "a box", Count: 1, PriceMinor: 100, WithColony: with, BeeSpeciesID: map[bool]int64{true: w.bees.ID}[with]}}})
				require.NoError(t, err)
				return got.Order.Lines[0].Units[0].ID
			}
			boxUnit, beesUnit := unit(false), unit(true)
			if c.hold {
				require.NoError(t, w.Apiary.HoldBack(t.Context(), colony.ID, "mites"))
			}
			for door, open := range map[string]func(ctx context.Context) error{
				"sale from the shelf": func(ctx context.Context) error {
					_, err := w.SellFromShelf(ctx, answer.ShelfSale{Serials: []string{b.Serial}, PartyID: w.buyer.ID, PriceMinor: 100, Method: "cash"})
					return err
				},
				"box put aside":    func(ctx context.Context) error { return w.BoxPutAside(ctx, boxUnit, b.ID) },
				"colony put aside": func(ctx context.Context) error { return w.ColonyPutAside(ctx, beesUnit, colony.ID) },
				"box handed over": func(ctx context.Context) error {
					_, err := w.HandOver(ctx, answer.Giving{UnitID: boxUnit, BoxID: &b.ID, ReceivedBy: "x"})
					return err
				},
				"colony handed over": func(ctx context.Context) error {
					_, err := w.HandOver(ctx, answer.Giving{UnitID: beesUnit, BoxID: &b.ID, ColonyID: &colony.ID, ReceivedBy: "x"})
					return err
				},
			} {
				err := open(t.Context())
				require.True(t, fault.Is(err, fault.Conflict), "%s: %v", door, err)
				if strings.HasPrefix(door, "sale") || strings.HasPrefix(door, "box") {
					require.ErrorContains(t, err, c.says, door)
				}
			}
			require.Zero(t, w.count(`SELECT count(*)::int FROM claim WHERE box_id = $1 AND ended_at IS NULL`, b.ID))
			a := w.ask(sales.Wish{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID})
			require.NotEqual(t, answer.FromShelf, a.Units[0].From, "nor does an answer count on it")
			_, err = w.db.Exec(t.Context(), `UPDATE box SET gone_at = now() WHERE id = $1`, b.ID)
			require.NoError(t, err)
		})
	}
}
