package workshop

import (
	"math"
	"slices"
	"strconv"
	"time"

	"kerfbook/internal/calc/planning"
)

// dryTurns bounds how often a plan is laid through until its dry work lies well; each turn
// moves work later only.
const dryTurns = 8

// dryWait is what the weather keeps up of a build's operations that are not done.
type dryWait struct {
	From  *time.Time // the first of them
	Waits []int64    // minutes between the operation before and each of them, 0: none
}

// add puts the waits into a job.
func (d dryWait) add(j *planning.Job, origin time.Time) {
	if d.From != nil {
		j.ReleaseMinute = max(j.ReleaseMinute, int64(math.Ceil(d.From.Sub(origin).Minutes())))
	}
	for k, wait := range d.Waits {
		if k > 0 && k < len(j.Steps) {
			j.Steps[k-1].WaitMinutes = max(j.Steps[k-1].WaitMinutes, wait)
		}
	}
}

// underSky is a plan whose dry work is to lie on dry days.
type underSky struct {
	sky    planning.Sky
	works  []work
	origin time.Time
	loc    *time.Location
	now    int64
}

// build gives the build of a job, the operations that its steps are, and the job as it
// would be under an ever dry sky; false when nothing of it needs dry weather.
func (u underSky) build(j planning.Job) (int, []Operation, planning.Job, bool) {
	i := slices.IndexFunc(u.works, func(w work) bool { return strconv.FormatInt(w.BuildID, 10) == j.ID })
	if i < 0 {
		return 0, nil, planning.Job{}, false
	}
	w := u.works[i]
	todo := w.todo()
	gone := len(j.Steps) - len(todo)
	if gone < 0 || !slices.ContainsFunc(todo, func(o Operation) bool { return o.Dry }) {
		return i, nil, planning.Job{}, false
	}
	w.Weather = dryWait{}
	plain := w.job(u.origin, u.loc)
	// A stored plan knows operations that have been done since.
	todo = append(make([]Operation, gone), todo...)
	plain.Steps = append(slices.Clone(j.Steps[:gone]), plain.Steps...)
	return i, todo, plain, true
}

// settle puts off what needs dry weather to where it is expected to find it, and lets
// other work go first meanwhile. What the maker holds to a day stays. Builds that find no
// room by it come back in lost; moved tells whether anything had to.
func (u underSky) settle(in planning.In, out planning.Out) (_ planning.In, _ planning.Out, lost []string, moved bool, err error) {
	for range dryTurns {
		next, plan := in, out
		next.Jobs, plan.Jobs = slices.Clone(in.Jobs), slices.Clone(out.Jobs)
		late := false
		for n := range plan.Jobs {
			late = u.putOff(&next.Jobs[n], &plan.Jobs[n], in.Calendar) || late
		}
		if !late {
			break
		}
		var gone []string
		if out, gone, err = replayAll(&next, plan); err != nil {
			return in, out, lost, moved, err
		}
		in, lost, moved = next, append(lost, gone...), true
	}
	return in, out, lost, moved, nil
}

// putOff moves the first step of a job that lies too early for the weather.
func (u underSky) putOff(j *planning.Job, p *planning.JobPlan, calendar []planning.Spell) bool {
	i, ops, plain, ok := u.build(*j)
	if !ok {
		return false
	}
	for k, s := range p.Steps {
		if !ops[k].Dry || j.Steps[k].Minutes == 0 {
			continue
		}
		ready := max(u.now, plain.ReleaseMinute)
		if k > 0 {
			ready = p.Steps[k-1].EndMinute + plain.Steps[k-1].WaitMinutes
		}
		want := u.sky.DryStart(calendar, ready, j.Steps[k].Minutes)
		if u.sky.OnWetDay(calendar, s.StartMinute, s.EndMinute) {
			want = max(want, u.sky.DryStart(calendar, s.StartMinute, j.Steps[k].Minutes))
		}
		if want <= s.StartMinute || k == 0 && u.works[i].HeldTo != nil {
			continue
		}
		if want == math.MaxInt64 {
			want = planning.MaxMinute
		}
		if k == 0 {
			j.ReleaseMinute, j.FixedStartMinute = want, nil
		} else {
			j.Steps = slices.Clone(j.Steps)
			j.Steps[k-1].WaitMinutes = want - p.Steps[k-1].EndMinute
		}
		p.Steps = slices.Clone(p.Steps)
		for n := k; n < len(p.Steps); n++ {
			p.Steps[n].StartMinute += want - s.StartMinute
			p.Steps[n].EndMinute += want - s.StartMinute
		}
		return true
	}
	return false
}

// keep writes the waits of a plan down in its builds, so that jobs made of them anew have them.
func (u underSky) keep(in planning.In) {
	for _, j := range in.Jobs {
		i, ops, plain, ok := u.build(j)
		if !ok || len(ops) != len(u.works[i].todo()) {
			continue
		}
		d := dryWait{Waits: make([]int64, len(ops))}
		if ops[0].Dry && j.ReleaseMinute > max(u.now, plain.ReleaseMinute) {
			from := u.origin.Add(time.Duration(j.ReleaseMinute) * time.Minute)
			d.From = &from
		}
		for k := 1; k < len(ops); k++ {
			if ops[k].Dry {
				d.Waits[k] = j.Steps[k-1].WaitMinutes
			}
		}
		u.works[i].Weather = d
	}
}

// steps names the steps of a plan that need dry weather.
func (u underSky) steps(in planning.In) []planning.DryStep {
	var list []planning.DryStep
	for _, j := range in.Jobs {
		_, ops, plain, ok := u.build(j)
		if !ok {
			continue
		}
		for k, o := range ops {
			if !o.Dry {
				continue
			}
			d := planning.DryStep{Job: j.ID, Step: k}
			if k == 0 {
				d.Waits = max(0, j.ReleaseMinute-max(u.now, plain.ReleaseMinute))
			} else {
				d.Waits = max(0, j.Steps[k-1].WaitMinutes-plain.Steps[k-1].WaitMinutes)
			}
			list = append(list, d)
		}
	}
	return list
}

// Under puts the bench under the weather for so many days from its origin on.
func (b *Bench) Under(w Weather, days int) { b.sky = w.sky(b.origin, b.loc, days) }

func (b *Bench) underSky() underSky {
	return underSky{sky: b.sky, works: b.works, origin: b.origin, loc: b.loc, now: b.now}
}

// inTheWet tells whether dry work of a plan lies on a day that is known as wet.
func (u underSky) inTheWet(in planning.In, out planning.Out) bool {
	for _, d := range u.steps(in) {
		n := slices.IndexFunc(out.Jobs, func(p planning.JobPlan) bool { return p.ID == d.Job })
		if n >= 0 && u.sky.OnWetDay(in.Calendar, out.Jobs[n].Steps[d.Step].StartMinute, out.Jobs[n].Steps[d.Step].EndMinute) {
			return true
		}
	}
	return false
}

// refill places the jobs of a plan anew, one by one in its order, each where it soonest
// finds room: while dry work waits for a dry day, others take the wet one.
func (u underSky) refill(in planning.In, out planning.Out) (planning.In, planning.Out, []string) {
	order := make([]int, len(out.Jobs))
	for n := range order {
		order[n] = n
	}
	slices.SortStableFunc(order, func(a, b int) int { return int(out.Jobs[a].StartMinute - out.Jobs[b].StartMinute) })
	next, plan, lost := in, planning.Out{}, []string(nil)
	next.Jobs = nil
	for _, n := range order {
		j := in.Jobs[n]
		p, err := planning.Earliest(next, plan, j)
		for range dryTurns {
			if err != nil || !u.putOff(&j, &p, in.Calendar) {
				break
			}
			p, err = planning.Earliest(next, plan, j)
		}
		if err != nil {
			lost = append(lost, j.ID)
			continue
		}
		next.Jobs, plan.Jobs, plan.Order = append(next.Jobs, j), append(plan.Jobs, p), append(plan.Order, p.ID)
	}
	return next, plan, lost
}

// awaitDry settles the dry work of a bench that has caught up. Where it has to leave a wet
// day, other work may come sooner than the plan in force has it.
func (b *Bench) awaitDry() error {
	u := b.underSky()
	if u.inTheWet(b.in, b.out) {
		in, lost := b.in, []string(nil)
		in.Jobs = slices.Clone(b.in.Jobs)
		for n, j := range in.Jobs {
			in.Jobs[n].ReleaseMinute = min(j.ReleaseMinute, max(b.now, b.trueRelease(j.ID)))
		}
		b.in, b.out, lost = u.refill(in, b.out)
		b.lost = append(b.lost, lost...)
	}
	in, out, lost, _, err := u.settle(b.in, b.out)
	if err != nil {
		return err
	}
	b.in, b.out, b.lost = in, settled(in, out), append(b.lost, lost...)
	u.keep(b.in)
	return nil
}

// awaitDry settles the dry work of a plan in the making.
func (l *laying) awaitDry(in planning.In, out planning.Out) (planning.In, planning.Out, error) {
	if len(in.Jobs) == 0 {
		return in, out, nil
	}
	u := underSky{sky: l.sky, works: l.works, origin: l.origin, loc: l.loc}
	dry, plan, lost, moved, err := u.settle(in, out)
	if err != nil || !moved {
		return in, out, err
	}
	for _, id := range lost {
		if i := slices.IndexFunc(l.works, func(w work) bool { return strconv.FormatInt(w.BuildID, 10) == id }); i >= 0 {
			l.leave(l.works[i], l.noHours(l.works[i]))
		}
	}
	return dry, settled(dry, plan), nil
}

// askedDry is asked work whose last minutes need dry weather, with where it would run; the
// job of [Bench.asked] when none do.
func (b *Bench) askedDry(a Ask, notBefore time.Time) (planning.Job, planning.JobPlan, []planning.DryStep, error) {
	job, dry := b.asked(a, notBefore)
	p, err := planning.Earliest(b.in, b.out, job)
	if err != nil || !dry {
		return job, p, nil, err
	}
	last := len(job.Steps) - 1
	ready := job.ReleaseMinute
	if last > 0 {
		ready = p.Steps[last-1].EndMinute
	}
	want := min(planning.MaxMinute, b.sky.DryStart(b.in.Calendar, ready, job.Steps[last].Minutes))
	step := planning.DryStep{Job: job.ID, Step: last, Waits: want - ready}
	if last == 0 {
		job.ReleaseMinute = want
	} else {
		job.Steps[last-1].WaitMinutes = step.Waits
	}
	p, err = planning.Earliest(b.in, b.out, job)
	return job, p, []planning.DryStep{step}, err
}
