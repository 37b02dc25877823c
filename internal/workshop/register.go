package workshop

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// OwnerNote says that a box came to another owner, as the workshop was told: by people who
// are in none of its sales, and perhaps long after.
type OwnerNote struct {
	BoxID   int64
	PartyID *int64 // nil: it came back to the workshop
	At      time.Time
	Note    string // how, and who told
}

// BoxOwnerNote puts an owner into the chain of a box, at its end or between two that stand
// there already. A box that the workshop owns at that time is sold through an order, not
// here. Errors: Invalid for a time in the future, before the box was there or that another
// note names already, and for who owns it then anyway; Conflict for a box that is ours,
// stolen or gone; NotFound.
func (r *Room) BoxOwnerNote(ctx context.Context, n OwnerNote) (Box, error) {
	var l fault.List
	l.Past("/from_at", n.At, r.db.Now())
	l.Short("/note", n.Note)
	if err := l.Err(); err != nil {
		return Box{}, err
	}
	var out Box
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := claims.Lock(ctx, tx, []claims.Thing{claims.Box(n.BoxID)}); err != nil {
			return err
		}
		b, err := boxIn(ctx, tx, `WHERE b.id = $1`, n.BoxID)
		if err != nil {
			return err
		}
		before, after, err := b.between(n)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE box_owner SET to_at = $2 WHERE id = $1`, before.ID, n.At); err != nil {
			return postgres.Translate(err)
		}
		if _, err := tx.Exec(ctx, `INSERT INTO box_owner (box_id, party_id, from_at, to_at, note, recorded_at) VALUES ($1, $2, $3, $4, $5, $6)`, n.BoxID, n.PartyID, n.At, after, n.Note, r.db.Now()); err != nil {
			return postgres.Translate(err)
		}
		out, err = boxIn(ctx, tx, `WHERE b.id = $1`, n.BoxID)
		return err
	})
	return out, err
}

// between gives the owner a note follows and until when it holds, nil for now.
func (b Box) between(n OwnerNote) (before BoxOwner, until *time.Time, err error) {
	var next *BoxOwner
	for _, o := range b.Owners { // the newest first
		if !n.At.Before(o.FromAt) {
			before = o
			break
		}
		next, until = &o, &o.FromAt
	}
	switch {
	case before.ID == 0:
		return before, nil, fault.Bad("/from_at", "Box %s was made, or came here, on %s. Nobody can have had it before.", b.Serial, b.FinishedAt.Format(time.DateOnly))
	case sameParty(before.PartyID, n.PartyID):
		return before, nil, fault.Bad("/party_id", "It is theirs already, since %s.", before.FromAt.Format(time.DateOnly))
	case next != nil && sameParty(next.PartyID, n.PartyID):
		return before, nil, fault.Bad("/party_id", "By the book it came to them on %s. Look at the days again.", next.FromAt.Format(time.DateOnly))
	case before.PartyID == nil:
		return before, nil, fault.New(fault.Conflict, "Box %s was the workshop's then. Sell it through an order or from the shelf, so that its invoice and guarantee stand in the book.", b.Serial)
	case b.StolenAt != nil && !n.At.Before(*b.StolenAt):
		return before, nil, fault.New(fault.Conflict, "Box %s is reported stolen since %s. Note first that it was found.", b.Serial, b.StolenAt.Format(time.DateOnly))
	case b.GoneAt != nil && !n.At.Before(*b.GoneAt):
		return before, nil, fault.New(fault.Conflict, "Box %s is gone by the book since %s.", b.Serial, b.GoneAt.Format(time.DateOnly))
	}
	return before, until, nil
}

func sameParty(a, b *int64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }

// StolenReport is a report that a box was stolen; while RecoveredAt is nil it is missing.
type StolenReport struct {
	ID              int64      `db:"id"`
	Version         int        `db:"version"`
	BoxID           int64      `db:"box_id"`
	Serial          string     `db:"serial"`
	StolenAt        time.Time  `db:"stolen_at"` // gone since, or when it was missed
	ReportedBy      string     `db:"reported_by"`
	PoliceReference string     `db:"police_reference"`
	Note            string     `db:"note"`
	RecordedAt      time.Time  `db:"recorded_at"`
	RecoveredAt     *time.Time `db:"recovered_at"`
	RecoveredHow    string     `db:"recovered_how"`
	AskedAt         *time.Time `db:"asked_at"` // when its serial was last typed into the public page since
}

const selectReport = `SELECT s.id, s.version, s.box_id, b.serial, s.stolen_at, s.reported_by, s.police_reference, s.note, s.recorded_at, s.recovered_at, s.recovered_how,
	(SELECT max(a.at) FROM box_asked a WHERE a.box_id = s.box_id AND a.at >= s.recorded_at) AS asked_at FROM box_report s JOIN box b ON b.id = s.box_id `

// ReportsOf gives the reports of a box, the oldest first.
func (r *Room) ReportsOf(ctx context.Context, box int64) ([]StolenReport, error) {
	return postgres.List[StolenReport](ctx, r.db, selectReport+`WHERE s.box_id = $1 ORDER BY s.id LIMIT 200`, box)
}

// StolenNow gives the reports of boxes that are missing, the newest first; at most 200.
func (r *Room) StolenNow(ctx context.Context) ([]StolenReport, error) {
	return postgres.List[StolenReport](ctx, r.db, selectReport+`WHERE s.recovered_at IS NULL ORDER BY s.stolen_at DESC, s.id DESC LIMIT 200`)
}

// BoxStolen notes that a box was reported stolen. What was promised of it is broken, and it
// is neither promised nor sold until [Room.BoxRecovered]. Errors: Invalid for a time in the
// future or before the box was there, or nobody who reported it; Conflict when it is
// reported already or gone; NotFound.
func (r *Room) BoxStolen(ctx context.Context, n StolenReport) (Box, error) {
	var out Box
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := boxIn(ctx, tx, `WHERE b.id = $1`, n.BoxID)
		if err != nil {
			return err
		}
		var l fault.List
		if l.Past("/stolen_at", n.StolenAt, r.db.Now()) {
			l.Check(!n.StolenAt.Before(b.FinishedAt), "/stolen_at", "Box %s was made, or came here, on %s. It cannot have been stolen before.", b.Serial, b.FinishedAt.Format(time.DateOnly))
		}
		l.Words("/reported_by", n.ReportedBy, "who reported it")
		l.Short("/police_reference", n.PoliceReference)
		if err := l.Err(); err != nil {
			return err
		}
		if b.GoneAt != nil {
			return fault.New(fault.Conflict, "Box %s is gone by the book: burnt or broken up. It cannot be stolen.", b.Serial)
		}
		if err := r.reportTx(ctx, tx, n); err != nil {
			return err
		}
		if _, err := claims.BreakForFact(ctx, tx, r.db.Now(), claims.Box(n.BoxID), breakIf(true), "the box is stolen"); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE box SET stolen_at = $2 WHERE id = $1`, n.BoxID, n.StolenAt); err != nil {
			return postgres.Translate(err)
		}
		out, err = boxIn(ctx, tx, `WHERE b.id = $1`, n.BoxID)
		return err
	})
	return out, err
}

func (r *Room) reportTx(ctx context.Context, tx pgx.Tx, n StolenReport) error {
	_, err := tx.Exec(ctx, `INSERT INTO box_report (box_id, stolen_at, reported_by, police_reference, note, recorded_at) VALUES ($1, $2, $3, $4, $5, $6)`,
		n.BoxID, n.StolenAt, n.ReportedBy, n.PoliceReference, n.Note, r.db.Now())
	return postgres.Translate(err)
}

// BoxRecovered ends the report of a stolen box: it was found. Errors: Invalid for a time in
// the future or before it was stolen; Conflict when it is not reported stolen; NotFound.
func (r *Room) BoxRecovered(ctx context.Context, box int64, at time.Time, how string) (Box, error) {
	var l fault.List
	l.Past("/recovered_at", at, r.db.Now())
	l.Short("/how", how)
	if err := l.Err(); err != nil {
		return Box{}, err
	}
	var out Box
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := boxIn(ctx, tx, `WHERE b.id = $1`, box)
		if err != nil {
			return err
		}
		if err := r.recoverTx(ctx, tx, b, at, how); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE box SET stolen_at = NULL WHERE id = $1`, box); err != nil {
			return postgres.Translate(err)
		}
		out, err = boxIn(ctx, tx, `WHERE b.id = $1`, box)
		return err
	})
	return out, err
}

func (r *Room) recoverTx(ctx context.Context, tx pgx.Tx, b Box, at time.Time, how string) error {
	tag, err := tx.Exec(ctx, `UPDATE box_report SET recovered_at = $2, recovered_how = $3 WHERE box_id = $1 AND recovered_at IS NULL`, b.ID, at, how)
	if err != nil {
		return postgres.Translate(err)
	}
	if tag.RowsAffected() == 0 {
		return fault.New(fault.Conflict, "Box %s is not reported stolen.", b.Serial)
	}
	return nil
}

// keepReport keeps the reports of a box in step when [Room.BoxSave] marks it as stolen or
// takes the mark away.
func (r *Room) keepReport(ctx context.Context, tx pgx.Tx, was Box, stolen *time.Time) error {
	switch {
	case stolen != nil && was.StolenAt == nil:
		return r.reportTx(ctx, tx, StolenReport{BoxID: was.ID, StolenAt: *stolen, ReportedBy: "the workshop"})
	case stolen != nil && !stolen.Equal(*was.StolenAt):
		_, err := tx.Exec(ctx, `UPDATE box_report SET stolen_at = $2 WHERE box_id = $1 AND recovered_at IS NULL`, was.ID, stolen)
		return postgres.Translate(err)
	case stolen == nil && was.StolenAt != nil:
		return r.recoverTx(ctx, tx, was, r.db.Now(), "")
	}
	return nil
}

// ReportChange notes the police's reference, which often comes later, and what else is known.
// Errors: Invalid, Stale.
func (r *Room) ReportChange(ctx context.Context, n StolenReport) error {
	var l fault.List
	l.Short("/police_reference", n.PoliceReference)
	l.Text("/note", n.Note, 20000)
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := postgres.Value[int64](ctx, tx, `UPDATE box_report SET police_reference = $3, note = $4 WHERE id = $1 AND version = $2 RETURNING id`, n.ID, n.Version, n.PoliceReference, n.Note)
		return postgres.Changed(ctx, tx, err, "box_report", n.ID, "this report")
	})
}

// How a serial that a finder typed stands.
const (
	FoundStolen  = "reported stolen"
	FoundNot     = "not reported"
	FoundNotOurs = "not ours"
)

// Found says how a serial that somebody read off a box stands, and nothing else of it. That
// the serial of a stolen box was typed is noted, of who typed it nothing. Errors: Invalid
// for digits that cannot be a serial, so that a slip is told from a box we do not know.
func (r *Room) Found(ctx context.Context, typed string) (state string, since *time.Time, err error) {
	serial := SerialTyped(typed)
	if !SerialOK(serial) {
		return "", nil, fault.Bad("/serial", "These digits do not fit together: the last one checks the others. Look at the box again, digit by digit.")
	}
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		rows, err := postgres.List[struct {
			ID       int64      `db:"id"`
			StolenAt *time.Time `db:"stolen_at"`
		}](ctx, tx, `SELECT id, stolen_at FROM box WHERE serial = $1`, serial)
		if err != nil || len(rows) == 0 {
			state = FoundNotOurs
			return err
		}
		if state, since = FoundNot, rows[0].StolenAt; since == nil {
			return nil
		}
		state = FoundStolen
		_, err = tx.Exec(ctx, `INSERT INTO box_asked (box_id, at) VALUES ($1, $2)`, rows[0].ID, r.db.Now())
		return postgres.Translate(err)
	})
	return state, since, err
}

func init() {
	postgres.Explain("box_report_one_open", fault.Conflict, "/stolen_at", "It is reported stolen already. Add what is new to that report.")
	postgres.Explain("box_report_forward", fault.Invalid, "/recovered_at", "It was stolen later than that. Write a later time.")
	postgres.Explain("box_report_by", fault.Invalid, "/reported_by", "Say who reported it.")
}
