package workshop_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/workshop"
)

// finished builds boxes whose cutting and gluing took so many minutes, measured, or written
// down as one whole day.
func (w *world) finished(n int, at time.Time, cut, glue int, whole bool) workshop.Build {
	w.t.Helper()
	b := w.build(n)
	w.now = at.Add(12 * time.Hour)
	if whole {
		_, err := w.room.EveningPut(w.t.Context(), w.owner, workshop.EveningNote{On: day(at.Add(10 * time.Hour).Format(time.DateOnly)), Minutes: cut + glue, DoneIDs: []int64{b.Operations[0].ID, b.Operations[1].ID}})
		require.NoError(w.t, err)
	} else {
		for i, minutes := range []int{cut, glue} {
			_, err := w.room.SpellAdd(w.t.Context(), b.Operations[i].ID, w.owner, at, at.Add(time.Duration(minutes)*time.Minute))
			require.NoError(w.t, err)
			at = at.Add(time.Duration(minutes) * time.Minute)
		}
	}
	_, err := w.db.Exec(w.t.Context(), `UPDATE build_operation SET done_at = $2 WHERE build_id = $1; `, b.ID, w.now)
	require.NoError(w.t, err)
	_, err = w.db.Exec(w.t.Context(), `UPDATE build SET finished_at = $2 WHERE id = $1`, b.ID, w.now)
	require.NoError(w.t, err)
	return b
}

// A maker who cuts in 80 minutes what stands at 40, and glues in 60 what stands at 60, and
// writes whole days down: 140 on 100 minutes is all that is known. One who taps the same
// work teaches each operation.
func TestWholeDaysTeachTheirTotal(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for i := range 4 {
		w.finished(2, monday.AddDate(0, 0, i-20), 80, 60, true)
	}
	list, err := w.room.ModelLearnt(t.Context(), w.model.ID)
	require.NoError(t, err)
	require.Len(t, list, 2)
	for _, x := range list {
		require.Zero(t, x.Builds)
		require.Equal(t, 4, x.FromDays)
		// By hand: 140 less 20 of set-up on 80 is 1.5 times; (4 x 1.5 + 1) / 5 is 1.4.
		ratio, _ := x.BetterMin.Div(x.StandardMin).Float64()
		require.InDelta(t, 1.4, ratio, 1e-9, x.Operation)
		require.True(t, x.Worth)
	}
	for i := range 4 {
		w.finished(2, monday.AddDate(0, 0, i-10), 80, 60, false)
	}
	list, err = w.room.ModelLearnt(t.Context(), w.model.ID)
	require.NoError(t, err)
	// By hand, 4 builds of 30 and 30 minutes a piece, and the standard once: (4 x 30 + 10) / 5.
	require.Equal(t, []string{"26", "30"}, []string{list[0].BetterMin.String(), list[1].BetterMin.String()})
	require.Equal(t, []int{4, 0}, []int{list[0].Builds, list[0].FromDays}, "what is measured counts before whole days")
	require.False(t, list[1].Worth)

	// A share that the maker mends is measured from then on.
	e, err := w.room.EveningGet(t.Context(), w.owner, day("2026-02-10"))
	require.NoError(t, err)
	require.NotEmpty(t, e.Spells)
	const split = `SELECT count(*) FROM time_spell WHERE split_on IS NOT NULL`
	require.EqualValues(t, 8, w.id(split))
	_, err = w.room.SpellMend(t.Context(), e.Spells[0].ID, w.owner, e.Spells[0].StartedAt, e.Spells[0].StartedAt.Add(time.Hour))
	require.NoError(t, err)
	require.EqualValues(t, 7, w.id(split))
}

// What was learnt and taken over counts once: before it the bench reckons with longer work
// than the standard, afterwards the standard is longer and the work is as it says. A build
// that is open and froze the old minutes is planned with the new ones all the same.
func TestTakingOverCountsOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(10_000)
	for i := range 9 {
		w.finished(2, monday.AddDate(0, 0, i-20), 100, 150, false) // standards 40 and 60
	}
	w.now = monday
	w.build(2)
	minutes := func() (planned, expected float64) {
		list, err := w.bench().Jobs()
		require.NoError(t, err)
		for _, s := range list[0].Spans {
			planned += s.EndsAt.Sub(s.StartsAt).Minutes()
		}
		return planned, planned * w.bench().Luck().Middle()
	}
	planned, before := minutes()
	require.Equal(t, 100.0, planned)
	require.InDelta(t, 250, before, 50, "the truth, drawn a little towards the standard")
	require.Greater(t, w.bench().Luck().Middle(), 1.9)
	_, err := w.room.LearntTake(t.Context(), w.model.ID, []string{"cut", "glue"})
	require.NoError(t, err)
	planned, after := minutes()
	require.Greater(t, planned, 200.0)
	require.InDelta(t, 250, after, 30, "counted twice it would be near 500")
	require.InDelta(t, 1, w.bench().Luck().Middle(), 0.1)

	// Another drawing is other work: it keeps its own figures, and theirs are left alone.
	other := body()
	other.Sections[1].HeightMM = 120
	other.Parts[1].BoardSize.WidthMM = 120
	other.Operations[0].PieceMinutes = 99
	_, err = w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: other, Reason: "higher"})
	require.NoError(t, err)
	same, _ := minutes()
	require.Equal(t, planned, same)
}
