package answer_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/postgres"
	"kerfbook/internal/workshop"
)

// promise puts a piece of an order into the book that was promised for a day.
func (w *world) promise(on string, handed string) int64 {
	w.t.Helper()
	order := w.insert(`INSERT INTO sale_order (number, party_id, happened_at) VALUES ('K' || (SELECT count(*) FROM sale_order), $1, now()) RETURNING id`, w.buyer.ID)
	line := w.insert(`INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor) VALUES ($1, 1, 'box', 'Plain box', 1, 1, 1, 0, 1) RETURNING id`, order)
	var at *time.Time
	if handed != "" {
		at = ptr(day(handed).Add(time.Hour)) // an hour after midnight in Greenwich is 11 in the morning there
	}
	return w.insert(`INSERT INTO order_unit (order_line_id, n, wants_box, promised_box_on, handed_over_at) VALUES ($1, 1, true, $2, $3) RETURNING id`, line, day(on), at)
}

func (w *world) insert(sql string, args ...any) int64 {
	w.t.Helper()
	id, err := postgres.Value[int64](w.t.Context(), w.db, sql, args...)
	require.NoError(w.t, err)
	return id
}

// By hand: handed over on the day, a day late, ready in time but fetched late, moved and
// then kept, late and not ready, not due yet, cured too late.
func TestPromisesKept(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	none, err := w.PromisesKept(t.Context())
	require.NoError(t, err)
	require.Empty(t, none.Items)
	onTheDay, dayLate := w.promise("2026-02-10", "2026-02-10"), w.promise("2026-02-11", "2026-02-12")
	ready := w.promise("2026-02-12", "2026-02-20")
	box := w.box(func(b *workshop.BoxNew) { b.FinishedAt = day("2026-02-12") })
	w.insert(`INSERT INTO handover (number, order_unit_id, box_id, happened_at, received_by) VALUES ('H1', $1, $2, now(), 'Ottoline') RETURNING id`, ready, box.ID)
	moved := w.promise("2026-02-27", "2026-02-26")
	w.insert(`INSERT INTO promise_change (order_unit_id, part, was_on, became_on, reason) VALUES ($1, 'box', '2026-02-13', '2026-02-27', 'the saw stood still') RETURNING id`, moved)
	late := w.promise("2026-02-14", "")
	w.promise("2026-04-01", "")
	cures := w.promise("2026-02-15", "2026-02-21")
	wet := w.box(func(b *workshop.BoxNew) { b.FinishedAt, b.CuredOn = day("2026-02-12"), ptr(day("2026-02-19")) })
	w.insert(`INSERT INTO handover (number, order_unit_id, box_id, happened_at, received_by) VALUES ('H2', $1, $2, now(), 'Ottoline') RETURNING id`, cures, wet.ID)
	k, err := w.PromisesKept(t.Context())
	require.NoError(t, err)
	got := map[int64]bool{}
	for _, p := range k.Items {
		got[p.UnitID] = p.Kept
	}
	require.Equal(t, map[int64]bool{onTheDay: true, dayLate: false, ready: true, moved: false, late: false, cures: false}, got)
	require.Equal(t, 2, k.Kept)
	require.Equal(t, cures, k.Items[0].UnitID, "the latest first")
	for range 25 {
		w.promise("2026-02-16", "2026-02-16")
	}
	k, err = w.PromisesKept(t.Context())
	require.NoError(t, err)
	require.Len(t, k.Items, 20)
	require.Equal(t, 20, k.Kept)
}
