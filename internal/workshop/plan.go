package workshop

import (
	"math"
	"slices"
	"strconv"
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
	Change       PlanChange `db:"change"`   // what the maker wanted otherwise
	Left         []LeftOut  `db:"left_out"` // builds it has no place for
	Steps        []PlanStep `db:"-"`        // PlanGet and PlanCurrent only
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
	BuildID    int64       `db:"id"`
	Number     string      `db:"number"`
	What       string      `db:"what"`
	ModelID    int64       `db:"model_id"`
	RevisionID int64       `db:"revision_id"`
	Quantity   int         `db:"quantity"`
	Open       int         `db:"open"` // pieces that are neither finished nor spoiled
	DueOn      *time.Time  `db:"due_on"`
	NotBefore  *time.Time  `db:"not_before"`
	HeldTo     *time.Time  `db:"held_to"`
	StartedAt  *time.Time  `db:"started_at"`
	Units      int         `db:"units"`       // open pieces that are ordered
	PromisedOn *time.Time  `db:"promised_on"` // the first promise of its open pieces
	CureDays   int         `db:"cure_days"`   // of its finish
	TimberOn   *time.Time  `db:"timber_on"`   // day by which packs that are meant for it are dry
	NeverDry   string      `db:"never_dry"`   // a pack meant for it that never gets dry
	ComingDays *int        `db:"coming_days"` // until the fittings it lacks could be there
	FittingsOn *time.Time  `db:"-"`           // the day of that
	Lacks      string      `db:"-"`           // a limited thing that it needs and there is not
	Ops        []Operation `db:"-"`
	Weather    dryWait     `db:"-"` // that operations wait for
}

// due is the day by which the bench must be done: the due date, or the first promise less
// the days that the finish cures.
func (w work) due() *time.Time {
	due := w.DueOn
	if w.PromisedOn != nil {
		if day := w.PromisedOn.AddDate(0, 0, -w.CureDays); due == nil || day.Before(*due) {
			due = &day
		}
	}
	return due
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
	if due := w.due(); due != nil {
		j.DueMinute = minuteAt(origin, *due, 1, loc) // the end of that day
	}
	if day, _ := w.notBefore(); !day.IsZero() {
		j.ReleaseMinute = minuteAt(origin, day, 0, loc)
	}
	for _, o := range w.Ops { // what was glued last has to dry
		if o.DoneAt != nil && o.WaitMin > 0 {
			j.ReleaseMinute = max(j.ReleaseMinute, int64(math.Ceil(o.DoneAt.Sub(origin).Minutes()))+int64(o.WaitMin))
		}
	}
	for _, o := range w.todo() {
		j.Steps = append(j.Steps, w.step(o))
	}
	w.Weather.add(&j, origin)
	return j
}

// notBefore is the first day on which the build may begin, and what it waits for.
func (w work) notBefore() (time.Time, string) {
	var day time.Time
	why := ""
	for _, x := range []struct {
		on  *time.Time
		why string
	}{{w.NotBefore, "may not begin before"}, {w.HeldTo, "is held to"}, {w.TimberOn, "its timber is dry on"}, {w.FittingsOn, "its fittings could be there on"}} {
		if x.on != nil && x.on.After(day) {
			day, why = *x.on, x.why
		}
	}
	return day, why
}

// needsBench tells whether a job has any minutes left; a plan takes no others.
func needsBench(j planning.Job) bool {
	return slices.ContainsFunc(j.Steps, func(s planning.Step) bool { return s.Minutes > 0 })
}

// todo gives the operations that are not done.
func (w work) todo() []Operation {
	return slices.DeleteFunc(slices.Clone(w.Ops), func(o Operation) bool { return o.DoneAt != nil })
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
	works  []work // open builds
	limits limits // of things and of the owner
	sky    planning.Sky
	lost   []string // jobs that find no room
	drawn  map[int]*planning.Law
	builds map[int64][]int64 // ends of builds in each course, where they were played
}

// BenchTime is when a piece of work would be done.
type BenchTime struct {
	StartsAt time.Time
	EndsAt   time.Time
	On       time.Time // the business date of its end
}

func (b *Bench) at(minute int64) time.Time {
	return b.origin.Add(time.Duration(minute) * time.Minute)
}

// catchUp brings the plan up to what is so now: builds that have ended go out; what is
// left of the others keeps its order and is no earlier than planned, later where something
// slipped; builds that the plan does not know stand behind it, in the order of their due dates.
func (b *Bench) catchUp(list []work) {
	b.works = list
	planned := map[string]planning.JobPlan{}
	for _, j := range b.out.Jobs {
		planned[j.ID] = j
	}
	in, old := b.in, planning.Out{}
	in.Jobs = nil
	var later []planning.Job
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(x, y work) int { return dueOrder(x.due(), y.due()) })
	for _, w := range list {
		j := w.job(b.origin, b.loc)
		if !needsBench(j) || w.blocked() {
			continue
		}
		j.ReleaseMinute = max(j.ReleaseMinute, b.now)
		p, ok := planned[j.ID]
		if gone := len(p.Steps) - len(j.Steps); !ok || gone < 0 {
			later = append(later, j)
			continue
		} else {
			p.Steps = p.Steps[gone:]
		}
		j.ReleaseMinute = max(j.ReleaseMinute, p.Steps[0].StartMinute)
		in.Jobs, old.Jobs = append(in.Jobs, j), append(old.Jobs, p)
	}
	in.Resources = b.limits.resources()
	whole := slices.Clone(in.Jobs)
	stillSetUp(in.Jobs, old.Jobs, b.out)
	out, lost, err := replayAll(&in, old)
	if err != nil { // hours that were taken out under the plan: place all of it anew
		later, in.Jobs, out, lost = append(whole, later...), nil, planning.Out{}, nil
	}
	b.in, b.out, b.lost = in, out, lost
	for _, j := range later {
		p, err := planning.Earliest(b.in, b.out, j)
		if err != nil {
			b.lost = append(b.lost, j.ID) // no room within reach: it cannot take any from what is asked now
			continue
		}
		b.in.Jobs, b.out.Jobs, b.out.Order = append(b.in.Jobs, j), append(b.out.Jobs, p), append(b.out.Order, p.ID)
	}
	b.out = settled(b.in, b.out)
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
