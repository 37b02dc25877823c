package workshop_test

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/workshop"
)

// Each decision of design.md section 4 that the workshop tables hold is broken here by
// plain SQL, and the database must refuse it by name.
func TestSchemaRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.build(2)
	box, err := w.room.BoxRegister(t.Context(), workshop.BoxNew{RevisionID: &w.rev.ID, FinishedAt: w.now})
	require.NoError(t, err)
	_, err = w.room.SpellStart(t.Context(), b.Operations[0].ID, w.owner, w.now)
	require.NoError(t, err)
	shelf, err := w.room.ShelfLotIn(t.Context(), w.rev.ID, "section", "honey", nil, 2, w.now)
	require.NoError(t, err)
	fit, err := w.room.FitSave(t.Context(), workshop.Fit{Name: "300 x 200", Sizes: []workshop.FitSize{{Name: "length", NominalMM: d("300"), LowMM: d("299"), HighMM: d("301")}}})
	require.NoError(t, err)
	w.hours()
	const (
		build4   = "design.md section 4, Build"
		box4     = "design.md section 4, Box"
		plan4    = "design.md section 4, Plan"
		claims4  = "design.md section 4, Claims"
		sizes4   = "design.md section 4, Sizes and money"
		buildSQL = `INSERT INTO build (number, model_revision_id, makes, piece, quantity) VALUES `
		boxSQL   = `INSERT INTO box (serial, finished_at, cost_minor) VALUES `
		spellSQL = `INSERT INTO time_spell (build_operation_id, account_id, started_at, stopped_at) VALUES `
		weekSQL  = `INSERT INTO work_week (from_on, weekday, start_minute, end_minute, hands) VALUES ('2026-01-01', `
		fitSQL   = `INSERT INTO fit_size (fit_id, name, nominal_mm, low_mm, high_mm) VALUES `
	)
	tests := []struct {
		name, source, sql string
		args              []any
		constraint        string
	}{
		{"a revision altered", build4 + ": one immutable model revision", `UPDATE model_revision SET body = '{}' WHERE id = $1`, []any{w.rev.ID}, "model_revision_written_once"},
		{"a revision deleted", build4, `DELETE FROM model_revision WHERE id = $1`, []any{w.rev.ID}, "model_revision_written_once"},
		{"a revision number twice", build4, `INSERT INTO model_revision (model_id, revision, body) VALUES ($1, 1, '{}')`, []any{w.model.ID}, "model_revision_once"},
		{"revision nought", build4, `INSERT INTO model_revision (model_id, revision, body) VALUES ($1, 0, '{}')`, []any{w.model.ID}, "model_revision_number"},
		{"a build of nothing", build4 + ": makes N of something", buildSQL + `('Bx', $1, 'box', '', 0)`, []any{w.rev.ID}, "build_quantity"},
		{"a build of sawdust", build4 + ": parts, sections, boxes", buildSQL + `('Bx', $1, 'dust', 'x', 1)`, []any{w.rev.ID}, "build_makes"},
		{"a section without a name", build4, buildSQL + `('Bx', $1, 'section', '', 1)`, []any{w.rev.ID}, "build_piece"},
		{"a box with a piece", build4, buildSQL + `('Bx', $1, 'box', 'honey', 1)`, []any{w.rev.ID}, "build_piece"},
		{"a build number twice", build4, buildSQL + `($2, $1, 'box', '', 1)`, []any{w.rev.ID, b.Number}, "build_number_once"},
		{"finished and cancelled", build4, `UPDATE build SET finished_at = now(), cancelled_at = now() WHERE id = $1`, []any{b.ID}, "build_one_end"},
		{"an output twice", build4 + ": each output goes to an order unit or to the shelf", `INSERT INTO build_output (build_id, n) VALUES ($1, 1)`, []any{b.ID}, "build_output_once"},
		{"an output to no unit there is", build4, `UPDATE build_output SET order_unit_id = 99999 WHERE build_id = $1`, []any{b.ID}, "build_output_order_unit_id_fkey"},
		{"less than no time", build4, `UPDATE build_operation SET piece_min = -1 WHERE build_id = $1`, []any{b.ID}, "build_operation_piece"},
		{"an operation place twice", build4, `INSERT INTO build_operation (build_id, position, name) VALUES ($1, 1, 'x')`, []any{b.ID}, "build_operation_once"},
		{"a fit outside its limits", build4 + ": the sizes at which sections meet with their limits", fitSQL + `($1, 'width', 200, 201, 202)`, []any{fit.ID}, "fit_size_limits"},
		{"a fit size twice", build4, fitSQL + `($1, 'length', 200, 199, 202)`, []any{fit.ID}, "fit_size_once"},
		{"curing for two years", build4 + ": a finish has days to cure", `UPDATE box_option SET cure_days = 700 WHERE id = $1`, []any{w.oiled.ID}, "box_option_cure"},
		{"time backwards", "design.md section 4, Time", spellSQL + `($1, $2, now(), now() - interval '1 hour')`, []any{b.Operations[0].ID, w.helper}, "time_spell_forward"},
		{"two clocks for one person", "issue 2: hours spent", spellSQL + `($1, $2, now(), NULL)`, []any{b.Operations[1].ID, w.owner}, "time_spell_one_open"},
		{"a serial twice", box4 + ": the serial belongs to one box", boxSQL + `($1, now(), NULL)`, []any{box.Serial}, "box_serial_once"},
		{"a serial with letters", box4 + ": digits and a check digit", boxSQL + `('A123', now(), NULL)`, nil, "box_serial_form"},
		{"a serial too long to punch", box4 + ": short enough to punch", boxSQL + `('123456789', now(), NULL)`, nil, "box_serial_form"},
		{"a cost below zero", sizes4, boxSQL + `('5724', now(), -1)`, nil, "box_cost"},
		{"two sections in one place", box4 + ": which box, which place in it, from, to", `INSERT INTO box_section (box_id, section, place_in_box, from_at) VALUES ($1, 'honey', 1, now())`, []any{box.ID}, "box_section_one_a_place"},
		{"a section that leaves before it comes", box4, `UPDATE box_section SET to_at = from_at - interval '1 day' WHERE box_id = $1`, []any{box.ID}, "box_section_forward"},
		{"two owners at once", box4 + ": a dated owner", `INSERT INTO box_owner (box_id, party_id, from_at) VALUES ($1, $2, now())`, []any{box.ID, w.buyer}, "box_owner_one_now"},
		{"two places at once", box4 + ": a dated place", `INSERT INTO box_place (box_id, place, from_at) VALUES ($1, 'x', now())`, []any{box.ID}, "box_place_one_now"},
		{"owned backwards", box4, `UPDATE box_owner SET to_at = from_at - interval '1 day' WHERE box_id = $1`, []any{box.ID}, "box_owner_forward"},
		{"placed backwards", box4, `UPDATE box_place SET to_at = from_at - interval '1 day' WHERE box_id = $1`, []any{box.ID}, "box_place_forward"},
		{"more off the shelf than lies there", claims4 + ": 0 <= put_aside <= on_hand", `INSERT INTO stock_move (shelf_lot_id, quantity, kind, happened_at) VALUES ($1, -3, 'sold', now())`, []any{shelf.ID}, "shelf_lot_within"},
		{"shelf counts by hand", claims4, `UPDATE shelf_lot SET on_hand = 9 WHERE id = $1`, []any{shelf.ID}, "shelf_lot_counts"},
		{"a shelf lot twice", claims4, `INSERT INTO shelf_lot (model_revision_id, makes, piece) VALUES ($1, 'section', 'honey')`, []any{w.rev.ID}, "shelf_lot_once"},
		{"whole boxes on the shelf as a lot", box4, `INSERT INTO shelf_lot (model_revision_id, makes, piece) VALUES ($1, 'box', 'x')`, []any{w.rev.ID}, "shelf_lot_makes"},
		{"a day of 25 hours", plan4, weekSQL + `1, 480, 1500, 1)`, nil, "work_week_minutes"},
		{"an eighth weekday", plan4, weekSQL + `7, 480, 600, 1)`, nil, "work_week_day"},
		{"the same hours twice", plan4, weekSQL + `1, 480, 600, 1)`, nil, "work_week_once"},
		{"back before away", plan4, `INSERT INTO away (from_on, to_on) VALUES ('2026-02-02', '2026-02-01')`, nil, "away_forward"},
		{"a plan taken and turned down", plan4 + ": proposed and accepted", `INSERT INTO bench_plan (number, origin_at, accepted_at, turned_down_at) VALUES (1, now(), now(), now())`, nil, "bench_plan_one_end"},
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
