package planning

import (
	"context"
	"encoding/binary"
	"slices"
)

const (
	// exactSteps is the most steps for which all plans are gone through, fewSteps
	// the most for which that is done before a long search.
	exactSteps, fewSteps = 48, 16
	// exactWork is the work limit of that: states opened times the square of the
	// number of steps, which is about what a state costs.
	exactWork = 25_000_000
	// exactStates is the most states however few the steps.
	exactStates = 150_000
	// frontMost is how many states of one kind are kept to compare new ones with.
	frontMost = 200
)

// state is a plan in the making whose steps were placed in the order of their
// starts, so that whatever is in use now only gets less until a step starts.
type state struct {
	done  []int   // steps placed of each job
	wait  []int   // predecessors of each job not yet ended
	at    []int64 // earliest start of the next step of each job, as known so far
	ends  []int64 // of the last step of each hand
	keys  []int   // batch key of that step
	held  [][]int64
	last  int64 // start of the last step placed
	cost  int64
	trail *turn
}

// turn is one placed step, a link of the way back to the start. Its hand is known
// by when it was free and by its batch key then; hands of equal ends and keys are
// alike.
type turn struct {
	before     *turn
	step       int
	start, end int64
	free       int64
	key        int
}

// exact goes through all plans, step by step in the order of their starts. Of two
// states with the same steps done and the same keys on the hands, one that is
// nowhere later and costs no more makes the other needless.
//
// That orders by start suffice: laying the steps of a best plan in that order,
// each as early as its hand allows, makes nothing later (the objective never
// gains from a later end). Giffler and Thompson, Oper. Res. 8 (1960) 487-503, for
// the rule that leaves out a step before whose start another could be done.
type exact struct {
	p      *problem
	least  int64 // cost to beat
	best   *turn
	fronts map[string][][]int64
	left   int // states that may still be opened
	ctx    context.Context
	key    []byte
	lower  []int64
}

// solve looks for a plan cheaper than least. It gives the last turn of the best
// one (nil when none is cheaper), its cost or else least, and whether every plan
// was gone through.
func (p *problem) solve(ctx context.Context, least int64) (*turn, int64, bool) {
	e := &exact{p: p, least: least, fronts: map[string][][]int64{}, left: min(exactStates, exactWork/max(1, len(p.steps)*len(p.steps))), ctx: ctx, lower: make([]int64, len(p.jobs))}
	s := e.first()
	if s != nil {
		e.open(s)
	}
	return e.best, e.least, e.left > 0
}

func (e *exact) first() *state {
	n := len(e.p.jobs)
	s := &state{done: make([]int, n), wait: make([]int, n), at: make([]int64, n),
		ends: make([]int64, e.p.hands), keys: make([]int, e.p.hands), held: make([][]int64, len(e.p.counts))}
	for h := range s.keys {
		s.keys[h] = -1
	}
	for j := range e.p.jobs {
		s.wait[j], s.at[j] = len(e.p.jobs[j].preds), e.p.jobs[j].release
	}
	for j := range e.p.jobs {
		if s.wait[j] == 0 && s.done[j] == 0 && !e.skip(s, j) {
			return nil
		}
	}
	return s
}

func (s *state) clone() *state {
	c := *s
	c.done, c.wait, c.at = slices.Clone(s.done), slices.Clone(s.wait), slices.Clone(s.at)
	c.ends, c.keys = slices.Clone(s.ends), slices.Clone(s.keys)
	c.held = slices.Clone(s.held)
	return &c
}

// skip passes over steps of no minutes that come next in job j, and ends the job
// after its last step. It gives false when a held minute has gone by.
func (e *exact) skip(s *state, j int) bool {
	b := &e.p.jobs[j]
	for s.done[j] < b.hi-b.lo {
		w := &e.p.steps[b.lo+s.done[j]]
		if w.minutes > 0 {
			return true
		}
		if s.done[j] == 0 && b.fixed >= 0 {
			if s.at[j] > b.fixed {
				return false
			}
			s.at[j] = b.fixed
		}
		if !e.ended(s, j, s.at[j]) {
			return false
		}
	}
	return true
}

// ended notes that the next step of job j ends at minute end.
func (e *exact) ended(s *state, j int, end int64) bool {
	b := &e.p.jobs[j]
	step := b.lo + s.done[j]
	s.done[j]++
	s.at[j] = end + e.p.steps[step].wait
	if step+1 < b.hi {
		return true
	}
	s.cost += e.p.late(j, end)
	for _, k := range b.succs {
		s.at[k] = max(s.at[k], end)
		if s.wait[k]--; s.wait[k] == 0 && !e.skip(s, k) {
			return false
		}
	}
	return true
}

// choice is a step that may come next, on one hand.
type choice struct {
	job, hand  int
	start, end int64
}

// open goes through all ways to go on from s.
func (e *exact) open(s *state) {
	if e.left--; e.left <= 0 || e.left%256 == 0 && e.ctx.Err() != nil {
		e.left = 0
		return
	}
	if e.finished(s) {
		if s.cost < e.least {
			e.least, e.best = s.cost, s.trail
		}
		return
	}
	type child struct {
		*state
		lower int64
	}
	var next []child
	for _, c := range e.choices(s) {
		n := e.take(s, c)
		if n == nil {
			continue
		}
		if low := e.bound(n); low < e.least {
			next = append(next, child{n, low})
		}
	}
	slices.SortStableFunc(next, func(a, b child) int {
		if a.lower != b.lower {
			return compare(a.lower, b.lower)
		}
		return compare(a.last, b.last)
	})
	for _, n := range next {
		if n.lower < e.least && e.left > 0 && e.fresh(n.state) {
			e.open(n.state)
		}
	}
}

func compare(a, b int64) int {
	if a < b {
		return -1
	}
	if a > b {
		return 1
	}
	return 0
}

func (e *exact) finished(s *state) bool {
	for j := range e.p.jobs {
		if s.done[j] < e.p.jobs[j].hi-e.p.jobs[j].lo {
			return false
		}
	}
	return true
}

// choices lists what may come next, without what Giffler and Thompson leave out.
func (e *exact) choices(s *state) []choice {
	var all []choice
	for j := range e.p.jobs {
		b := &e.p.jobs[j]
		if s.done[j] == b.hi-b.lo || s.wait[j] > 0 {
			continue
		}
		for h := range s.ends {
			if h > 0 && s.ends[h] == s.ends[h-1] && s.keys[h] == s.keys[h-1] {
				continue // the same as the hand before
			}
			if c, ok := e.choice(s, j, h); ok {
				all = append(all, c)
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(all), func(a choice) bool {
		for _, b := range all {
			if b.hand == a.hand && b.end <= a.start && e.harmless(s, b, a) {
				return true
			}
		}
		return false
	})
}

// harmless tells whether doing b before a on its hand costs nobody a set-up.
func (e *exact) harmless(s *state, b, a choice) bool {
	kb := e.p.steps[e.p.jobs[b.job].lo+s.done[b.job]].key
	ka := e.p.steps[e.p.jobs[a.job].lo+s.done[a.job]].key
	return kb < 0 && (ka < 0 || s.keys[a.hand] != ka)
}

// choice finds the earliest place for the next step of job j on hand h.
func (e *exact) choice(s *state, j, h int) (choice, bool) {
	b := &e.p.jobs[j]
	w := &e.p.steps[b.lo+s.done[j]]
	m := w.minutes
	if w.key >= 0 && w.key != s.keys[h] {
		m += w.setup
	}
	from := max(s.at[j], s.ends[h], s.last)
	for _, n := range w.needs {
		// All but so many of those in use must have been given back.
		if in, most := s.held[n.resource], e.p.counts[n.resource]-n.units; len(in) > most {
			from = max(from, in[len(in)-1-most])
		}
	}
	held := s.done[j] == 0 && b.fixed >= 0
	if held {
		if from > b.fixed {
			return choice{}, false
		}
		from = b.fixed
	}
	for {
		start, end := e.p.cal.span(from, m, w.unbroken)
		if end == never || held && start != b.fixed {
			return choice{}, false
		}
		retry := e.crowded(s, start, end)
		if retry < 0 {
			return choice{j, h, start, end}, true
		}
		from = retry
	}
}

// crowded gives -1, or when to look again because a lean spell in [start, end)
// has no hand to spare.
func (e *exact) crowded(s *state, start, end int64) int64 {
	cal := &e.p.cal
	if !cal.varied {
		return -1
	}
	for k := cal.seg(start); k < len(cal.segs) && cal.segs[k].from < end; k++ {
		x, used, gone := max(start, cal.segs[k].from), 0, cal.segs[k].to
		for _, until := range s.ends {
			if until > x {
				used++
				gone = min(gone, until)
			}
		}
		if used >= cal.segs[k].hands {
			return gone
		}
	}
	return -1
}

// take gives the state after c, or nil when a held job cannot be kept any more.
func (e *exact) take(s *state, c choice) *state {
	n := s.clone()
	b := &e.p.jobs[c.job]
	step := b.lo + n.done[c.job]
	w := &e.p.steps[step]
	n.last = c.start
	n.trail = &turn{s.trail, step, c.start, c.end, n.ends[c.hand], n.keys[c.hand]}
	n.ends[c.hand], n.keys[c.hand] = c.end, w.key
	for _, x := range w.needs {
		in := slices.DeleteFunc(slices.Clone(n.held[x.resource]), func(x int64) bool { return x <= c.start })
		i, _ := slices.BinarySearch(in, c.end)
		n.held[x.resource] = slices.Insert(in, i, slices.Repeat([]int64{c.end}, x.units)...)
	}
	if !e.ended(n, c.job, c.end) || !e.skip(n, c.job) {
		return nil
	}
	for j := range e.p.jobs {
		if f := e.p.jobs[j].fixed; f >= 0 && n.done[j] == 0 && f < n.last {
			return nil
		}
	}
	return n
}

// bound gives what s costs at least when finished: each job that is left alone
// with the calendar, not before a hand is free.
func (e *exact) bound(s *state) int64 {
	sum, free := s.cost, max(s.last, slices.Min(s.ends))
	for _, j := range e.p.topo {
		b := &e.p.jobs[j]
		if s.done[j] == b.hi-b.lo {
			e.lower[j] = 0
			continue
		}
		at := max(s.at[j], s.last)
		if s.done[j] == 0 {
			for _, q := range b.preds {
				at = max(at, e.lower[q])
			}
			if b.fixed >= 0 {
				if at > b.fixed {
					return never
				}
				at = b.fixed
			}
		}
		for k := b.lo + s.done[j]; k < b.hi; k++ {
			w := &e.p.steps[k]
			if w.minutes > 0 {
				if _, at = e.p.cal.span(max(at, free), w.minutes, w.unbroken); at == never {
					return never
				}
			}
			e.lower[j] = at
			at += w.wait
		}
		sum += e.p.late(j, e.lower[j])
	}
	return sum
}

// fresh tells whether no state seen so far makes s needless, and keeps s.
func (e *exact) fresh(s *state) bool {
	e.key = e.key[:0]
	for _, d := range s.done {
		e.key = binary.AppendUvarint(e.key, uint64(d))
	}
	s.sortHands()
	for _, k := range s.keys {
		e.key = binary.AppendVarint(e.key, int64(k))
	}
	v := e.vector(s)
	front := e.fronts[string(e.key)]
	for _, f := range front {
		if nowhereLater(f, v) {
			return false
		}
	}
	front = slices.DeleteFunc(front, func(f []int64) bool { return nowhereLater(v, f) })
	if len(front) < frontMost {
		front = append(front, v)
	}
	e.fronts[string(e.key)] = front
	return true
}

// sortHands puts equal plans of alike hands into one form.
func (s *state) sortHands() {
	for i := 1; i < len(s.ends); i++ {
		for k := i; k > 0 && (s.keys[k] < s.keys[k-1] || s.keys[k] == s.keys[k-1] && s.ends[k] < s.ends[k-1]); k-- {
			s.keys[k], s.keys[k-1] = s.keys[k-1], s.keys[k]
			s.ends[k], s.ends[k-1] = s.ends[k-1], s.ends[k]
		}
	}
}

// vector writes down everything on which the rest of the plan depends; smaller is
// better everywhere. What lies before the first free hand counts as that.
func (e *exact) vector(s *state) []int64 {
	v := make([]int64, 0, 2+len(s.ends)+len(s.at)+len(s.held))
	v = append(v, s.cost, s.last)
	free := max(s.last, slices.Min(s.ends))
	for _, end := range s.ends {
		v = append(v, max(end, s.last))
	}
	for j := range s.at {
		b := &e.p.jobs[j]
		switch {
		case s.done[j] == b.hi-b.lo:
		case e.p.steps[b.lo+s.done[j]].minutes == 0:
			v = append(v, s.at[j])
		default:
			v = append(v, max(s.at[j], free))
		}
	}
	for r, in := range s.held {
		for k := range min(e.p.counts[r], len(e.p.steps)) {
			until := int64(0)
			if i := len(in) - 1 - k; i >= 0 && in[i] > free {
				until = in[i]
			}
			v = append(v, until)
		}
	}
	return v
}

func nowhereLater(a, b []int64) bool {
	for i := range a {
		if a[i] > b[i] {
			return false
		}
	}
	return true
}

// layTurns writes down the plan that ends with last.
func (t *timetable) layTurns(last *turn) {
	t.clear()
	var turns []*turn
	for ; last != nil; last = last.before {
		turns = append(turns, last)
	}
	slices.Reverse(turns)
	for _, u := range turns {
		w := &t.p.steps[u.step]
		s := spot{hand: t.handFree(u.free, u.key), start: u.start, end: u.end}
		s.pos = len(t.hands[s.hand])
		if w.key >= 0 && w.key != u.key {
			s.setup = w.setup
		}
		t.put(u.step, s)
	}
	for _, j := range t.p.topo {
		b := &t.p.jobs[j]
		for s := b.lo; s < b.hi; s++ {
			if t.p.steps[s].minutes == 0 {
				at := t.ready(j)
				if s == b.lo && b.fixed >= 0 {
					at = b.fixed
				}
				t.start[s], t.end[s], t.hand[s], t.setup[s] = at, at, -1, 0
			}
			t.placed[j]++
		}
	}
}

// handFree gives a hand whose last step ended then with that key.
func (t *timetable) handFree(end int64, key int) int {
	for h, slots := range t.hands {
		if k := len(slots) - 1; k < 0 && end == 0 && key < 0 || k >= 0 && slots[k].to == end && slots[k].key == key {
			return h
		}
	}
	panic("planning: a turn on a hand that there is not")
}
