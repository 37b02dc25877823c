package planning

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"

	"kerfbook/internal/calc/contract"
)

const (
	// layWork is the work limit of the list search in gaps looked at. It keeps 60
	// builds of 8 steps under the 200 ms that a page may take, with room to spare.
	layWork = 150_000
	// layTries ends the search of small plans that have nothing left to find.
	layTries = 4000
	// firstSeed and secondSeed make every run draw the same numbers.
	firstSeed, secondSeed = 20_26, 40
)

// improve searches for a good list: the best of several rules, then moves of one
// entry or of one job, kept when the plan gets no worse.
func (l *layer) improve(ctx context.Context, bound int64) ([]int, value) {
	var best []int
	var least value
	for _, list := range l.p.firstLists() {
		if v := l.lay(list); best == nil || v.less(least) {
			best, least = list, v
		}
		if ctx.Err() != nil {
			break
		}
	}
	rng := rand.New(rand.NewPCG(firstSeed, secondSeed))
	l.work = 0
	for try := 0; try < layTries && l.work < layWork && ctx.Err() == nil; try++ {
		if least.failed == 0 && least.tardy <= bound {
			break
		}
		list := l.p.move(rng, best)
		if v := l.lay(list); !least.less(v) {
			best, least = list, v
		}
	}
	return best, least
}

// noPlace names the first job that found no place in the last plan laid.
func (l *layer) noPlace() error {
	for j, failed := range l.failed {
		b := &l.p.jobs[j]
		switch {
		case !failed:
		case b.fixed >= 0:
			return contract.Bad(fmt.Sprintf("/jobs/%d/fixed_start_minute", j),
				"no plan was found in which %q can start at minute %d: what it waits for, or another held job, stands in the way", l.p.ids[j], b.fixed)
		default:
			return contract.Bad(fmt.Sprintf("/jobs/%d", j),
				"no plan was found in which %q can be done: the calendar (to minute %d) holds too few hours for all jobs", l.p.ids[j], l.p.cal.last())
		}
	}
	return nil
}

// firstLists gives lists by several rules: jobs one after the other by due
// minute, by weight for the work, by slack; and steps by the minute at which
// each would have to end for the job to be in time.
func (p *problem) firstLists() [][]int {
	n := len(p.jobs)
	work, tail := make([]float64, n), make([]int64, len(p.steps))
	for j, b := range p.jobs {
		var after int64
		for s := b.hi - 1; s >= b.lo; s-- {
			tail[s] = after
			work[j] += float64(p.steps[s].minutes)
			after += p.steps[s].minutes
			if s > b.lo {
				after += p.steps[s-1].wait
			}
		}
	}
	job := func(f func(j int) float64) []int {
		steps := make([]float64, len(p.steps))
		for s, w := range p.steps {
			steps[s] = f(w.job)
		}
		return p.listBy(steps)
	}
	step := func(f func(s int) float64) []int {
		steps := make([]float64, len(p.steps))
		for s := range steps {
			steps[s] = f(s)
		}
		return p.listBy(steps)
	}
	due := func(j int) float64 { return float64(p.jobs[j].due) }
	weight := func(j int) float64 { return float64(p.jobs[j].weight) }
	return [][]int{
		job(due),
		job(func(j int) float64 { return -weight(j) / work[j] }),
		job(func(j int) float64 { return due(j) - work[j] }),
		job(func(j int) float64 { return float64(p.jobs[j].release) }),
		job(func(j int) float64 { return -weight(j) }),
		step(func(s int) float64 { return due(p.steps[s].job) - float64(tail[s]) }),
		step(func(s int) float64 { return due(p.steps[s].job) - float64(tail[s]+p.steps[s].minutes) }),
		step(func(s int) float64 { return float64(s - p.jobs[p.steps[s].job].lo) }),
	}
}

// listBy sorts the steps by key, equal ones by job and step, and gives their jobs.
func (p *problem) listBy(key []float64) []int {
	steps := make([]int, len(p.steps))
	for s := range steps {
		steps[s] = s
	}
	sort.SliceStable(steps, func(a, b int) bool { return key[steps[a]] < key[steps[b]] })
	for i, s := range steps {
		steps[i] = p.steps[s].job
	}
	return steps
}

// move gives a changed copy of list: one entry put elsewhere, two entries
// swapped, or all entries of a job gathered at one place.
func (p *problem) move(rng *rand.Rand, list []int) []int {
	n := len(list)
	out := append(make([]int, 0, n), list...)
	i, k := rng.IntN(n), rng.IntN(n)
	switch rng.IntN(4) {
	case 0, 1:
		j := out[i]
		out = slices.Insert(slices.Delete(out, i, i+1), k, j)
	case 2:
		out[i], out[k] = out[k], out[i]
	default:
		j := out[i]
		out = slices.DeleteFunc(out, func(x int) bool { return x == j })
		k = rng.IntN(len(out) + 1)
		block := slices.Repeat([]int{j}, n-len(out))
		out = slices.Insert(out, k, block...)
	}
	return out
}
