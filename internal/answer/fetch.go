package answer

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// Unfetched is an order of which pieces stand ready for the buyer to fetch.
type Unfetched struct {
	OrderID int64     `db:"order_id"`
	Number  string    `db:"number"`
	Who     string    `db:"who"`
	Phone   string    `db:"phone"`
	Email   string    `db:"email"`
	Pieces  int       `db:"pieces"`
	Bees    bool      `db:"bees"`
	ReadyOn time.Time `db:"ready_on"` // the day agreed for fetching, else when all was put aside and promised

	Days  int           `db:"-"` // since then
	Due   *int32        `db:"-"` // the reminder to send now, by its day; nil: none
	Last  bool          `db:"-"` // Due is the last one: it prints the terms
	Next  *time.Time    `db:"-"` // when the next one is due
	Words string        `db:"-"` // of Due, else of one out of turn
	Told  []FetchRemind `db:"-"`
}

// FetchRemind is a reminder that was sent.
type FetchRemind struct {
	AfterDays int       `db:"after_days"`
	ToldAt    time.Time `db:"told_at"`
	Words     string    `db:"words"`
}

// unfetchedMost bounds the pieces that are looked at: ten times as many with a box, and as many with a colony.
const unfetchedMost = 60

// Pieces that may be ready to be fetched: those with a box or a colony put aside; or those of
// order $3.
const (
	maybeUnfetched = `WITH maybe AS MATERIALIZED ((SELECT order_unit_id AS id FROM claim WHERE ended_at IS NULL AND box_id IS NOT NULL AND order_unit_id IS NOT NULL ORDER BY id LIMIT 10 * $4)
UNION (SELECT order_unit_id FROM claim WHERE ended_at IS NULL AND colony_id IS NOT NULL AND order_unit_id IS NOT NULL ORDER BY id LIMIT 10 * $4)) `
	unitsOfOrder = `WITH maybe AS MATERIALIZED (SELECT u.id FROM order_line l JOIN order_unit u ON u.order_line_id = l.id WHERE l.order_id = $3 LIMIT 10 * $4) `
)

// unfetchedSelect finds what is ready and goes with no run of ours: the buyer has a day to
// fetch it, or no delivery was bought.
const unfetchedSelect = `SELECT o.id AS order_id, o.number, p.name::text AS who, ` + firstPhone + ` AS phone, ` + firstEmail + ` AS email, count(*)::int AS pieces, bool_or(u.wants_colony) AS bees, min(x.ready_on) AS ready_on
FROM maybe JOIN order_unit u ON u.id = maybe.id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
JOIN LATERAL (SELECT max(c.made_at) AS made_at, bool_or(c.box_id IS NOT NULL) AS box, bool_or(c.colony_id IS NOT NULL) AS colony FROM claim c WHERE c.order_unit_id = u.id AND c.ended_at IS NULL) a ON true
LEFT JOIN LATERAL (SELECT n.kind, n.run_on FROM run_stop s JOIN run n ON n.id = s.run_id WHERE s.order_unit_id = u.id AND s.done_at IS NULL AND n.cancelled_at IS NULL ORDER BY n.run_on, s.id LIMIT 1) n ON true
JOIN LATERAL (SELECT CASE WHEN n.kind = 'collection' THEN n.run_on ELSE greatest((a.made_at AT TIME ZONE $2)::date, u.promised_box_on, u.promised_colony_on) END AS ready_on) x ON true
WHERE u.handed_over_at IS NULL AND u.cancelled_at IS NULL AND (u.wants_box OR u.wants_colony) AND (NOT u.wants_box OR u.own_box OR coalesce(a.box, false)) AND (NOT u.wants_colony OR coalesce(a.colony, false))
	AND (n.kind = 'collection' OR n.kind IS NULL AND NOT EXISTS (SELECT FROM order_line d WHERE d.order_id = o.id AND d.kind = 'service' AND d.description = 'Delivery'))
	AND x.ready_on <= $1 AND ($3::bigint = 0 OR o.id = $3) GROUP BY o.id, p.id ORDER BY min(x.ready_on), o.id LIMIT 200`

// UnfetchedList gives the orders of which pieces stand ready to be fetched, those that wait
// longest first.
func (r *Room) UnfetchedList(ctx context.Context) ([]Unfetched, error) { return r.unfetched(ctx, 0) }

// UnfetchedGet gives what of an order stands ready to be fetched; nil when nothing does.
func (r *Room) UnfetchedGet(ctx context.Context, order int64) (*Unfetched, error) {
	list, err := r.unfetched(ctx, order)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return &list[0], nil
}

func (r *Room) unfetched(ctx context.Context, order int64) ([]Unfetched, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	after, err := r.House.AfterCareGet(ctx)
	if err != nil {
		return nil, err
	}
	some := maybeUnfetched
	if order != 0 {
		some = unitsOfOrder
	}
	list, err := postgres.List[Unfetched](ctx, r.db, some+unfetchedSelect, today, set.TimeZone, order, unfetchedMost)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(list))
	for i, u := range list {
		ids[i] = u.OrderID
	}
	told, err := postgres.List[struct {
		OrderID int64     `db:"order_id"`
		ReadyOn time.Time `db:"ready_on"`
		FetchRemind
	}](ctx, r.db, `SELECT order_id, ready_on, after_days, told_at, words FROM fetch_reminder WHERE order_id = ANY ($1) ORDER BY told_at, id`, ids)
	if err != nil {
		return nil, err
	}
	for i := range list {
		u := &list[i]
		for _, t := range told {
			if t.OrderID == u.OrderID && t.ReadyOn.Equal(u.ReadyOn) {
				u.Told = append(u.Told, t.FetchRemind)
			}
		}
		u.Days = int(today.Sub(u.ReadyOn).Hours() / 24)
		u.reminder(after)
		u.Words = u.words(set, after)
	}
	return list, nil
}

// reminder finds the reminder that is due: the latest whose day has come, unless it or a
// later one was sent.
func (u *Unfetched) reminder(after house.AfterCare) {
	sent := int32(-1)
	for _, t := range u.Told {
		sent = max(sent, int32(t.AfterDays))
	}
	for i, d := range after.FetchDays {
		switch {
		case d <= sent:
		case int(d) <= u.Days:
			u.Due, u.Last = &after.FetchDays[i], i == len(after.FetchDays)-1
		case u.Next == nil:
			next := u.ReadyOn.AddDate(0, 0, int(d))
			u.Next = &next
		}
	}
}

func (u Unfetched) words(set house.Settings, after house.AfterCare) string {
	again := ""
	if len(u.Told) > 0 {
		again = " still"
	}
	text := fmt.Sprintf("Hello %s, this is %s. Your order %s (%s)%s stands ready to be fetched since %s. Which day suits you?", u.Who, strings.Join(filled(set.MakerName, set.Name), ", "), u.Number,
		show.Count(int64(u.Pieces), "piece", "pieces"), again, show.Date(u.ReadyOn))
	if u.Bees {
		text += " Bees travel in the evening or early in the morning: ring before you set out."
	}
	if u.Last && after.FetchTerms != "" {
		text += " " + after.FetchTerms
	}
	return text + prefix(" My number: ", set.Phone) + map[bool]string{true: ".", false: ""}[set.Phone != ""]
}

// FetchTold notes that the reminder that is due was sent, with its words. Errors: NotFound
// when nothing of the order waits; Conflict when no reminder is due.
func (r *Room) FetchTold(ctx context.Context, order int64) (Unfetched, error) {
	var out Unfetched
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		u, err := r.UnfetchedGet(ctx, order)
		if err != nil {
			return err
		}
		if u == nil {
			return fault.New(fault.NotFound, "Nothing of this order waits to be fetched.")
		}
		if u.Due == nil {
			return fault.New(fault.Conflict, "No reminder is due%s.", prefix(" before ", show.DateOr(u.Next, "")))
		}
		if _, err := tx.Exec(ctx, `INSERT INTO fetch_reminder (order_id, ready_on, after_days, told_at, words) VALUES ($1, $2, $3, $4, $5)`, order, u.ReadyOn, *u.Due, r.db.Now(), u.Words); err != nil {
			return err
		}
		u, err = r.UnfetchedGet(ctx, order)
		if err == nil {
			out = *u
		}
		return err
	})
	return out, err
}

// unfetchedLines: buyers to be reminded to fetch what is ready.
func (s *sheet) unfetchedLines(ctx context.Context) error {
	list, err := s.UnfetchedList(ctx)
	if err != nil {
		return err
	}
	for _, u := range list {
		if u.Due == nil {
			continue
		}
		text := fmt.Sprintf("Order %s stands ready for %s since %s and is not fetched. Remind them: the words are ready.", u.Number, u.Who, show.Date(u.ReadyOn))
		if u.Last {
			text = fmt.Sprintf("Order %s is not fetched by %s since %s. The last reminder is due: it prints your terms.", u.Number, u.Who, show.Date(u.ReadyOn))
		}
		due := u.ReadyOn.AddDate(0, 0, int(*u.Due))
		s.add("not fetched", access.Orders, fmt.Sprintf("order:%d:fetch:%s:%d", u.OrderID, u.ReadyOn.Format(time.DateOnly), *u.Due), s.path("/orders/", u.OrderID)+"/fetch", text, due, due.Before(s.day))
	}
	return nil
}
