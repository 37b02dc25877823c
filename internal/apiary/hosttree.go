package apiary

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// HostTree is a hollow tree that colonies are drawn from.
type HostTree struct {
	ID           int64      `db:"id"`
	Version      int        `db:"version"`
	Name         string     `db:"name"`
	SiteID       *int64     `db:"site_id"`
	OwnerPartyID *int64     `db:"owner_party_id"`
	Permission   string     `db:"permission"`
	BeeSpeciesID *int64     `db:"bee_species_id"`
	BoxID        *int64     `db:"box_id"`
	BoxSerial    *string    `db:"box_serial"`
	FixedOn      *time.Time `db:"fixed_on"`
	BoxLeaves    bool       `db:"box_leaves"`
	NextVisitOn  *time.Time `db:"next_visit_on"`
	Notes        string     `db:"notes"`
}

const treeSelect = `SELECT t.id, t.version, t.name, t.site_id, t.owner_party_id, t.permission, t.bee_species_id, t.box_id, b.serial AS box_serial, t.fixed_on, t.box_leaves, t.next_visit_on, t.notes
FROM host_tree t LEFT JOIN box b ON b.id = t.box_id `

// HostTreePut stores t: new when t.ID is 0, else a change of version t.Version.
func (r *Room) HostTreePut(ctx context.Context, t HostTree) (HostTree, error) {
	var l fault.List
	l.Check(strings.TrimSpace(t.Name) != "", "/name", "Give the tree a name by which you find it again.")
	l.Text("/name", t.Name, maxWords)
	l.Text("/permission", t.Permission, maxWords)
	l.Text("/notes", t.Notes, maxProse)
	l.Check(t.BoxID == nil || strings.TrimSpace(t.Permission) != "", "/permission", "Note who allowed it before a box is fixed to the tree.")
	if err := l.Err(); err != nil {
		return t, err
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		args := []any{t.Name, t.SiteID, t.OwnerPartyID, t.Permission, t.BeeSpeciesID, t.BoxID, t.FixedOn, t.BoxLeaves, t.NextVisitOn, t.Notes}
		if t.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO host_tree (name, site_id, owner_party_id, permission, bee_species_id, box_id, fixed_on, box_leaves, next_visit_on, notes)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) RETURNING id, version`, args...).Scan(&t.ID, &t.Version)
		}
		err := tx.QueryRow(ctx, `UPDATE host_tree SET name = $1, site_id = $2, owner_party_id = $3, permission = $4, bee_species_id = $5, box_id = $6, fixed_on = $7, box_leaves = $8, next_visit_on = $9, notes = $10
WHERE id = $11 AND version = $12 RETURNING version`, append(args, t.ID, t.Version)...).Scan(&t.Version)
		return postgres.StaleOr(ctx, tx, err, "host_tree", t.ID)
	})
	return t, err
}

// HostTreeList gives the host trees, the next visit first.
func (r *Room) HostTreeList(ctx context.Context) ([]HostTree, error) {
	return postgres.List[HostTree](ctx, r.db, treeSelect+`WHERE t.put_away_at IS NULL ORDER BY t.next_visit_on NULLS LAST, t.id LIMIT 200`)
}

// HostTreeGet reads one.
func (r *Room) HostTreeGet(ctx context.Context, id int64) (HostTree, error) {
	return postgres.One[HostTree](ctx, r.db, treeSelect+`WHERE t.id = $1`, id)
}

// HostTreeVisit notes what was seen at a tree, and when to come next.
func (r *Room) HostTreeVisit(ctx context.Context, tree int64, at time.Time, seen string, next *time.Time) error {
	seen = strings.TrimSpace(seen)
	if seen == "" {
		return fault.Bad("/seen", "Note what was seen.")
	}
	if at.IsZero() {
		at = r.db.Now()
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `INSERT INTO host_tree_visit (host_tree_id, happened_at, seen) VALUES ($1, $2, $3)`, tree, at, seen); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `UPDATE host_tree SET next_visit_on = $2 WHERE id = $1`, tree, next)
		return err
	})
}

// Visit is what was seen at a host tree.
type Visit struct {
	HappenedAt time.Time `db:"happened_at"`
	Seen       string    `db:"seen"`
}

// HostTreeVisits gives the visits to a tree, newest first.
func (r *Room) HostTreeVisits(ctx context.Context, tree int64) ([]Visit, error) {
	return postgres.List[Visit](ctx, r.db, `SELECT happened_at, seen FROM host_tree_visit WHERE host_tree_id = $1 ORDER BY happened_at DESC, id DESC LIMIT 200`, tree)
}
