package planning

import (
	"fmt"

	"kerfbook/internal/calc/contract"
)

// heads gives the earliest end of each job when nothing but its own steps, its
// predecessors and the calendar stand in its way. A job that cannot end even so
// can never be done: a *contract.Error names it and why.
func (p *problem) heads() ([]int64, error) {
	ends := make([]int64, len(p.jobs))
	for _, j := range p.topo {
		b := &p.jobs[j]
		at := b.release
		for _, q := range b.preds {
			at = max(at, ends[q])
		}
		if b.fixed >= 0 {
			if at > b.fixed {
				return nil, contract.Bad(fmt.Sprintf("/jobs/%d/fixed_start_minute", j),
					"%q can never start at minute %d: what it waits for ends at minute %d at the earliest", p.ids[j], b.fixed, at)
			}
			at = b.fixed
		}
		for s := b.lo; s < b.hi; s++ {
			end, err := p.alone(j, s, at)
			if err != nil {
				return nil, err
			}
			ends[j], at = end, end+p.steps[s].wait
		}
		if ends[j] > MaxMinute {
			return nil, contract.Bad(fmt.Sprintf("/jobs/%d", j),
				"%q cannot be done within a hundred years: its work and waits, and what it waits for, end at minute %d at the earliest", p.ids[j], ends[j])
		}
	}
	return ends, nil
}

// alone gives the end of step s when it may start at minute at and nothing else
// is in the way.
func (p *problem) alone(j, s int, at int64) (int64, error) {
	b, w := &p.jobs[j], &p.steps[s]
	if w.minutes == 0 {
		return at, nil
	}
	for _, n := range w.needs {
		if p.counts[n.resource] < n.units {
			return 0, contract.Bad(fmt.Sprintf("/jobs/%d", j),
				"%q can never start step %d: it needs %d of resource %q, there are %d", p.ids[j], s-b.lo+1, n.units, p.things[n.resource], p.counts[n.resource])
		}
	}
	start, end := p.open(w).span(at, w.minutes, w.unbroken)
	switch {
	case end == never && w.own != nil:
		return 0, contract.Bad(fmt.Sprintf("/jobs/%d", j),
			"%q can never be done: after minute %d there are too few hours of what step %d needs", p.ids[j], at, s-b.lo+1)
	case end == never && w.unbroken && start == never:
		return 0, contract.Bad(fmt.Sprintf("/jobs/%d", j),
			"%q can never start step %d: from minute %d on no spell of the calendar holds %d unbroken minutes", p.ids[j], s-b.lo+1, at, w.minutes)
	case end == never:
		return 0, contract.Bad(fmt.Sprintf("/jobs/%d", j),
			"%q can never be done: step %d cannot start before minute %d, and after that the calendar (to minute %d) holds too few hours for it", p.ids[j], s-b.lo+1, at, p.cal.last())
	}
	if s == b.lo && b.fixed >= 0 && start != b.fixed {
		return 0, contract.Bad(fmt.Sprintf("/jobs/%d/fixed_start_minute", j),
			"%q can never start at minute %d: nobody works then, or the step would be broken off", p.ids[j], b.fixed)
	}
	return end, nil
}

// bound gives a weighted tardiness below which no plan can be: each job late
// only by what it cannot avoid alone.
func (p *problem) bound(heads []int64) int64 {
	var sum int64
	for j, end := range heads {
		sum += p.late(j, end)
	}
	return sum
}
