package planning

import (
	"sort"

	"kerfbook/internal/calc/contract"
)

// Settle takes out of a plan for in the set-ups that jobs fitted in later by [Earliest]
// have made needless: the step behind one of the same batch key keeps its start and ends
// sooner by its set-up. Nothing starts later or ends later by it. plan must hold the jobs
// of in with as many steps each; else, for bad input, and where a set-up that is due is not
// paid, the error is a *contract.Error. The answer's bound is 0.
func Settle(in In, plan Out) (Out, error) {
	p, err := newProblem(in)
	if err != nil {
		return Out{}, err
	}
	if len(plan.Jobs) != len(p.jobs) {
		return Out{}, contract.Bad("/jobs", "the plan holds %d jobs, the input %d: lay the plan anew first", len(plan.Jobs), len(p.jobs))
	}
	t := newTimetable(p)
	if err := t.freeze(plan); err != nil {
		return Out{}, err
	}
	byHand := make([][]int, p.hands)
	for s, h := range t.hand {
		if h >= 0 {
			byHand[h] = append(byHand[h], s)
		}
	}
	for _, steps := range byHand {
		sort.SliceStable(steps, func(a, b int) bool { return t.start[steps[a]] < t.start[steps[b]] })
		for i, s := range steps {
			w := &p.steps[s]
			due := w.setup
			if w.key < 0 || i > 0 && p.steps[steps[i-1]].key == w.key {
				due = 0
			}
			switch {
			case t.setup[s] < due:
				return Out{}, contract.Bad("/jobs", "the plan leaves out a set-up of %q that is due: lay the plan anew first", p.ids[w.job])
			case t.setup[s] > due:
				t.setup[s] = due
				_, t.end[s] = p.open(w).span(t.start[s], w.minutes+due, w.unbroken)
			}
		}
	}
	return p.out(t, 0), nil
}
