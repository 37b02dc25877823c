package planning

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"kerfbook/internal/calc/contract"
)

const (
	// sharedLuck is how much of the luck of a step is that of the whole stretch of
	// work (a bad week, a blunt saw) and not its own, as a correlation; our estimate.
	sharedLuck = 0.3
	// spreadDraws is how many courses of a plan are gone through for its answer,
	// spreadWork the most steps in all of them together.
	spreadDraws, spreadWork = 400, 200_000
	// spreadPct is the certainty of the end that an answer carries.
	spreadPct = 80
)

// Spread plays a plan through so many times (1 or more), with minutes of work
// drawn for each step, and gives for each job its ends in rising order; an end is
// math.MaxInt64 where the calendar ran out. Each hand does its steps in the order
// of the plan, each as soon as it can, held jobs not before their minute. A step
// with low and high minutes takes a triangular time between them with minutes as
// the likeliest; one with only one of them has no luck on the other side. All steps
// share part of their luck. The same input gives the same draws.
//
// Source: triangular distribution as for three-point estimates, Malcolm et al.,
// Oper. Res. 7 (1959) 646-669, with a common factor by a normal copula; from
// memory.
func Spread(in In, plan Out, draws int) ([][]int64, error) {
	p, err := newProblem(in)
	if err != nil {
		return nil, err
	}
	if len(plan.Jobs) != len(p.jobs) {
		return nil, contract.Bad("/jobs", "the plan holds %d jobs, the input %d: lay the plan anew first", len(plan.Jobs), len(p.jobs))
	}
	t := newTimetable(p)
	if err := t.freeze(plan); err != nil {
		return nil, err
	}
	order, hand := t.inOrder(), slices.Clone(t.hand)
	rng := rand.New(rand.NewPCG(firstSeed, secondSeed))
	likely, longest := slices.Clone(p.steps), map[*calendar]int64{nil: p.cal.longest()}
	for _, w := range likely {
		if _, known := longest[w.own]; !known {
			longest[w.own] = w.own.longest()
		}
	}
	ends := make([][]int64, len(p.jobs))
	for range draws {
		common := rng.NormFloat64()
		for s := range p.steps {
			luck := math.Sqrt(sharedLuck)*common + math.Sqrt(1-sharedLuck)*rng.NormFloat64()
			w := &p.steps[s]
			w.minutes = likely[s].drawn(math.Erfc(-luck/math.Sqrt2) / 2)
			// What grows too long for any spell has to be broken off after all.
			w.unbroken = likely[s].unbroken && w.minutes+w.setup <= longest[w.own]
		}
		t.play(order, hand)
		for j := range ends {
			end := int64(never)
			if b := p.jobs[j]; t.placed[j] == b.hi-b.lo {
				end = t.end[b.hi-1]
			}
			ends[j] = append(ends[j], end)
		}
	}
	for _, e := range ends {
		slices.Sort(e)
	}
	return ends, nil
}

// drawn gives the minutes below which a share u of all times of the step lies.
func (w work) drawn(u float64) int64 {
	a, m, b := float64(w.low), float64(w.minutes), float64(w.high)
	if a == b || w.minutes == 0 {
		return w.minutes
	}
	x := a + math.Sqrt(u*(b-a)*(m-a))
	if u > (m-a)/(b-a) {
		x = b - math.Sqrt((1-u)*(b-a)*(b-m))
	}
	return int64(math.Round(x))
}

// inOrder gives the steps by start, predecessors first.
func (t *timetable) inOrder() []int {
	var order []int
	for _, j := range t.p.topo {
		for s := t.p.jobs[j].lo; s < t.p.jobs[j].hi; s++ {
			order = append(order, s)
		}
	}
	sort.SliceStable(order, func(a, b int) bool {
		x, y := order[a], order[b]
		if t.start[x] != t.start[y] {
			return t.start[x] < t.start[y]
		}
		return t.end[x] < t.end[y]
	})
	return order
}

// play lays the steps anew in this order, each behind the last on its hand and as
// early as it can be. A job whose step finds no room, and all that wait for it,
// are left out from there on.
func (t *timetable) play(order, hand []int) {
	t.clear()
	for _, s := range order {
		j := t.p.steps[s].job
		b := &t.p.jobs[j]
		if t.placed[j] < s-b.lo || !t.doneBefore(j) {
			continue
		}
		ready := t.ready(j)
		if s == b.lo {
			ready = max(ready, b.fixed)
		}
		if hand[s] < 0 {
			t.start[s], t.end[s], t.hand[s], t.setup[s] = ready, ready, -1, 0
			t.placed[j]++
			continue
		}
		if t.p.steps[s].minutes == 0 {
			t.p.steps[s].minutes = 1 // a step that went well still takes its hand
		}
		if sp, ok := t.find(s, hand[s], ready, lastGap); ok {
			t.put(s, sp)
			t.placed[j]++
		}
	}
}

// doneBefore tells whether all that j waits for has been placed.
func (t *timetable) doneBefore(j int) bool {
	for _, q := range t.p.jobs[j].preds {
		if t.placed[q] < t.p.jobs[q].hi-t.p.jobs[q].lo {
			return false
		}
	}
	return true
}

// addSpread notes by when each job is done in four of five cases, where any step
// has low or high minutes.
func addSpread(in In, out *Out) error {
	steps, any := 0, false
	for _, j := range in.Jobs {
		for _, s := range stepsOf(j) {
			steps++
			any = any || s.LowMinutes != nil || s.HighMinutes != nil
		}
	}
	if !any {
		return nil
	}
	ends, err := Spread(in, *out, max(1, min(spreadDraws, spreadWork/steps)))
	if err != nil {
		return err
	}
	for j, e := range ends {
		if at := e[(len(e)*spreadPct-1)/100]; at < never {
			out.Jobs[j].EndP80Minute = &at
		}
	}
	return nil
}
