package answer

import (
	"math/rand/v2"
	"slices"
	"time"

	"kerfbook/internal/workshop"
)

// courses is how many times the bench is played through for one answer.
const courses = 250

// newParts are the curves of the boxes that are built anew: the bench, and what it waits
// for. Timber and fittings go before work of the same bench under the same luck, so they
// are played together: the curve of the bench is that of the bench alone, and the curve
// of timber the chance that it keeps nothing up once the bench could be done. Their product
// is then the chance of all of them together.
func (w *working) newParts(cure int) (map[string]step, error) {
	return joinBench(w.bench, w.day, w.ask(), w.timber, w.fitting, cure)
}

func joinBench(b bench, today time.Time, ask workshop.Ask, timber, fitting step, cure int) (map[string]step, error) {
	parts := map[string]step{PartBench: nil}
	if b.full {
		return parts, nil
	}
	alone, err := b.FitDraws(ask, []workshop.Start{{On: today, Draws: allCourses()}}, courses)
	if err != nil {
		return nil, err
	}
	parts[PartBench] = curve(alone, cure)
	before, there := alone, startsOf(surely(today), today, 1)
	for i, waits := range []struct {
		part string
		step step
	}{{PartTimber, timber}, {PartFittings, fitting}} {
		if len(waits.step) > 0 && waits.step.day().Equal(today) {
			continue
		}
		there = laterStarts(there, startsOf(waits.step, today, uint64(i+2)))
		days, err := b.FitDraws(ask, groupStarts(there), courses)
		if err != nil {
			return nil, err
		}
		for k := range days {
			days[k] = laterDay(days[k], before[k])
		}
		parts[waits.part] = after(curve(days, cure), curve(before, cure))
		before = days
	}
	return parts, nil
}

func allCourses() []int {
	list := make([]int, courses)
	for i := range list {
		list[i] = i
	}
	return list
}

// startsOf spreads the days of a curve over the courses, in an order of its own.
func startsOf(s step, today time.Time, seed uint64) []time.Time {
	s = halved(s)
	order := rand.New(rand.NewPCG(seed, seed)).Perm(courses)
	days := make([]time.Time, courses)
	for i, place := range order {
		u := (float64(place) + 0.5) / courses
		days[i] = workshop.Never
		for _, p := range s {
			if u <= p.chance {
				days[i] = laterDay(p.on, today)
				break
			}
		}
	}
	if len(s) == 1 && s[0].chance >= 0.99 { // there for sure
		for i := range days {
			days[i] = laterDay(s[0].on, today)
		}
	}
	return days
}

// halved puts the day half-way between two points of a curve, with half-way the chance.
func halved(s step) step {
	var out step
	for i, p := range s {
		if i > 0 {
			before := s[i-1]
			days := int(p.on.Sub(before.on).Hours() / 24)
			out = append(out, point{before.on.AddDate(0, 0, (days+1)/2), (before.chance + p.chance) / 2})
		}
		out = append(out, p)
	}
	return out
}

func laterStarts(a, b []time.Time) []time.Time {
	out := make([]time.Time, len(a))
	for i := range a {
		out[i] = laterDay(a[i], b[i])
	}
	return out
}

// groupStarts gathers the courses that begin on one day.
func groupStarts(days []time.Time) []workshop.Start {
	var out []workshop.Start
	for i, d := range days {
		if d.Equal(workshop.Never) {
			continue
		}
		k := slices.IndexFunc(out, func(s workshop.Start) bool { return s.On.Equal(d) })
		if k < 0 {
			k = len(out)
			out = append(out, workshop.Start{On: d})
		}
		out[k].Draws = append(out[k].Draws, i)
	}
	return out
}

// curve makes a step curve of the days of courses, so many days later.
func curve(days []time.Time, plusDays int) step {
	sorted := slices.Clone(days)
	slices.SortFunc(sorted, time.Time.Compare)
	var s step
	for i, d := range sorted {
		if d.Equal(workshop.Never) {
			break
		}
		on := d.AddDate(0, 0, plusDays)
		chance := float64(i+1) / float64(len(sorted))
		if k := len(s) - 1; k >= 0 && s[k].on.Equal(on) {
			s[k].chance = chance
			continue
		}
		s = append(s, point{on, chance})
	}
	return s
}

// after gives the curve whose product with alone is both, as far as a curve that never
// falls can.
func after(both, alone step) step {
	var s step
	best := 0.0
	for _, p := range both {
		base := alone.at(p.on)
		if base <= 0 {
			continue
		}
		best = max(best, min(1, p.chance/base))
		s = append(s, point{p.on, best})
	}
	return s
}

// at is the chance of a curve on a day.
func (s step) at(day time.Time) float64 {
	chance := 0.0
	for _, p := range s {
		if p.on.After(day) {
			break
		}
		chance = p.chance
	}
	return chance
}

// wholeParts are the curves that a colony and its box wait for together.
func (w *working) wholeParts(u UnitDate, colony step) map[string]step {
	parts := map[string]step{PartColony: colony}
	if w.rev == nil {
		return parts
	}
	var of map[string]step
	switch u.From {
	case FromNew:
		of = w.freshParts
	case FromBuild:
		of = w.buildParts[u.BuildID]
	case FromShelf:
		of = map[string]step{PartShelf: {{*u.BoxOn, 1}}}
	}
	for id, s := range of {
		parts[id] = s
	}
	return parts
}
