package sun

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The expected noon is 90 - |latitude - declination|, and the sun reaches the
// point at noon when tan(elevation) < above/out: closed-form geometry.
func TestEaveAtNoon(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name            string
		in              EaveIn
		noon            float64
		lit             bool
		source          string
		hours, hoursTol float64
	}{
		{"Brisbane winter under a north eave", EaveIn{Latitude: -27.47, EaveOutMM: 600, EaveAboveMM: 900, WallFaces: 0, On: "2026-06-21"},
			90 - 27.47 - 23.436, true, "declination 23.436 at the June solstice; tan 39.09 = 0.81 < 1.5; hours 2 acos(0.5199 x 0.4335)/15", 10.263, 0.002},
		{"Brisbane summer under a north eave", EaveIn{Latitude: -27.47, EaveOutMM: 600, EaveAboveMM: 900, WallFaces: 0, On: "2026-12-21"},
			90 - 27.47 + 23.436, false, "declination -23.436; tan 85.97 = 14 > 1.5: common practice, none in summer if it hangs high enough", 0, 0.001},
		{"north of the equator", EaveIn{Latitude: 50, EaveOutMM: 500, EaveAboveMM: 400, WallFaces: 180, On: "2026-12-21"},
			90 - 50 - 23.436, true, "tan 16.56 = 0.30 < 0.8; hours 2 acos(1.1918 x 0.4335)/15", 7.853, 0.002},
		{"no eave, the whole day of a pole side wall is lost", EaveIn{Latitude: -50, EaveOutMM: 0, EaveAboveMM: 0, WallFaces: 180, On: "2026-06-21"},
			90 - 50 - 23.436, false, "the winter sun stays north of the prime vertical", 0, 0.001},
	}
	for _, tt := range tests {
		out, err := Eave(context.Background(), tt.in)
		require.NoError(t, err)
		require.InDelta(t, tt.noon, out.NoonElevation, 0.003, tt.name)
		require.InDelta(t, tt.hours, out.SunHours, tt.hoursTol, tt.name)
		noonLit := false
		for _, s := range out.Spells {
			noonLit = noonLit || (s.From <= "12:00" && "12:00" <= s.To)
		}
		require.Equal(t, tt.lit, noonLit, tt.name)
	}
}

// By textbook geometry the day is 2 acos(-tan phi tan delta) / 15 hours long;
// an equator-facing wall without an eave in the winter half year gets all of it.
func TestEaveWithoutAnEaveIsTheDayLength(t *testing.T) {
	t.Parallel()
	for _, lat := range []float64{-45, -30, -10} {
		dec := geocentric(nearestNoon(julian(time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)), 0)).declination
		want := 2 * deg(math.Acos(-math.Tan(rad(lat))*math.Tan(rad(dec)))) / 15
		out, err := Eave(context.Background(), EaveIn{Latitude: lat, EaveAboveMM: 1, WallFaces: 360, On: "2026-06-21"})
		require.NoError(t, err)
		require.InDelta(t, want, out.SunHours, 1e-9)
		require.Len(t, out.Spells, 1)
	}
}

// A slow independent version walks the day in steps of 0.05 degrees and asks
// where the ray to the sun goes through the eave's plane.
func TestEaveAgainstAWalkThroughTheDay(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := EaveIn{
			Latitude: rapid.Float64Range(-90, 90).Draw(t, "lat"), Longitude: rapid.Float64Range(-180, 180).Draw(t, "lon"),
			EaveOutMM: rapid.Float64Range(0, 2000).Draw(t, "out"), EaveAboveMM: rapid.Float64Range(0, 2000).Draw(t, "above"),
			WallFaces: rapid.Float64Range(0, 360).Draw(t, "wall"),
			On:        time.Date(2026, 1, 1+rapid.IntRange(0, 364).Draw(t, "day"), 0, 0, 0, 0, time.UTC).Format(time.DateOnly),
		}
		out, err := Eave(context.Background(), in)
		require.NoError(t, err)
		on, err := time.Parse(time.DateOnly, in.On)
		require.NoError(t, err)
		dec := rad(geocentric(nearestNoon(julian(on)+0.5-in.Longitude/360, in.Longitude)).declination)
		phi, steps, lit := rad(in.Latitude), 7200, 0
		for i := range steps {
			h := rad(-180 + (float64(i)+0.5)*0.05)
			el := math.Asin(math.Sin(phi)*math.Sin(dec) + math.Cos(phi)*math.Cos(dec)*math.Cos(h))
			az := math.Atan2(math.Sin(h), math.Cos(h)*math.Sin(phi)-math.Tan(dec)*math.Cos(phi)) + math.Pi
			off := math.Cos(az - rad(in.WallFaces))
			if el > 0 && off > 0 && in.EaveOutMM*math.Tan(el)/off < in.EaveAboveMM || (el > 0 && off > 0 && in.EaveOutMM == 0) {
				lit++
			}
		}
		require.InDelta(t, float64(lit)*0.05/15, out.SunHours, 0.02)
		require.LessOrEqual(t, out.SunHours, 24.0000001)
		last := "00:00"
		for _, s := range out.Spells {
			require.True(t, last <= s.From && s.From < s.To && s.To <= "24:00", fmt.Sprint(out.Spells))
			last = s.To
		}
		deeper := in
		deeper.EaveOutMM += 100
		less, err := Eave(context.Background(), deeper)
		require.NoError(t, err)
		require.LessOrEqual(t, less.SunHours, out.SunHours+1e-9, "a deeper eave never lets more sun in")
	})
}
