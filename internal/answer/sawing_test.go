package answer_test

import (
	"os/exec"
	"path/filepath"
	"testing"

	"os"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
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
	require.Contains(t, text, "100 × 28 mm")
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
