package planning

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"kerfbook/internal/calc/contract"
)

// never is a minute that does not come.
const never = math.MaxInt64

// segment is open time with one number of hands. Segments lie in order and do
// not overlap; two may touch.
type segment struct {
	from, to int64
	hands    int
	before   int64 // open minutes before it
	blockEnd int64 // end of the stretch without a gap that it lies in
}

// calendar is the open time.
type calendar struct {
	segs   []segment
	most   int  // hands at the best of times
	varied bool // not always that many
}

// newCalendar checks the spells and joins what touches with equal hands. Spells
// of no hands are closed time.
func newCalendar(c *contract.Checks, in In) calendar {
	hands := 1
	if in.Hands != nil {
		hands = *in.Hands
	}
	if in.Calendar == nil {
		return calendar{most: hands, segs: []segment{{from: 0, to: never, hands: hands, blockEnd: never}}}
	}
	if len(in.Calendar) == 0 {
		c.Add("/calendar", "is empty: give at least one spell of work, or leave it out for always open")
		return calendar{}
	}
	if len(in.Calendar) > MaxSpells {
		c.Add("/calendar", "at most %d spells", MaxSpells)
		return calendar{}
	}
	spells := sortedSpells(c, in.Calendar, hands)
	cal := calendar{segs: make([]segment, 0, len(spells))}
	for _, s := range spells {
		if s.hands == 0 {
			continue
		}
		cal.most = max(cal.most, s.hands)
		if k := len(cal.segs) - 1; k >= 0 && cal.segs[k].to == s.from && cal.segs[k].hands == s.hands {
			cal.segs[k].to = s.to
			continue
		}
		cal.segs = append(cal.segs, s)
	}
	if len(cal.segs) == 0 {
		c.Add("/calendar", "has no spell in which anybody works")
		return cal
	}
	cal.count()
	return cal
}

// count fills in what follows from where the segments lie.
func (c *calendar) count() {
	for k := range c.segs {
		c.segs[k].before = 0
		if k > 0 {
			c.segs[k].before = c.segs[k-1].before + c.segs[k-1].to - c.segs[k-1].from
		}
		c.varied = c.varied || c.segs[k].hands != c.most
	}
	for k := len(c.segs) - 1; k >= 0; k-- {
		c.segs[k].blockEnd = c.segs[k].to
		if k+1 < len(c.segs) && c.segs[k].to == c.segs[k+1].from {
			c.segs[k].blockEnd = c.segs[k+1].blockEnd
		}
	}
}

// sound says that nothing is wrong with a spell by itself.
func (s Spell) sound() bool {
	return s.FromMinute >= 0 && s.FromMinute < s.ToMinute && s.ToMinute <= MaxMinute && (s.Hands == nil || *s.Hands >= 0 && *s.Hands <= MaxHands)
}

func sortedSpells(c *contract.Checks, spells []Spell, std int) []segment {
	order := make([]int, len(spells))
	for i, s := range spells {
		order[i] = i
		if s.sound() {
			continue
		}
		at := fmt.Sprintf("/calendar/%d", i)
		minute(c, at+"/from_minute", s.FromMinute)
		if minute(c, at+"/to_minute", s.ToMinute) && s.ToMinute <= s.FromMinute {
			c.Add(at+"/to_minute", "must be after from_minute")
		}
		if s.Hands != nil && (*s.Hands < 0 || *s.Hands > MaxHands) {
			c.Add(at+"/hands", "must lie between 0 and %d", MaxHands)
		}
	}
	if !slices.IsSortedFunc(spells, func(a, b Spell) int { return cmp.Compare(a.FromMinute, b.FromMinute) }) {
		sort.SliceStable(order, func(a, b int) bool { return spells[order[a]].FromMinute < spells[order[b]].FromMinute })
	}
	segs := make([]segment, len(spells))
	for k, i := range order {
		s := spells[i]
		segs[k] = segment{from: s.FromMinute, to: s.ToMinute, hands: std}
		if s.Hands != nil {
			segs[k].hands = *s.Hands
		}
		if k > 0 && s.FromMinute < segs[k-1].to {
			c.Add(fmt.Sprintf("/calendar/%d/from_minute", i), "overlaps the spell that ends at minute %d", segs[k-1].to)
		}
	}
	return segs
}

// seg gives the first segment that ends after t, len(segs) when none does.
func (c *calendar) seg(t int64) int {
	if len(c.segs) == 1 {
		if t < c.segs[0].to {
			return 0
		}
		return 1
	}
	return sort.Search(len(c.segs), func(k int) bool { return c.segs[k].to > t })
}

// span gives the first start at or after t from which work of m minutes can run,
// and its end; never when the calendar has no room. m is at least 1.
func (c *calendar) span(t, m int64, unbroken bool) (int64, int64) {
	k := c.seg(t)
	for ; k < len(c.segs); k++ {
		s := &c.segs[k]
		start := max(t, s.from)
		if unbroken {
			if s.blockEnd-start >= m {
				return start, start + m
			}
			continue
		}
		if s.to-start >= m {
			return start, start + m
		}
		return start, c.end(k, s.before+start-s.from+m)
	}
	return never, never
}

// pos gives the open minutes between the origin and minute t.
func (c *calendar) pos(t int64) int64 {
	k := c.seg(t)
	if k == len(c.segs) {
		last := c.segs[k-1]
		return last.before + last.to - last.from
	}
	return c.segs[k].before + max(0, t-c.segs[k].from)
}

// end gives the minute at which the open time since the origin reaches total,
// looking from segment k on.
func (c *calendar) end(k int, total int64) int64 {
	rest := c.segs[k:]
	i := sort.Search(len(rest), func(i int) bool { return rest[i].before+rest[i].to-rest[i].from >= total })
	if i == len(rest) {
		return never
	}
	return rest[i].from + total - rest[i].before
}

// last is the end of the last spell.
func (c *calendar) last() int64 { return c.segs[len(c.segs)-1].to }

// longest gives the minutes of the longest stretch without a gap.
func (c *calendar) longest() int64 {
	var most int64
	for _, s := range c.segs {
		most = max(most, s.blockEnd-s.from)
	}
	return most
}

// room gives the minutes of work, of all hands together, that the calendar holds.
func (c *calendar) room() int64 {
	var sum int64
	for _, s := range c.segs {
		if s.to == never {
			return never
		}
		sum += (s.to - s.from) * int64(s.hands)
	}
	return sum
}

// clock gives the minute by which so much work can be done, for each amount up to
// total, when all hands pull together. The room must be enough.
func (c *calendar) clock(total int64) []int64 {
	clock := make([]int64, total+1)
	done := int64(0)
	for _, s := range c.segs {
		hands := int64(s.hands)
		for k := int64(1); done < total; k++ {
			at := s.from + (k+hands-1)/hands
			if at > s.to {
				break
			}
			done++
			clock[done] = at
		}
	}
	return clock
}
