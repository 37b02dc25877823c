package waiting

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func date(s string) time.Time {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return d
}

// southern are the figures of a kind split from September to March; the months are those
// of the kinds in the book, the rest invented.
var southern = Prior{IntervalMonths: 15, Months: []int{9, 10, 11, 12, 1, 2, 3}, SettlingWeeks: 10, SplitChance: 0.8}

// law is how an invented herd lives.
type law struct {
	interval   func(*rand.Rand) float64 // months of rest before a split
	months     []int
	settle     func(*rand.Rand) float64 // days
	good, bad  float64
	badSeason  float64
	lossYear   float64
	delayMonth float64 // chance in a month of the season that a rested colony is split
}

// played is a herd lived through by the day, with what the book would hold of it.
type played struct {
	log     Log
	mothers []time.Time
	pending []Pending
	bySplit []fate // every split made, with the day it will have settled
}

type fate struct{ from, settled time.Time }

// play lives mothers through from one day to another; their splits are given away once
// settled. Mothers that are lost are replaced by a colony that has just rested.
func play(l law, rng *rand.Rand, mothers int, from, to time.Time) played {
	var p played
	bad := map[int]bool{}
	start := seasonStart(l.months)
	for y := from.Year() - 1; y <= to.Year(); y++ {
		bad[y] = rng.Float64() < l.badSeason
	}
	type hive struct {
		since time.Time
		rest  float64
	}
	hives := make([]hive, mothers)
	for i := range hives {
		hives[i] = hive{from.AddDate(0, 0, -rng.IntN(400)), l.interval(rng)}
	}
	for at := from; at.Before(to); at = at.AddDate(0, 0, 1) {
		for i := range hives {
			h := &hives[i]
			p.log.StandYears += 1 / 365.25
			if rng.Float64() < l.lossYear/365.25 {
				p.log.StandLost++
				p.log.Rests = append(p.log.Rests, Rest{From: h.since, To: at})
				*h = hive{at, l.interval(rng)}
				continue
			}
			if !slices.Contains(l.months, int(at.Month())) || days(h.since, at) < h.rest*daysAMonth || rng.Float64() > l.delayMonth/daysAMonth {
				continue
			}
			p.log.Rests = append(p.log.Rests, Rest{h.since, at, true})
			*h = hive{at, l.interval(rng)}
			chance := l.good
			if bad[seasonOf(start, at)] {
				chance = l.bad
			}
			took := at.AddDate(0, 0, int(l.settle(rng)))
			f := fate{from: at}
			how := Lost
			if rng.Float64() < chance {
				how, f.settled = Settled, took
			}
			p.bySplit = append(p.bySplit, f)
			if took.After(to) {
				how, took = Open, to
				p.pending = append(p.pending, Pending{From: at})
			}
			p.log.Settlings = append(p.log.Settlings, Settling{at, took, how})
		}
	}
	for _, h := range hives {
		p.mothers = append(p.mothers, h.since)
		p.log.Rests = append(p.log.Rests, Rest{From: h.since, To: to})
	}
	return p
}

// known is the law that the reckoning is made for: rests of 14 months and more, settled after
// a log-normal time.
var known = law{interval: func(*rand.Rand) float64 { return 14 }, months: []int{9, 10, 11, 12, 1, 2, 3},
	settle: func(r *rand.Rand) float64 { return math.Exp(math.Log(80) + 0.2*r.NormFloat64()) }, good: 0.9, bad: 0.45, badSeason: 0.2, lossYear: 0.08, delayMonth: 0.6}

// other is a law that it is not made for: rests that differ from hive to hive, a season that
// is two months shorter, settling that takes one of two times, and chances of other sizes.
var other = law{interval: func(r *rand.Rand) float64 { return 9 + 6*r.Float64() }, months: []int{10, 11, 12, 1, 2},
	settle: func(r *rand.Rand) float64 { return 45 + 30*float64(r.IntN(2)) + 20*r.Float64() }, good: 0.85, bad: 0.3, badSeason: 0.25, lossYear: 0.12, delayMonth: 0.9}

func TestLearntRatesAreThoseOfTheHerd(t *testing.T) {
	t.Parallel()
	wrong := Prior{IntervalMonths: 20, Months: []int{8, 9, 10, 11, 12}, SettlingWeeks: 5, SplitChance: 0.5} // figures far from the truth
	rng := rand.New(rand.NewPCG(1, 2))
	p := play(known, rng, 60, date("1996-07-01"), date("2026-07-01"))
	r := Learn(wrong, p.log)
	require.InDelta(t, known.good, r.Good, 0.03)
	require.InDelta(t, known.bad, r.Bad, 0.08)
	require.InDelta(t, known.badSeason, r.BadSeason, 0.15, "thirty seasons know it to a few parts in a hundred")
	require.InDelta(t, known.lossYear, r.LossYear, 0.02)
	require.InDelta(t, 80./7, r.SettlingWeeks(), 0.4)
	require.InDelta(t, 0.2, r.settle.sd, 0.03)
	require.Equal(t, []int{1, 2, 3, 9, 10, 11, 12}, r.SeasonMonths())
	// Rests of 14 months end at once in season, else in September: the middle of those that
	// the book holds is known without any model.
	var ended []float64
	for _, x := range p.log.Rests {
		if x.Split {
			ended = append(ended, days(x.From, x.To)/daysAMonth)
		}
	}
	slices.Sort(ended)
	require.Greater(t, len(ended), 700)
	require.InDelta(t, ended[len(ended)/2], r.RestMonths(), 1.5)
	// And a year ahead: the splits expected are those the herd makes, over many lives of it.
	made, expected := 0.0, 0.0
	for i := range 40 {
		q := play(known, rand.New(rand.NewPCG(7, uint64(i))), 60, date("2020-07-01"), date("2027-07-01"))
		cut := date("2026-07-01")
		at := motherRests(q, cut)
		for _, f := range q.bySplit {
			if !f.from.Before(cut) {
				made++
			}
		}
		steps := stepsFrom(cut, 12, time.September)
		for _, since := range at {
			for k, v := range r.resting.ahead(days(since, cut)/daysAMonth, steps) {
				if steps[k].middle.Before(date("2027-07-01")) {
					expected += v
				}
			}
		}
	}
	require.InDelta(t, 1, expected/made, 0.08)
}

// motherRests gives since when each mother of a herd had rested on a day.
func motherRests(p played, cut time.Time) []time.Time {
	var list []time.Time
	for _, r := range p.log.Rests {
		if r.From.Before(cut) && !r.To.Before(cut) {
			list = append(list, r.From)
		}
	}
	return list
}

// A thin log leaves the figures of the kind nearly as they are, a long one outweighs them.
// What is heard of colonies elsewhere counts as if it stood in the log.
func TestLossesElsewhereCountAsInTheLog(t *testing.T) {
	t.Parallel()
	p := Prior{IntervalMonths: 12, Months: []int{9, 10}, SettlingWeeks: 10, SplitChance: 0.8}
	own, both := Log{StandYears: 30, StandLost: 2}, Log{StandYears: 42.5, StandLost: 9}
	require.InDelta(t, Learn(p, both).LossYear, Learn(p, own).WithLosses(12.5, 7).LossYear, 1e-12)
	require.Equal(t, Learn(p, own), Learn(p, own).WithLosses(0, 0))
}

func TestThinLogLeansOnTheFigures(t *testing.T) {
	t.Parallel()
	none := Learn(southern, Log{})
	require.True(t, none.Usable)
	require.InDelta(t, 0.8, none.SplitChance(), 1e-6)
	require.InDelta(t, 10, none.SettlingWeeks(), 1e-9)
	require.InDelta(t, 0.05, none.LossYear, 1e-9)
	require.Equal(t, []int{1, 2, 3, 9, 10, 11, 12}, none.SeasonMonths())
	require.InDelta(t, 16, none.RestMonths(), 2, "15 months, then the season")
	one := Learn(southern, Log{Settlings: []Settling{{date("2026-01-01"), date("2026-02-01"), Lost}}})
	require.Less(t, one.SplitChance(), 0.8)
	require.Greater(t, one.SplitChance(), 0.65, "one failure in one try is not a rate of failure of one")
	last := one.SplitChance()
	for _, n := range []int{5, 20, 80} {
		l := Log{}
		for i := range n {
			l.Settlings = append(l.Settlings, Settling{date("2020-10-01").AddDate(i%5, 0, 0), date("2021-01-01").AddDate(i%5, 0, 0), Lost})
		}
		now := Learn(southern, l).SplitChance()
		require.Less(t, now, last)
		last = now
	}
	require.Less(t, last, 0.15)
	require.False(t, Learn(Prior{SplitChance: 0.8}, Log{}).Usable, "neither figures nor a log")
	require.False(t, Learn(Prior{SplitChance: 0.8, IntervalMonths: 12, Months: []int{10}}, Log{}).Usable, "nobody knows how long settling takes")
}

// Once many splits of the present season have been lost, those that still settle are
// reckoned with as in a bad season.
func TestBadSeasonIsSeenWhileItLasts(t *testing.T) {
	t.Parallel()
	var l Log
	for y := 2018; y < 2026; y++ {
		for range 10 {
			from := time.Date(y, 10, 1, 0, 0, 0, 0, time.UTC)
			l.Settlings = append(l.Settlings, Settling{from, from.AddDate(0, 0, 70), Settled})
		}
	}
	h := Herd{Today: date("2026-12-01"), Pending: []Pending{{From: date("2026-11-20")}, {From: date("2026-11-20")}}}
	before := Reckon(Learn(southern, l), h).Tail(date("2027-06-01"), 2)
	for range 8 {
		l.Settlings = append(l.Settlings, Settling{date("2026-09-10"), date("2026-11-10"), Lost})
	}
	after := Reckon(Learn(southern, l), h).Tail(date("2027-06-01"), 2)
	require.Greater(t, before[1], 0.8)
	require.Less(t, after[1], 0.5)
	require.Greater(t, after[0]*after[0], after[1], "two of one season share its luck")
}

func TestSeasons(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		months []int
		start  time.Month
		source string
	}{
		{[]int{9, 10, 11, 12, 1, 2, 3}, time.September, "after five months without"},
		{[]int{4, 5, 6, 9}, time.April, "six months without before April, two before September"},
		{[]int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, time.January, "all year"},
		{nil, time.January, "none"},
		{[]int{12}, time.December, "one"},
	} {
		require.Equal(t, tt.start, seasonStart(tt.months), tt.source)
	}
	require.Equal(t, 2026, seasonOf(time.September, date("2027-03-31")))
	require.Equal(t, 2027, seasonOf(time.September, date("2027-09-01")))
	require.Equal(t, 2027, seasonOf(time.January, date("2027-01-01")))
}
