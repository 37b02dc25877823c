package answer_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// fillSQL makes $1 of each record, numbered from 1, a tenth of the orders and builds
// open and the rest done. Triggers do not fire.
var fillSQL = []string{
	`INSERT INTO party (name, town) SELECT 'Buyer n' || i || 'x', 'Town ' || i % 50 FROM generate_series(1, $1::int) i`,
	`INSERT INTO contact (party_id, kind, value, normal) SELECT id, 'phone', '07 ' || id, '+617' || lpad(id::text, 8, '0') FROM party WHERE name LIKE 'Buyer %' LIMIT $1`,
	`INSERT INTO enquiry (happened_at, name, number, number_normal, closed_at) SELECT timestamptz '2026-01-01' - i * interval '1 hour', 'Caller n' || i || 'x', '07 ' || i, '+617' || lpad(i::text, 8, '0'),
		CASE WHEN i % 10 > 0 THEN timestamptz '2026-02-01' END FROM generate_series(1, $1::int) i`,
	`INSERT INTO quote (number, party_id, made_at, issued_at, valid_until, frozen, document_id) SELECT 'Q' || i, p.id, timestamptz '2026-01-01' - i * interval '1 hour', timestamptz '2026-01-01' - i * interval '1 hour',
		CASE WHEN i % 10 = 0 THEN '2026-03-20'::date ELSE '2025-06-01'::date - i % 900 END, '{}', 1 FROM generate_series(1, $1::int) i JOIN party p ON p.name = 'Buyer n' || i || 'x'`,
	`INSERT INTO quote_alternative (quote_id, letter) SELECT id, 'A' FROM quote LIMIT $1`,
	`INSERT INTO quote_line (alternative_id, position, kind, description, needs) SELECT id, 1, 'box', 'box', '{"fresh": 1, "piece_minutes": 1}' FROM quote_alternative LIMIT $1`,
	`INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S' || i, p.id, timestamptz '2026-01-01' - i * interval '1 hour' FROM generate_series(1, $1::int) i JOIN party p ON p.name = 'Buyer n' || i || 'x'`,
	`INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor, with_colony)
		SELECT id, 1, 'box', 'box', 1, 1, 1, 0, 1, id % 20 = 0 FROM sale_order LIMIT $1`,
	`INSERT INTO order_unit (order_line_id, n, wants_box, wants_colony, promised_box_on, handed_over_at)
		SELECT id, 1, true, with_colony, '2026-04-01', CASE WHEN order_id % 10 > 0 THEN '2026-02-01'::timestamptz END FROM order_line LIMIT $1`,
	`INSERT INTO box (serial, model_revision_id, finished_at) SELECT (100000 + i)::text, (SELECT min(id) FROM model_revision), timestamptz '2026-01-01' - i * interval '1 hour' FROM generate_series(1, $1::int) i`,
	`INSERT INTO box_owner (box_id, party_id, from_at) SELECT id, CASE WHEN id % 10 > 0 THEN (SELECT min(id) FROM party) END, finished_at FROM box LIMIT $1`,
	`INSERT INTO build (number, model_revision_id, quantity, due_on, finished_at) SELECT 'B' || i, (SELECT min(id) FROM model_revision), 4, '2026-04-01'::date + i % 300, CASE WHEN i % 10 > 0 THEN timestamptz '2026-02-01' - i * interval '1 hour' END FROM generate_series(1, $1::int) i`,
	`INSERT INTO colony (number, settled_on, began_on) SELECT 'C' || i, '2025-06-01', '2024-01-01' FROM generate_series(1, $1::int) i`,
	`INSERT INTO colony_species (colony_id, bee_species_id, found_on) SELECT id, (SELECT min(id) FROM bee_species), '2024-01-01' FROM colony LIMIT $1`,
	`INSERT INTO colony_owner (colony_id, from_at) SELECT id, '2024-01-01' FROM colony LIMIT $1`,
	`INSERT INTO housing (colony_id, dwelling, from_at) SELECT id, 'log', '2024-01-01' FROM colony LIMIT $1`,
	`INSERT INTO pack (number, species_id, board_size_id, stacked_on, ready_on, ready_on_p80) SELECT 'K' || i, (SELECT min(id) FROM timber_species), (SELECT min(id) FROM board_size), '2025-11-01', '2026-04-01'::date + i % 300, '2026-05-01'::date + i % 300 FROM generate_series(1, $1::int) i`,
	`INSERT INTO pack_content (pack_id, length_mm, count) SELECT id, 2400, 30 FROM pack LIMIT $1`,
	`INSERT INTO board_lot (species_id, board_size_id, length_mm, thickness_true_mm, place, on_hand) SELECT (SELECT min(id) FROM timber_species), (SELECT min(id) FROM board_size), 1000 + 50 * (i % 60), 28, 'bay ' || i, 3 FROM generate_series(1, $1::int) i`,
	`INSERT INTO item (code, name, kind, cost_minor) SELECT 'item-' || i, 'Item ' || i, 'fitting', 20 FROM generate_series(1, $1::int) i`,
}

func filled(t *testing.T, n int) *world {
	t.Helper()
	w := newWorld(t)
	err := w.db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SET LOCAL session_replication_role = replica`); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `INSERT INTO board_size (width_mm, thickness_mm) VALUES (100, 28) ON CONFLICT DO NOTHING`); err != nil {
			return err
		}
		for _, sql := range fillSQL {
			if _, err := tx.Exec(ctx, sql, n); err != nil {
				return errors.New(err.Error() + ": " + sql)
			}
		}
		return nil
	})
	require.NoError(t, err)
	_, err = w.db.Exec(t.Context(), `ANALYZE`)
	require.NoError(t, err)
	return w
}

// rowsRead gives how many rows of tables the server looked at for read.
func (w *world) rowsRead(name string, read func(ctx context.Context) error) int {
	w.t.Helper()
	const count = `SELECT coalesce(sum(seq_tup_read + coalesce(idx_tup_fetch, 0)), 0)::int FROM pg_stat_xact_user_tables`
	var before, after int
	require.NoError(w.t, w.db.WithTx(w.t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		var err error
		if before, err = postgres.Value[int](ctx, tx, count); err != nil {
			return err
		}
		if err := read(ctx); err != nil {
			return err
		}
		after, err = postgres.Value[int](ctx, tx, count)
		return err
	}), name)
	return after - before
}

// TestListsAndSearchesAreFlat holds the rows that the server looks at for a page against
// those in a book of a hundredth of the size. Rows and not times: they are the same on a
// busy machine.
func TestListsAndSearchesAreFlat(t *testing.T) {
	t.Parallel()
	const n = 300
	small, large := filled(t, n), filled(t, 100*n)
	owner := access.Person{ID: 1, Role: access.Owner}
	for _, w := range []*world{small, large} { // what to mill next counts every board, once for each state of the book
		began := time.Now()
		_, err := w.MillNext(t.Context(), 0)
		require.NoError(t, err)
		t.Logf("what to mill next: %s", time.Since(began).Round(time.Millisecond))
		_, err = w.DaySheet(t.Context(), day("2026-03-02"))
		require.NoError(t, err)
	}
	for _, c := range []struct {
		name string
		read func(ctx context.Context, w *world) (int, error)
	}{
		{"parties", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.PartyList(ctx, sales.PartyFilter{})
			return len(l), err
		}},
		{"parties by name", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.PartyList(ctx, sales.PartyFilter{Find: "n77x"})
			return len(l), err
		}},
		{"parties by the end of a number", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.PartyList(ctx, sales.PartyFilter{Find: "00000077"})
			return len(l), err
		}},
		{"enquiries", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.EnquiryList(ctx, sales.EnquiryFilter{})
			return len(l), err
		}},
		{"open enquiries", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.EnquiryList(ctx, sales.EnquiryFilter{OpenOnly: true, Limit: 20})
			return len(l), err
		}},
		{"enquiries by name", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.EnquiryList(ctx, sales.EnquiryFilter{Find: "n77x"})
			return len(l), err
		}},
		{"quotes", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.QuoteList(ctx, sales.QuoteFilter{})
			return len(l), err
		}},
		{"quotes of a buyer", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.QuoteList(ctx, sales.QuoteFilter{Find: "n77x"})
			return len(l), err
		}},
		{"orders", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.OrderList(ctx, sales.OrderFilter{})
			return len(l), err
		}},
		{"open orders", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.OrderList(ctx, sales.OrderFilter{OpenOnly: true, Limit: 20})
			return len(l), err
		}},
		{"orders of a buyer", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Sales.OrderList(ctx, sales.OrderFilter{Find: "n77x"})
			return len(l), err
		}},
		{"open pieces", func(ctx context.Context, w *world) (int, error) {
			l, err := w.Sales.OpenUnits(ctx, false, 20)
			return len(l), err
		}},
		{"the line for colonies", func(ctx context.Context, w *world) (int, error) {
			l, err := w.Sales.OpenUnits(ctx, true, 10)
			return len(l), err
		}},
		{"colonies", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Apiary.ColonyList(ctx, apiary.ColonyFilter{Living: true})
			return len(l), err
		}},
		{"colonies nobody has claimed", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Apiary.ColonyList(ctx, apiary.ColonyFilter{Living: true, OursOnly: true, Unclaimed: true, SpeciesID: w.bees.ID})
			return len(l), err
		}},
		{"boxes", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Workshop.BoxList(ctx, workshop.BoxFilter{})
			return len(l), err
		}},
		{"boxes by serial", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Workshop.BoxList(ctx, workshop.BoxFilter{Find: "100077"})
			return len(l), err
		}},
		{"boxes on the shelf", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Workshop.BoxList(ctx, workshop.BoxFilter{Shelf: true})
			return len(l), err
		}},
		{"builds", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Workshop.BuildList(ctx, workshop.BuildFilter{Limit: 20})
			return len(l), err
		}},
		{"builds that are done", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Workshop.BuildList(ctx, workshop.BuildFilter{Done: true})
			return len(l), err
		}},
		{"packs", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Timber.PackList(ctx, timber.PackFilter{})
			return len(l), err
		}},
		{"boards", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Timber.LotList(ctx, timber.LotFilter{})
			return len(l), err
		}},
		{"items", func(ctx context.Context, w *world) (int, error) {
			l, _, err := w.Timber.ItemList(ctx, timber.ItemFilter{})
			return len(l), err
		}},
		{"find a number", func(ctx context.Context, w *world) (int, error) {
			l, err := answer.NewFinder(w.db).Find(ctx, owner, "77")
			return len(l), err
		}},
		{"find a phone", func(ctx context.Context, w *world) (int, error) {
			l, err := answer.NewFinder(w.db).Find(ctx, owner, "07 0000 0077")
			return len(l), err
		}},
		{"find a name", func(ctx context.Context, w *world) (int, error) {
			l, err := answer.NewFinder(w.db).Find(ctx, owner, "n77x")
			return len(l), err
		}},
		{"the Day sheet", func(ctx context.Context, w *world) (int, error) {
			l, err := w.DaySheet(ctx, day("2026-03-02"))
			return len(l), err
		}},
	} {
		var found [2]int
		var rows [2]int
		for i, w := range []*world{small, large} {
			rows[i] = w.rowsRead(c.name, func(ctx context.Context) (err error) { found[i], err = c.read(ctx, w); return err })
		}
		t.Logf("%-32s small %6d rows for %3d, large %6d for %3d", c.name, rows[0], found[0], rows[1], found[1])
		require.Positive(t, found[0], c.name)
		if rows[1] >= min(2*max(rows[0], n), 50*n) { // twice as many, or half of all there are
			t.Errorf("%s: the server looks at %d rows, and at %d in a book a hundred times as large", c.name, rows[0], rows[1])
		}
	}
}
