package timber_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

// steadyPlace is a drying place with the same air all year.
func (w *world) steadyPlace(name, kind string, temperature, humidity float64) timber.Climate {
	w.t.Helper()
	c := timber.Climate{Name: name, Kind: kind}
	for i := range c.Months {
		c.Months[i] = timber.Month{TemperatureC: temperature, HumidityPct: humidity}
	}
	c, err := w.room.ClimateSave(w.t.Context(), c)
	require.NoError(w.t, err)
	return c
}

// A pack moved into a chamber and back has the air of each place for its days, and a move
// taken back leaves the dates as they were.
func TestPackInAChamber(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.room = timber.New(w.db, timber.AirDry)
	yard := w.steadyPlace("yard", "", 18, 80)
	chamber := w.steadyPlace("glass house", timber.Solar, 40, 40)
	require.Equal(t, timber.Outdoors, yard.Kind)
	p, err := w.room.PackStack(t.Context(), timber.PackNew{SpeciesID: w.species.ID, WidthMM: d("106"), ThicknessMM: d("31.5"), ClimateID: &yard.ID,
		StackedOn: day("2025-12-01"), TargetMCPct: d("12"), Content: []timber.Content{{LengthMM: 2400, Grade: "sound", Count: 4}}})
	require.NoError(t, err)
	require.True(t, p.NeverDry, "Wood Handbook eq. 4-5: 18 degrees and 80 % settle at about 16 %")

	f, err := w.room.PackForecast(t.Context(), p)
	require.NoError(t, err)
	require.True(t, f.Curve.Never)
	require.NotNil(t, f.Reachable)
	require.InDelta(t, 16.5, *f.Reachable, 1, "the air asks for 16.1 %")
	require.Len(t, f.Elsewhere, 1)
	require.Equal(t, "glass house", f.Elsewhere[0].Name)
	require.False(t, f.Elsewhere[0].Never)

	p, err = w.room.PackMove(t.Context(), p.ID, timber.PackPlace{FromOn: day("2026-03-03"), ClimateID: chamber.ID, Place: "bay 1"})
	require.NoError(t, err)
	require.False(t, p.NeverDry)
	require.Equal(t, f.Elsewhere[0].ReadyOnP80, p.ReadyOnP80, "the pack page had said so")
	require.Equal(t, "glass house", p.PlaceOn(day("2026-03-03")).ClimateName)
	require.Nil(t, p.PlaceOn(day("2026-03-02")))
	alone := *p.ReadyOnP80

	p, err = w.room.PackMove(t.Context(), p.ID, timber.PackPlace{FromOn: day("2026-03-20"), ClimateID: yard.ID})
	require.NoError(t, err)
	require.True(t, p.NeverDry || p.ReadyOnP80 == nil || p.ReadyOnP80.After(alone), "taken out too soon")
	_, err = w.room.PackMove(t.Context(), p.ID, timber.PackPlace{FromOn: day("2026-03-20"), ClimateID: chamber.ID})
	requireField(t, err, fault.Conflict, "/from_on")
	p, err = w.room.PackMoveBack(t.Context(), p.ID, p.Places[1].ID)
	require.NoError(t, err)
	require.Equal(t, alone, *p.ReadyOnP80)
	p, err = w.room.PackMoveBack(t.Context(), p.ID, p.Places[0].ID)
	require.NoError(t, err)
	require.True(t, p.NeverDry)
	_, err = w.room.PackMoveBack(t.Context(), p.ID, 99_999)
	require.True(t, fault.Is(err, fault.NotFound))

	for pointer, m := range map[string]timber.PackPlace{
		"/climate_id": {FromOn: day("2026-03-03")},
		"/from_on":    {ClimateID: chamber.ID, FromOn: day("2025-11-30")},
	} {
		_, err := w.room.PackMove(t.Context(), p.ID, m)
		requireField(t, err, fault.Invalid, pointer)
	}
	_, err = w.room.PackMove(t.Context(), p.ID, timber.PackPlace{FromOn: day("2028-01-01"), ClimateID: chamber.ID})
	requireField(t, err, fault.Invalid, "/from_on")
}

// What the maker mends in timber or weather reaches a pack when it is worked out anew;
// readings keep the dates that followed from them.
func TestPackReckon(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.room = timber.New(w.db, timber.AirDry)
	p := w.stack()
	p, err := w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-02-10"), MeterPct: d("30")})
	require.NoError(t, err)
	was := p.Readings[0]
	s := w.species
	s.DensityKgM3 = ptr(d("1000"))
	_, err = w.room.SpeciesSave(t.Context(), s)
	require.NoError(t, err)
	got, err := w.room.PackReckon(t.Context(), p.ID)
	require.NoError(t, err)
	require.True(t, got.ReadyOn.After(*p.ReadyOn), "heavier wood dries later")
	require.Equal(t, was, got.Readings[0])
}

// A timber without a density is taken; its pack has no dates, and it is said what lacks.
func TestPackOfAnUnknownTimber(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.room = timber.New(w.db, timber.AirDry)
	s, err := w.room.SpeciesSave(t.Context(), timber.Species{Code: "creek-wood", Name: "creek wood"})
	require.NoError(t, err)
	place := w.steadyPlace("yard", "", 20, 60)
	n := timber.PackNew{SpeciesID: s.ID, WidthMM: d("106"), ThicknessMM: d("31"), StackedOn: day("2026-01-01"), Content: []timber.Content{{LengthMM: 2400, Grade: "sound", Count: 4}}}
	p, err := w.room.PackStack(t.Context(), n)
	require.NoError(t, err)
	f, err := w.room.PackForecast(t.Context(), p)
	require.NoError(t, err)
	require.Equal(t, timber.Forecast{Lack: "climate"}, f)
	n.ClimateID = &place.ID
	p, err = w.room.PackStack(t.Context(), n)
	require.NoError(t, err)
	require.Nil(t, p.ReadyOn)
	f, err = w.room.PackForecast(t.Context(), p)
	require.NoError(t, err)
	require.Equal(t, timber.Forecast{Lack: "density"}, f)
	_, err = w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-02-10"), MeterPct: d("22")})
	require.NoError(t, err, "the reading is a fact and kept")
}

// Bad readings are refused at their field, in words that say what to change.
func TestPackReadRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.stack() // 62 % when stacked on 2025-12-01; today is 2026-03-03
	_, err := w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-02-10"), Board: "B1", MeterPct: d("25")})
	require.NoError(t, err)
	tests := []struct {
		name, pointer, says string
		reading             timber.Reading
	}{
		{"before stacking", "/read_on", "stacked later, on 2025-12-01", timber.Reading{ReadOn: day("2025-11-30"), MeterPct: d("40")}},
		{"still to come", "/read_on", "still to come", timber.Reading{ReadOn: day("2026-03-04"), MeterPct: d("20")}},
		{"out of order", "/read_on", "read later already, on 2026-02-10", timber.Reading{ReadOn: day("2026-02-09"), MeterPct: d("26")}},
		{"above green", "/meter_pct", "wetter than the pack was when stacked (62 %)", timber.Reading{ReadOn: day("2026-02-20"), MeterPct: d("75")}},
		{"the same board and day", "/board", "Board b1 of this day is written down already, with 25 %", timber.Reading{ReadOn: day("2026-02-10"), Board: " b1 ", MeterPct: d("24")}},
		{"no reading", "/meter_pct", "between 1 and 250", timber.Reading{ReadOn: day("2026-02-20")}},
		{"a second decimal", "/meter_pct", "one decimal", timber.Reading{ReadOn: day("2026-02-20"), MeterPct: d("20.25")}},
		{"no day", "/read_on", "on which day", timber.Reading{MeterPct: d("20")}},
		{"corrected beyond reason", "/mc_pct", "between 1 and 250", timber.Reading{ReadOn: day("2026-02-20"), MeterPct: d("20"), MCPct: d("-3")}},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			_, err := w.room.PackRead(t.Context(), p.ID, tc.reading)
			requireField(t, err, fault.Invalid, tc.pointer)
			require.ErrorContains(t, err, tc.says)
		})
	}
	_, err = w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-02-10"), Board: "B2", MeterPct: d("24")})
	require.NoError(t, err, "another board of the same day")
	p, err = w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-01-09"), Board: "B1", MeterPct: d("33"), Late: true})
	require.NoError(t, err, "written down late")
	require.Equal(t, day("2026-01-09"), p.Readings[2].ReadOn)
	require.NotNil(t, p.Readings[2].ReadyOn)
}

// TestCorrectMeter: by hand: straight lines between the lines of the table, the difference
// of the end beyond it.
func TestCorrectMeter(t *testing.T) {
	t.Parallel()
	table := []timber.MeterStep{{ShowsPct: d("10"), TruePct: d("11")}, {ShowsPct: d("15"), TruePct: d("17")}, {ShowsPct: d("25"), TruePct: d("30")}}
	for shows, want := range map[string]string{"10": "11", "15": "17", "25": "30", "12.5": "14", "20": "23.5", "8": "9", "40": "45", "17.3": "20"} {
		got, ok := timber.CorrectMeter(table, d(shows))
		require.True(t, ok)
		require.Equal(t, want, got.String(), shows)
	}
	got, ok := timber.CorrectMeter(table[:1], d("14.2"))
	require.True(t, ok)
	require.Equal(t, "15.2", got.String(), "one line: the same difference everywhere")
	got, ok = timber.CorrectMeter(nil, d("14.2"))
	require.False(t, ok)
	require.Equal(t, "14.2", got.String())
	low, _ := timber.CorrectMeter([]timber.MeterStep{{ShowsPct: d("20"), TruePct: d("15")}}, d("3"))
	require.Equal(t, "1", low.String(), "never below what can be kept")
}

// A reading typed as the meter shows is kept with both values and where the correction is from.
func TestMeterOfATimber(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	s := w.species
	s.MeterTable, s.MeterSource = []timber.MeterStep{{ShowsPct: d("12"), TruePct: d("13")}, {ShowsPct: d("20"), TruePct: d("23")}}, "booklet of the meter"
	s, err := w.room.SpeciesSave(t.Context(), s)
	require.NoError(t, err)
	require.Len(t, s.MeterTable, 2)
	p := w.stack()
	read := func(on, shows, mc string) timber.Reading {
		r := timber.Reading{ReadOn: day(on), MeterPct: d(shows)}
		if mc != "" {
			r.MCPct = d(mc)
		}
		p, err := w.room.PackRead(t.Context(), p.ID, r)
		require.NoError(t, err)
		return p.Readings[0]
	}
	got := read("2026-02-10", "16", "")
	require.Equal(t, []string{"16", "18", "table", "booklet of the meter"}, []string{got.MeterPct.String(), got.MCPct.String(), got.Correction, got.Source})
	got = read("2026-02-11", "16", "17.5")
	require.Equal(t, []string{"17.5", "hand", ""}, []string{got.MCPct.String(), got.Correction, got.Source})
	s.MeterTable = nil
	_, err = w.room.SpeciesSave(t.Context(), s)
	require.NoError(t, err)
	got = read("2026-02-12", "16", "")
	require.Equal(t, []string{"16", "none"}, []string{got.MCPct.String(), got.Correction})

	for pointer, table := range map[string][]timber.MeterStep{
		"/meter_table/1/shows_pct": {{ShowsPct: d("12"), TruePct: d("13")}, {ShowsPct: d("12"), TruePct: d("14")}},
		"/meter_table/1/true_pct":  {{ShowsPct: d("12"), TruePct: d("13")}, {ShowsPct: d("14"), TruePct: d("12")}},
		"/meter_table/0/true_pct":  {{ShowsPct: d("12"), TruePct: d("0")}},
		"/meter_table":             make([]timber.MeterStep, 13),
	} {
		bad := timber.Species{Code: "x-wood", Name: "x", MeterTable: table}
		_, err := w.room.SpeciesSave(t.Context(), bad)
		requireField(t, err, fault.Invalid, pointer)
	}
}
