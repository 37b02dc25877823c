package handover

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// handed hands over a colony of a species, made so, days before noon.
func (w *world) handed(t *testing.T, species, parent string, days int) Handover {
	t.Helper()
	unit, _ := w.unit(t)
	colony, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO colony (number) SELECT 'C' || 1000 + count(*) FROM colony RETURNING id`)
	require.NoError(t, err)
	if species != "" {
		_, err = w.db.Exec(t.Context(), `WITH s AS (INSERT INTO bee_species (code, name) VALUES (lower(left($1, 3)), $1) ON CONFLICT DO NOTHING) SELECT 1`, species)
		require.NoError(t, err)
		_, err = w.db.Exec(t.Context(), `INSERT INTO colony_species (colony_id, bee_species_id, found_on, sure) SELECT $1, id, '2026-01-01', true FROM bee_species WHERE name = $2`, colony, species)
		require.NoError(t, err)
	}
	switch parent {
	case "split":
		_, err = w.db.Exec(t.Context(), `WITH p AS (INSERT INTO colony (number) SELECT 'P' || $1::bigint RETURNING id) INSERT INTO colony_parent (colony_id, parent_id, kind) SELECT $1, id, 'split' FROM p`, colony)
	case "log":
		_, err = w.db.Exec(t.Context(), `INSERT INTO housing (colony_id, dwelling, from_at) VALUES ($1, 'log', '2025-01-01')`, colony)
	}
	require.NoError(t, err)
	h, err := w.Make(t.Context(), Handover{UnitID: unit, ColonyID: &colony, ReceivedBy: "Ada", HappenedAt: noon.AddDate(0, 0, -days)}, nil)
	require.NoError(t, err)
	return h
}

func (w *world) say(t *testing.T, h Handover, answer string, daysAgo int) {
	t.Helper()
	_, err := w.db.Exec(t.Context(), `INSERT INTO follow_up (handover_id, due_on, answer, answered_at, why) VALUES ($1, ($3::timestamptz)::date - 1000, $2, $3, 'x')`, h.ID, answer, noon.AddDate(0, 0, -daysAgo))
	require.NoError(t, err)
}

// Source: by hand. Four colonies, handed over 100 days ago: one lost after 10 days, one
// heard of alive after 40, one after 90, of one nothing was ever heard. After 50 days:
// three of four ... the unheard one counts for nothing, so 1 - 1/3 live.
func TestNothingHeardIsUnknown(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lost := w.handed(t, "Carbonaria", "split", 100)
	w.say(t, lost, "lost", 90)
	a := w.handed(t, "Carbonaria", "log", 100)
	w.say(t, a, "weak", 60)
	w.say(t, a, "unknown", 5)
	b := w.handed(t, "Hockingsi", "", 100)
	w.say(t, b, "alive", 10)
	w.handed(t, "Hockingsi", "", 100)
	list, err := w.SurvivalOf(t.Context(), "species", 50)
	require.NoError(t, err)
	require.Equal(t, []any{"all", 4, 2, 1, 1}, []any{list[0].Name, list[0].Handed, list[0].Alive, list[0].Lost, list[0].Unheard})
	p := list[0].At[0]
	require.InDelta(t, 2.0/3, p.Alive, 1e-12)
	require.Equal(t, []any{1, 1, true}, []any{p.AtRisk, p.Lost, p.Seen}, "one is known to live 50 days")
	require.Equal(t, []any{"Carbonaria", 2, 1, 1, 0}, []any{list[1].Name, list[1].Handed, list[1].Alive, list[1].Lost, list[1].Unheard})
	require.InDelta(t, 0.5, list[1].At[0].Alive, 1e-12)
	require.Equal(t, 1.0, list[2].At[0].Alive)

	species, err := postgres.Value[int64](t.Context(), w.db, `SELECT id FROM bee_species WHERE name = 'Hockingsi'`)
	require.NoError(t, err)
	years, gone, err := w.Lived(t.Context(), species)
	require.NoError(t, err)
	require.Zero(t, gone)
	require.InDelta(t, 90/365.25, years, 1e-9)
	years, gone, err = w.Lived(t.Context(), 0)
	require.NoError(t, err)
	require.Equal(t, 1, gone)
	require.InDelta(t, (10+40+90)/365.25, years, 1e-9)

	names := func(by string) (out []string) {
		list, err := w.SurvivalOf(t.Context(), by)
		require.NoError(t, err)
		for _, g := range list[1:] {
			out = append(out, g.Name)
		}
		return out
	}
	require.Equal(t, []string{"not said", "drawn from a tree or log", "split"}, names("method"))
	require.Equal(t, []string{"spring"}, names("season"), "22 November in the south")
	_, err = w.db.Exec(t.Context(), `UPDATE workshop SET latitude = 20, longitude = -90`)
	require.NoError(t, err)
	require.Equal(t, []string{"autumn"}, names("season"), "and in the north")
	_, err = w.SurvivalOf(t.Context(), "moon")
	require.True(t, fault.Is(err, fault.Invalid))

	w.say(t, lost, "alive", 1)
	list, err = w.SurvivalOf(t.Context(), "species", 50)
	require.NoError(t, err)
	require.Equal(t, 0, list[0].Lost, "it was not lost after all")
}

func TestLossWithinTheGuaranteeOpensOneClaim(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	h := w.handed(t, "", "", 30)
	require.Equal(t, "2026-03-28", h.ColonyUntil.Format(time.DateOnly), "31 January and 56 days")
	require.Contains(t, h.Guarantee, "first eight weeks")
	c, err := w.FollowUpTell(ctx, h.ID, Told{Answer: "lost", Why: "heat", LostOn: ptr(day("2026-02-10"))})
	require.NoError(t, err)
	require.Equal(t, []any{"colony", "The colony is lost: heat", "2026-02-10"}, []any{c.About, c.What, c.HappenedAt.Format(time.DateOnly)})
	require.Zero(t, c.DaysLate(time.UTC))
	_, err = w.FollowUpTell(ctx, h.ID, Told{Answer: "alive"})
	require.True(t, fault.Is(err, fault.Conflict))
	other := w.handed(t, "", "", 30)
	for name, told := range map[string]Told{"before": {Answer: "lost", Why: "x", LostOn: ptr(day("2026-01-01"))}, "to come": {Answer: "lost", Why: "x", LostOn: ptr(day("2026-03-03"))}, "alive with a day": {Answer: "alive", LostOn: ptr(day("2026-02-10"))}} {
		_, err = w.FollowUpTell(ctx, other.ID, told)
		require.True(t, fault.Is(err, fault.Invalid), name)
	}
	unit, box := w.unit(t)
	empty, err := w.Make(ctx, Handover{UnitID: unit, BoxID: &box, ReceivedBy: "Ada"}, nil)
	require.NoError(t, err)
	_, err = w.GuaranteeOpen(ctx, GuaranteeNew{HandoverID: empty.ID, About: "colony", What: "no bees"})
	require.True(t, fault.Is(err, fault.Invalid), "no colony went with it")
	old := w.handed(t, "", "", 100)
	late, err := w.GuaranteeOpen(ctx, GuaranteeNew{HandoverID: old.ID, What: "dead"})
	require.NoError(t, err, "kept as asked")
	require.Equal(t, 44, late.DaysLate(time.UTC), "100 days less 56")
	require.True(t, fault.Is(w.GuaranteeDecide(ctx, late.ID, late.Version, "declined", 0, " "), fault.Invalid), "a reason is needed")
	helper := postgres.WithActor(ctx, postgres.Actor{Name: "Jo", Role: "helper"})
	require.True(t, fault.Is(w.GuaranteeDecide(helper, late.ID, late.Version, "declined", 0, "no"), fault.Forbidden))
	owner := postgres.WithActor(ctx, postgres.Actor{Name: "Wren", Role: "owner"})
	require.NoError(t, w.GuaranteeDecide(owner, late.ID, late.Version, "declined", 0, "out of time"))
	require.True(t, fault.Is(w.GuaranteeDecide(owner, late.ID, late.Version, "declined", 0, "no"), fault.Stale))
	got, err := w.GuaranteeGet(ctx, late.ID)
	require.NoError(t, err)
	require.Equal(t, "Wren", got.DecidedBy)
	_, err = house.New(w.db).AfterCarePut(context.Background(), house.AfterCare{})
	require.NoError(t, err)
	free := w.handed(t, "", "", 1)
	require.Nil(t, free.ColonyUntil)
	c, err = w.FollowUpTell(ctx, free.ID, Told{Answer: "lost", Why: "heat"})
	require.NoError(t, err)
	require.Nil(t, c, "no guarantee is given")
}

func ptr[T any](v T) *T { return &v }
