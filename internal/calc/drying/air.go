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
	mean  float64   // of emc over a year
}

// newAir runs the months into one another, from the middle of each to that of the next.
func newAir(climate []Month, from time.Time, days int) air {
	a := air{emc: make([]float64, days+1), speed: make([]float64, days+1)}
	for i := range a.emc {
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
	}
	for _, m := range climate {
		a.mean += wood.EMC(m.TemperatureC, m.HumidityPct) / months
	}
	return a
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

// driest gives the lowest equilibrium of any day.
func (a air) driest() float64 {
	low := math.Inf(1)
	for _, e := range a.emc {
		low = min(low, e)
	}
	return low
}
