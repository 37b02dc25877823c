package drying

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
	"kerfbook/internal/calc/wood"
)

// Invented climates in the manner of the regions where the species are cut, January
// first: the lakes of the north, the Gulf states, the valleys of the Pacific north-west, the
// fog coast, the dry mountains. Technical Note 233 says that its periods are based on
// "climatic conditions for the region in which the particular species is cut".
var (
	inland = []Month{
		{-6, 77}, {-4, 75}, {2, 71}, {9, 66}, {15, 66}, {20, 68},
		{23, 70}, {22, 73}, {17, 74}, {11, 72}, {4, 76}, {-3, 79},
	}
	gulf = []Month{
		{8, 72}, {10, 69}, {14, 68}, {18, 68}, {22, 71}, {26, 72},
		{28, 74}, {27, 75}, {25, 74}, {19, 71}, {13, 72}, {9, 74},
	}
	valley = []Month{
		{4.5, 81}, {6.5, 77}, {8.5, 72}, {11, 68}, {14.5, 65}, {17.5, 63},
		{20.5, 59}, {20.5, 60}, {17.5, 66}, {12.5, 75}, {7.5, 82}, {4.5, 83},
	}
	fogCoast = []Month{
		{8, 80}, {9, 79}, {9, 79}, {10, 79}, {12, 80}, {13, 82},
		{14, 84}, {14, 85}, {14, 83}, {12, 81}, {10, 81}, {8, 80},
	}
	mountain = []Month{
		{-5, 70}, {-3, 66}, {2, 60}, {7, 54}, {12, 52}, {17, 48},
		{21, 43}, {20, 44}, {15, 49}, {8, 56}, {1, 66}, {-5, 71},
	}
)

// TestAirDryingDays sets the model beside testdata/air_drying_days.csv (Agriculture
// Handbook 402, Technical Note 233, from memory): 25 mm boards, green to 20 %, even odds, stacked on the
// first of each month in a climate of the species' region. Where the quickest and the slowest month
// lie within the printed range the row is inside. At least three in five are, and all but
// two come within a third of the range at either end. Outside stay, by name: those
// below; the model has no reason for them (wet pockets of baldcypress, its pace in
// eastern white pine, for which Table 4-1 has no green moisture).
func TestAirDryingDays(t *testing.T) {
	t.Parallel()
	region := map[string]struct {
		species string
		climate []Month
	}{
		"Baldcypress": {"Baldcypress", gulf}, "Pine, southern (loblolly longleaf shortleaf)": {"Pine, loblolly", gulf}, "Oak, southern red": {"Oak, southern red", gulf},
		"Douglas-fir, coast": {"Douglas-fir, coast", valley}, "Hemlock, western": {"Hemlock, western", valley}, "Redwood, light": {"Redwood, old-growth", valley},
		"Spruce, Sitka": {"Spruce, Sitka", valley}, "Alder, red": {"Alder, red", valley}, "Tanoak": {"Tanoak", fogCoast}, "Pine, lodgepole": {"Pine, lodgepole", mountain},
		"Aspen": {"Aspen, quaking", inland}, "Oak, northern white": {"Oak, white", inland}, "Maple, sugar (4/4, Upper Michigan, measured)": {"Maple, sugar", inland},
	}
	all := printed.Rows(t, "air_drying_days.csv")
	require.Len(t, all, 20)
	inside, near, outside := 0, 0, []string{}
	for k, row := range all {
		if testing.Short() && k%5 != 0 {
			continue
		}
		r, ok := region[row[0]]
		if !ok {
			r.species, r.climate = row[0], inland
		}
		s, ok := wood.FindSpecies(r.species)
		require.True(t, ok, row[0])
		low, err := strconv.Atoi(row[1])
		require.NoError(t, err)
		high, err := strconv.Atoi(row[2])
		require.NoError(t, err)
		quick, slow := extremes(t, Timber{s.GravityAt(12), s.GreenMCPct, s.Slowness}, r.climate)
		word := "inside"
		switch {
		case quick >= low && slow <= high:
			inside++
			near++
		default:
			outside = append(outside, row[0])
			word = "OUTSIDE"
			if float64(quick) >= 0.66*float64(low) && float64(slow) <= 1.34*float64(high) {
				near++
				word = "outside by less than a third"
			}
		}
		t.Logf("%-46s printed %3d to %3d, model %3d to %3d: %s", row[0], low, high, quick, slow, word)
	}
	if testing.Short() {
		require.GreaterOrEqual(t, near, 3, "of four")
		return // the counts are of all rows
	}
	t.Logf("%d of %d inside, %d inside or within a third", inside, len(all), near)
	require.Equal(t, []string{"Baldcypress", "Pine, eastern white", "Aspen", "Basswood, American", "Birch, yellow", "Cherry, black", "Elm, American", "Oak, southern red"}, outside)
	require.GreaterOrEqual(t, inside*5, len(all)*3)
	require.GreaterOrEqual(t, near, len(all)-2)
}

// extremes gives the days to 20 % from the best and the worst month of stacking.
func extremes(t *testing.T, timber Timber, climate []Month) (quick, slow int) {
	t.Helper()
	quick = 10000
	for m := 1; m <= 12; m++ {
		stacked := time.Date(2031, time.Month(m), 1, 0, 0, 0, 0, time.UTC)
		out, err := Predict(DryingIn{StackedOn: stacked.Format(time.DateOnly), ThicknessMM: 25, TargetMCPct: 20, Climate: climate}, timber)
		require.NoError(t, err)
		require.NotNil(t, out.ReadyOn)
		days := dayOf(t, stacked, *out.ReadyOn)
		quick, slow = min(quick, days), max(slow, days)
	}
	return quick, slow
}
