package planning

import (
	"fmt"
	"sort"

	"kerfbook/internal/calc/contract"
)

// Earliest fits one more job into a plan without moving anything in it, and gives
// where it would run: the earliest end at which nobody else's date changes. in is
// what the plan was laid from, plan the answer of Plan; job may name jobs of in as
// predecessors. A job that finds no place, and bad input, give a *contract.Error
// whose pointers take job for the last of in's jobs. The cost is a few passes over the plan's steps.
func Earliest(in In, plan Out, job Job) (JobPlan, error) {
	with := in
	with.Jobs = append(append([]Job(nil), in.Jobs...), job)
	p, err := newProblem(with)
	if err != nil {
		return JobPlan{}, err
	}
	j := len(in.Jobs)
	if len(plan.Jobs) != j {
		return JobPlan{}, contract.Bad("/jobs", "the plan holds %d jobs, the input %d: lay the plan anew first", len(plan.Jobs), j)
	}
	t := newTimetable(p)
	if err := t.freeze(plan); err != nil {
		return JobPlan{}, err
	}
	for range p.jobs[j].hi - p.jobs[j].lo {
		if !t.place(j, anyGap) {
			return JobPlan{}, contract.Bad(fmt.Sprintf("/jobs/%d", j),
				"%q finds no place beside the plan: step %d of it has no free hours left in the calendar", job.ID, t.placed[j]+1)
		}
	}
	return p.jobPlan(t, j), nil
}

// freeze writes a whole plan of the first jobs down as it stands.
func (t *timetable) freeze(plan Out) error {
	if len(plan.Jobs) > len(t.p.jobs) {
		return contract.Bad("/jobs", "the plan holds %d jobs, the input %d: lay the plan anew first", len(plan.Jobs), len(t.p.jobs))
	}
	for j, jp := range plan.Jobs {
		b := &t.p.jobs[j]
		if jp.ID != t.p.ids[j] || len(jp.Steps) != b.hi-b.lo {
			return contract.Bad(fmt.Sprintf("/jobs/%d", j), "the plan knows %q with other steps: lay the plan anew first", t.p.ids[j])
		}
		for k, sp := range jp.Steps {
			step := b.lo + k
			t.start[step], t.end[step], t.hand[step], t.setup[step] = sp.StartMinute, sp.EndMinute, sp.Hand-1, sp.SetupMinutes
			sl := t.p.slot(step, sp.StartMinute, sp.EndMinute, sp.SetupMinutes)
			if sp.Hand < 1 {
				continue
			}
			if sp.Hand > t.p.hands {
				return contract.Bad(fmt.Sprintf("/jobs/%d", j), "the plan puts %q on hand %d, the calendar has %d: lay the plan anew first", t.p.ids[j], sp.Hand, t.p.hands)
			}
			t.hands[sp.Hand-1] = append(t.hands[sp.Hand-1], sl)
			t.hold(step, sl)
		}
		t.placed[j] = b.hi - b.lo
	}
	for _, slots := range t.hands {
		sort.Slice(slots, func(a, b int) bool { return slots[a].from < slots[b].from })
	}
	return nil
}
