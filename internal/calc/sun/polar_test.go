package sun

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A slow independent version: the sun's height, sampled each minute from the noon of a day
// to twelve hours on either side, with the place of the sun by the low-precision formulae
// of the Astronomical Almanac (page C5; good to 0.01 degrees from 1950 to 2050), which share
// nothing with the series here. Where the height crosses -0.833 or -6 degrees clearly, there
// is a rise, set or dusk within a few minutes; where it stays clearly off, there is none.
func TestDayTimesAgainstAMinuteByMinuteWalk(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(25, 11))
	polar := map[string]int{}
	for range 200 {
		lat, lon := 180*random.Float64()-90, 360*random.Float64()-180
		if random.IntN(2) == 0 {
			lat = math.Copysign(60+30*random.Float64(), lat)
		}
		day := time.Date(1960, 1, 1+random.IntN(80*365), 0, 0, 0, 0, time.UTC)
		out, err := DayTimes(t.Context(), DayTimesIn{Latitude: lat, Longitude: lon, On: day.Format(time.DateOnly), TimeZone: "UTC"})
		require.NoError(t, err)
		require.NotNil(t, out.Noon)
		noon, err := time.Parse(time.RFC3339, *out.Noon)
		require.NoError(t, err)
		low, high := 90.0, -90.0
		cross := func(level float64, from, to int) (at int, found bool) {
			for m := from; m < to; m++ {
				a, b := almanacHeight(noon.Add(time.Duration(m)*time.Minute), lat, lon), almanacHeight(noon.Add(time.Duration(m+1)*time.Minute), lat, lon)
				if (a-level)*(b-level) <= 0 {
					return m, true
				}
			}
			return 0, false
		}
		for m := -720; m <= 720; m++ {
			h := almanacHeight(noon.Add(time.Duration(m)*time.Minute), lat, lon)
			low, high = math.Min(low, h), math.Max(high, h)
		}
		for _, e := range []struct {
			name     string
			level    float64
			got      *string
			from, to int
		}{{"sunrise", -0.833, out.Sunrise, -720, 0}, {"sunset", -0.833, out.Sunset, 0, 720}, {"dusk", -6, out.CivilDusk, 0, 720}} {
			const clear = 0.05 // degrees; nearer than that the two may differ
			if high < e.level-clear || low > e.level+clear {
				require.Nil(t, e.got, "%s at %v, %v on %s: the sun stays between %.2f and %.2f", e.name, lat, lon, day, low, high)
				polar[e.name]++
				continue
			}
			if high < e.level+clear || low > e.level-clear {
				continue
			}
			m, found := cross(e.level, e.from, e.to)
			if !found {
				continue // it crosses on the other side of noon only
			}
			require.NotNil(t, e.got, "%s at %v, %v on %s", e.name, lat, lon, day)
			at, err := time.Parse(time.RFC3339, *e.got)
			require.NoError(t, err)
			steep := math.Abs(almanacHeight(at.Add(time.Minute), lat, lon) - almanacHeight(at.Add(-time.Minute), lat, lon))
			require.InDelta(t, e.level, almanacHeight(at, lat, lon), 0.02, "%s at %v, %v on %s", e.name, lat, lon, day)
			if steep > 0.1 { // degrees in two minutes: the minute is sharp
				require.WithinDuration(t, noon.Add(time.Duration(m)*time.Minute), at, 2*time.Minute, "%s at %v, %v on %s", e.name, lat, lon, day)
			}
		}
	}
	for _, name := range []string{"sunrise", "sunset", "dusk"} {
		require.Greater(t, polar[name], 5, "days without %s were among them", name)
	}
}

// almanacHeight is the sun's height by the Astronomical Almanac's low-precision formulae.
func almanacHeight(at time.Time, lat, lon float64) float64 {
	r := math.Pi / 180
	n := float64(at.Unix())/86400 + 2440587.5 - 2451545
	l := 280.460 + 0.9856474*n
	g := (357.528 + 0.9856003*n) * r
	lambda := (l + 1.915*math.Sin(g) + 0.020*math.Sin(2*g)) * r
	eps := (23.439 - 0.0000004*n) * r
	ra := math.Atan2(math.Cos(eps)*math.Sin(lambda), math.Cos(lambda))
	dec := math.Asin(math.Sin(eps) * math.Sin(lambda))
	gmst := (280.46062 + 360.98564737*n) * r
	h := gmst + lon*r - ra
	return math.Asin(math.Sin(lat*r)*math.Sin(dec)+math.Cos(lat*r)*math.Cos(dec)*math.Cos(h)) / r
}
