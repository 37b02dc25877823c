package planning

import (
	"context"

	"kerfbook/internal/calc/contract"
)

// maxLine is the most minutes of work, all jobs together, for which the tables of
// the one-hand solver are laid out.
const maxLine = 4_000_000

// line is the plain problem: one hand, jobs that are all there from the start and
// run without waits, so that a plan is nothing but an order. Time is counted in
// minutes of work; clock tells the minute at which so much work is done.
type line struct {
	n     int
	p     []int64 // work of each job
	w, d  []int64 // weight (scaled) and due minute
	total int64
	clock []int64 // clock[c]: when c minutes of work are done; nil when it is c
	head  []int64 // no job ends before its head; nil when that says nothing
}

// newLine gives the plain form of p, or nil when p has more to it. A calendar is
// no hindrance: with one hand the order alone says how much work is done before
// each end. Several steps of a job without waits between them are done in one go;
// breaking them up helps nobody.
func (p *problem) newLine() (*line, error) {
	if p.hands != 1 || len(p.jobs) == 0 {
		return nil, nil
	}
	l := &line{n: len(p.jobs)}
	for j := range p.jobs {
		if !p.plain(j) {
			return nil, nil
		}
		var work int64
		for s := p.jobs[j].lo; s < p.jobs[j].hi; s++ {
			work += p.steps[s].minutes
		}
		l.p, l.total = append(l.p, work), l.total+work
		l.w, l.d = append(l.w, p.jobs[j].weight), append(l.d, p.jobs[j].due)
	}
	if l.total > maxLine {
		return nil, nil
	}
	if room := p.cal.room(); room < l.total {
		return nil, contract.Bad("/calendar",
			"holds %d minutes of work, the jobs need %d: %q and others can never be done", room, l.total, p.ids[len(p.ids)-1])
	}
	if len(p.cal.segs) > 1 || p.cal.segs[0].from > 0 {
		l.clock = p.cal.clock(l.total)
	}
	return l, nil
}

// newCrowd gives a plain problem that no plan of p can beat: the work of each job
// in one piece, all hands pulling together at whatever is done, no job ending
// before its head. In any plan the first k jobs that end have all their work done
// by then, so it takes at least as long as here. nil when it is too large.
func (p *problem) newCrowd(heads []int64) *line {
	l := &line{n: len(p.jobs), head: heads}
	for _, b := range p.jobs {
		var work int64
		for s := b.lo; s < b.hi; s++ {
			work += p.steps[s].minutes
		}
		l.p, l.total = append(l.p, work), l.total+work
		l.w, l.d = append(l.w, b.weight), append(l.d, b.due)
	}
	if l.total > maxLine || p.cal.room() < l.total {
		return nil
	}
	l.clock = p.cal.clock(l.total)
	return l
}

// plain tells whether job j has nothing but work, a due minute and a weight.
func (p *problem) plain(j int) bool {
	b := &p.jobs[j]
	if b.fixed >= 0 || len(b.preds) > 0 || b.release > p.cal.segs[0].from {
		return false
	}
	for s := b.lo; s < b.hi; s++ {
		w := &p.steps[s]
		if w.key >= 0 || w.wait > 0 && s+1 < b.hi || w.unbroken && p.cal.segs[0].to < never {
			return false
		}
	}
	return true
}

// cost gives the weighted tardiness of job j when it ends after c minutes of work.
func (l *line) cost(j int, c int64) int64 {
	if l.clock != nil {
		c = l.clock[c]
	}
	if l.head != nil {
		c = max(c, l.head[j])
	}
	if c <= l.d[j] {
		return 0
	}
	return l.w[j] * (c - l.d[j])
}

// costOf gives the weighted tardiness of an order.
func (l *line) costOf(order []int) int64 {
	var sum, c int64
	for _, j := range order {
		c += l.p[j]
		sum += l.cost(j, c)
	}
	return sum
}

// solve gives a good order and a lower bound, the two meeting where every cheaper
// order was ruled out. bound is a lower bound that is known already. A third of
// the search comes before the proof, the rest only where there is none.
func (l *line) solve(ctx context.Context, bound int64, tell func(least, bound int64)) ([]int, int64) {
	v := newVoyage(l)
	v.tell = tell
	v.start(ctx)
	v.sail(ctx, l.rounds()/3, bound)
	if v.least > bound && ctx.Err() == nil {
		var better []int
		if better, bound = l.prove(ctx, v.least, bound); better != nil {
			v.land(better)
		}
		v.sail(ctx, l.rounds()-l.rounds()/3, bound)
	}
	return v.best, bound
}

// prove looks for an order cheaper than least, the cost of a known one, and gives
// it (nil when none was found) and a lower bound, which equals its cost, or else
// least, when every cheaper order was ruled out.
func (l *line) prove(ctx context.Context, least, bound int64) ([]int, int64) {
	r := newRelax(l, relaxNodes)
	if r == nil || l.n > chainJobs {
		return nil, max(bound, l.least(ctx, least))
	}
	bound = max(bound, relaxClimb.climb(ctx, r, least))
	if bound >= least || ctx.Err() != nil {
		return nil, bound
	}
	c := newChain(r)
	bound = max(bound, chainClimb.climb(ctx, c, least))
	if bound >= least || ctx.Err() != nil {
		return nil, bound
	}
	order, all := c.subsets(ctx, least)
	if order != nil {
		least = l.costOf(order)
	}
	if all {
		bound = least
	}
	return order, bound
}

// least gives a lower bound of the plain problem without looking for orders, in a
// fraction of the time: known is the cost of a known plan of what l stands for.
func (l *line) least(ctx context.Context, known int64) int64 {
	r, rest := newCoarse(l, coarseNodes)
	if r.n == 0 || known <= rest {
		return min(rest, known)
	}
	known -= rest
	bound := coarseRelax.climb(ctx, r, known)
	if bound < known && r.n <= chainJobs && ctx.Err() == nil {
		bound = max(bound, coarseChain.climb(ctx, newChain(r), known))
	}
	return bound + rest
}
