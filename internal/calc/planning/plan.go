package planning

import (
	"context"
	"sort"
	"time"

	"kerfbook/internal/calc/contract"
)

// searchShare of a millisecond of the time limit goes into the search; the rest is
// for writing the plan down and looking it over.
const searchShare = 950 * time.Microsecond

// Plan lays out the jobs of in so that the weighted tardiness is small, with a
// true lower bound of it; Proved says that the two meet.
//
// Bad input, a ring of predecessors and a job that can never start give a
// *contract.Error that names it. The search ends by its own work limit, after
// which the same input gives the same plan everywhere, or at the time limit or
// the context's deadline, whichever comes first; both change only what is not
// proved. The plan has passed Check.
//
// Sources: serial schedule generation, R. Kolisch, EJOR 90 (1996) 320-333;
// dynasearch and iterated local search for one hand, Congram, Potts and van de
// Velde, INFORMS J. Comput. 14 (2002) 52-67; both from memory.
func Plan(ctx context.Context, in In) (Out, error) {
	p, err := newProblem(in)
	if err != nil {
		return Out{}, err
	}
	heads, err := p.heads()
	if err != nil {
		return Out{}, err
	}
	limit := int64(stdLimitMS)
	if in.TimeLimitMS != nil {
		limit = *in.TimeLimitMS
	}
	ctx, stop := context.WithTimeout(ctx, time.Duration(limit)*searchShare)
	defer stop()
	t, bound, err := p.search(ctx, heads)
	if err != nil {
		return Out{}, err
	}
	out := p.out(t, bound)
	if err := Check(in, out); err != nil {
		return Out{}, err
	}
	return out, addSpread(in, &out)
}

// search picks the solver that fits and gives a timetable and a bound.
func (p *problem) search(ctx context.Context, heads []int64) (*timetable, int64, error) {
	bound := p.bound(heads)
	plain, err := p.newLine()
	if err != nil {
		return nil, 0, err
	}
	l := newLayer(p)
	if plain != nil {
		order, bound := plain.solve(ctx, bound, p.teller(ctx))
		l.lay(p.listOf(order))
		return l.timetable, bound, nil
	}
	return p.searchWide(ctx, l, heads, bound)
}

// teller tells who listens to ctx how far the search is.
func (p *problem) teller(ctx context.Context) func(least, bound int64) {
	watch := contract.WatchOf(ctx)
	if watch == nil {
		return func(int64, int64) {}
	}
	return func(least, bound int64) {
		watch.Tell(func() contract.Progress {
			far := contract.Progress{Unit: "weighted minutes late"}
			low := float64(bound) / float64(p.scale)
			if far.Bound = &low; least != never {
				best := float64(least) / float64(p.scale)
				far.Best = &best
			}
			return far
		})
	}
}

// searchWide is for all that has more to it than an order. Few steps: rules and a
// short search, then all plans. More: a bound and a long search, then as many of
// all plans as the limit allows.
func (p *problem) searchWide(ctx context.Context, l *layer, heads []int64, bound int64) (*timetable, int64, error) {
	m := newImprover(ctx, l, bound)
	m.rules()
	few := len(p.steps) <= fewSteps
	if few {
		m.run(shortTries, layWork)
		m.exhaust()
	}
	if !m.done() {
		m.startFromCrowd(heads)
		m.run(layTries, layWork)
		if !few {
			m.exhaust()
		}
	}
	if err := m.write(); err != nil {
		return nil, 0, err
	}
	return l.timetable, m.enough, nil
}

// jobPlan writes one job of a timetable down.
func (p *problem) jobPlan(t *timetable, j int) JobPlan {
	b := &p.jobs[j]
	plan := JobPlan{ID: p.ids[j], StartMinute: t.start[b.lo], EndMinute: t.end[b.hi-1]}
	plan.TardyMinutes = max(0, plan.EndMinute-b.due)
	for s := b.lo; s < b.hi; s++ {
		plan.Steps = append(plan.Steps, StepPlan{t.start[s], t.end[s], t.hand[s] + 1, t.setup[s]})
	}
	return plan
}

// listOf gives the list in which jobs are done one after the other.
func (p *problem) listOf(order []int) []int {
	var list []int
	for _, j := range order {
		for range p.jobs[j].hi - p.jobs[j].lo {
			list = append(list, j)
		}
	}
	return list
}

// out writes a timetable down in the words of the contract.
func (p *problem) out(t *timetable, bound int64) Out {
	out := Out{Order: []string{}, Jobs: []JobPlan{}}
	for j := range p.jobs {
		out.Jobs = append(out.Jobs, p.jobPlan(t, j))
	}
	order := make([]int, len(p.jobs))
	for j := range order {
		order[j] = j
	}
	sort.SliceStable(order, func(a, b int) bool {
		return out.Jobs[order[a]].StartMinute < out.Jobs[order[b]].StartMinute
	})
	for _, j := range order {
		out.Order = append(out.Order, p.ids[j])
	}
	tardy := t.value().tardy
	out.WeightedTardiness = float64(tardy) / float64(p.scale)
	out.Bound = float64(min(bound, tardy)) / float64(p.scale)
	out.Proved = bound >= tardy
	return out
}
