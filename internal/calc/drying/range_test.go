package drying

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// inland is an invented inland climate of the north, January first, with winters in
// which hardly anything dries.
var inland = []Month{
	{-6, 77}, {-4, 75}, {2, 71}, {9, 66}, {15, 66}, {20, 68},
	{23, 70}, {22, 73}, {17, 74}, {11, 72}, {4, 76}, {-3, 79},
}

// TestAirDryingDays sets the model beside testdata/air_drying_days.csv (Agriculture
// Handbook 402, from memory): 25 mm boards, green to 20 %. The quickest and
// the slowest month of stacking should lie within the printed range, give or take a third
// at either end, for at least four species in five. Specific gravities at 12 % are those of the
// Wood Handbook Table 5-3, from memory.
func TestAirDryingDays(t *testing.T) {
	t.Parallel()
	gravity := map[string]float64{
		"Baldcypress": 0.46, "Douglas-fir, coast": 0.48, "Hemlock, western": 0.45, "Pine, eastern white": 0.35,
		"Pine, lodgepole": 0.41, "Pine, southern (loblolly longleaf shortleaf)": 0.54, "Redwood, light": 0.38,
		"Spruce, Sitka": 0.40, "Alder, red": 0.41, "Aspen": 0.38, "Basswood, American": 0.37, "Birch, yellow": 0.62,
		"Cherry, black": 0.50, "Elm, American": 0.50, "Maple, sugar": 0.63, "Oak, northern white": 0.68,
		"Oak, southern red": 0.59, "Tanoak": 0.64, "Walnut, black": 0.55, "Maple, sugar (4/4, Upper Michigan, measured)": 0.63,
	}
	all := printed.Rows(t, "air_drying_days.csv")
	within := 0
	for _, row := range all {
		g, ok := gravity[row[0]]
		require.True(t, ok, row[0])
		low, err := strconv.Atoi(row[1])
		require.NoError(t, err)
		high, err := strconv.Atoi(row[2])
		require.NoError(t, err)
		quick, slow := extremes(t, g)
		t.Logf("%-50s printed %d to %d, model %d to %d", row[0], low, high, quick, slow)
		if float64(quick) >= 0.66*float64(low) && float64(slow) <= 1.34*float64(high) {
			within++
		}
	}
	require.GreaterOrEqual(t, within*5, len(all)*4)
}

// extremes gives the days to 20 % from the best and the worst month of stacking.
func extremes(t *testing.T, gravity float64) (quick, slow int) {
	t.Helper()
	quick = 10000
	for m := 1; m <= 12; m++ {
		stacked := time.Date(2031, time.Month(m), 1, 0, 0, 0, 0, time.UTC)
		out, err := Predict(DryingIn{StackedOn: stacked.Format(time.DateOnly), ThicknessMM: 25, TargetMCPct: 20, Climate: inland}, gravity)
		require.NoError(t, err)
		require.NotNil(t, out.ReadyOn)
		days := dayOf(t, stacked, *out.ReadyOn)
		quick, slow = min(quick, days), max(slow, days)
	}
	return quick, slow
}
