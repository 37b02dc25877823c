package timber_test

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/timber"
)

// Each decision of design.md section 4 that the timber tables hold is broken here by
// plain SQL, and the database must refuse it by name.
func TestSchemaRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lot, p := w.lot(2400, 3), w.stack()
	item := w.item(timber.Item{Code: "screw-50", Name: "screw", Kind: "fitting", Counted: true})
	bulk := w.item(timber.Item{Code: "glue", Name: "glue", Kind: "fitting"})
	_, err := w.room.PackDress(t.Context(), timber.Dressing{PackID: p.ID, At: now, Taken: []timber.Content{{2400, "sound", 1}}, Boards: []timber.DressedLot{boards("100", 2400, 1)}, Place: "x"})
	require.NoError(t, err)
	_, err = w.db.Exec(t.Context(), `INSERT INTO dressing_lot (dressing_id, lot_id, count) SELECT id, $1, 1 FROM dressing`, lot.ID)
	require.NoError(t, err)
	buy := w.id(`INSERT INTO purchase (ordered_on) VALUES ('2026-01-01') RETURNING id`)
	const (
		timber4  = "design.md section 4, Timber"
		sizes4   = "design.md section 4, Sizes and money"
		move     = `INSERT INTO stock_move (lot_id, item_id, quantity, kind, happened_at, reason) VALUES `
		lotSQL   = `INSERT INTO board_lot (species_id, board_size_id, grade, length_mm, thickness_true_mm, place, pack_id, offcut) SELECT species_id, board_size_id, `
		logSQL   = `INSERT INTO log (number, species_id, small_end_mm, large_end_mm, length_mm) VALUES `
		packSQL  = `INSERT INTO pack (number, species_id, board_size_id, stacked_on, target_mc_pct, ready_on, ready_on_p80) SELECT number || 'x', species_id, board_size_id, stacked_on, `
		dressSQL = `INSERT INTO dressing (pack_id, lot_id, happened_at, taken, taken_mm, came_mm, taken_mm3, came_mm3, minutes, docked_for, boards_minor) VALUES `
		buySQL   = `INSERT INTO purchase_line (purchase_id, quantity, cost_ex_tax_minor, brings, species_id, length_mm, small_end_mm, large_end_mm, received) VALUES `
		cost6    = "issue, point 6, Cost"
		monthSQL = `INSERT INTO climate (name, months) VALUES `
	)
	tests := []struct {
		name, source, sql string
		args              []any
		constraint        string
	}{
		{"more out than there is", timber4 + ": 0 <= put_aside <= on_hand", move + `($1, NULL, -4, 'cut', now(), '')`, []any{lot.ID}, "board_lot_within"},
		{"more items out than there are", timber4, move + `(NULL, $1, -1, 'used', now(), '')`, []any{item.ID}, "item_within"},
		{"bulk is not counted", timber4 + ": counted, or bulk", move + `(NULL, $1, 1, 'bought', now(), '')`, []any{bulk.ID}, "item_bulk_uncounted"},
		{"a move of two things", timber4, move + `($1, $2, 1, 'bought', now(), '')`, []any{lot.ID, item.ID}, "stock_move_one_thing"},
		{"a move of nothing", timber4, move + `(NULL, NULL, 1, 'bought', now(), '')`, nil, "stock_move_one_thing"},
		{"no quantity", timber4, move + `($1, NULL, 0, 'bought', now(), '')`, []any{lot.ID}, "stock_move_quantity"},
		{"an unknown move", timber4, move + `($1, NULL, 1, 'grown', now(), '')`, []any{lot.ID}, "stock_move_kind"},
		{"found without a reason", timber4 + ": found or lost with a reason", move + `($1, NULL, 1, 'found', now(), ' ')`, []any{lot.ID}, "stock_move_reason"},
		{"lost without a reason", timber4, move + `($1, NULL, -1, 'lost', now(), '')`, []any{lot.ID}, "stock_move_reason"},
		{"a move changed", timber4 + ": moves are append-only", `UPDATE stock_move SET quantity = 9 WHERE lot_id = $1`, []any{lot.ID}, "stock_move_written_once"},
		{"a move deleted", timber4, `DELETE FROM stock_move WHERE lot_id = $1`, []any{lot.ID}, "stock_move_written_once"},
		{"counts by hand", timber4 + ": changed only with the move", `UPDATE board_lot SET on_hand = 9 WHERE id = $1`, []any{lot.ID}, "board_lot_counts"},
		{"a lot born with boards", timber4, `INSERT INTO item (code, name, kind, on_hand) VALUES ('x', 'x', 'fitting', 3)`, nil, "item_counts"},
		{"the same lot twice", timber4 + ": a lot is species, board size, grade, length, thickness, place, pack", lotSQL + `grade, length_mm, thickness_true_mm, place, pack_id, offcut FROM board_lot WHERE id = $1`, []any{lot.ID}, "board_lot_once"},
		{"a grade nobody knows", timber4, lotSQL + `'A', length_mm, thickness_true_mm, place, pack_id, offcut FROM board_lot WHERE id = $1`, []any{lot.ID}, "board_lot_grade"},
		{"a board of no length", timber4, lotSQL + `grade, 0, thickness_true_mm, place, pack_id, offcut FROM board_lot WHERE id = $1`, []any{lot.ID}, "board_lot_length"},
		{"a board of no thickness", timber4, lotSQL + `grade, length_mm, 0, place, pack_id, offcut FROM board_lot WHERE id = $1`, []any{lot.ID}, "board_lot_thickness"},
		{"a board size twice", timber4, `INSERT INTO board_size (width_mm, thickness_mm) VALUES (100, 28.0)`, nil, "board_size_once"},
		{"a width below zero", sizes4, `INSERT INTO board_size (width_mm, thickness_mm) VALUES (-100, 28)`, nil, "board_size_width"},
		{"a thickness of nothing", sizes4, `INSERT INTO board_size (width_mm, thickness_mm) VALUES (100, 0)`, nil, "board_size_thickness"},
		{"the small end is the larger", "design.md section 3: small end", logSQL + `('L9', $1, 400, 300, 2000)`, []any{w.species.ID}, "log_ends"},
		{"a log of no length", sizes4, logSQL + `('L9', $1, 300, 400, 0)`, []any{w.species.ID}, "log_length"},
		{"a log of no width", sizes4, logSQL + `('L9', $1, 0, 400, 2000)`, []any{w.species.ID}, "log_small"},
		{"dry sooner with more certainty", "design.md section 7: stored dry dates", packSQL + `12, '2026-05-02', '2026-05-01' FROM pack WHERE id = $1`, []any{p.ID}, "pack_p80_later"},
		{"dry as bone", timber4, packSQL + `1, NULL, NULL FROM pack WHERE id = $1`, []any{p.ID}, "pack_target_mc"},
		{"less than no boards in a pack", timber4 + ": pack -> count", `UPDATE pack_content SET count = -1 WHERE pack_id = $1`, []any{p.ID}, "pack_content_count"},
		{"a length twice in a pack", timber4, `INSERT INTO pack_content (pack_id, length_mm, count) VALUES ($1, 2400, 1)`, []any{p.ID}, "pack_content_once"},
		{"a year of eleven months", timber4, monthSQL + `('odd', '[1,2,3,4,5,6,7,8,9,10,11]')`, nil, "climate_twelve"},
		{"a cost below zero", sizes4, `UPDATE item SET cost_minor = -1 WHERE id = $1`, []any{item.ID}, "item_cost"},
		{"a lot's cost below zero", sizes4, `UPDATE board_lot SET metre_cost_minor = -1 WHERE id = $1`, []any{lot.ID}, "board_lot_metre_cost"},
		{"dressed of two things", cost6, dressSQL + `($1, $2, now(), 1, 1, 1, 1, 1, 0, '', 0)`, []any{p.ID, lot.ID}, "dressing_of_one"},
		{"dressed of nothing", cost6, dressSQL + `(NULL, NULL, now(), 1, 1, 1, 1, 1, 0, '', 0)`, nil, "dressing_of_one"},
		{"fewer than no boards dressed", cost6, dressSQL + `($1, NULL, now(), -1, 1, 1, 1, 1, 0, '', 0)`, []any{p.ID}, "dressing_taken"},
		{"no time at all and less", cost6, dressSQL + `($1, NULL, now(), 1, 1, 1, 1, 1, -1, '', 0)`, []any{p.ID}, "dressing_minutes"},
		{"docked for a whim", cost6, dressSQL + `($1, NULL, now(), 1, 1, 1, 1, 1, 0, 'whim', 0)`, []any{p.ID}, "dressing_docked_for"},
		{"dressed below cost", cost6, dressSQL + `($1, NULL, now(), 1, 1, 1, 1, 1, 0, '', -1)`, []any{p.ID}, "dressing_boards_cost"},
		{"a dressing changed", cost6, `UPDATE dressing SET boards_minor = 1 WHERE pack_id = $1`, []any{p.ID}, "dressing_written_once"},
		{"what came of it deleted", cost6, `DELETE FROM dressing_lot WHERE lot_id = $1`, []any{lot.ID}, "dressing_lot_written_once"},
		{"drying space below zero", cost6, `UPDATE workshop SET drying_m3_month_minor = -1`, nil, "workshop_drying_space"},
		{"more came in than was ordered", cost6, buySQL + `($1, 3, 0, '', NULL, NULL, NULL, NULL, 4)`, []any{buy}, "purchase_line_received"},
		{"timber of no species", cost6, buySQL + `($1, 3, 0, 'boards', NULL, 2400, NULL, NULL, 0)`, []any{buy}, "purchase_line_timber"},
		{"timber of no length", cost6, buySQL + `($1, 3, 0, 'boards', $2, NULL, NULL, NULL, 0)`, []any{buy, w.species.ID}, "purchase_line_timber"},
		{"a line that brings planks", cost6, buySQL + `($1, 3, 0, 'planks', $2, 2400, NULL, NULL, 0)`, []any{buy, w.species.ID}, "purchase_line_brings"},
		{"a bought log with its ends swapped", cost6, buySQL + `($1, 1, 0, 'log', $2, 2400, 400, 300, 0)`, []any{buy, w.species.ID}, "purchase_line_large_end"},
		{"an item twice", timber4, `INSERT INTO item (code, name, kind) VALUES ('glue', 'glue', 'fitting')`, nil, "item_code_once"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			_, err := w.db.Exec(t.Context(), tc.sql, tc.args...)
			var pg *pgconn.PgError
			require.True(t, errors.As(err, &pg), "not refused: %v", err)
			require.Equal(t, tc.constraint, pg.ConstraintName, "%v", err)
		})
	}
}
