package claims_test

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
)

// Each decision of design.md section 4 that the claims' tables hold is broken here by
// plain SQL, and the database must refuse it by name.
func TestSchemaRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const claim = `INSERT INTO claim (order_unit_id, build_id, lot_id, item_id, shelf_lot_id, pack_id, box_id, colony_id, quantity, strength) VALUES `
	w.id(claim+`($1, NULL, $2, NULL, NULL, NULL, NULL, NULL, 2, 'put aside') RETURNING id`, w.unitA, w.lot)
	w.id(claim+`($1, NULL, NULL, NULL, NULL, NULL, $2, NULL, 1, 'meant') RETURNING id`, w.unitA, w.box)
	w.id(claim+`($1, NULL, NULL, NULL, NULL, NULL, NULL, $2, 1, 'meant') RETURNING id`, w.unitA, w.colony)
	packClaim := w.id(claim+`(NULL, $1, NULL, NULL, NULL, $2, NULL, NULL, 1, 'meant') RETURNING id`, w.build, w.pack)
	ended := w.id(claim+`(NULL, $1, NULL, $2, NULL, NULL, NULL, NULL, 1, 'meant') RETURNING id`, w.build, w.item)
	w.id(`UPDATE claim SET ended_at = now(), ended_how = 'freed' WHERE id = $1 RETURNING id`, ended)
	pack2 := w.id(`INSERT INTO pack (number, species_id, board_size_id, stacked_on) SELECT 'P2', species_id, board_size_id, stacked_on FROM pack WHERE id = $1 RETURNING id`, w.pack)

	const claims4 = "design.md section 4, Claims"
	tests := []struct {
		name, source, sql string
		args              []any
		constraint        string
	}{
		{"more put aside than on hand", claims4 + ": 0 <= put_aside <= on_hand", claim + `($1, NULL, $2, NULL, NULL, NULL, NULL, NULL, 5, 'put aside')`, []any{w.unitB, w.lot}, "board_lot_within"},
		{"more of an item", claims4, claim + `($1, NULL, NULL, $2, NULL, NULL, NULL, NULL, 11, 'put aside')`, []any{w.unitB, w.item}, "item_within"},
		{"more of a shelf lot", claims4, claim + `($1, NULL, NULL, NULL, $2, NULL, NULL, NULL, 5, 'put aside')`, []any{w.unitB, w.shelfLot}, "shelf_lot_within"},
		{"a raised quantity", claims4, `UPDATE claim SET quantity = 7 WHERE lot_id = $1`, []any{w.lot}, "board_lot_within"},
		{"counts by hand", claims4 + ": changed only with the move or claim", `UPDATE board_lot SET put_aside = 0 WHERE id = $1`, []any{w.lot}, "board_lot_counts"},
		{"item counts by hand", claims4, `UPDATE item SET on_hand = 99 WHERE id = $1`, []any{w.item}, "item_counts"},
		{"shelf counts by hand", claims4, `UPDATE shelf_lot SET on_hand = 99 WHERE id = $1`, []any{w.shelfLot}, "shelf_lot_counts"},
		{"a box twice", claims4 + ": unique on box while open", claim + `(NULL, $1, NULL, NULL, NULL, NULL, $2, NULL, 1, 'put aside')`, []any{w.build, w.box}, "claim_one_a_box"},
		{"a colony twice", claims4 + ": and on colony", claim + `(NULL, $1, NULL, NULL, NULL, NULL, NULL, $2, 1, 'put aside')`, []any{w.build, w.colony}, "claim_one_a_colony"},
		{"nobody's claim", claims4 + ": order unit or build", claim + `(NULL, NULL, $1, NULL, NULL, NULL, NULL, NULL, 1, 'meant')`, []any{w.lot}, "claim_one_claimant"},
		{"two claimants", claims4, claim + `($1, $2, $3, NULL, NULL, NULL, NULL, NULL, 1, 'meant')`, []any{w.unitA, w.build, w.lot}, "claim_one_claimant"},
		{"nothing claimed", claims4, claim + `($1, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 1, 'meant')`, []any{w.unitA}, "claim_one_thing"},
		{"two things", claims4, claim + `($1, NULL, $2, $3, NULL, NULL, NULL, NULL, 1, 'meant')`, []any{w.unitA, w.lot, w.item}, "claim_one_thing"},
		{"no quantity", claims4, claim + `($1, NULL, $2, NULL, NULL, NULL, NULL, NULL, 0, 'meant')`, []any{w.unitA, w.lot}, "claim_quantity"},
		{"another strength", claims4 + ": two strengths", claim + `($1, NULL, $2, NULL, NULL, NULL, NULL, NULL, 1, 'hoped')`, []any{w.unitA, w.lot}, "claim_strength"},
		{"half an end", claims4 + ": when and how it ended", `UPDATE claim SET ended_at = now() WHERE lot_id = $1`, []any{w.lot}, "claim_end"},
		{"another end", claims4, `UPDATE claim SET ended_at = now(), ended_how = 'eaten' WHERE lot_id = $1`, []any{w.lot}, "claim_ended_how"},
		{"a drying pack put aside", claims4 + ": meant (also on packs still drying)", claim + `(NULL, $1, NULL, NULL, NULL, $2, NULL, NULL, 1, 'put aside')`, []any{w.build, w.pack}, "claim_pack_meant"},
		{"two of a box", claims4, claim + `($1, NULL, NULL, NULL, NULL, NULL, $2, NULL, 2, 'meant')`, []any{w.unitB, w.box}, "claim_one_body"},
		{"another thing under a claim", claims4, `UPDATE claim SET lot_id = $2 WHERE lot_id = $1`, []any{w.lot, w.thin}, "claim_stays"},
		{"another pack under a claim", claims4, `UPDATE claim SET pack_id = $2 WHERE id = $1`, []any{packClaim, pack2}, "claim_stays"},
		{"an ended claim reopened", claims4, `UPDATE claim SET ended_at = NULL, ended_how = NULL WHERE id = $1`, []any{ended}, "claim_stays"},
		{"a claim deleted", "design.md section 4, Keeping: nothing is deleted", `DELETE FROM claim WHERE lot_id = $1`, []any{w.lot}, "claim_stays"},
		{"a box of somebody else", "design.md section 4, Box: only what the workshop owns", claim + `($1, NULL, NULL, NULL, NULL, NULL, $2, NULL, 1, 'meant')`, []any{w.unitB, w.othersBox}, "claim_box_ours"},
		{"a box held back", "design.md section 4, Box: and does not hold back", claim + `($1, NULL, NULL, NULL, NULL, NULL, $2, NULL, 1, 'meant')`, []any{w.unitB, w.boxHeld}, "claim_box_ours"},
		{"a colony of somebody else", "design.md section 4, Box", claim + `($1, NULL, NULL, NULL, NULL, NULL, NULL, $2, 1, 'meant')`, []any{w.unitB, w.colonyOthers}, "claim_colony_ours"},
		{"a colony that has ended", "design.md section 4, Box", claim + `($1, NULL, NULL, NULL, NULL, NULL, NULL, $2, 1, 'meant')`, []any{w.unitB, w.colonyEnd}, "claim_colony_ours"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			_, err := w.db.Exec(t.Context(), tc.sql, tc.args...)
			var pg *pgconn.PgError
			require.True(t, errors.As(err, &pg), "not refused: %v", err)
			require.Equal(t, tc.constraint, pg.ConstraintName)
		})
	}
}
