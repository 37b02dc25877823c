package waiting

import (
	"math"
	"slices"
	"time"
)

// The rest of a colony in shares of the figure of its kind; a class begins at its edge.
var restEdges = [...]float64{0, 0.4, 0.6, 0.8, 1, 1.2, 1.5, 2}

// restPrior is how readily a colony of each class is split in a month of the season, while
// the log says nothing: seldom before its rest is over, then one in two a month. Our
// estimate.
var restPrior = [len(restEdges)]float64{0.002, 0.005, 0.02, 0.1, 0.7, 0.7, 0.7, 0.7}

const (
	outOfSeason = 0.02 // of an ordinary month, while the log says nothing; our estimate
	restWeight  = 1.5  // splits that the prior of a class is worth; our estimate
	monthWeight = 3.0  // splits that the prior of a month is worth; our estimate
	fitRounds   = 60
)

// resting is how readily colonies are split by their rest and by the month of the year.
type resting struct {
	interval float64 // months
	rate     [len(restEdges)]float64
	month    [12]float64
	seen     int // splits it was learnt from
}

func classOf(share float64) int {
	c := len(restEdges) - 1
	for c > 0 && share < restEdges[c] {
		c--
	}
	return c
}

// learnResting fits splits = rate of the class x factor of the month to what was seen, both
// leaning on their prior as Gamma-Poisson means, turn by turn until they stand still. Rests
// that have not ended count as exposure. The actuarial life table in two factors (D. R. Cox
// and D. Oakes, Analysis of Survival Data, 1984, chapters 3 and 4; from memory).
func learnResting(p Prior, rests []Rest) resting {
	r := resting{interval: p.IntervalMonths, rate: restPrior}
	for m := range r.month {
		r.month[m] = outOfSeason
		if slices.Contains(p.Months, m+1) {
			r.month[m] = 1
		}
	}
	first := r
	var exposed [len(restEdges)][12]float64 // months
	var splits [len(restEdges)]float64
	var splitsIn [12]float64
	for _, rest := range rests {
		exposeRest(rest, p.IntervalMonths, &exposed)
		if rest.Split {
			r.seen++
			splits[classOf(days(rest.From, rest.To)/daysAMonth/p.IntervalMonths)]++
			splitsIn[rest.To.Month()-1]++
		}
	}
	for range fitRounds {
		for c := range r.rate {
			expected := 0.0
			for m := range r.month {
				expected += exposed[c][m] * r.month[m]
			}
			r.rate[c] = (restWeight + splits[c]) / (restWeight/first.rate[c] + expected)
		}
		for m := range r.month {
			expected := 0.0
			for c := range r.rate {
				expected += exposed[c][m] * r.rate[c]
			}
			r.month[m] = (monthWeight + splitsIn[m]) / (monthWeight/first.month[m] + expected)
		}
	}
	return r
}

// exposeRest adds the months of a rest, by class and month of the year, in steps of ten
// days at most, none of them over the end of a month.
func exposeRest(rest Rest, interval float64, exposed *[len(restEdges)][12]float64) {
	for at := rest.From; at.Before(rest.To); {
		next := time.Date(at.Year(), at.Month()+1, 1, 0, 0, 0, 0, at.Location())
		if tenth := at.AddDate(0, 0, 10); tenth.Before(next) {
			next = tenth
		}
		if next.After(rest.To) {
			next = rest.To
		}
		middle := (days(rest.From, at) + days(rest.From, next)) / 2
		exposed[classOf(middle/daysAMonth/interval)][at.Month()-1] += days(at, next) / daysAMonth
		at = next
	}
}

// chance is that of a split within part of a month of the year.
func (r resting) chance(restMonths float64, month time.Month, part float64) float64 {
	return 1 - math.Exp(-r.rate[classOf(restMonths/r.interval)]*r.month[month-1]*part)
}

// step is one calendar month ahead, or what is left of the present one.
type step struct {
	middle time.Time
	month  time.Month
	part   float64 // of a month
	season int
}

func stepsFrom(today time.Time, months int, start time.Month) []step {
	list := make([]step, 0, months+1)
	for at := today; len(list) < cap(list); {
		next := time.Date(at.Year(), at.Month()+1, 1, 0, 0, 0, 0, time.UTC)
		n := days(at, next)
		list = append(list, step{at.Add(time.Duration(n * 12 * float64(time.Hour))), at.Month(), n / daysAMonth, seasonOf(start, at)})
		at = next
	}
	return list
}

// restMost is the longest rest that is told apart, in months.
const restMost = 96

// ahead gives how many splits a colony that has rested so long is expected to give in each
// step. After a split its rest begins anew.
func (r resting) ahead(restMonths float64, steps []step) []float64 {
	var at, next [restMost + 1]float64
	at[min(int(math.Max(restMonths, 0)), restMost)] = 1
	out := make([]float64, len(steps))
	for i, s := range steps {
		next = [restMost + 1]float64{}
		for rest, share := range at {
			if share == 0 {
				continue
			}
			p := share * r.chance(float64(rest)+0.5, s.month, s.part)
			out[i] += p
			next[0] += p
			next[min(rest+1, restMost)] += share - p
		}
		at = next
	}
	return out
}

// median is the rest in months after which one in two colonies split in a month have been
// split again, a mean over the months weighed by how many are split in them.
func (r resting) median() float64 {
	weight, sum := 0.0, 0.0
	for m := range 12 {
		left, rest := 1.0, 0
		for ; rest < restMost && left > 0.5; rest++ {
			left *= 1 - r.chance(float64(rest)+0.5, time.Month((m+rest)%12+1), 1)
		}
		sum += r.month[m] * float64(rest)
		weight += r.month[m]
	}
	return sum / weight
}
