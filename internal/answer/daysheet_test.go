package answer_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/claims"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
)

func (w *world) left() []answer.DayLine {
	w.t.Helper()
	today := day(w.now.In(time.FixedZone("Brisbane", 36000)).Format(time.DateOnly))
	lines, err := w.DaySheet(w.t.Context(), today)
	require.NoError(w.t, err)
	lines, err = answer.NewDayBook(w.db).Left(w.t.Context(), today, lines)
	require.NoError(w.t, err)
	return lines
}

func TestDaySheetSaysWhatTodayAsks(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	require.Empty(t, w.left(), "a quiet day")
	ctx := t.Context()

	b := w.box()
	c := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID = "box", &b.ID })
	got, err := w.OrderMake(ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID}}})
	require.NoError(t, err)
	unit := got.Order.Lines[0].Units[0].ID
	w.issued(sales.Wish{BeeSpeciesID: w.bees.ID})
	_, err = w.Sales.EnquiryPut(ctx, sales.Enquiry{Name: "Piers Holm", Wanted: "a box", RingAgainOn: ptr(day("2026-03-30"))})
	require.NoError(t, err)
	w.screws.LowMark = 20
	_, err = w.Timber.ItemSave(ctx, w.screws)
	require.NoError(t, err)
	run, err := w.Handover.RunMake(ctx, handover.Run{RunOn: day("2026-03-30"), Stops: []handover.Stop{{UnitID: &unit, What: "the box"}}})
	require.NoError(t, err)

	w.now = w.now.AddDate(0, 0, 28) // Monday 30 March
	kinds := map[string]bool{}
	for _, l := range w.left() {
		kinds[l.Kind] = true
		require.NotEmpty(t, l.Subject)
		require.NotEmpty(t, l.Href)
		require.NotEmpty(t, l.Area)
	}
	require.Equal(t, map[string]bool{"late": true, "call": true, "quote": true, "timber": true, "run": true}, kinds)

	require.NoError(t, w.Handover.StopMark(ctx, run.Stops[0].ID, "closed", w.now))
	w.now = w.now.Add(37 * time.Hour)
	require.NoError(t, w.Apiary.End(ctx, c.ID, "robbed out", w.now))
	lines := w.left()
	require.Equal(t, "closed", lines[0].Kind, "36 hours are the longest for this kind: loudest")
	require.True(t, lines[0].Late)
	require.Contains(t, lines[0].Text, "37 hours")
	require.Equal(t, "broken", lines[1].Kind)
	require.Contains(t, lines[1].Text, "Colony "+c.Number+" was put aside for order "+got.Order.Number)

	book := answer.NewDayBook(w.db)
	require.NoError(t, book.MarkDone(ctx, lines[0].Subject))
	require.Equal(t, "broken", w.left()[0].Kind)
}

func TestPacksAndBuildsStandOnTheDaySheet(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	ctx := t.Context()
	_, err := w.Timber.MoveBook(ctx, timber.Move{Thing: claims.Item(w.screws.ID), Quantity: 100, Kind: timber.Opening, HappenedAt: w.now})
	require.NoError(t, err)
	_, err = w.db.Exec(ctx, `INSERT INTO board_size (width_mm, thickness_mm) VALUES (110, 32)`)
	require.NoError(t, err)
	_, err = w.db.Exec(ctx, `INSERT INTO pack (number, species_id, board_size_id, stacked_on, ready_on, ready_on_p80) SELECT n, $1, (SELECT max(id) FROM board_size), '2026-01-10', d::date - 5, d::date
FROM (VALUES ('K1', '2026-03-01'), ('K2', '2026-04-01'), ('K3', '2027-04-01')) v (n, d)`, w.species.ID)
	require.NoError(t, err)
	got, err := w.OrderMake(ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID}}})
	require.NoError(t, err)
	b, err := w.BuildForUnits(ctx, answer.UnitsBuild{UnitIDs: []int64{got.Order.Lines[0].Units[0].ID}, DueOn: ptr(day("2026-03-03"))})
	require.NoError(t, err)
	var texts []string
	for _, l := range w.left() {
		if l.Kind == "mill" {
			require.Contains(t, l.Text, "Hoop pine 100 × 28 mm runs short in March 2026", "for the build")
			continue
		}
		texts = append(texts, l.Text)
	}
	require.ElementsMatch(t, []string{
		"No day is agreed yet for 1 piece of order S0001 (Ottoline Brandreth). Say one as soon as timber and bees allow.",
		"Pack K1, Hoop pine 110 x 32, should be dry. Measure it, and dress it.",
		"Take a reading of pack K2, Hoop pine 110 x 32.", // 30 days after 10 January
		"Build " + b.Number + ", 1 Plain box, is due.",
		"Build " + b.Number + ", 1 Plain box, lacks boards. Dress some, or lay its cutting plan anew.",
	}, texts)
}

func TestOldQuestionsShareOneLine(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.db.Exec(t.Context(), `WITH o AS (INSERT INTO sale_order (number, party_id, happened_at) VALUES ('S9', $1, now()) RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor) SELECT id, 1, 'box', 'Box', 8, 1, 8, 0, 8 FROM o RETURNING id),
u AS (INSERT INTO order_unit (order_line_id, n, wants_box, handed_over_at) SELECT l.id, i, true, now() FROM l, generate_series(1, 8) i RETURNING id, n),
h AS (INSERT INTO handover (number, order_unit_id, happened_at, received_by) SELECT 'H' || n, id, now(), 'x' FROM u RETURNING id, number)
INSERT INTO follow_up (handover_id, due_on) SELECT id, '2025-02-01'::date + 30 * substr(number, 2)::int FROM h`, w.buyer.ID)
	require.NoError(t, err)
	lines, err := w.DaySheet(t.Context(), day("2026-03-02"))
	require.NoError(t, err)
	var asks []answer.DayLine
	for _, l := range lines {
		if l.Kind == "follow-up" {
			asks = append(asks, l)
		}
	}
	require.Len(t, asks, 4)
	require.Equal(t, day("2025-09-29"), asks[0].Due, "the last to come due stands first: 240 days after 1 February 2025")
	require.Equal(t, "Ask 5 more buyers how their hives are; the longest since Mon 3 Mar 2025.", asks[3].Text)
	left, err := answer.NewDayBook(w.db).Left(t.Context(), day("2026-03-02"), append(asks[:1:1], answer.DayLine{Subject: "x", Kind: "call", Due: day("2026-03-02")}))
	require.NoError(t, err)
	require.Equal(t, "call", left[0].Kind, "questions come last")
}
