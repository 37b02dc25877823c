package house

import (
	"context"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// StandIn is what somebody must know who stands in for the maker, in the maker's own
// words. Version 0 is not written yet.
type StandIn struct {
	Version    int    `db:"version"`
	FirstToDo  string `db:"first_to_do"`
	WhoDecides string `db:"who_decides"`
	Backups    string `db:"backups"`
	Starting   string `db:"starting"`
}

// StandInGet reads it; an empty one when nothing is written yet.
func (r *Room) StandInGet(ctx context.Context) (StandIn, error) {
	s, err := postgres.One[StandIn](ctx, r.db, `SELECT version, first_to_do, who_decides, backups, starting FROM stand_in WHERE id = 1`)
	if fault.Is(err, fault.NotFound) {
		return StandIn{}, nil
	}
	return s, err
}

// StandInPut keeps it; s.Version is the one that was read. Errors: Invalid, Stale.
func (r *Room) StandInPut(ctx context.Context, s StandIn) (StandIn, error) {
	var l fault.List
	for pointer, text := range map[string]string{"/first_to_do": s.FirstToDo, "/who_decides": s.WhoDecides, "/backups": s.Backups, "/starting": s.Starting} {
		l.Text(pointer, text, 5000)
	}
	if err := l.Err(); err != nil {
		return s, err
	}
	var out StandIn
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		list, err := postgres.List[StandIn](ctx, tx, `INSERT INTO stand_in (first_to_do, who_decides, backups, starting) SELECT $1, $2, $3, $4 WHERE $5 = 0 ON CONFLICT DO NOTHING RETURNING version, first_to_do, who_decides, backups, starting`,
			s.FirstToDo, s.WhoDecides, s.Backups, s.Starting, s.Version)
		if err == nil && len(list) == 0 {
			list, err = postgres.List[StandIn](ctx, tx, `UPDATE stand_in SET first_to_do = $1, who_decides = $2, backups = $3, starting = $4 WHERE id = 1 AND version = $5 RETURNING version, first_to_do, who_decides, backups, starting`,
				s.FirstToDo, s.WhoDecides, s.Backups, s.Starting, s.Version)
		}
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return fault.New(fault.Stale, "Somebody changed this meanwhile. Look at it again.")
		}
		out = list[0]
		return nil
	})
	return out, err
}
