package timber

import (
	"context"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Room is the record of timber and stock.
type Room struct {
	db  *postgres.DB
	dry Dryer
}

// New makes the room. Without a dryer, packs keep the dates they have.
func New(db *postgres.DB, dry Dryer) *Room { return &Room{db: db, dry: dry} }

// today is the workshop's business date.
func (r *Room) today(ctx context.Context, q postgres.Querier) (time.Time, error) {
	s, err := house.SettingsIn(ctx, q)
	return s.Today(r.db.Now()), err
}

// tenths reports whether a size is whole tenths of a millimetre.
func tenths(d decimal.Decimal) bool { return d.Equal(d.Truncate(1)) }

// mmBetween checks a size in mm with one decimal.
func mmBetween(l *fault.List, pointer string, d decimal.Decimal, low, high int64) bool {
	ok := d.GreaterThanOrEqual(decimal.NewFromInt(low)) && d.LessThanOrEqual(decimal.NewFromInt(high))
	return l.Check(ok, pointer, "The size must lie between %d and %d mm.", low, high) &&
		l.Check(tenths(d), pointer, "Millimetres take one decimal at most.")
}
