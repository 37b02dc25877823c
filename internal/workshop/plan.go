package workshop

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"kerfbook/internal/calc/planning"
)

// The plan of the bench looks so far ahead, and leaves the next days as they are; our
// estimates.
const (
	planDays    = 540
	settledDays = 2
	planLimitMS = 1500
)

// Weights of a late minute: work that is promised to a buyer, and work for the shelf;
// our estimate.
const (
	weightUnits = 5
	weightShelf = 1
)

// BenchPlan is a stored plan of the bench.
type BenchPlan struct {
	ID           int64      `db:"id"`
	Number       int        `db:"number"`
	OriginAt     time.Time  `db:"origin_at"`
	Why          string     `db:"why"`
	ProposedAt   time.Time  `db:"proposed_at"`
	AcceptedAt   *time.Time `db:"accepted_at"`
	TurnedDownAt *time.Time `db:"turned_down_at"`
	LateMinutes  int64      `db:"late_minutes"`
	Proved       bool       `db:"proved"`
	Steps        []PlanStep `db:"-"` // PlanGet and PlanCurrent only
}

// PlanStep is when the plan has an operation of a build done.
type PlanStep struct {
	BuildID       int64      `db:"build_id"`
	BuildNumber   string     `db:"build_number"`
	OperationID   *int64     `db:"build_operation_id"`
	OperationName string     `db:"operation_name"`
	StartsAt      time.Time  `db:"starts_at"`
	EndsAt        time.Time  `db:"ends_at"`
	DueOn         *time.Time `db:"due_on"`
}

// work is an open build as the plan sees it.
type work struct {
	BuildID   int64       `db:"id"`
	Number    string      `db:"number"`
	Quantity  int         `db:"quantity"`
	DueOn     *time.Time  `db:"due_on"`
	NotBefore *time.Time  `db:"not_before"`
	HeldTo    *time.Time  `db:"held_to"`
	StartedAt *time.Time  `db:"started_at"`
	Units     int         `db:"units"`
	TimberOn  *time.Time  `db:"timber_on"` // day by which packs that are meant for it are dry
	Ops       []Operation `db:"-"`
}

// minuteAt gives the minutes from origin to the beginning of a day in loc, plus so many
// days; never below 0.
func minuteAt(origin time.Time, day time.Time, plusDays int, loc *time.Location) int64 {
	t := time.Date(day.Year(), day.Month(), day.Day()+plusDays, 0, 0, 0, 0, loc)
	return max(0, int64(math.Floor(t.Sub(origin).Minutes())))
}

// job turns an open build into a job of the planning calculation: its operations that are
// not done, less the time spent on them. Its id is that of the build. was is its start in
// the plan in force, nil when it has none: it stays where the maker holds it, where it has
// started, or where the next days are settled.
func (w work) job(origin time.Time, loc *time.Location) planning.Job {
	j := planning.Job{ID: strconv.FormatInt(w.BuildID, 10), Weight: weightShelf, DueMinute: planning.MaxMinute / 2}
	if w.Units > 0 {
		j.Weight = weightUnits
	}
	if w.DueOn != nil {
		j.DueMinute = minuteAt(origin, *w.DueOn, 1, loc) // the end of that day
	}
	for _, day := range []*time.Time{w.NotBefore, w.HeldTo, w.TimberOn} {
		if day != nil {
			j.ReleaseMinute = max(j.ReleaseMinute, minuteAt(origin, *day, 0, loc))
		}
	}
	for _, o := range w.todo() {
		minutes := int64(math.Ceil(max(0, o.StandardMin(w.Quantity)-o.SpentMin)))
		j.Steps = append(j.Steps, planning.Step{Minutes: minutes, WaitMinutes: int64(o.WaitMin), Needs: o.Needs})
	}
	return j
}

// needsBench tells whether a job has any minutes left; a plan takes no others.
func needsBench(j planning.Job) bool {
	return slices.ContainsFunc(j.Steps, func(s planning.Step) bool { return s.Minutes > 0 })
}

// todo gives the operations that are not done.
func (w work) todo() []Operation {
	return slices.DeleteFunc(slices.Clone(w.Ops), func(o Operation) bool { return o.DoneAt != nil })
}

// settle fixes the start of a job where it may not move by itself; it reports whether it
// did. was is the job's start in the plan in force, in minutes from the new origin.
func settle(j *planning.Job, w work, was int64, haveWas bool) bool {
	if !haveWas || was < 0 || was < j.ReleaseMinute {
		return false
	}
	if w.StartedAt != nil || was < settledDays*24*60 {
		j.FixedStartMinute = &was
		return true
	}
	return false
}

// resources gives the limited things that the jobs need, one of each: what a workshop has
// more of is told by its name, such as "clamps x3".
func resources(jobs []planning.Job) []planning.Resource {
	seen := map[string]bool{}
	out := []planning.Resource{}
	for _, j := range jobs {
		for _, s := range j.Steps {
			for _, id := range s.Needs {
				if !seen[id] {
					seen[id] = true
					out = append(out, planning.Resource{ID: id, Count: countOf(id)})
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b planning.Resource) int { return strings.Compare(a.ID, b.ID) })
	return out
}

func countOf(id string) int {
	i := strings.LastIndex(id, " x")
	if i < 0 {
		return 1
	}
	n, err := strconv.Atoi(id[i+2:])
	if err != nil || n < 1 || n > 1000 {
		return 1
	}
	return n
}

// Bench is the free time of the bench as one question sees it: the plan in force, open
// builds that came after it, and whatever the question itself holds.
type Bench struct {
	origin time.Time
	loc    *time.Location
	in     planning.In
	out    planning.Out
	now    int64 // minutes from origin
	held   int
	luck   planning.Luck
	drawn  map[int]*planning.Law
	builds map[int64][]int64 // ends of builds in each course, where they were played
}

// BenchTime is when a piece of work would be done.
type BenchTime struct {
	StartsAt time.Time
	EndsAt   time.Time
	On       time.Time // the business date of its end
}

// Fit gives the soonest time at which so many minutes of work, with waits by the clock
// after them, are done without moving anything else; notBefore is the first day on which
// it may begin. When hold is true the time is taken for what is asked of this Bench
// afterwards. Errors: Conflict when there is no room within the plan's reach.
func (b *Bench) Fit(minutes, waitMinutes float64, notBefore time.Time, hold bool) (BenchTime, error) {
	wait := int64(math.Ceil(max(0, waitMinutes)))
	job := b.asked(minutes, notBefore)
	p, err := planning.Earliest(b.in, b.out, job)
	if err != nil {
		return BenchTime{}, noRoom(err)
	}
	if hold {
		b.in.Jobs, b.out.Jobs = append(b.in.Jobs, job), append(b.out.Jobs, p)
		b.out.Order = append(b.out.Order, p.ID)
	}
	end := b.at(p.EndMinute + wait)
	return BenchTime{StartsAt: b.at(p.StartMinute), EndsAt: end, On: dateOf(end.In(b.loc))}, nil
}

func (b *Bench) at(minute int64) time.Time {
	return b.origin.Add(time.Duration(minute) * time.Minute)
}

// catchUp takes jobs whose builds have ended out of the plan, and places behind it what is
// open and not in it: builds that came later, and the rest of those that should be done by
// now.
func (b *Bench) catchUp(list []work) {
	open := map[string]bool{}
	for _, w := range list {
		open[strconv.FormatInt(w.BuildID, 10)] = true
	}
	for _, j := range b.out.Jobs {
		open[j.ID] = open[j.ID] && j.EndMinute > b.now
	}
	b.in.Jobs = slices.DeleteFunc(b.in.Jobs, func(j planning.Job) bool { return !open[j.ID] })
	b.out.Jobs = slices.DeleteFunc(b.out.Jobs, func(j planning.JobPlan) bool { return !open[j.ID] })
	b.out.Order = slices.DeleteFunc(b.out.Order, func(id string) bool { return !open[id] })
	known := map[string]bool{}
	for _, j := range b.out.Jobs {
		known[j.ID] = true
	}
	slices.SortStableFunc(list, func(x, y work) int { return dueOrder(x.DueOn, y.DueOn) })
	for _, w := range list {
		j := w.job(b.origin, b.loc)
		if known[j.ID] || !needsBench(j) {
			continue
		}
		j.ReleaseMinute = max(j.ReleaseMinute, b.now)
		b.in.Resources = resources(append(slices.Clone(b.in.Jobs), j))
		p, err := planning.Earliest(b.in, b.out, j)
		if err != nil {
			continue // no room within reach: it cannot take any from what is asked now
		}
		b.in.Jobs, b.out.Jobs, b.out.Order = append(b.in.Jobs, j), append(b.out.Jobs, p), append(b.out.Order, p.ID)
	}
}

// dueOrder sorts by due date, those without one last.
func dueOrder(a, b *time.Time) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return 1
	case b == nil:
		return -1
	}
	return a.Compare(*b)
}
