package workshop

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

// Slip is a build that will not be done by its day as things stand.
type Slip struct {
	BenchJob
	PlannedOn *time.Time // end in the plan in force as it was laid; nil: not in it
	Causes    []string
	Ways      []Way
}

// The kinds of ways out of a slip.
const (
	WayHours  = "hours"
	WayBefore = "go before"
	WaySplit  = "split"
	WayBoards = "boards"
)

// Way is what would save a promise.
type Way struct {
	Kind    string
	Text    string
	Minutes int64       // more at the bench, for WayHours
	Change  *PlanChange // lays a plan that does it; nil: it is for the maker to do
}

// extraDays, extraStep and extraMost bound the hours that are proposed: within a week, by
// the hour, at most four a day.
const (
	extraDays = 7
	extraStep = 60
	extraMost = 4 * 60
)

// Slips gives the builds that will be late as things stand, the latest first, with why and
// what would save them.
func (r *Room) Slips(ctx context.Context) ([]Slip, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	planIn, planOut, origin, have, err := currentPlan(ctx, r.db)
	if err != nil {
		return nil, err
	}
	b, err := r.benchIn(ctx, r.db, set.Location())
	if err != nil {
		return nil, err
	}
	jobs, err := b.Jobs()
	if err != nil {
		return nil, err
	}
	now, err := calendarIn(ctx, r.db, b.origin, b.loc, planDays+int(b.now/(24*60)))
	if err != nil {
		return nil, err
	}
	var out []Slip
	for _, j := range jobs {
		s := Slip{BenchJob: j}
		var was *planning.JobPlan
		if k := slices.IndexFunc(planOut.Jobs, func(p planning.JobPlan) bool { return have && p.ID == strconv.FormatInt(j.BuildID, 10) }); k >= 0 {
			was = &planOut.Jobs[k]
			on := dateOf(origin.Add(time.Duration(was.EndMinute-1) * time.Minute).In(b.loc))
			s.PlannedOn = &on
		}
		slipped := s.PlannedOn != nil && j.EndsOn.After(*s.PlannedOn)
		if j.LateDays == 0 && (j.RiskDays == 0 || !slipped) {
			continue
		}
		if slipped {
			s.Causes = b.causes(j, planIn, *was, now.spells)
		}
		if j.Waits != "" {
			s.Causes = append(s.Causes, fmt.Sprintf("Build %s %s.", j.Number, j.Waits))
		}
		s.Ways = b.ways(j)
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(x, y Slip) int { return y.LateDays - x.LateDays })
	return out, nil
}

// causes says what has come in the way since the plan was laid: longer work on this build
// and those before it, later timber, hours taken away.
func (b *Bench) causes(j BenchJob, planned planning.In, was planning.JobPlan, now []planning.Spell) []string {
	var out []string
	for _, p := range b.out.Jobs {
		k := slices.IndexFunc(b.in.Jobs, func(x planning.Job) bool { return x.ID == p.ID })
		w := slices.IndexFunc(b.works, func(w work) bool { return strconv.FormatInt(w.BuildID, 10) == p.ID })
		old := slices.IndexFunc(planned.Jobs, func(x planning.Job) bool { return x.ID == p.ID })
		if k < 0 || w < 0 || p.StartMinute > b.minuteOf(j.StartsAt) {
			continue
		}
		if old < 0 {
			if p.ID != strconv.FormatInt(j.BuildID, 10) {
				out = append(out, fmt.Sprintf("Build %s came after the plan was laid.", b.works[w].Number))
			}
			continue
		}
		spent, left := 0.0, int64(0)
		for _, o := range b.works[w].Ops {
			spent += o.SpentMin
		}
		for _, s := range b.in.Jobs[k].Steps {
			left += s.Minutes + batchOf(s)
		}
		standard := 0.0
		for _, o := range b.works[w].Ops {
			standard += o.StandardMin(b.works[w].Quantity)
		}
		if more := spent + float64(left) - standard; more >= 30 {
			out = append(out, fmt.Sprintf("Build %s takes %s more than its standard.", b.works[w].Number, show.Minutes(int64(more))))
		}
		if _, why := b.works[w].notBefore(); b.in.Jobs[k].ReleaseMinute > planned.Jobs[old].ReleaseMinute+24*60 && why != "" && b.works[w].StartedAt == nil && b.works[w].job(b.origin, b.loc).ReleaseMinute > planned.Jobs[old].ReleaseMinute+24*60 {
			day, why := b.works[w].notBefore()
			out = append(out, fmt.Sprintf("Build %s %s %s.", b.works[w].Number, why, show.Date(day)))
		}
	}
	if lost := openBetween(planned.Calendar, b.now, was.EndMinute) - openBetween(now, b.now, was.EndMinute); lost >= 30 {
		out = append(out, fmt.Sprintf("%s at the bench were taken out since the plan was laid.", show.Minutes(lost)))
	}
	out = append(out, b.limits.fewerThan(planned)...)
	if len(out) == 0 {
		out = append(out, "The work before it is not as far as the plan had it.")
	}
	return out
}

func (b *Bench) minuteOf(at time.Time) int64 { return int64(at.Sub(b.origin).Minutes()) }

// openBetween sums the hours of all hands.
func openBetween(spells []planning.Spell, from, to int64) int64 {
	sum := int64(0)
	for _, s := range spells {
		hands := int64(1)
		if s.Hands != nil {
			hands = int64(*s.Hands)
		}
		sum += hands * max(0, min(to, s.ToMinute)-max(from, s.FromMinute))
	}
	return sum
}

// replayed gives by how many days each build would be late if in were so, and the end of
// one of them; false where it finds no room.
func (b *Bench) replayed(in planning.In, plan planning.Out, build int64) (map[string]int, time.Time, bool) {
	out, lost, err := planning.Replay(in, plan)
	id := strconv.FormatInt(build, 10)
	if err != nil || slices.Contains(lost, id) {
		return nil, time.Time{}, false
	}
	late := map[string]int{}
	var end time.Time
	for _, p := range out.Jobs {
		k := slices.IndexFunc(b.works, func(w work) bool { return strconv.FormatInt(w.BuildID, 10) == p.ID })
		if k < 0 {
			continue
		}
		on := b.lastDay(p.EndMinute)
		if due := b.works[k].due(); due != nil {
			late[p.ID] = daysBeyond(on, *due)
		}
		if p.ID == id {
			end = on
		}
	}
	return late, end, true
}

// ways looks for what would have a build done by its day without making another late.
func (b *Bench) ways(j BenchJob) []Way {
	id := strconv.FormatInt(j.BuildID, 10)
	k := slices.IndexFunc(b.in.Jobs, func(x planning.Job) bool { return x.ID == id })
	w := slices.IndexFunc(b.works, func(x work) bool { return x.BuildID == j.BuildID })
	if k < 0 || w < 0 || j.LateDays == 0 {
		return nil
	}
	var out []Way
	for _, way := range []func(work, int) *Way{b.moreHours, b.goBefore, b.splitOff, b.otherBoards} {
		if x := way(b.works[w], k); x != nil {
			out = append(out, *x)
		}
	}
	return out
}

// moreHours finds how many hours more in the coming week would do it: on the working days
// up to the day by which the build must be done, as evenly as can be.
func (b *Bench) moreHours(w work, k int) *Way {
	today := dateOf(b.at(b.now).In(b.loc))
	var ends []int64 // of the last spell of each working day of the week
	days, until := extraDays, fmt.Sprintf("in the next %d days", extraDays)
	if due := w.due(); due != nil && due.Before(today.AddDate(0, 0, extraDays)) && !due.Before(today) {
		days, until = int(due.Sub(today).Hours()/24)+1, "by "+show.Date(*due)
	}
	for d := range days {
		start, end := max(b.now, minuteAt(b.origin, today, d, b.loc)), minuteAt(b.origin, today, d+1, b.loc)
		last := int64(-1)
		for _, s := range b.in.Calendar {
			if s.ToMinute > start && s.ToMinute <= end {
				last = max(last, s.ToMinute)
			}
		}
		if last >= 0 {
			ends = append(ends, last)
		}
	}
	if len(ends) == 0 {
		return nil
	}
	for extra := int64(extraStep); extra <= extraMost*int64(len(ends)); extra += extraStep {
		each := int64(math.Ceil(float64(extra)/float64(len(ends))/15)) * 15
		in := b.in
		in.Calendar = slices.Clone(b.in.Calendar)
		longer := b.limits
		longer.own = slices.Clone(b.limits.own)
		left, one := extra, 1
		for _, end := range ends {
			if more := min(each, left); more > 0 {
				in.Calendar = append(in.Calendar, planning.Spell{FromMinute: end, ToMinute: end + more, Hands: &one})
				left -= more
				if longer.own != nil {
					longer.own = append(longer.own, planning.Stretch{FromMinute: end, ToMinute: end + more})
				}
			}
		}
		in.Resources = longer.resources()
		in.Jobs = slices.Clone(b.in.Jobs)
		for i := range in.Jobs { // more hours may bring work forward
			in.Jobs[i].ReleaseMinute = max(b.now, min(in.Jobs[i].ReleaseMinute, b.trueRelease(in.Jobs[i].ID)))
		}
		late, on, ok := b.replayed(in, b.out, w.BuildID)
		if ok && late[in.Jobs[k].ID] == 0 {
			return &Way{Kind: WayHours, Minutes: extra, Text: fmt.Sprintf("Work %s more %s: done on %s then.", show.Minutes(extra), until, show.Date(on))}
		}
	}
	return nil
}

// trueRelease is the soonest minute at which a build may begin, whatever the plan says.
func (b *Bench) trueRelease(id string) int64 {
	k := slices.IndexFunc(b.works, func(w work) bool { return strconv.FormatInt(w.BuildID, 10) == id })
	if k < 0 {
		return planning.MaxMinute
	}
	return b.works[k].job(b.origin, b.loc).ReleaseMinute
}

// goBefore finds a build that can wait: one that stands before this one and is still in
// time behind it.
func (b *Bench) goBefore(w work, k int) *Way {
	if w.StartedAt != nil {
		return nil
	}
	me := b.out.Jobs[k]
	before, _, ok := b.replayed(b.in, b.out, w.BuildID)
	if !ok {
		return nil
	}
	for x := len(b.out.Jobs) - 1; x >= 0; x-- {
		other := b.out.Jobs[x]
		o := slices.IndexFunc(b.works, func(y work) bool { return strconv.FormatInt(y.BuildID, 10) == other.ID })
		if o < 0 || other.StartMinute >= me.StartMinute || b.works[o].StartedAt != nil || b.works[o].HeldTo != nil {
			continue
		}
		in, plan := b.in, b.out
		in.Jobs, plan.Jobs = slices.Clone(in.Jobs), slices.Clone(plan.Jobs)
		in.Jobs[k].ReleaseMinute = max(b.now, b.trueRelease(me.ID), other.StartMinute)
		if in.Jobs[k].ReleaseMinute > other.StartMinute {
			continue
		}
		first := me
		first.Steps = slices.Clone(me.Steps)
		for i := range first.Steps {
			first.Steps[i].StartMinute = other.StartMinute - int64(len(first.Steps)-i)
			first.Steps[i].EndMinute = first.Steps[i].StartMinute
		}
		plan.Jobs[k] = first
		late, on, ok := b.replayed(in, plan, w.BuildID)
		if !ok || late[me.ID] > 0 || worse(before, late) {
			continue
		}
		day := dateOf(b.at(other.StartMinute).In(b.loc))
		return &Way{Kind: WayBefore, Change: &PlanChange{BuildID: w.BuildID, HoldTo: &day}, Text: fmt.Sprintf("Do it before build %s, which has time: begun on %s it is done on %s.", b.works[o].Number, show.Date(day), show.Date(on))}
	}
	return nil
}

func worse(before, after map[string]int) bool {
	for id, days := range after {
		if days > before[id] {
			return true
		}
	}
	return false
}

// splitOff tells whether making the ordered pieces first would do.
func (b *Bench) splitOff(w work, k int) *Way {
	if w.Units == 0 || w.Units >= w.Open {
		return nil
	}
	in := b.in
	in.Jobs = slices.Clone(in.Jobs)
	in.Jobs[k].Steps = slices.Clone(in.Jobs[k].Steps)
	todo, saved := w.todo(), int64(0)
	for i := range in.Jobs[k].Steps {
		if at := i + len(todo) - len(in.Jobs[k].Steps); at >= 0 {
			less := int64(todo[at].PieceMin.InexactFloat64() * float64(w.Open-w.Units))
			less = min(less, in.Jobs[k].Steps[i].Minutes-1)
			in.Jobs[k].Steps[i].Minutes -= max(0, less)
			saved += max(0, less)
		}
	}
	late, on, ok := b.replayed(in, b.out, w.BuildID)
	if !ok || late[in.Jobs[k].ID] > 0 {
		return nil
	}
	return &Way{Kind: WaySplit, Text: fmt.Sprintf("Make the %d that are ordered first and the %d for the shelf later: saves %s, done on %s.", w.Units, w.Open-w.Units, show.Minutes(saved), show.Date(on))}
}

// otherBoards tells whether boards that are there now would do, where it waits for a pack.
func (b *Bench) otherBoards(w work, k int) *Way {
	if w.TimberOn == nil {
		return nil
	}
	now := w
	now.TimberOn = nil
	in := b.in
	in.Jobs = slices.Clone(in.Jobs)
	in.Jobs[k].ReleaseMinute = max(b.now, now.job(b.origin, b.loc).ReleaseMinute)
	late, on, ok := b.replayed(in, b.out, w.BuildID)
	if !ok || late[in.Jobs[k].ID] > 0 {
		return nil
	}
	return &Way{Kind: WayBoards, Text: fmt.Sprintf("Buy or dress boards instead of waiting for the pack: done on %s if they are there now.", show.Date(on))}
}
