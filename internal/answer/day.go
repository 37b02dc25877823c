// Package answer joins records and calculations: how much and when, what does today ask,
// where is it; and it does the deeds that touch several rooms in one transaction, such as
// accepting a quote or handing a unit over.
//
// It keeps no record of its own but the marks on the Day sheet, and decides no rule that
// a record room holds. Start reading at Room.Ask, then accept.go and handover.go.
package answer

import (
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// DayLine is one thing today asks.
type DayLine struct {
	Subject string      // what it speaks of, the same every day: quote:12:runs-out
	Kind    string      // call, quote, build, timber, handover, follow-up, broken, run...
	Text    string      // one sentence
	Href    string      // the page where it is done
	Area    access.Area // who may see it
	Due     time.Time   // business date it is due on; zero: none
	Late    bool        // the day is past
}

// OpenAsked is the kind of a line that asks whether an entrance is open; its subject is
// stop:ID:open.
const OpenAsked = "open"

// DayMost is how many lines the Day sheet shows; the rest waits.
const DayMost = 12

// NoLines is a day that asks nothing.
type NoLines struct{}

// DaySheet gives no line.
func (NoLines) DaySheet(context.Context, time.Time) ([]DayLine, error) { return nil, nil }

// DayBook keeps which lines of the Day sheet were done or put off.
type DayBook struct{ db *postgres.DB }

// NewDayBook makes the book of marks.
func NewDayBook(db *postgres.DB) *DayBook { return &DayBook{db} }

// Left gives the lines that are still asked on day: neither done nor put off beyond it,
// bees shut in too long, entrances to close and broken promises first, then late ones, then by due date;
// questions to buyers come last.
func (b *DayBook) Left(ctx context.Context, day time.Time, lines []DayLine) ([]DayLine, error) {
	subjects := make([]string, len(lines))
	for i, l := range lines {
		subjects[i] = l.Subject
	}
	rows, err := b.db.Query(ctx, `SELECT subject FROM day_mark WHERE subject = ANY($1) AND (done_at IS NOT NULL OR put_off_to > $2)`, subjects, day)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	gone, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, postgres.Translate(err)
	}
	left := slices.DeleteFunc(slices.Clone(lines), func(l DayLine) bool { return slices.Contains(gone, l.Subject) })
	slices.SortStableFunc(left, func(a, c DayLine) int {
		switch {
		case loud(a) != loud(c):
			return loud(c) - loud(a)
		case a.Late != c.Late:
			return map[bool]int{true: -1, false: 1}[a.Late]
		case a.Due.IsZero() != c.Due.IsZero():
			return map[bool]int{true: 1, false: -1}[a.Due.IsZero()]
		}
		return a.Due.Compare(c.Due)
	})
	return left, nil
}

// loud ranks what cannot wait whatever its date: bees shut in too long, then a promise
// that a fact has broken; and what can wait until the rest is done: questions to buyers.
func loud(l DayLine) int {
	switch {
	case l.Kind == "closed" && l.Late:
		return 2
	case l.Kind == "broken", l.Kind == "closing": // bees do not wait for the next evening
		return 1
	case l.Kind == "follow-up", l.Kind == "stolen" && !l.Late:
		return -1
	}
	return 0
}

// MarkDone takes the line of subject off the Day sheet for good.
func (b *DayBook) MarkDone(ctx context.Context, subject string) error {
	return b.mark(ctx, subject, `INSERT INTO day_mark (subject, done_at) VALUES ($1, now())
		ON CONFLICT (subject) DO UPDATE SET done_at = now(), at = now()`, subject)
}

// PutOff hides the line of subject until day to, which must lie after today.
func (b *DayBook) PutOff(ctx context.Context, subject string, today, to time.Time) error {
	if !to.After(today) {
		return fault.Bad("/put_off_to", "Choose a day after today.")
	}
	return b.mark(ctx, subject, `INSERT INTO day_mark (subject, put_off_to) VALUES ($1, $2)
		ON CONFLICT (subject) DO UPDATE SET put_off_to = $2, done_at = NULL, at = now()`, subject, to)
}

// Restore puts the line of subject back.
func (b *DayBook) Restore(ctx context.Context, subject string) error {
	return b.mark(ctx, subject, `DELETE FROM day_mark WHERE subject = $1`, subject)
}

func (b *DayBook) mark(ctx context.Context, subject, sql string, args ...any) error {
	if subject == "" || len(subject) > 200 {
		return fault.Bad("/subject", "This line of the Day sheet is not known.")
	}
	return b.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, sql, args...)
		return err
	})
}
