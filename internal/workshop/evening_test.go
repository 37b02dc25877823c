package workshop_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// A day of 200 minutes over steps of 40 and 60 standard minutes: 80 and 120, by hand.
func TestEveningSplitsTheDay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.build(2) // cut 20 + 2 x 10 = 40, glue 2 x 30 = 60
	cut, glue := b.Operations[0].ID, b.Operations[1].ID
	w.now = monday.Add(9 * time.Hour) // 16:30 on Monday
	on := day("2026-03-02")
	e, err := w.room.EveningPut(t.Context(), w.owner, workshop.EveningNote{On: on, Minutes: 200, DoneIDs: []int64{cut}, WorkedID: []int64{glue}})
	require.NoError(t, err)
	require.Len(t, e.Spells, 2)
	require.Equal(t, 200.0, e.TappedMin)
	require.Equal(t, 80.0, e.Spells[0].StoppedAt.Sub(e.Spells[0].StartedAt).Minutes())
	require.Equal(t, 120.0, e.Spells[1].StoppedAt.Sub(e.Spells[1].StartedAt).Minutes())
	require.Equal(t, monday.Add(30*time.Minute), e.Spells[0].StartedAt.UTC(), "from eight, the beginning of the hours")
	got, err := w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.NotNil(t, got.Operations[0].DoneAt)
	require.Nil(t, got.Operations[1].DoneAt)
	_, err = w.room.EveningPut(t.Context(), w.owner, workshop.EveningNote{On: on, Minutes: 100, DoneIDs: []int64{glue}})
	requireField(t, err, fault.Invalid, "/minutes")
	e, err = w.room.EveningPut(t.Context(), w.owner, workshop.EveningNote{On: on, Minutes: 200, DoneIDs: []int64{glue}})
	require.NoError(t, err, "tapped time stays, nothing is split again")
	require.Equal(t, 200.0, e.TappedMin)

	for _, c := range []struct {
		name, pointer string
		note          workshop.EveningNote
	}{
		{"nothing ticked", "/done", workshop.EveningNote{On: on, Minutes: 60}},
		{"no such operation", "/done", workshop.EveningNote{On: on, Minutes: 60, DoneIDs: []int64{999}}},
		{"twice", "/worked", workshop.EveningNote{On: on, Minutes: 60, DoneIDs: []int64{glue}, WorkedID: []int64{glue}}},
		{"a day of 17 hours", "/minutes", workshop.EveningNote{On: on, Minutes: 1020, DoneIDs: []int64{glue}}},
		{"tomorrow", "/on", workshop.EveningNote{On: day("2026-03-03"), Minutes: 60, DoneIDs: []int64{glue}}},
	} {
		_, err := w.room.EveningPut(t.Context(), w.owner, c.note)
		requireField(t, err, fault.Invalid, c.pointer)
	}
	s := e.Spells[0]
	_, err = w.room.SpellMend(t.Context(), s.ID, w.helper, s.StartedAt, s.StartedAt.Add(time.Hour))
	require.True(t, fault.Is(err, fault.NotFound), "somebody else's")
	s, err = w.room.SpellMend(t.Context(), s.ID, w.owner, s.StartedAt, s.StartedAt.Add(time.Hour))
	require.NoError(t, err)
	require.Equal(t, time.Hour, s.StoppedAt.Sub(s.StartedAt))
	_, err = w.room.SpellMend(t.Context(), s.ID, w.owner, s.StartedAt, s.StartedAt)
	requireField(t, err, fault.Invalid, "/stopped_at")
	require.NoError(t, w.room.SpellStrike(t.Context(), s.ID, w.owner))
	require.True(t, fault.Is(w.room.SpellStrike(t.Context(), s.ID, w.owner), fault.NotFound))
}

func TestSplitMinutesIsWhole(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(5, 7))
	for range 2000 {
		steps := make([]workshop.EveningStep, 1+rnd.IntN(9))
		all := 0.0
		for i := range steps {
			steps[i].StandardMin = float64(rnd.IntN(300))
			all += max(1, steps[i].StandardMin)
		}
		total := len(steps) + rnd.IntN(960)
		sum := 0
		for i, m := range workshop.SplitMinutes(total, steps) {
			require.Positive(t, m)
			exact := 1 + float64(total-len(steps))*max(1, steps[i].StandardMin)/all
			require.InDelta(t, exact, float64(m), 1.0001)
			sum += m
		}
		require.Equal(t, total, sum)
	}
}

func TestForgottenTimeIsAskedAbout(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b := w.build(2)
	asked := func() []workshop.Forgotten {
		list, err := w.room.SpellsForgotten(t.Context(), w.owner)
		require.NoError(t, err)
		return list
	}
	_, err := w.room.SpellStart(t.Context(), b.Operations[0].ID, w.owner, w.now.Add(100*time.Minute-time.Hour)) // not yet
	require.Error(t, err)
	w.now = monday.Add(6 * time.Hour) // 13:30
	_, err = w.room.SpellStart(t.Context(), b.Operations[0].ID, w.owner, w.now)
	require.NoError(t, err)
	w.now = monday.Add(9 * time.Hour) // 16:30; the hours end at 16:00, half an hour is let pass
	require.Empty(t, asked())
	w.now = w.now.Add(time.Minute)
	list := asked()
	require.Len(t, list, 1)
	words := []string{}
	for _, s := range list[0].Stops {
		words = append(words, s.Words)
		require.True(t, s.At.After(list[0].StartedAt) && !s.At.After(w.now))
	}
	require.Equal(t, []string{"at 16:00", "at 14:10, its standard time", "just now"}, words)
	w.now = monday.Add(30 * time.Hour) // the next day: longer than a day at the bench can be
	list = asked()
	require.Len(t, list[0].Stops, 2, "just now is no answer any more")
	e, err := w.room.EveningGet(t.Context(), w.owner, day("2026-03-02"))
	require.NoError(t, err)
	require.Zero(t, e.TappedMin, "the night is not work")
	_, err = w.room.SpellStop(t.Context(), w.owner, list[0].Stops[0].At)
	require.NoError(t, err)
	require.Empty(t, asked())
}

// One build gone wrong must not move the minutes much; a steady difference must come
// through. Against the mean, which the same outlier throws far off.
func TestRobustMinutes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name           string
		real           []float64
		standard       float64
		median, better float64
	}{
		{"no build", nil, 11, 11, 11},
		{"one build counts half", []float64{14}, 11, 14, 12.5},
		{"six steady builds, by hand (6 x 14 + 11) / 7", []float64{14, 13, 15, 14, 14, 13.5}, 11, 14, 95.0 / 7},
		{"one of them lost a day", []float64{14, 13, 15, 14, 480, 13.5}, 11, 14, 95.0 / 7},
		{"even number", []float64{10, 20}, 15, 15, 15},
	} {
		t.Run(c.name, func(t *testing.T) {
			median, better := workshop.RobustMinutes(c.real, c.standard)
			require.InDelta(t, c.median, median, 1e-9)
			require.InDelta(t, c.better, better, 1e-9)
		})
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		real := make([]float64, 5+rnd.IntN(7))
		for i := range real {
			real[i] = 8 + 4*rnd.Float64()
		}
		_, calm := workshop.RobustMinutes(real, 10)
		real[rnd.IntN(len(real))] = 1e4 * rnd.Float64()
		_, wild := workshop.RobustMinutes(real, 10)
		require.Less(t, max(calm-wild, wild-calm), 4.0, "no further than the others lie apart")
	}
}

// Three builds whose gluing took 45 minutes a piece in place of 30: a new revision with
// (3 x 45 + 30) / 4 = 41.3, by hand; the fourth, which went wrong, hardly moves it.
func TestModelLearnsFromItsBuilds(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.haveScrews(1000)
	for i, minutes := range []int{90, 90, 90} { // of two pieces
		b := w.build(2)
		from := monday.Add(time.Duration(i)*24*time.Hour - 200*time.Hour)
		_, err := w.room.SpellAdd(t.Context(), b.Operations[1].ID, w.owner, from, from.Add(time.Duration(minutes)*time.Minute))
		require.NoError(t, err)
		_, err = w.db.Exec(t.Context(), `UPDATE build SET finished_at = $2 WHERE id = $1`, b.ID, from.Add(3*time.Hour))
		require.NoError(t, err)
		list, err := w.room.ModelLearnt(t.Context(), w.model.ID)
		require.NoError(t, err)
		require.Equal(t, i == 2, list[0].Worth)
	}
	_, err := w.room.LearntTake(t.Context(), w.model.ID, []string{"cut"})
	requireField(t, err, fault.Invalid, "/operations/0")
	_, err = w.room.LearntTake(t.Context(), w.model.ID, nil)
	requireField(t, err, fault.Invalid, "/operations")
	rev, err := w.room.LearntTake(t.Context(), w.model.ID, []string{"glue"})
	require.NoError(t, err)
	require.Equal(t, 2, rev.Revision)
	require.Equal(t, "Learnt: glue 41.3 minutes a piece instead of 30 (3 builds)", rev.Reason)
	want := body().Operations
	want[1].PieceMinutes = 41.3
	require.Equal(t, []hive.Operation{want[0], want[1]}, rev.Body.Operations, "nothing else has changed")
	old, err := w.room.RevisionGet(t.Context(), w.rev.ID)
	require.NoError(t, err)
	require.Equal(t, 30.0, old.Body.Operations[1].PieceMinutes)
	list, err := w.room.ModelLearnt(t.Context(), w.model.ID)
	require.NoError(t, err)
	require.False(t, list[0].Worth, "taken over already")
}
