package apiary

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Permit is a paper of an authority under which bees are taken, kept, moved or sold.
// Whether one is needed is for the authority to say; the book only keeps what was given.
type Permit struct {
	ID        int64      `db:"id"`
	Version   int        `db:"version"`
	Number    string     `db:"number"`
	Authority string     `db:"authority"`
	Kind      string     `db:"kind"`      // take, keep, move, sell, land, other
	Covers    string     `db:"what"`      // in words: kinds of bees, places, how many
	FromOn    *time.Time `db:"from_on"`   // first day; nil: not noted
	EndsOn    *time.Time `db:"ends_on"`   // last day; nil: no end
	WarnDays  int        `db:"warn_days"` // days before the end from which the Day sheet says so, 0 to 365
	Notes     string     `db:"notes"`
	PutAway   bool       `db:"put_away"`
}

// PermitWarnDays is how long before its end a permit is spoken of where the maker says
// nothing else. Our choice, no source: an authority can take weeks to answer.
const PermitWarnDays = 30

// PermitKinds are the kinds of permit with what each allows.
var PermitKinds = []struct{ Kind, Words string }{
	{"take", "Taking bees from a tree or log"}, {"keep", "Keeping bees"}, {"move", "Moving bees"}, {"sell", "Selling bees"}, {"land", "Entering or working on land"}, {"other", "Something else"},
}

// Title names the permit in a sentence.
func (p Permit) Title() string { return strings.TrimSpace(p.Number + " of " + p.Authority) }

// Trouble says why the permit does not hold on day; "" when it does.
func (p Permit) Trouble(day time.Time) string {
	switch {
	case p.EndsOn != nil && p.EndsOn.Before(day):
		return fmt.Sprintf("Permit %s ended on %s.", p.Title(), p.EndsOn.Format("2 January 2006"))
	case p.FromOn != nil && p.FromOn.After(day):
		return fmt.Sprintf("Permit %s begins on %s.", p.Title(), p.FromOn.Format("2 January 2006"))
	}
	return ""
}

// EndsSoon reports whether the permit still holds on day and its end is near enough to
// speak of.
func (p Permit) EndsSoon(day time.Time) bool {
	return p.EndsOn != nil && !p.EndsOn.Before(day) && !p.EndsOn.After(day.AddDate(0, 0, p.WarnDays))
}

// State says in a few words how it stands on day.
func (p Permit) State(day time.Time) string {
	switch {
	case p.PutAway:
		return "put away"
	case p.EndsOn != nil && p.EndsOn.Before(day):
		return "ended"
	case p.FromOn != nil && p.FromOn.After(day):
		return "not yet"
	case p.EndsSoon(day):
		return "ends soon"
	}
	return "holds"
}

const permitSelect = `SELECT id, version, number, authority, kind, what, from_on, ends_on, warn_days, notes, put_away_at IS NOT NULL AS put_away FROM permit `

// PermitPut stores p: new when p.ID is 0, else a change of version p.Version. PutAway
// takes it off the lists; what stood under it keeps naming it.
func (r *Room) PermitPut(ctx context.Context, p Permit) (Permit, error) {
	p.Number, p.Authority, p.Covers = strings.TrimSpace(p.Number), strings.TrimSpace(p.Authority), strings.TrimSpace(p.Covers)
	if p.Kind == "" {
		p.Kind = "other"
	}
	var l fault.List
	l.Check(p.Number != "", "/number", "Give the number that stands on the permit.")
	l.Check(p.Authority != "", "/authority", "Say which authority gave it.")
	l.Check(slices.ContainsFunc(PermitKinds, func(k struct{ Kind, Words string }) bool { return k.Kind == p.Kind }), "/kind", "Choose what it allows.")
	l.Check(p.EndsOn == nil || p.FromOn == nil || !p.EndsOn.Before(*p.FromOn), "/ends_on", "It cannot end before it begins.")
	l.Check(p.WarnDays >= 0 && p.WarnDays <= 365, "/warn_days", "Between 0 and 365 days.")
	for pointer, v := range map[string]string{"/number": p.Number, "/authority": p.Authority, "/covers": p.Covers} {
		l.Text(pointer, v, maxWords)
	}
	l.Text("/notes", p.Notes, maxProse)
	if err := l.Err(); err != nil {
		return p, err
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		args := []any{p.Number, p.Authority, p.Kind, p.Covers, p.FromOn, p.EndsOn, p.WarnDays, p.Notes, p.PutAway, r.db.Now()}
		if p.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO permit (number, authority, kind, what, from_on, ends_on, warn_days, notes, put_away_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, CASE WHEN $9 THEN $10::timestamptz END) RETURNING id, version`,
				args...).Scan(&p.ID, &p.Version)
		}
		err := tx.QueryRow(ctx, `UPDATE permit SET number = $1, authority = $2, kind = $3, what = $4, from_on = $5, ends_on = $6, warn_days = $7, notes = $8, put_away_at = CASE WHEN $9 THEN coalesce(put_away_at, $10::timestamptz) END
WHERE id = $11 AND version = $12 RETURNING version`, append(args, p.ID, p.Version)...).Scan(&p.Version)
		return postgres.StaleOr(ctx, tx, err, "permit", p.ID)
	})
	return p, err
}

// PermitGet reads one.
func (r *Room) PermitGet(ctx context.Context, id int64) (Permit, error) {
	return postgres.One[Permit](ctx, r.db, permitSelect+`WHERE id = $1`, id)
}

// PermitList gives the permits in use, those that end first on top; with away also those
// put away, below them.
func (r *Room) PermitList(ctx context.Context, away bool) ([]Permit, error) {
	return postgres.List[Permit](ctx, r.db, permitSelect+`WHERE $1 OR put_away_at IS NULL ORDER BY put_away_at IS NOT NULL, ends_on NULLS LAST, id LIMIT 500`, away)
}

// PermitUse is what stands under a permit: its kind (host tree, colony, run stop), the id
// of its page (the run for a stop), its name, and the day for which it was planned.
type PermitUse struct {
	Kind string     `db:"kind"`
	ID   int64      `db:"id"`
	Name string     `db:"name"`
	On   *time.Time `db:"use_on"`
	Open bool       `db:"open"` // a plan that is still to come, not a fact of the past
}

// PermitUses gives what stands under a permit, at most 200 of each kind, what is still to
// come first.
func (r *Room) PermitUses(ctx context.Context, id int64) ([]PermitUse, error) {
	return postgres.List[PermitUse](ctx, r.db, `SELECT * FROM (
(SELECT 'tree' AS kind, t.id, t.name::text AS name, t.fixed_on AS use_on, t.box_id IS NOT NULL AND t.put_away_at IS NULL AS open FROM host_tree t WHERE t.permit_id = $1 ORDER BY t.id LIMIT 200)
UNION ALL (SELECT 'colony', c.id, c.number, c.began_on, false FROM colony c WHERE c.permit_id = $1 ORDER BY c.id DESC LIMIT 200)
UNION ALL (SELECT 'run', n.id, n.number || ', stop ' || s.position, n.run_on, s.done_at IS NULL AND n.cancelled_at IS NULL FROM run_stop s JOIN run n ON n.id = s.run_id WHERE s.permit_id = $1 ORDER BY n.run_on DESC, s.id LIMIT 200)
) u ORDER BY NOT u.open, u.use_on DESC NULLS LAST, u.kind, u.id`, id)
}

// PermitDue is a permit the Day sheet speaks of.
type PermitDue struct {
	Permit
	Open int `db:"open"` // trees with a box and stops to come that stand under it
}

// PermitsDue gives the permits in use whose end is near on day, and those that have ended
// while a tree with a box or a stop to come still stands under them; at most 100.
func (r *Room) PermitsDue(ctx context.Context, day time.Time) ([]PermitDue, error) {
	return postgres.List[PermitDue](ctx, r.db, `SELECT * FROM (SELECT id, version, number, authority, kind, what, from_on, ends_on, warn_days, notes, false AS put_away,
	((SELECT count(*) FROM host_tree t WHERE t.permit_id = permit.id AND t.box_id IS NOT NULL AND t.put_away_at IS NULL)
	+ (SELECT count(*) FROM run_stop s JOIN run n ON n.id = s.run_id WHERE s.permit_id = permit.id AND s.done_at IS NULL AND n.cancelled_at IS NULL))::int AS open
FROM permit WHERE put_away_at IS NULL AND ends_on <= $1::date + warn_days) p WHERE ends_on >= $1 OR open > 0 ORDER BY ends_on, id LIMIT 100`, day)
}

// PermitTrouble says why the permit of id does not hold on day; "" when it does, or when
// none is named.
func (r *Room) PermitTrouble(ctx context.Context, id *int64, day time.Time) (string, error) {
	if id == nil {
		return "", nil
	}
	p, err := r.PermitGet(ctx, *id)
	return p.Trouble(day), err
}

// ColonyPermit notes under which permit a colony was taken; nil takes the note back.
func (r *Room) ColonyPermit(ctx context.Context, colony int64, permit *int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var got int64
		return tx.QueryRow(ctx, `UPDATE colony SET permit_id = $2 WHERE id = $1 RETURNING id`, colony, permit).Scan(&got)
	})
}

// PermitOfColony gives the permit under which a colony was taken, and whether one is noted.
func (r *Room) PermitOfColony(ctx context.Context, colony int64) (Permit, bool, error) {
	list, err := postgres.List[Permit](ctx, r.db, permitSelect+`WHERE id = (SELECT permit_id FROM colony WHERE id = $1)`, colony)
	if err != nil || len(list) == 0 {
		return Permit{}, false, err
	}
	return list[0], true, nil
}
