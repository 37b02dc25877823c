package apiary

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
)

// Each decision about colonies is held by the database itself: what breaks it by SQL is
// refused by name.
func TestSchemaRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	box := w.box(t, "10016", nil)
	a := w.colony(t, func(n *NewColony) { n.Dwelling, n.BoxID = "box", &box })
	b := w.colony(t, func(n *NewColony) { n.Parents = []Parent{{ParentID: a.ID, Kind: "split"}} })
	for _, c := range []struct {
		name, constraint, sql string
		args                  []any
	}{
		{"two colonies in a box", "housing_one_a_box", `UPDATE housing SET dwelling = 'box', box_id = $2 WHERE colony_id = $1`, []any{b.ID, box}},
		{"a colony in two dwellings", "housing_one_a_colony", `INSERT INTO housing (colony_id, dwelling, from_at) VALUES ($1, 'log', now())`, []any{a.ID}},
		{"a box dwelling without a box", "housing_box", `UPDATE housing SET dwelling = 'box' WHERE colony_id = $1`, []any{b.ID}},
		{"left before it came", "housing_forward", `UPDATE housing SET to_at = from_at - interval '1 day' WHERE colony_id = $1`, []any{a.ID}},
		{"two owners at once", "colony_owner_one_now", `INSERT INTO colony_owner (colony_id, from_at) VALUES ($1, now())`, []any{a.ID}},
		{"two keepers at once", "colony_keeper_one_now", `INSERT INTO colony_keeper (colony_id, from_at) VALUES ($1, now())`, []any{a.ID}},
		{"at two places at once", "colony_place_one_now", `INSERT INTO colony_place (colony_id, from_at) VALUES ($1, now())`, []any{a.ID}},
		{"its own parent", "colony_parent_no_ring", `UPDATE colony_parent SET parent_id = colony_id WHERE colony_id = $1`, []any{b.ID}},
		{"its own grandparent", "colony_parent_no_ring", `INSERT INTO colony_parent (colony_id, parent_id, kind) VALUES ($1, $2, 'united')`, []any{a.ID, b.ID}},
		{"a parent noted twice", "colony_parent_once", `INSERT INTO colony_parent (colony_id, parent_id, kind) VALUES ($1, $2, 'split')`, []any{b.ID, a.ID}},
		{"a kind of parent nobody knows", "colony_parent_kind", `UPDATE colony_parent SET kind = 'adopted'`, nil},
		{"gone without saying how", "colony_end", `UPDATE colony SET ended_at = now() WHERE id = $1`, []any{a.ID}},
		{"a number twice", "colony_number_once", `UPDATE colony SET number = 'C0001' WHERE id = $1`, []any{b.ID}},
		{"a hive of no mass", "colony_event_mass", `INSERT INTO colony_event (colony_id, kind, happened_at, mass_kg) VALUES ($1, 'weighed', now(), 0)`, []any{a.ID}},
		{"a dwelling nobody knows", "housing_dwelling", `UPDATE housing SET dwelling = 'shoe' WHERE colony_id = $1`, []any{b.ID}},
	} {
		_, err := w.db.Exec(t.Context(), c.sql, c.args...)
		var pg *pgconn.PgError
		require.True(t, errors.As(err, &pg), "%s was not refused: %v", c.name, err)
		require.Equal(t, c.constraint, pg.ConstraintName, c.name)
	}
}
