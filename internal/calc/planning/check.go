package planning

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// Check tells whether out is a lawful plan for in, and nil when it is. It is
// written apart from the code that lays plans and shares nothing with it: every
// rule of the contract is looked at again from the plan's own minutes.
func Check(in In, out Out) error {
	c := checker{in: in, out: out, index: map[string]int{}}
	for _, rule := range []func() error{c.all, c.steps, c.waits, c.busy, c.shared, c.sums, c.sequence} {
		if err := rule(); err != nil {
			return fmt.Errorf("the plan breaks a rule: %w", err)
		}
	}
	return nil
}

type checker struct {
	in    In
	out   Out
	index map[string]int
	opens map[string][]Spell // what openTo gave, by what is needed
}

// stepsOf gives the steps of a job in either form.
func stepsOf(j Job) []Step {
	if j.Minutes != nil {
		return []Step{{Minutes: *j.Minutes}}
	}
	return j.Steps
}

// spells gives the open time, or nil for always open.
func (c *checker) spells() ([]Spell, int) {
	std := 1
	if c.in.Hands != nil {
		std = *c.in.Hands
	}
	most := std
	if c.in.Calendar != nil {
		most = 0
	}
	var open []Spell
	for _, s := range c.in.Calendar {
		hands := std
		if s.Hands != nil {
			hands = *s.Hands
		}
		most = max(most, hands)
		if hands > 0 {
			open = append(open, Spell{s.FromMinute, s.ToMinute, &hands})
		}
	}
	sort.Slice(open, func(a, b int) bool { return open[a].FromMinute < open[b].FromMinute })
	return open, most
}

// places is how many steps may be under way at once: those that work, and those that
// pause because what they need is not there.
func (c *checker) places(most int) int {
	steps, needed := 0, map[string]bool{}
	for _, j := range c.in.Jobs {
		for _, s := range stepsOf(j) {
			steps++
			for _, id := range s.Needs {
				needed[id] = true
			}
		}
	}
	pausing := 0
	for _, r := range c.in.Resources {
		if r.Hours != nil && needed[r.ID] {
			pausing += min(r.Count, steps)
		}
	}
	return most + min(pausing, MaxHands)
}

// keepsHours tells whether a step needs something that is not always there.
func (c *checker) keepsHours(s Step) bool {
	return slices.ContainsFunc(c.in.Resources, func(r Resource) bool { return r.Hours != nil && slices.Contains(s.Needs, r.ID) })
}

// openTo gives the open time in which a step may work: that of all, less the time in which
// something it needs is not there.
func (c *checker) openTo(open []Spell, s Step) []Spell {
	if !c.keepsHours(s) {
		return open
	}
	key := strings.Join(s.Needs, "\n")
	if known, ok := c.opens[key]; ok {
		return known
	}
	if c.opens == nil {
		c.opens = map[string][]Spell{}
	}
	for _, r := range c.in.Resources {
		if r.Hours == nil || !slices.Contains(s.Needs, r.ID) {
			continue
		}
		both := []Spell{}
		for _, h := range r.Hours {
			if open == nil {
				both = append(both, Spell{FromMinute: h.FromMinute, ToMinute: h.ToMinute})
				continue
			}
			first := sort.Search(len(open), func(k int) bool { return open[k].ToMinute > h.FromMinute })
			for _, o := range open[first:] {
				if o.FromMinute >= h.ToMinute {
					break
				}
				both = append(both, Spell{FromMinute: max(o.FromMinute, h.FromMinute), ToMinute: min(o.ToMinute, h.ToMinute)})
			}
		}
		sort.Slice(both, func(a, b int) bool { return both[a].FromMinute < both[b].FromMinute })
		open = both
	}
	c.opens[key] = open
	return open
}

// worked gives the open minutes from a to b.
func worked(open []Spell, a, b int64) int64 {
	if open == nil {
		return b - a
	}
	var sum int64
	first := sort.Search(len(open), func(k int) bool { return open[k].ToMinute > a })
	for _, s := range open[first:] {
		if s.FromMinute >= b {
			break
		}
		sum += min(s.ToMinute, b) - max(s.FromMinute, a)
	}
	return sum
}

// all looks that every job is planned once, in the order of the input.
func (c *checker) all() error {
	if len(c.out.Jobs) != len(c.in.Jobs) {
		return fmt.Errorf("%d jobs planned of %d", len(c.out.Jobs), len(c.in.Jobs))
	}
	for i, j := range c.in.Jobs {
		plan := c.out.Jobs[i]
		if plan.ID != j.ID || len(plan.Steps) != len(stepsOf(j)) {
			return fmt.Errorf("job %q is not planned with all its steps", j.ID)
		}
		if plan.StartMinute != plan.Steps[0].StartMinute || plan.EndMinute != plan.Steps[len(plan.Steps)-1].EndMinute {
			return fmt.Errorf("job %q does not run from its first step to its last", j.ID)
		}
		c.index[j.ID] = i
	}
	return nil
}

// steps looks at the work of each step: long enough, in open time, not broken.
func (c *checker) steps() error {
	all, most := c.spells()
	most = c.places(most)
	for i, j := range c.in.Jobs {
		for k, s := range stepsOf(j) {
			at, open := c.out.Jobs[i].Steps[k], c.openTo(all, s)
			need := s.Minutes + at.SetupMinutes
			switch {
			case at.SetupMinutes != 0 && (s.Batch == nil || at.SetupMinutes != s.Batch.SetupMinutes):
				return fmt.Errorf("job %q step %d pays a set-up that is not its own", j.ID, k+1)
			case need == 0 && at.StartMinute == at.EndMinute:
				continue
			case at.Hand < 1 || at.Hand > most:
				return fmt.Errorf("job %q step %d is on no hand", j.ID, k+1)
			case worked(open, at.StartMinute, at.EndMinute) != need:
				return fmt.Errorf("job %q step %d has not the minutes it needs", j.ID, k+1)
			case worked(open, at.StartMinute, at.StartMinute+1) != 1 || worked(open, at.EndMinute-1, at.EndMinute) != 1:
				return fmt.Errorf("job %q step %d starts or ends in closed time", j.ID, k+1)
			case s.Unbroken && at.EndMinute-at.StartMinute != need:
				return fmt.Errorf("job %q step %d is broken", j.ID, k+1)
			}
		}
	}
	return nil
}

// waits looks at releases, held starts, waits and predecessors.
func (c *checker) waits() error {
	for i, j := range c.in.Jobs {
		plan := c.out.Jobs[i]
		if plan.StartMinute < j.ReleaseMinute {
			return fmt.Errorf("job %q starts before its release", j.ID)
		}
		if j.FixedStartMinute != nil && plan.StartMinute != *j.FixedStartMinute {
			return fmt.Errorf("job %q does not start at its held minute", j.ID)
		}
		for _, id := range j.Predecessors {
			if plan.StartMinute < c.out.Jobs[c.index[id]].EndMinute {
				return fmt.Errorf("job %q starts before %q has ended", j.ID, id)
			}
		}
		steps := stepsOf(j)
		for k := 1; k < len(steps); k++ {
			if plan.Steps[k].StartMinute < plan.Steps[k-1].EndMinute+steps[k-1].WaitMinutes {
				return fmt.Errorf("job %q step %d does not wait for the one before", j.ID, k+1)
			}
		}
	}
	return nil
}

// change is a minute at which more or fewer of something are in use.
type change struct {
	at int64
	by int
}

// over tells whether more than limit are ever in use. At one minute what ends
// goes before what starts.
func over(changes []change, limit int) bool {
	sort.Slice(changes, func(a, b int) bool {
		if changes[a].at != changes[b].at {
			return changes[a].at < changes[b].at
		}
		return changes[a].by < changes[b].by
	})
	used := 0
	for _, ch := range changes {
		if used += ch.by; used > limit {
			return true
		}
	}
	return false
}

// busy looks that no more hands work than there are, in each spell, and that no
// more of a resource is in use than there is.
func (c *checker) busy() error {
	open, most := c.spells()
	held := map[string][]change{}
	var hands []change
	for i, j := range c.in.Jobs {
		for k, s := range stepsOf(j) {
			at := c.out.Jobs[i].Steps[k]
			if at.StartMinute == at.EndMinute {
				continue
			}
			hands = append(hands, c.atWork(open, s, at)...)
			for _, id := range s.Needs {
				held[id] = append(held[id], change{at.StartMinute, 1}, change{at.EndMinute, -1})
			}
		}
	}
	for _, r := range c.in.Resources {
		if over(held[r.ID], r.Count) {
			return fmt.Errorf("more of %q are in use than there are", r.ID)
		}
	}
	// Where a spell has fewer hands than the best one, the missing ones are busy
	// elsewhere.
	for _, s := range open {
		if away := most - *s.Hands; away > 0 {
			hands = append(hands, change{s.FromMinute, away}, change{s.ToMinute, -away})
		}
	}
	if over(hands, most) {
		return fmt.Errorf("more hands work than there are")
	}
	return nil
}

// atWork gives when a step takes a hand and gives it back: throughout, or only while what
// it needs is there.
func (c *checker) atWork(open []Spell, s Step, at StepPlan) []change {
	if !c.keepsHours(s) {
		return []change{{at.StartMinute, 1}, {at.EndMinute, -1}}
	}
	var out []change
	for _, o := range c.openTo(open, s) {
		if from, to := max(o.FromMinute, at.StartMinute), min(o.ToMinute, at.EndMinute); from < to {
			out = append(out, change{from, 1}, change{to, -1})
		}
	}
	return out
}

// shared looks at each hand by itself: one step at a time, and every set-up paid
// where the step before has another key.
func (c *checker) shared() error {
	type turn struct {
		StepPlan
		job   string
		batch *Batch
	}
	hands := map[int][]turn{}
	for i, j := range c.in.Jobs {
		for k, s := range stepsOf(j) {
			if at := c.out.Jobs[i].Steps[k]; at.EndMinute > at.StartMinute {
				hands[at.Hand] = append(hands[at.Hand], turn{at, j.ID, s.Batch})
			}
		}
	}
	for _, turns := range hands {
		sort.Slice(turns, func(a, b int) bool { return turns[a].StartMinute < turns[b].StartMinute })
		for k, t := range turns {
			if k > 0 && t.StartMinute < turns[k-1].EndMinute {
				return fmt.Errorf("%q and %q are on one hand at once", turns[k-1].job, t.job)
			}
			var due int64
			if t.batch != nil && (k == 0 || turns[k-1].batch == nil || turns[k-1].batch.Key != t.batch.Key) {
				due = t.batch.SetupMinutes
			}
			if t.SetupMinutes != due {
				return fmt.Errorf("a step of %q pays %d minutes of set-up where %d are due", t.job, t.SetupMinutes, due)
			}
		}
	}
	return nil
}

// sumTol is how far a sum of floating numbers may be off, relative to its size.
const sumTol = 1e-9

// sums looks at tardy minutes, their weighted sum and the bound.
func (c *checker) sums() error {
	total := 0.0
	for i, j := range c.in.Jobs {
		plan := c.out.Jobs[i]
		if plan.TardyMinutes != max(0, plan.EndMinute-j.DueMinute) {
			return fmt.Errorf("the tardy minutes of %q are wrong", j.ID)
		}
		total += j.Weight * float64(plan.TardyMinutes)
	}
	tol := sumTol * max(1, total)
	switch {
	case math.Abs(total-c.out.WeightedTardiness) > tol:
		return fmt.Errorf("the weighted tardiness is %g, not %g", total, c.out.WeightedTardiness)
	case c.out.Bound > c.out.WeightedTardiness+tol || c.out.Bound < 0:
		return fmt.Errorf("the bound %g does not lie between nothing and the plan", c.out.Bound)
	case c.out.Proved != (c.out.Bound == c.out.WeightedTardiness):
		return fmt.Errorf("proved says otherwise than the bound")
	}
	return nil
}

// sequence looks at the order of the ids.
func (c *checker) sequence() error {
	if len(c.out.Order) != len(c.in.Jobs) {
		return fmt.Errorf("the order names %d of %d jobs", len(c.out.Order), len(c.in.Jobs))
	}
	seen := map[string]bool{}
	last := int64(math.MinInt64)
	for _, id := range c.out.Order {
		i, ok := c.index[id]
		if !ok || seen[id] || c.out.Jobs[i].StartMinute < last {
			return fmt.Errorf("the order is not that of the starts")
		}
		seen[id], last = true, c.out.Jobs[i].StartMinute
	}
	return nil
}
