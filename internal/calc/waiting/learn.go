package waiting

import (
	"math"
	"time"
)

// What the priors are worth beside the log; all our estimates. They say how much log it
// takes before it outweighs the figure of the kind.
const (
	splitWeight    = 12.0 // splits, for the chance in a good season
	badSplitWeight = 6.0  // splits, for the chance in a bad one
	badSeason      = 0.15 // of seasons
	badFactor      = 0.5  // of the chance in a good season
	seasonWeight   = 6.0  // seasons
	settleSpread   = 0.3  // of the logarithm of the days
	lostSpread     = 0.6
	settleWeight   = 8.0  // splits
	lossesAYear    = 0.05 // of settled colonies
	lossWeight     = 20.0 // colony-years
	emRounds       = 80
	restCertain    = 10.0 // splits, for how far the rates are unknown
)

// Rates are what the log teaches of one kind of bee, leaning on the figures of the kind.
type Rates struct {
	Usable bool // whether splits to come can be reckoned with at all

	Good, Bad  float64 // chance that a split settles, by season
	BadSeason  float64 // how many seasons are bad, 0 to 1
	LossYear   float64 // losses of settled colonies a year
	SplitsSeen int     // ended rests
	FatesSeen  int     // splits that settled or were lost
	YearsSeen  float64 // colony-years of settled ones

	resting      resting
	settle, lose spread
	start        time.Month      // of a season
	badNow       map[int]float64 // chance that a season was bad, given what came of its splits
}

// spread is a log-normal time in days.
type spread struct{ mean, sd float64 } // of the logarithm

// by is the chance that it is over after so many days.
func (s spread) by(d float64) float64 {
	if d <= 0 {
		return 0
	}
	return 0.5 * math.Erfc((s.mean-math.Log(d))/(s.sd*math.Sqrt2))
}

// longer is the chance that it takes longer, without losing digits in the tail.
func (s spread) longer(d float64) float64 {
	if d <= 0 {
		return 1
	}
	return 0.5 * math.Erfc((math.Log(d)-s.mean)/(s.sd*math.Sqrt2))
}

// Learn gives the rates of one kind from its log. Every rate is a mean of figure and log,
// weighed by how much log there is; rests and settlings that have not ended count for as
// long as they are known.
func Learn(p Prior, l Log) Rates {
	r := Rates{Usable: p.usable(l), YearsSeen: l.StandYears}
	p = p.filled()
	r.start = seasonStart(p.Months)
	r.resting = learnResting(p, l.Rests)
	r.SplitsSeen = r.resting.seen
	r.LossYear = (lossesAYear*lossWeight + float64(l.StandLost)) / (lossWeight + l.StandYears)
	prior := math.Log(7 * p.SettlingWeeks)
	r.settle = learnSpread(l.Settlings, Settled, spread{prior, settleSpread})
	r.lose = learnSpread(l.Settlings, Lost, spread{prior, lostSpread})
	r.learnSeasons(p.SplitChance, l.Settlings)
	return r
}

// WithLosses adds what was heard of colonies elsewhere, given to buyers: lost of them in so many colony-years. It is as if
// they had stood in the log; none heard of changes nothing.
func (r Rates) WithLosses(years float64, lost int) Rates {
	own := lossWeight + r.YearsSeen
	r.LossYear = (r.LossYear*own + float64(lost)) / (own + years)
	return r
}

func learnSpread(list []Settling, how string, prior spread) spread {
	n, sum := 0.0, 0.0
	var logs []float64
	for _, s := range list {
		if s.How == how {
			x := math.Log(math.Max(1, days(s.From, s.To)))
			logs, n, sum = append(logs, x), n+1, sum+x
		}
	}
	mean := (settleWeight*prior.mean + sum) / (settleWeight + n)
	square := settleWeight * prior.sd * prior.sd
	for _, x := range logs {
		square += (x - mean) * (x - mean)
	}
	return spread{mean, math.Sqrt(square / (settleWeight + n))}
}

// learnSeasons fits two kinds of seasons to what came of the splits of each: a mixture of
// two binomials by expectation and maximisation with Beta priors (A. P. Dempster, N. M.
// Laird and D. B. Rubin, J. R. Statist. Soc. B 39, 1977, 1-38; from memory). The priors stand
// about the chance over all seasons, itself a mean of figure and log, so that a herd that
// always fails is not taken for one with nothing but bad seasons.
func (r *Rates) learnSeasons(chance float64, list []Settling) {
	type tried struct{ settled, lost float64 }
	seasons := map[int]tried{}
	for _, s := range list {
		year := seasonOf(r.start, s.From)
		t := seasons[year]
		switch s.How {
		case Settled:
			t.settled++
		case Lost:
			t.lost++
		default:
			continue
		}
		seasons[year] = t
		r.FatesSeen++
	}
	var settled, fates float64
	for _, t := range seasons {
		settled, fates = settled+t.settled, fates+t.settled+t.lost
	}
	level := (splitWeight*chance + settled) / (splitWeight + fates)
	good0 := math.Min(0.98, math.Max(0.02, level/(1-badSeason*(1-badFactor))))
	bad0 := badFactor * good0
	good, bad, q := good0, bad0, badSeason
	r.badNow = map[int]float64{}
	for range emRounds {
		var gs, gl, bs, bl, sum float64
		for year, t := range seasons {
			odds := math.Log(q/(1-q)) + t.settled*math.Log(bad/good) + t.lost*math.Log((1-bad)/(1-good))
			z := 1 / (1 + math.Exp(-odds))
			r.badNow[year] = z
			gs, gl = gs+(1-z)*t.settled, gl+(1-z)*t.lost
			bs, bl = bs+z*t.settled, bl+z*t.lost
			sum += z
		}
		good = (splitWeight*good0 + gs) / (splitWeight + gs + gl)
		bad = math.Min((badSplitWeight*bad0+bs)/(badSplitWeight+bs+bl), 0.95*good)
		q = (seasonWeight*badSeason + sum) / (seasonWeight + float64(len(seasons)))
	}
	r.Good, r.Bad, r.BadSeason = good, bad, q
}

// SplitChance is the chance that a split settles, over good and bad seasons.
func (r Rates) SplitChance() float64 { return (1-r.BadSeason)*r.Good + r.BadSeason*r.Bad }

// RestMonths is the middle rest between two splits of a colony.
func (r Rates) RestMonths() float64 { return r.resting.median() }

// SettlingWeeks is the middle time from split to settled.
func (r Rates) SettlingWeeks() float64 { return math.Exp(r.settle.mean) / 7 }

// SeasonMonths are the months in which a colony is split at least a quarter as readily as
// in the readiest.
func (r Rates) SeasonMonths() []int {
	most := 0.0
	for _, v := range r.resting.month {
		most = math.Max(most, v)
	}
	var list []int
	for m, v := range r.resting.month {
		if v >= most/4 {
			list = append(list, m+1)
		}
	}
	return list
}

// badOf is the chance that a season is bad, given what has come of its splits so far.
func (r Rates) badOf(season int) float64 {
	if z, ok := r.badNow[season]; ok {
		return z
	}
	return r.BadSeason
}

// unknown are the deviations over the mean with which splits to come, and the settling of
// those made already, are known; both shrink with the log.
func (r Rates) unknown() (splits, settling float64) {
	fate := (1 - r.Good) / r.Good / (splitWeight + float64(r.FatesSeen))
	return math.Sqrt(1/(restCertain+float64(r.SplitsSeen)) + fate), math.Sqrt(fate)
}

// Share is a share of cases learnt by counting, leaning on a prior worth so many cases.
func Share(prior, weight float64, yes, of int) float64 {
	return (prior*weight + float64(yes)) / (weight + float64(of))
}
