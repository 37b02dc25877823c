package workshop_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// hours sets Monday to Friday, 8:00 to 12:00.
func (w *world) hours() {
	w.t.Helper()
	week := workshop.Week{FromOn: day("2026-01-01")}
	for d := 1; d <= 5; d++ {
		week.Hours = append(week.Hours, workshop.Hours{Weekday: d, StartMinute: 480, EndMinute: 720, Hands: 1})
	}
	require.NoError(w.t, w.room.WeekSet(w.t.Context(), week))
}

// brisbane is a time on a day there.
func brisbane(date string, hour, minute int) time.Time {
	return day(date).Add(time.Duration(hour-10)*time.Hour + time.Duration(minute)*time.Minute)
}

func TestBenchFitsAroundHoursAndDaysAway(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	_, err := w.room.AwayAdd(t.Context(), workshop.Away{FromOn: day("2026-03-03"), ToOn: day("2026-03-04"), Why: "market"})
	require.NoError(t, err)
	fit := func(b *workshop.Bench, minutes, wait float64, from string, hold bool) workshop.BenchTime {
		t.Helper()
		got, err := b.Fit(minutes, wait, day(from), hold)
		require.NoError(t, err)
		return got
	}
	b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
	const source = "by hand: work from 8 to 12 on weekdays, away on Tuesday and Wednesday"
	got := fit(b, 60, 0, "2026-03-01", false)
	require.Equal(t, []time.Time{brisbane("2026-03-02", 8, 0), brisbane("2026-03-02", 9, 0), day("2026-03-02")}, []time.Time{got.StartsAt, got.EndsAt, got.On}, source)
	got = fit(b, 300, 0, "2026-03-01", true)
	require.Equal(t, brisbane("2026-03-05", 9, 0), got.EndsAt, source+"; four hours on Monday, one on Thursday")
	got = fit(b, 60, 24*60, "2026-03-01", false)
	require.Equal(t, []time.Time{brisbane("2026-03-05", 9, 0), day("2026-03-06")}, []time.Time{got.StartsAt, got.On}, source+"; behind what is held, and a day to wait")
	got = fit(b, 60, 0, "2026-03-10", false)
	require.Equal(t, brisbane("2026-03-10", 8, 0), got.StartsAt)
}

func TestPlanIsProposedAcceptedAndKept(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	_, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.True(t, fault.Is(err, fault.Conflict), "nothing to plan")
	// Each build takes 20 + n x 40 minutes; the one due sooner goes first.
	late := w.build(4, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-20")) }) // 180 minutes
	soon := w.build(2, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-03")) }) // 100 minutes
	p, err := w.room.PlanLay(t.Context(), "a new week", workshop.PlanChange{})
	require.NoError(t, err)
	require.Equal(t, 1, p.Number)
	require.Equal(t, soon.ID, p.Steps[0].BuildID)
	require.Equal(t, brisbane("2026-03-02", 8, 0), p.Steps[0].StartsAt)
	require.Zero(t, p.LateMinutes)
	_, err = w.room.PlanCurrent(t.Context())
	require.True(t, fault.Is(err, fault.NotFound), "proposed is not in force")
	p, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	_, err = w.room.PlanTurnDown(t.Context(), p.ID)
	require.True(t, fault.Is(err, fault.Conflict))

	// The bench: 280 minutes are taken. A build that came later stands behind the plan.
	b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
	before, err := b.Fit(60, 0, day("2026-03-02"), false)
	require.NoError(t, err)
	w.build(1) // 60 minutes for the shelf
	b, err = w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
	after, err := b.Fit(60, 0, day("2026-03-02"), false)
	require.NoError(t, err)
	require.True(t, after.EndsAt.After(before.EndsAt), "%v %v", before, after)

	// Now the later one becomes urgent: what begins within two days stays, unless it is
	// told to move by the maker.
	_, err = w.room.BuildSave(t.Context(), workshop.BuildChange{ID: late.ID, Version: late.Version, DueOn: ptr(day("2026-03-02"))})
	require.NoError(t, err)
	again, err := w.room.PlanLay(t.Context(), "urgent", workshop.PlanChange{})
	require.NoError(t, err)
	require.Equal(t, 2, again.Number)
	require.Equal(t, soon.ID, again.Steps[0].BuildID, "design.md section 4, Plan: the next days do not move by themselves")
	current, err := w.room.PlanCurrent(t.Context())
	require.NoError(t, err)
	require.Equal(t, p.ID, current.ID, "laid anew on purpose, in force only when accepted")
	third, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), third.ID)
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), again.ID)
	require.True(t, fault.Is(err, fault.Conflict), "older than the one in force")
	list, err := w.room.PlanList(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 3)
	require.Zero(t, w.id(`SELECT count(*) FROM promise_change`), "design.md section 4, Plan: no plan writes promised dates")
}

// A build whose operations are all done has nothing for the bench to plan, and keeps
// nothing else from being planned (planning refuses jobs of no minutes).
func TestPlanPassesOverBuildsWithoutWork(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	done, open := w.build(1), w.build(2)
	for _, op := range done.Operations {
		_, err := w.room.OperationDone(t.Context(), op.ID, true, w.now)
		require.NoError(t, err)
	}
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.NotEmpty(t, p.Steps)
	for _, s := range p.Steps {
		require.Equal(t, open.ID, s.BuildID)
	}
	_, err = w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
}

func TestWeekAndAway(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	none, err := w.room.WeekAt(t.Context(), day("2026-03-02"))
	require.NoError(t, err)
	require.Empty(t, none.Hours)
	w.hours()
	require.NoError(t, w.room.WeekSet(t.Context(), workshop.Week{FromOn: day("2026-06-01"), Hours: []workshop.Hours{{6, 480, 600, 2}}}))
	for date, want := range map[string]int{"2026-05-31": 5, "2026-06-01": 1} {
		week, err := w.room.WeekAt(t.Context(), day(date))
		require.NoError(t, err)
		require.Len(t, week.Hours, want, date)
	}
	tests := []struct {
		name, pointer string
		hours         []workshop.Hours
	}{
		{"no hours", "/hours", nil},
		{"an eighth day", "/hours/0/weekday", []workshop.Hours{{7, 480, 600, 1}}},
		{"backwards", "/hours/0/end_minute", []workshop.Hours{{1, 600, 480, 1}}},
		{"past midnight", "/hours/0/end_minute", []workshop.Hours{{1, 600, 1500, 1}}},
		{"overlapping", "/hours/1/start_minute", []workshop.Hours{{1, 480, 600, 1}, {1, 590, 700, 1}}},
		{"nobody", "/hours/0/hands", []workshop.Hours{{1, 480, 600, 0}}},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			requireField(t, w.room.WeekSet(t.Context(), workshop.Week{FromOn: day("2026-07-01"), Hours: tc.hours}), fault.Invalid, tc.pointer)
		})
	}
	a, err := w.room.AwayAdd(t.Context(), workshop.Away{FromOn: day("2026-03-10"), ToOn: day("2026-03-12")})
	require.NoError(t, err)
	_, err = w.room.AwayAdd(t.Context(), workshop.Away{FromOn: day("2026-03-10"), ToOn: day("2026-03-09")})
	requireField(t, err, fault.Invalid, "/to_on")
	list, err := w.room.AwayList(t.Context(), day("2026-03-12"))
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.NoError(t, w.room.AwayRemove(t.Context(), a.ID))
	require.True(t, fault.Is(w.room.AwayRemove(t.Context(), a.ID), fault.NotFound))
}

// A build that should be done by the plan and is not still has its hours before it.
func TestBenchCountsWhatIsOverdue(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	w.build(4) // 180 minutes
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	w.now = w.now.AddDate(0, 0, 7) // the Monday after, nothing done
	b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
	got, err := b.Fit(90, 0, day("2026-03-09"), false)
	require.NoError(t, err)
	// 60 minutes of cutting, 120 of gluing with a night's wait behind it: free from 11.
	require.Equal(t, brisbane("2026-03-10", 8, 30), got.EndsAt, "by hand: 180 of Monday's 240 minutes are taken, 60 and 30 are left for it")
}
