package answer_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// bigWorkshop fills a workshop to the size that answers are promised for: 200 open orders, 500
// packs, 300 colonies, and years of finished ones.
func bigWorkshop(t testing.TB) (*world, sales.Wish) {
	t.Helper()
	w := newWorld(t)
	w.listPrices()
	ready := hive.Ready()[0]
	model, err := w.Workshop.ModelSave(t.Context(), workshop.Model{Code: "two-tier-230", Name: ready.Name})
	require.NoError(t, err)
	rev, err := w.Workshop.RevisionAdd(t.Context(), workshop.Drawing{ModelID: model.ID, Body: ready.Model})
	require.NoError(t, err)
	for _, sql := range []struct {
		sql  string
		args []any
	}{
		{`INSERT INTO board_size (width_mm, thickness_mm) VALUES (90, 25), (60, 25), (125, 25), (40, 25), (20, 12) ON CONFLICT DO NOTHING`, nil},
		{`INSERT INTO board_size (width_mm, thickness_mm) VALUES (100, 25) ON CONFLICT DO NOTHING`, nil},
		{`INSERT INTO item (code, name, kind, cost_minor) SELECT c, c, 'fitting', 20 FROM unnest('{screw-30,entrance-tube,strap}'::text[]) c`, nil},
		{`INSERT INTO board_lot (species_id, board_size_id, length_mm, thickness_true_mm, place) SELECT $1, z.id, 1500 + 50 * i, z.thickness_mm, 'bay ' || i % 5 FROM board_size z, generate_series(1, 30) i`, []any{w.species.ID}},
		{`INSERT INTO stock_move (lot_id, quantity, kind, happened_at) SELECT id, 3, 'opening', now() FROM board_lot`, nil},
		{`INSERT INTO pack (number, species_id, board_size_id, stacked_on, ready_on, ready_on_p80) SELECT 'K' || i, $1, (SELECT min(id) + i % 5 FROM board_size), '2025-11-01', '2026-04-01'::date + i, '2026-05-01'::date + i FROM generate_series(1, 500) i`, []any{w.species.ID}},
		{`INSERT INTO pack_content (pack_id, length_mm, count) SELECT id, 2400, 30 FROM pack`, nil},
		{`INSERT INTO colony (number, settled_on, settles_about, began_on) SELECT 'C' || i, CASE WHEN i % 3 > 0 THEN '2025-06-01'::date END, CASE WHEN i % 3 = 0 THEN '2026-06-01'::date END, '2024-01-01' FROM generate_series(1, 300) i`, nil},
		{`INSERT INTO colony_species (colony_id, bee_species_id, found_on) SELECT id, $1, '2024-01-01' FROM colony`, []any{w.bees.ID}},
		{`INSERT INTO colony_owner (colony_id, from_at) SELECT id, '2024-01-01' FROM colony`, nil},
		{`INSERT INTO housing (colony_id, dwelling, from_at) SELECT id, 'log', '2024-01-01' FROM colony`, nil},
		{`INSERT INTO party (name) SELECT 'Buyer ' || i FROM generate_series(1, 2000) i`, nil},
		{`INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S' || id, id, '2026-01-01' FROM party WHERE name LIKE 'Buyer %'`, nil},
		{`INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor, model_revision_id, timber_species_id, bee_species_id, with_colony)
			SELECT id, 1, 'box', 'box', 1, 1, 1, 0, 1, $1, $2, $3, id % 3 = 0 FROM sale_order`, []any{rev.ID, w.species.ID, w.bees.ID}},
		{`INSERT INTO order_unit (order_line_id, n, wants_box, wants_colony, promised_box_on, handed_over_at)
			SELECT id, 1, true, with_colony, '2026-04-01', CASE WHEN order_id % 10 > 0 THEN '2026-02-01'::timestamptz END FROM order_line`, nil},
		{`INSERT INTO build (number, model_revision_id, quantity, timber_species_id, due_on) SELECT 'B' || i, $1, 4, $2, '2026-04-01'::date + i FROM generate_series(1, 15) i`, []any{rev.ID, w.species.ID}},
		{`INSERT INTO build_output (build_id, n, order_unit_id) SELECT b.id, 1, u.id FROM build b JOIN (SELECT id, row_number() OVER (ORDER BY id) AS r FROM order_unit WHERE handed_over_at IS NULL) u ON u.r = b.id - (SELECT min(id) FROM build) + 1`, nil},
		{`INSERT INTO build_operation (build_id, position, name, setup_min, piece_min) SELECT id, p, 'step ' || p, 15, 10 FROM build, generate_series(1, 6) p`, nil},
		{`ANALYZE`, nil},
	} {
		_, err := w.db.Exec(t.Context(), sql.sql, sql.args...)
		require.NoError(t, err, sql.sql)
	}
	return w, sales.Wish{ModelID: model.ID, Count: 4, WithColony: true, BeeSpeciesID: w.bees.ID, Deliver: true}
}

// BenchmarkAsk answers over the big workshop, and reports the median and the 99th of 100.
func BenchmarkAsk(b *testing.B) {
	w, wish := bigWorkshop(b)
	var took []time.Duration
	for b.Loop() {
		start := time.Now()
		a, err := w.Ask(b.Context(), answer.Question{Wish: wish, PartyID: w.buyer.ID, SiteID: w.site.ID})
		took = append(took, time.Since(start))
		require.NoError(b, err)
		require.Len(b, a.Lines, 2)
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "ms-p50")
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "ms-p99")
}
