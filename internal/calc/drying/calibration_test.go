package drying

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// coast is an invented mild coast, January first, southern half of the world.
var coast = []Month{
	{25, 68}, {25, 70}, {23.5, 69}, {21, 68}, {18, 68}, {15.5, 67},
	{14.5, 64}, {15.5, 61}, {18.5, 60}, {20.5, 63}, {22.5, 65}, {24, 66},
}

// slab is a pack that dries by another law than the model's: diffusion from the
// middle of a board to its faces, a steeper power of thickness, another answer to
// temperature, days of good and bad weather in runs, a site and a timber of its own.
type slab struct {
	in      DryingIn
	gravity float64
	mean    []float64 // true moisture of each day
}

const slabCells = 10

func newSlab(r *rand.Rand) slab {
	thickness, gravity := 19+r.Float64()*33, 0.35+r.Float64()*0.35
	stacked := time.Date(2030, 1, 1+r.IntN(365), 0, 0, 0, 0, time.UTC)
	start := 35 + r.Float64()*60
	s := slab{gravity: gravity, in: DryingIn{
		StackedOn: stacked.Format(time.DateOnly), ThicknessMM: thickness, Climate: coast, TargetMCPct: 14 + r.Float64()*5,
	}}
	if r.IntN(2) == 0 {
		s.in.StartMCPct = &start
	}
	tau := 32 * math.Pow(thickness/25, 1.8) * math.Pow(gravity/0.5, 1.3) * math.Exp(0.4*r.NormFloat64())
	s.dry(r, stacked, tau, start)
	return s
}

// dry lets the slab lie until it is dry, for eight years at most.
func (s *slab) dry(r *rand.Rand, stacked time.Time, tau, start float64) {
	const days, steps = 8 * 365, 4
	weather, offset := newAir([]spell{{0, coast}}, stacked, days), 0.8*r.NormFloat64()
	cells, spare := make([]float64, slabCells), make([]float64, slabCells)
	for i := range cells {
		cells[i] = start
	}
	// The slowest mode of a half slab of n cells decays with pi^2 D / (4 n^2).
	diffusion := 4 * slabCells * slabCells / (math.Pi * math.Pi * tau)
	wet := 0.0
	for day := range days {
		s.mean = append(s.mean, mean(cells))
		if s.mean[day] <= s.in.TargetMCPct {
			return
		}
		wet = 0.8*wet + 1.2*r.NormFloat64()
		d := diffusion * math.Pow(weather.speed[day], 0.8) * math.Exp(-0.05*wet) / steps
		n := max(1, int(d*3)+1)
		for range steps * n {
			diffuse(spare, cells, d/float64(n), weather.emc[day]+offset+wet)
			cells, spare = spare, cells
		}
	}
}

// diffuse writes the cells after one small step to next; the last lies at the face.
func diffuse(next, cells []float64, d, face float64) {
	for i, mc := range cells {
		inner, outer := mc, face
		share := 2.0 // half a cell to the face
		if i > 0 {
			inner = cells[i-1]
		}
		if i < len(cells)-1 {
			outer, share = cells[i+1], 1
		}
		next[i] = mc + d*(inner-mc) + share*d*(outer-mc)
	}
}

func mean(cells []float64) float64 {
	total := 0.0
	for _, c := range cells {
		total += c
	}
	return total / float64(len(cells))
}

// dryDay gives the true day, or one that never comes.
func (s slab) dryDay() int {
	for day, mc := range s.mean {
		if mc <= s.in.TargetMCPct {
			return day
		}
	}
	return math.MaxInt
}

// read adds n readings spread over a share of the true time, and gives the last day.
func (s *slab) read(r *rand.Rand, n int, share float64) {
	stacked, _ := time.Parse(time.DateOnly, s.in.StackedOn)
	span := share * float64(min(s.dryDay(), len(s.mean)-1))
	for i := range n {
		day := int(span * float64(i+1) / float64(n))
		if day <= i {
			continue
		}
		mc := s.mean[day]
		mc = min(max(1, mc+meterSpread(mc)*r.NormFloat64()), s.mean[0]) // above green is refused
		s.in.Readings = append(s.in.Readings, Reading{stacked.AddDate(0, 0, day).Format(time.DateOnly), mc})
	}
}

// TestCalibration: source: the package's own promise. Over 400 packs of the other law,
// the 4-in-5 date holds in 77 to 85 of a hundred, with few readings or many, and the even
// date in about half. Two standard errors of 400 draws are 0.04 at 0.8. That shows
// calibration, not truth: these packs are invented, and the model was set beside them.
func TestCalibration(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name     string
		readings int
		share    float64 // of the true time that the readings cover
	}{
		{"before any reading", 0, 0},
		{"two early readings", 2, 0.35},
		{"six readings", 6, 0.7},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			const worlds = 400
			r := rand.New(rand.NewPCG(7, uint64(tc.readings)))
			even, sure := 0, 0
			for range worlds {
				s := newSlab(r)
				s.read(r, tc.readings, tc.share)
				out, err := Predict(s.in, Timber{Gravity: s.gravity})
				require.NoError(t, err)
				stacked, _ := time.Parse(time.DateOnly, s.in.StackedOn)
				if out.ReadyOn != nil && s.dryDay() <= dayOf(t, stacked, *out.ReadyOn) {
					even++
				}
				if out.ReadyOnP80 == nil || s.dryDay() <= dayOf(t, stacked, *out.ReadyOnP80) {
					sure++
				}
			}
			t.Logf(tc.name+": even date held in %d, 4-in-5 date in %d of %d", even, sure, worlds)
			require.InDelta(t, 0.5, float64(even)/worlds, 0.08)
			require.InDelta(t, 0.81, float64(sure)/worlds, 0.04)
		})
	}
}

func dayOf(t *testing.T, stacked time.Time, on string) int {
	t.Helper()
	d, err := time.Parse(time.DateOnly, on)
	require.NoError(t, err)
	return int(math.Round(d.Sub(stacked).Hours() / 24))
}
