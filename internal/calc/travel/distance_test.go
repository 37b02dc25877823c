package travel

import (
	"context"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/printed"
)

const millimetre = 0.001 // m; the tolerance of every distance here

func metres(t require.TestingT, from, to Place) float64 {
	out, err := Distance(context.Background(), DistanceIn{From: from, To: to})
	require.NoError(t, err)
	return out.KM * 1000
}

func TestDistanceAgainstPublishedGeodesics(t *testing.T) {
	t.Parallel()
	type file struct{ name, length string }
	for _, f := range []file{{"geodesic_wgs84.csv", "s12_m"}, {"geodsolve.csv", "s12_m"}, {"distances.csv", "distance_m"}} {
		for i, r := range printed.Records(t, f.name) {
			if r["model"] == "sphere R = 6372.8 km" {
				continue // a sphere, kept in the file for haversine code
			}
			from := Place{printed.Number(t, r["lat1"]), printed.Number(t, r["lon1"])}
			to := Place{printed.Number(t, r["lat2"]), printed.Number(t, r["lon2"])}
			require.InDelta(t, printed.Number(t, r[f.length]), metres(t, from, to), millimetre, "%s row %d", f.name, i)
		}
	}
}

// The series are checked against their integrals by Gauss-Legendre quadrature,
// equations 7 and 8 of Karney 2013.
func TestSeriesAgainstQuadrature(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		sa0 := rapid.Float64Range(0, 1).Draw(t, "sin alpha0")
		from := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "from")
		to := from + rapid.Float64Range(0, math.Pi).Draw(t, "arc")
		k2 := second2 * (1 - sa0*sa0)
		g := arcs(from, to)
		length, _ := g.lengths(k2, epsilon(k2))
		root := func(s float64) float64 { return math.Sqrt(1 + k2*math.Sin(s)*math.Sin(s)) }
		i1 := quad.Fixed(root, from, to, 40, nil, 0)
		i3 := quad.Fixed(func(s float64) float64 { return (2 - flattening) / (1 + axisRatio*root(s)) }, from, to, 40, nil, 0)
		require.InDelta(t, i1, length, 1e-14)
		require.InDelta(t, i3, g.longitude(epsilon(k2)), 1e-12)
	})
}

func TestDistanceLaws(t *testing.T) {
	t.Parallel()
	place := rapid.Custom(func(t *rapid.T) Place {
		return Place{rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")}
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := place.Draw(t, "a"), place.Draw(t, "b"), place.Draw(t, "c")
		ab := metres(t, a, b)
		require.InDelta(t, ab, metres(t, b, a), 1e-6, "the way back is as long")
		require.InDelta(t, ab, metres(t, Place{-a.Latitude, -a.Longitude}, Place{-b.Latitude, -b.Longitude}), 1e-6, "mirrored")
		require.LessOrEqual(t, ab, metres(t, a, c)+metres(t, c, b)+1e-6, "no short cut over a third place")
		require.LessOrEqual(t, ab, 20003931.459, "no two places lie farther apart than the poles (half a meridian)")
		require.InDelta(t, 0, metres(t, a, a), 1e-9)
	})
}

func TestDistanceBadInput(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, pointer string
		in            DistanceIn
	}{
		{"beyond the pole", "/from/latitude", DistanceIn{From: Place{Latitude: 90.1}}},
		{"not a number", "/to/longitude", DistanceIn{To: Place{Longitude: math.NaN()}}},
		{"infinite", "/to/latitude", DistanceIn{To: Place{Latitude: math.Inf(-1)}}},
	} {
		_, err := Distance(context.Background(), tt.in)
		var bad *contract.Error
		require.True(t, errors.As(err, &bad), tt.name)
		require.Equal(t, tt.pointer, bad.Fields[0].Pointer)
	}
}
