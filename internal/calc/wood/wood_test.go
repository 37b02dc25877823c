package wood_test

import (
	"context"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/printed"
	"kerfbook/internal/calc/wood"
)

func run(t *testing.T, topic, raw string) (map[string]any, error) {
	t.Helper()
	for _, tp := range wood.Topics() {
		if tp.Name != topic {
			continue
		}
		out, err := tp.Run(context.Background(), []byte(raw))
		if err != nil {
			return nil, err
		}
		text, err := json.Marshal(out)
		require.NoError(t, err)
		var fields map[string]any
		require.NoError(t, json.Unmarshal(text, &fields))
		return fields, nil
	}
	t.Fatalf("no topic %s", topic)
	return nil, nil
}

func round(v float64, places int) float64 {
	scale := math.Pow(10, float64(places))
	return math.Round(v*scale) / scale
}

// TestMoistureTable: source testdata/emc_table.csv (Wood Handbook Table 4-2), to the
// printed tenth. The table is in degrees F. Two of its cells the handbook's own
// equation puts a hair above the half, and the table prints the tenth below.
func TestMoistureTable(t *testing.T) {
	t.Parallel()
	for _, r := range printed.Rows(t, "emc_table.csv") {
		got := wood.EMC((printed.Number(t, r[1])-32)/1.8, printed.Number(t, r[2]))
		if cell := r[1] + "/" + r[2]; cell == "70/85" || cell == "30/70" {
			require.InDelta(t, printed.Number(t, r[3])+0.05, got, 0.002)
			continue
		}
		require.Equal(t, printed.Number(t, r[3]), round(got, 1), "%v gives %f", r, got)
	}
}

// TestMoistureWorked: source reference sheet on FPL-GTR-282 ch. 4, two decimals,
// and its author's inverse values, one decimal.
func TestMoistureWorked(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ tC, humidity, emc float64 }{
		{20, 50, 9.27}, {20, 75, 14.45}, {20, 85, 18.00}, {5, 85, 18.47},
	} {
		require.Equal(t, tc.emc, round(wood.EMC(tc.tC, tc.humidity), 2))
	}
	for _, tc := range []struct{ emc, humidity float64 }{
		{8, 41.8}, {12, 65.0}, {15, 76.8}, {18, 85.0}, {20, 89.1},
	} {
		got, ok := wood.HumidityAt(20, tc.emc)
		require.True(t, ok)
		require.Equal(t, tc.humidity, round(got, 1))
	}
	_, ok := wood.HumidityAt(20, 40)
	require.False(t, ok, "no air wets wood to 40 %")
}

// TestShrinkageDomestic: the total of each row (source testdata/shrinkage_domestic.csv,
// Wood Handbook Table 4-3) is met at oven-dry, half of it at half of fibre saturation
// (eq. 4-7), and volume follows from the two directions, by
// and large: single rows of the table differ by up to 2.9, all of them by 0.6 on average.
func TestShrinkageDomestic(t *testing.T) {
	t.Parallel()
	all, apart := printed.Rows(t, "shrinkage_domestic.csv"), 0.0
	for _, r := range all {
		radial, tangential := printed.Number(t, r[2]), printed.Number(t, r[3])
		b := wood.Basis{TotalPct: tangential, FibreSaturationPct: wood.FibreSaturationPct}
		require.InDelta(t, 1000-10*tangential, b.Resize(1000, 80, 0), 1e-9, r[0])
		require.InDelta(t, tangential/2, b.ShrinkagePct(15), 1e-12, r[0])
		s := wood.Species{RadialPct: radial, TangentialPct: tangential}
		require.InDelta(t, printed.Number(t, r[4]), s.Volumetric().TotalPct, 2.9, r[0])
		apart += printed.Number(t, r[4]) - s.Volumetric().TotalPct
	}
	require.InDelta(t, 0.6, apart/float64(len(all)), 0.1)
}

func TestShrinkage(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, in     string
		size, change float64
		source       string
	}{
		{"oven-dry total", `{"size_mm":200,"from_mc_pct":40,"to_mc_pct":15,"total_shrinkage_pct":8}`, 192, -8, "by hand, eq. 4-7: 8 x (30-15)/30 = 4 %"},
		{"total to 12 %", `{"size_mm":150,"from_mc_pct":60,"to_mc_pct":12,"total_shrinkage_pct":3.8,"shrinkage_to_mc_pct":12}`, 144.3, -5.7, "Queensland table: 3.8 % from green to 12 %"},
		{"the same by species", `{"size_mm":150,"from_mc_pct":60,"to_mc_pct":12,"species":"Hoop Pine","grain":"tangential"}`, 144.3, -5.7, "Queensland table"},
		{"mixed grain", `{"size_mm":100,"from_mc_pct":60,"to_mc_pct":12,"species":"hoop-pine","grain":"mixed"}`, 96.85, -3.15, "mean of 2.5 and 3.8"},
		{"swelling", `{"size_mm":96,"from_mc_pct":15,"to_mc_pct":60,"total_shrinkage_pct":8}`, 100, 4, "by hand, eq. 4-7 backwards"},
		{"another fibre saturation", `{"size_mm":100,"from_mc_pct":26,"to_mc_pct":13,"total_shrinkage_pct":6,"fibre_saturation_pct":26}`, 97, -3, "by hand: half way"},
		{"above fibre saturation nothing moves", `{"size_mm":100,"from_mc_pct":90,"to_mc_pct":31,"total_shrinkage_pct":6}`, 100, 0, "Wood Handbook ch. 4"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got, err := run(t, "shrinkage", tc.in)
			require.NoError(t, err)
			require.InDelta(t, tc.size, got["size_mm"], 1e-9, tc.source)
			require.InDelta(t, tc.change, got["change_mm"], 1e-9, tc.source)
		})
	}
}

func TestSawnSize(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, in string
		sawn     float64
		source   string
	}{
		{"every allowance", `{"dressed_mm":25,"planing_mm":4,"straighten_mm":2,"saw_variation_mm":1.5,"to_mc_pct":12,"total_shrinkage_pct":6}`, 34, "by hand: 31/0.964 = 32.158; + 1.5 = 33.658"},
		{"already whole", `{"dressed_mm":96,"planing_mm":0,"to_mc_pct":15,"total_shrinkage_pct":8}`, 100, "by hand: 96/0.96"},
		{"green use", `{"dressed_mm":50,"planing_mm":3,"to_mc_pct":40,"total_shrinkage_pct":8}`, 53, "no shrinkage above fibre saturation"},
		{"a hundred millimetre wide board", `{"dressed_mm":100,"planing_mm":5,"straighten_mm":1,"to_mc_pct":12,"species":"hoop-pine","grain":"tangential"}`, 111, "common practice, no source: 110 mm dresses to about 100"},
		{"its thickness", `{"dressed_mm":28,"planing_mm":3,"to_mc_pct":12,"species":"hoop-pine","grain":"radial"}`, 32, "common practice, no source: 32 mm dresses to 28 to 29"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got, err := run(t, "sawn-size", tc.in)
			require.NoError(t, err)
			require.Equal(t, tc.sawn, got["sawn_mm"], tc.source)
		})
	}
}

func TestDensity(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name               string
		gravity, mc        float64
		density            float64
		densityPlaces      int
		conductivity       float64
		conductivityPlaces int
		source             string
	}{
		{"0.40 at 12 %", 0.40, 12, 448, 0, 0.1158, 4, "density: oakmissouri.org; conductivity by hand from eq. 4-15"},
		{"white ash at 12 %", 0.605, 12, 678, 0, 0.166, 3, "density: Wood Handbook worked example; conductivity by hand from eq. 4-15"},
		{"from basic 0.54 at 10 %", wood.GravityAt(0.54, wood.Basis{TotalPct: 12.3, FibreSaturationPct: 30}, 10), 10, 647, 0, 0.1567, 4, "conductivity: chemics wood.py; density by hand"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got, err := wood.Density(context.Background(), wood.DensityIn{SpecificGravity: tc.gravity, MCPct: tc.mc})
			require.NoError(t, err)
			require.Equal(t, tc.density, round(got.DensityKgM3, tc.densityPlaces), tc.source)
			require.Equal(t, tc.conductivity, round(got.ConductivityWMK, tc.conductivityPlaces), tc.source)
		})
	}
}

// TestConductivityTable: source testdata/conductivity_12pct.csv (agrees with Wood
// Handbook Table 4-7), to the printed digit; the specific gravities at 12 % beside
// them in that table are from memory.
func TestConductivityTable(t *testing.T) {
	t.Parallel()
	gravity := map[string]float64{
		"Ash, white": 0.63, "Basswood, American": 0.38, "Birch, yellow": 0.66, "Cedar, northern white": 0.31,
		"Cherry, black": 0.53, "Chestnut, American": 0.45, "Douglas-fir, coast": 0.51, "Elm, American": 0.54,
		"Hemlock, western": 0.48, "Larch, western": 0.56, "Oak, northern red": 0.65, "Oak, white": 0.72,
		"Pine, ponderosa": 0.42, "Pine, longleaf": 0.62, "Redwood, old growth": 0.41, "Spruce, white": 0.37,
	}
	all := printed.Rows(t, "conductivity_12pct.csv")
	require.Len(t, all, len(gravity))
	for _, r := range all {
		g, ok := gravity[r[0]]
		require.True(t, ok, r[0])
		places := 2
		if r[1] == "0.094" {
			places = 3
		}
		require.Equal(t, printed.Number(t, r[1]), round(wood.Conductivity(g, 12), places), r[0])
	}
}

func TestRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct{ topic, in, pointer string }{
		{"moisture", `{"temperature_c":20,"humidity_pct":101}`, "/humidity_pct"},
		{"moisture", `{"temperature_c":140,"humidity_pct":50}`, "/temperature_c"},
		{"moisture", `{"humidity_pct":50}`, "/temperature_c"},
		{"shrinkage", `{"size_mm":-1,"from_mc_pct":60,"to_mc_pct":12,"total_shrinkage_pct":3}`, "/size_mm"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":-12,"total_shrinkage_pct":3}`, "/to_mc_pct"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12}`, "/total_shrinkage_pct"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"total_shrinkage_pct":-3}`, "/total_shrinkage_pct"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"total_shrinkage_pct":3,"grain":"radial"}`, "/total_shrinkage_pct"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"total_shrinkage_pct":50,"shrinkage_to_mc_pct":12}`, "/total_shrinkage_pct"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"total_shrinkage_pct":3,"shrinkage_to_mc_pct":30}`, "/shrinkage_to_mc_pct"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"total_shrinkage_pct":3,"fibre_saturation_pct":0}`, "/fibre_saturation_pct"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"species":"treacle tree","grain":"radial"}`, "/species"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"species":"hoop-pine","grain":"end"}`, "/grain"},
		{"shrinkage", `{"size_mm":1,"from_mc_pct":60,"to_mc_pct":12,"species":"hoop-pine","grain":"radial","shrinkage_to_mc_pct":0}`, "/shrinkage_to_mc_pct"},
		{"sawn-size", `{"dressed_mm":0,"planing_mm":4,"to_mc_pct":12,"total_shrinkage_pct":3}`, "/dressed_mm"},
		{"sawn-size", `{"dressed_mm":25,"planing_mm":-4,"to_mc_pct":12,"total_shrinkage_pct":3}`, "/planing_mm"},
		{"sawn-size", `{"dressed_mm":25,"planing_mm":4,"to_mc_pct":12,"total_shrinkage_pct":3,"straighten_mm":-1}`, "/straighten_mm"},
		{"density", `{"specific_gravity":0,"mc_pct":12}`, "/specific_gravity"},
		{"density", `{"specific_gravity":0.5}`, "/mc_pct"},
	}
	for _, tc := range tests {
		_, err := run(t, tc.topic, tc.in)
		var bad *contract.Error
		require.ErrorAs(t, err, &bad, tc.in)
		require.Equal(t, tc.pointer, bad.Fields[0].Pointer, tc.in)
	}
}

func TestExtrapolationIsSaid(t *testing.T) {
	t.Parallel()
	out, err := wood.Moisture(context.Background(), wood.MoistureIn{TemperatureC: -5, HumidityPct: 60})
	require.NoError(t, err)
	require.True(t, out.Extrapolated)
	light, err := wood.Density(context.Background(), wood.DensityIn{SpecificGravity: 0.25, MCPct: 12})
	require.NoError(t, err)
	require.True(t, light.Extrapolated)
}
