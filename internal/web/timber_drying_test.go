package web

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// addClimate puts a drying place down by its form.
func (b *browser) addClimate(name, kind string, temperature, humidity float64) {
	b.t.Helper()
	fields := []string{"name", name, "kind", kind}
	for i := range 12 {
		fields = append(fields, fmt.Sprintf("months.%d.temperature_c", i), fmt.Sprint(temperature), fmt.Sprintf("months.%d.humidity_pct", i), fmt.Sprint(humidity))
	}
	b.get("/timber/climates/0").submit("form[action='/timber/climates/0']", fields...)
	require.Equal(b.t, "/timber/climates", b.Path)
}

// dryingPack is a pack of a timber of the maker's own in a damp yard that cannot bring it
// to 12 %, with a solar chamber beside it; all by forms, from an empty book.
func dryingPack(t *testing.T) *browser {
	t.Helper()
	b := newBrowser(t)
	b.get("/timber/species/0").submit("form[action='/timber/species/0']", "code", "creek-pine", "name", "Creek pine", "shrinkage_to_mc_pct", "12")
	b.get("/timber/species").has("table", "Creek pine").has("table", "not known").has("table", "not corrected")
	b.addClimate("Creek yard", "open", 18, 80)
	b.addClimate("Glass house", "solar", 40, 40)
	b.get("/timber/climates").has("table", "Solar chamber")
	stacked := show.ISODate(time.Now().AddDate(0, 0, -70))
	b.get("/timber/packs/new").submit("form[action='/timber/packs/new']", "species_id", "1", "width_mm", "106", "thickness_mm", "31", "content.0.length_mm", "2400", "content.0.count", "10",
		"climate_id", "1", "stacked_on", stacked, "start_mc_pct", "65")
	require.Equal(t, "/timber/packs/1", b.Path)
	return b
}

// TestDryingOfAPack walks a pack from a timber without a density to a dry board in a
// chamber, by the forms of its page.
func TestDryingOfAPack(t *testing.T) {
	t.Parallel()
	b := dryingPack(t)
	b.has(".lead", "density of Creek pine is not in the book")
	require.Zero(t, b.Find("figure.curve").Length())
	b.get("/timber/species/1").has("table", "When a pack is dry").has("table", "The size to saw")
	b.submit("form[action='/timber/species/1']", "density_kg_m3", "530", "radial_pct", "2.5", "tangential_pct", "3.8", "meter_source", "booklet of the meter",
		"meter_table.0.shows_pct", "12", "meter_table.0.true_pct", "13", "meter_table.1.shows_pct", "20", "meter_table.1.true_pct", "23")
	b.get("/timber/species/1").has("dl.facts", "booklet of the meter").has("dl.facts", "3.8 % tangential")
	require.NotContains(t, b.Find("main").Text(), "What cannot be worked out")

	b.get("/timber/packs/1").submit("form[action='/timber/packs/1/reckon']")
	b.has(".lead", "Never dry there.").has(".lead", "cannot bring it to 12 %").has(".lead", "It would reach 1").has(".lead", "Moved today to Glass house it would be dry about")
	b.has("figure.curve", "The air asks for 16.").has("table", "Glass house, solar chamber").has("table", "Eight in ten between")
	require.Equal(t, 1, b.Find("figure.curve svg[role=img][aria-label]").Length())

	b.submit("form[action='/timber/packs/1/reading']", "read_on", show.ISODate(time.Now().AddDate(0, 0, -20)), "meter_pct", "16", "board", "B1")
	b.has("table", "18 %").has("table", "by the timber's table: booklet of the meter")
	require.Equal(t, 1, b.Find("figure.curve circle").Length(), "the reading is drawn")
	for words, fields := range map[string][]string{
		"read later already":       {"read_on", show.ISODate(time.Now().AddDate(0, 0, -30)), "meter_pct", "17", "board", "B2"},
		"is written down already":  {"read_on", show.ISODate(time.Now().AddDate(0, 0, -20)), "meter_pct", "17", "board", "b1"},
		"wetter than the pack was": {"read_on", show.ISODate(time.Now().AddDate(0, 0, -10)), "meter_pct", "90", "board", "B2"},
		"stacked later":            {"read_on", show.ISODate(time.Now().AddDate(0, 0, -90)), "meter_pct", "40", "board", "B2", "late", "yes"},
		"still to come":            {"read_on", show.ISODate(time.Now().AddDate(0, 0, 9)), "meter_pct", "14", "board", "B2"},
	} {
		b.get("/timber/packs/1").submit("form[action='/timber/packs/1/reading']", fields...)
		b.has("form[action='/timber/packs/1/reading']", words)
		require.Equal(t, fields[3], b.Find("form[action='/timber/packs/1/reading'] input[name=meter_pct]").AttrOr("value", ""), "what was typed stays")
	}

	b.get("/timber/packs/1").submit("form[action='/timber/packs/1/move']", "climate_id", "2", "place", "bay 1")
	b.has("dl.large", "Dry by even odds").has("dl.large", "Dry by 4 in 5 odds").has("table", "Glass house, solar chamber").has("table", "bay 1")
	b.has("figure.curve svg", "even odds, ").has("figure.curve svg", "4 in 5, ").has("figure.curve svg", "dry enough, 12 %")
	b.get("/timber").has("table", "Even odds")
	b.get("/timber/packs/1").submit("form[action='/timber/packs/1/moves/1/back']").has(".lead", "Never dry there.")
	b.submit("form[action='/timber/packs/1/target']", "target_mc_pct", "20").has(".lead", "dry enough")
	b.submit("form[action='/timber/packs/1/target']", "target_mc_pct", "40").has("form[action='/timber/packs/1/target']", "between 3 and 30")
	b.get("/timber/packs/1/moves/7/back")
	require.NotEqual(t, 200, b.Status)
	b.get("/history/timber_species/1").has("table", "meter")
}

// TestDrawCurve: what is drawn stands where the figures say, inside the drawing, words
// wherever there is a date, and nothing for a pack of which nothing is known.
func TestDrawCurve(t *testing.T) {
	t.Parallel()
	months := [12]timber.Month{}
	for i := range months {
		months[i] = timber.Month{TemperatureC: 20, HumidityPct: 60}
	}
	stacked := time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC)
	p := timber.Pack{StackedOn: stacked, TargetMCPct: decimal.RequireFromString("14"), Readings: []timber.Reading{{ReadOn: stacked.AddDate(0, 0, 30), MCPct: decimal.RequireFromString("30")}}}
	for _, start := range []float64{25, 45, 130} {
		curve, err := timber.AirCurve(timber.DryQuestion{StackedOn: stacked, ThicknessMM: 30, Gravity: 0.5, StartMCPct: &start, TargetMCPct: 14, Months: months})
		require.NoError(t, err)
		d := drawCurve(p, timber.Forecast{Curve: curve})
		for _, line := range []string{d.Band, d.Expected, d.Air} {
			for _, point := range strings.Fields(line) {
				x, y, _ := strings.Cut(point, ",")
				inside(t, x, curveLeft, curveWide-curveRight)
				inside(t, y, curveTop, curveHigh-curveFoot)
			}
		}
		require.Len(t, strings.Fields(d.Band), 2*len(curve.Points), "along its upper edge and back along the lower")
		require.Len(t, d.Dates, 2)
		even, err := strconv.ParseFloat(d.Dates[0].X, 64)
		require.NoError(t, err)
		sure, err := strconv.ParseFloat(d.Dates[1].X, 64)
		require.NoError(t, err)
		require.Less(t, even, sure)
		require.NotEqual(t, d.Dates[0].TextY, d.Dates[1].TextY, "words of neighbouring dates do not meet")
		for _, m := range d.Dates {
			x, err := strconv.ParseFloat(m.TextX, 64)
			require.NoError(t, err)
			if m.Anchor == "start" {
				inside(t, m.TextX, 0, curveWide-90)
			} else {
				require.Greater(t, x, 96.0)
			}
		}
		require.Len(t, d.Readings, 1)
		require.NotEmpty(t, d.Days)
		require.Contains(t, d.Said, "14 % by even odds")
	}
	require.Nil(t, drawCurve(p, timber.Forecast{Lack: "density"}))
}

func inside(t *testing.T, text string, low, high float64) {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	require.True(t, v >= low-0.06 && v <= high+0.06, "%s lies outside %g to %g", text, low, high)
}
