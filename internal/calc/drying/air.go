package drying

import (
	"math"
	"time"

	"kerfbook/internal/calc/wood"
)

// air holds, for each day since stacking, what the air asks of the wood.
type air struct {
	emc   []float64 // equilibrium moisture content, %
	speed []float64 // f(T): 1 at 20 degrees C
	mean  []float64 // of emc over a year of the place where the pack stands that day
}

// newAir runs the months of each place into one another, from the middle of each to
// that of the next. The first spell begins on day 0; each lasts until the next.
func newAir(spells []spell, from time.Time, days int) air {
	a := air{emc: make([]float64, days+1), speed: make([]float64, days+1), mean: make([]float64, days+1)}
	now, mean := 0, yearMean(spells[0].climate)
	for i := range a.emc {
		for now+1 < len(spells) && spells[now+1].day <= i {
			now++
			mean = yearMean(spells[now].climate)
		}
		climate := spells[now].climate
		on := from.AddDate(0, 0, i)
		length := time.Date(on.Year(), on.Month()+1, 0, 0, 0, 0, 0, time.UTC).Day()
		place := float64(on.Month()-1) + (float64(on.Day())-0.5)/float64(length) - 0.5
		low := math.Floor(place)
		share := place - low
		m, n := climate[(int(low)+months)%months], climate[(int(low)+1)%months]
		t := m.TemperatureC + share*(n.TemperatureC-m.TemperatureC)
		h := m.HumidityPct + share*(n.HumidityPct-m.HumidityPct)
		a.emc[i] = wood.EMC(t, h)
		a.speed[i] = math.Exp(perDegree * (t - 20))
		a.mean[i] = mean
	}
	return a
}

// yearMean gives the mean equilibrium of a year at one place.
func yearMean(climate []Month) float64 {
	mean := 0.0
	for _, m := range climate {
		mean += wood.EMC(m.TemperatureC, m.HumidityPct) / months
	}
	return mean
}

// shares gives, for a rate at 20 degrees C, the share of the distance to the
// equilibrium that goes on each of the first days.
func (a air) shares(rate float64, days int) []float64 {
	s := make([]float64, days)
	for i := range s {
		s[i] = -math.Expm1(-rate * a.speed[i])
	}
	return s
}

// driest gives the lowest equilibrium of any day from one on.
func (a air) driest(from int) float64 {
	low := math.Inf(1)
	for _, e := range a.emc[from:] {
		low = min(low, e)
	}
	return low
}
