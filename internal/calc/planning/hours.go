package planning

import (
	"cmp"
	"fmt"
	"slices"

	"kerfbook/internal/calc/contract"
)

// sortedHours checks the hours of the resource at a pointer and gives them by time,
// joined where they touch; nil where it has none.
func sortedHours(c *contract.Checks, at string, hours []Stretch) []Stretch {
	if hours == nil {
		return nil
	}
	if len(hours) == 0 || len(hours) > MaxSpells {
		c.Add(at+"/hours", "give 1 to %d stretches, or leave them out for always", MaxSpells)
		return nil
	}
	for i, h := range hours {
		here := fmt.Sprintf("%s/hours/%d", at, i)
		minute(c, here+"/from_minute", h.FromMinute)
		if minute(c, here+"/to_minute", h.ToMinute) && h.ToMinute <= h.FromMinute {
			c.Add(here+"/to_minute", "must be after from_minute")
		}
	}
	sorted := slices.SortedStableFunc(slices.Values(hours), func(a, b Stretch) int { return cmp.Compare(a.FromMinute, b.FromMinute) })
	out := sorted[:1]
	for _, h := range sorted[1:] {
		last := &out[len(out)-1]
		switch {
		case h.FromMinute < last.ToMinute:
			c.Add(at+"/hours", "two of them overlap at minute %d", h.FromMinute)
		case h.FromMinute == last.ToMinute:
			last.ToMinute = h.ToMinute
		default:
			out = append(out, h)
		}
	}
	return out
}

// keepHours gives every step that needs something with hours a calendar of its own, and
// cuts that of all where such hours begin and end. A step that pauses keeps its place on
// a hand without using one, so there is one place more for each that could.
func (p *problem) keepHours() {
	var used []int // resources
	for _, w := range p.steps {
		for _, n := range w.needs {
			if p.hours[n.resource] != nil && !slices.Contains(used, n.resource) {
				used = append(used, n.resource)
			}
		}
	}
	if len(used) == 0 {
		return
	}
	slices.Sort(used)
	pausing := 0
	for _, r := range used {
		p.cal.cut(p.hours[r])
		pausing += min(p.counts[r], len(p.steps))
	}
	p.cal.most += min(pausing, MaxHands)
	p.hands = p.cal.most
	p.cal.count()
	known := map[string]*calendar{}
	for s := range p.steps {
		w, key := &p.steps[s], ""
		for _, r := range used {
			if slices.ContainsFunc(w.needs, func(n need) bool { return n.resource == r }) {
				key += fmt.Sprint(r, " ")
			}
		}
		if key == "" {
			continue
		}
		if known[key] == nil {
			cal := &calendar{segs: slices.Clone(p.cal.segs), most: p.cal.most}
			for _, n := range w.needs {
				if hours := p.hours[n.resource]; hours != nil {
					cal.within(hours)
				}
			}
			cal.count()
			known[key] = cal
		}
		w.own = known[key]
	}
}

// cut cuts segments where hours begin and end, so that each lies in them or out of them.
func (c *calendar) cut(hours []Stretch) {
	var marks []int64
	for _, h := range hours {
		marks = append(marks, h.FromMinute, h.ToMinute)
	}
	segs := make([]segment, 0, len(c.segs)+len(marks))
	for _, s := range c.segs {
		for len(marks) > 0 && marks[0] <= s.from {
			marks = marks[1:]
		}
		for ; len(marks) > 0 && marks[0] < s.to; marks = marks[1:] {
			first := s
			first.to, s.from = marks[0], marks[0]
			segs = append(segs, first)
		}
		segs = append(segs, s)
	}
	c.segs = segs
}

// within keeps the segments that lie in hours; they were cut before.
func (c *calendar) within(hours []Stretch) {
	c.segs = slices.DeleteFunc(c.segs, func(s segment) bool {
		i, _ := slices.BinarySearchFunc(hours, s.from, func(h Stretch, at int64) int { return cmp.Compare(h.ToMinute, at+1) })
		return i == len(hours) || hours[i].FromMinute > s.from
	})
}

// has tells whether a segment of the cut calendar of all is one of c's; the calendar of
// all, nil, has every one.
func (c *calendar) has(s segment) bool {
	if c == nil {
		return true
	}
	_, ok := slices.BinarySearchFunc(c.segs, s.from, func(own segment, at int64) int { return cmp.Compare(own.from, at) })
	return ok
}

// open gives the calendar in which a step works.
func (p *problem) open(w *work) *calendar {
	if w.own != nil {
		return w.own
	}
	return &p.cal
}

// ownHours tells whether any step keeps to hours of its own.
func (p *problem) ownHours() bool {
	return slices.ContainsFunc(p.steps, func(w work) bool { return w.own != nil })
}
