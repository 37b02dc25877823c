package workshop

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

// ThingUse is an open build that a limited thing matters to: it needs it, or it would end
// later if there were another count of it.
type ThingUse struct {
	BuildID    int64
	Number     string
	What       string
	Operations []string   // those not done that need it
	EndsOn     *time.Time // as things stand; nil: it finds no place
	ThenOn     *time.Time // with the other count; nil: it finds no place
	DueOn      *time.Time // by which the bench must be done
	Why        string     // it finds no place because of this, with the other count
	LateDays   int        // of ThenOn behind DueOn
}

// Hurt reports whether the other count makes the build later, or impossible.
func (u ThingUse) Hurt() bool {
	return u.EndsOn != nil && (u.ThenOn == nil || u.ThenOn.After(*u.EndsOn))
}

// ThingUses gives the open builds that need a limited thing, and those that would end
// later if there were count of it, 0 to 1000; what is hurt first, then by end. Invalid.
func (r *Room) ThingUses(ctx context.Context, id int64, count int) ([]ThingUse, error) {
	var l fault.List
	l.Check(count >= 0 && count <= 1000, "/count", "Ask for a count between 0 and 1000.")
	if err := l.Err(); err != nil {
		return nil, err
	}
	t, err := thingIn(ctx, r.db, id)
	if err != nil {
		return nil, err
	}
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	now, err := r.benchIn(ctx, r.db, set.Location())
	if err != nil {
		return nil, err
	}
	key := thingKey(t.Name)
	then, err := r.benchWere(ctx, r.db, set.Location(), func(l limits) { l.counts[key] = count })
	if err != nil {
		return nil, err
	}
	was, will := now.ends(), then.ends()
	out := []ThingUse{}
	for _, w := range then.works {
		u := ThingUse{BuildID: w.BuildID, Number: w.Number, What: w.What, DueOn: w.due(), EndsOn: was[w.BuildID], ThenOn: will[w.BuildID], Why: w.Lacks}
		for _, o := range w.todo() {
			if slices.Contains(o.needs(), key) {
				u.Operations = append(u.Operations, o.Name)
			}
		}
		if u.DueOn != nil && u.ThenOn != nil {
			u.LateDays = daysBeyond(*u.ThenOn, *u.DueOn)
		}
		if len(u.Operations) > 0 || u.Hurt() {
			out = append(out, u)
		}
	}
	slices.SortStableFunc(out, func(a, b ThingUse) int {
		if a.Hurt() != b.Hurt() {
			return map[bool]int{true: -1, false: 1}[a.Hurt()]
		}
		return strings.Compare(dayText(a.ThenOn), dayText(b.ThenOn))
	})
	return out, nil
}

// dayText is a day for sorting, none last.
func dayText(day *time.Time) string {
	if day == nil {
		return "none"
	}
	return day.Format(time.DateOnly)
}

// ends gives the business date on which each build of the bench ends.
func (b *Bench) ends() map[int64]*time.Time {
	out := map[int64]*time.Time{}
	for _, p := range b.out.Jobs {
		if id, err := strconv.ParseInt(p.ID, 10, 64); err == nil {
			on := b.lastDay(p.EndMinute)
			out[id] = &on
		}
	}
	return out
}
