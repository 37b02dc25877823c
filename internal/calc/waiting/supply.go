package waiting

import (
	"math"
	"slices"
	"time"

	"kerfbook/internal/calc/supply"
)

// Pending is a split, or another young colony, that has not settled yet.
type Pending struct {
	From     time.Time // the split, or the day from which it settles as a split does
	Expected float64   // weeks that the maker expects it to take; 0: as usual
}

// Herd is what the workshop has of one kind of bee and nobody has claimed. Colonies held
// back stand nowhere in it.
type Herd struct {
	Today   time.Time
	Ready   int         // settled, to be given
	Pending []Pending   // settling, to be given
	Mothers []time.Time // kept to be split: since when each has rested
}

// HorizonMonths is how far ahead splits are reckoned.
const HorizonMonths = 48

// weeksToGive is how long a ready colony stands from the promise until it goes; our
// estimate.
const weeksToGive = 6

// Supply is how many colonies will be there by any day, as far as the log teaches.
type Supply struct {
	rates   Rates
	herd    Herd
	steps   []step
	seasons []int
	mothers []motherGroup
	ready   []float64 // chances
}

// motherGroup is mothers of the same rest: splits expected in each step, for one of them.
type motherGroup struct {
	n     int
	ahead []float64
}

// Reckon lays out what is to come. A mother's rest is told apart by the month; losses of
// mothers thin their splits.
func Reckon(r Rates, h Herd) *Supply {
	s := &Supply{rates: r, herd: h, steps: stepsFrom(h.Today, HorizonMonths, r.start)}
	for range h.Ready {
		s.ready = append(s.ready, math.Exp(-r.LossYear*weeksToGive/52))
	}
	if r.Usable {
		rested := map[int]int{}
		for _, since := range h.Mothers {
			rested[min(int(math.Max(0, days(since, h.Today)/daysAMonth)), restMost)]++
		}
		for rest, n := range rested {
			g := motherGroup{n, r.resting.ahead(float64(rest), s.steps)}
			for i := range g.ahead {
				g.ahead[i] *= math.Exp(-r.LossYear * days(h.Today, s.steps[i].middle) / 365.25)
			}
			s.mothers = append(s.mothers, g)
		}
	}
	for _, p := range h.Pending {
		s.addSeason(seasonOf(r.start, p.From))
	}
	if len(s.mothers) > 0 {
		for _, st := range s.steps {
			s.addSeason(st.season)
		}
	}
	return s
}

func (s *Supply) addSeason(year int) {
	if !slices.Contains(s.seasons, year) {
		s.seasons = append(s.seasons, year)
		slices.Sort(s.seasons)
	}
}

// nodes are those of two-point Gauss-Hermite quadrature for the unknown of the rates: the
// mean less and plus one deviation, weighed alike (Abramowitz and Stegun 1964, table 25.10,
// n = 2; from memory).
var nodes = [...]float64{-1, 1}

// surest is the most that the settling of a split is taken for; our estimate.
const surest = 0.98

// Tail gives the chance of at least 1, 2 ... most colonies by a day: the exact
// Poisson-binomial of ready, settling and split ones, within a season good or bad for all
// of it at once, the seasons folded together, and the unknown of the rates hitting all
// seasons. Splits of one mother in two seasons are taken as independent; within a season
// a mother gives one at most.
func (s *Supply) Tail(on time.Time, most int) []float64 {
	tail := make([]float64, most)
	ready := supply.Counts(s.ready, most)
	if len(s.seasons) == 0 {
		addTail(tail, ready, 1)
		return tail
	}
	seasons := make([]seasonBy, len(s.seasons))
	for i, year := range s.seasons {
		seasons[i] = s.seasonBy(year, on)
	}
	splits, settling := s.rates.unknown()
	for _, node := range nodes {
		total := ready
		for i := range seasons {
			good, bad := s.chances(&seasons[i], 1+node*splits, 1+node*settling)
			if len(good) == 0 {
				continue
			}
			q := s.rates.badOf(seasons[i].year)
			ofGood, ofBad := supply.Counts(good, most), supply.Counts(bad, most)
			for k := range ofGood {
				ofGood[k] = (1-q)*ofGood[k] + q*ofBad[k]
			}
			total = fold(total, ofGood)
		}
		addTail(tail, total, 1./float64(len(nodes)))
	}
	return tail
}

func addTail(tail, counts []float64, weight float64) {
	sum := 0.0
	for k := len(tail); k > 0; k-- {
		sum += counts[k]
		tail[k-1] += weight * sum
	}
}

// fold gives the distribution of the sum of two counts, both cut off at the same most.
func fold(a, b []float64) []float64 {
	most := len(a) - 1
	out := make([]float64, len(a))
	for i, p := range a {
		if p == 0 {
			continue
		}
		for j, v := range b {
			out[min(i+j, most)] += p * v
		}
	}
	return out
}

// seasonBy is what of a season may be there by a day, before the luck of the season.
type seasonBy struct {
	year    int
	mothers []float64 // by group: splits of one mother that were made and have had their time
	pending []settlingBy
}

// settlingBy is a split that has been made: how much of its time is left, and how much of
// that falls before the day.
type settlingBy struct{ left, before, lost float64 }

func (s *Supply) seasonBy(year int, on time.Time) seasonBy {
	r, by := s.rates, seasonBy{year: year}
	for _, p := range s.herd.Pending {
		if seasonOf(r.start, p.From) == year {
			by.pending = append(by.pending, s.settlingBy(p, on))
		}
	}
	if len(s.mothers) == 0 {
		return by
	}
	by.mothers = make([]float64, len(s.mothers))
	for i, st := range s.steps {
		if st.season != year || !st.middle.Before(on) {
			continue
		}
		v := r.settle.by(days(st.middle, on))
		for g := range s.mothers {
			by.mothers[g] += v * s.mothers[g].ahead[i]
		}
	}
	return by
}

func (s *Supply) settlingBy(p Pending, on time.Time) settlingBy {
	settle, lose := s.rates.settle, s.rates.lose
	if p.Expected > 0 {
		shift := math.Log(7*p.Expected) - settle.mean
		settle.mean, lose.mean = settle.mean+shift, lose.mean+shift
	}
	age := math.Max(0, days(p.From, s.herd.Today))
	left := settle.longer(age)
	return settlingBy{left, math.Max(0, left-settle.longer(days(p.From, on))), lose.longer(age)}
}

// there is the chance that a split which has neither settled nor been lost so far is there
// by the day, chance being that of any split. The longer it takes, the likelier it has
// failed unseen.
func (b settlingBy) there(chance float64) float64 {
	if alive := chance*b.left + (1-chance)*b.lost; alive > 0 {
		return chance * b.before / alive
	}
	return 0
}

// chances gives, for each colony that may come of a season, the chance that it is there if
// the season is good, and if it is bad. Those without any are left out.
func (s *Supply) chances(by *seasonBy, splits, settling float64) (good, bad []float64) {
	r := s.rates
	for _, b := range by.pending {
		if p := b.there(math.Min(surest, settling*r.Good)); p > leastChance {
			good, bad = append(good, p), append(bad, b.there(math.Min(surest, settling*r.Bad)))
		}
	}
	for g, there := range by.mothers {
		there = math.Min(1, splits*there)
		for range s.mothers[g].n {
			if there*r.Good > leastChance {
				good, bad = append(good, there*r.Good), append(bad, there*r.Bad)
			}
		}
	}
	return good, bad
}

// leastChance is what is left out: thousands of such colonies do not make one in a thousand.
const leastChance = 1e-7
