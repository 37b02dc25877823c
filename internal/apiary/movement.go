package apiary

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Move says where a colony goes and to whom.
type Move struct {
	ColonyID     int64
	ChangesOwner bool
	OwnerID      *int64 // nil: the workshop
	SiteID       *int64
	Place        string    // in words; with no site either, it stays where it is
	At           time.Time // zero: now
	PermitID     *int64
	PermitNumber string // where one is needed, and no permit of the book is meant
	Note         string
	InSpite      string // why it went although it is held back; a fact that was done all the same
}

func (m *Move) check(now time.Time) error {
	var l fault.List
	if m.At.IsZero() {
		m.At = now
	}
	m.Place, m.PermitNumber = strings.TrimSpace(m.Place), strings.TrimSpace(m.PermitNumber)
	l.Past("/happened_at", m.At, now)
	l.Text("/place", m.Place, maxWords)
	l.Text("/permit_number", m.PermitNumber, maxWords)
	l.Text("/note", m.Note, maxWords)
	return l.Err()
}

// Give changes the owner and, with keeper, who keeps a colony from an instant on, and
// writes the movement record when it goes from one place to another: one line for each
// move, and none for a colony that stays where it is. Every door that moves bees comes
// through here. Errors: Conflict for a colony that is gone, or held back and no reason is
// given; Invalid for an instant in the future or before its last move.
func (r *Room) Give(ctx context.Context, m Move) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := m.check(r.db.Now()); err != nil {
			return err
		}
		c, err := r.lockColony(ctx, tx, m.ColonyID)
		if err != nil {
			return err
		}
		if c.EndedAt != nil {
			return fault.New(fault.Conflict, "This colony is gone: %s.", c.EndedHow)
		}
		spite, err := inSpite(ctx, tx, c, m.At, m.InSpite, "moved or given")
		if err != nil {
			return err
		}
		if spite != "" {
			if err := note(ctx, tx, Event{ColonyID: m.ColonyID, Kind: "moved", HappenedAt: m.At, Note: spite}); err != nil {
				return err
			}
		}
		if m.ChangesOwner {
			for _, table := range []string{"colony_owner", "colony_keeper"} {
				if err := follow(ctx, tx, table, m.ColonyID, m.At, `INSERT INTO `+table+` (colony_id, party_id, from_at) VALUES ($1, $2, $3)`, m.ColonyID, m.OwnerID, m.At); err != nil {
					return err
				}
			}
		}
		return r.moveTx(ctx, tx, c, m)
	})
}

// follow ends the row of a dated table that is open for a colony and puts in the next.
func follow(ctx context.Context, tx pgx.Tx, table string, colony int64, at time.Time, insert string, args ...any) error {
	if _, err := tx.Exec(ctx, `UPDATE `+table+` SET to_at = greatest($2, from_at) WHERE colony_id = $1 AND to_at IS NULL`, colony, at); err != nil {
		return postgres.Translate(err)
	}
	_, err := tx.Exec(ctx, insert, args...)
	return postgres.Translate(err)
}

// moveTx puts a colony at its new place and writes the line of the movement record. It
// does nothing when the colony is there already.
func (r *Room) moveTx(ctx context.Context, tx pgx.Tx, c Colony, m Move) error {
	to, err := siteWords(ctx, tx, m)
	if err != nil || to == "" || sameID(m.SiteID, c.SiteID) && strings.EqualFold(to, c.PlaceName) {
		return err
	}
	last, err := postgres.Value[*time.Time](ctx, tx, `SELECT max(happened_at) FROM movement WHERE colony_id = $1`, c.ID)
	if err != nil {
		return err
	}
	if last != nil && m.At.Before(*last) {
		return fault.Bad("/happened_at", "By the book colony %s was moved later than that, on %s. Write a later time.", c.Number, last.Format("2 January 2006"))
	}
	if err := follow(ctx, tx, "colony_place", c.ID, m.At, `INSERT INTO colony_place (colony_id, site_id, place, from_at) VALUES ($1, $2, $3, $4)`, c.ID, m.SiteID, m.Place, m.At); err != nil {
		return err
	}
	from := c.PlaceName
	if from == "" {
		from = "the workshop"
	}
	_, err = tx.Exec(ctx, `INSERT INTO movement (colony_id, from_place, to_place, from_site_id, to_site_id, to_party_id, permit_id, permit_number, happened_at, recorded_at, note)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`, c.ID, from, to, c.SiteID, m.SiteID, m.OwnerID, m.PermitID, m.PermitNumber, m.At, r.db.Now(), m.Note)
	return postgres.Translate(err)
}

// siteWords is where a move goes in words: its place, else the name or town of its site.
func siteWords(ctx context.Context, tx pgx.Tx, m Move) (string, error) {
	if m.Place != "" || m.SiteID == nil {
		return m.Place, nil
	}
	return postgres.Value[string](ctx, tx, `SELECT coalesce(nullif(name::text, ''), nullif(town::text, ''), 'a site') FROM site WHERE id = $1`, *m.SiteID)
}

func sameID(a, b *int64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }

// Movement is one line of the movement record: one colony that went from place to place.
type Movement struct {
	ID           int64     `db:"id"`
	ColonyID     int64     `db:"colony_id"`
	Number       string    `db:"number"`
	Species      string    `db:"species"`
	FromPlace    string    `db:"from_place"`
	ToPlace      string    `db:"to_place"`
	ToName       string    `db:"to_name"` // to whom it went; "" when it stayed with its owner
	PermitNumber string    `db:"permit_number"`
	HappenedAt   time.Time `db:"happened_at"`
	RecordedAt   time.Time `db:"recorded_at"`
	Note         string    `db:"note"`
}

// MovementsMost is how many lines of the movement record are given at once.
const MovementsMost = 20_000

// movementSelect writes a place with the address of its site where the words lack it.
const movementSelect = `SELECT m.id, m.colony_id, c.number, coalesce(f.name::text, '') AS species, coalesce(p.name::text, '') AS to_name, m.happened_at, m.recorded_at, m.note,
	CASE WHEN a.address <> '' AND strpos(m.from_place, a.address) = 0 THEN concat_ws(', ', m.from_place, a.address, nullif(a.town::text, '')) ELSE m.from_place END AS from_place,
	CASE WHEN b.address <> '' AND strpos(m.to_place, b.address) = 0 THEN concat_ws(', ', m.to_place, b.address, nullif(b.town::text, '')) ELSE m.to_place END AS to_place,
	coalesce(nullif(m.permit_number::text, ''), q.number::text, '') AS permit_number
FROM movement m JOIN colony c ON c.id = m.colony_id LEFT JOIN site a ON a.id = m.from_site_id LEFT JOIN site b ON b.id = m.to_site_id LEFT JOIN party p ON p.id = m.to_party_id LEFT JOIN permit q ON q.id = m.permit_id
LEFT JOIN LATERAL (SELECT y.name FROM colony_species x JOIN bee_species y ON y.id = x.bee_species_id WHERE x.colony_id = c.id ORDER BY x.found_on DESC, x.id DESC LIMIT 1) f ON true `

// MovementList gives the movements from one instant until before another, newest first;
// the index movement_when serves it. Errors: Invalid when there are more than
// [MovementsMost].
func (r *Room) MovementList(ctx context.Context, from, to time.Time) ([]Movement, error) {
	list, err := postgres.List[Movement](ctx, r.db, movementSelect+`WHERE m.happened_at >= $1 AND m.happened_at < $2 ORDER BY m.happened_at DESC, m.id DESC LIMIT $3`, from, to, MovementsMost+1)
	if err == nil && len(list) > MovementsMost {
		return nil, fault.Bad("/to", "More than %d moves lie in this time. Choose a shorter one.", MovementsMost)
	}
	return list, err
}

// MovementsOf gives the moves of one colony, newest first, at most 200.
func (r *Room) MovementsOf(ctx context.Context, colony int64) ([]Movement, error) {
	return postgres.List[Movement](ctx, r.db, movementSelect+`WHERE m.colony_id = $1 ORDER BY m.happened_at DESC, m.id DESC LIMIT 200`, colony)
}

// MovementPermit adds the number of a permit that was not at hand when the move was
// written; once it stands there it stays. Errors: Invalid, NotFound, Conflict.
func (r *Room) MovementPermit(ctx context.Context, id int64, number string) error {
	number = strings.TrimSpace(number)
	var l fault.List
	l.Check(number != "", "/permit_number", "Write the number of the permit.")
	l.Text("/permit_number", number, maxWords)
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := postgres.Value[int64](ctx, tx, `UPDATE movement SET permit_number = $2 WHERE id = $1 RETURNING id`, id, number)
		return err
	})
}

func init() {
	postgres.Explain("movement_written_once", fault.Conflict, "/permit_number", "A line of the movement record is written once. Its permit stands there already.")
}
