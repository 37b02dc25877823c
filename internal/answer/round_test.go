package answer_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
)

// tree puts down a host tree at a place (none where lat is NaN) that is due on a day.
func (w *world) tree(name string, lat, lon float64, due string) apiary.HostTree {
	w.t.Helper()
	t := apiary.HostTree{Name: name, Permission: "the owner"}
	if !math.IsNaN(lat) {
		t.Latitude, t.Longitude = &lat, &lon
	}
	if due != "" {
		t.NextVisitOn = ptr(day(due))
	}
	t, err := w.TreePut(w.t.Context(), t)
	require.NoError(w.t, err)
	return t
}

func (w *world) names(run handover.Run) []string {
	var out []string
	for _, s := range run.Stops {
		out = append(out, s.TreeName)
	}
	return out
}

// The workshop of these tests stands at 26.7 S 152.9 E. Four trees lie on one road north of
// it, so the shortest round passes them in order of their latitude, one way or the other.
func TestARoundTakesTheTreesDueInTheShortestOrder(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	w.tree("far", -26.3, 152.9, "2026-03-02")
	w.tree("near", -26.6, 152.9, "2026-03-09")
	w.tree("middle", -26.45, 152.9, "2026-02-20")
	lost := w.tree("lost", math.NaN(), 0, "2026-03-01")
	later := w.tree("later", -26.5, 152.9, "2026-03-10")
	w.tree("no day", -26.4, 152.9, "")
	run, err := w.RoundMake(ctx, answer.NewRound{On: day("2026-03-03"), WithinDays: ptr(7)}) // today is 2 March
	require.NoError(t, err)
	require.Equal(t, "visits", run.Kind)
	got := w.names(run)
	require.Contains(t, [][]string{{"near", "middle", "far", "lost"}, {"far", "middle", "near", "lost"}, {"near", "far", "middle", "lost"}, {"middle", "far", "near", "lost"}}, got, "on one road every order that turns once is as short")
	require.InDelta(t, 2*44.3*1.3, *run.KM, 0.6, "0.4 degrees of a meridian, 110.8 km each (Bowring's series at 26.5 S), there and back, with the detour")

	lines := w.left()
	for _, l := range lines {
		require.NotEqual(t, "visit", l.Kind, "the run asks for them")
	}
	care, err := w.RunCare(ctx, run)
	require.NoError(t, err)
	require.Equal(t, "Is the hollow still lived in?", care.Stops[0].LookFor)
	require.Equal(t, day("2026-03-01"), *care.Stops[3].DueOn)
	require.Nil(t, care.Stops[3].To)

	require.NoError(t, w.TreeVisit(ctx, apiary.Visit{TreeID: lost.ID, Found: "quiet"}, &run.Stops[3].ID))
	run, err = w.Handover.RunGet(ctx, run.ID)
	require.NoError(t, err)
	require.NotNil(t, run.Stops[3].DoneAt, "the visit ends the stop")
	require.True(t, fault.Is(w.TreeVisit(ctx, apiary.Visit{TreeID: later.ID, Found: "quiet"}, &run.Stops[0].ID), fault.Invalid))
	visits, err := w.Apiary.HostTreeVisits(ctx, later.ID)
	require.NoError(t, err)
	require.Empty(t, visits, "a visit at the wrong stop is not kept")
	pdf, err := w.RunSheet(ctx, run.ID)
	require.NoError(t, err)
	require.NotEmpty(t, pdf)
}

func TestARoundIsChecked(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	a := w.tree("a", -26.3, 152.9, "")
	many := make([]int64, 2000)
	for i := range many {
		many[i] = int64(i + 1)
	}
	begin := time.Now()
	for _, n := range []answer.NewRound{{}, {TreeIDs: many}, {TreeIDs: []int64{999}}, {WithinDays: ptr(5)}, {WithinDays: ptr(-1)}, {WithinDays: ptr(400)}} {
		n.On = day("2026-03-03")
		_, err := w.RoundMake(ctx, n)
		require.True(t, fault.Is(err, fault.Invalid), "%+v: %v", n, err)
	}
	_, err := w.RoundMake(ctx, answer.NewRound{On: day("2026-03-01"), TreeIDs: []int64{a.ID}})
	require.True(t, fault.Is(err, fault.Invalid), "yesterday")
	run, err := w.RoundMake(ctx, answer.NewRound{On: day("2026-03-03"), TreeIDs: []int64{a.ID, a.ID}})
	require.NoError(t, err)
	require.Len(t, run.Stops, 1, "named twice, called on once")
	require.NoError(t, w.Apiary.HostTreePutAway(ctx, a.ID, a.Version, "felled"))
	_, err = w.RoundMake(ctx, answer.NewRound{On: day("2026-03-03"), TreeIDs: []int64{a.ID}})
	require.ErrorContains(t, err, "put away: felled")
	require.Less(t, time.Since(begin), 20*time.Second)
}

// Sixty trees, as many as the page is made for, are one round in a bounded time, and a
// round of 200 is the most.
func TestARoundOfManyTrees(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	_, err := w.db.Exec(ctx, `INSERT INTO host_tree (name, permission, latitude, longitude, next_visit_on) SELECT 'tree ' || i, 'x', -26.7 + 0.4 * sin(i * 1.7), 152.9 + 0.4 * cos(i * 2.3), '2026-03-01' FROM generate_series(1, 260) i`)
	require.NoError(t, err)
	begin := time.Now()
	run, err := w.RoundMake(ctx, answer.NewRound{On: day("2026-03-03"), WithinDays: ptr(0)})
	require.NoError(t, err)
	require.Len(t, run.Stops, 200)
	require.Less(t, time.Since(begin), 30*time.Second, "the search has a second, the rest is small")
	seen := map[string]bool{}
	for _, n := range w.names(run) {
		seen[n] = true
	}
	require.Len(t, seen, 200)
	var shared int
	for _, l := range w.left() {
		if l.Kind == "visit" {
			shared++
			require.NotEmpty(t, l.Href)
		}
	}
	require.Equal(t, 4, shared, "three of the 60 that are left, and one line for the rest")
}
