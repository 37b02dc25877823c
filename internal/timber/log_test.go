package timber_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

func TestLogSave(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	plain := timber.Log{SpeciesID: w.species.ID, SmallEndMM: d("380"), LargeEndMM: d("430.5"), LengthMM: d("3600"), FromWhere: "Ferny Creek"}
	g, err := w.room.LogSave(t.Context(), plain, false)
	require.NoError(t, err)
	require.Equal(t, "L0001", g.Number)
	require.Equal(t, "hoop pine", g.SpeciesName)

	const sizes = "our estimate: from 1000 mm a diameter is asked about, and from 40 mm a metre a taper"
	tests := []struct {
		name, source, pointer, says string
		change                      func(*timber.Log)
		sureHelps                   bool
	}{
		{"a girth in place of the diameter", "1900 mm round is 1900/pi = 605 mm through", "/small_end_mm", "a diameter of 605 mm",
			func(g *timber.Log) { g.SmallEndMM, g.LargeEndMM = d("1900"), d("1950") }, true},
		{"one end as a girth", sizes, "/large_end_mm", "grows by 820 mm over 3.6 m", func(g *timber.Log) { g.LargeEndMM = d("1200") }, true},
		{"the ends swapped", "design.md: the small end", "/large_end_mm", "swapped", func(g *timber.Log) { g.SmallEndMM = d("500") }, false},
		{"metres in place of mm", sizes, "/length_mm", "between 100 and 20000", func(g *timber.Log) { g.LengthMM = d("3.6") }, false},
		{"below zero", sizes, "/small_end_mm", "between 20 and 5000", func(g *timber.Log) { g.SmallEndMM = d("-380") }, false},
		{"hundredths", "design.md: millimetres with one decimal", "/small_end_mm", "one decimal", func(g *timber.Log) { g.SmallEndMM = d("380.55") }, false},
		{"felled tomorrow", "design.md section 4, Time: events have happened", "/felled_on", "still to come",
			func(g *timber.Log) { g.FelledOn = ptr(day("2026-03-04")) }, false},
		{"no timber", "design.md: species", "/species_id", "which timber", func(g *timber.Log) { g.SpeciesID = 0 }, false},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			g := plain
			tc.change(&g)
			_, err := w.room.LogSave(t.Context(), g, false)
			requireField(t, err, fault.Invalid, tc.pointer)
			require.ErrorContains(t, err, tc.says)
			_, err = w.room.LogSave(t.Context(), g, true)
			require.Equal(t, tc.sureHelps, err == nil, "%v", err)
		})
	}

	// The third of March in Brisbane is not "still to come".
	today := plain
	today.FelledOn = ptr(day("2026-03-03"))
	_, err = w.room.LogSave(t.Context(), today, false)
	require.NoError(t, err)

	g.Notes = "a nail at 1.2 m"
	g2, err := w.room.LogSave(t.Context(), g, false)
	require.NoError(t, err)
	_, err = w.room.LogSave(t.Context(), g, false)
	require.True(t, fault.Is(err, fault.Stale))
	_, err = w.room.LogSawn(t.Context(), g.ID, g2.Version, now.Add(time.Hour), 90)
	requireField(t, err, fault.Invalid, "/sawn_at")
	g3, err := w.room.LogSawn(t.Context(), g.ID, g2.Version, now.Add(-time.Hour), 90)
	require.NoError(t, err)
	_, err = w.room.LogSawn(t.Context(), g.ID, g3.Version, now, 90)
	require.True(t, fault.Is(err, fault.Conflict))
	open, _, err := w.room.LogList(t.Context(), timber.LogFilter{Open: true})
	require.NoError(t, err)
	for _, o := range open {
		require.NotEqual(t, g.ID, o.ID)
	}
	all, next, err := w.room.LogList(t.Context(), timber.LogFilter{Limit: 2})
	require.NoError(t, err)
	require.Len(t, all, 2)
	rest, _, err := w.room.LogList(t.Context(), timber.LogFilter{After: next})
	require.NoError(t, err)
	require.Equal(t, len(open)+1, len(all)+len(rest), "pages leave nothing out")
	require.Less(t, rest[0].ID, all[1].ID)
}
