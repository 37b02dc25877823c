package apiary

import (
	"context"
	"strings"
	"time"

	"kerfbook/internal/postgres"
)

const treeSelect = `SELECT t.id, t.version, t.name, t.place, t.latitude, t.longitude, t.site_id, t.owner_party_id, t.permission, t.permission_on, t.permission_until, t.permit_id, t.bee_species_id, t.box_id, t.fixed_on, t.box_leaves,
	t.visit_every_days, t.next_visit_on, t.settled_on, t.colony_id, t.notes, t.put_away_at IS NOT NULL AS put_away, t.put_away_because,
	b.serial AS box_serial, c.number AS colony_number, coalesce(s.name::text, '') AS species_name, coalesce(o.name::text, '') AS owner_name,
	coalesce(t.latitude, si.latitude) AS at_latitude, coalesce(t.longitude, si.longitude) AS at_longitude, host_tree_due(t) AS due_on,
	v.happened_at AS last_visit_at, coalesce(v.found, '') AS last_found, coalesce(v.seen::text, '') AS last_seen,
	coalesce(p.number::text, '') AS permit_number, coalesce(p.authority::text, '') AS permit_of, p.from_on AS permit_from, p.ends_on AS permit_ends, coalesce(p.warn_days, 0) AS permit_warn
FROM host_tree t LEFT JOIN box b ON b.id = t.box_id LEFT JOIN colony c ON c.id = t.colony_id LEFT JOIN bee_species s ON s.id = t.bee_species_id LEFT JOIN party o ON o.id = t.owner_party_id
LEFT JOIN site si ON si.id = t.site_id LEFT JOIN permit p ON p.id = t.permit_id
LEFT JOIN LATERAL (SELECT x.happened_at, x.found, x.seen FROM host_tree_visit x WHERE x.host_tree_id = t.id ORDER BY x.happened_at DESC, x.id DESC LIMIT 1) v ON true `

// treesMost bounds a list of host trees; a workshop has dozens.
const treesMost = 500

// TreeFilter says which host trees a list holds.
type TreeFilter struct {
	DueBy   *time.Time // only those due on or before this day
	PutAway bool       // those put away instead of those in use
	Find    string     // part of the name or place, or the box's serial
}

// HostTreeList gives the host trees, the one due first on top; at most 500.
func (r *Room) HostTreeList(ctx context.Context, f TreeFilter) ([]HostTree, error) {
	return postgres.List[HostTree](ctx, r.db, treeSelect+`WHERE (t.put_away_at IS NOT NULL) = $1 AND ($2::date IS NULL OR host_tree_due(t) <= $2)
	AND ($3 = '' OR strpos(lower(t.name || ' ' || t.place), lower($3)) > 0 OR b.serial = $3)
ORDER BY host_tree_due(t) NULLS LAST, t.id LIMIT $4`, f.PutAway, f.DueBy, strings.TrimSpace(f.Find), treesMost)
}

// HostTreeGet reads one.
func (r *Room) HostTreeGet(ctx context.Context, id int64) (HostTree, error) {
	return postgres.One[HostTree](ctx, r.db, treeSelect+`WHERE t.id = $1`, id)
}

// HostTreesOf reads several, in no order; those that are not in the book are missing.
func (r *Room) HostTreesOf(ctx context.Context, ids []int64) (map[int64]HostTree, error) {
	list, err := postgres.List[HostTree](ctx, r.db, treeSelect+`WHERE t.id = ANY ($1)`, ids)
	out := make(map[int64]HostTree, len(list))
	for _, t := range list {
		out[t.ID] = t
	}
	return out, err
}

// HostTreeVisits gives the visits to a tree, newest first.
func (r *Room) HostTreeVisits(ctx context.Context, tree int64) ([]Visit, error) {
	return postgres.List[Visit](ctx, r.db, `SELECT host_tree_id, happened_at, found, seen FROM host_tree_visit WHERE host_tree_id = $1 ORDER BY happened_at DESC, id DESC LIMIT 200`, tree)
}

// DrawnFrom gives the colonies that were drawn from a tree, the last first; Number and
// Name are theirs, HappenedOn the day each was noted settled.
func (r *Room) DrawnFrom(ctx context.Context, tree int64) ([]Parent, error) {
	return postgres.List[Parent](ctx, r.db, `SELECT c.id AS colony_id, 0::bigint AS parent_id, c.number, c.name, 'drawn' AS kind, c.settled_on AS happened_on FROM colony c WHERE c.host_tree_id = $1 ORDER BY c.id DESC LIMIT 200`, tree)
}

// TreeOfColony gives the tree a colony was drawn from; false when it was drawn from none.
func (r *Room) TreeOfColony(ctx context.Context, colony int64) (HostTree, bool, error) {
	list, err := postgres.List[HostTree](ctx, r.db, treeSelect+`WHERE t.id = (SELECT host_tree_id FROM colony WHERE id = $1)`, colony)
	if err != nil || len(list) == 0 {
		return HostTree{}, false, err
	}
	return list[0], true, nil
}
