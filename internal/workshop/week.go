package workshop

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Hours is a spell of work in the week.
type Hours struct {
	Weekday     int `db:"weekday"`      // 0 is Sunday
	StartMinute int `db:"start_minute"` // after midnight
	EndMinute   int `db:"end_minute"`
	Hands       int `db:"hands"`
}

// Week is the hours at the bench from a day on.
type Week struct {
	FromOn time.Time
	Hours  []Hours
}

// WeekSet stores the hours of the week from a day on; what was set for that day before is
// replaced. Invalid for hours that overlap or make
// no sense.
func (r *Room) WeekSet(ctx context.Context, w Week) error {
	if err := w.check(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `DELETE FROM work_week WHERE from_on = $1`, w.FromOn); err != nil {
			return postgres.Translate(err)
		}
		for _, h := range w.Hours {
			if _, err := tx.Exec(ctx, `INSERT INTO work_week (from_on, weekday, start_minute, end_minute, hands) VALUES ($1, $2, $3, $4, $5)`,
				w.FromOn, h.Weekday, h.StartMinute, h.EndMinute, h.Hands); err != nil {
				return postgres.Translate(err)
			}
		}
		return nil
	})
}

func (w Week) check() error {
	var l fault.List
	l.Check(!w.FromOn.IsZero(), "/from_on", "Say from which day on.")
	l.Check(len(w.Hours) >= 1 && len(w.Hours) <= 50, "/hours", "Write 1 to 50 spells of work. For time off use the days away.")
	for i, h := range w.Hours {
		at := fmt.Sprintf("/hours/%d", i)
		l.Check(h.Weekday >= 0 && h.Weekday <= 6, at+"/weekday", "The weekday lies between 0 (Sunday) and 6.")
		l.Check(h.StartMinute >= 0 && h.StartMinute < h.EndMinute && h.EndMinute <= 1440, at+"/end_minute", "It must end after it begins, and on the same day.")
		l.Check(h.Hands >= 1 && h.Hands <= 20, at+"/hands", "Between 1 and 20 people.")
		for _, o := range w.Hours[:i] {
			l.Check(o.Weekday != h.Weekday || o.EndMinute <= h.StartMinute || h.EndMinute <= o.StartMinute, at+"/start_minute", "This overlaps with another spell of the day.")
		}
	}
	return l.Err()
}

type hoursFrom struct {
	FromOn time.Time `db:"from_on"`
	Hours
}

// WeekAt gives the hours that hold on a day; no hours when none are set yet.
func (r *Room) WeekAt(ctx context.Context, day time.Time) (Week, error) {
	rows, err := postgres.List[hoursFrom](ctx, r.db, `SELECT from_on, weekday, start_minute, end_minute, hands FROM work_week
		WHERE from_on = (SELECT max(from_on) FROM work_week WHERE from_on <= $1) ORDER BY weekday, start_minute`, day)
	w := Week{Hours: []Hours{}}
	for _, row := range rows {
		w.FromOn = row.FromOn
		w.Hours = append(w.Hours, row.Hours)
	}
	return w, err
}

// Away is days away, illness too.
type Away struct {
	ID     int64     `db:"id"`
	FromOn time.Time `db:"from_on"`
	ToOn   time.Time `db:"to_on"` // the last day
	Why    string    `db:"why"`
}

// AwayAdd notes days away. Invalid when they end before they begin.
func (r *Room) AwayAdd(ctx context.Context, a Away) (Away, error) {
	var l fault.List
	l.Check(!a.FromOn.IsZero(), "/from_on", "Say from which day.")
	l.Check(!a.ToOn.Before(a.FromOn), "/to_on", "The last day lies before the first.")
	l.Check(a.ToOn.Sub(a.FromOn) <= 366*24*time.Hour, "/to_on", "At most a year at a time.")
	l.Short("/why", a.Why)
	if err := l.Err(); err != nil {
		return a, err
	}
	var out Away
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		out, err = postgres.One[Away](ctx, tx, `INSERT INTO away (from_on, to_on, why) VALUES ($1, $2, $3) RETURNING id, from_on, to_on, why`, a.FromOn, a.ToOn, a.Why)
		return err
	})
	return out, err
}

// AwayRemove takes days away back; NotFound when they are not there.
func (r *Room) AwayRemove(ctx context.Context, id int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := postgres.Value[int64](ctx, tx, `DELETE FROM away WHERE id = $1 RETURNING id`, id)
		return err
	})
}

// AwayList gives the days away that end on a day or later, the soonest first; at most
// 200.
func (r *Room) AwayList(ctx context.Context, from time.Time) ([]Away, error) {
	return postgres.List[Away](ctx, r.db, `SELECT id, from_on, to_on, why FROM away WHERE to_on >= $1 ORDER BY from_on, id LIMIT 200`, from)
}

// usualWeek holds until hours are set: Monday to Friday, 8 to 12 and 13 to 16 (our guess,
// marked as one on the set-up page).
func usualWeek() []hoursFrom {
	var w []hoursFrom
	for day := 1; day <= 5; day++ {
		w = append(w, hoursFrom{Hours: Hours{day, 8 * 60, 12 * 60, 1}}, hoursFrom{Hours: Hours{day, 13 * 60, 16 * 60, 1}})
	}
	return w
}

// calendarIn gives the hours at the bench in minutes from origin for some days from
// origin's day on, in the workshop's zone: hours of the week less days away, and those of
// second hands.
func calendarIn(ctx context.Context, q postgres.Querier, origin time.Time, loc *time.Location, days int) (openHours, error) {
	first := origin.In(loc)
	last := first.AddDate(0, 0, days)
	weeks, err := postgres.List[hoursFrom](ctx, q, `SELECT from_on, weekday, start_minute, end_minute, hands FROM work_week WHERE from_on <= $2::date AND
		from_on >= coalesce((SELECT max(from_on) FROM work_week WHERE from_on <= $1::date), '-infinity') ORDER BY from_on, weekday, start_minute`, dateOf(first), dateOf(last))
	if err != nil {
		return openHours{}, err
	}
	if len(weeks) == 0 {
		weeks = usualWeek()
	}
	away, err := postgres.List[Away](ctx, q, `SELECT id, from_on, to_on, why FROM away WHERE to_on >= $1::date AND from_on <= $2::date ORDER BY from_on`, dateOf(first), dateOf(last))
	if err != nil {
		return openHours{}, err
	}
	second, err := handsIn(ctx, q, dateOf(first), dateOf(last))
	if err != nil {
		return openHours{}, err
	}
	open := openHours{spells: []planning.Spell{}}
	for n := range days {
		day := time.Date(first.Year(), first.Month(), first.Day()+n, 0, 0, 0, 0, loc)
		hours, gone := hoursOn(weeks, day), isAway(away, day)
		var own []planning.Spell
		if !gone {
			own = daySpells(origin, day, hours)
		}
		var others []planning.Stretch
		for _, h := range second {
			others = append(others, h.stretches(origin, day, hours, gone)...)
		}
		open.add(own, others)
	}
	return open, nil
}

func dateOf(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

// hoursOn picks the hours of a day from the weeks, which are sorted by their first day.
func hoursOn(weeks []hoursFrom, day time.Time) []Hours {
	date := dateOf(day)
	var from time.Time
	for _, w := range weeks {
		if !w.FromOn.After(date) {
			from = w.FromOn
		}
	}
	var hours []Hours
	for _, w := range weeks {
		if w.FromOn.Equal(from) && w.Weekday == int(day.Weekday()) {
			hours = append(hours, w.Hours)
		}
	}
	return hours
}

func isAway(away []Away, day time.Time) bool {
	date := dateOf(day)
	return slices.ContainsFunc(away, func(a Away) bool { return !date.Before(a.FromOn) && !date.After(a.ToOn) })
}

// daySpells turns the hours of a day into minutes from origin; what lies before origin
// is cut off.
func daySpells(origin, day time.Time, hours []Hours) []planning.Spell {
	var spells []planning.Spell
	for _, h := range hours {
		from, to := max(0, wallMinute(origin, day, h.StartMinute)), wallMinute(origin, day, h.EndMinute)
		if to > from {
			hands := h.Hands
			spells = append(spells, planning.Spell{FromMinute: from, ToMinute: to, Hands: &hands})
		}
	}
	return spells
}

func init() {
	postgres.Explain("work_week_once", fault.Invalid, "/hours", "Two spells begin at the same time.")
}

// Ill is why days away are away when the maker is ill.
const Ill = "ill"
