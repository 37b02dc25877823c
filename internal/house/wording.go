package house

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Wording is the maker's own wording of a part of a sheet. Version 0 was never written;
// a nil Body is the house wording.
type Wording struct {
	ID        int64     `db:"id"`
	Version   int       `db:"version"`
	Name      string    `db:"name"` // of the house wording it takes the place of
	Body      *string   `db:"body"`
	UpdatedAt time.Time `db:"updated_at"`
}

// WordingTrouble is the latest paper on which a wording failed.
type WordingTrouble struct {
	Name    string    `db:"name"`
	Paper   string    `db:"paper"` // its number
	Said    string    `db:"said"`
	At      time.Time `db:"at"`
	Version int       `db:"version"` // of the wording
}

const wordingColumns = `id, version, name, body, updated_at`

// WordingList gives every wording that was ever changed, by name.
func (r *Room) WordingList(ctx context.Context) ([]Wording, error) {
	return postgres.List[Wording](ctx, r.db, `SELECT `+wordingColumns+` FROM wording ORDER BY name`)
}

// WordingGet reads one; version 0 and no body when nobody has changed it.
func (r *Room) WordingGet(ctx context.Context, name string) (Wording, error) {
	w, err := postgres.One[Wording](ctx, r.db, `SELECT `+wordingColumns+` FROM wording WHERE name = $1`, name)
	if fault.Is(err, fault.NotFound) {
		return Wording{Name: name}, nil
	}
	return w, err
}

// WordingPut keeps a wording that was read at w.Version; a nil body goes back to that of
// the house. It checks no words: [paper.Words] knows them. What was said against the one
// before is forgotten. Errors: Stale.
func (r *Room) WordingPut(ctx context.Context, w Wording) (Wording, error) {
	var out Wording
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		list, err := postgres.List[Wording](ctx, tx, `INSERT INTO wording (name, body) SELECT $1, $2 WHERE $3 = 0 ON CONFLICT DO NOTHING RETURNING `+wordingColumns, w.Name, w.Body, w.Version)
		if err == nil && len(list) == 0 {
			list, err = postgres.List[Wording](ctx, tx, `UPDATE wording SET body = $2 WHERE name = $1 AND version = $3 RETURNING `+wordingColumns, w.Name, w.Body, w.Version)
		}
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return fault.New(fault.Stale, "Somebody changed this wording meanwhile. Look at it again.")
		}
		out = list[0]
		_, err = tx.Exec(ctx, `DELETE FROM wording_trouble WHERE name = $1`, w.Name)
		return err
	})
	return out, err
}

// WordingFailed notes that a wording could not be used on a paper.
func (r *Room) WordingFailed(ctx context.Context, name, number, said string) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO wording_trouble (name, paper, said, at) SELECT name, $2, left($3, 200), $4 FROM wording WHERE name = $1
ON CONFLICT (name) DO UPDATE SET paper = excluded.paper, said = excluded.said, at = excluded.at`, name, number, said, r.db.Now())
		return err
	})
}

// WordingTroubles gives what went wrong with wordings in use, by name.
func (r *Room) WordingTroubles(ctx context.Context) ([]WordingTrouble, error) {
	return postgres.List[WordingTrouble](ctx, r.db, `SELECT t.name, t.paper, t.said, t.at, w.version FROM wording_trouble t JOIN wording w ON w.name = t.name WHERE w.body IS NOT NULL ORDER BY t.name`)
}

// WordingBefore is a wording as it stood until somebody changed it.
type WordingBefore struct {
	Body string    `db:"body"`
	Who  string    `db:"who"`
	At   time.Time `db:"at"` // when it was changed
}

// WordingHistory gives what a wording said before, the latest first, at most limit.
func (r *Room) WordingHistory(ctx context.Context, id int64, limit int) ([]WordingBefore, error) {
	return postgres.List[WordingBefore](ctx, r.db, `SELECT was ->> 'body' AS body, coalesce(actor_name, '') AS who, at FROM history
WHERE table_name = 'wording' AND row_id = $1 AND was ->> 'body' IS NOT NULL ORDER BY id DESC LIMIT $2`, id, min(max(limit, 1), 100))
}
