package apiary

import (
	"context"
	"time"

	"kerfbook/internal/postgres"
)

// Housed is a colony and when it lived in a box.
type Housed struct {
	ColonyID  int64      `db:"colony_id"`
	Number    string     `db:"number"`
	FromAt    time.Time  `db:"from_at"`
	FromAbout string     `db:"from_about"` // where the day is not known
	ToAt      *time.Time `db:"to_at"`
}

// HousedIn gives the colonies that live and lived in a box, the latest first; at most 200.
func (r *Room) HousedIn(ctx context.Context, box int64) ([]Housed, error) {
	return postgres.List[Housed](ctx, r.db, `SELECT h.colony_id, c.number, h.from_at, h.from_about, h.to_at FROM housing h JOIN colony c ON c.id = h.colony_id
WHERE h.box_id = $1 ORDER BY h.to_at DESC NULLS FIRST, h.from_at DESC, h.id DESC LIMIT 200`, box)
}
