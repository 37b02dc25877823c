package planning

import (
	"fmt"
	"math"
	"slices"

	"kerfbook/internal/calc/contract"
)

// Limits of what is taken. They keep every sum far inside 64 bits and every
// search inside its time; a workshop of one is two orders below them.
const (
	MaxJobs      = 2000
	MaxSteps     = 8000       // of all jobs together
	MaxMinute    = 52_704_000 // a hundred years of 366 days
	MaxHands     = 50
	MaxSpells    = 50_000
	maxWeight    = 1e8 // with its decimals taken as whole: 12.5 counts as 125
	maxDecimals  = 6   // of a weight
	maxLimitMS   = 600_000
	stdLimitMS   = 1000
	wholeTol     = 1e-9 // how far from whole a scaled weight may be through its binary form
	maxResources = 1000
)

// need is how many of a resource a step holds.
type need struct{ resource, units int }

// work is one step in the form the searches use.
type work struct {
	job      int
	minutes  int64
	low      int64 // of minutes, on a good day
	high     int64
	wait     int64
	setup    int64
	key      int // batch key, -1 without
	needs    []need
	unbroken bool
	own      *calendar // the hours of what it needs; nil: those of all
}

// build is one job in the form the searches use. Its steps are steps[lo:hi].
type build struct {
	lo, hi       int
	release, due int64
	weight       int64 // scaled
	fixed        int64 // -1 when free
	preds, succs []int
}

// problem is checked input.
type problem struct {
	jobs   []build
	steps  []work
	hands  int // the most at any time
	cal    calendar
	counts []int    // of each resource
	things []string // ids of the resources
	scale  int64    // weights were multiplied by this
	ids    []string
	topo   []int       // jobs, predecessors first
	hours  [][]Stretch // of each resource, by time; nil: always
}

// newProblem checks in and gives it in whole numbers and indices, or an
// *contract.Error that names what to change.
func newProblem(in In) (*problem, error) {
	var c contract.Checks
	if len(in.Jobs) > MaxJobs {
		return nil, contract.Bad("/jobs", "at most %d jobs at a time", MaxJobs)
	}
	p := &problem{}
	checkFrame(&c, in)
	p.cal = newCalendar(&c, in)
	p.hands = p.cal.most
	p.counts = make([]int, len(in.Resources))
	resources := map[string]int{}
	for i, r := range in.Resources {
		at := fmt.Sprintf("/resources/%d", i)
		if _, twice := resources[r.ID]; twice || r.ID == "" {
			c.Add(at+"/id", "every resource needs an id of its own")
		}
		if r.Count < 0 || r.Count > MaxSteps {
			c.Add(at+"/count", "must lie between 0 and %d", MaxSteps)
		}
		resources[r.ID], p.counts[i] = i, r.Count
		p.things = append(p.things, r.ID)
		p.hours = append(p.hours, sortedHours(&c, at, r.Hours))
	}
	p.scale = weightScale(&c, in.Jobs)
	jobs := map[string]int{}
	for i, j := range in.Jobs {
		at := fmt.Sprintf("/jobs/%d", i)
		if _, twice := jobs[j.ID]; twice {
			c.Add(at+"/id", "%q stands twice in the list", j.ID)
		} else if j.ID == "" {
			c.Add(at+"/id", "every job needs an id")
		}
		jobs[j.ID] = i
		p.ids = append(p.ids, j.ID)
	}
	keys := map[string]int{}
	for i, j := range in.Jobs {
		p.addJob(&c, fmt.Sprintf("/jobs/%d", i), j, resources, keys)
		if len(p.steps) > MaxSteps {
			return nil, contract.Bad("/jobs", "at most %d steps in all jobs together", MaxSteps)
		}
	}
	p.link(&c, in.Jobs, jobs)
	if err := c.Err(); err != nil {
		return nil, err
	}
	p.keepHours()
	return p, p.sort(in.Jobs)
}

// checkFrame looks at the fields beside the lists.
func checkFrame(c *contract.Checks, in In) {
	if in.Hands != nil && (*in.Hands < 1 || *in.Hands > MaxHands) {
		c.Add("/hands", "must lie between 1 and %d", MaxHands)
	}
	if in.TimeLimitMS != nil && (*in.TimeLimitMS < 1 || *in.TimeLimitMS > maxLimitMS) {
		c.Add("/time_limit_ms", "must lie between 1 and %d", maxLimitMS)
	}
	if len(in.Resources) > maxResources {
		c.Add("/resources", "at most %d resources", maxResources)
	}
}

// weightScale gives the power of ten that makes all weights whole.
func weightScale(c *contract.Checks, jobs []Job) int64 {
	scale := 1.0
	for i, j := range jobs {
		if !c.Number(fmt.Sprintf("/jobs/%d/weight", i), j.Weight, 0, maxWeight) {
			continue
		}
		for math.Abs(j.Weight*scale-math.Round(j.Weight*scale)) > wholeTol*scale {
			scale *= 10
			if scale > math.Pow10(maxDecimals) {
				c.Add(fmt.Sprintf("/jobs/%d/weight", i), "at most %d decimals", maxDecimals)
				return 1
			}
		}
	}
	for i, j := range jobs {
		if j.Weight*scale > maxWeight {
			c.Add(fmt.Sprintf("/jobs/%d/weight", i), "is too large beside the decimals of the weights")
		}
	}
	return int64(scale)
}

// addJob appends a job and its steps.
func (p *problem) addJob(c *contract.Checks, at string, j Job, resources, keys map[string]int) {
	steps := j.Steps
	switch {
	case j.Minutes != nil && len(j.Steps) > 0:
		c.Add(at, "has both minutes and steps: give one of them")
	case j.Minutes == nil && len(j.Steps) == 0:
		c.Add(at, "has neither minutes nor steps")
	case j.Minutes != nil:
		steps = []Step{{Minutes: *j.Minutes}}
	}
	minute(c, at+"/release_minute", j.ReleaseMinute)
	minute(c, at+"/due_minute", j.DueMinute)
	b := build{lo: len(p.steps), release: j.ReleaseMinute, due: j.DueMinute, fixed: -1,
		weight: int64(math.Round(j.Weight * float64(p.scale)))}
	if f := j.FixedStartMinute; f != nil {
		if minute(c, at+"/fixed_start_minute", *f) && *f < j.ReleaseMinute {
			c.Add(at+"/fixed_start_minute", "%q is held to minute %d but not released before %d", j.ID, *f, j.ReleaseMinute)
		}
		b.fixed = *f
	}
	var total int64
	for k, s := range steps {
		stepAt := fmt.Sprintf("%s/steps/%d", at, k)
		if j.Minutes != nil {
			stepAt = at
		}
		p.steps = append(p.steps, newWork(c, stepAt, len(p.jobs), s, resources, keys))
		total += s.Minutes
	}
	if len(steps) > 0 && total == 0 {
		c.Add(at, "%q is a job of no minutes: give it at least one", j.ID)
	}
	b.hi = len(p.steps)
	p.jobs = append(p.jobs, b)
}

func newWork(c *contract.Checks, at string, job int, s Step, resources, keys map[string]int) work {
	w := work{job: job, minutes: s.Minutes, low: s.Minutes, high: s.Minutes, wait: s.WaitMinutes, unbroken: s.Unbroken, key: -1}
	minute(c, at+"/minutes", s.Minutes)
	minute(c, at+"/wait_minutes", s.WaitMinutes)
	if s.LowMinutes != nil {
		if w.low = *s.LowMinutes; minute(c, at+"/low_minutes", w.low) && w.low > s.Minutes {
			c.Add(at+"/low_minutes", "may not be above minutes")
		}
	}
	if s.HighMinutes != nil {
		if w.high = *s.HighMinutes; minute(c, at+"/high_minutes", w.high) && w.high < s.Minutes {
			c.Add(at+"/high_minutes", "may not be below minutes")
		}
	}
	for n, id := range s.Needs {
		r, ok := resources[id]
		if !ok {
			c.Add(fmt.Sprintf("%s/needs/%d", at, n), "%q is not in the list of resources", id)
			continue
		}
		k := slices.IndexFunc(w.needs, func(x need) bool { return x.resource == r })
		if k < 0 {
			k = len(w.needs)
			w.needs = append(w.needs, need{resource: r})
		}
		w.needs[k].units++
	}
	if s.Batch != nil {
		minute(c, at+"/batch/setup_minutes", s.Batch.SetupMinutes)
		if s.Batch.Key == "" {
			c.Add(at+"/batch/key", "a batch needs a key")
		}
		if s.Minutes == 0 {
			c.Add(at+"/minutes", "a step of no minutes cannot be part of a batch")
		}
		k, ok := keys[s.Batch.Key]
		if !ok {
			k = len(keys)
			keys[s.Batch.Key] = k
		}
		w.key, w.setup = k, s.Batch.SetupMinutes
	}
	return w
}

func minute(c *contract.Checks, at string, m int64) bool {
	if m < 0 || m > MaxMinute {
		c.Add(at, "must lie between 0 and %d minutes", int64(MaxMinute))
		return false
	}
	return true
}

// link turns predecessor ids into indices both ways.
func (p *problem) link(c *contract.Checks, jobs []Job, index map[string]int) {
	for i, j := range jobs {
		seen := map[string]bool{}
		for n, id := range j.Predecessors {
			at := fmt.Sprintf("/jobs/%d/predecessors/%d", i, n)
			k, ok := index[id]
			switch {
			case !ok:
				c.Add(at, "%q is not in the list of jobs", id)
			case seen[id]:
				c.Add(at, "%q stands twice", id)
			default:
				p.jobs[i].preds = append(p.jobs[i].preds, k)
				p.jobs[k].succs = append(p.jobs[k].succs, i)
			}
			seen[id] = true
		}
	}
}

// sort puts predecessors first, or refuses a ring.
func (p *problem) sort(jobs []Job) error {
	left := make([]int, len(p.jobs))
	var open []int
	for i, j := range p.jobs {
		if left[i] = len(j.preds); left[i] == 0 {
			open = append(open, i)
		}
	}
	for len(open) > 0 {
		i := open[0]
		open = open[1:]
		p.topo = append(p.topo, i)
		for _, s := range p.jobs[i].succs {
			if left[s]--; left[s] == 0 {
				open = append(open, s)
			}
		}
	}
	for i := range left {
		if left[i] > 0 {
			return contract.Bad(fmt.Sprintf("/jobs/%d/predecessors", i),
				"%q is part of, or waits for, a ring of jobs that wait for one another: take one predecessor out", jobs[i].ID)
		}
	}
	return nil
}
