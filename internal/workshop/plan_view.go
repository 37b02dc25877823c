package workshop

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"time"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// BenchJob is an open build as a plan has it.
type BenchJob struct {
	BuildID  int64
	Number   string
	What     string
	Units    int
	Started  bool
	HeldTo   *time.Time
	StartsAt time.Time
	EndsAt   time.Time
	EndsOn   time.Time  // business date of the end
	EndsP80  *time.Time // done by then in four of five courses; nil: beyond the plan's reach
	DueOn    *time.Time // by which the bench must be done: due date, or promise less curing
	LateDays int        // how far the planned end lies beyond DueOn
	RiskDays int        // how far EndsP80 does; the same and not 0 where it is late anyway
	Cure     int        // days of its finish
	Waits    string     // what it cannot begin without, such as "its timber is dry on 3 March"
	Spans    []BenchSpan
	WasOn    *time.Time // end in the plan in force; nil: it has none there
	WasStart *time.Time // business date of its start there
}

// BenchSpan is when an operation runs.
type BenchSpan struct {
	Operation    string
	Dry          bool // needs dry weather
	StartsAt     time.Time
	EndsAt       time.Time
	startM, endM int64
	owner        bool // it waits while the owner is away
}

// BenchDay is a day of the bench.
type BenchDay struct {
	On      time.Time
	OpenMin int64 // of hours, all hands together
	LongMin int64 // of hours, of one hand
	Work    []DayWork
}

// DayWork is a stretch of work within a day's hours, in minutes of the longest hand's open time.
type DayWork struct {
	BuildID  int64
	From, To int64
}

// viewDraws is how many courses a page is told the four-in-five dates from.
const viewDraws = 120

// Jobs gives the builds of the bench by their start.
func (b *Bench) Jobs() ([]BenchJob, error) {
	if len(b.in.Jobs) > 0 {
		if err := b.playAll(viewDraws); err != nil {
			return nil, err
		}
	}
	list := []BenchJob{}
	for i, p := range b.out.Jobs {
		k := slices.IndexFunc(b.works, func(w work) bool { return strconv.FormatInt(w.BuildID, 10) == p.ID })
		if k < 0 {
			continue
		}
		list = append(list, b.jobView(b.works[k], b.in.Jobs[i], p))
	}
	slices.SortStableFunc(list, func(a, c BenchJob) int { return a.StartsAt.Compare(c.StartsAt) })
	return list, nil
}

func (b *Bench) jobView(w work, j planning.Job, p planning.JobPlan) BenchJob {
	v := BenchJob{BuildID: w.BuildID, Number: w.Number, What: w.What, Units: w.Units, Started: w.StartedAt != nil, HeldTo: w.HeldTo, StartsAt: b.at(p.StartMinute), EndsAt: b.at(p.EndMinute), DueOn: w.due(), Cure: w.CureDays}
	v.EndsOn = b.lastDay(p.EndMinute)
	if first, why := w.notBefore(); first.After(dateOf(b.at(b.now).In(b.loc))) {
		v.Waits = why + " " + first.Format(time.DateOnly)
	}
	ends := slices.Clone(b.builds[w.BuildID])
	slices.Sort(ends)
	if n := len(ends); n > 0 && ends[n*4/5] < planning.MaxMinute {
		day := b.lastDay(ends[n*4/5])
		v.EndsP80 = &day
	}
	if v.DueOn != nil {
		v.LateDays = daysBeyond(v.EndsOn, *v.DueOn)
		if v.RiskDays = planDays; v.EndsP80 != nil {
			v.RiskDays = max(v.LateDays, daysBeyond(*v.EndsP80, *v.DueOn))
		}
	}
	todo := w.todo()
	for k, s := range p.Steps {
		span := BenchSpan{StartsAt: b.at(s.StartMinute), EndsAt: b.at(s.EndMinute), startM: s.StartMinute, endM: s.EndMinute}
		if at := k + len(todo) - len(p.Steps); at >= 0 && at < len(todo) {
			span.Operation, span.Dry, span.owner = todo[at].Name, todo[at].Dry, todo[at].OwnerOnly
		}
		v.Spans = append(v.Spans, span)
	}
	return v
}

// lastDay is the business date of the last minute before an end.
func (b *Bench) lastDay(end int64) time.Time { return dateOf(b.at(end - 1).In(b.loc)) }

func daysBeyond(day, due time.Time) int {
	return max(0, int(day.Sub(due).Hours()/24))
}

// Zone is the workshop's zone.
func (b *Bench) Zone() *time.Location { return b.loc }

// Lost gives the builds that find no place, each with the reason.
func (b *Bench) Lost() []LeftOut {
	l := laying{origin: b.at(b.now), loc: b.loc, calendar: b.in.Calendar}
	for _, w := range b.works {
		switch {
		case w.blocked():
			l.jobOf(w)
		case slices.Contains(b.lost, strconv.FormatInt(w.BuildID, 10)):
			l.leave(w, l.noHours(w))
		}
	}
	return l.left
}

// Days gives some days from a day on, with the work of jobs in them.
func (b *Bench) Days(jobs []BenchJob, from time.Time, days int) []BenchDay {
	out := make([]BenchDay, days)
	for d := range out {
		out[d].On = from.AddDate(0, 0, d)
		start, end := minuteAt(b.origin, from, d, b.loc), minuteAt(b.origin, from, d+1, b.loc)
		var open []planning.Spell
		for _, s := range b.in.Calendar {
			if s.FromMinute < end && s.ToMinute > start {
				open = append(open, s)
				hands := int64(1)
				if s.Hands != nil {
					hands = int64(*s.Hands)
				}
				out[d].LongMin += s.ToMinute - s.FromMinute
				out[d].OpenMin += hands * (s.ToMinute - s.FromMinute)
			}
		}
		for _, j := range jobs {
			for _, s := range j.Spans {
				out[d].add(j.BuildID, open, s, b.ownerThere)
			}
		}
	}
	return out
}

// add puts the part of a span that lies in a day's hours into the day, of the owner's work
// that in which the owner is there.
func (d *BenchDay) add(build int64, open []planning.Spell, s BenchSpan, ownerThere func(minute int64) bool) {
	passed := int64(0)
	for _, o := range open {
		from, to := max(o.FromMinute, s.startM), min(o.ToMinute, s.endM)
		if from < to && (!s.owner || ownerThere(from)) {
			w := DayWork{build, passed + from - o.FromMinute, passed + to - o.FromMinute}
			if k := len(d.Work) - 1; k >= 0 && d.Work[k].BuildID == build && d.Work[k].To >= w.From {
				d.Work[k].To = w.To
			} else {
				d.Work = append(d.Work, w)
			}
		}
		passed += o.ToMinute - o.FromMinute
	}
}

// BenchOf is the bench as a stored plan would have it, proposed ones too, without what has
// come to pass since.
func (r *Room) BenchOf(ctx context.Context, plan int64) (*Bench, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	c, err := postgres.One[current](ctx, r.db, `SELECT id, origin_at, asked, answered FROM bench_plan WHERE id = $1`, plan)
	if err != nil {
		return nil, err
	}
	var in planning.In
	var out planning.Out
	if err := json.Unmarshal(c.Asked, &in); err != nil {
		return nil, fmt.Errorf("read the plan of the bench: %w", err)
	}
	if err := json.Unmarshal(c.Answered, &out); err != nil {
		return nil, fmt.Errorf("read the plan of the bench: %w", err)
	}
	proportions, err := Proportions(ctx, r.db)
	if err != nil {
		return nil, err
	}
	b := NewBench(in, out, c.OriginAt, c.OriginAt, set.Location(), planning.Learn(proportions))
	for _, x := range in.Resources {
		if x.ID == ownerHands {
			b.limits.own, b.limits.noOwner = x.Hours, x.Count == 0
		}
	}
	if b.works, err = openWork(ctx, r.db, r.db.Now()); err != nil {
		return nil, err
	}
	weather, err := weatherIn(ctx, r.db, dateOf(r.db.Now().In(b.loc)))
	b.Under(weather, planDays+1)
	return b, err
}

// PlanEffects says for each build of a plan when it begins and ends there, and what that
// is beside the plan in force as it stands now.
func (r *Room) PlanEffects(ctx context.Context, plan int64) ([]BenchJob, error) {
	b, err := r.BenchOf(ctx, plan)
	if err != nil {
		return nil, err
	}
	list, err := b.Jobs()
	if err != nil {
		return nil, err
	}
	now, err := r.benchIn(ctx, r.db, b.loc)
	if err != nil {
		return nil, err
	}
	for _, p := range now.out.Jobs {
		for i := range list {
			if strconv.FormatInt(list[i].BuildID, 10) == p.ID {
				on, start := now.lastDay(p.EndMinute), dateOf(now.at(p.StartMinute).In(now.loc))
				list[i].WasOn, list[i].WasStart = &on, &start
			}
		}
	}
	return list, nil
}
