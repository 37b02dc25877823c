package workshop_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/workshop"
)

var brisbaneZone = time.FixedZone("Brisbane", 10*60*60)

// until sets Monday to Friday from 8:00 to a minute of the day.
func (w *world) until(endMinute int) {
	w.t.Helper()
	week := workshop.Week{FromOn: day("2026-01-01")}
	for d := 1; d <= 5; d++ {
		week.Hours = append(week.Hours, workshop.Hours{Weekday: d, StartMinute: 480, EndMinute: endMinute, Hands: 1})
	}
	require.NoError(w.t, w.room.WeekSet(w.t.Context(), week))
}

func (w *world) bench() *workshop.Bench {
	w.t.Helper()
	b, err := w.room.Bench(w.t.Context(), brisbaneZone)
	require.NoError(w.t, err)
	return b
}

func (w *world) jobs() map[int64]workshop.BenchJob {
	w.t.Helper()
	list, err := w.bench().Jobs()
	require.NoError(w.t, err)
	out := map[int64]workshop.BenchJob{}
	for _, j := range list {
		out[j.BuildID] = j
	}
	return out
}

// layAccept lays a plan and puts it in force.
func (w *world) layAccept() workshop.BenchPlan {
	w.t.Helper()
	p, err := w.room.PlanLay(w.t.Context(), "", workshop.PlanChange{})
	require.NoError(w.t, err)
	_, err = w.room.PlanAccept(w.t.Context(), p.ID)
	require.NoError(w.t, err)
	return p
}

// By hand: two builds of two boxes, 40 minutes at the saw each of which 20 are set-up, 60 of
// gluing. Apart 200 minutes; with the saw set up once 180, which just fits into three hours.
func TestBuildsOfOneModelShareTheSetUp(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.until(660)
	w.haveScrews(1000)
	due := func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-02")) }
	first, second := w.build(2, due), w.build(2, due)
	const pieces, setup, apart = 2*2*10 + 2*2*30, 20, 2 * (20 + 2*10 + 2*30)
	p := w.layAccept()
	require.Zero(t, p.LateMinutes, "side by side both are done on Monday")
	took := time.Duration(0)
	for _, s := range p.Steps {
		took += s.EndsAt.Sub(s.StartsAt)
	}
	require.Less(t, took.Minutes(), float64(apart))
	require.Equal(t, float64(pieces+setup), took.Minutes())
	require.Equal(t, []string{"cut", "cut", "glue", "glue"}, []string{p.Steps[0].OperationName, p.Steps[1].OperationName, p.Steps[2].OperationName, p.Steps[3].OperationName})

	// All who ask see the same: the bench, what a new enquiry is told, the effects, no slip.
	got, err := w.bench().Fit(30, 0, day("2026-03-02"), false)
	require.NoError(t, err)
	require.Equal(t, brisbane("2026-03-03", 8, 0), got.StartsAt, "Monday is full to the minute")
	effects, err := w.room.PlanEffects(t.Context(), p.ID)
	require.NoError(t, err)
	for _, e := range effects {
		require.Equal(t, day("2026-03-02"), e.EndsOn)
		require.Equal(t, e.EndsOn, *e.WasOn)
	}
	slips, err := w.room.Slips(t.Context())
	require.NoError(t, err)
	for _, s := range slips {
		require.Zero(t, s.LateDays)
		require.Equal(t, s.EndsOn, *s.PlannedOn, "nothing has slipped; a bad week may still make it late")
	}

	// The first is cut as planned: the saw is still set up, the second is no later for it.
	begun := map[int64]workshop.Build{first.ID: first, second.ID: second}[p.Steps[0].BuildID]
	_, err = w.room.SpellStart(t.Context(), begun.Operations[0].ID, w.owner, w.now)
	require.NoError(t, err)
	w.now = brisbane("2026-03-02", 8, 40)
	_, err = w.room.OperationDone(t.Context(), begun.Operations[0].ID, true, w.now)
	require.NoError(t, err)
	for _, j := range w.jobs() {
		require.Zero(t, j.LateDays, "by hand: 20 + 60 + 60 minutes from 8:40 to 11:00")
	}
}

// Apart in time, each build sets the saw up for itself.
func TestBuildsApartPayTheSetUpEach(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.until(660)
	w.haveScrews(1000)
	w.build(2)
	w.build(2, func(n *workshop.BuildNew) { n.NotBefore = ptr(day("2026-03-09")) })
	p := w.layAccept()
	took := time.Duration(0)
	for _, s := range p.Steps {
		took += s.EndsAt.Sub(s.StartsAt)
	}
	require.Equal(t, 200.0, took.Minutes(), "by hand, 2 x (20 + 2 x 10 + 2 x 30)")
}

// Small days against all orders in which the operations can be done one after another, each
// paying its set-up where another goes before it: the plan is as late as the best of them.
// With one hand, no waits between operations and all boards there, a best plan is such an order.
func TestSharedSetUpsAgainstAllOrders(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.until(720)
	w.haveScrews(10_000)
	rng := rand.New(rand.NewPCG(3, 14))
	saved := 0
	for range 6 {
		_, err := w.db.Exec(t.Context(), `UPDATE build SET cancelled_at = now() WHERE cancelled_at IS NULL`)
		require.NoError(t, err)
		var tasks [][2]task
		for range 3 {
			n, due := 1+rng.IntN(4), 2+rng.IntN(2)
			w.build(n, func(b *workshop.BuildNew) { b.DueOn = ptr(day("2026-03-01").AddDate(0, 0, due-1)) })
			tasks = append(tasks, [2]task{{setup: 20, pieces: 10 * n}, {pieces: 30 * n, due: 1440*(due-1) - 8*60 + 30}})
		}
		p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
		require.NoError(t, err)
		shared, single := bestOfAllOrders(tasks, true), bestOfAllOrders(tasks, false)
		require.Equal(t, shared, p.LateMinutes, "%v", tasks)
		require.True(t, p.Proved)
		if shared < single {
			saved++
		}
	}
	require.Positive(t, saved, "no day gained by it")
}

// task is an operation: the second of a build has its due minute, from 7:30 on Monday.
type task struct{ setup, pieces, due int }

// bestOfAllOrders gives the fewest late minutes.
func bestOfAllOrders(builds [][2]task, share bool) int64 {
	best := int64(1 << 60)
	var walk func(next []int, done, sawAt int, late int64)
	walk = func(next []int, done, sawAt int, late int64) {
		if late >= best {
			return
		}
		open := false
		for i, k := range next {
			if k == 2 {
				continue
			}
			open = true
			x := builds[i][k]
			minutes, saw := x.pieces, -1
			if k == 0 {
				if minutes += x.setup; share && sawAt == 0 {
					minutes -= x.setup
				}
				saw = 0
			}
			end, more := done+minutes, int64(0)
			if k == 1 {
				more = max(0, int64(clockOf(end)-x.due))
			}
			then := slices.Clone(next)
			then[i]++
			walk(then, end, saw, late+more)
		}
		if !open {
			best = late
		}
	}
	walk(make([]int, len(builds)), 0, -1, 0)
	return best
}

// clockOf is when so many minutes of work are done, four hours a day from half an hour after
// the origin.
func clockOf(work int) int {
	days := (work - 1) / 240
	return 30 + 1440*days + work - 240*days
}

// Two of four boxes are finished, 100 minutes are written down on gluing: by hand, nothing is
// left of cutting; of gluing two boxes' 60 minutes, though 140 - 100 would be 40 of the four's
// 120 had the finished ones had none; 20 of them are in the time spent.
func TestPlanTakesWhatIsLeft(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.until(960)
	w.haveScrews(1000)
	w.lot(2400, 20)
	b := w.build(4)
	left := func() float64 {
		sum := 0.0
		for _, s := range w.jobs()[b.ID].Spans {
			sum += s.EndsAt.Sub(s.StartsAt).Minutes()
		}
		return sum
	}
	require.Equal(t, 20+4*10+4*30.0, left())
	w.now = brisbane("2026-03-02", 8, 0)
	done, err := w.room.BuildFinish(t.Context(), workshop.Finish{BuildID: b.ID, Version: b.Version, At: w.now, Pieces: 2})
	require.NoError(t, err)
	require.Equal(t, 20+2*10+2*30.0, left(), "two boxes, nothing written down: the saw is set up again for them")
	_, err = w.room.OperationDone(t.Context(), b.Operations[0].ID, true, w.now)
	require.NoError(t, err)
	require.Equal(t, 2*30.0, left())
	_, err = w.room.SpellAdd(t.Context(), b.Operations[1].ID, w.owner, w.now.Add(-80*time.Minute), w.now)
	require.NoError(t, err)
	require.Equal(t, 40.0, left(), "120 for the four less the 80 spent")
	_, err = w.room.SpellAdd(t.Context(), b.Operations[1].ID, w.owner, w.now.Add(-300*time.Minute), w.now.Add(-180*time.Minute))
	require.NoError(t, err)
	require.Equal(t, 6.0, left(), "all of it spent and not done: a tenth of the two boxes")
	require.NoError(t, w.room.OutputSpoil(t.Context(), b.ID, 3, w.now))
	require.Equal(t, 3.0, left())

	// Fittings: 64 for four boxes, 32 went with the two that are finished.
	got, err := w.room.BuildGet(t.Context(), done.Build.ID)
	require.NoError(t, err)
	require.Empty(t, got.Short)
}
