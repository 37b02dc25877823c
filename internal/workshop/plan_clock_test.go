package workshop_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/house"
	"kerfbook/internal/workshop"
)

// moveTo puts the workshop into a zone, at a time of its wall clock.
func (w *world) moveTo(zone, now string) *time.Location {
	w.t.Helper()
	loc, err := time.LoadLocation(zone)
	require.NoError(w.t, err)
	w.now, err = time.ParseInLocation("2006-01-02 15:04", now, loc)
	require.NoError(w.t, err)
	set, err := house.New(w.db).SettingsGet(w.t.Context())
	require.NoError(w.t, err)
	set.TimeZone = zone
	_, err = house.New(w.db).SettingsPut(w.t.Context(), set)
	require.NoError(w.t, err)
	return loc
}

// weekly sets the same hours on some weekdays.
func (w *world) weekly(days []int, hours ...[2]int) {
	w.t.Helper()
	week := workshop.Week{FromOn: day("2020-01-01")}
	for _, d := range days {
		for _, h := range hours {
			week.Hours = append(week.Hours, workshop.Hours{Weekday: d, StartMinute: h[0], EndMinute: h[1], Hands: 1})
		}
	}
	require.NoError(w.t, w.room.WeekSet(w.t.Context(), week))
}

// On the night on which the clocks change the hours from 1 to 5 are three or five long,
// and the next day work begins at its hour by the wall clock. Source: dates of the
// changes in 2026 as in the IANA time zone data: Berlin 29 March and 25 October, Sydney 5
// April and 4 October, Auckland 5 April and 27 September.
func TestHoursOverAChangeOfTheClocks(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		zone, saturday string
		open           float64 // minutes of work between 1 and 5 on the Sunday
	}{
		{"Europe/Berlin", "2026-03-28", 180},
		{"Europe/Berlin", "2026-10-24", 300},
		{"Australia/Sydney", "2026-04-04", 300},
		{"Australia/Sydney", "2026-10-03", 180},
		{"Pacific/Auckland", "2026-04-04", 300},
		{"Pacific/Auckland", "2026-09-26", 180},
		{"Australia/Brisbane", "2026-10-03", 240},
	} {
		t.Run(tt.zone+" "+tt.saturday, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			loc := w.moveTo(tt.zone, tt.saturday+" 12:00")
			w.weekly([]int{0, 1, 2}, [2]int{60, 300})
			fit := func(minutes float64) string {
				b, err := w.room.Bench(t.Context(), loc)
				require.NoError(t, err)
				got, err := b.Fit(minutes, 0, day(tt.saturday), false)
				require.NoError(t, err)
				require.Equal(t, got.EndsAt.In(loc).Format(time.DateOnly), got.On.Format(time.DateOnly))
				return got.EndsAt.In(loc).Format("Mon 15:04")
			}
			require.Equal(t, "Sun 05:00", fit(tt.open))
			require.Equal(t, "Mon 01:01", fit(tt.open+1))
			require.Equal(t, "Mon 05:00", fit(tt.open+240))
			require.Equal(t, "Tue 01:30", fit(tt.open+270))

			// A plan, and the day by which its build is due: the end of the Sunday.
			w.haveScrews(1000)
			sunday := day(tt.saturday).AddDate(0, 0, 1)
			due := func(n *workshop.BuildNew) { n.DueOn = &sunday }
			b := w.build(int(tt.open-20)/40, due) // 20 + 40 a piece: just fits
			p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
			require.NoError(t, err)
			require.Equal(t, "Sun 01:00", p.Steps[0].StartsAt.In(loc).Format("Mon 15:04"))
			require.Zero(t, p.LateMinutes)
			jobs := w.benchJobs(loc)
			require.Equal(t, sunday, jobs[b.ID].EndsOn)
			require.Zero(t, jobs[b.ID].LateDays)
			bench, err := w.room.Bench(t.Context(), loc)
			require.NoError(t, err)
			days := bench.Days(nil, day(tt.saturday), 4)
			require.EqualValues(t, []int64{0, int64(tt.open), 240, 240}, []int64{days[0].OpenMin, days[1].OpenMin, days[2].OpenMin, days[3].OpenMin})
		})
	}
}

func (w *world) benchJobs(loc *time.Location) map[int64]workshop.BenchJob {
	w.t.Helper()
	b, err := w.room.Bench(w.t.Context(), loc)
	require.NoError(w.t, err)
	list, err := b.Jobs()
	require.NoError(w.t, err)
	out := map[int64]workshop.BenchJob{}
	for _, j := range list {
		out[j.BuildID] = j
	}
	return out
}

// Hours that touch the hour which the clocks leave out or go through twice never lie over
// one another, so the bench can still be laid.
func TestHoursInTheHourThatIsNot(t *testing.T) {
	t.Parallel()
	for _, zone := range []struct{ name, now string }{{"Australia/Sydney", "2026-10-03 12:00"}, {"Australia/Sydney", "2026-04-04 12:00"}, {"Europe/Berlin", "2026-03-28 12:00"}, {"Europe/Berlin", "2026-10-24 12:00"}} {
		for _, hours := range [][][2]int{{{60, 165}, {180, 240}}, {{60, 150}, {150, 300}}, {{125, 170}}, {{100, 121}, {122, 123}, {179, 190}}} {
			w := newWorld(t)
			loc := w.moveTo(zone.name, zone.now)
			w.weekly([]int{0, 1}, hours...)
			b, err := w.room.Bench(t.Context(), loc)
			require.NoError(t, err)
			sum := 0
			for _, h := range hours {
				sum += h[1] - h[0]
			}
			got, err := b.Fit(float64(sum+60+60), 0, day(zone.now[:10]), false)
			require.NoError(t, err, "%s %v", zone.name, hours)
			require.True(t, got.EndsAt.After(w.now))
			days := b.Days(nil, day(zone.now[:10]), 3)
			require.EqualValues(t, sum, days[2].OpenMin, "the Monday is as ever")
			require.LessOrEqual(t, days[1].OpenMin, int64(sum+60))
			require.GreaterOrEqual(t, days[1].OpenMin, int64(max(0, sum-60)))
		}
	}
}

// 29 February is a day like any other where there is one, and none where there is not.
func TestLeapDays(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ now, want string }{
		{"2028-02-28 12:00", "2028-02-29 09:00"},
		{"2027-02-28 12:00", "2027-03-01 09:00"},
		{"2026-12-31 12:00", "2027-01-01 09:00"},
		{"2100-02-28 12:00", "2100-03-01 09:00"}, // a hundredth year that is no leap year
	} {
		w := newWorld(t)
		loc := w.moveTo("Australia/Sydney", tt.now)
		w.weekly([]int{0, 1, 2, 3, 4, 5, 6}, [2]int{480, 720})
		b, err := w.room.Bench(t.Context(), loc)
		require.NoError(t, err)
		got, err := b.Fit(60, 0, day(tt.now[:10]), false)
		require.NoError(t, err)
		require.Equal(t, tt.want, got.EndsAt.In(loc).Format("2006-01-02 15:04"))
		sky, err := w.room.WeatherGet(t.Context())
		require.NoError(t, err)
		require.Greater(t, sky.DryChance(2), 0.5)
	}
}

// What can be done only in another age is named with the reason and not planned, neither
// laid anew nor under a plan that knew it; the others are.
func TestNothingIsPlannedIntoAnotherAge(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	far, near := w.build(1), w.build(1)
	first, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Empty(t, first.Left)
	_, err = w.room.PlanAccept(t.Context(), first.ID)
	require.NoError(t, err)
	pack := w.id(`INSERT INTO pack (number, species_id, board_size_id, stacked_on, ready_on, ready_on_p80) SELECT 'K1', $1, min(id), '2026-01-01', '2998-12-31', '3000-01-01' FROM board_size RETURNING id`, w.species.ID)
	w.id(`INSERT INTO claim (build_id, pack_id, strength) VALUES ($1, $2, 'meant') RETURNING id`, far.ID, pack)
	b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(t, err)
	require.Len(t, b.Lost(), 1)
	require.Equal(t, far.ID, b.Lost()[0].BuildID)
	require.Contains(t, b.Lost()[0].Why, "its timber is dry on")
	require.Contains(t, b.Lost()[0].Why, "3000")
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Len(t, p.Left, 1)
	require.Contains(t, p.Left[0].Why, "3000")
	for _, s := range p.Steps {
		require.Equal(t, near.ID, s.BuildID)
		require.Less(t, s.EndsAt.Year(), 2030)
	}
}

// A due date goes by: the build is late by the days since, and is planned from now on.
func TestDueBeforeToday(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	b := w.build(2, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-04")) })
	w.now = w.now.AddDate(0, 0, 7) // Monday the 9th
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Equal(t, brisbane("2026-03-09", 8, 0), p.Steps[0].StartsAt.UTC())
	require.Positive(t, p.LateMinutes)
	jobs := w.benchJobs(time.FixedZone("Brisbane", 10*60*60))
	require.Equal(t, 5, jobs[b.ID].LateDays, "by hand: due on the 4th, done on the 9th")
}
