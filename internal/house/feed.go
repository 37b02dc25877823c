package house

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Feed is a calendar that others read without a sign-in, by an address that cannot be
// guessed.
type Feed struct {
	ID          int64      `db:"id"`
	Name        string     `db:"name"`
	Key         string     `db:"key"`
	Shows       []string   `db:"shows"` // some of FeedKinds; none: all
	Phones      bool       `db:"phones"`
	MadeAt      time.Time  `db:"made_at"`
	WithdrawnAt *time.Time `db:"withdrawn_at"`
}

// FeedKinds are what a calendar can show.
var FeedKinds = []string{"builds", "ready", "handovers", "runs", "visits", "away"}

// Has reports whether the feed shows a kind.
func (f Feed) Has(kind string) bool { return len(f.Shows) == 0 || slices.Contains(f.Shows, kind) }

// feedKeyBytes of chance make an address that cannot be guessed.
const feedKeyBytes = 24

// feedsMost is how many feeds can be open at a time; our limit.
const feedsMost = 50

const feedColumns = `id, name, key, ARRAY(SELECT jsonb_array_elements_text(shows)) AS shows, phones, made_at, withdrawn_at`

// FeedMake opens a calendar feed. Errors: Invalid, Conflict when too many are open.
func (r *Room) FeedMake(ctx context.Context, f Feed) (Feed, error) {
	var l fault.List
	f.Name = strings.TrimSpace(f.Name)
	l.Check(f.Name != "", "/name", "Say who reads this calendar, such as: my phone.")
	l.Short("/name", f.Name)
	l.Check(len(f.Shows) <= len(FeedKinds), "/shows", "Name each kind once.")
	for i, kind := range f.Shows {
		l.Check(slices.Contains(FeedKinds, kind), fmt.Sprintf("/shows/%d", i), "It can show %s.", strings.Join(FeedKinds, ", "))
	}
	if err := l.Err(); err != nil {
		return f, err
	}
	shows, err := json.Marshal(append([]string{}, f.Shows...))
	if err != nil {
		return f, err
	}
	b := make([]byte, feedKeyBytes)
	_, _ = rand.Read(b) // never fails, see crypto/rand
	var out Feed
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		open, err := postgres.Value[int](ctx, tx, `SELECT count(*)::int FROM calendar_feed WHERE withdrawn_at IS NULL`)
		if err != nil {
			return err
		}
		if open >= feedsMost {
			return fault.New(fault.Conflict, "There are %d calendars already. Withdraw one first.", open)
		}
		out, err = postgres.One[Feed](ctx, tx, `INSERT INTO calendar_feed (name, key, shows, phones, made_at) VALUES ($1, $2, $3, $4, $5) RETURNING `+feedColumns,
			f.Name, base64.RawURLEncoding.EncodeToString(b), shows, f.Phones, r.db.Now())
		return err
	})
	return out, err
}

// FeedList gives the open feeds and those withdrawn last, the newest first; at most 100.
func (r *Room) FeedList(ctx context.Context) ([]Feed, error) {
	return postgres.List[Feed](ctx, r.db, `SELECT `+feedColumns+` FROM calendar_feed ORDER BY withdrawn_at IS NOT NULL, id DESC LIMIT 100`)
}

// FeedWithdraw ends a feed: its address is dead from then on. A second time changes
// nothing. NotFound when there is none.
func (r *Room) FeedWithdraw(ctx context.Context, id int64) (Feed, error) {
	var out Feed
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		out, err = postgres.One[Feed](ctx, tx, `UPDATE calendar_feed SET withdrawn_at = coalesce(withdrawn_at, $2) WHERE id = $1 RETURNING `+feedColumns, id, r.db.Now())
		return err
	})
	return out, err
}

// FeedByKey gives an open feed; NotFound when the key is unknown or withdrawn.
func (r *Room) FeedByKey(ctx context.Context, key string) (Feed, error) {
	if len(key) != base64.RawURLEncoding.EncodedLen(feedKeyBytes) {
		return Feed{}, fault.New(fault.NotFound, "There is no calendar at this address.")
	}
	return postgres.One[Feed](ctx, r.db, `SELECT `+feedColumns+` FROM calendar_feed WHERE key = $1 AND withdrawn_at IS NULL`, key)
}

// FeedHost is what makes the ids of this book's events unlike those of any other book.
func (r *Room) FeedHost(ctx context.Context) (string, error) {
	return postgres.Value[string](ctx, r.db, `SELECT host FROM calendar_book`)
}
