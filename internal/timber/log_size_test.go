package timber_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
)

// hoopPine has the shrinkages of the Queensland Government's page: tangential 3.8, radial
// 2.5 %, from green to 12 % (shared reference wood/timbers_australia.csv).
func hoopPine() timber.Species {
	return timber.Species{Code: "hoop-pine", Name: "hoop pine", RadialPct: ptr(d("2.5")), TangentialPct: ptr(d("3.8")), ShrinkageToMCPct: d("12")}
}

func size(w, t string) timber.Size { return timber.Size{WidthMM: d(w), ThicknessMM: d(t)} }

func TestSawnSizes(t *testing.T) {
	t.Parallel()
	usual := timber.AllowanceOf(house.Standard())
	with := func(change func(*timber.Allowance)) timber.Allowance {
		a := usual
		change(&a)
		return a
	}
	tests := []struct {
		name, source       string
		species            timber.Species
		a                  timber.Allowance
		dressed, green     timber.Size
		sureWide, sureThin string // what the green size is sure to dress to
	}{
		{"110 x 32 for 100 x 28", "common practice, no source: boards sawn 110 x 32 green dress to about 100 x 28 to 29", hoopPine(), usual, size("100", "28"), size("110", "32"), "100.5", "28"},
		{"tangential all round", "(100+2+3)/(1-0.038)+1 = 110.15; (28+2)/(1-0.038)+1 = 32.19", hoopPine(), with(func(a *timber.Allowance) { a.Grain = "tangential" }), size("100", "28"), size("111", "33"), "100.8", "28.7"},
		{"radial all round", "105/0.975+1 = 108.69; 30/0.975+1 = 31.77", hoopPine(), with(func(a *timber.Allowance) { a.Grain = "radial" }), size("100", "28"), size("109", "32"), "100.3", "28.2"},
		{"left wetter", "shrinkage to 18 % is 3.15 (30-18)/(30-12) = 2.1: 105/0.979+1 = 108.25; 30/0.979+1 = 31.64", hoopPine(), with(func(a *timber.Allowance) { a.MCPct = d("18") }), size("100", "28"), size("109", "32"), "100.7", "28.3"},
		{"no figure for the timber", "our estimate of 7 %: 105/0.93+1 = 113.9; 30/0.93+1 = 33.26", timber.Species{}, usual, size("100", "28"), size("114", "34"), "100", "28.6"},
		{"every allowance differs", "(90+5+4)/(0.9685)+2 = 104.2; (25+5+1)/0.9685+2 = 34.01", hoopPine(),
			with(func(a *timber.Allowance) {
				a.PlaningMM, a.StraightenWidthMM, a.StraightenThicknessMM, a.SawVariationMM = d("5"), d("4"), d("1"), d("2")
			}), size("90", "25"), size("105", "35"), "90.7", "25.9"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			green, err := tc.species.GreenSize(t.Context(), tc.dressed, tc.a)
			require.NoError(t, err)
			require.Equal(t, tc.green.String(), green.String(), tc.source)
			sure, err := tc.species.DressedSize(green, tc.a)
			require.NoError(t, err)
			require.Equal(t, tc.sureWide+" x "+tc.sureThin, sure.String(), tc.source)
			smaller := timber.Size{WidthMM: green.WidthMM.Sub(d("1")), ThicknessMM: green.ThicknessMM.Sub(d("1"))}
			less, err := tc.species.DressedSize(smaller, tc.a)
			require.NoError(t, err)
			require.True(t, less.WidthMM.LessThan(tc.dressed.WidthMM) && less.ThicknessMM.LessThan(tc.dressed.ThicknessMM), "a millimetre less no longer dresses clean: %s", less)
		})
	}
	_, err := hoopPine().DressedSize(size("5", "2"), usual)
	requireField(t, err, fault.Invalid, "/width_mm")
	_, err = hoopPine().GreenSize(t.Context(), size("100", "28"), with(func(a *timber.Allowance) { a.Grain = "across" }))
	requireField(t, err, fault.Invalid, "/grain")
	_, err = hoopPine().GreenSize(t.Context(), size("100", "28"), with(func(a *timber.Allowance) { a.MCPct = d("30") }))
	requireField(t, err, fault.Invalid, "/to_mc_pct")
}

func TestMillBy(t *testing.T) {
	t.Parallel()
	const source = "common practice, no source: 30 days warm, 60 cool, half as long again sealed, two thirds where borers like the sapwood"
	tests := []struct {
		name, felled  string
		sealed, borer bool
		south         bool
		by            string
	}{
		{"summer in the south", "2026-01-10", false, false, true, "2026-02-09"},
		{"summer in the north", "2026-01-10", false, false, false, "2026-03-11"},
		{"sealed", "2026-01-10", true, false, true, "2026-02-24"},
		{"borers", "2026-01-10", false, true, true, "2026-01-30"},
		{"winter in the south", "2026-06-01", false, false, true, "2026-07-31"},
		{"felled as the warm half begins: 30 of 60 cool days, then 15 warm ones", "2026-09-01", false, false, true, "2026-10-16"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			by, why, ok := timber.Log{FelledOn: ptr(day(tc.felled)), EndsSealed: tc.sealed}.MillBy(tc.borer, tc.south)
			require.True(t, ok)
			require.Equal(t, tc.by, by.Format(time.DateOnly), source)
			require.Contains(t, why, "no source")
		})
	}
	_, why, ok := timber.Log{}.MillBy(false, true)
	require.False(t, ok)
	require.Contains(t, why, "felled")
}
