package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

// LotIn puts boards on the rack that have no other way in: opening stock that is typed
// in, or boards that were found. count is 1 or more, kind Opening, Found, Bought,
// Returned or Offcut. It gives the lot.
func (r *Room) LotIn(ctx context.Context, k LotKey, count int, kind MoveKind, at time.Time, reason string) (Lot, error) {
	switch kind {
	case Opening, Found, Bought, Returned, Offcut:
	default:
		return Lot{}, fault.Bad("/kind", "Boards come in as opening, found, bought, returned or offcut.")
	}
	if count < 1 || count > maxPieces {
		return Lot{}, fault.Bad("/count", "The count must lie between 1 and %d.", maxPieces)
	}
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if k.FirstInOn.IsZero() {
			k.FirstInOn = house.DateIn(at, set.Location())
		}
		if id, err = LotTx(ctx, tx, k, set.LengthStepMM); err != nil {
			return err
		}
		_, err = MoveTx(ctx, tx, r.db.Now(), Move{Thing: claims.Lot(id), Quantity: count, Kind: kind, HappenedAt: at, PackID: k.PackID, Reason: reason, MetreCostMinor: k.MetreCostMinor})
		return err
	})
	if err != nil {
		return Lot{}, err
	}
	return r.LotGet(ctx, id)
}

// CountLine is what somebody counted of one thing.
type CountLine struct {
	Thing   claims.Thing // a lot, an item or a shelf lot
	Counted int          // pieces that are really there
}

// Difference is a count that did not agree with the book.
type Difference struct {
	Thing   claims.Thing
	Words   string
	Book    int
	Counted int
	Booked  Booked
}

// Count posts a rack count: for each line that differs from the book one move of the
// difference. It gives the differences. Errors: Invalid, NotFound.
func (r *Room) Count(ctx context.Context, lines []CountLine, at time.Time) ([]Difference, error) {
	if err := checkCount(lines); err != nil {
		return nil, err
	}
	var out []Difference
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		out = []Difference{}
		things := make([]claims.Thing, len(lines))
		for i, c := range lines {
			things[i] = c.Thing
		}
		stock, err := claims.Lock(ctx, tx, things)
		if err != nil {
			return err
		}
		for _, c := range lines {
			s := stock[c.Thing]
			if s.OnHand == c.Counted && !s.Bulk {
				continue
			}
			b, err := MoveTx(ctx, tx, r.db.Now(), Move{Thing: c.Thing, Quantity: c.Counted - s.OnHand, Kind: Counted, HappenedAt: at,
				Reason: fmt.Sprintf("counted %d, the book said %d", c.Counted, s.OnHand)})
			if err != nil {
				return err
			}
			out = append(out, Difference{c.Thing, s.Words, s.OnHand, c.Counted, b})
		}
		return nil
	})
	return out, err
}

func checkCount(lines []CountLine) error {
	var l fault.List
	l.Check(len(lines) > 0 && len(lines) <= 500, "/lines", "Count 1 to 500 lines at a time.")
	seen := map[claims.Thing]bool{}
	for i, c := range lines {
		l.Check(c.Counted >= 0 && c.Counted <= maxPieces, fmt.Sprintf("/lines/%d/counted", i), "The count must lie between 0 and %d.", maxPieces)
		l.Check(!seen[c.Thing], fmt.Sprintf("/lines/%d", i), "This line stands there twice.")
		seen[c.Thing] = true
	}
	return l.Err()
}
