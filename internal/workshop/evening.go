package workshop

import (
	"context"
	"math"
	"slices"
	"sort"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// EveningStep is an operation as the evening asks about it.
type EveningStep struct {
	OperationID int64      `db:"id"`
	Name        string     `db:"name"`
	BuildID     int64      `db:"build_id"`
	BuildNumber string     `db:"number"`
	What        string     `db:"what"`
	StandardMin float64    `db:"standard_min"`
	TappedMin   float64    `db:"tapped_min"` // of the person, on that day
	Planned     bool       `db:"planned"`    // the plan in force has it on that day
	DoneAt      *time.Time `db:"done_at"`
}

// Evening is what a day held at the bench for one person.
type Evening struct {
	On        time.Time
	Steps     []EveningStep // touched or planned that day first, then what else is open
	Spells    []Spell       // of the person, begun that day
	TappedMin float64
	HoursMin  int // of the bench on that day
}

// eveningMost is how many operations the evening asks about; our choice.
const eveningMost = 60

// dayOf gives the two instants between which a day lies in the workshop's zone; a day on
// which the clocks change has 23 or 25 hours.
func dayBounds(day time.Time, loc *time.Location) (from, to time.Time) {
	return time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, loc), time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, loc)
}

// EveningGet tells what a day held for a person: the operations that were touched or
// planned, with the time that was tapped; time of a day that is over and was never stopped counts once it is mended.
// Invalid for a day to come.
func (r *Room) EveningGet(ctx context.Context, accountID int64, day time.Time) (Evening, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return Evening{}, err
	}
	return r.eveningIn(ctx, r.db, set.Location(), accountID, day)
}

func (r *Room) eveningIn(ctx context.Context, q postgres.Querier, loc *time.Location, accountID int64, day time.Time) (Evening, error) {
	from, to := dayBounds(day, loc)
	e := Evening{On: day}
	if from.After(r.db.Now()) {
		return e, fault.Bad("/on", "This day has not begun. Choose today or a day that is past.")
	}
	var err error
	if e.Spells, err = postgres.List[Spell](ctx, q, selectSpell+`WHERE t.account_id = $1 AND t.started_at >= $2 AND t.started_at < $3 ORDER BY t.started_at, t.id LIMIT 200`, accountID, from, to); err != nil {
		return e, err
	}
	e.Steps, err = postgres.List[EveningStep](ctx, q, `SELECT o.id, o.name, b.id AS build_id, b.number, b.quantity || ' ' || m.name AS what, (o.setup_min + o.piece_min * b.quantity)::float8 AS standard_min, x.tapped_min, x.planned, o.done_at
FROM build_operation o JOIN build b ON b.id = o.build_id JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id,
LATERAL (SELECT coalesce((SELECT extract(epoch FROM sum(coalesce(t.stopped_at, CASE WHEN $4::timestamptz < $3 THEN $4 ELSE t.started_at END) - t.started_at)) / 60 FROM time_spell t WHERE t.build_operation_id = o.id AND t.account_id = $1 AND t.started_at >= $2 AND t.started_at < $3), 0)::float8 AS tapped_min,
	EXISTS (SELECT 1 FROM bench_plan_step s WHERE s.build_operation_id = o.id AND s.starts_at < $3 AND s.ends_at > $2 AND s.plan_id = (SELECT p.id FROM bench_plan p WHERE p.accepted_at IS NOT NULL ORDER BY p.number DESC LIMIT 1)) AS planned,
	o.done_at >= $2 AND o.done_at < $3 AS done_today) x
WHERE b.cancelled_at IS NULL AND (b.finished_at IS NULL AND (o.done_at IS NULL OR o.done_at >= $2) OR x.tapped_min > 0 OR x.done_today)
ORDER BY (x.tapped_min > 0 OR x.planned OR coalesce(x.done_today, false)) DESC, b.due_on NULLS LAST, b.id, o.position LIMIT $5`, accountID, from, to, r.db.Now(), eveningMost)
	if err != nil {
		return e, err
	}
	for _, s := range e.Steps {
		e.TappedMin += s.TappedMin
	}
	hours, err := hoursAt(ctx, q, day)
	for _, h := range hours {
		e.HoursMin += h.EndMinute - h.StartMinute
	}
	return e, err
}

// hoursAt gives the spells of the week's hours on a day, days away not counted.
func hoursAt(ctx context.Context, q postgres.Querier, day time.Time) ([]Hours, error) {
	rows, err := postgres.List[hoursFrom](ctx, q, `SELECT from_on, weekday, start_minute, end_minute, hands FROM work_week
		WHERE from_on = (SELECT max(from_on) FROM work_week WHERE from_on <= $1) ORDER BY weekday, start_minute`, day)
	if len(rows) == 0 {
		rows = usualWeek()
		return hoursOn(rows, day), err
	}
	return hoursOn(rows, day), err
}

// EveningNote is what the maker says a day held.
type EveningNote struct {
	On       time.Time
	Minutes  int     // of work at the bench that day, tapped time included
	DoneIDs  []int64 // operations that were done
	WorkedID []int64 // operations that were worked on and are not done
}

// EveningPut writes a day down: what was tapped stays, and the rest of the day's minutes
// is split over the operations without tapped time by their standard minutes, one spell
// behind another from the beginning of the day's hours; such spells teach the day's total
// alone. What was done is noted as done. Errors: Invalid, Conflict when a build has ended,
// Forbidden as [Room.SpellStart].
func (r *Room) EveningPut(ctx context.Context, accountID int64, n EveningNote) (Evening, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return Evening{}, err
	}
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		e, err := r.eveningIn(ctx, tx, set.Location(), accountID, n.On)
		if err != nil {
			return err
		}
		steps, err := n.check(e)
		if err != nil {
			return err
		}
		end, err := r.splitDay(ctx, tx, set.Location(), accountID, n, e, steps)
		if err != nil {
			return err
		}
		for _, id := range n.DoneIDs {
			if _, err := r.OperationDone(ctx, id, true, end); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Evening{}, err
	}
	return r.EveningGet(ctx, accountID, n.On)
}

// check gives the steps that share the minutes which were not tapped.
func (n EveningNote) check(e Evening) ([]EveningStep, error) {
	var l fault.List
	l.Check(n.Minutes >= 0 && float64(n.Minutes) <= longestSpell.Minutes(), "/minutes", "A day at the bench has 0 to %.0f minutes.", longestSpell.Minutes())
	l.Check(len(n.DoneIDs)+len(n.WorkedID) > 0, "/done", "Tick what was done or worked on.")
	var share []EveningStep
	seen := map[int64]bool{}
	for k, list := range [][]int64{n.DoneIDs, n.WorkedID} {
		for _, id := range list {
			i := slices.IndexFunc(e.Steps, func(s EveningStep) bool { return s.OperationID == id })
			pointer := []string{"/done", "/worked"}[k]
			if !l.Check(i >= 0, pointer, "There is no operation %d of an open build.", id) || !l.Check(!seen[id], pointer, "Operation %d is named twice.", id) {
				continue
			}
			seen[id] = true
			if e.Steps[i].TappedMin == 0 {
				share = append(share, e.Steps[i])
			}
		}
	}
	if err := l.Err(); err != nil {
		return nil, err
	}
	left := float64(n.Minutes) - e.TappedMin
	enough := l.Check(left >= -0.5 || len(share) == 0 && n.Minutes == 0, "/minutes", "%.0f minutes were tapped that day already. Write the whole day's, or mend the times first.", math.Round(e.TappedMin))
	l.Check(!enough || len(share) == 0 || left >= float64(len(share)), "/minutes", "Write how long the day was: at least a minute for each operation that is ticked.")
	return share, l.Err()
}

// splitDay writes the spells and gives the instant at which the day's work ended.
func (r *Room) splitDay(ctx context.Context, tx pgx.Tx, loc *time.Location, accountID int64, n EveningNote, e Evening, steps []EveningStep) (time.Time, error) {
	now := r.db.Now()
	midnight, after := dayBounds(n.On, loc)
	total := int(math.Round(float64(n.Minutes) - e.TappedMin))
	at := midnight.Add(8 * time.Hour)
	hours, err := hoursAt(ctx, tx, n.On)
	if err != nil {
		return now, err
	}
	if len(hours) > 0 {
		at = time.Date(n.On.Year(), n.On.Month(), n.On.Day(), 0, hours[0].StartMinute, 0, 0, loc)
	}
	last := after
	if now.Before(last) {
		last = now
	}
	if len(steps) == 0 {
		return last.Add(-time.Second), nil
	}
	if end := at.Add(time.Duration(total) * time.Minute); end.After(last) {
		at = last.Add(-time.Duration(total) * time.Minute)
	}
	if at.Before(midnight) {
		return now, fault.Bad("/minutes", "So many minutes have not passed yet on that day.")
	}
	var split *time.Time
	if len(steps) > 1 { // what is left of the day for one alone was measured
		split = &n.On
	}
	for i, minutes := range SplitMinutes(total, steps) {
		to := at.Add(time.Duration(minutes) * time.Minute)
		if _, err := r.spellWrite(ctx, steps[i].OperationID, accountID, at, &to, split); err != nil {
			return now, err
		}
		at = to
	}
	return at, nil
}

// SplitMinutes splits total whole minutes over steps by their standard minutes, at least
// one to each, by largest remainder; the sum is total. total is at least len(steps).
func SplitMinutes(total int, steps []EveningStep) []int {
	out := make([]int, len(steps))
	sum := 0.0
	for _, s := range steps {
		sum += math.Max(1, s.StandardMin)
	}
	left, order, rest := total-len(steps), make([]int, len(steps)), make([]float64, len(steps))
	spread := left
	for i, s := range steps {
		exact := float64(spread) * math.Max(1, s.StandardMin) / sum
		out[i] = 1 + int(exact)
		rest[i], order[i] = exact-math.Floor(exact), i
		left -= int(exact)
	}
	sort.SliceStable(order, func(a, b int) bool { return rest[order[a]] > rest[order[b]] })
	for i := range left {
		out[order[i%len(order)]]++
	}
	return out
}

// SpellMend changes when a person's spell began and stopped; what was a share of a whole
// day counts as measured then. Errors: Invalid, NotFound for somebody else's.
func (r *Room) SpellMend(ctx context.Context, id, accountID int64, from, to time.Time) (Spell, error) {
	var l fault.List
	ok := l.Past("/started_at", from, r.db.Now()) && l.Past("/stopped_at", to, r.db.Now())
	l.Check(!ok || to.After(from), "/stopped_at", "It must stop after it began.")
	l.Check(!ok || to.Sub(from) <= longestSpell, "/stopped_at", "One spell lasts at most %.0f hours. Write several.", longestSpell.Hours())
	if err := l.Err(); err != nil {
		return Spell{}, err
	}
	var out Spell
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		build, err := postgres.Value[int64](ctx, tx, `UPDATE time_spell SET started_at = $3, stopped_at = $4, split_on = NULL WHERE id = $1 AND account_id = $2 RETURNING (SELECT o.build_id FROM build_operation o WHERE o.id = build_operation_id)`, id, accountID, from, to)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE build SET started_at = $2 WHERE id = $1 AND started_at > $2`, build, from); err != nil {
			return postgres.Translate(err)
		}
		out, err = postgres.One[Spell](ctx, tx, selectSpell+`WHERE t.id = $1`, id)
		return err
	})
	return out, err
}

// SpellStrike takes a person's spell out; NotFound for somebody else's.
func (r *Room) SpellStrike(ctx context.Context, id, accountID int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := postgres.Value[int64](ctx, tx, `DELETE FROM time_spell WHERE id = $1 AND account_id = $2 RETURNING id`, id, accountID)
		return err
	})
}

// Forgotten is time that runs longer than it can be true.
type Forgotten struct {
	Spell
	Who   string
	Stops []ForgottenStop // when it may have stopped
}

// ForgottenStop is an answer to when it stopped.
type ForgottenStop struct {
	Words string
	At    time.Time
}

// Time that runs is asked about after so many hours, and so many minutes after the end of
// the day's hours; our choices.
const (
	forgottenHours = 6
	forgottenLate  = 30 * time.Minute
)

// SpellsForgotten gives the time that somebody forgot to stop: it runs for six hours, or
// beyond the end of the hours of the day on which it began. accountID 0: anybody's.
func (r *Room) SpellsForgotten(ctx context.Context, accountID int64) ([]Forgotten, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	loc := set.Location()
	rows, err := postgres.List[struct {
		Spell
		Who      string  `db:"who"`
		Standard float64 `db:"standard_min"`
	}](ctx, r.db, `SELECT t.id, t.build_operation_id, o.name AS operation_name, o.build_id, b.number AS build_number, t.account_id, t.started_at, t.stopped_at, a.name AS who, (o.setup_min + o.piece_min * b.quantity)::float8 AS standard_min
	FROM time_spell t JOIN build_operation o ON o.id = t.build_operation_id JOIN build b ON b.id = o.build_id JOIN account a ON a.id = t.account_id WHERE t.stopped_at IS NULL AND ($1 = 0 OR t.account_id = $1) ORDER BY t.started_at, t.id LIMIT 50`, accountID)
	var out []Forgotten
	for _, row := range rows {
		hours, err := hoursAt(ctx, r.db, house.DateIn(row.StartedAt, loc))
		if err != nil {
			return nil, err
		}
		f := Forgotten{Spell: row.Spell, Who: row.Who}
		if f.ask(r.db.Now(), hours, row.Standard, loc) {
			out = append(out, f)
		}
	}
	return out, err
}

// ask reports whether the spell is asked about, and sets the answers: the ends of that
// day's hours, and the end of the standard time.
func (f *Forgotten) ask(now time.Time, hours []Hours, standardMin float64, loc *time.Location) bool {
	y, m, d := f.StartedAt.In(loc).Date()
	asked := now.Sub(f.StartedAt) >= forgottenHours*time.Hour
	for i, h := range hours {
		end := time.Date(y, m, d, 0, h.EndMinute, 0, 0, loc)
		if i == len(hours)-1 && f.StartedAt.Before(end) && now.After(end.Add(forgottenLate)) {
			asked = true
		}
		if end.After(f.StartedAt) && end.Before(now) {
			f.Stops = append(f.Stops, ForgottenStop{"at " + end.Format("15:04"), end})
		}
	}
	if end := f.StartedAt.Add(time.Duration(math.Round(standardMin)) * time.Minute); standardMin >= 1 && end.Before(now) {
		f.Stops = append(f.Stops, ForgottenStop{"at " + end.In(loc).Format("15:04") + ", its standard time", end})
	}
	if now.Sub(f.StartedAt) <= longestSpell {
		f.Stops = append(f.Stops, ForgottenStop{"just now", now})
	}
	return asked
}

// SpellGet gives one spell of a person's own; NotFound for somebody else's.
func (r *Room) SpellGet(ctx context.Context, id, accountID int64) (Spell, error) {
	return postgres.One[Spell](ctx, r.db, selectSpell+`WHERE t.id = $1 AND t.account_id = $2`, id, accountID)
}
