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

// stale is what a change says that names an old version.
func stale(what string) error {
	return fault.New(fault.Stale, "Somebody changed %s in the meantime. Look at it again, then store your change.", what)
}

// changed maps "no row" of an UPDATE … WHERE id AND version to Stale or NotFound.
func changed(ctx context.Context, q postgres.Querier, err error, table string, id int64, what string) error {
	if !fault.Is(err, fault.NotFound) {
		return err
	}
	there, err := postgres.Value[bool](ctx, q, `SELECT EXISTS (SELECT FROM `+table+` WHERE id = $1)`, id)
	if err == nil && !there {
		return fault.New(fault.NotFound, "There is no such record: %s.", what)
	}
	if err != nil {
		return err
	}
	return stale(what)
}

// lately refuses an event that has not happened yet; pointer names the field.
func lately(l *fault.List, pointer string, at, now time.Time) {
	l.Check(!at.IsZero(), pointer, "Say when it happened.")
	// A phone's clock may run ahead a little (our estimate).
	l.Check(at.Before(now.Add(10*time.Minute)), pointer, "This is in the future. Write when it happened.")
}

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

// words checks a short text that must be there.
func words(l *fault.List, pointer, s, what string) {
	l.Check(len(s) > 0, pointer, "Write %s.", what)
	short(l, pointer, s)
}

// short checks a text that may be empty.
func short(l *fault.List, pointer, s string) {
	l.Check(len([]rune(s)) <= 200, pointer, "At most 200 characters.")
}
