package answer_test

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/calc/sawing"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// textOf reads a paper as pdftotext does.
func textOf(t *testing.T, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	out, err := exec.Command("pdftotext", "-layout", file, "-").CombinedOutput()
	require.NoError(t, err, "%s", out)
	return string(out)
}

func TestSawingCard(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	log := func(small, large string) timber.Log {
		g, err := w.Timber.LogSave(t.Context(), timber.Log{SpeciesID: w.species.ID, SmallEndMM: d(small), LargeEndMM: d(large), LengthMM: d("2400"), MetalSuspected: true}, true)
		require.NoError(t, err)
		return g
	}
	g := log("300", "330")
	pdf, err := w.SawingCard(t.Context(), g.ID)
	require.NoError(t, err)
	text := textOf(t, pdf)
	require.Contains(t, text, g.Number)
	require.Contains(t, text, "100 × 28")
	require.Contains(t, text, "There may be metal in it.")
	_, err = w.SawingCard(t.Context(), log("40", "45").ID)
	require.True(t, fault.Is(err, fault.Conflict), "no board of 100 x 28 lies in a log of 40 mm: %v", err)
	_, err = w.SawingCard(t.Context(), 99_999)
	require.True(t, fault.Is(err, fault.NotFound))
}

func TestJobCardAndLabels(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b, err := w.Workshop.BuildMake(t.Context(), workshop.BuildNew{RevisionID: w.rev.ID, SpeciesID: w.species.ID, Quantity: 2, DueOn: ptr(day("2026-04-01"))})
	require.NoError(t, err)
	pdf, name, err := w.JobCard(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "jobcard-"+b.Number, name)
	text := textOf(t, pdf)
	for _, want := range []string{b.Number, "brood side", "300", "2 for the shelf", "kickback", "glue"} {
		require.Contains(t, text, want)
	}
	require.NotContains(t, text, "$", "no prices at the bench")
	_, _, err = w.BuildLabels(t.Context(), b.ID, 0)
	require.True(t, fault.Is(err, fault.Conflict))
	out, err := w.Workshop.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now})
	require.NoError(t, err)
	pdf, _, err = w.BuildLabels(t.Context(), b.ID, 0)
	require.NoError(t, err)
	text = textOf(t, pdf)
	for _, box := range out.Boxes {
		require.Contains(t, text, box.Serial)
	}
	pdf, _, err = w.BoxLabel(t.Context(), out.Boxes[0].ID, 0)
	require.NoError(t, err)
	require.NotContains(t, textOf(t, pdf), out.Boxes[1].Serial)
}

// pine is a timber with the shrinkages of the Queensland Government's page (shared
// reference wood/timbers_australia.csv) and 3.20 a metre of 100 x 28.
func (w *world) pine() timber.Species {
	w.t.Helper()
	sp, err := w.Timber.SpeciesSave(w.t.Context(), timber.Species{Code: "hoop-pine-qld", Name: "Hoop pine of Queensland", RadialPct: ptr(d("2.5")), TangentialPct: ptr(d("3.8")), ShrinkageToMCPct: d("12"), MetreCostMinor: 320})
	require.NoError(w.t, err)
	return sp
}

// What a log gives is what the calculation says for the green sizes, with the money of the
// book beside it.
func TestLogYield(t *testing.T) {
	t.Parallel()
	w := newWorld(t, func(s *house.Settings) { s.MillHourCostMinor, s.MillMinM3 = 6000, 200 })
	sp := w.pine()
	g, err := w.Timber.LogSave(t.Context(), timber.Log{SpeciesID: sp.ID, SmallEndMM: d("380"), LargeEndMM: d("430"), LengthMM: d("3600"), CostMinor: 9_000, HaulageMinor: 2_000, FelledOn: ptr(day("2026-02-20")),
		Wish: nil}, false)
	require.NoError(t, err)
	y, err := w.LogYield(t.Context(), g.ID)
	require.NoError(t, err)
	require.Equal(t, "110 x 32", y.Sizes[0].Green.String(), "common practice, no source: 110 x 32 green for 100 x 28")
	least := 900.0
	limit := 600.0
	out, err := sawing.Pattern(t.Context(), sawing.PatternIn{SmallEndMM: 380, LargeEndMM: 430, LengthMM: 3600, KerfMM: 3, MillLimitMM: &limit, Boards: []sawing.BoardIn{{ID: "x", WidthMM: 110, ThicknessMM: 32, Value: 320, MinLengthMM: &least}}})
	require.NoError(t, err)
	require.Equal(t, out.Boards[0].Count, y.Sizes[0].Boards)
	require.InDelta(t, out.Value, float64(y.ValueMinor), 0.51)
	require.Equal(t, int64(math.Round(math.Round(200*y.Out.LogVolumeM3)*100)), y.SawingMinor, "200 minutes a cubic metre at 60.00 an hour")
	require.Equal(t, y.ValueMinor-11_000-y.SawingMinor, y.MarginMinor())
	require.Empty(t, y.Choices, "it fits and is straight")
	require.Equal(t, "2026-03-22", y.MillBy.Format("2006-01-02"), "30 warm days; common practice, no source")

	// A sawing day keeps what was promised, also when the model's sizes change afterwards.
	green := y.Sizes[0].Green
	g2, packs, err := w.LogSaw(t.Context(), g.ID, g.Version, timber.Sawing{At: w.now, Minutes: 60, Boards: []timber.SawnBoards{{WidthMM: green.WidthMM, ThicknessMM: green.ThicknessMM, LengthMM: 3600, Count: 8}}})
	require.NoError(t, err)
	require.InDelta(t, y.Out.SawnVolumeM3, g2.Expected.M3, 1e-9)
	require.NotNil(t, packs[0].DressesToID, "boards of an expected green size are meant for its dressed size")
	require.Equal(t, int64(17_000), packs[0].CostMinor)
	set, err := w.House.SettingsGet(t.Context())
	require.NoError(t, err)
	set.PlaningMM = d("9")
	_, err = w.House.SettingsPut(t.Context(), set)
	require.NoError(t, err)
	g3, err := w.Timber.LogGet(t.Context(), g.ID)
	require.NoError(t, err)
	require.Equal(t, g2.Expected, g3.Expected)
}

// What earlier logs gave is what later ones are expected to give.
func TestExperienceOfLogs(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	sp := w.pine()
	for range 3 {
		g, err := w.Timber.LogSave(t.Context(), timber.Log{SpeciesID: sp.ID, SmallEndMM: d("300"), LargeEndMM: d("330"), LengthMM: d("2400")}, false)
		require.NoError(t, err)
		y, err := w.LogYield(t.Context(), g.ID)
		require.NoError(t, err)
		require.InDelta(t, y.Out.SawnVolumeM3, y.LikelyM3, 1e-9, "no experience yet")
		_, _, err = w.LogSaw(t.Context(), g.ID, g.Version, timber.Sawing{At: w.now, Boards: []timber.SawnBoards{{WidthMM: d("110"), ThicknessMM: d("32"), LengthMM: 2400, Count: 5}}})
		require.NoError(t, err)
	}
	y, err := w.LogLook(t.Context(), timber.Log{SpeciesID: sp.ID, SmallEndMM: d("300"), LargeEndMM: d("330"), LengthMM: d("2400")}, false)
	require.NoError(t, err)
	require.Equal(t, 3, y.Yields.Logs)
	require.InDelta(t, 5*0.110*0.032*2.4, y.LikelyM3, 1e-6, "the same log gives what the last three gave")
	require.Less(t, y.LikelyMM, y.DrawnMM)
	require.InDelta(t, y.Out.Value*y.Yields.Ratio, float64(y.ValueMinor), 0.51)
}

func TestWaysToCutALog(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	sp := w.pine()
	look := func(small, large, length, sweep string) answer.LogYield {
		t.Helper()
		y, err := w.LogLook(t.Context(), timber.Log{SpeciesID: sp.ID, SmallEndMM: d(small), LargeEndMM: d(large), LengthMM: d(length), SweepMM: d(sweep)}, true)
		require.NoError(t, err)
		return y
	}
	worth := func(small, large, length, sweep float64) float64 {
		t.Helper()
		least := min(900, length)
		out, err := sawing.Pattern(t.Context(), sawing.PatternIn{SmallEndMM: small, LargeEndMM: large, LengthMM: length, SweepMM: sweep, KerfMM: 3, Boards: []sawing.BoardIn{{ID: "x", WidthMM: 110, ThicknessMM: 32, Value: 320, MinLengthMM: &least}}})
		require.NoError(t, err)
		return out.Value
	}
	// The log grows 120 mm over 4 m; it has 600 mm, all that the mill takes, at
	// 4000 x (680-600)/120 = 2666.7 mm from the butt; cut to whole centimetres.
	y := look("560", "680", "4000", "0")
	require.False(t, y.Out.FitsMill)
	require.Len(t, y.Choices, 3)
	trim := y.Choices[1]
	require.InDelta(t, 2670, trim.CutMM, 1e-9)
	require.InDelta(t, 599.9, trim.Pieces[0].LargeEndMM, 1e-9)
	require.InDelta(t, worth(560, 599.9, 1330, 0), float64(trim.ValueMinor), 0.51)
	require.Equal(t, int64(0), y.Choices[2].ValueMinor, "both halves are too thick: 620 and 680 mm")
	require.True(t, trim.Best)
	require.Equal(t, trim.ValueMinor, y.ValueMinor, "only what the mill can take is worth something")

	// Half the length has a quarter of the sweep.
	y = look("380", "430", "4000", "80")
	require.True(t, y.Out.FitsMill)
	require.Len(t, y.Choices, 2)
	cross := y.Choices[1]
	require.Equal(t, []float64{20, 20}, []float64{cross.Pieces[0].SweepMM, cross.Pieces[1].SweepMM})
	require.InDelta(t, 405, cross.Pieces[0].SmallEndMM, 1e-9)
	require.InDelta(t, worth(405, 430, 2000, 20)+worth(380, 405, 2000, 20), float64(cross.ValueMinor), 1.01)
	require.InDelta(t, worth(380, 430, 4000, 80), float64(y.Choices[0].ValueMinor), 0.51)
	require.True(t, cross.Best, "80 mm of sweep cost more than the cut")

	// Thicker than the mill along all its length, and bent more than it is thick.
	require.Nil(t, look("640", "680", "4000", "0").Best())
	_, err := w.LogLook(t.Context(), timber.Log{SpeciesID: sp.ID, SmallEndMM: d("200"), LargeEndMM: d("220"), LengthMM: d("4000"), SweepMM: d("250")}, true)
	require.True(t, fault.Is(err, fault.Invalid), "%v", err)
}
