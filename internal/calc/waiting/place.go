package waiting

import (
	"math"
	"slices"
	"time"

	"kerfbook/internal/calc/supply"
)

// Before are those who stand before a place in the line, each with the chance of staying
// until served: drop-outs bring the others forward.
type Before []float64

// Point is the chance that a place is served by a day.
type Point struct {
	On     time.Time
	Chance float64
}

// certainTol lets a chance that equals the certainty on paper count as reached.
const certainTol = 1e-9

// stays is the distribution of how many of those before stay.
func (b Before) stays() []float64 { return supply.Counts(b, len(b)) }

// served is the chance that the place-th after those who stay is served, from the tail of
// the supply.
func served(stays, tail []float64, place int) float64 {
	p := 0.0
	for i, share := range stays {
		if k := i + place; k <= len(tail) {
			p += share * tail[k-1]
		}
	}
	return math.Min(1, p)
}

// By is the chance that the place-th after those before is served by a day; place 1 is
// right behind them.
func (s *Supply) By(on time.Time, before Before, place int) float64 {
	return served(before.stays(), s.Tail(on, len(before)+place), place)
}

// HorizonWeeks is how far ahead a place is looked for, from today by the week: no herd is
// known to the day.
const HorizonWeeks = HorizonMonths * 52 / 12

// week is the day so many weeks from today.
func (s *Supply) week(n int) time.Time { return s.herd.Today.AddDate(0, 0, 7*n) }

// Curve gives the chance of a place from today to the horizon, finer where it climbs, and
// the end of the first week by which it reaches the certainty; nil where it does not.
func (s *Supply) Curve(before Before, place int, certainty float64) ([]Point, *time.Time) {
	stays := before.stays()
	at := func(n int) Point {
		on := s.week(n)
		return Point{on, served(stays, s.Tail(on, len(before)+place), place)}
	}
	known := map[int]Point{0: at(0), HorizonWeeks: at(HorizonWeeks)}
	refine(known, at, 0, HorizonWeeks, certainty)
	order := make([]int, 0, len(known))
	for n := range known {
		order = append(order, n)
	}
	slices.Sort(order)
	points, best := make([]Point, 0, len(order)), 0.0
	var first *time.Time
	for _, n := range order {
		p := known[n]
		best = math.Max(best, p.Chance)
		p.Chance = best
		points = append(points, p)
		if first == nil && p.Chance >= certainty-certainTol {
			first = &p.On
		}
	}
	return points, first
}

// curveRise is how much a curve may climb between two points of it, and weeksApart how near
// points are laid outside the crossing of the certainty, which is found to the week.
const (
	curveRise  = 0.12
	weeksApart = 4
)

func refine(known map[int]Point, at func(int) Point, low, high int, certainty float64) {
	a, b := known[low], known[high]
	crosses := a.Chance < certainty-certainTol && b.Chance >= certainty-certainTol
	if high-low <= 1 || !crosses && (b.Chance-a.Chance <= curveRise || high-low <= weeksApart) {
		return
	}
	mid := (low + high) / 2
	known[mid] = at(mid)
	refine(known, at, low, mid, certainty)
	refine(known, at, mid, high, certainty)
}

// Places gives for each place of a line the end of the first week by which it is served
// with the certainty; nil where that lies beyond the horizon. stay holds the chance of each
// in the line of staying until served.
func (s *Supply) Places(stay []float64, certainty float64) []*time.Time {
	out := make([]*time.Time, len(stay))
	var tails [HorizonWeeks + 1][]float64
	from := 0
	for k := range stay {
		stays := Before(stay[:k]).stays()
		reached := func(week int) bool {
			if tails[week] == nil {
				tails[week] = s.Tail(s.week(week), len(stay))
			}
			return served(stays, tails[week], 1) >= certainty-certainTol
		}
		if !reached(HorizonWeeks) {
			break // those behind are later still
		}
		low, high := from, HorizonWeeks
		for low < high {
			if mid := (low + high) / 2; reached(mid) {
				high = mid
			} else {
				low = mid + 1
			}
		}
		from = low
		on := s.week(low)
		out[k] = &on
	}
	return out
}
