package workshop

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

const selectOperations = `SELECT o.id, o.build_id, o.position, o.name, o.setup_min, trim_scale(o.piece_min) AS piece_min, o.wait_min,
	ARRAY(SELECT jsonb_array_elements_text(o.needs)) AS needs, o.owner_only, o.done_at,
	EXISTS (SELECT FROM dry_operation d JOIN model_revision r ON r.model_id = d.model_id JOIN build y ON y.model_revision_id = r.id WHERE y.id = o.build_id AND d.name = o.name) AS dry,
	(SELECT ` + spentSQL + ` FROM time_spell t WHERE t.build_operation_id = o.id) AS spent_min,
	ARRAY(SELECT a.name::text FROM time_spell t JOIN account a ON a.id = t.account_id WHERE t.build_operation_id = o.id AND t.stopped_at IS NULL ORDER BY t.id) AS running
	FROM build_operation o `

// operationsIn reads a build's operations in their order; spells that run count up to now.
func operationsIn(ctx context.Context, q postgres.Querier, buildID int64, now time.Time) ([]Operation, error) {
	return postgres.List[Operation](ctx, q, selectOperations+`WHERE o.build_id = $2 ORDER BY o.position`, now, buildID)
}

// Spell is time spent on an operation.
type Spell struct {
	ID            int64      `db:"id"`
	OperationID   int64      `db:"build_operation_id"`
	OperationName string     `db:"operation_name"`
	BuildID       int64      `db:"build_id"`
	BuildNumber   string     `db:"build_number"`
	AccountID     int64      `db:"account_id"`
	StartedAt     time.Time  `db:"started_at"`
	StoppedAt     *time.Time `db:"stopped_at"`
}

const selectSpell = `SELECT t.id, t.build_operation_id, o.name AS operation_name, o.build_id, b.number AS build_number, t.account_id, t.started_at, t.stopped_at
	FROM time_spell t JOIN build_operation o ON o.id = t.build_operation_id JOIN build b ON b.id = o.build_id `

// SpellStart starts somebody's time on an operation; time that still runs for the same
// person stops then. Errors: Conflict when the build has ended, Forbidden when the
// operation is for the owner alone and the person is not the owner; Invalid.
func (r *Room) SpellStart(ctx context.Context, operationID, accountID int64, at time.Time) (Spell, error) {
	var l fault.List
	l.Past("/started_at", at, r.db.Now())
	if err := l.Err(); err != nil {
		return Spell{}, err
	}
	return r.spellWrite(ctx, operationID, accountID, at, nil, nil)
}

// mayWork keeps helpers from operations that are the owner's alone.
func mayWork(ctx context.Context, tx pgx.Tx, operationID, accountID int64) error {
	ok, err := postgres.Value[bool](ctx, tx, `SELECT NOT o.owner_only OR a.role = 'owner' FROM build_operation o, account a WHERE o.id = $1 AND a.id = $2`, operationID, accountID)
	if err == nil && !ok {
		return fault.New(fault.Forbidden, "This operation is for the owner alone.")
	}
	return err
}

// stopOpen stops what still runs for a person. A spell cannot end before it began: one
// that began later than at is the person's mistake to mend.
func stopOpen(ctx context.Context, tx pgx.Tx, accountID int64, at time.Time) error {
	began, err := postgres.Column[time.Time](ctx, tx, `SELECT started_at FROM time_spell WHERE account_id = $1 AND stopped_at IS NULL FOR UPDATE`, accountID)
	if err != nil || len(began) == 0 {
		return err
	}
	if !at.After(began[0]) {
		return fault.Bad("/started_at", "Your time on another operation began later than this. Stop it first.")
	}
	_, err = tx.Exec(ctx, `UPDATE time_spell SET stopped_at = $2 WHERE account_id = $1 AND stopped_at IS NULL`, accountID, at)
	return postgres.Translate(err)
}

// SpellStop stops the time that runs for a person. Conflict when none does.
func (r *Room) SpellStop(ctx context.Context, accountID int64, at time.Time) (Spell, error) {
	var l fault.List
	l.Past("/stopped_at", at, r.db.Now())
	if err := l.Err(); err != nil {
		return Spell{}, err
	}
	var out Spell
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		s, err := postgres.One[Spell](ctx, tx, selectSpell+`WHERE t.account_id = $1 AND t.stopped_at IS NULL`, accountID)
		if fault.Is(err, fault.NotFound) {
			return fault.New(fault.Conflict, "No time is running for you.")
		}
		if err != nil {
			return err
		}
		if !at.After(s.StartedAt) {
			return fault.Bad("/stopped_at", "It began later than this. Write when it stopped.")
		}
		if _, err := tx.Exec(ctx, `UPDATE time_spell SET stopped_at = $2 WHERE id = $1`, s.ID, at); err != nil {
			return postgres.Translate(err)
		}
		out, err = postgres.One[Spell](ctx, tx, selectSpell+`WHERE t.id = $1`, s.ID)
		return err
	})
	return out, err
}

// SpellOpen gives the time that runs for a person; NotFound when none does.
func (r *Room) SpellOpen(ctx context.Context, accountID int64) (Spell, error) {
	return postgres.One[Spell](ctx, r.db, selectSpell+`WHERE t.account_id = $1 AND t.stopped_at IS NULL`, accountID)
}

// longestSpell bounds one spell that is typed in afterwards: a long day (our estimate).
const longestSpell = 16 * time.Hour

// SpellAdd writes down time that was spent without the clock running. Errors: Invalid,
// Conflict when the build has ended.
func (r *Room) SpellAdd(ctx context.Context, operationID, accountID int64, from, to time.Time) (Spell, error) {
	var l fault.List
	ok := l.Past("/started_at", from, r.db.Now()) && l.Past("/stopped_at", to, r.db.Now())
	l.Check(!ok || to.After(from), "/stopped_at", "It must stop after it began.")
	l.Check(!ok || to.Sub(from) <= longestSpell, "/stopped_at", "One spell lasts at most %.0f hours. Write several.", longestSpell.Hours())
	if err := l.Err(); err != nil {
		return Spell{}, err
	}
	return r.spellWrite(ctx, operationID, accountID, from, &to, nil)
}

// spellWrite writes a spell down; without an end it runs on, and what ran before stops.
// The build began with its earliest spell. splitOn is the day of whose total it is a share.
func (r *Room) spellWrite(ctx context.Context, operationID, accountID int64, from time.Time, to, splitOn *time.Time) (Spell, error) {
	var out Spell
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := r.lockByOperation(ctx, tx, operationID)
		if err != nil {
			return err
		}
		if err := mayWork(ctx, tx, operationID, accountID); err != nil {
			return err
		}
		if to == nil {
			if err := stopOpen(ctx, tx, accountID, from); err != nil {
				return err
			}
		}
		id, err := postgres.Value[int64](ctx, tx, `INSERT INTO time_spell (build_operation_id, account_id, started_at, stopped_at, recorded_at, split_on) VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`,
			operationID, accountID, from, to, r.db.Now(), splitOn)
		if err != nil {
			return err
		}
		if b.StartedAt == nil || b.StartedAt.After(from) {
			if _, err := tx.Exec(ctx, `UPDATE build SET started_at = $2 WHERE id = $1`, b.ID, from); err != nil {
				return postgres.Translate(err)
			}
		}
		out, err = postgres.One[Spell](ctx, tx, selectSpell+`WHERE t.id = $1`, id)
		return err
	})
	return out, err
}

// OperationDone notes that an operation is done, or is not after all. Time that runs on
// it stops.
func (r *Room) OperationDone(ctx context.Context, operationID int64, done bool, at time.Time) (Build, error) {
	var l fault.List
	l.Past("/done_at", at, r.db.Now())
	if err := l.Err(); err != nil {
		return Build{}, err
	}
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := r.lockByOperation(ctx, tx, operationID)
		if err != nil {
			return err
		}
		id = b.ID
		if _, err := tx.Exec(ctx, `UPDATE build_operation SET done_at = CASE WHEN $2 THEN coalesce(done_at, $3) END WHERE id = $1`, operationID, done, at); err != nil {
			return postgres.Translate(err)
		}
		if !done {
			return nil
		}
		_, err = tx.Exec(ctx, `UPDATE time_spell SET stopped_at = greatest($2, started_at + interval '1 second') WHERE build_operation_id = $1 AND stopped_at IS NULL`, operationID, at)
		return postgres.Translate(err)
	})
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, id)
}

func (r *Room) lockByOperation(ctx context.Context, tx pgx.Tx, operationID int64) (Build, error) {
	id, err := postgres.Value[int64](ctx, tx, `SELECT build_id FROM build_operation WHERE id = $1`, operationID)
	if err != nil {
		return Build{}, err
	}
	return buildLock(ctx, tx, id, r.db.Now())
}

// stopSpells stops whatever time runs on a build.
func stopSpells(ctx context.Context, tx pgx.Tx, buildID int64, at time.Time) error {
	_, err := tx.Exec(ctx, `UPDATE time_spell SET stopped_at = greatest($2, started_at + interval '1 second')
		WHERE stopped_at IS NULL AND build_operation_id IN (SELECT id FROM build_operation WHERE build_id = $1)`, buildID, at)
	return postgres.Translate(err)
}

func init() {
	postgres.Explain("time_spell_one_open", fault.Conflict, "", "Time is running for you already. Stop it first.")
	postgres.Explain("time_spell_forward", fault.Invalid, "/stopped_at", "It must stop after it began.")
}
