package answer

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// RingRow is somebody to be told of days away, with the words ready.
type RingRow struct {
	Subject string     `db:"subject"` // the same as long as the days away are
	Who     string     `db:"who"`
	Phone   string     `db:"phone"`
	Email   string     `db:"email"`
	What    string     `db:"what"`
	On      time.Time  `db:"due"`
	ToldAt  *time.Time `db:"told_at"`
	Words   string     `db:"-"`
}

// ringMost is how many are named at most; our limit.
const ringMost = 200

// firstEmail is the first address for letters of party p.
const firstEmail = `coalesce((SELECT k.value FROM contact k WHERE k.party_id = p.id AND k.kind = 'email' AND k.put_away_at IS NULL ORDER BY k.id LIMIT 1), '')`

// RingList names whom days away touch: buyers with pieces promised for those days, those with a
// seat on a course of those days, runs not done, visits to host trees, and what suppliers are to deliver; those not told first.
// NotFound when there are no such days.
func (r *Room) RingList(ctx context.Context, awayID int64) (workshop.Away, []RingRow, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return workshop.Away{}, nil, err
	}
	away, err := postgres.One[workshop.Away](ctx, r.db, `SELECT id, from_on, to_on, why FROM away WHERE id = $1`, awayID)
	if err != nil {
		return away, nil, err
	}
	list, err := postgres.List[RingRow](ctx, r.db, `SELECT t.*, c.told_at FROM (
SELECT 'order:' || o.id AS subject, p.name::text AS who, `+firstPhone+` AS phone, `+firstEmail+` AS email, count(*) || ' of order ' || o.number AS what, min(x.due) AS due
FROM order_unit u JOIN LATERAL (SELECT greatest(u.promised_box_on, u.promised_colony_on) AS due) x ON x.due BETWEEN $2 AND $3
JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id WHERE u.handed_over_at IS NULL AND u.cancelled_at IS NULL GROUP BY o.id, p.id
UNION ALL SELECT 'run:' || n.id || ':' || coalesce(p.id, 0), coalesce(p.name::text, 'run ' || n.number), CASE WHEN p.id IS NULL THEN '' ELSE `+firstPhone+` END, CASE WHEN p.id IS NULL THEN '' ELSE `+firstEmail+` END, 'run ' || n.number, n.run_on
FROM run n LEFT JOIN LATERAL (SELECT DISTINCT o.party_id FROM run_stop x JOIN order_unit u ON u.id = x.order_unit_id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id
	WHERE x.run_id = n.id AND NOT coalesce(greatest(u.promised_box_on, u.promised_colony_on) BETWEEN $2 AND $3, false)) s ON true LEFT JOIN party p ON p.id = s.party_id WHERE n.done_at IS NULL AND n.cancelled_at IS NULL AND n.run_on BETWEEN $2 AND $3
UNION ALL SELECT 'course:' || o.id || ':' || v.id, p.name::text, `+firstPhone+`, `+firstEmail+`, v.name, v.held_on
FROM service v JOIN order_line l ON l.service_id = v.id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
	WHERE v.held_on BETWEEN $2 AND $3 AND EXISTS (SELECT 1 FROM order_unit u WHERE u.order_line_id = l.id AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL) GROUP BY o.id, v.id, p.id
UNION ALL SELECT 'visit:' || h.id, coalesce(p.name::text, h.name), CASE WHEN p.id IS NULL THEN '' ELSE `+firstPhone+` END, CASE WHEN p.id IS NULL THEN '' ELSE `+firstEmail+` END, 'the visit to ' || h.name, host_tree_due(h)
FROM host_tree h LEFT JOIN party p ON p.id = h.owner_party_id WHERE h.put_away_at IS NULL AND host_tree_due(h) BETWEEN $2 AND $3
UNION ALL SELECT 'purchase:' || b.id, coalesce(s.name::text, 'a supplier'), coalesce(s.phone::text, ''), '', 'your delivery', b.expected_on
FROM purchase b LEFT JOIN supplier s ON s.id = b.supplier_id WHERE b.received_at IS NULL AND b.expected_on BETWEEN $2 AND $3) t
LEFT JOIN ring_call c ON c.away_id = $1 AND c.subject = t.subject ORDER BY c.told_at IS NOT NULL, due, t.subject LIMIT $4`, awayID, away.FromOn, away.ToOn, ringMost)
	for i, row := range list {
		who := set.Name
		if set.MakerName != "" {
			who = set.MakerName + ", " + set.Name
		}
		why := "I am away"
		if away.Why == workshop.Ill {
			why = "I am ill"
		}
		list[i].Words = fmt.Sprintf("Hello %s, this is %s. %s until %s, so %s on %s cannot be. I ring you when I am back, and we agree on another day. I am sorry.", row.Who, who, why, show.Date(away.ToOn), row.What, show.Date(row.On))
	}
	return away, list, err
}

// RingTold ticks off somebody who was told, or takes the tick back. Errors: NotFound when
// nobody of that name is on the list.
func (r *Room) RingTold(ctx context.Context, awayID int64, subject string, told bool) error {
	_, list, err := r.RingList(ctx, awayID)
	if err != nil {
		return err
	}
	for _, row := range list {
		if row.Subject != subject {
			continue
		}
		return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
			sql, args := `INSERT INTO ring_call (away_id, subject, told_at) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, []any{awayID, subject, r.db.Now()}
			if !told {
				sql, args = `DELETE FROM ring_call WHERE away_id = $1 AND subject = $2`, args[:2]
			}
			_, err := tx.Exec(ctx, sql, args...)
			return postgres.Translate(err)
		})
	}
	return fault.New(fault.NotFound, "Nobody of that name is to be rung.")
}
