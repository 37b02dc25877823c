package workshop

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"kerfbook/internal/calc/planning"
)

// Ask is work that a question asks for, in minutes.
type Ask struct {
	Minutes     float64 // at the bench
	DryMinutes  float64 // of them, that need dry weather
	WaitMinutes float64 // by the clock, afterwards

	Parts    []AskPart // what the minutes that do not need dry weather are, in their order; may be left out
	DryOwner bool      // those that do are the owner's alone
}

// AskPart is work of an [Ask] that waits for the same.
type AskPart struct {
	Minutes   float64
	OwnerOnly bool
	Needs     []string // limited things
}

func (p AskPart) needs() []string {
	return Operation{OwnerOnly: p.OwnerOnly, Needs: p.Needs}.needs()
}

// asked is work that is asked about, as a job, and whether its last step needs dry weather.
// Whatever is asked takes a minute of somebody.
func (b *Bench) asked(a Ask, notBefore time.Time) (planning.Job, bool) {
	b.held++
	job := planning.Job{ID: "asked " + strconv.Itoa(b.held), ReleaseMinute: max(b.now, minuteAt(b.origin, notBefore, 0, b.loc)), DueMinute: planning.MaxMinute / 2, Weight: 1}
	work := int64(math.Ceil(max(1, a.Minutes)))
	dry := min(int64(math.Ceil(max(0, a.DryMinutes))), work)
	job.Steps = b.askedSteps(work-dry, a.Parts)
	if dry > 0 {
		job.Steps = append(job.Steps, planning.Step{Minutes: dry, Needs: b.reckoned(AskPart{OwnerOnly: a.DryOwner})})
	}
	return job, dry > 0
}

// askedSteps are so many minutes of work in the steps that its parts make, those that wait
// for the same in one. Where one person does all there is, they are one step: nothing of
// theirs waits for anything but that person.
func (b *Bench) askedSteps(minutes int64, parts []AskPart) []planning.Step {
	if minutes <= 0 {
		return nil
	}
	sum := 0.0
	for _, p := range parts {
		sum += max(0, p.Minutes)
	}
	if sum <= 0 || !b.shared() && b.Lacks(parts) == "" {
		return []planning.Step{{Minutes: minutes}}
	}
	var steps []planning.Step
	passed, done := 0.0, int64(0)
	for _, p := range parts {
		passed += max(0, p.Minutes)
		upTo := int64(math.Round(passed / sum * float64(minutes)))
		needs := b.reckoned(p)
		switch k := len(steps) - 1; {
		case upTo == done:
		case k >= 0 && slices.Equal(steps[k].Needs, needs):
			steps[k].Minutes += upTo - done
		default:
			steps = append(steps, planning.Step{Minutes: upTo - done, Needs: needs})
		}
		done = upTo
	}
	return steps
}

// reckoned gives what a part waits for, and sees to it that the plan's question knows it.
func (b *Bench) reckoned(p AskPart) []string {
	needs := p.needs()
	b.limits.known(p.Needs)
	for _, id := range needs {
		if !slices.ContainsFunc(b.in.Resources, func(r planning.Resource) bool { return r.ID == id }) {
			b.in.Resources = b.limits.resources()
		}
	}
	return needs
}

// shared tells whether there are ever two at the bench, or somebody while the owner is not.
func (b *Bench) shared() bool {
	return b.limits.own != nil || b.limits.noOwner || slices.ContainsFunc(b.in.Calendar, func(s planning.Spell) bool { return s.Hands != nil && *s.Hands > 1 })
}

// Shared tells whether others than the owner are ever at the bench.
func (b *Bench) Shared() bool { return b.shared() }

// Lacks says which limited thing keeps work from ever being done; "" when none does.
func (b *Bench) Lacks(parts []AskPart) string {
	for _, p := range parts {
		b.limits.known(p.Needs)
		wanted := map[string]int{}
		for _, need := range p.Needs {
			key := thingKey(need)
			if wanted[key]++; b.limits.counts[key] == 0 {
				return fmt.Sprintf("It needs %s, and there is none: put away.", b.limits.names[key])
			} else if wanted[key] > b.limits.counts[key] {
				return fmt.Sprintf("It needs %s, and there are too few: the book has %d.", b.limits.names[key], b.limits.counts[key])
			}
		}
	}
	return ""
}

// Fit is [Bench.FitAsk] for work that anybody does and that waits for nothing.
func (b *Bench) Fit(minutes, waitMinutes float64, notBefore time.Time, hold bool) (BenchTime, error) {
	return b.FitAsk(Ask{Minutes: minutes, WaitMinutes: waitMinutes}, notBefore, hold)
}

// FitAsk gives the soonest time at which asked work, with waits by the clock after it, is
// done without moving anything else, whatever the weather; notBefore is the first day on
// which it may begin. When hold is true the time is taken for what is asked of this Bench
// afterwards. Errors: Conflict when there is no room within the plan's reach.
func (b *Bench) FitAsk(a Ask, notBefore time.Time, hold bool) (BenchTime, error) {
	wait := int64(math.Ceil(max(0, a.WaitMinutes)))
	job, _ := b.asked(a, notBefore)
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
