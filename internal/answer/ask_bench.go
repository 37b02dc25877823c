package answer

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// bench is the working time from today on, and what lies before a new job.
type bench struct {
	today    time.Time
	capacity []float64 // free minutes of each day from today, planned work taken off
	queue    float64   // minutes of work that no plan has laid yet and that goes first
	open     int       // open builds
	held     float64   // of the queue, minutes that unanswered quotes hold
	guessed  bool      // no working hours are set
}

// benchDays is how far ahead work is laid; beyond it no date is given (our choice).
const benchDays = 800

// Hours that are assumed while none are set: Monday to Friday, six hours (our estimate).
const (
	guessedMinutes = 360.0
	benchMargin    = 0.15 // of the days until the work is done: four in five (our estimate)
)

type weekRow struct {
	FromOn  time.Time `db:"from_on"`
	Weekday int       `db:"weekday"`
	Start   int       `db:"start_minute"`
	End     int       `db:"end_minute"`
	Hands   int       `db:"hands"`
}

type awayRow struct {
	FromOn time.Time `db:"from_on"`
	ToOn   time.Time `db:"to_on"`
}

type stepRow struct {
	StartsAt time.Time `db:"starts_at"`
	EndsAt   time.Time `db:"ends_at"`
}

// currentPlan is the accepted plan with the highest number.
const currentPlan = `(SELECT id FROM bench_plan WHERE accepted_at IS NOT NULL ORDER BY number DESC LIMIT 1)`

// readBench reads the working week, the days away, the plan in force, and the minutes of
// work that no plan has laid: open builds without steps, and boxes that are ordered but
// not on the bench. heldMin is what unanswered quotes hold.
func (r *Room) readBench(ctx context.Context, set house.Settings, today time.Time, heldMin float64) (bench, error) {
	b := bench{today: today, held: heldMin, queue: heldMin}
	weeks, err := postgres.List[weekRow](ctx, r.db, `SELECT from_on, weekday::int AS weekday, start_minute, end_minute, hands FROM work_week ORDER BY from_on DESC, weekday, start_minute LIMIT 2000`)
	if err != nil {
		return b, err
	}
	aways, err := postgres.List[awayRow](ctx, r.db, `SELECT from_on, to_on FROM away WHERE to_on >= $1 ORDER BY from_on LIMIT 1000`, today)
	if err != nil {
		return b, err
	}
	steps, err := postgres.List[stepRow](ctx, r.db, `SELECT s.starts_at, s.ends_at FROM bench_plan_step s JOIN build b ON b.id = s.build_id
WHERE s.plan_id = `+currentPlan+` AND s.ends_at > $1 AND b.finished_at IS NULL AND b.cancelled_at IS NULL ORDER BY s.starts_at LIMIT 5000`, r.db.Now())
	if err != nil {
		return b, err
	}
	var unplanned, ordered float64
	err = r.db.QueryRow(ctx, `SELECT (SELECT count(*) FROM build WHERE finished_at IS NULL AND cancelled_at IS NULL)::int,
	coalesce((SELECT sum(o.setup_min + o.piece_min * (SELECT count(*) FROM build_output x WHERE x.build_id = b.id AND x.spoiled_at IS NULL))
		FROM build b JOIN build_operation o ON o.build_id = b.id AND o.done_at IS NULL WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL
		AND NOT EXISTS (SELECT 1 FROM bench_plan_step s WHERE s.plan_id = `+currentPlan+` AND s.build_id = b.id)), 0)::float8,
	coalesce((SELECT sum(setup + piece * n) FROM (
		SELECT count(*) AS n, coalesce((l.needs ->> 'setup_minutes')::float8, (SELECT sum((o ->> 'setup_minutes')::float8) FROM jsonb_array_elements(m.body -> 'operations') o), 0) AS setup,
			coalesce((l.needs ->> 'piece_minutes')::float8, (SELECT sum((o ->> 'piece_minutes')::float8) FROM jsonb_array_elements(m.body -> 'operations') o), 0) AS piece
		FROM order_unit u JOIN order_line l ON l.id = u.order_line_id LEFT JOIN model_revision m ON m.id = l.model_revision_id
		WHERE u.wants_box AND NOT u.own_box AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL
			AND NOT EXISTS (SELECT 1 FROM claim c WHERE c.order_unit_id = u.id AND c.box_id IS NOT NULL AND c.ended_at IS NULL)
			AND NOT EXISTS (SELECT 1 FROM build_output x JOIN build y ON y.id = x.build_id WHERE x.order_unit_id = u.id AND x.spoiled_at IS NULL AND y.cancelled_at IS NULL AND y.finished_at IS NULL)
		GROUP BY l.id, m.id) t), 0)::float8`).Scan(&b.open, &unplanned, &ordered)
	if err != nil {
		return b, postgres.Translate(err)
	}
	b.queue += unplanned + ordered
	b.lay(weeks, aways, steps, set.Location(), r.db.Now())
	return b, nil
}

// lay works out the free minutes of each day.
func (b *bench) lay(weeks []weekRow, aways []awayRow, steps []stepRow, loc *time.Location, now time.Time) {
	b.guessed = len(weeks) == 0
	b.capacity = make([]float64, benchDays)
	next := 0
	for i := range b.capacity {
		day := b.today.AddDate(0, 0, i)
		if awayOn(aways, day) {
			continue
		}
		minutes := dayMinutes(weeks, day, loc, now)
		from := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, loc)
		to := from.AddDate(0, 0, 1)
		for next < len(steps) && steps[next].EndsAt.Before(from) {
			next++
		}
		for _, s := range steps[next:] {
			if !s.StartsAt.Before(to) {
				break
			}
			minutes -= max(0, earliest(s.EndsAt, to).Sub(laterDay(s.StartsAt, from)).Minutes())
		}
		b.capacity[i] = max(0, minutes)
	}
}

func earliest(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func awayOn(aways []awayRow, day time.Time) bool {
	for _, a := range aways {
		if !day.Before(a.FromOn) && !day.After(a.ToOn) {
			return true
		}
	}
	return false
}

// dayMinutes is the working time of a day by the week that holds then; of today only what
// is left after now.
func dayMinutes(weeks []weekRow, day time.Time, loc *time.Location, now time.Time) float64 {
	passed := 0.0
	if house.DateIn(now, loc).Equal(day) {
		at := now.In(loc)
		passed = float64(at.Hour()*60 + at.Minute())
	}
	if len(weeks) == 0 {
		if day.Weekday() == time.Saturday || day.Weekday() == time.Sunday {
			return 0
		}
		return max(0, min(guessedMinutes, 17*60-passed)) // the guessed day ends at five
	}
	var minutes float64
	var holds *time.Time
	for i := range weeks { // newest first
		w := &weeks[i]
		if w.FromOn.After(day) {
			continue
		}
		if holds == nil {
			holds = &w.FromOn
		}
		if w.FromOn.Equal(*holds) && w.Weekday == int(day.Weekday()) {
			minutes += max(0, float64(w.End)-max(float64(w.Start), passed)) * float64(w.Hands)
		}
	}
	return minutes
}

// freeFrom is the day on which the work that goes first is done; false beyond the horizon.
func (b bench) freeFrom() (time.Time, bool) {
	return b.finish(b.today, 0)
}

// finish is the day on which so many minutes of new work are done that cannot begin
// before release, all waiting work going first. False when that lies beyond the horizon.
func (b bench) finish(release time.Time, minutes float64) (time.Time, bool) {
	queue := b.queue
	for i, free := range b.capacity {
		day := b.today.AddDate(0, 0, i)
		if queue > 0 {
			used := min(queue, free)
			queue -= used
			free -= used
		}
		if queue > 1e-9 || free <= 0 || day.Before(release) {
			continue
		}
		minutes -= free
		if minutes <= 1e-9 {
			return day, true
		}
	}
	return time.Time{}, false
}

// benchSteps are the days on which the work is done when it may begin on release.
func (w *working) benchSteps(release time.Time) step {
	day, ok := w.bench.finish(release, w.needs.minutes(w.fresh))
	if !ok {
		return nil
	}
	day = day.AddDate(0, 0, int(math.Ceil(w.needs.WaitMinutes/1440)))
	days := math.Ceil(day.Sub(w.day).Hours() / 24)
	slack := func(f float64) time.Time { return day.AddDate(0, 0, int(math.Ceil(days*f))) }
	return step{{day, 0.6}, {slack(benchMargin), 0.85}, {slack(2 * benchMargin), 0.95}, {slack(1), 0.99}}
}

// benchReason says how the bench stands.
func (w *working) benchReason() {
	if w.bench.guessed {
		w.short(PartBench, "No working hours are set; six hours a day from Monday to Friday are assumed.")
	}
	day, ok := w.bench.freeFrom()
	var after []string
	if w.bench.open > 0 {
		after = append(after, show.Count(int64(w.bench.open), "open build", "open builds"))
	}
	if w.bench.held > 0 {
		after = append(after, "what unanswered quotes hold")
	}
	switch {
	case !ok:
		w.saySelf(Reason{Part: PartBench, Late: true, Short: true, Text: "The bench is full as far ahead as work can be laid."})
		return
	case w.bench.queue <= 0 && w.bench.open == 0:
		w.say(PartBench, "The bench is free from %s.", show.Date(day))
	case len(after) == 0:
		w.say(PartBench, "The bench is free from %s after what is ordered already.", show.Date(day))
	default:
		w.say(PartBench, "The bench is free from %s after %s.", show.Date(day), strings.Join(after, " and "))
	}
	minutes := int64(math.Ceil(w.needs.minutes(w.fresh)))
	w.say(PartBench, "%s %s at the bench.", fmt.Sprintf("%s to build:", boxes(w.fresh)), show.Minutes(minutes))
}
