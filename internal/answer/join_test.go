package answer

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/workshop"
)

// truth is a law of real workshops. None of them is that of the model: rates and weeks
// come from other distributions, bad weeks follow one another, tails are heavy.
type truth struct {
	name     string
	rate     func(*rand.Rand) float64 // real on standard minutes of the workshop as a whole
	own      func(*rand.Rand) float64 // the same of one build, beside it
	badStart float64                  // chance that a good week is followed by a bad one
	badGoes  float64                  // that a bad one is followed by another
	lost     float64                  // share of the hours of a bad week
	cases    int                      // builds finished before, from which the rates are learnt
}

// student draws Student's t with 3 degrees of freedom, heavy in the tails.
func student(rng *rand.Rand) float64 {
	var sum float64
	for range 3 {
		x := rng.NormFloat64()
		sum += x * x
	}
	return rng.NormFloat64() / math.Sqrt(sum/3)
}

var truths = []truth{
	{"builds of heavy tails, few cases", func(r *rand.Rand) float64 { return math.Exp(0.25 * r.NormFloat64()) }, func(r *rand.Rand) float64 { return math.Exp(0.15 * student(r)) }, 0.08, 0.5, 0.6, 4},
	{"every seventh build goes wrong", func(r *rand.Rand) float64 { return 0.8 + 0.5*r.Float64() }, func(r *rand.Rand) float64 {
		if r.IntN(7) == 0 {
			return 1.4 + 1.2*r.Float64()
		}
		return 0.85 + 0.3*r.Float64()
	}, 0.10, 0.4, 0.7, 8},
	{"steady hands, a slow season", func(r *rand.Rand) float64 { return math.Exp(0.2 * student(r) / math.Sqrt(3)) }, func(r *rand.Rand) float64 { return 0.9 + 0.2*r.ExpFloat64()/2 }, 0.04, 0.75, 0.5, 3},
	{"many cases", func(r *rand.Rand) float64 { return 0.7 + 0.8*r.Float64() }, func(r *rand.Rand) float64 { return math.Exp(0.25 * student(r)) }, 0.12, 0.3, 0.5, 30},
	{"nothing learnt yet", func(r *rand.Rand) float64 { return math.Exp(0.3 * r.NormFloat64()) }, func(r *rand.Rand) float64 { return 0.7 + 0.6*r.Float64() }, 0.07, 0.5, 0.8, 0},
}

var (
	zone  = time.FixedZone("there", 10*60*60)
	begun = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
)

// workdays gives 8 to 12 and 13 to 16 on weekdays from begun on.
func workdays(weeks int) []planning.Spell {
	one := 1
	var list []planning.Spell
	for d := range 7 * weeks {
		if d%7 < 5 {
			at := int64(d) * 1440
			list = append(list, planning.Spell{FromMinute: at + 480, ToMinute: at + 720, Hands: &one}, planning.Spell{FromMinute: at + 780, ToMinute: at + 960, Hands: &one})
		}
	}
	return list
}

// life is one workshop: what its book says, and what then comes to pass.
type life struct {
	bench          bench
	minutes        float64
	timber, colony step
	kept           func(on time.Time) bool
}

// live draws a workshop from t.
func live(rng *rand.Rand, law truth) life {
	rate := law.rate(rng)
	var learnt []float64
	for range law.cases {
		learnt = append(learnt, rate*law.own(rng))
	}
	in := planning.In{Calendar: workdays(120)}
	out := planning.Out{}
	var behind []float64
	for j := range 2 + rng.IntN(12) {
		m := int64(200 + rng.IntN(1200))
		job := planning.Job{ID: fmt.Sprint(j + 1), DueMinute: planning.MaxMinute / 2, Weight: 1, Steps: []planning.Step{{Minutes: m}}}
		p, err := planning.Earliest(in, out, job)
		if err != nil {
			panic(err)
		}
		in.Jobs, out.Jobs, out.Order = append(in.Jobs, job), append(out.Jobs, p), append(out.Order, p.ID)
		behind = append(behind, float64(m))
	}
	midnight := begun.Add(-10 * time.Hour)
	l := life{minutes: float64(200 + rng.IntN(1500)), timber: surely(begun)}
	l.bench = bench{Bench: workshop.NewBench(in, out, midnight, midnight, zone, planning.Learn(learnt)), loc: zone}

	// Timber is short for every third, and dries as a logistic law says whose even odds
	// and four in five the book knows; a colony is ready by a law that is known as it is.
	timberDay := 0
	if rng.IntN(3) == 0 {
		mid, scale := 5+rng.IntN(60), 2+8*rng.Float64()
		at := func(p float64) time.Time { return begun.AddDate(0, 0, mid+int(math.Ceil(scale*math.Log(p/(1-p))))) }
		l.timber = step{{laterDay(at(0.5), begun), 0.5}, {laterDay(at(0.8), begun), 0.8}, {laterDay(at(0.95), begun), 0.95}, {laterDay(at(0.99), begun), 0.99}}
		u := rng.Float64()
		timberDay = max(0, mid+int(math.Ceil(scale*math.Log(u/(1-u)))))
	}
	colonyDay := 0
	if rng.IntN(3) == 0 {
		first, u, chance := 10+rng.IntN(60), rng.Float64(), 0.0
		colonyDay = math.MaxInt
		for k := range 8 {
			chance += (1 - chance) * 0.45
			l.colony = append(l.colony, point{begun.AddDate(0, 0, first+7*k), chance})
			if u <= chance {
				colonyDay = min(colonyDay, first+7*k)
			}
		}
	}
	done := worksOff(rng, law, rate, behind, l.minutes, timberDay)
	l.kept = func(on time.Time) bool {
		return !on.Before(begun.AddDate(0, 0, done)) && (colonyDay < math.MaxInt || len(l.colony) == 0) && !on.Before(begun.AddDate(0, 0, min(colonyDay, 1e6)))
	}
	return l
}

// worksOff lives through it day by day, and gives the day on which the asked work is
// done: builds one behind the other, the asked one when its timber is there, others not
// waiting for it.
func worksOff(rng *rand.Rand, law truth, rate float64, behind []float64, asked float64, timberDay int) int {
	left := 0.0
	for _, m := range behind {
		left += m * rate * law.own(rng)
	}
	mine, bad := asked*rate*law.own(rng), false
	for day := 0; ; day++ {
		if day%7 == 0 {
			u := rng.Float64()
			bad = bad && u < law.badGoes || !bad && u < law.badStart
		}
		if day%7 >= 5 {
			continue
		}
		hours := 420.0
		if bad {
			hours *= 1 - law.lost
		}
		if take := min(left, hours); take > 0 {
			left -= take
			hours -= take
		}
		if left <= 0 && day >= timberDay {
			if mine -= hours; mine <= 0 {
				return day
			}
		}
	}
}

// The date that is offered, for timber, bench and bees together, is kept in four of five
// workshops: simulated ones, of laws that the model does not know, whose rates are learnt
// from few cases. Source: the issue's own figure, 77 to 85 of 100; the laws are made up here.
func TestFourInFiveDatesAreKept(t *testing.T) {
	t.Parallel()
	const each = 400
	var kept, all int
	for k, law := range truths {
		rng := rand.New(rand.NewPCG(uint64(k+1), 2026))
		mine := 0
		for range each {
			l := live(rng, law)
			parts, err := joinBench(l.bench, begun, workshop.Ask{Minutes: l.minutes}, l.timber, surely(begun), 0)
			require.NoError(t, err)
			if l.colony != nil {
				parts[PartColony] = l.colony
			}
			on, decides, err := promised(context.Background(), parts)
			require.NoError(t, err)
			require.NotNil(t, on)
			require.Contains(t, parts, decides)
			if l.kept(*on) {
				mine++
			}
		}
		t.Logf("%-40s %.1f of 100 kept", law.name, 100*float64(mine)/each)
		require.InDelta(t, 82, 100*float64(mine)/each, 12, law.name)
		kept, all = kept+mine, all+each
	}
	share := 100 * float64(kept) / float64(all)
	t.Logf("%.1f of 100 kept", share)
	require.GreaterOrEqual(t, share, 77.0)
	require.LessOrEqual(t, share, 85.0)
}
