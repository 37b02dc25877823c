package planning

import (
	"slices"
	"sort"
)

// slot is a placed step on a hand or a resource.
type slot struct {
	from, to   int64
	open, done int64     // the same in open minutes since the origin
	key        int       // batch key, -1 without
	units      int       // of the resource, where it stands on one
	own        *calendar // the hours that the step keeps to; nil: those of all
}

// timetable is a plan in the making: what each hand and each resource does when.
type timetable struct {
	p          *problem
	hands      [][]slot // by from, without overlap
	held       [][]slot // of each resource, by from
	start, end []int64  // of each step
	hand       []int    // of each step, -1 for a step of no minutes
	setup      []int64  // paid inside each step
	placed     []int    // steps of each job that are placed
	longest    []int64  // of each resource: the most minutes, by the clock, that it was held for
	busy       []int64  // of each segment of a varied calendar: minutes of work placed in it
	work       int64    // gaps and slots looked at, the measure of the work limit
}

func newTimetable(p *problem) *timetable {
	n := len(p.steps)
	var busy []int64
	if p.cal.varied {
		busy = make([]int64, len(p.cal.segs))
	}
	return &timetable{p: p, busy: busy, longest: make([]int64, len(p.counts)), hands: make([][]slot, p.hands), held: make([][]slot, len(p.counts)),
		start: make([]int64, n), end: make([]int64, n), hand: make([]int, n), setup: make([]int64, n),
		placed: make([]int, len(p.jobs))}
}

// slot is step placed from start to end with so much set-up in it.
func (p *problem) slot(step int, start, end, setup int64) slot {
	w, open := &p.steps[step], p.cal.pos(start)
	done := open + w.minutes + setup
	if w.own != nil {
		done = p.cal.pos(end)
	}
	return slot{start, end, open, done, w.key, 1, w.own}
}

// clear takes everything out again.
func (t *timetable) clear() {
	for h := range t.hands {
		t.hands[h] = t.hands[h][:0]
	}
	for r := range t.held {
		t.held[r] = t.held[r][:0]
	}
	clear(t.placed)
	clear(t.longest)
	clear(t.busy)
}

// ready gives the first minute at which the next step of job j may start; the
// predecessors must have been placed.
func (t *timetable) ready(j int) int64 {
	b := &t.p.jobs[j]
	if k := t.placed[j]; k > 0 {
		last := b.lo + k - 1
		return t.end[last] + t.p.steps[last].wait
	}
	r := b.release
	for _, q := range b.preds {
		r = max(r, t.end[t.p.jobs[q].hi-1])
	}
	return r
}

// spot is a place for a step.
type spot struct {
	hand, pos  int
	start, end int64
	setup      int64
}

// gap says where on a hand a search may look.
type gap int

const (
	anyGap  gap = iota // between placed steps too
	lastGap            // only after the last one
)

// find gives the spot on hand h with the earliest start at or after ready, ok
// false when there is none.
func (t *timetable) find(step, h int, ready int64, where gap) (spot, bool) {
	w, slots := &t.p.steps[step], t.hands[h]
	pos := len(slots)
	if where == anyGap {
		pos = sort.Search(len(slots), func(i int) bool { return slots[i].to > ready })
	}
	free := t.p.cal.pos(ready)
	for ; pos < len(slots); pos++ {
		t.work++
		before := free
		if pos > 0 {
			before = max(free, slots[pos-1].done)
		}
		if slots[pos].open-before < w.minutes || breaksRun(slots, pos, w.key) {
			continue
		}
		if s, ok := t.fitAt(w, h, pos, ready, slots[pos].from); ok {
			return s, true
		}
	}
	return t.fitAt(w, h, pos, ready, never)
}

// fitAt looks for the spot before slots[pos] of hand h, which starts at minute to.
func (t *timetable) fitAt(w *work, h, pos int, ready, to int64) (spot, bool) {
	from, setup := ready, w.setup
	if pos > 0 {
		before := &t.hands[h][pos-1]
		from = max(from, before.to)
		if w.key >= 0 && before.key == w.key {
			setup = 0
		}
	}
	s, ok := t.fit(w, from, to, w.minutes+setup)
	s.hand, s.pos, s.setup = h, pos, setup
	return s, ok
}

// breaksRun tells whether a step with this key, put before slots[pos], would make
// slots[pos] pay a set-up that it shares now.
func breaksRun(slots []slot, pos, key int) bool {
	next := slots[pos].key
	return next >= 0 && key != next && pos > 0 && slots[pos-1].key == next
}

// fit looks between from and to for m minutes of work during which the things
// needed are free and the calendar has a hand to spare.
func (t *timetable) fit(w *work, from, to, m int64) (spot, bool) {
	for {
		start, end := t.p.open(w).span(t.skipFull(from), m, w.unbroken)
		if end > to || end == never {
			return spot{}, false
		}
		retry := t.clash(w, start, end)
		if retry < 0 {
			return spot{start: start, end: end}, true
		}
		from = retry
	}
}

// skipFull passes over segments in which every hand works all the time.
func (t *timetable) skipFull(from int64) int64 {
	if t.busy == nil {
		return from
	}
	segs := t.p.cal.segs
	for k := t.p.cal.seg(from); k < len(segs) && t.busy[k] == (segs[k].to-segs[k].from)*int64(segs[k].hands); k++ {
		t.work++
		from = segs[k].to
	}
	return from
}

// clash gives -1 when nothing stands against work in [start, end), else the
// first minute after start at which the thing found in the way has gone.
func (t *timetable) clash(w *work, start, end int64) int64 {
	for _, n := range w.needs {
		if x := t.heldClash(n.resource, t.p.counts[n.resource]-n.units, start, end); x >= 0 {
			return x
		}
	}
	if t.p.cal.varied {
		return t.handClash(w.own, start, end)
	}
	return -1
}

// heldClash looks for a minute in [start, end) at which more than most of resource
// r are in use; there are fewer than one needs where most is below 0.
func (t *timetable) heldClash(r, most int, start, end int64) int64 {
	if most < 0 {
		return never
	}
	slots := t.held[r]
	// What started longer ago than anything lasts has ended.
	first := sort.Search(len(slots), func(i int) bool { return slots[i].from > start-t.longest[r] })
	slots = slots[first:]
	for i := range slots {
		if slots[i].from >= end {
			break
		}
		if t.work++; slots[i].to <= start {
			continue
		}
		x, used, gone := max(start, slots[i].from), 0, int64(never)
		for k := range slots {
			if slots[k].from > x {
				break
			}
			if slots[k].to > x {
				used += slots[k].units
				gone = min(gone, slots[k].to)
			}
		}
		if used > most {
			return gone
		}
	}
	return -1
}

// handClash looks for a minute of a leaner spell at which all its hands are busy. A step
// with hours of its own takes no hand outside them.
func (t *timetable) handClash(own *calendar, start, end int64) int64 {
	segs := t.p.cal.segs
	for k := t.p.cal.seg(start); k < len(segs) && segs[k].from < end; k++ {
		if segs[k].hands == t.p.cal.most || !own.has(segs[k]) {
			continue
		}
		a, b := max(start, segs[k].from), min(end, segs[k].to)
		if x := t.handClashAt(a, segs[k]); x >= 0 {
			return x
		}
		for _, slots := range t.hands {
			i := sort.Search(len(slots), func(i int) bool { return slots[i].from > a })
			for ; i < len(slots) && slots[i].from < b; i++ {
				if x := t.handClashAt(slots[i].from, segs[k]); x >= 0 {
					return x
				}
			}
		}
	}
	return -1
}

// handClashAt gives when the first of the busy hands comes free, or the spell
// ends, if at minute x of spell as many hands are busy as it has; else -1.
func (t *timetable) handClashAt(x int64, spell segment) int64 {
	used, gone := 0, spell.to
	t.work += placeWork
	for _, slots := range t.hands {
		i := sort.Search(len(slots), func(i int) bool { return slots[i].from > x }) - 1
		if i >= 0 && slots[i].to > x && slots[i].own.has(spell) {
			used++
			gone = min(gone, slots[i].to)
		}
	}
	if used < spell.hands {
		return -1
	}
	return gone
}

// placeWork is what placing a step costs beside the gaps looked at.
const placeWork = 8

// place puts the next step of job j at its best spot and tells whether there was
// one. A held first step goes exactly to its minute.
func (t *timetable) place(j int, where gap) bool {
	b := &t.p.jobs[j]
	step := b.lo + t.placed[j]
	t.work += placeWork
	ready := t.ready(j)
	exact := t.placed[j] == 0 && b.fixed >= 0
	if exact {
		if ready > b.fixed {
			return false
		}
		ready = b.fixed
	}
	if t.p.steps[step].minutes == 0 {
		t.start[step], t.end[step], t.hand[step], t.setup[step] = ready, ready, -1, 0
		t.placed[j]++
		return true
	}
	var best spot
	found := false
	for h := range t.hands {
		s, ok := t.find(step, h, ready, where)
		if !ok || exact && s.start != b.fixed {
			continue
		}
		if !found || s.end < best.end || s.end == best.end && t.closer(s, best) {
			best, found = s, true
		}
		if len(t.hands[h]) == 0 && where == anyGap {
			break // the other empty hands are alike
		}
	}
	if found {
		t.put(step, best)
		t.placed[j]++
	}
	return found
}

// closer prefers the spot with less set-up, then the one that leaves less idle
// time before it.
func (t *timetable) closer(a, b spot) bool {
	if a.setup != b.setup {
		return a.setup < b.setup
	}
	return t.freeSince(a) > t.freeSince(b)
}

func (t *timetable) freeSince(s spot) int64 {
	if s.pos == 0 {
		return 0
	}
	return t.hands[s.hand][s.pos-1].to
}

// put writes a step down at a spot.
func (t *timetable) put(step int, s spot) {
	t.start[step], t.end[step], t.hand[step], t.setup[step] = s.start, s.end, s.hand, s.setup
	sl := t.p.slot(step, s.start, s.end, s.setup)
	t.hands[s.hand] = slices.Insert(t.hands[s.hand], s.pos, sl)
	t.hold(step, sl)
}

// hold notes what a step takes of resources and of the segments it lies in.
func (t *timetable) hold(step int, sl slot) {
	for _, n := range t.p.steps[step].needs {
		held := t.held[n.resource]
		i := sort.Search(len(held), func(i int) bool { return held[i].from > sl.from })
		sl.units = n.units
		t.held[n.resource] = slices.Insert(held, i, sl)
		t.longest[n.resource] = max(t.longest[n.resource], sl.to-sl.from)
	}
	if t.busy == nil {
		return
	}
	segs := t.p.cal.segs
	for k := t.p.cal.seg(sl.from); k < len(segs) && segs[k].from < sl.to; k++ {
		if sl.own.has(segs[k]) {
			t.busy[k] += min(sl.to, segs[k].to) - max(sl.from, segs[k].from)
		}
	}
}
