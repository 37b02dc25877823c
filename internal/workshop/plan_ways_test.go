package workshop_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// slip gives how a build slips, and its way out of a kind.
func (w *world) slip(build int64, kind string) (workshop.Slip, workshop.Way) {
	w.t.Helper()
	slips, err := w.room.Slips(w.t.Context())
	require.NoError(w.t, err)
	for _, s := range slips {
		if s.BuildID != build {
			continue
		}
		for _, way := range s.Ways {
			if way.Kind == kind {
				return s, way
			}
		}
		require.Fail(w.t, "no such way", "%s: %+v", kind, s.Ways)
	}
	require.Fail(w.t, "it does not slip")
	return workshop.Slip{}, workshop.Way{}
}

// Ways out of a slip, each of them gone: by hand, 8 to 12 on weekdays; a build of n takes
// 20 + 10 n minutes of cutting and 30 n of gluing.
func TestMoreHoursDoWhatTheySay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	b := w.build(18, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-04")) }) // 740 of 720 minutes
	w.layAccept()
	s, way := w.slip(b.ID, workshop.WayHours)
	require.Equal(t, 1, s.LateDays)
	require.EqualValues(t, 60, way.Minutes, "20 minutes are missing; it goes by the hour")
	require.Equal(t, "Work 1 h more by "+show.Date(day("2026-03-04"))+": done on "+show.Date(day("2026-03-04"))+" then.", way.Text)
	week := workshop.Week{FromOn: day("2026-03-02")}
	for d := 1; d <= 3; d++ {
		week.Hours = append(week.Hours, workshop.Hours{Weekday: d, StartMinute: 480, EndMinute: 720 + int(way.Minutes)/3, Hands: 1})
	}
	require.NoError(t, w.room.WeekSet(t.Context(), week))
	w.layAccept()
	require.Zero(t, w.jobs()[b.ID].LateDays)
	require.Equal(t, day("2026-03-04"), w.jobs()[b.ID].EndsOn)
	// A minute less than the twenty that are missing and it would not do.
	week.Hours[2].EndMinute = 720
	week.Hours[1].EndMinute = 720
	week.Hours[0].EndMinute = 720 + 19
	require.NoError(t, w.room.WeekSet(t.Context(), week))
	w.layAccept()
	require.Equal(t, 5, w.jobs()[b.ID].LateDays, "one minute is left for the next Monday, the 9th")
}

func TestGoingBeforeDoesWhatItSays(t *testing.T) {
	t.Parallel()
	w, list := planned(t)
	b := list[1]
	b, err := w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	_, err = w.room.BuildSave(t.Context(), workshop.BuildChange{ID: b.ID, Version: b.Version, DueOn: ptr(day("2026-03-02"))})
	require.NoError(t, err)
	s, way := w.slip(b.ID, workshop.WayBefore)
	require.Equal(t, 1, s.LateDays)
	require.NotNil(t, way.Change)
	require.Equal(t, workshop.PlanChange{BuildID: b.ID, HoldTo: ptr(day("2026-03-02"))}, *way.Change)
	require.Contains(t, way.Text, "Do it before build "+list[0].Number)
	require.Contains(t, way.Text, "it is done on "+show.Date(day("2026-03-02")))
	p, err := w.room.PlanLay(t.Context(), "", *way.Change)
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	jobs := w.jobs()
	require.Equal(t, day("2026-03-02"), jobs[b.ID].EndsOn)
	for _, o := range list {
		require.Zero(t, jobs[o.ID].LateDays, "the others are in time")
	}
}

func TestSplittingOffDoesWhatItSays(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	due := func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-02")) }
	b := w.build(10, due, func(n *workshop.BuildNew) { n.Units = []int64{w.unit} }) // 420 of 240 minutes
	w.layAccept()
	s, way := w.slip(b.ID, workshop.WaySplit)
	require.Equal(t, 1, s.LateDays)
	require.Equal(t, fmt.Sprintf("Make the 1 that are ordered first and the 9 for the shelf later: saves 6 h, done on %s.", show.Date(day("2026-03-02"))), way.Text)
	b, err := w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	_, err = w.room.BuildCancel(t.Context(), b.ID, b.Version, "split")
	require.NoError(t, err)
	one, rest := w.build(1, due, func(n *workshop.BuildNew) { n.Units = []int64{w.unit} }), w.build(9)
	w.layAccept()
	jobs := w.jobs()
	require.Equal(t, day("2026-03-02"), jobs[one.ID].EndsOn)
	require.Zero(t, jobs[one.ID].LateDays)
	minutes := func(id int64) (sum time.Duration) {
		for _, z := range jobs[id].Spans {
			sum += z.EndsAt.Sub(z.StartsAt)
		}
		return sum
	}
	require.Equal(t, time.Hour, minutes(one.ID), "by hand: 420 less 6 hours")
	require.Contains(t, jobs, rest.ID)
}

func TestOtherBoardsDoWhatTheySay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	b := w.build(2, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-06")) })
	pack := w.id(`INSERT INTO pack (number, species_id, board_size_id, stacked_on, ready_on, ready_on_p80) SELECT 'K1', $1, min(id), '2026-01-01', '2026-03-10', '2026-03-16' FROM board_size RETURNING id`, w.species.ID)
	claim := w.id(`INSERT INTO claim (build_id, pack_id, strength) VALUES ($1, $2, 'meant') RETURNING id`, b.ID, pack)
	w.layAccept()
	s, way := w.slip(b.ID, workshop.WayBoards)
	require.Equal(t, 10, s.LateDays, "dry on the 16th, due on the 6th")
	require.Contains(t, strings.Join(s.Causes, " "), "timber is dry on")
	require.Equal(t, "Buy or dress boards instead of waiting for the pack: done on "+show.Date(day("2026-03-02"))+" if they are there now.", way.Text)
	w.id(`UPDATE claim SET ended_at = now(), ended_how = 'freed' WHERE id = $1 RETURNING id`, claim)
	w.layAccept()
	require.Equal(t, day("2026-03-02"), w.jobs()[b.ID].EndsOn)
	require.Zero(t, w.jobs()[b.ID].LateDays)
}
