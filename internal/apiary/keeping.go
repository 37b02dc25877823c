package apiary

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Keeping is a hive or a box of somebody else in the workshop's keeping.
type Keeping struct {
	ID      int64 `db:"id"`
	Version int   `db:"version"`
	KeepingTerms
	ColonyID  *int64     `db:"colony_id"`
	BoxID     *int64     `db:"box_id"` // a box without bees
	PartyID   int64      `db:"party_id"`
	CameAt    time.Time  `db:"came_at"`
	EndedAt   *time.Time `db:"ended_at"`
	EndedHow  string     `db:"ended_how"` // back, kept, lost
	EndedNote string     `db:"ended_note"`

	Owner  string `db:"owner"`
	Phone  string `db:"phone"`
	Number string `db:"number"` // of the colony
	Serial string `db:"serial"` // of the box, or the one the colony lives in
	What   string `db:"what"`   // the box in words
	Place  string `db:"place"`
	Gone   string `db:"gone"` // what became of the colony, when it is gone
}

// KeepingTerms is what was agreed.
type KeepingTerms struct {
	Purpose    string     `db:"purpose"` // split, repair, minding, other
	Agreed     string     `db:"agreed"`
	PriceMinor *int64     `db:"price_minor"` // with tax; nil: none
	BackOn     *time.Time `db:"back_on"`     // nil: no day was agreed
}

// Called names what is kept, such as "Colony C0080 in box 10019".
func (k Keeping) Called() string {
	switch {
	case k.ColonyID == nil:
		return strings.TrimSpace("Box " + k.Serial + " " + k.What)
	case k.Serial != "":
		return "Colony " + k.Number + " in box " + k.Serial
	}
	return "Colony " + k.Number
}

// PurposeWords says what it is here for.
func (k Keeping) PurposeWords() string {
	return map[string]string{"split": "to be split", "repair": "to be repaired", "minding": "to be minded", "other": "kept here"}[k.Purpose]
}

func (t *KeepingTerms) check(today time.Time) error {
	var l fault.List
	if t.Purpose == "" {
		t.Purpose = "other"
	}
	l.Check(t.Purpose == "split" || t.Purpose == "repair" || t.Purpose == "minding" || t.Purpose == "other", "/purpose", "It is here to be split, repaired or minded, or for something else.")
	l.Text("/agreed", t.Agreed, maxProse)
	l.Check(t.PriceMinor == nil || *t.PriceMinor >= 0 && *t.PriceMinor <= 1e11, "/price_minor", "The price cannot be negative.")
	l.Check(t.BackOn == nil || !t.BackOn.Before(today), "/back_on", "A day to be back cannot lie in the past. Choose today or later.")
	return l.Err()
}

const keepingSelect = `SELECT k.id, k.version, k.purpose, k.agreed, k.price_minor, k.back_on, k.colony_id, k.box_id, k.party_id, k.came_at, k.ended_at, coalesce(k.ended_how, '') AS ended_how, k.ended_note,
	p.name::text AS owner, coalesce((SELECT q.value::text FROM contact q WHERE q.party_id = p.id AND q.kind = 'phone' AND q.put_away_at IS NULL ORDER BY q.id LIMIT 1), '') AS phone,
	coalesce(c.number, '') AS number, coalesce(b.serial, '') AS serial, coalesce(nullif(b.description::text, ''), m.name::text, '') AS what, coalesce(c.ended_how::text, '') AS gone,
	coalesce(nullif(l.place::text, ''), nullif(z.place::text, ''), s.name::text, s.town::text, '') AS place
FROM keeping k JOIN party p ON p.id = k.party_id LEFT JOIN colony c ON c.id = k.colony_id LEFT JOIN housing h ON h.colony_id = c.id AND h.to_at IS NULL LEFT JOIN box b ON b.id = coalesce(k.box_id, h.box_id)
LEFT JOIN model_revision r ON r.id = b.model_revision_id LEFT JOIN box_model m ON m.id = r.model_id LEFT JOIN colony_place l ON l.colony_id = c.id AND l.to_at IS NULL
LEFT JOIN box_place z ON z.box_id = k.box_id AND z.to_at IS NULL LEFT JOIN site s ON s.id = coalesce(l.site_id, z.site_id) `

// KeepingGet reads one.
func (r *Room) KeepingGet(ctx context.Context, id int64) (Keeping, error) {
	return postgres.One[Keeping](ctx, r.db, keepingSelect+`WHERE k.id = $1`, id)
}

// KeepingOf gives what is open of a colony or of a box, whichever is named; nil when
// nothing is.
func (r *Room) KeepingOf(ctx context.Context, colony, box int64) (*Keeping, error) {
	list, err := postgres.List[Keeping](ctx, r.db, keepingSelect+`WHERE k.ended_at IS NULL AND (k.colony_id = $1 OR k.box_id = $2) ORDER BY k.id LIMIT 1`, colony, box)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return &list[0], nil
}

// KeepingMost bounds a list of what is kept; our limit.
const KeepingMost = 500

// KeepingList gives what is here, what is due first; or with ended what was here, the last
// that went first.
func (r *Room) KeepingList(ctx context.Context, ended bool) ([]Keeping, error) {
	if ended {
		return postgres.List[Keeping](ctx, r.db, keepingSelect+`WHERE k.ended_at IS NOT NULL ORDER BY k.ended_at DESC, k.id DESC LIMIT $1`, KeepingMost)
	}
	return postgres.List[Keeping](ctx, r.db, keepingSelect+`WHERE k.ended_at IS NULL ORDER BY k.back_on NULLS LAST, k.id LIMIT $1`, KeepingMost)
}

// KeepingBegin puts down that a colony or a box of somebody is here from an instant on.
// Errors: Invalid, Conflict when it is here already.
func (r *Room) KeepingBegin(ctx context.Context, k Keeping) (int64, error) {
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if err := k.check(set.Today(r.db.Now())); err != nil {
			return err
		}
		id, err = keepingInsert(ctx, tx, k)
		return err
	})
	return id, err
}

func keepingInsert(ctx context.Context, tx pgx.Tx, k Keeping) (int64, error) {
	return postgres.Value[int64](ctx, tx, `INSERT INTO keeping (colony_id, box_id, party_id, purpose, agreed, price_minor, came_at, back_on) VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id`,
		k.ColonyID, k.BoxID, k.PartyID, k.Purpose, k.Agreed, k.PriceMinor, k.CameAt, k.BackOn)
}

// KeepingChange changes what was agreed. Errors: Invalid, Stale; Conflict when it is not
// here any more.
func (r *Room) KeepingChange(ctx context.Context, id int64, version int, t KeepingTerms) (Keeping, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		was, err := r.KeepingGet(ctx, id)
		if err != nil {
			return err
		}
		if was.EndedAt != nil {
			return fault.New(fault.Conflict, "%s is not here any more.", was.Called())
		}
		today := set.Today(r.db.Now())
		if was.BackOn != nil && t.BackOn != nil && t.BackOn.Equal(*was.BackOn) {
			today = *t.BackOn // late as it is, it may stay
		}
		if err := t.check(today); err != nil {
			return err
		}
		var got int64
		err = tx.QueryRow(ctx, `UPDATE keeping SET purpose = $3, agreed = $4, price_minor = $5, back_on = $6 WHERE id = $1 AND version = $2 AND ended_at IS NULL RETURNING id`, id, version, t.Purpose, t.Agreed, t.PriceMinor, t.BackOn).Scan(&got)
		return postgres.StaleOr(ctx, tx, err, "keeping", id)
	})
	if err != nil {
		return Keeping{}, err
	}
	return r.KeepingGet(ctx, id)
}

// KeepingEnd ends a keeping: back, kept or lost. Errors: Invalid for a time before it
// came; Conflict when it ended before.
func (r *Room) KeepingEnd(ctx context.Context, id int64, how string, at time.Time, note string) error {
	var l fault.List
	l.Past("/at", at, r.db.Now())
	l.Short("/note", note)
	l.Check(how == "back" || how == "kept" || how == "lost", "/how", "It went back, was kept as agreed, or was lost.")
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		k, err := postgres.One[Keeping](ctx, tx, keepingSelect+`WHERE k.id = $1 FOR UPDATE OF k`, id)
		switch {
		case err != nil:
			return err
		case k.EndedAt != nil:
			return fault.New(fault.Conflict, "%s is not here any more.", k.Called())
		case at.Before(k.CameAt):
			return fault.Bad("/at", "It came later than that, on %s. Write a later day.", k.CameAt.Format("2 January 2006"))
		}
		_, err = tx.Exec(ctx, `UPDATE keeping SET ended_at = $2, ended_how = $3, ended_note = $4 WHERE id = $1`, id, at, how, note)
		return postgres.Translate(err)
	})
}

// KeeperSet says in whose keeping a colony is from an instant on; nil is the workshop.
func (r *Room) KeeperSet(ctx context.Context, colony int64, party *int64, at time.Time) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		return follow(ctx, tx, "colony_keeper", colony, at, `INSERT INTO colony_keeper (colony_id, party_id, from_at) VALUES ($1, $2, $3)`, colony, party, at)
	})
}

func init() {
	postgres.Explain("keeping_one_a_colony", fault.Conflict, "/colony_id", "This colony is in our keeping already.")
	postgres.Explain("keeping_one_a_box", fault.Conflict, "/box_id", "This box is in our keeping already.")
}
