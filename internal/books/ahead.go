package books

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// StandingCost is what is paid again and again.
type StandingCost struct {
	ID          int64      `db:"id"`
	Version     int        `db:"version"`
	Name        string     `db:"name"`
	AmountMinor int64      `db:"amount_minor"` // with tax
	Every       string     `db:"every"`        // week, fortnight, month, quarter, year
	NextOn      time.Time  `db:"next_on"`      // a day on which it is due; the others follow from it
	PutAwayAt   *time.Time `db:"put_away_at"`
}

// Spans are how often a standing cost can come.
var Spans = []string{"week", "fortnight", "month", "quarter", "year"}

const standingColumns = `id, version, name, amount_minor, every, next_on, put_away_at`

// StandingCostSave puts down a standing cost (ID 0) or changes one. Errors: Invalid; Stale.
func (r *Room) StandingCostSave(ctx context.Context, s StandingCost) (StandingCost, error) {
	var l fault.List
	s.Name = strings.TrimSpace(s.Name)
	l.Check(s.Name != "", "/name", "Write what it is for, such as rent.")
	l.Text("/name", s.Name, 200)
	l.Check(s.AmountMinor > 0 && s.AmountMinor <= 1e11, "/amount_minor", "Write how much it is each time.")
	l.Check(slices.Contains(Spans, s.Every), "/every", "It comes every week, fortnight, month, quarter or year.")
	l.Check(!s.NextOn.IsZero() && s.NextOn.Year() >= 1990 && s.NextOn.Year() < 2200, "/next_on", "Write the day on which it is due next.")
	if err := l.Err(); err != nil {
		return StandingCost{}, err
	}
	var out StandingCost
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		if s.ID == 0 {
			out, err = postgres.One[StandingCost](ctx, tx, `INSERT INTO standing_cost (name, amount_minor, every, next_on, put_away_at) VALUES ($1, $2, $3, $4, $5) RETURNING `+standingColumns, s.Name, s.AmountMinor, s.Every, s.NextOn, s.PutAwayAt)
			return err
		}
		out, err = postgres.One[StandingCost](ctx, tx, `UPDATE standing_cost SET name = $1, amount_minor = $2, every = $3, next_on = $4, put_away_at = $5 WHERE id = $6 AND version = $7 RETURNING `+standingColumns,
			s.Name, s.AmountMinor, s.Every, s.NextOn, s.PutAwayAt, s.ID, s.Version)
		return postgres.Changed(ctx, tx, err, "standing_cost", s.ID, "this standing cost")
	})
	return out, err
}

// StandingCostList gives the standing costs that are not put away, by name.
func (r *Room) StandingCostList(ctx context.Context) ([]StandingCost, error) {
	return postgres.List[StandingCost](ctx, r.db, `SELECT `+standingColumns+` FROM standing_cost WHERE put_away_at IS NULL ORDER BY name, id LIMIT 500`)
}

// StandingCostGet reads one.
func (r *Room) StandingCostGet(ctx context.Context, id int64) (StandingCost, error) {
	return postgres.One[StandingCost](ctx, r.db, `SELECT `+standingColumns+` FROM standing_cost WHERE id = $1`, id)
}

// due gives the days on which s falls from one day to before another. A day that a month
// does not have is its last.
func (s StandingCost) due(from, before time.Time) []time.Time {
	at := func(n int) time.Time {
		switch s.Every {
		case "week":
			return s.NextOn.AddDate(0, 0, 7*n)
		case "fortnight":
			return s.NextOn.AddDate(0, 0, 14*n)
		}
		months := map[string]int{"month": 1, "quarter": 3, "year": 12}[s.Every] * n
		first := time.Date(s.NextOn.Year(), s.NextOn.Month()+time.Month(months), 1, 0, 0, 0, 0, time.UTC)
		return first.AddDate(0, 0, min(s.NextOn.Day(), first.AddDate(0, 1, -1).Day())-1)
	}
	days := map[string]int{"week": 7, "fortnight": 14, "month": 31, "quarter": 92, "year": 366}[s.Every]
	var out []time.Time
	for n := int(from.Sub(s.NextOn).Hours()/24)/days - 1; ; n++ {
		on := at(n)
		if !on.Before(before) {
			return out
		}
		if !on.Before(from) {
			out = append(out, on)
		}
	}
}

// Ahead is the money of the coming weeks.
type Ahead struct {
	From      time.Time
	Weeks     []AheadWeek
	Lines     []AheadLine // by day
	Later     int64       // expected after the last week
	NoDay     int64       // still to be paid on orders that have no promised day
	HeldMinor int64       // deposits held: work that is owed for money already here
}

// AheadWeek is one week; Minor amounts are what comes in, what goes out, and what is there
// at its end.
type AheadWeek struct {
	FirstOn          time.Time
	In, Out, EndWith int64
}

// AheadLine is one amount that is expected.
type AheadLine struct {
	On     time.Time `db:"on_day"`
	Kind   string    `db:"kind"` // order, purchase, standing cost
	ID     int64     `db:"id"`
	Number string    `db:"number"`
	Who    string    `db:"who"`
	Minor  int64     `db:"minor"` // comes in; below nothing: goes out
	Late   bool      `db:"late"`  // its day is past
}

const weeksAhead = 12

// Ahead looks at the money of the next twelve weeks: what is still to be paid on orders on
// the last day that was promised (an invoice's day to pay where that is later, and at once
// where both are past), purchases not paid yet, and standing costs. opening is the money
// there is now, minor units.
func (r *Room) Ahead(ctx context.Context, opening int64) (Ahead, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return Ahead{}, err
	}
	today := set.Today(r.db.Now())
	end := today.AddDate(0, 0, 7*weeksAhead)
	out := Ahead{From: today, Lines: []AheadLine{}}
	list, err := postgres.List[AheadLine](ctx, r.db, aheadSelect, today)
	if err != nil {
		return out, err
	}
	standing, err := r.StandingCostList(ctx)
	if err != nil {
		return out, err
	}
	for _, s := range standing {
		for _, on := range s.due(today, end) {
			list = append(list, AheadLine{On: on, Kind: "standing cost", ID: s.ID, Number: s.Name, Minor: -s.AmountMinor})
		}
	}
	held, err := r.DepositsHeld(ctx)
	if err != nil {
		return out, err
	}
	for _, h := range held {
		out.HeldMinor += h.PaidMinor
	}
	for i := range weeksAhead {
		out.Weeks = append(out.Weeks, AheadWeek{FirstOn: today.AddDate(0, 0, 7*i)})
	}
	for _, line := range list {
		switch {
		case line.On.IsZero() || line.On.Year() > 3000:
			out.NoDay += line.Minor
			continue
		case !line.On.Before(end):
			out.Later += line.Minor
			continue
		}
		if line.Late = line.On.Before(today); line.Late {
			line.On = today
		}
		w := &out.Weeks[int(line.On.Sub(today).Hours()/24)/7]
		if line.Minor > 0 {
			w.In += line.Minor
		} else {
			w.Out -= line.Minor
		}
		out.Lines = append(out.Lines, line)
	}
	slices.SortStableFunc(out.Lines, func(a, b AheadLine) int { return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.Number, b.Number)) })
	there := opening
	for i := range out.Weeks {
		there += out.Weeks[i].In - out.Weeks[i].Out
		out.Weeks[i].EndWith = there
	}
	return out, nil
}

// aheadSelect: orders with something to pay, and purchases not paid. An order of which a
// piece has no promised day yet has none itself (the year 9999).
const aheadSelect = `WITH due AS (SELECT o.id, o.number, p.name AS who, sum(` + standing + `)::bigint
		+ coalesce((` + lowered + ` o.id), 0)::bigint
		- coalesce((SELECT sum(CASE kind WHEN 'refund' THEN -amount_minor ELSE amount_minor END) FROM payment WHERE order_id = o.id), 0)::bigint AS minor,
	max(t.last) AS last, bool_or(t.nameless) AS nameless, (SELECT max(due_on) FROM invoice i WHERE i.order_id = o.id AND i.kind <> 'adjustment') AS due_on
	FROM sale_order o JOIN party p ON p.id = o.party_id JOIN order_line l ON l.order_id = o.id
	JOIN LATERAL (SELECT count(*) AS units, count(cancelled_at) AS gone, max(CASE WHEN handed_over_at IS NULL AND cancelled_at IS NULL THEN greatest(promised_box_on, promised_colony_on) END) AS last,
		coalesce(bool_or((wants_box AND promised_box_on IS NULL OR wants_colony AND promised_colony_on IS NULL) AND handed_over_at IS NULL AND cancelled_at IS NULL), false) AS nameless
		FROM order_unit WHERE order_line_id = l.id) t ON true
	GROUP BY o.id, p.name)
SELECT CASE WHEN nameless AND due_on IS NULL THEN '9999-12-31'::date ELSE greatest(last, due_on, CASE WHEN last IS NULL AND due_on IS NULL THEN $1::date END) END AS on_day, 'order' AS kind, id, number, who, minor, false AS late FROM due WHERE minor > 0
UNION ALL SELECT coalesce((p.received_at)::date, p.expected_on, p.ordered_on), 'purchase', p.id, coalesce(nullif(p.their_number, ''), p.id::text), coalesce((SELECT s.name FROM supplier s WHERE s.id = p.supplier_id), ''),
	-(SELECT sum(x.cost_ex_tax_minor + x.tax_minor) FROM purchase_line x WHERE x.purchase_id = p.id)::bigint, false FROM purchase p
WHERE p.paid_on IS NULL AND (SELECT sum(x.cost_ex_tax_minor + x.tax_minor) FROM purchase_line x WHERE x.purchase_id = p.id) > 0`
