package timber_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/drying"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

func (w *world) climate() *int64 {
	w.t.Helper()
	c := timber.Climate{Name: "Creek shed"}
	for i := range c.Months {
		c.Months[i] = timber.Month{TemperatureC: 15 + float64(i), HumidityPct: 60 + float64(i)}
	}
	c, err := w.room.ClimateSave(w.t.Context(), c)
	require.NoError(w.t, err)
	return &c.ID
}

// stack is 20 boards of 2.4 m and 10 of 1.8 m, 66 m, that cost 264.00.
func (w *world) stack() timber.Pack {
	w.t.Helper()
	p, err := w.room.PackStack(w.t.Context(), timber.PackNew{SpeciesID: w.species.ID, WidthMM: d("106"), ThicknessMM: d("31.5"), Place: "north shed",
		ClimateID: w.climate(), StackedOn: day("2025-12-01"), StartMCPct: ptr(d("62")), DressesTo: &timber.Size{WidthMM: d("100"), ThicknessMM: d("28")}, CostMinor: 26_400,
		Content: []timber.Content{{2400, "sound", 20}, {1800, "sound", 10}}})
	require.NoError(w.t, err)
	return p
}

func TestPackDatesFollowReadings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.stack()
	require.Equal(t, "P0001", p.Number)
	require.Equal(t, 30, p.Boards)
	require.Equal(t, day("2026-03-11"), *p.ReadyOn, "the dryer's date: 100 days")
	require.Equal(t, day("2026-03-31"), *p.ReadyOnP80, "the dryer's date: 120 days")

	_, err := w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-01-10"), MeterPct: d("31.5"), MCPct: d("29")})
	require.NoError(t, err)
	p, err = w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-02-10"), Board: "red end", MeterPct: d("19.5")})
	require.NoError(t, err)
	require.Equal(t, day("2026-03-13"), *p.ReadyOn, "two readings: two days later")
	require.Equal(t, p.ReadyOn, p.Readings[0].ReadyOn, "the reading keeps what followed from it")
	require.Equal(t, day("2026-03-12"), *p.Readings[1].ReadyOn)
	require.Equal(t, "19.5", p.Readings[0].MCPct.String(), "uncorrected where no figure is given")
	require.Equal(t, "19.5", p.LatestMCPct.String())

	q := w.asked[len(w.asked)-1]
	require.Equal(t, "hoop-pine", q.SpeciesCode)
	require.Equal(t, 31.5, q.ThicknessMM)
	require.Equal(t, 62.0, *q.StartMCPct)
	require.InDelta(t, 530/1.12/1000, q.Gravity, 1e-9, "Wood Handbook eq. 4-12 turned round: 530 kg/m3 at 12 %")
	require.Equal(t, 12.0, q.TargetMCPct)
	require.Equal(t, timber.Month{TemperatureC: 26, HumidityPct: 71}, q.Months[11])
	require.Equal(t, []string{"29", "19.5"}, []string{q.Readings[0].MCPct.String(), q.Readings[1].MCPct.String()}, "oldest first")

	for name, r := range map[string]timber.Reading{
		"before it was stacked": {ReadOn: day("2025-11-30"), MeterPct: d("20")},
		"tomorrow":              {ReadOn: day("2026-03-04"), MeterPct: d("20")},
	} {
		_, err := w.room.PackRead(t.Context(), p.ID, r)
		require.True(t, fault.Is(err, fault.Invalid), name)
		requireField(t, err, fault.Invalid, "/read_on")
	}
	_, err = w.room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-02-11"), MeterPct: d("0")})
	requireField(t, err, fault.Invalid, "/meter_pct")
}

func TestPackWithoutADryerKeepsTheMakersDates(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	room := timber.New(w.db, nil)
	p := w.stack()
	p, err := room.PackDatesSet(t.Context(), p.ID, p.Version, timber.DryDates{ReadyOn: ptr(day("2026-05-01")), ReadyOnP80: ptr(day("2026-06-01"))})
	require.NoError(t, err)
	p, err = room.PackRead(t.Context(), p.ID, timber.Reading{ReadOn: day("2026-02-10"), MeterPct: d("19.5")})
	require.NoError(t, err)
	require.Equal(t, day("2026-06-01"), *p.ReadyOnP80)
	_, err = room.PackDatesSet(t.Context(), p.ID, p.Version, timber.DryDates{ReadyOn: ptr(day("2026-06-01")), ReadyOnP80: ptr(day("2026-05-01"))})
	requireField(t, err, fault.Invalid, "/ready_on_p80")
}

func TestPackDressMovesBoardsAndClaims(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.stack()
	w.claim(claims.Want{For: claims.Build(w.build), Thing: claims.Pack(p.ID), Quantity: 8, Strength: claims.Meant, PromisedOn: ptr(day("2026-05-01"))},
		claims.Want{For: claims.Build(w.build2), Thing: claims.Pack(p.ID), Quantity: 20, Strength: claims.Meant, PromisedOn: ptr(day("2026-06-01"))})

	// 10 of 30 boards leave; 28 are meant, 20 are left: 8 go over to the new lot.
	out, err := w.room.PackDress(t.Context(), timber.Dressing{PackID: p.ID, At: now, Place: "rack 2", Taken: []timber.Content{{2400, "sound", 10}},
		Boards: []timber.DressedLot{{WidthMM: d("100"), ThicknessMM: d("28"), ThicknessTrueMM: d("27.8"), LengthMM: 2390, Count: 9}}})
	require.NoError(t, err)
	require.Empty(t, out.Broken)
	require.Empty(t, out.Notes)
	require.Len(t, out.Lots, 1)
	lot := out.Lots[0]
	require.Equal(t, []any{2350, 9, 8, "27.8", "rack 2"}, []any{lot.LengthMM, lot.OnHand, lot.Meant, lot.ThicknessTrueMM.String(), lot.Place})
	// By hand: 24 of 66 m take 96.00 of 264.00; the stack of those boards is 0.106 x (0.0315 +
	// 0.020) x 24 x 1.1 = 0.144118 m3, for 92 days at 3.00 a month 1.31; over 9 x 2.35 m.
	require.Equal(t, int64(460), lot.MetreCostMinor, "97.31 over 21.15 m")
	open, err := claims.OpenFor(t.Context(), w.db, claims.Build(w.build))
	require.NoError(t, err)
	require.Len(t, open, 1)
	require.Equal(t, claims.Lot(lot.ID), open[0].Thing, "the sooner promise has the dressed boards")

	// The rest: by the book 10 of each length, in truth only 6 of the long ones came out.
	out, err = w.room.PackDress(t.Context(), timber.Dressing{PackID: p.ID, At: now, Place: "rack 2", Done: true, Taken: []timber.Content{{2400, "sound", 6}, {1800, "sound", 11}},
		Boards: []timber.DressedLot{{WidthMM: d("100"), ThicknessMM: d("28"), LengthMM: 1800, Count: 11}}})
	require.NoError(t, err)
	require.Equal(t, []string{"The book had 10 boards of 1800 mm sound in the pack, 11 were taken.",
		"4 boards were still in the pack by the book; it is finished now."}, out.Notes)
	require.Equal(t, 11, out.Lots[0].Meant)
	broken := 0
	for _, c := range out.Broken {
		require.Equal(t, w.build2, c.For.BuildID)
		broken += c.Quantity
	}
	require.Equal(t, 20-11, broken, "what came out holds 11 of the 20 that were meant")
	p, err = w.room.PackGet(t.Context(), p.ID)
	require.NoError(t, err)
	require.NotNil(t, p.FinishedAt)
	_, err = w.room.PackDress(t.Context(), timber.Dressing{PackID: p.ID, At: now, Done: true})
	require.True(t, fault.Is(err, fault.Conflict))
	list, _, err := w.room.PackList(t.Context(), timber.PackFilter{})
	require.NoError(t, err)
	require.Empty(t, list)
	list, _, err = w.room.PackList(t.Context(), timber.PackFilter{Finished: true, Find: "p00"})
	require.NoError(t, err)
	require.Len(t, list, 1)
}

func TestPackStackRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	good := timber.PackNew{SpeciesID: w.species.ID, WidthMM: d("106"), ThicknessMM: d("31"), StackedOn: day("2026-01-01"), Content: []timber.Content{{2400, "sound", 1}}}
	tests := []struct {
		name, pointer string
		change        func(*timber.PackNew)
	}{
		{"nothing in it", "/content", func(p *timber.PackNew) { p.Content = nil }},
		{"a line twice", "/content/1/length_mm", func(p *timber.PackNew) { p.Content = []timber.Content{{2400, "sound", 1}, {2400, "sound", 2}} }},
		{"an unknown grade", "/content/0/grade", func(p *timber.PackNew) { p.Content = []timber.Content{{2400, "A", 1}} }},
		{"stacked tomorrow", "/stacked_on", func(p *timber.PackNew) { p.StackedOn = day("2026-03-04") }},
		{"thicker than wide", "/thickness_mm", func(p *timber.PackNew) { p.WidthMM, p.ThicknessMM = d("28"), d("100") }},
		{"bone dry", "/target_mc_pct", func(p *timber.PackNew) { p.TargetMCPct = d("2") }},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			p := good
			tc.change(&p)
			_, err := w.room.PackStack(t.Context(), p)
			requireField(t, err, fault.Invalid, tc.pointer)
		})
	}
	require.Equal(t, int64(0), w.id(`SELECT count(*) FROM pack`), "nothing half-done")
	p, err := w.room.PackStack(t.Context(), good)
	require.NoError(t, err)
	require.Equal(t, "P0001", p.Number, "a refused pack takes no number")
}

// The dryer of the calculation room gives what the calculation gives for the same pack.
func TestAirDryIsTheCalculation(t *testing.T) {
	t.Parallel()
	q := timber.DryQuestion{StackedOn: day("2025-10-01"), ThicknessMM: 30, Gravity: 0.45, StartMCPct: ptr(60.0), TargetMCPct: 14,
		Readings: []timber.Reading{{ReadOn: day("2025-11-15"), MCPct: d("28.5")}}}
	in := drying.DryingIn{StackedOn: "2025-10-01", ThicknessMM: 30, Species: "any", StartMCPct: ptr(60.0), TargetMCPct: 14, Readings: []drying.Reading{{On: "2025-11-15", MCPct: 28.5}}}
	for i := range q.Months {
		q.Months[i] = timber.Month{TemperatureC: 14 + float64(i), HumidityPct: 55 + float64(i)}
		in.Climate = append(in.Climate, drying.Month{TemperatureC: 14 + float64(i), HumidityPct: 55 + float64(i)})
	}
	want, err := drying.Predict(in, drying.Timber{Gravity: 0.45})
	require.NoError(t, err)
	got, err := timber.AirDry(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, []string{*want.ReadyOn, *want.ReadyOnP80}, []string{got.ReadyOn.Format("2006-01-02"), got.ReadyOnP80.Format("2006-01-02")})
	q.TargetMCPct = 3
	for i := range q.Months {
		q.Months[i].HumidityPct = 90
	}
	got, err = timber.AirDry(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, timber.DryDates{Never: true}, got, "air of 90 % never brings wood to 3 % (Wood Handbook table 4-2)")
	q.ThicknessMM = 1
	_, err = timber.AirDry(t.Context(), q)
	requireField(t, err, fault.Invalid, "/thickness_mm")
}
