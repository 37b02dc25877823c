package answer

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/claims"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// How far the Day sheet looks ahead and back, in days; our choices.
const (
	runsOutAhead   = 3  // quotes
	brokenBack     = 60 // facts that broke a promise
	readingAfter   = 30 // days without a reading of a pack
	readingNear    = 60 // days before it is expected to be dry
	closedHours    = 36 // where the kind of bee has no figure of its own
	deadlineAhead  = 1  // builds, handovers, runs
	dayTextCut     = 160
	dayLinesOfSort = 100
)

// DaySheet gives everything that a day asks, in no order; [DayBook.Left] sorts it and
// leaves out what was done or put off. Subjects are the same every day.
func (r *Room) DaySheet(ctx context.Context, day time.Time) ([]DayLine, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	s := &sheet{Room: r, set: set, day: day}
	for _, sort := range []func(context.Context) error{s.closed, s.closing, s.stolen, s.held, s.stillOpen, s.broken, s.promises, s.noDay, s.calls, s.quotes, s.builds, s.slips, s.time, s.stock, s.packs, s.mill, s.runs, s.followUps, s.guarantees, s.invoices, s.trees, s.keepings, s.permits,
		s.line, s.wordings,
		s.siteSheets, s.unfetchedLines} {
		if err := sort(ctx); err != nil {
			return nil, err
		}
	}
	return s.lines, nil
}

// sheet gathers the lines of one day.
type sheet struct {
	*Room
	set   house.Settings
	day   time.Time
	lines []DayLine
}

func (s *sheet) add(kind string, area access.Area, subject, href, text string, due time.Time, late bool) {
	if r := []rune(text); len(r) > dayTextCut {
		text = string(r[:dayTextCut-1]) + "…"
	}
	s.lines = append(s.lines, DayLine{Subject: subject, Kind: kind, Text: text, Href: href, Area: area, Due: due, Late: late})
}

func (s *sheet) path(base string, id int64) string { return base + strconv.FormatInt(id, 10) }

// closed: entrances that were closed and not opened again, loudest of all when longer
// than the kind of bee bears.
func (s *sheet) closed(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID       int64     `db:"id"`
		RunID    int64     `db:"run_id"`
		ClosedAt time.Time `db:"closed_at"`
		Who      string    `db:"who"`
		Hours    int       `db:"hours"`
	}](ctx, s.db, `SELECT x.id, x.run_id, x.closed_at, coalesce(nullif(p.name::text, ''), nullif(x.what::text, ''), 'a hive') AS who, coalesce(b.longest_closed_hours, $1)::int AS hours
FROM run_stop x LEFT JOIN order_unit u ON u.id = x.order_unit_id LEFT JOIN order_line l ON l.id = u.order_line_id LEFT JOIN sale_order o ON o.id = l.order_id LEFT JOIN party p ON p.id = o.party_id
LEFT JOIN LATERAL (SELECT f.bee_species_id FROM colony_species f WHERE f.colony_id = x.colony_id ORDER BY f.found_on DESC, f.id DESC LIMIT 1) f ON true
LEFT JOIN bee_species b ON b.id = coalesce(f.bee_species_id, l.bee_species_id)
WHERE x.closed_at IS NOT NULL AND x.opened_at IS NULL ORDER BY x.closed_at LIMIT 100`, closedHours)
	if err != nil {
		return err
	}
	now := s.db.Now()
	for _, c := range list {
		hours := int(now.Sub(c.ClosedAt).Hours())
		late := hours >= c.Hours
		subject := fmt.Sprintf("stop:%d:closed", c.ID)
		text := fmt.Sprintf("The entrance for %s is closed since %s; open it before %d hours are over.", c.Who, show.Time(c.ClosedAt, s.set.Location()), c.Hours)
		if late {
			text = fmt.Sprintf("The entrance for %s has been closed for %d hours, longer than %d. Open it now.", c.Who, hours, c.Hours)
			subject += ":too long:" + s.day.Format(time.DateOnly) // what was put off before, or yesterday, hides nothing
		}
		s.add("closed", access.Runs, subject, s.path("/runs/", c.RunID), text, house.DateIn(c.ClosedAt, s.set.Location()), late)
	}
	return nil
}

// stillOpen: the morning after, whether the entrance of each hive that was brought or
// fetched is open; asked for a week.
func (s *sheet) stillOpen(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID     int64     `db:"id"`
		RunID  int64     `db:"run_id"`
		DoneAt time.Time `db:"done_at"`
		Who    string    `db:"who"`
		Phone  string    `db:"phone"`
	}](ctx, s.db, `SELECT x.id, x.run_id, x.done_at, coalesce(nullif(p.name::text, ''), nullif(x.what::text, ''), 'the hive') AS who,
	`+firstPhone+` AS phone
FROM run_stop x LEFT JOIN order_unit u ON u.id = x.order_unit_id LEFT JOIN order_line l ON l.id = u.order_line_id LEFT JOIN sale_order o ON o.id = l.order_id LEFT JOIN party p ON p.id = o.party_id
WHERE x.done_at IS NOT NULL AND x.seen_open_at IS NULL AND (x.colony_id IS NOT NULL OR u.wants_colony) AND (x.done_at AT TIME ZONE $2)::date BETWEEN $1::date - 7 AND $1::date - 1
ORDER BY x.done_at, x.id LIMIT $3`, s.day, s.set.TimeZone, dayLinesOfSort)
	if err != nil {
		return err
	}
	for _, o := range list {
		on := house.DateIn(o.DoneAt, s.set.Location())
		ask := o.Who
		if o.Phone != "" {
			ask += ", " + o.Phone
		}
		s.add(OpenAsked, access.Runs, fmt.Sprintf("stop:%d:open", o.ID), s.path("/runs/", o.RunID), fmt.Sprintf("Is it open? Ask %s whether the bees brought on %s fly.", ask, show.Date(on)), on.AddDate(0, 0, 1), on.AddDate(0, 0, 1).Before(s.day))
	}
	return nil
}

// broken: facts that broke a promise.
func (s *sheet) broken(ctx context.Context) error {
	list, err := claims.BrokenList(ctx, s.db, s.db.Now().AddDate(0, 0, -brokenBack))
	if err != nil || len(list) == 0 {
		return err
	}
	var units, builds []int64
	for _, c := range list {
		units, builds = append(units, c.For.UnitID), append(builds, c.For.BuildID)
	}
	who, err := s.claimants(ctx, units, builds)
	if err != nil {
		return err
	}
	for _, c := range list {
		w := who[c.For]
		what := c.Words
		if c.Thing.Kind != claims.BoxKind && c.Thing.Kind != claims.ColonyKind {
			what = fmt.Sprintf("%d of %s", c.Quantity, c.Words)
		}
		due := time.Time{}
		if c.PromisedOn != nil {
			due = *c.PromisedOn
		}
		area := access.Orders
		if c.For.BuildID != 0 {
			area = access.Bench
		}
		s.add("broken", area, fmt.Sprintf("claim:%d:broken", c.ID), w.href, fmt.Sprintf("%s was put aside for %s and is no longer there: %s.", what, w.name, c.Because), due, !due.IsZero() && due.Before(s.day))
	}
	return nil
}

type claimant struct{ name, href string }

// claimants names units by their order and builds by their number.
func (s *sheet) claimants(ctx context.Context, units, builds []int64) (map[claims.Claimant]claimant, error) {
	rows, err := postgres.List[struct {
		UnitID  int64  `db:"unit_id"`
		BuildID int64  `db:"build_id"`
		OrderID int64  `db:"order_id"`
		Name    string `db:"name"`
	}](ctx, s.db, `SELECT u.id AS unit_id, 0::bigint AS build_id, o.id AS order_id, 'order ' || o.number || ', ' || p.name AS name
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id WHERE u.id = ANY ($1)
UNION ALL SELECT 0, b.id, 0, 'build ' || b.number FROM build b WHERE b.id = ANY ($2) ORDER BY 1, 2`, units, builds)
	out := map[claims.Claimant]claimant{}
	for _, row := range rows {
		c := claimant{row.Name, s.path("/orders/", row.OrderID)}
		if row.BuildID != 0 {
			c.href = s.path("/bench/builds/", row.BuildID)
		}
		out[claims.Claimant{UnitID: row.UnitID, BuildID: row.BuildID}] = c
	}
	return out, err
}

// promises: units that are late, and those that go today or tomorrow.
func (s *sheet) promises(ctx context.Context) error {
	list, err := postgres.List[struct {
		OrderID int64     `db:"order_id"`
		Number  string    `db:"number"`
		Who     string    `db:"who"`
		Due     time.Time `db:"due"`
		Pieces  int       `db:"pieces"`
	}](ctx, s.db, `SELECT o.id AS order_id, o.number, p.name AS who, t.due, count(*)::int AS pieces FROM order_unit u
JOIN LATERAL (SELECT greatest(u.promised_box_on, u.promised_colony_on) AS due) t ON t.due <= $1
JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
WHERE u.handed_over_at IS NULL AND u.cancelled_at IS NULL AND least(u.promised_box_on, u.promised_colony_on) <= $1 GROUP BY o.id, p.id, t.due ORDER BY t.due, o.id LIMIT $2`, s.day.AddDate(0, 0, deadlineAhead), dayLinesOfSort)
	if err != nil {
		return err
	}
	for _, o := range list {
		late := o.Due.Before(s.day)
		text := fmt.Sprintf("%s of order %s go to %s.", show.Count(int64(o.Pieces), "piece", "pieces"), o.Number, o.Who)
		kind := "handover"
		if late {
			kind, text = "late", fmt.Sprintf("Order %s, %s: %s promised for %s. Ring, and agree another day.", o.Number, o.Who, show.Count(int64(o.Pieces), "piece was", "pieces were"), show.Date(o.Due))
		}
		s.add(kind, access.Orders, fmt.Sprintf("order:%d:due:%s", o.OrderID, o.Due.Format(time.DateOnly)), s.path("/orders/", o.OrderID), text, o.Due, late)
	}
	return nil
}

// calls: enquiries to ring again.
func (s *sheet) calls(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID     int64     `db:"id"`
		Who    string    `db:"who"`
		Wanted string    `db:"wanted"`
		On     time.Time `db:"ring_again_on"`
	}](ctx, s.db, `SELECT e.id, coalesce(nullif(e.name::text, ''), nullif(p.name::text, ''), e.number::text) AS who, e.wanted, e.ring_again_on FROM enquiry e LEFT JOIN party p ON p.id = e.party_id
WHERE e.ring_again_on <= $1 AND e.closed_at IS NULL ORDER BY e.ring_again_on, e.id LIMIT $2`, s.day, dayLinesOfSort)
	if err != nil {
		return err
	}
	for _, e := range list {
		text := "Ring " + e.Who + " again."
		if e.Wanted != "" {
			text = "Ring " + e.Who + " again: " + e.Wanted
		}
		s.add("call", access.Enquiries, fmt.Sprintf("enquiry:%d:ring:%s", e.ID, e.On.Format(time.DateOnly)), s.path("/enquiries/", e.ID), text, e.On, e.On.Before(s.day))
	}
	return nil
}

// quotes: those that run out within three days.
func (s *sheet) quotes(ctx context.Context) error {
	list, err := s.Sales.QuotesRunningOut(ctx, s.day, s.day.AddDate(0, 0, runsOutAhead))
	if err != nil {
		return err
	}
	for _, q := range list {
		s.add("quote", access.Enquiries, fmt.Sprintf("quote:%d:runs-out", q.ID), s.path("/quotes/", q.ID), fmt.Sprintf("Quote %s for %s runs out on %s. Ask whether it is a yes.", q.Name(), q.PartyName, show.Date(*q.ValidUntil)), *q.ValidUntil, false)
	}
	return nil
}
