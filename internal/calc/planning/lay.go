package planning

import (
	"slices"
	"sort"
)

// layer lays plans from lists. A list names each job once for each of its steps;
// the k-th time a job is named its k-th step is placed where it ends earliest.
// Every list gives a plan that keeps the rules, unless the calendar is too short
// or a held job stands in the way.
type layer struct {
	*timetable
	pinned []int // jobs with a fixed start, by that minute
	before []int // what has to be done before a held job, predecessors first
	failed []bool
}

func newLayer(p *problem) *layer {
	l := &layer{timetable: newTimetable(p), failed: make([]bool, len(p.jobs))}
	need := make([]bool, len(p.jobs))
	for j := range p.jobs {
		if p.jobs[j].fixed >= 0 {
			l.pinned = append(l.pinned, j)
		}
	}
	sort.SliceStable(l.pinned, func(a, b int) bool { return p.jobs[l.pinned[a]].fixed < p.jobs[l.pinned[b]].fixed })
	for i := len(p.topo) - 1; i >= 0; i-- {
		j := p.topo[i]
		if p.jobs[j].fixed >= 0 || need[j] {
			for _, q := range p.jobs[j].preds {
				need[q] = true
			}
		}
	}
	for _, j := range p.topo {
		if need[j] {
			l.before = append(l.before, j)
		}
	}
	return l
}

// lay lays the plan of a list and gives its value.
func (l *layer) lay(list []int) value {
	l.clear()
	clear(l.failed)
	l.layHeld()
	for _, j := range list {
		l.next(j)
	}
	return l.value()
}

// layHeld places first what is held, then what has to be done before it.
func (l *layer) layHeld() {
	if len(l.pinned) == 0 {
		return
	}
	for _, j := range l.pinned {
		l.placeHeld(j)
	}
	for _, j := range l.before {
		l.finish(j)
	}
	for _, j := range l.pinned {
		for _, q := range l.p.jobs[j].preds {
			if l.failed[q] || l.end[l.p.jobs[q].hi-1] > l.p.jobs[j].fixed {
				l.failed[j], l.placed[j] = true, 0
			}
		}
	}
}

// placeHeld puts the first step of a held job at its minute, whatever waits
// before it; that is looked at afterwards.
func (l *layer) placeHeld(j int) {
	b := &l.p.jobs[j]
	if l.p.steps[b.lo].minutes == 0 {
		l.start[b.lo], l.end[b.lo], l.hand[b.lo], l.setup[b.lo] = b.fixed, b.fixed, -1, 0
		l.placed[j] = 1
		return
	}
	for h := range l.hands {
		if s, ok := l.find(b.lo, h, b.fixed, anyGap); ok && s.start == b.fixed {
			l.put(b.lo, s)
			l.placed[j] = 1
			return
		}
	}
	l.failed[j] = true
}

// finish places all steps of j that are left.
func (l *layer) finish(j int) {
	for !l.failed[j] && l.placed[j] < l.p.jobs[j].hi-l.p.jobs[j].lo {
		l.next(j)
	}
}

// next places the next step of job j, and before its first one the jobs it waits
// for. A job that has no place, and all that wait for it, count as failed.
func (l *layer) next(j int) {
	b := &l.p.jobs[j]
	if l.failed[j] || l.placed[j] == b.hi-b.lo {
		return
	}
	if l.placed[j] == 0 {
		for _, q := range b.preds {
			l.finish(q)
			if l.failed[q] {
				l.failed[j] = true
				return
			}
		}
	}
	if !l.place(j, anyGap) {
		l.failed[j] = true
	}
}

// tighten lays the finished plan anew by start, each step on its hand after the
// one before it there. Nothing gets later by it; a set-up that a step inserted
// afterwards has made needless falls away.
func (l *layer) tighten() {
	order, hand := l.inOrder(), slices.Clone(l.hand)
	l.play(order, hand)
}
