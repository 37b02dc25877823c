package wood

import (
	"context"
	"math"

	"kerfbook/internal/calc/contract"
)

// The handbook's table of equilibrium moisture runs over these temperatures and
// humidities; beyond them its equation is an extrapolation.
const (
	tableLowC, tableHighC           = -1.1, 132.2
	tableLowHumidity, tableHighHumi = 5, 95
)

// MoistureIn is the air around the wood.
type MoistureIn struct {
	TemperatureC float64 `json:"temperature_c" need:"yes"` // -40 to 132.2
	HumidityPct  float64 `json:"humidity_pct" need:"yes"`  // 0 to 100
}

// MoistureOut is what wood settles at in that air.
type MoistureOut struct {
	EMCPct       float64 `json:"emc_pct"`
	Extrapolated bool    `json:"extrapolated"` // outside -1.1 to 132.2 degrees C or 5 to 95 % humidity
}

// Moisture gives the equilibrium moisture content; see EMC. Temperatures outside
// -40 to 132.2 degrees C and humidities outside 0 to 100 % are an error.
func Moisture(_ context.Context, in MoistureIn) (MoistureOut, error) {
	var c contract.Checks
	c.Number("/temperature_c", in.TemperatureC, -40, tableHighC)
	c.Number("/humidity_pct", in.HumidityPct, 0, 100)
	if err := c.Err(); err != nil {
		return MoistureOut{}, err
	}
	return MoistureOut{
		EMCPct: EMC(in.TemperatureC, in.HumidityPct),
		Extrapolated: in.TemperatureC < tableLowC || in.TemperatureC > tableHighC ||
			in.HumidityPct < tableLowHumidity || in.HumidityPct > tableHighHumi,
	}, nil
}

// EMC gives the moisture content, in percent, at which wood neither gains nor
// loses in air of tC degrees C and humidityPct relative humidity:
//
//	EMC = 1800/W [ Kh/(1 - Kh) + (K1 K h + 2 K1 K2 K^2 h^2)/(1 + K1 K h + K1 K2 K^2 h^2) ]
//
// tC lies in -40..132.2 and humidityPct in 0..100; outside, the result means
// nothing. Source: Wood Handbook eq. 4-5, coefficients for degrees C.
func EMC(tC, humidityPct float64) float64 {
	h := humidityPct / 100
	w := 349 + 1.29*tC + 0.0135*tC*tC
	kh := (0.805 + 0.000736*tC - 0.00000273*tC*tC) * h
	k1 := 6.27 - 0.00938*tC - 0.000303*tC*tC
	k2 := 1.91 + 0.0407*tC - 0.000293*tC*tC
	first, second := k1*kh, k1*k2*kh*kh
	return 1800 / w * (kh/(1-kh) + (first+2*second)/(1+first+second))
}

// HumidityAt gives the relative humidity, in percent, at which wood settles at
// emcPct in air of tC degrees C; the inverse of EMC. ok is false when no humidity
// from 0 to 100 does. It bisects to 1e-9.
func HumidityAt(tC, emcPct float64) (humidityPct float64, ok bool) {
	low, high := 0.0, 100.0
	if math.IsNaN(emcPct) || emcPct < EMC(tC, low) || emcPct > EMC(tC, high) {
		return 0, false
	}
	for high-low > 1e-9 {
		mid := (low + high) / 2
		if EMC(tC, mid) < emcPct {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2, true
}
