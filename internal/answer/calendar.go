package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/ical"
	"kerfbook/internal/postgres"
)

// A calendar looks so far back and ahead, in days, and holds at most so many entries of a
// kind; our choices.
const (
	calendarBack  = 60
	calendarAhead = 550
	calendarMost  = 3000
)

// Calendar gives a feed as a file after RFC 5545: what the plan in force has of builds,
// the days on which builds and packs are ready, pieces to hand over, runs, visits and days
// away. It names no price, and phone numbers only where the feed was made with them. The
// ids are those of operation, build, pack, unit, run, tree and days away: a new plan moves
// the entries, it makes no others.
func (r *Room) Calendar(ctx context.Context, f house.Feed) ([]byte, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	host, err := r.House.FeedHost(ctx)
	if err != nil {
		return nil, err
	}
	k := &calendar{Room: r, feed: f, host: host, from: today.AddDate(0, 0, -calendarBack), to: today.AddDate(0, 0, calendarAhead), loc: set.Location()}
	for _, part := range []struct {
		kind string
		add  func(context.Context) error
	}{{"builds", k.builds}, {"ready", k.ready}, {"handovers", k.handovers}, {"runs", k.runs}, {"visits", k.visits}, {"away", k.away}} {
		if !f.Has(part.kind) {
			continue
		}
		if err := part.add(ctx); err != nil {
			return nil, err
		}
	}
	return ical.Calendar{Name: set.Name + ": " + f.Name, Events: k.events}.Bytes(), nil
}

type calendar struct {
	*Room
	feed     house.Feed
	host     string
	from, to time.Time
	loc      *time.Location
	events   []ical.Event
}

func (k *calendar) uid(kind string, id int64) string {
	return fmt.Sprintf("%s-%d@%s", kind, id, k.host)
}

// day adds an entry of whole days; to is the last of them.
func (k *calendar) day(e ical.Event, from, to time.Time) {
	e.WholeDays, e.Start, e.End = true, from, to.AddDate(0, 0, 1)
	k.events = append(k.events, e)
}

// phone adds a number to a text where the feed shows numbers.
func (k *calendar) phone(text, phone string) string {
	if !k.feed.Phones || phone == "" {
		return text
	}
	if text != "" {
		text += "\n"
	}
	return text + "Ring " + phone
}

// planned is a step of the plan in force.
type planned struct {
	OperationID int64     `db:"operation_id"`
	Name        string    `db:"name"`
	Number      string    `db:"number"`
	What        string    `db:"what"`
	StartsAt    time.Time `db:"starts_at"`
	EndsAt      time.Time `db:"ends_at"`
	Plan        int       `db:"plan"`
	AcceptedAt  time.Time `db:"accepted_at"`
}

// builds: the steps of the plan in force.
func (k *calendar) builds(ctx context.Context) error {
	list, err := postgres.List[planned](ctx, k.db, `SELECT o.id AS operation_id, o.name, b.number, b.quantity || ' ' || m.name AS what, s.starts_at, s.ends_at, p.number AS plan, p.accepted_at
FROM (SELECT id, number, accepted_at FROM bench_plan WHERE accepted_at IS NOT NULL ORDER BY number DESC LIMIT 1) p JOIN bench_plan_step s ON s.plan_id = p.id JOIN build b ON b.id = s.build_id
JOIN build_operation o ON o.id = s.build_operation_id JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id
WHERE s.ends_at > s.starts_at AND b.cancelled_at IS NULL AND s.ends_at >= $1 AND s.starts_at < $2 ORDER BY s.starts_at, s.id LIMIT $3`, k.from, k.to, calendarMost)
	for _, s := range list {
		k.events = append(k.events, ical.Event{UID: k.uid("operation", s.OperationID), ChangedAt: s.AcceptedAt, Sequence: s.Plan, Start: s.StartsAt, End: s.EndsAt,
			Summary: fmt.Sprintf("%s, %s", s.Number, s.Name), Description: s.What})
	}
	return err
}

// ready: the day on which the plan has a build done and cured, and the day by which a pack
// is dry in 4 of 5 cases.
func (k *calendar) ready(ctx context.Context) error {
	builds, err := postgres.List[struct {
		ID         int64     `db:"id"`
		Number     string    `db:"number"`
		What       string    `db:"what"`
		EndsAt     time.Time `db:"ends_at"`
		Wait       int       `db:"wait_min"`
		Cure       int       `db:"cure_days"`
		Plan       int       `db:"plan"`
		AcceptedAt time.Time `db:"accepted_at"`
	}](ctx, k.db, `SELECT b.id, b.number, b.quantity || ' ' || m.name AS what, s.ends_at, s.wait_min, p.number AS plan, p.accepted_at,
	coalesce((SELECT max(o.cure_days) FROM jsonb_array_elements_text(b.options) e(v) JOIN box_option o ON o.id = e.v::bigint), 0)::int AS cure_days
FROM (SELECT id, number, accepted_at FROM bench_plan WHERE accepted_at IS NOT NULL ORDER BY number DESC LIMIT 1) p
JOIN LATERAL (SELECT DISTINCT ON (x.build_id) x.build_id, x.ends_at, coalesce(o.wait_min, 0) AS wait_min FROM bench_plan_step x LEFT JOIN build_operation o ON o.id = x.build_operation_id WHERE x.plan_id = p.id ORDER BY x.build_id, x.ends_at DESC, x.id DESC) s ON true
JOIN build b ON b.id = s.build_id JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id
WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL AND s.ends_at >= $1 AND s.ends_at < $2 ORDER BY s.ends_at, b.id LIMIT $3`, k.from, k.to, calendarMost)
	if err != nil {
		return err
	}
	for _, b := range builds {
		on := house.DateIn(b.EndsAt.Add(time.Duration(b.Wait)*time.Minute), k.loc).AddDate(0, 0, b.Cure)
		k.day(ical.Event{UID: k.uid("ready-build", b.ID), ChangedAt: b.AcceptedAt, Sequence: b.Plan, Summary: fmt.Sprintf("Ready: %s, %s", b.Number, b.What), Free: true}, on, on)
	}
	packs, err := postgres.List[struct {
		ID        int64     `db:"id"`
		Version   int       `db:"version"`
		UpdatedAt time.Time `db:"updated_at"`
		Number    string    `db:"number"`
		What      string    `db:"what"`
		On        time.Time `db:"ready_on_p80"`
	}](ctx, k.db, `SELECT k.id, k.version, k.updated_at, k.number, z.name || ' ' || trim_scale(w.width_mm) || ' x ' || trim_scale(w.thickness_mm) AS what, k.ready_on_p80
FROM pack k JOIN timber_species z ON z.id = k.species_id JOIN board_size w ON w.id = k.board_size_id WHERE k.finished_at IS NULL AND NOT k.never_dry AND k.ready_on_p80 BETWEEN $1 AND $2 ORDER BY k.ready_on_p80, k.id LIMIT $3`, k.from, k.to, calendarMost)
	for _, p := range packs {
		k.day(ical.Event{UID: k.uid("pack", p.ID), ChangedAt: p.UpdatedAt, Sequence: p.Version, Summary: fmt.Sprintf("Dry: pack %s, %s", p.Number, p.What), Free: true}, p.On, p.On)
	}
	return err
}

// handovers: each piece on the day it is promised for.
func (k *calendar) handovers(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID        int64     `db:"id"`
		Version   int       `db:"version"`
		UpdatedAt time.Time `db:"updated_at"`
		Number    string    `db:"number"`
		What      string    `db:"what"`
		N         int       `db:"n"`
		Of        int       `db:"of"`
		Who       string    `db:"who"`
		Ring      string    `db:"ring"`
		Place     string    `db:"place"`
		On        time.Time `db:"due"`
	}](ctx, k.db, `SELECT * FROM (SELECT u.id, u.version, u.updated_at, o.number, l.description AS what, u.n, l.quantity AS of, p.name AS who, `+firstPhone+` AS ring, coalesce(s.name || CASE WHEN s.town = '' THEN '' ELSE ', ' || s.town END, '') AS place, greatest(u.promised_box_on, u.promised_colony_on) AS due
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id LEFT JOIN site s ON s.id = u.site_id
WHERE u.handed_over_at IS NULL AND u.cancelled_at IS NULL) t WHERE due BETWEEN $1 AND $2 ORDER BY due, id LIMIT $3`, k.from, k.to, calendarMost)
	for _, u := range list {
		what := u.What
		if u.Of > 1 {
			what = fmt.Sprintf("%s, %d of %d", u.What, u.N, u.Of)
		}
		k.day(ical.Event{UID: k.uid("unit", u.ID), ChangedAt: u.UpdatedAt, Sequence: u.Version, Summary: fmt.Sprintf("Promised: %s, order %s", u.Who, u.Number), Description: k.phone(what, u.Ring), Location: u.Place, Free: true}, u.On, u.On)
	}
	return err
}

// runs that were not cancelled.
func (k *calendar) runs(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID        int64     `db:"id"`
		Version   int       `db:"version"`
		UpdatedAt time.Time `db:"updated_at"`
		Number    string    `db:"number"`
		Kind      string    `db:"kind"`
		On        time.Time `db:"run_on"`
		Stops     string    `db:"stops"`
	}](ctx, k.db, `SELECT n.id, n.version, n.updated_at, n.number, n.kind, n.run_on, coalesce((SELECT string_agg(coalesce(p.name || CASE WHEN $4 AND c.value <> '' THEN ', ring ' || c.value ELSE '' END, nullif(x.what, ''), h.name, ''), E'\n' ORDER BY x.position)
	FROM run_stop x LEFT JOIN order_unit u ON u.id = x.order_unit_id LEFT JOIN order_line l ON l.id = u.order_line_id LEFT JOIN sale_order o ON o.id = l.order_id LEFT JOIN party p ON p.id = o.party_id LEFT JOIN host_tree h ON h.id = x.host_tree_id
	LEFT JOIN LATERAL (SELECT `+firstPhone+` AS value) c ON true WHERE x.run_id = n.id), '') AS stops
FROM run n WHERE n.cancelled_at IS NULL AND n.run_on BETWEEN $1 AND $2 ORDER BY n.run_on, n.id LIMIT $3`, k.from, k.to, calendarMost, k.feed.Phones)
	for _, n := range list {
		k.day(ical.Event{UID: k.uid("run", n.ID), ChangedAt: n.UpdatedAt, Sequence: n.Version, Summary: fmt.Sprintf("Run %s, %s", n.Number, n.Kind), Description: n.Stops}, n.On, n.On)
	}
	return err
}

// visits to host trees.
func (k *calendar) visits(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID        int64     `db:"id"`
		Version   int       `db:"version"`
		UpdatedAt time.Time `db:"updated_at"`
		Name      string    `db:"name"`
		Who       string    `db:"who"`
		Ring      string    `db:"ring"`
		On        time.Time `db:"next_visit_on"`
	}](ctx, k.db, `SELECT t.id, t.version, t.updated_at, t.name, coalesce(p.name, '') AS who, `+firstPhone+` AS ring, host_tree_due(t) AS next_visit_on FROM host_tree t LEFT JOIN party p ON p.id = t.owner_party_id
WHERE t.put_away_at IS NULL AND host_tree_due(t) BETWEEN $1 AND $2 ORDER BY host_tree_due(t), t.id LIMIT $3`, k.from, k.to, calendarMost)
	for _, v := range list {
		k.day(ical.Event{UID: k.uid("visit", v.ID), ChangedAt: v.UpdatedAt, Sequence: v.Version, Summary: "Visit: " + v.Name, Description: k.phone(v.Who, v.Ring)}, v.On, v.On)
	}
	return err
}

// away: days away from the bench.
func (k *calendar) away(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID      int64     `db:"id"`
		FromOn  time.Time `db:"from_on"`
		ToOn    time.Time `db:"to_on"`
		Why     string    `db:"why"`
		NotedAt time.Time `db:"noted_at"`
	}](ctx, k.db, `SELECT id, from_on, to_on, why, noted_at FROM away WHERE to_on >= $1 AND from_on <= $2 ORDER BY from_on, id LIMIT $3`, k.from, k.to, calendarMost)
	for _, a := range list {
		summary := "Away"
		if a.Why != "" {
			summary += ": " + a.Why
		}
		k.day(ical.Event{UID: k.uid("away", a.ID), ChangedAt: a.NotedAt, Summary: summary}, a.FromOn, a.ToOn)
	}
	return err
}
