package answer_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/workshop"
)

// By hand: two boxes of an order that kept 20 + 2 x 60 minutes when it was quoted. Then the
// minutes of the same drawing are learnt anew, 90 a piece: half as long again, 210. Another
// drawing after it says nothing of these boxes.
func TestOrderedBoxesTakeWhatWasLearntSince(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	order := w.insert(`INSERT INTO sale_order (number, party_id, happened_at) VALUES ('K9', $1, now()) RETURNING id`, w.buyer.ID)
	line := w.insert(`INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor, model_revision_id, needs)
		VALUES ($1, 1, 'box', 'box', 2, 1, 2, 0, 2, $2, '{"setup_minutes": 20, "piece_minutes": 60}') RETURNING id`, order, w.rev.ID)
	for n := range 2 {
		w.insert(`INSERT INTO order_unit (order_line_id, n, wants_box) VALUES ($1, $2, true) RETURNING id`, line, n+1)
	}
	minutes := func() float64 {
		m, err := w.OrderedMinutes(t.Context())
		require.NoError(t, err)
		return m
	}
	require.Equal(t, 140.0, minutes())
	learnt := body()
	for i := range learnt.Operations {
		learnt.Operations[i].PieceMinutes *= 1.5
	}
	_, err := w.Workshop.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: learnt, Reason: "learnt"})
	require.NoError(t, err)
	require.Equal(t, 210.0, minutes())
	learnt.LengthMM = 400
	learnt.Operations[0].PieceMinutes = 500
	_, err = w.Workshop.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: learnt, Reason: "longer"})
	require.NoError(t, err)
	require.Equal(t, 210.0, minutes())
	_, err = w.db.Exec(t.Context(), `UPDATE order_line SET needs = '{}'`)
	require.NoError(t, err)
	require.Equal(t, 210.0, minutes(), "by its model, at what was learnt: 1.5 x (20 + 2 x 60)")
}
