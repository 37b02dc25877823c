package answer_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
)

func TestEveryPaperOfARecordIsDrawn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(2000, 3)
	w.haveScrews(100)
	ctx := t.Context()
	got, err := w.OrderMake(ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &w.site.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID}}})
	require.NoError(t, err)
	unit := got.Order.Lines[0].Units[0].ID
	build, err := w.BuildForUnits(ctx, answer.UnitsBuild{UnitIDs: []int64{unit}})
	require.NoError(t, err)
	run, err := w.Handover.RunMake(ctx, handover.Run{RunOn: day("2026-03-05"), Stops: []handover.Stop{{UnitID: &unit}}})
	require.NoError(t, err)
	box := w.box()
	for kind, number := range map[string]string{"order": got.Order.Number, "site": got.Order.Number, "jobcard": build.Number, "parts": build.Number, "label": box.Serial, "run": run.Number} {
		pdf, err := w.Paper(ctx, kind, number)
		require.NoError(t, err, kind)
		require.True(t, strings.HasPrefix(string(pdf), "%PDF"), kind)
	}
	_, err = w.Paper(ctx, "poem", "1")
	require.True(t, fault.Is(err, fault.Invalid))
	for _, kind := range []string{"quote", "order", "invoice", "receipt", "jobcard", "parts", "handover", "run", "site"} {
		_, err := w.Paper(ctx, kind, "X9999")
		require.True(t, fault.Is(err, fault.NotFound), "%s: %v", kind, err)
	}
	_, err = w.Paper(ctx, "label", build.Number)
	require.True(t, fault.Is(err, fault.Conflict), "no boxes yet")
}
