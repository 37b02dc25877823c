package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// siteSheetAhead is how many days before we come the site sheet goes out.
const siteSheetAhead = 7

// siteSheetsMost bounds the pieces that are looked at.
const siteSheetsMost = 60

// siteSheets: orders whose site sheet should go out because we come within a week; gone
// from the sheet once it was mailed, or ticked off when it went another way.
func (s *sheet) siteSheets(ctx context.Context) error {
	list, err := postgres.List[struct {
		OrderID int64     `db:"order_id"`
		Number  string    `db:"number"`
		Who     string    `db:"who"`
		On      time.Time `db:"coming_on"`
	}](ctx, s.db, `WITH maybe AS MATERIALIZED ((SELECT id FROM order_unit WHERE handed_over_at IS NULL AND cancelled_at IS NULL AND least(promised_box_on, promised_colony_on) BETWEEN $1::date - 180 AND $1::date + $2::int ORDER BY least(promised_box_on, promised_colony_on) DESC, id DESC LIMIT $4)
UNION (SELECT s.order_unit_id FROM run n JOIN run_stop s ON s.run_id = n.id WHERE n.run_on BETWEEN $1::date AND $1::date + $2::int AND n.cancelled_at IS NULL AND s.order_unit_id IS NOT NULL ORDER BY n.run_on, s.id LIMIT $4))
SELECT o.id AS order_id, o.number, p.name::text AS who, min(x.coming_on) AS coming_on
FROM maybe JOIN order_unit u ON u.id = maybe.id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
LEFT JOIN LATERAL (SELECT n.kind, n.run_on FROM run_stop s JOIN run n ON n.id = s.run_id WHERE s.order_unit_id = u.id AND s.done_at IS NULL AND n.cancelled_at IS NULL ORDER BY n.run_on, s.id LIMIT 1) n ON true
JOIN LATERAL (SELECT coalesce(n.run_on, greatest(u.promised_box_on, u.promised_colony_on)) AS coming_on) x ON true
WHERE u.handed_over_at IS NULL AND u.cancelled_at IS NULL AND (u.wants_box OR u.wants_colony) AND coalesce(u.site_id, o.site_id) IS NOT NULL AND x.coming_on BETWEEN $1::date AND $1::date + $2::int
	AND (n.kind = 'delivery' OR n.kind IS NULL AND EXISTS (SELECT FROM order_line d WHERE d.order_id = o.id AND d.kind = 'service' AND d.description = 'Delivery'))
	AND NOT EXISTS (SELECT FROM mail m WHERE m.paper = 'site' AND m.number = o.number AND m.gave_up_at IS NULL)
GROUP BY o.id, p.id ORDER BY min(x.coming_on), o.id LIMIT $3`, s.day, siteSheetAhead, dayLinesOfSort, siteSheetsMost)
	if err != nil {
		return err
	}
	for _, o := range list {
		s.add("site sheet", access.Orders, fmt.Sprintf("order:%d:site:%s", o.OrderID, o.On.Format(time.DateOnly)), "/mail?paper=site&number="+o.Number,
			fmt.Sprintf("Send %s the site sheet for order %s: we come on %s.", o.Who, o.Number, show.Date(o.On)), o.On.AddDate(0, 0, -siteSheetAhead), o.On.AddDate(0, 0, -3).Before(s.day))
	}
	return nil
}
