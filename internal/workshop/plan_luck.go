package workshop

import (
	"math"
	"slices"
	"strconv"
	"time"

	"kerfbook/internal/calc/planning"
)

// Start is the day on which asked work may begin in some of the courses of a bench.
type Start struct {
	On    time.Time
	Draws []int
}

// NewBench makes the free time of a bench from a plan and its question; origin is minute
// 0 of both, now the present.
func NewBench(in planning.In, out planning.Out, origin, now time.Time, loc *time.Location, luck planning.Luck) *Bench {
	return &Bench{origin: origin, loc: loc, in: in, out: out, now: int64(now.Sub(origin).Minutes()), luck: luck, limits: newLimits(), builds: map[int64][]int64{}, drawn: map[int]*planning.Law{}}
}

// Luck is what the bench believes of real minutes beside standard ones.
func (b *Bench) Luck() planning.Luck { return b.luck }

// law gives the law of so many courses, made once.
func (b *Bench) law(of int) *planning.Law {
	if b.drawn[of] == nil {
		b.drawn[of] = planning.NewLaw(b.luck, of)
	}
	return b.drawn[of]
}

// Never is a day that does not come.
var Never = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)

// FitDraws plays the bench through of times, and gives for each course the business date
// on which the work that is asked and the wait after it are over, [Never] where no
// hours are left. When the work may begin on, and in which courses, stands in starts;
// a course that none of them names never ends.
func (b *Bench) FitDraws(ask Ask, starts []Start, of int) ([]time.Time, error) {
	days := make([]time.Time, of)
	for i := range days {
		days[i] = Never
	}
	for _, s := range starts {
		job, p, dry, err := b.askedDry(ask, s.On)
		if err != nil {
			continue // no room: never
		}
		in, out := b.in, b.out
		in.Jobs = append(slices.Clone(in.Jobs), job)
		out.Jobs = append(slices.Clone(out.Jobs), p)
		course, err := planning.NewCourse(in, out, b.now)
		if err != nil {
			return nil, err
		}
		course.NeedsDry(b.sky, append(b.underSky().steps(b.in), dry...))
		for i, end := range course.Ends(b.law(of), []int{len(in.Jobs) - 1}, s.Draws)[0] {
			days[s.Draws[i]] = b.dayOf(end, ask.WaitMinutes)
		}
	}
	return days, nil
}

func (b *Bench) dayOf(end int64, waitMinutes float64) time.Time {
	if end > planning.MaxMinute {
		return Never
	}
	return dateOf(b.at(end + int64(math.Ceil(max(0, waitMinutes)))).In(b.loc))
}

// BuildDraws gives the business date on which a build of the plan is done in each of so
// many courses; nil when the bench does not know it.
func (b *Bench) BuildDraws(build int64, of int) ([]time.Time, error) {
	if b.builds[build] == nil {
		if err := b.playAll(of); err != nil {
			return nil, err
		}
	}
	ends, ok := b.builds[build]
	if !ok {
		return nil, nil
	}
	days := make([]time.Time, len(ends))
	for i, end := range ends {
		days[i] = b.dayOf(end, 0)
	}
	return days, nil
}

// playAll plays the bench through for all its builds.
func (b *Bench) playAll(of int) error {
	course, err := planning.NewCourse(b.in, b.out, b.now)
	if err != nil {
		return err
	}
	course.NeedsDry(b.sky, b.underSky().steps(b.in))
	jobs, draws := make([]int, len(b.in.Jobs)), make([]int, of)
	for i := range jobs {
		jobs[i] = i
	}
	for i := range draws {
		draws[i] = i
	}
	for i, ends := range course.Ends(b.law(of), jobs, draws) {
		if id, err := strconv.ParseInt(b.in.Jobs[i].ID, 10, 64); err == nil {
			b.builds[id] = ends
		}
	}
	return nil
}
