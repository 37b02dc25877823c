package workshop

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// SecondHands is when somebody besides the owner works at the bench.
type SecondHands struct {
	ID          int64      `db:"id"`
	Version     int        `db:"version"`
	Who         string     `db:"who"` // may be empty
	FromOn      time.Time  `db:"from_on"`
	ToOn        *time.Time `db:"to_on"`    // the last day; nil: until it is ended
	Weekdays    []int16    `db:"weekdays"` // 0 is Sunday
	StartMinute int        `db:"start_minute"`
	Minutes     int        `db:"minutes"`    // from start to end; they rest when the owner does
	WhileAway   bool       `db:"while_away"` // on days when the owner is away, too
}

const handsColumns = `id, version, who, from_on, to_on, weekdays, start_minute, minutes, while_away`

// Name is how the pages call them.
func (h SecondHands) Name() string {
	if h.Who == "" {
		return "a second pair of hands"
	}
	return h.Who
}

// handsYears is how long one spell of second hands may last; our choice.
const handsYears = 5

func (h SecondHands) check() error {
	var l fault.List
	l.Short("/who", h.Who)
	if l.Check(!h.FromOn.IsZero() && h.FromOn.Year() >= 1990 && h.FromOn.Year() < 2200, "/from_on", "Say from which day they come.") && h.ToOn != nil {
		_ = l.Check(!h.ToOn.Before(h.FromOn), "/to_on", "The last day lies before the first.") &&
			l.Check(h.ToOn.Before(h.FromOn.AddDate(handsYears, 0, 1)), "/to_on", "At most %d years at a time. Empty: until you end it.", handsYears) &&
			l.Check(h.comes(), "/weekdays", "None of these days of the week lies between the first day and the last.")
	}
	seen := map[int16]bool{}
	l.Check(len(h.Weekdays) >= 1 && len(h.Weekdays) <= 7, "/weekdays", "Tick the days of the week on which they come.")
	for _, d := range h.Weekdays {
		l.Check(d >= 0 && d <= 6 && !seen[d], "/weekdays", "Each day of the week once, between 0 (Sunday) and 6.")
		seen[d] = true
	}
	l.Check(h.StartMinute >= 0 && h.StartMinute < 1440, "/start_minute", "Say when they begin, such as 08:00.")
	if l.Check(h.Minutes > 0, "/minutes", "Write how many hours they stay, more than nothing.") {
		l.Check(h.StartMinute < 0 || h.StartMinute+h.Minutes <= 1440, "/minutes", "They would stay past midnight. Write fewer hours.")
	}
	return l.Err()
}

// comes tells whether a spell with a last day has any day in it.
func (h SecondHands) comes() bool {
	for n := range 7 {
		if day := h.FromOn.AddDate(0, 0, n); !day.After(*h.ToOn) && slices.Contains(h.Weekdays, int16(day.Weekday())) {
			return true
		}
	}
	return len(h.Weekdays) == 0 // said elsewhere
}

// on tells whether they come on a day.
func (h SecondHands) on(day time.Time) bool {
	return !day.Before(h.FromOn) && (h.ToOn == nil || !day.After(*h.ToOn)) && slices.Contains(h.Weekdays, int16(day.Weekday()))
}

// meets tells whether two spells have an hour of some day in common.
func (h SecondHands) meets(o SecondHands) bool {
	if h.StartMinute >= o.StartMinute+o.Minutes || o.StartMinute >= h.StartMinute+h.Minutes {
		return false
	}
	first := h.FromOn
	if o.FromOn.After(first) {
		first = o.FromOn
	}
	for n := range 7 { // the days of the week come round
		if day := first.AddDate(0, 0, n); h.on(day) && o.on(day) {
			return true
		}
	}
	return false
}

// SecondHandsSave puts down when second hands come (ID 0) or changes it. Errors: Invalid,
// for hours too that the same person has already; Stale.
func (r *Room) SecondHandsSave(ctx context.Context, h SecondHands) (SecondHands, error) {
	h.Who = strings.TrimSpace(h.Who)
	if err := h.check(); err != nil {
		return h, err
	}
	slices.Sort(h.Weekdays)
	var out SecondHands
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `LOCK TABLE second_hands IN SHARE ROW EXCLUSIVE MODE`); err != nil {
			return postgres.Translate(err)
		}
		others, err := postgres.List[SecondHands](ctx, tx, `SELECT `+handsColumns+` FROM second_hands WHERE id <> $1 AND lower(who::text) = lower($2) AND (to_on IS NULL OR to_on >= $3) ORDER BY from_on, id`, h.ID, h.Who, h.FromOn)
		if err != nil {
			return err
		}
		for _, o := range others {
			if h.meets(o) {
				return fault.Bad("/start_minute", "This overlaps with hours of %s from %s on. Change those, or give the other person a name.", o.Name(), show.Date(o.FromOn))
			}
		}
		if h.ID == 0 {
			out, err = postgres.One[SecondHands](ctx, tx, `INSERT INTO second_hands (who, from_on, to_on, weekdays, start_minute, minutes, while_away) VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING `+handsColumns,
				h.Who, h.FromOn, h.ToOn, h.Weekdays, h.StartMinute, h.Minutes, h.WhileAway)
			return err
		}
		out, err = postgres.One[SecondHands](ctx, tx, `UPDATE second_hands SET who = $1, from_on = $2, to_on = $3, weekdays = $4, start_minute = $5, minutes = $6, while_away = $7 WHERE id = $8 AND version = $9 RETURNING `+handsColumns,
			h.Who, h.FromOn, h.ToOn, h.Weekdays, h.StartMinute, h.Minutes, h.WhileAway, h.ID, h.Version)
		return postgres.Changed(ctx, tx, err, "second_hands", h.ID, "these hours")
	})
	return out, err
}

// SecondHandsEnd ends a spell: they come no more from day on. One that has not begun by
// then goes out of the book. gone tells that. NotFound.
func (r *Room) SecondHandsEnd(ctx context.Context, id int64, day time.Time) (gone bool, err error) {
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		h, err := postgres.One[SecondHands](ctx, tx, `SELECT `+handsColumns+` FROM second_hands WHERE id = $1 FOR UPDATE`, id)
		if err != nil {
			return err
		}
		if gone = !h.FromOn.Before(day); gone {
			_, err = tx.Exec(ctx, `DELETE FROM second_hands WHERE id = $1`, id)
		} else {
			_, err = tx.Exec(ctx, `UPDATE second_hands SET to_on = least(to_on, $2::date - 1) WHERE id = $1`, id, day)
		}
		return postgres.Translate(err)
	})
	return gone, err
}

// SecondHandsGet reads one spell.
func (r *Room) SecondHandsGet(ctx context.Context, id int64) (SecondHands, error) {
	return postgres.One[SecondHands](ctx, r.db, `SELECT `+handsColumns+` FROM second_hands WHERE id = $1`, id)
}

// SecondHandsList gives the spells that go on till a day or longer, the soonest first; at
// most 200.
func (r *Room) SecondHandsList(ctx context.Context, from time.Time) ([]SecondHands, error) {
	return postgres.List[SecondHands](ctx, r.db, `SELECT `+handsColumns+` FROM second_hands WHERE to_on IS NULL OR to_on >= $1 ORDER BY from_on, id LIMIT 200`, from)
}

func init() {
	postgres.Explain("second_hands_forward", fault.Invalid, "/to_on", "The last day lies before the first.")
	postgres.Explain("second_hands_minutes", fault.Invalid, "/minutes", "Write how many hours they stay, more than nothing and not past midnight.")
}
