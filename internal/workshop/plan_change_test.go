package workshop_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// planned is a workshop of four hours a weekday with three builds of 180 minutes each,
// the first soonest due, and their plan in force.
func planned(t *testing.T) (*world, []workshop.Build) {
	t.Helper()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	var list []workshop.Build
	for _, due := range []string{"2026-03-09", "2026-03-12", "2026-03-20"} {
		list = append(list, w.build(4, func(n *workshop.BuildNew) { n.DueOn = ptr(day(due)) }))
	}
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	return w, list
}

// starts gives the first minute of each build of a plan.
func starts(p workshop.BenchPlan) map[int64]time.Time {
	out := map[int64]time.Time{}
	for _, s := range p.Steps {
		if at, ok := out[s.BuildID]; !ok || s.StartsAt.Before(at) {
			out[s.BuildID] = s.StartsAt
		}
	}
	return out
}

func TestHoldIsSeenBeforeItIsSaidYesTo(t *testing.T) {
	t.Parallel()
	w, list := planned(t)
	held := day("2026-03-06")
	p, err := w.room.PlanLay(t.Context(), "hold", workshop.PlanChange{BuildID: list[0].ID, HoldTo: &held})
	require.NoError(t, err)
	require.Equal(t, "2026-03-06", starts(p)[list[0].ID].Add(10*time.Hour).Format(time.DateOnly))
	b, err := w.room.BuildGet(t.Context(), list[0].ID)
	require.NoError(t, err)
	require.Nil(t, b.HeldTo, "nothing is held before the yes")
	effects, err := w.room.PlanEffects(t.Context(), p.ID)
	require.NoError(t, err)
	for _, e := range effects {
		require.NotNil(t, e.WasOn)
		if e.BuildID == list[0].ID {
			require.True(t, e.EndsOn.After(*e.WasOn), "it ends later than it was")
		}
	}
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	b, err = w.room.BuildGet(t.Context(), list[0].ID)
	require.NoError(t, err)
	require.Equal(t, held, *b.HeldTo)
	again, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Equal(t, starts(p), starts(again), "what is held stays, and of equal plans the one that moves least wins")

	past := day("2026-03-01")
	_, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: list[0].ID, HoldTo: &past})
	requireField(t, err, fault.Invalid, "/hold_to")
	_, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: 999, Move: 1})
	requireField(t, err, fault.Invalid, "/build_id")
	p, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: list[0].ID, LetGo: true})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	b, err = w.room.BuildGet(t.Context(), list[0].ID)
	require.NoError(t, err)
	require.Nil(t, b.HeldTo)
}

func TestMoveUpAndDown(t *testing.T) {
	t.Parallel()
	w, list := planned(t)
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: list[1].ID, Move: -1})
	require.NoError(t, err)
	s := starts(p)
	require.True(t, s[list[1].ID].Before(s[list[0].ID]), "%v", s)
	require.Equal(t, brisbane("2026-03-02", 8, 0), s[list[1].ID], "it takes the place of the first")
	_, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: list[0].ID, Move: -1})
	require.True(t, fault.Is(err, fault.Conflict), "none stands before it")
	p, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: list[0].ID, Move: 1})
	require.NoError(t, err)
	s = starts(p)
	require.True(t, s[list[1].ID].Before(s[list[0].ID]), "%v", s)
}

// An away spell over the days of the plan: the builds slip, it says why, and what would
// save the first of them.
func TestAnAwaySpellSlips(t *testing.T) {
	t.Parallel()
	w, list := planned(t)
	none, err := w.room.Slips(t.Context())
	require.NoError(t, err)
	require.Empty(t, none)
	_, err = w.room.AwayAdd(t.Context(), workshop.Away{FromOn: day("2026-03-02"), ToOn: day("2026-03-09"), Why: "ill"})
	require.NoError(t, err)
	slips, err := w.room.Slips(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, slips)
	require.Equal(t, list[0].ID, slips[0].BuildID)
	require.Positive(t, slips[0].LateDays)
	require.NotEmpty(t, slips[0].Causes)
	require.Contains(t, slips[0].Causes[0], "taken out")
}

// No hours at all, and timber that never dries: named with the reason, and not planned.
func TestBuildsThatCanNeverBeginAreNamed(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	_, wet := w.build(1), w.build(1)
	pack := w.id(`INSERT INTO pack (number, species_id, board_size_id, stacked_on, never_dry) SELECT 'K1', $1, min(id), '2026-01-01', true FROM board_size RETURNING id`, w.species.ID)
	w.id(`INSERT INTO claim (build_id, pack_id, strength) VALUES ($1, $2, 'meant') RETURNING id`, wet.ID, pack)
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Len(t, p.Left, 1)
	require.Equal(t, wet.ID, p.Left[0].BuildID)
	require.Contains(t, p.Left[0].Why, "never gets dry")
	require.NotContains(t, starts(p), wet.ID)
	for _, from := range []string{"2026-03-01", "2027-03-01"} {
		_, err = w.room.AwayAdd(t.Context(), workshop.Away{FromOn: day(from), ToOn: day(from).AddDate(1, 0, 0)})
		require.NoError(t, err)
	}
	p, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Len(t, p.Left, 2)
	require.Empty(t, p.Steps)
}

// Due dates change, and another order would be as good: what was laid stays where it is.
// And a build that is held stays although something else could use its hours.
func TestOfEqualPlansTheOneThatMovesLeast(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	var list []workshop.Build
	for i := range 8 {
		list = append(list, w.build(4, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-04-01").AddDate(0, 0, i)) }))
	}
	first, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), first.ID)
	require.NoError(t, err)
	for i, b := range list {
		_, err = w.room.BuildSave(t.Context(), workshop.BuildChange{ID: b.ID, Version: b.Version, DueOn: ptr(day("2026-04-08").AddDate(0, 0, -i))})
		require.NoError(t, err)
	}
	again, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Zero(t, again.LateMinutes)
	require.Equal(t, starts(first), starts(again))

	held := day("2026-03-10")
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: list[7].ID, HoldTo: &held})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	at := starts(p)[list[7].ID]
	urgent := w.build(12, func(n *workshop.BuildNew) { n.DueOn, n.NotBefore = ptr(day("2026-03-11")), &held })
	again, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	require.Equal(t, at, starts(again)[list[7].ID], "held")
	require.True(t, starts(again)[urgent.ID].After(at), "it would be sooner done before the held one, and is late behind it")
	require.Positive(t, again.LateMinutes)
}
