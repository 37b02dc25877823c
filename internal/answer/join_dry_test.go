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

// sky is a law of real weather: wet and dry spells of so many days that are no chain of two
// states, in wetter and drier years. All of it is made up here.
type sky struct {
	name     string
	wet, dry func(*rand.Rand) int // days of a spell
	year     float64              // how much longer the wet spells of a year are, log standard deviation
}

func atLeastOne(x float64) int { return max(1, int(math.Round(x))) }

var skies = []sky{
	{"showers", func(r *rand.Rand) int { return 1 + r.IntN(2) }, func(r *rand.Rand) int { return 1 + r.IntN(6) }, 0.1},
	{"weeks of rain", func(r *rand.Rand) int { return atLeastOne(5 * r.ExpFloat64()) }, func(r *rand.Rand) int { return atLeastOne(9 * r.ExpFloat64()) }, 0.4},
	{"a wet coast", func(r *rand.Rand) int { return 1 + r.IntN(4) }, func(r *rand.Rand) int { return 1 + r.IntN(3) }, 0.3},
	{"dry country", func(r *rand.Rand) int { return 1 + r.IntN(2) }, func(r *rand.Rand) int { return atLeastOne(14 * r.ExpFloat64()) }, 0.3},
}

// days draws which days are dry, from somewhere in a spell on.
func (s sky) days(rng *rand.Rand, n int) []bool {
	longer, dry := math.Exp(s.year*rng.NormFloat64()), rng.IntN(2) == 0
	var out []bool
	for len(out) < n+60 {
		spell := s.dry(rng)
		if !dry {
			spell = atLeastOne(float64(s.wet(rng)) * longer)
		}
		for range spell {
			out = append(out, dry)
		}
		dry = !dry
	}
	from := rng.IntN(60)
	return out[from : from+n]
}

// rainDays is what the weather office prints of it: means of thirty years.
func (s sky) rainDays(rng *rand.Rand) (rain [12]float64) {
	wet, all := 0, 0
	for range 30 {
		for _, dry := range s.days(rng, 360) {
			if all++; !dry {
				wet++
			}
		}
	}
	for m := range rain {
		rain[m] = math.Round(10*30.4*float64(wet)/float64(all)) / 10
	}
	return rain
}

// The date offered for work that needs dry weather is kept in about four of five workshops
// under skies whose laws the model does not know. Source: the 77 to 85 of 100 that all
// dates are held to; by law somewhat wider.
func TestDatesOfDryWorkAreKept(t *testing.T) {
	t.Parallel()
	const each = 120
	kept, all := 0, 0
	for n, law := range skies {
		rng := rand.New(rand.NewPCG(uint64(n+1), 77))
		mine := 0
		for k := range each {
			work := truths[k%len(truths)]
			rate := work.rate(rng)
			var learnt []float64
			for range work.cases {
				learnt = append(learnt, rate*work.own(rng))
			}
			in, out := planning.In{Calendar: workdays(120)}, planning.Out{}
			behind := 0.0
			for j := range 1 + rng.IntN(4) {
				m := int64(200 + rng.IntN(1200))
				job := planning.Job{ID: fmt.Sprint(j + 1), DueMinute: planning.MaxMinute / 2, Weight: 1, Steps: []planning.Step{{Minutes: m}}}
				p, err := planning.Earliest(in, out, job)
				require.NoError(t, err)
				in.Jobs, out.Jobs, out.Order = append(in.Jobs, job), append(out.Jobs, p), append(out.Order, p.ID)
				behind += float64(m) * rate * work.own(rng)
			}
			midnight := begun.Add(-10 * time.Hour)
			b := bench{Bench: workshop.NewBench(in, out, midnight, midnight, zone, planning.Learn(learnt)), loc: zone}
			b.Under(workshop.Weather{RainDays: law.rainDays(rng)}, 120*7)
			ask := workshop.Ask{Minutes: float64(300 + rng.IntN(900))}
			ask.DryMinutes = ask.Minutes * (0.2 + 0.6*rng.Float64())
			parts, err := joinBench(b, begun, ask, surely(begun), surely(begun), 0)
			require.NoError(t, err)
			on, _, err := promised(context.Background(), parts)
			require.NoError(t, err)
			require.NotNil(t, on)
			own := rate * work.own(rng)
			done := worksOffDry(rng, work, behind, (ask.Minutes-ask.DryMinutes)*own, ask.DryMinutes*own, law.days(rng, 700))
			if !on.Before(begun.AddDate(0, 0, done)) {
				mine++
			}
		}
		t.Logf("%-15s %.1f of 100 kept", law.name, 100*float64(mine)/each)
		require.InDelta(t, 82, 100*float64(mine)/each, 14, law.name)
		kept, all = kept+mine, all+each
	}
	share := 100 * float64(kept) / float64(all)
	t.Logf("%.1f of 100 kept", share)
	require.GreaterOrEqual(t, share, 77.0)
	require.LessOrEqual(t, share, 85.0)
}

// worksOffDry lives through it: what is behind and the work indoors in order, then the
// rest on dry days.
func worksOffDry(rng *rand.Rand, law truth, behind, indoors, outside float64, dry []bool) int {
	left, bad := behind+indoors, false
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
		take := min(left, hours)
		left, hours = left-take, hours-take
		if left <= 0 && (day >= len(dry) || dry[day]) {
			if outside -= hours; outside <= 0 {
				return day
			}
		}
	}
}
