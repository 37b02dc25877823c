package workshop

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

// PlanChange is what the maker wants otherwise than the plan has it. The zero change lays
// the plan anew as it is.
type PlanChange struct {
	BuildID int64      `json:"build_id,omitempty"`
	HoldTo  *time.Time `json:"hold_to,omitempty"` // the day on which it begins
	LetGo   bool       `json:"let_go,omitempty"`  // it is no longer held
	Move    int        `json:"move,omitempty"`    // -1: before the build in front of it; 1: behind the next
}

// LeftOut is a build that a plan has no place for, and why.
type LeftOut struct {
	BuildID int64  `json:"build_id"`
	Number  string `json:"number"`
	Why     string `json:"why"`
}

// check refuses a change that says too little or too much.
func (c PlanChange) check(today time.Time) error {
	var l fault.List
	ways := 0
	for _, on := range []bool{c.HoldTo != nil, c.LetGo, c.Move != 0} {
		if on {
			ways++
		}
	}
	l.Check(c.BuildID >= 0 && (c.BuildID > 0) == (ways > 0), "/build_id", "Say which build it is, and what is to become of it.")
	l.Check(ways <= 1, "/move", "One thing at a time: hold it to a day, let it go, or move it up or down.")
	l.Check(c.Move >= -1 && c.Move <= 1, "/move", "Up or down, one place at a time.")
	l.Check(c.HoldTo == nil || !c.HoldTo.Before(today), "/hold_to", "This day is past. Hold it to today or a later day.")
	l.Check(c.HoldTo == nil || c.HoldTo.Before(today.AddDate(0, 0, planDays)), "/hold_to", "The plan looks %d days ahead. Choose a sooner day.", planDays)
	return l.Err()
}

// laying is a plan in the making.
type laying struct {
	origin time.Time
	loc    *time.Location
	works  []work
	was    map[string]planning.JobPlan // the plan in force as it stands now, in minutes from origin
	change PlanChange
	limits limits

	sky       planning.Sky
	calendar  []planning.Spell
	resources []planning.Resource
	pins      planning.In // jobs that stay where they are, with where that is
	pinned    planning.Out
	rest      []planning.Job
	left      []LeftOut
}

// lay gives the plan with the fewest and lightest late minutes in which nothing moves by
// itself that has begun, that is held, or that begins in the next days; of plans that are
// equal in that, one that leaves as much of the plan in force as it can.
func (l *laying) lay(ctx context.Context) (planning.In, planning.Out, error) {
	if err := l.pin(); err != nil {
		return planning.In{}, planning.Out{}, err
	}
	in, greedy := l.greedy()
	if len(in.Jobs) == 0 {
		return in, greedy, nil
	}
	best, err := l.plan(ctx, in, planLimitMS)
	if err != nil { // pins that stand in one another's way: as they come, then
		return in, greedy, nil
	}
	if greedy.WeightedTardiness < best.WeightedTardiness {
		best = greedy
	}
	return l.leastMoved(ctx, in, best)
}

func (l *laying) plan(ctx context.Context, in planning.In, limitMS int64) (planning.Out, error) {
	in.TimeLimitMS = &limitMS
	return planning.Plan(ctx, in)
}

// jobOf gives the job of a build, nil when it needs no bench or can never begin.
func (l *laying) jobOf(w work) *planning.Job {
	j := w.job(l.origin, l.loc)
	if !needsBench(j) {
		return nil
	}
	if w.NeverDry != "" {
		l.leave(w, fmt.Sprintf("Pack %s, whose boards are meant for it, never gets dry where it stands. Move the pack, or give the build other boards.", w.NeverDry))
		return nil
	}
	if w.Lacks != "" {
		l.leave(w, w.Lacks+" Take it up again, or change the count.")
		return nil
	}
	return &j
}

func (l *laying) leave(w work, why string) {
	l.left = append(l.left, LeftOut{w.BuildID, w.Number, why})
}

// noHours says why a build finds no place.
func (l *laying) noHours(w work) string {
	if len(l.calendar) == 0 {
		return fmt.Sprintf("There are no hours at the bench in the next %d days. Set hours, or look at the days away.", planDays)
	}
	if day, why := w.notBefore(); day.After(l.origin) {
		return fmt.Sprintf("It %s %s, and no hours are left for it within %d days after that. Set longer hours.", why, show.Date(day), planDays)
	}
	return fmt.Sprintf("No hours are left for it in the next %d days. Set longer hours, or look at the days away.", planDays)
}

// pin puts down what stays: work that has begun first, then what the maker changes, what
// is held, and what begins in the next days.
func (l *laying) pin() error {
	type wanted struct {
		work
		job planning.Job
		was int64 // -1: not in the plan in force
	}
	var begun, held, soon, rest []wanted
	for _, w := range l.works {
		j := l.jobOf(w)
		if j == nil {
			continue
		}
		x := wanted{w, *j, -1}
		if p, ok := l.was[j.ID]; ok {
			x.was = max(0, p.StartMinute)
		}
		switch {
		case w.StartedAt != nil:
			begun = append(begun, x)
		case w.BuildID == l.change.BuildID:
			rest = append(rest, x)
		case w.HeldTo != nil:
			held = append(held, x)
		case x.was >= 0 && x.was < settledDays*24*60:
			soon = append(soon, x)
		default:
			rest = append(rest, x)
		}
	}
	l.resources = l.limits.resources()
	l.pins = planning.In{Calendar: l.calendar, Resources: l.resources}
	if len(l.calendar) == 0 {
		for _, w := range l.works {
			if !w.blocked() {
				l.leave(w, l.noHours(w))
			}
		}
		return nil
	}
	byWas := func(a, b wanted) int {
		if a.was != b.was {
			return int(a.was - b.was)
		}
		return int(a.BuildID - b.BuildID)
	}
	slices.SortFunc(begun, byWas)
	slices.SortFunc(soon, byWas)
	slices.SortFunc(held, func(a, b wanted) int { return a.HeldTo.Compare(*b.HeldTo) })
	for _, x := range begun {
		l.put(x.work, x.job)
	}
	changed, from, err := l.putChanged()
	if err != nil {
		return err
	}
	for _, x := range held {
		if !changed[x.BuildID] {
			l.put(x.work, x.job)
		}
	}
	for _, x := range append(soon, rest...) {
		switch {
		case changed[x.BuildID]:
		case x.was >= 0 && x.was < settledDays*24*60 && x.was < from && x.was >= x.job.ReleaseMinute && x.BuildID != l.change.BuildID:
			l.putExactly(x.work, x.job, x.was)
		default:
			l.rest = append(l.rest, x.job)
		}
	}
	return nil
}

// put pins a build where it soonest finds room.
func (l *laying) put(w work, j planning.Job) (planning.JobPlan, bool) {
	p, err := planning.Earliest(l.pins, l.pinned, j)
	if err != nil {
		l.leave(w, l.noHours(w))
		return p, false
	}
	l.fix(j, p)
	return p, true
}

// putExactly pins a build where it was, or leaves it free where that is taken.
func (l *laying) putExactly(w work, j planning.Job, at int64) {
	there := j
	there.ReleaseMinute = max(j.ReleaseMinute, at)
	p, err := planning.Earliest(l.pins, l.pinned, there)
	if err != nil || p.StartMinute != at {
		l.rest = append(l.rest, j)
		return
	}
	l.fix(j, p)
}

func (l *laying) fix(j planning.Job, p planning.JobPlan) {
	start := p.StartMinute
	j.FixedStartMinute, j.ReleaseMinute = &start, min(j.ReleaseMinute, start)
	p.TardyMinutes = max(0, p.EndMinute-j.DueMinute)
	l.pins.Jobs, l.pinned.Jobs, l.pinned.Order = append(l.pins.Jobs, j), append(l.pinned.Jobs, p), append(l.pinned.Order, p.ID)
}

// putChanged pins what the maker changes; it gives the builds that are pinned by it, and
// the minute from which on the next days may move because of it.
func (l *laying) putChanged() (map[int64]bool, int64, error) {
	none := int64(planning.MaxMinute)
	if l.change.BuildID == 0 {
		return nil, none, nil
	}
	i := slices.IndexFunc(l.works, func(w work) bool { return w.BuildID == l.change.BuildID })
	if i < 0 {
		return nil, none, fault.Bad("/build_id", "There is no such open build.")
	}
	w := l.works[i]
	if w.StartedAt != nil {
		return nil, none, fault.New(fault.Conflict, "Build %s has begun. What has begun stays where it is.", w.Number)
	}
	if w.NeverDry != "" {
		return nil, none, fault.New(fault.Conflict, "Build %s can never begin: pack %s never gets dry.", w.Number, w.NeverDry)
	}
	if w.Lacks != "" {
		return nil, none, fault.New(fault.Conflict, "Build %s cannot be laid. %s", w.Number, w.Lacks)
	}
	free := w
	free.HeldTo = nil
	switch {
	case l.change.LetGo:
		l.works[i] = free
		j := free.job(l.origin, l.loc)
		l.rest = append(l.rest, j)
		return map[int64]bool{w.BuildID: true}, none, nil
	case l.change.HoldTo != nil:
		return l.putHeld(free)
	}
	return l.putMoved(free)
}

// putHeld pins a build to a day of the maker's.
func (l *laying) putHeld(w work) (map[int64]bool, int64, error) {
	day := *l.change.HoldTo
	if first, why := w.notBefore(); first.After(day) {
		return nil, 0, fault.Bad("/hold_to", "Build %s %s %s. Hold it to that day or later.", w.Number, why, show.Date(first))
	}
	w.HeldTo = &day
	j := w.job(l.origin, l.loc)
	p, ok := l.put(w, j)
	if !ok {
		return nil, 0, fault.New(fault.Conflict, "There is no room for build %s from %s on.", w.Number, show.Date(day))
	}
	return map[int64]bool{w.BuildID: true}, p.StartMinute, nil
}

// putMoved pins a build before the one in front of it, or behind the next.
func (l *laying) putMoved(w work) (map[int64]bool, int64, error) {
	me, ok := l.was[strconv.FormatInt(w.BuildID, 10)]
	if !ok {
		return nil, 0, fault.New(fault.Conflict, "Build %s is in no plan yet. Lay one first.", w.Number)
	}
	other, at := l.neighbour(w, me)
	if other == nil {
		return nil, 0, fault.New(fault.Conflict, map[int]string{-1: "No build that could wait stands before %s.", 1: "No build stands behind %s."}[l.change.Move], w.Number)
	}
	first, second := w, *other
	if l.change.Move > 0 {
		first, second, at = *other, w, me
	}
	first.HeldTo = nil
	j := first.job(l.origin, l.loc)
	start := max(0, at.StartMinute)
	if j.ReleaseMinute > start {
		day, why := first.notBefore()
		return nil, 0, fault.New(fault.Conflict, "Build %s cannot go first: it %s %s.", first.Number, why, show.Date(day))
	}
	j.ReleaseMinute = start
	p, ok := l.put(first, j)
	if !ok {
		return nil, 0, fault.New(fault.Conflict, "There is no room for build %s there.", first.Number)
	}
	changed := map[int64]bool{first.BuildID: true}
	if l.change.Move > 0 {
		j := second.job(l.origin, l.loc)
		j.ReleaseMinute = max(j.ReleaseMinute, p.EndMinute)
		if _, ok := l.put(second, j); ok {
			changed[second.BuildID] = true
		}
	}
	return changed, start, nil
}

// neighbour is the build in front of w, or behind it, that has not begun.
func (l *laying) neighbour(w work, me planning.JobPlan) (*work, planning.JobPlan) {
	var best *work
	var at planning.JobPlan
	for i, o := range l.works {
		p, ok := l.was[strconv.FormatInt(o.BuildID, 10)]
		if !ok || o.BuildID == w.BuildID || o.StartedAt != nil {
			continue
		}
		before := p.StartMinute < me.StartMinute || p.StartMinute == me.StartMinute && o.BuildID < w.BuildID
		nearer := best == nil || before && p.StartMinute > at.StartMinute || !before && p.StartMinute < at.StartMinute
		if before == (l.change.Move < 0) && nearer {
			best, at = &l.works[i], p
		}
	}
	return best, at
}

// greedy lays the rest behind what is pinned, in the order of their due dates, and leaves
// out what finds no place.
func (l *laying) greedy() (planning.In, planning.Out) {
	in, out := l.pins, l.pinned
	in.Jobs, out.Jobs, out.Order = slices.Clone(in.Jobs), slices.Clone(out.Jobs), slices.Clone(out.Order)
	slices.SortStableFunc(l.rest, func(a, b planning.Job) int { return int(a.DueMinute - b.DueMinute) })
	kept := l.rest[:0:0]
	for _, j := range l.rest {
		p, err := planning.Earliest(in, out, j)
		if err != nil {
			i := slices.IndexFunc(l.works, func(w work) bool { return strconv.FormatInt(w.BuildID, 10) == j.ID })
			l.leave(l.works[i], l.noHours(l.works[i]))
			continue
		}
		in.Jobs, out.Jobs, out.Order = append(in.Jobs, j), append(out.Jobs, p), append(out.Order, p.ID)
		kept = append(kept, j)
	}
	l.rest = kept
	out.WeightedTardiness = 0
	for k, p := range out.Jobs {
		out.WeightedTardiness += in.Jobs[k].Weight * float64(p.TardyMinutes)
	}
	out = settled(in, out)
	return in, out
}

// leastMovedMS bounds each try to keep more of the plan in force.
const leastMovedMS = 300

// leastMoved keeps as many builds as it can, the soonest first, where the plan in force
// has them, as long as that makes no more late minutes than best.
func (l *laying) leastMoved(ctx context.Context, in planning.In, best planning.Out) (planning.In, planning.Out, error) {
	type stays struct {
		job int
		at  int64
	}
	var list []stays
	for k, j := range in.Jobs {
		if p, ok := l.was[j.ID]; ok && j.FixedStartMinute == nil && p.StartMinute >= j.ReleaseMinute {
			list = append(list, stays{k, p.StartMinute})
		}
	}
	slices.SortFunc(list, func(a, b stays) int { return int(a.at - b.at) })
	bestIn := in
	try := func(n int) bool {
		with := in
		with.Jobs = slices.Clone(in.Jobs)
		for i := range list[:n] {
			with.Jobs[list[i].job].FixedStartMinute = &list[i].at
		}
		out, err := l.plan(ctx, with, leastMovedMS)
		if err != nil || out.WeightedTardiness > best.WeightedTardiness {
			return false
		}
		bestIn, best = with, out
		return true
	}
	lo, hi := 0, len(list) // lo are kept, hi+1 are too many
	if hi > 0 && try(hi) {
		return bestIn, best, nil
	}
	for lo < hi-1 {
		if mid := (lo + hi) / 2; try(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return bestIn, best, nil
}
