package workshop

import (
	"context"
	"slices"
	"time"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/postgres"
)

// openHours is when there is anybody at the bench, in minutes from an origin.
type openHours struct {
	spells []planning.Spell   // by time, without overlap
	own    []planning.Stretch // of them, when the owner is there
	alone  bool               // there are some when the owner is not
}

// handsIn reads the second hands who come between two days.
func handsIn(ctx context.Context, q postgres.Querier, first, last time.Time) ([]SecondHands, error) {
	return postgres.List[SecondHands](ctx, q, `SELECT `+handsColumns+` FROM second_hands WHERE (to_on IS NULL OR to_on >= $1::date) AND from_on <= $2::date ORDER BY from_on, id`, first, last)
}

// stretches gives when second hands work on a day, in minutes from origin: their hours
// less the breaks between the owner's hours of that day of the week, and none while the
// owner is away unless they come then too.
func (h SecondHands) stretches(origin, day time.Time, hours []Hours, away bool) []planning.Stretch {
	if !h.on(dateOf(day)) || away && !h.WhileAway {
		return nil
	}
	hours = slices.SortedFunc(slices.Values(hours), func(a, b Hours) int { return a.StartMinute - b.StartMinute })
	var out []planning.Stretch
	from, end := h.StartMinute, h.StartMinute+h.Minutes
	put := func(to int) {
		if to = min(to, end); to > from {
			if s := (planning.Stretch{FromMinute: max(0, wallMinute(origin, day, from)), ToMinute: wallMinute(origin, day, to)}); s.ToMinute > s.FromMinute {
				out = append(out, s)
			}
		}
	}
	for i := 1; i < len(hours); i++ {
		if rest, work := hours[i-1].EndMinute, hours[i].StartMinute; work > rest && rest < end && work > from {
			put(rest)
			from = max(from, work)
		}
	}
	put(end)
	return out
}

// wallMinute gives the minutes from origin to a minute of a day by the wall clock, so
// that a change of the clocks moves nothing. A minute that the clocks leave out is the one
// at which they are put forward.
func wallMinute(origin, day time.Time, minute int) int64 {
	at := time.Date(day.Year(), day.Month(), day.Day(), 0, minute, 0, 0, day.Location())
	if shown := at.Hour()*60 + at.Minute(); minute < 24*60 && shown != minute {
		start, end := at.ZoneBounds()
		if at = start; shown < minute {
			at = end
		}
	}
	return int64(at.Sub(origin).Minutes())
}

// add puts the hours of one more day behind the others: own are the owner's spells,
// second the stretches of everybody else.
func (o *openHours) add(own []planning.Spell, second []planning.Stretch) {
	var marks []int64
	for _, s := range own {
		o.own = append(o.own, planning.Stretch{FromMinute: s.FromMinute, ToMinute: s.ToMinute})
		marks = append(marks, s.FromMinute, s.ToMinute)
	}
	if len(second) == 0 {
		o.spells = append(o.spells, own...)
		return
	}
	for _, s := range second {
		marks = append(marks, s.FromMinute, s.ToMinute)
	}
	slices.Sort(marks)
	marks = slices.Compact(marks)
	for i := 1; i < len(marks); i++ {
		from, hands, owner := marks[i-1], 0, false
		for _, s := range own {
			if s.FromMinute <= from && from < s.ToMinute {
				hands, owner = hands+*s.Hands, true
			}
		}
		for _, s := range second {
			if s.FromMinute <= from && from < s.ToMinute {
				hands++
			}
		}
		if hands > 0 {
			hands = min(hands, planning.MaxHands)
			o.spells = append(o.spells, planning.Spell{FromMinute: from, ToMinute: marks[i], Hands: &hands})
			o.alone = o.alone || !owner
		}
	}
}

// keep takes the owner's hours over into the limits of a plan, where there are others.
func (l *limits) keep(o openHours) {
	l.own, l.noOwner = nil, false
	if o.alone {
		l.own, l.noOwner = o.own, len(o.own) == 0
	}
}

// ownerThere tells whether the owner is at the bench at a minute of the plan.
func (b *Bench) ownerThere(minute int64) bool {
	if !b.limits.noOwner && b.limits.own == nil {
		return true
	}
	return slices.ContainsFunc(b.limits.own, func(s planning.Stretch) bool { return s.FromMinute <= minute && minute < s.ToMinute })
}
