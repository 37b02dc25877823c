package answer

import (
	"context"
	"time"

	"kerfbook/internal/postgres"
)

// keptOf is how many promises are looked back at.
const keptOf = 20

// Kept is how the promises that came due last went.
type Kept struct {
	Kept  int
	Items []PromiseKept // the latest promise first; at most twenty
}

// PromiseKept is what became of one promise: one piece of an order.
type PromiseKept struct {
	UnitID   int64      `db:"unit_id"`
	OrderID  int64      `db:"order_id"`
	Order    string     `db:"number"`
	Who      string     `db:"who"`
	What     string     `db:"what"`
	N        int        `db:"n"`
	Promised time.Time  `db:"promised_on"` // as first promised
	Moved    *time.Time `db:"moved_on"`    // where another day was agreed since
	Why      string     `db:"why"`         // of the last change
	Ready    *time.Time `db:"ready_on"`    // box finished and cured, colony settled; nil: not known
	Handed   *time.Time `db:"handed_on"`
	Kept     bool       `db:"kept"`
}

// PromisesKept looks at the last twenty promises that have come due or were met before: a
// piece counts as kept when it was handed over, or stood ready, by the day it was first
// promised for. Pieces from the shelf that were promised for the day of the sale count too.
func (r *Room) PromisesKept(ctx context.Context) (Kept, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return Kept{}, err
	}
	var k Kept
	k.Items, err = postgres.List[PromiseKept](ctx, r.db, `WITH due AS (
	SELECT u.id, u.n, u.order_line_id, u.handed_over_at, u.wants_box, u.wants_colony, u.own_box, f.promised_on, nullif(greatest(u.promised_box_on, u.promised_colony_on), f.promised_on) AS moved_on
	FROM order_unit u, LATERAL (SELECT greatest(
		coalesce((SELECT c.was_on FROM promise_change c WHERE c.order_unit_id = u.id AND c.part = 'box' AND c.was_on IS NOT NULL ORDER BY c.id LIMIT 1), u.promised_box_on),
		coalesce((SELECT c.was_on FROM promise_change c WHERE c.order_unit_id = u.id AND c.part = 'colony' AND c.was_on IS NOT NULL ORDER BY c.id LIMIT 1), u.promised_colony_on)) AS promised_on) f
	WHERE u.cancelled_at IS NULL AND f.promised_on IS NOT NULL AND (f.promised_on < $1 OR u.handed_over_at IS NOT NULL)
	ORDER BY f.promised_on DESC, u.id DESC LIMIT $3)
SELECT d.id AS unit_id, o.id AS order_id, o.number, p.name AS who, l.description AS what, d.n, d.promised_on, d.moved_on,
	coalesce((SELECT c.reason::text FROM promise_change c WHERE c.order_unit_id = d.id AND c.was_on IS NOT NULL ORDER BY c.id DESC LIMIT 1), '') AS why,
	x.ready_on, (d.handed_over_at AT TIME ZONE $2)::date AS handed_on,
	coalesce((d.handed_over_at AT TIME ZONE $2)::date <= d.promised_on OR x.ready_on <= d.promised_on, false) AS kept
FROM due d JOIN order_line l ON l.id = d.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
LEFT JOIN LATERAL (SELECT max(b.ready) AS box_on FROM (
	SELECT greatest((b.finished_at AT TIME ZONE $2)::date, b.cured_on) AS ready FROM box b WHERE b.id = coalesce(
		(SELECT h.box_id FROM handover h WHERE h.order_unit_id = d.id AND h.undone_at IS NULL),
		(SELECT c.box_id FROM claim c WHERE c.order_unit_id = d.id AND c.box_id IS NOT NULL AND (c.ended_at IS NULL OR c.ended_how = 'handed over') ORDER BY c.id DESC LIMIT 1))) b) bx ON true
LEFT JOIN LATERAL (SELECT y.settled_on AS colony_on FROM colony y WHERE y.id = coalesce(
		(SELECT h.colony_id FROM handover h WHERE h.order_unit_id = d.id AND h.undone_at IS NULL),
		(SELECT c.colony_id FROM claim c WHERE c.order_unit_id = d.id AND c.colony_id IS NOT NULL AND (c.ended_at IS NULL OR c.ended_how = 'handed over') ORDER BY c.id DESC LIMIT 1))) cy ON true
CROSS JOIN LATERAL (SELECT CASE WHEN (NOT d.wants_box OR d.own_box OR bx.box_on IS NOT NULL) AND (NOT d.wants_colony OR cy.colony_on IS NOT NULL) THEN greatest(bx.box_on, cy.colony_on) END AS ready_on) x
ORDER BY d.promised_on DESC, d.id DESC`, today, set.TimeZone, keptOf)
	for _, p := range k.Items {
		if p.Kept {
			k.Kept++
		}
	}
	return k, err
}
