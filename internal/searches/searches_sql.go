package searches

import (
	"context"
	"encoding/json"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

type searchRow struct {
	ID        int64      `db:"id"`
	Topic     string     `db:"topic"`
	About     string     `db:"about"`
	Asked     []byte     `db:"asked"`
	LimitMS   int        `db:"limit_ms"`
	AskedAt   time.Time  `db:"asked_at"`
	BegunAt   *time.Time `db:"begun_at"`
	EndedAt   *time.Time `db:"ended_at"`
	Stopping  bool       `db:"stopping"`
	Progress  []byte     `db:"progress"`
	Answered  []byte     `db:"answered"`
	HeldUntil time.Time  `db:"held_until"`
}

const columns = `id, topic, about, asked, limit_ms, asked_at, begun_at, ended_at, stop_asked_at IS NOT NULL AS stopping, progress,
	CASE WHEN ended_at IS NOT NULL THEN answered END AS answered, held_until`

// shortColumns leave out the two that may be long.
const shortColumns = `id, topic, about, NULL::jsonb AS asked, limit_ms, asked_at, begun_at, ended_at, stop_asked_at IS NOT NULL AS stopping, progress,
	NULL::jsonb AS answered, held_until`

func (w searchRow) search() (Search, error) {
	s := Search{ID: w.ID, Topic: w.Topic, About: w.About, Asked: w.Asked, Limit: time.Duration(w.LimitMS) * time.Millisecond, AskedAt: w.AskedAt,
		BegunAt: w.BegunAt, EndedAt: w.EndedAt, Stopping: w.Stopping, Answered: w.Answered}
	if w.Progress == nil {
		return s, nil
	}
	s.Progress = &contract.Progress{}
	return s, json.Unmarshal(w.Progress, s.Progress)
}

// insertLock makes those who start searches count one after the other.
const insertLock = 0x5EA2C4

// insert forgets old searches, counts those that are open, and keeps the new one.
func (r *Room) insert(ctx context.Context, a Ask, asked json.RawMessage, limitMS int, first json.RawMessage) (Search, error) {
	var s Search
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		now := r.db.Now()
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock($1)`, insertLock); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `DELETE FROM search WHERE asked_at < $1`, now.Add(-Kept)); err != nil {
			return err
		}
		var own, all int
		if err := tx.QueryRow(ctx, `SELECT count(*) FILTER (WHERE account_id = $1), count(*) FROM search WHERE ended_at IS NULL`, a.AccountID).Scan(&own, &all); err != nil {
			return err
		}
		switch {
		case own >= MostOpen:
			return fault.New(fault.Conflict, "%d searches of yours run or wait already. Stop one, or wait for it.", own)
		case all >= mostBook:
			return fault.New(fault.Conflict, "%d searches run or wait already. Try again when some have ended.", all)
		}
		row, err := postgres.One[searchRow](ctx, tx, `INSERT INTO search (account_id, topic, about, asked, limit_ms, asked_at, held_until, answered)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING `+columns, a.AccountID, a.Topic, a.About, asked, limitMS, now, now.Add(heldFor), first)
		if err != nil {
			return err
		}
		s, err = row.search()
		return err
	})
	return s, err
}

// read gives a search of the account, and whether a server holds it.
func (r *Room) read(ctx context.Context, accountID, id int64) (Search, bool, error) {
	now := r.db.Now()
	row, err := postgres.One[searchRow](ctx, r.db, `SELECT `+columns+` FROM search WHERE account_id = $1 AND id = $2 AND asked_at >= $3`, accountID, id, now.Add(-Kept))
	if fault.Is(err, fault.NotFound) {
		return Search{}, false, fault.New(fault.NotFound, "There is no such search of yours. It is forgotten after a day.")
	}
	if err != nil {
		return Search{}, false, err
	}
	s, err := row.search()
	return s, row.HeldUntil.After(now), err
}

// readAll is served by the index search_of_account.
func (r *Room) readAll(ctx context.Context, accountID int64, about string) (list []Search, loose []int64, err error) {
	now := r.db.Now()
	read := columns
	if about == "" {
		read = shortColumns
	}
	rows, err := postgres.List[searchRow](ctx, r.db, `SELECT `+read+` FROM search WHERE account_id = $1 AND asked_at >= $2
		AND ($3 = '' OR about = $3 OR starts_with(about, $3 || '/')) ORDER BY id DESC LIMIT 200`, accountID, now.Add(-Kept), about)
	if err != nil {
		return nil, nil, err
	}
	list = make([]Search, len(rows))
	for i, row := range rows {
		if list[i], err = row.search(); err != nil {
			return nil, nil, err
		}
		if row.EndedAt == nil && !row.HeldUntil.After(now) {
			loose = append(loose, row.ID)
		}
	}
	return list, loose, nil
}

func (r *Room) askStop(ctx context.Context, accountID, id int64) error {
	_, err := r.db.Exec(ctx, `UPDATE search SET stop_asked_at = $3 WHERE account_id = $1 AND id = $2 AND ended_at IS NULL AND stop_asked_at IS NULL`, accountID, id, r.db.Now())
	return postgres.Translate(err)
}

// held is what a run needs.
type held struct {
	Topic string `db:"topic"`
	Asked []byte `db:"asked"`
}

// take holds a search that nobody holds: a new one, or one whose server is gone. NotFound
// when it is not there (yet) or somebody else's.
func (r *Room) take(ctx context.Context, id, holder int64) (held, error) {
	now := r.db.Now()
	return postgres.One[held](ctx, r.db, `UPDATE search SET holder = $2, held_until = $4
		WHERE id = $1 AND ended_at IS NULL AND (holder IS NULL OR held_until <= $3) RETURNING topic, asked`, id, holder, now, now.Add(heldFor))
}

// begin notes when the run began, and gives the time that is left.
func (r *Room) begin(ctx context.Context, id, holder int64) (time.Duration, error) {
	now := r.db.Now()
	ends, err := postgres.Value[time.Time](ctx, r.db, `UPDATE search SET begun_at = coalesce(begun_at, $3)
		WHERE id = $1 AND holder = $2 RETURNING begun_at + limit_ms * interval '1 millisecond'`, id, holder, now)
	return ends.Sub(now), err
}

// say keeps how far a run is and holds on; it gives whether the run should stop, and
// NotFound when somebody else holds the search or it is forgotten.
func (r *Room) say(ctx context.Context, id, holder int64, p *contract.Progress) (bool, error) {
	return postgres.Value[bool](ctx, r.db, `UPDATE search SET progress = coalesce($3, progress), held_until = $4
		WHERE id = $1 AND holder = $2 RETURNING stop_asked_at IS NOT NULL`, id, holder, rawProgress(p), r.db.Now().Add(heldFor))
}

// letGo lets another server take the search up.
func (r *Room) letGo(ctx context.Context, id, holder int64) error {
	_, err := r.db.Exec(ctx, `UPDATE search SET holder = NULL, held_until = $3 WHERE id = $1 AND holder = $2`, id, holder, r.db.Now())
	return postgres.Translate(err)
}

// finish keeps the answer; without one the first answer stays.
func (r *Room) finish(ctx context.Context, id, holder int64, answer json.RawMessage, p *contract.Progress) error {
	_, err := r.db.Exec(ctx, `UPDATE search SET ended_at = $3, answered = coalesce($4, answered), progress = coalesce($5, progress) WHERE id = $1 AND holder = $2`,
		id, holder, r.db.Now(), []byte(answer), rawProgress(p))
	return postgres.Translate(err)
}

func rawProgress(p *contract.Progress) []byte {
	if p == nil {
		return nil
	}
	raw, _ := json.Marshal(p) // numbers and a word
	return raw
}
