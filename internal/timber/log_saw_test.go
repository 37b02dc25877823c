package timber_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
)

func (w *world) log() timber.Log {
	w.t.Helper()
	g, err := w.room.LogSave(w.t.Context(), timber.Log{SpeciesID: w.species.ID, SmallEndMM: d("380"), LargeEndMM: d("430"), LengthMM: d("3600"), CostMinor: 20_000, HaulageMinor: 5_001}, false)
	require.NoError(w.t, err)
	return g
}

func greenBoards(w, t string, length, count int) timber.SawnBoards {
	return timber.SawnBoards{WidthMM: d(w), ThicknessMM: d(t), LengthMM: length, Count: count}
}

func TestSawingDay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	set, err := house.New(w.db).SettingsGet(t.Context())
	require.NoError(t, err)
	set.MillHourCostMinor = 6000
	_, err = house.New(w.db).SettingsPut(t.Context(), set)
	require.NoError(t, err)
	g := w.log()
	expected := &timber.LogExpected{LogM3: 0.465, M3: 0.1, Ratio: 1, Sizes: []timber.ExpectedSize{{WidthMM: 100, ThicknessMM: 28, GreenWidthMM: 110, GreenThicknessMM: 32, Boards: 7, TotalMM: 25_200}}}
	at := now.Add(-3 * time.Hour)
	saw := timber.Sawing{At: at, Minutes: 95, Place: "lean-to", Expected: expected, Boards: []timber.SawnBoards{greenBoards("110", "32", 3600, 5), greenBoards("205", "50", 3600, 1), greenBoards("110", "32", 1800, 2)}}

	for name, tc := range map[string]struct {
		pointer, says string
		change        func(*timber.Sawing)
	}{
		"no count":          {"/boards/0/count", "between 1", func(s *timber.Sawing) { s.Boards = []timber.SawnBoards{greenBoards("110", "32", 3600, 0)} }},
		"thicker than wide": {"/boards/0/thickness_mm", "other way round", func(s *timber.Sawing) { s.Boards = []timber.SawnBoards{greenBoards("32", "110", 3600, 1)} }},
		"twice the same": {"/boards/1/length_mm", "twice", func(s *timber.Sawing) {
			s.Boards = []timber.SawnBoards{greenBoards("110", "32", 3600, 1), greenBoards("110", "32", 3600, 1)}
		}},
		"more than the log":         {"/boards", "hold", func(s *timber.Sawing) { s.Boards = []timber.SawnBoards{greenBoards("110", "32", 3600, 60)} }},
		"longer than the log":       {"/boards", "longer", func(s *timber.Sawing) { s.Boards = []timber.SawnBoards{greenBoards("110", "32", 3800, 1)} }},
		"a day that is still ahead": {"/sawn_at", "", func(s *timber.Sawing) { s.At = now.Add(time.Hour) }},
	} {
		bad := saw
		tc.change(&bad)
		_, _, err := w.room.LogSaw(t.Context(), g.ID, g.Version, bad)
		requireField(t, err, fault.Invalid, tc.pointer)
		require.ErrorContains(t, err, tc.says, name)
	}
	_, _, err = w.room.LogSaw(t.Context(), g.ID, g.Version+1, saw)
	require.True(t, fault.Is(err, fault.Stale), "%v", err)

	out, packs, err := w.room.LogSaw(t.Context(), g.ID, g.Version, saw)
	require.NoError(t, err)
	require.Len(t, packs, 2, "one for each green size")
	require.Equal(t, 7, packs[0].Boards)
	require.Equal(t, g.ID, *packs[0].LogID)
	require.Equal(t, "2026-03-03", packs[0].StackedOn.Format(time.DateOnly), "the day in Brisbane")
	// 95 minutes at 60.00 an hour are 95.00; with 200.00 and 50.01 together 345.01.
	// Volumes in mm3: 110 x 32 x (5 x 3600 + 2 x 1800) = 76 032 000; 205 x 50 x 3600 = 36 900 000.
	require.Equal(t, int64(9_500), out.SawingMinor)
	require.Equal(t, int64(23_228), packs[0].CostMinor, "34501 x 76032/112932 = 23227.9")
	require.Equal(t, int64(34_501), packs[0].CostMinor+packs[1].CostMinor, "not a cent is lost")
	require.Equal(t, "0.112932", out.RealM3.String())
	require.Equal(t, expected, out.Expected)
	list, err := w.room.LogBoards(t.Context(), g.ID)
	require.NoError(t, err)
	require.Len(t, list, 3)
	require.Equal(t, packs[0].Number, list[0].PackNumber)
	_, _, err = w.room.LogSaw(t.Context(), g.ID, out.Version, saw)
	require.True(t, fault.Is(err, fault.Conflict))

	// The haulier's bill comes later: the packs carry it.
	out.HaulageMinor += 1_000
	out, err = w.room.LogSave(t.Context(), out, false)
	require.NoError(t, err)
	require.Equal(t, expected, out.Expected, "what was expected stays")
	first, err := w.room.PackGet(t.Context(), packs[0].ID)
	require.NoError(t, err)
	require.Equal(t, int64(23_901), first.CostMinor, "35501 x 76032/112932 = 23901.2")
}

// A log that was noted as sawn without its boards gets them later.
func TestSawnFirstCountedLater(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	g := w.log()
	g, err := w.room.LogSawn(t.Context(), g.ID, g.Version, now.Add(-48*time.Hour), 120)
	require.NoError(t, err)
	out, packs, err := w.room.LogSaw(t.Context(), g.ID, g.Version, timber.Sawing{At: now, Boards: []timber.SawnBoards{greenBoards("110", "32", 3600, 5)}})
	require.NoError(t, err)
	require.Equal(t, g.SawnAt, out.SawnAt)
	require.Equal(t, 120, *out.SawnMin)
	require.Equal(t, g.CostMinor+g.HaulageMinor+8_000, packs[0].CostMinor, "two hours at 40.00")
}

func TestYieldsOfLogs(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	set, err := house.New(w.db).SettingsGet(t.Context())
	require.NoError(t, err)
	y, err := w.room.LogYields(t.Context(), w.species.ID)
	require.NoError(t, err)
	require.Equal(t, timber.Yields{Ratio: 1}, y)
	// Five boards of 110 x 32 x 3600 are 0.06336 m3; drawn so that real to drawn is the ratio.
	for i, tc := range []struct {
		ratio  float64
		middle float64
		min    int
	}{{0.9, 1, 100}, {0.2, 1, 140}, {0.8, 0.8, 120}} {
		g := w.log()
		_, _, err := w.room.LogSaw(t.Context(), g.ID, g.Version, timber.Sawing{At: now, Minutes: tc.min, Expected: &timber.LogExpected{M3: 0.06336 / tc.ratio, LogM3: 0.4}, Boards: []timber.SawnBoards{greenBoards("110", "32", 3600, 5)}})
		require.NoError(t, err)
		y, err = w.room.LogYields(t.Context(), w.species.ID)
		require.NoError(t, err)
		require.Equal(t, i+1, y.Logs)
		require.InDelta(t, tc.middle, y.Believed(), 1e-4, "believed from three logs on; one bad log does not move the middle")
	}
	list, err := w.room.YieldList(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, 3, list[0].Logs)
	minM3, logs, err := w.room.MillMinutes(t.Context(), set)
	require.NoError(t, err)
	require.Equal(t, 3, logs)
	require.InDelta(t, 120/w.log().VolumeM3(), minM3, 1e-6)
}

func TestLogWish(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	g := w.log()
	wish := &timber.LogWish{HeartBoxMM: 60, ShortestMM: 1200, Sizes: []timber.WishSize{{WidthMM: 100, ThicknessMM: 28, ValueMinor: ptr(int64(410))}}}
	g2, err := w.room.LogWish(t.Context(), g.ID, g.Version, wish)
	require.NoError(t, err)
	require.Equal(t, wish, g2.Wish)
	_, err = w.room.LogWish(t.Context(), g.ID, g.Version, nil)
	require.True(t, fault.Is(err, fault.Stale))
	_, err = w.room.LogWish(t.Context(), g.ID, g2.Version, &timber.LogWish{Sizes: []timber.WishSize{{WidthMM: 28, ThicknessMM: 100}}})
	requireField(t, err, fault.Invalid, "/sizes/0/thickness_mm")
	_, err = w.room.LogWish(t.Context(), g.ID, g2.Version, &timber.LogWish{Sizes: []timber.WishSize{{WidthMM: 100, ThicknessMM: 28}, {WidthMM: 100, ThicknessMM: 28}}})
	requireField(t, err, fault.Invalid, "/sizes/1/width_mm")
}

func TestLogByGirth(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	g := timber.Log{SpeciesID: w.species.ID, SmallEndMM: d("1257"), LargeEndMM: d("1414"), LengthMM: d("3600"), Girths: true}
	out, err := w.room.LogSave(t.Context(), g, false)
	require.NoError(t, err)
	require.Equal(t, "400.1", out.SmallEndMM.String(), "1257/pi = 400.12")
	require.Equal(t, "450.1", out.LargeEndMM.String(), "1414/pi = 450.09")
	g.SmallEndMM, g.LargeEndMM = d("350"), d("380")
	_, err = w.room.LogSave(t.Context(), g, false)
	requireField(t, err, fault.Invalid, "/small_end_mm")
	require.ErrorContains(t, err, "Is it the diameter?")
	_, err = w.room.LogSave(t.Context(), g, true)
	require.NoError(t, err)
}
