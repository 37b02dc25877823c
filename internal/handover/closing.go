package handover

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Closes reports whether the stop is one of the closing round.
func (s Stop) Closes() bool { return s.Kind == "close" }

// ClosingDay is the day on whose evening the entrances are closed.
func (n Run) ClosingDay() time.Time {
	if n.Loads == "dusk" {
		return n.RunOn
	}
	return n.RunOn.AddDate(0, 0, -1)
}

// closeThere notes a mark at a stop of the closing round: closed or done closes the
// entrance of every hive that waits for it, and gives the change that is left to make.
func closeThere(ctx context.Context, tx pgx.Tx, stop int64, what string, at time.Time) (string, error) {
	switch what {
	case "closed", "done":
		if _, err := tx.Exec(ctx, `UPDATE run_stop SET closed_at = $2 WHERE closed_by_id = $1 AND closed_at IS NULL`, stop, at); err != nil {
			return "", err
		}
		return stopMarks["done"], nil
	case "told":
		return stopMarks["told"], nil
	}
	return "", fault.Bad("/what", "At this stop entrances are closed. Each is opened at the stop where its hive comes to stand.")
}

// closingDone ends the stop of the closing round when the last of its hives was closed at
// its own stop.
func closingDone(ctx context.Context, tx pgx.Tx, stop int64, at time.Time) error {
	_, err := tx.Exec(ctx, `UPDATE run_stop c SET done_at = $2 FROM run_stop x WHERE x.id = $1 AND c.id = x.closed_by_id AND c.done_at IS NULL AND NOT EXISTS (SELECT FROM run_stop y WHERE y.closed_by_id = c.id AND y.closed_at IS NULL)`, stop, at)
	return postgres.Translate(err)
}

// ToClose gives the stops of the closing round that are not done, of runs from day on that
// are neither done nor off the list, with their runs; at most 100.
func (r *Room) ToClose(ctx context.Context, from, to time.Time) ([]Run, error) {
	runs, err := postgres.List[Run](ctx, r.db, runSelect+`WHERE run_on BETWEEN $1 AND $2 AND done_at IS NULL AND cancelled_at IS NULL AND EXISTS (SELECT FROM run_stop x WHERE x.run_id = run.id AND x.kind = 'close' AND x.done_at IS NULL) ORDER BY run_on, id LIMIT 100`, from, to)
	for i := range runs {
		if err == nil {
			runs[i].Stops, err = postgres.List[Stop](ctx, r.db, stopSelect+`WHERE s.run_id = $1 AND s.kind = 'close' AND s.done_at IS NULL ORDER BY s.position`, runs[i].ID)
		}
	}
	return runs, err
}

// StopPermit notes under which permit the bees of a stop travel or are taken; nil takes
// the note back. A permit that has ended is noted all the same: it is pointed out.
func (r *Room) StopPermit(ctx context.Context, stop int64, permit *int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var got int64
		return tx.QueryRow(ctx, `UPDATE run_stop SET permit_id = $2 WHERE id = $1 RETURNING id`, stop, permit).Scan(&got)
	})
}

// TreesOnRuns gives the host trees that are stops, not done, of runs from day on.
func (r *Room) TreesOnRuns(ctx context.Context, day time.Time) ([]int64, error) {
	return postgres.Column[int64](ctx, r.db, `SELECT DISTINCT s.host_tree_id FROM run_stop s JOIN run n ON n.id = s.run_id WHERE s.host_tree_id IS NOT NULL AND s.done_at IS NULL AND n.run_on >= $1 AND n.cancelled_at IS NULL AND n.done_at IS NULL`, day)
}
