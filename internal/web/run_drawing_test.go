package web

import (
	"context"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/calc/travel"
)

func TestRunDrawnToScaleNorthUp(t *testing.T) {
	t.Parallel()
	at := func(n int, lat, lon float64) answer.StopCare {
		return answer.StopCare{Position: n, To: &travel.Place{Latitude: lat, Longitude: lon}}
	}
	home := &travel.Place{Latitude: -26.7, Longitude: 152.9}
	stops := []answer.StopCare{at(1, -26.4, 152.9), at(2, -26.7, 153.3), at(3, -26.7001, 153.3001), {Position: 4}}
	m := runMapOf(home, stops)
	require.Len(t, m.Marks, 4)
	x := func(i int) float64 { v, err := strconv.ParseFloat(m.Marks[i].X, 64); require.NoError(t, err); return v }
	y := func(i int) float64 { v, err := strconv.ParseFloat(m.Marks[i].Y, 64); require.NoError(t, err); return v }
	require.Less(t, y(1), y(0), "north is up")
	require.Greater(t, x(2), x(0), "east is right")
	require.Contains(t, m.Caption, "no coordinates: 4")
	require.Equal(t, "2, 3", m.Words[2].Text, "close marks share a word")

	// Lengths on paper stand to each other as on the ellipsoid (Karney's geodesics, within 1 %).
	length := func(i, j int) float64 { return math.Hypot(x(i)-x(j), y(i)-y(j)) }
	way := func(a, b *travel.Place) float64 {
		d, err := travel.Distance(context.Background(), travel.DistanceIn{From: *a, To: *b})
		require.NoError(t, err)
		return d.KM
	}
	require.InEpsilon(t, way(home, stops[0].To)/way(home, stops[1].To), length(0, 1)/length(0, 2), 0.01)
	to, err := strconv.ParseFloat(m.BarTo, 64)
	require.NoError(t, err)
	require.Equal(t, "10 km", m.Words[len(m.Words)-1].Text)
	require.InEpsilon(t, 10/way(home, stops[1].To), (to-8)/length(0, 2), 0.02, "the bar is to the same scale")
	for i := range m.Marks {
		require.True(t, x(i) >= 0 && x(i) <= runMapWide && y(i) >= 0)
	}

	require.Nil(t, runMapOf(home, []answer.StopCare{{Position: 1}}))
	same := runMapOf(home, []answer.StopCare{at(1, -26.7, 152.9)})
	require.Equal(t, "W, 1", same.Words[0].Text, "all in one place")
	require.NotContains(t, same.Way, "NaN")
	over := runMapOf(&travel.Place{Latitude: -17, Longitude: 179.9}, []answer.StopCare{at(1, -17, -179.9)})
	require.Less(t, over.Marks[0].X, over.Marks[1].X, "over the date line the short way")
}
