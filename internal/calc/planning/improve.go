package planning

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"kerfbook/internal/calc/contract"
)

const (
	// layWork is the work limit of the list search, in gaps and slots looked at and
	// steps placed. It keeps 60 builds of 8 steps well under the 200 ms that a page
	// may take.
	layWork = 12_000_000
	// layTries ends each part of the search for small plans that have nothing left to
	// find, shortTries that before all plans are gone through.
	layTries, shortTries = 10_000, 100
	// jobShare of the work goes into orders of whole jobs, the rest into lists.
	jobShare = 0.8
	// strayMost is how much worse than the best a plan may be to be gone on from, as
	// a share of it, at the start of a search; it shrinks to nothing.
	strayMost = 0.03
	// nearShare of the moves of a job go at most nearMost places far.
	nearShare, nearMost = 0.8, 8
	// lateShare of the moves take a job that is late and put it further forward; tried
	// out on made-up workshops, where it was worth as much as four times the work.
	lateShare = 0.6
	// looks is how often the search looks for the best time within which steps of
	// one batch key are gathered.
	looks = 4
	// firstSeed and secondSeed make every run draw the same numbers.
	firstSeed, secondSeed = 20_26, 40
)

// windows are the times, in minutes, within which steps of one key may be gathered.
var windows = []float64{0, 240, 480, 1440, 2880, 5760, 11520}

// improver searches for a good list.
type improver struct {
	*layer
	ctx    context.Context
	rng    *rand.Rand
	enough int64 // a bound: a tardiness that cannot be beaten
	tell   func(least, bound int64)
	tries  int
	best   []int
	least  value // of best
	turns  *turn // the end of a plan found by exhaust, nil when there is none
	cost   int64 // its tardiness
}

// newImprover is an improver that has tried nothing yet. enough ends it early.
func newImprover(ctx context.Context, l *layer, enough int64) *improver {
	return &improver{layer: l, ctx: ctx, rng: rand.New(rand.NewPCG(firstSeed, secondSeed)), enough: enough, tell: l.p.teller(ctx)}
}

// rules tries the lists that several rules give, and where set-ups can be shared the best
// of them with the steps of one batch key together.
func (m *improver) rules() {
	for _, list := range m.p.firstLists() {
		m.try(list)
	}
	if slices.ContainsFunc(m.p.steps, func(w work) bool { return w.setup > 0 }) {
		m.look(m.byEnd(), m.p.tails())
	}
}

// run searches from the best list: orders of whole jobs, then single entries.
func (m *improver) run(tries int, work float64) {
	m.tries, m.work = tries, 0
	m.orders(work * jobShare)
	m.tries = tries
	m.lists(work)
}

// known gives the least tardiness found, never when no plan was found yet.
func (m *improver) known() int64 {
	switch {
	case m.turns != nil && (m.least.failed > 0 || m.cost < m.least.tardy):
		return m.cost
	case m.least.failed > 0:
		return never
	}
	return m.least.tardy
}

// done tells whether nothing better can be found.
func (m *improver) done() bool { return m.known() <= m.enough }

// exhaust goes through all plans where that is within the limits, and raises the
// bound to the best of them when it came to the end. It knows nothing of steps that
// keep to hours of their own.
func (m *improver) exhaust() {
	if m.done() || len(m.p.steps) > exactSteps || m.p.ownHours() || m.ctx.Err() != nil {
		return
	}
	last, least, all := m.p.solve(m.ctx, m.known())
	if last != nil {
		m.turns, m.cost = last, least
	}
	if all {
		m.enough = least
	}
}

// startFromCrowd takes the order in which the jobs would end if all hands pulled
// together for a start, and raises the bound to what that order shows.
func (m *improver) startFromCrowd(heads []int64) {
	crowd := m.p.newCrowd(heads)
	if crowd == nil {
		return
	}
	v := newVoyage(crowd)
	v.start(m.ctx)
	v.sail(m.ctx, min(quickRounds, crowd.rounds()), m.enough)
	if v.least > m.enough {
		m.enough = max(m.enough, crowd.least(m.ctx, v.least))
	}
	m.try(m.p.listToEnd(v.best, m.p.tails(), 0))
}

// write lays the best plan, or says why there is none.
func (m *improver) write() error {
	if m.turns != nil && (m.least.failed > 0 || m.cost < m.least.tardy) {
		m.layTurns(m.turns)
		return nil
	}
	m.lay(m.best)
	if m.least.failed > 0 {
		return m.noPlace()
	}
	m.tighten()
	return nil
}

// try lays a list and keeps it if it is the best so far. When time is up, lists
// after the first count as no good.
func (m *improver) try(list []int) value {
	if m.tries--; m.best != nil && m.ctx.Err() != nil {
		return value{failed: math.MaxInt}
	}
	v := m.lay(list)
	if m.best == nil || v.less(m.least) {
		m.best, m.least = slices.Clone(list), v
	}
	return v
}

// over tells whether the search may end.
func (m *improver) over(work float64) bool {
	m.tell(m.known(), min(m.enough, m.known()))
	return m.tries <= 0 || float64(m.work) >= work || m.least.failed == 0 && m.least.tardy <= m.enough || m.ctx.Err() != nil
}

// astray tells whether v is too far from the best to be gone on from; left is the
// share of the search still to come.
func (m *improver) astray(v value, left float64) bool {
	if v.failed != m.least.failed {
		return v.failed > m.least.failed
	}
	most := float64(m.least.tardy) * (1 + strayMost*left)
	return float64(v.tardy) > most
}

// lists moves single entries, or gathers those of one job, until work is used up.
func (m *improver) lists(work float64) {
	from := float64(m.work)
	here := slices.Clone(m.best)
	for !m.over(work) {
		list := m.p.move(m.rng, here)
		left := 1 - (float64(m.work)-from)/(work-from)
		if !m.astray(m.try(list), left) {
			here = list
		}
	}
}

// orders moves whole jobs in the order in which they are meant to end. The steps
// of all jobs are then listed by the minute at which each would have to end for it.
func (m *improver) orders(work float64) {
	n := len(m.p.jobs)
	if n < 2 {
		return
	}
	here, tail := m.byEnd(), m.p.tails()
	window, look := 0.0, 0.0
	var late []int // jobs that are late in the plan of here
	for !m.over(work) {
		if float64(m.work) >= look {
			window = m.look(here, tail)
			look += work / looks
		}
		next := m.moveJob(here, late)
		left := 1 - float64(m.work)/work
		if !m.astray(m.try(m.p.listToEnd(next, tail, window)), left) {
			here, late = next, m.late(late[:0])
		}
	}
}

// moveJob gives a changed copy of an order: mostly a late job goes forward, else
// any job goes anywhere or two change places.
func (m *improver) moveJob(order, late []int) []int {
	n := len(order)
	next := slices.Clone(order)
	i, k := m.rng.IntN(n), m.rng.IntN(n)
	near := m.rng.Float64() < nearShare
	switch {
	case len(late) > 0 && m.rng.Float64() < lateShare:
		i = slices.Index(next, late[m.rng.IntN(len(late))])
		if k = m.rng.IntN(i + 1); near {
			k = max(0, i-1-m.rng.IntN(nearMost))
		}
	case near:
		k = min(n-1, max(0, i+m.rng.IntN(2*nearMost+1)-nearMost))
	}
	if m.rng.IntN(3) == 0 {
		next[i], next[k] = next[k], next[i]
		return next
	}
	j := next[i]
	return slices.Insert(slices.Delete(next, i, i+1), k, j)
}

// late appends the jobs that are late in the plan laid last.
func (m *improver) late(list []int) []int {
	for j, b := range m.p.jobs {
		if m.p.late(j, m.end[b.hi-1]) > 0 {
			list = append(list, j)
		}
	}
	return list
}

// byEnd gives the jobs by their end in the best plan.
func (m *improver) byEnd() []int {
	m.lay(m.best)
	order := make([]int, len(m.p.jobs))
	for j := range order {
		order[j] = j
	}
	end := func(j int) int64 { return m.end[m.p.jobs[j].hi-1] }
	sort.SliceStable(order, func(a, b int) bool { return end(order[a]) < end(order[b]) })
	return order
}

// look gives the window that serves this order best.
func (m *improver) look(order []int, tail []int64) float64 {
	best, window := m.try(m.p.listToEnd(order, tail, 0)), 0.0
	for _, w := range windows[1:] {
		if v := m.try(m.p.listToEnd(order, tail, w)); v.less(best) {
			best, window = v, w
		}
	}
	return window
}

// listToEnd lists the steps so that the jobs end in the order given, steps of one
// batch key within the window together.
func (p *problem) listToEnd(order []int, tail []int64, window float64) []int {
	key := make([]float64, len(p.steps))
	var done int64
	for _, j := range order {
		b := &p.jobs[j]
		for s := b.lo; s < b.hi; s++ {
			done += p.steps[s].minutes
		}
		_, end := p.cal.span(0, max(1, done/int64(p.hands)), false)
		for s := b.lo; s < b.hi; s++ {
			key[s] = float64(end) - float64(tail[s])
		}
	}
	if window > 0 {
		p.gather(key, window)
	}
	return p.listBy(key)
}

// gather gives steps of one batch key whose keys lie in one window the first of
// these keys.
func (p *problem) gather(key []float64, window float64) {
	var steps []int
	for s := range p.steps {
		if p.steps[s].key >= 0 {
			steps = append(steps, s)
		}
	}
	sort.SliceStable(steps, func(a, b int) bool { return key[steps[a]] < key[steps[b]] })
	first := map[int]float64{}
	for _, s := range steps {
		k := p.steps[s].key
		if f, open := first[k]; open && key[s] <= f+window {
			key[s] = f
		} else {
			first[k] = key[s]
		}
	}
}

// tails gives the minutes of work and waits that come after each step in its job.
func (p *problem) tails() []int64 {
	tail := make([]int64, len(p.steps))
	for _, b := range p.jobs {
		var after int64
		for s := b.hi - 1; s >= b.lo; s-- {
			tail[s] = after
			after += p.steps[s].minutes
			if s > b.lo {
				after += p.steps[s-1].wait
			}
		}
	}
	return tail
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
	work, tail := make([]float64, n), p.tails()
	for s, w := range p.steps {
		work[w.job] += float64(p.steps[s].minutes)
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
	type keyed struct {
		key  float64
		step int
	}
	steps := make([]keyed, len(p.steps))
	for s := range steps {
		steps[s] = keyed{key[s], s}
	}
	slices.SortFunc(steps, func(a, b keyed) int {
		return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.step, b.step))
	})
	list := make([]int, len(steps))
	for i, s := range steps {
		list[i] = p.steps[s.step].job
	}
	return list
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
