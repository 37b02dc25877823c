package planning

import (
	"slices"
	"sort"

	"kerfbook/internal/calc/contract"
)

// Replay lays the jobs of in anew in the order and on the hands of plan, each step as
// early as it can be behind the last one on its hand: what becomes of a plan when minutes,
// releases or the calendar are no longer what they were. A job for which no room is left
// stands in lost and not in the answer. plan must hold the jobs of in with as many steps
// each; else, and for bad input, the error is a *contract.Error. Set-ups are paid where the
// order says so. The answer's bound is 0, and it is proved where nothing is late.
func Replay(in In, plan Out) (out Out, lost []string, err error) {
	p, err := newProblem(in)
	if err != nil {
		return Out{}, nil, err
	}
	if len(plan.Jobs) != len(p.jobs) {
		return Out{}, nil, contract.Bad("/jobs", "the plan holds %d jobs, the input %d: lay the plan anew first", len(plan.Jobs), len(p.jobs))
	}
	t := newTimetable(p)
	for j, jp := range plan.Jobs {
		b := &p.jobs[j]
		if jp.ID != p.ids[j] || len(jp.Steps) != b.hi-b.lo {
			return Out{}, nil, contract.Bad("/jobs", "the plan knows %q with other steps: lay the plan anew first", p.ids[j])
		}
		for k, sp := range jp.Steps {
			step := b.lo + k
			t.start[step], t.end[step], t.hand[step] = sp.StartMinute, sp.EndMinute, min(sp.Hand, p.hands)-1
			if p.steps[step].minutes > 0 {
				t.hand[step] = max(0, t.hand[step])
			}
		}
	}
	t.play(t.inOrder(), slices.Clone(t.hand))
	out = Out{Order: []string{}, Jobs: []JobPlan{}}
	for j := range p.jobs {
		if t.placed[j] < p.jobs[j].hi-p.jobs[j].lo {
			lost = append(lost, p.ids[j])
			continue
		}
		jp := p.jobPlan(t, j)
		out.Jobs = append(out.Jobs, jp)
		out.WeightedTardiness += in.Jobs[j].Weight * float64(jp.TardyMinutes)
	}
	out.Proved = out.WeightedTardiness == 0
	byStart := slices.Clone(out.Jobs)
	sort.SliceStable(byStart, func(a, b int) bool { return byStart[a].StartMinute < byStart[b].StartMinute })
	for _, jp := range byStart {
		out.Order = append(out.Order, jp.ID)
	}
	return out, lost, nil
}
