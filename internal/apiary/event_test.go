package apiary

import (
	"context"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

func TestEventsKnownAboutStandInTheirYear(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	old := w.colony(t, func(n *NewColony) { n.BeganOn, n.BeganAbout = nil, "about 1961" })
	kg := 9.5
	for _, e := range []Event{{Kind: "weighed", MassKG: &kg}, {Kind: "fed", HappenedAbout: "about 1970"}, {Kind: "note", HappenedAbout: "the 1960s", Note: "drawn from an ironbark"}, {Kind: "pests", HappenedAt: noon.AddDate(-20, 0, 0)}} {
		e.ColonyID = old.ID
		_, err := w.EventNote(t.Context(), e)
		require.NoError(t, err, e.Kind)
	}
	events, err := w.EventsOf(t.Context(), old.ID)
	require.NoError(t, err)
	var kinds []string
	for _, e := range events {
		kinds = append(kinds, e.Kind)
	}
	require.Equal(t, []string{"weighed", "pests", "fed", "note"}, kinds, "newest first")
	require.Equal(t, "about 1970", events[2].HappenedAbout)
}

func TestEventsThatCannotBe(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := w.colony(t, nil) // began on 10 January 2025
	for name, e := range map[string]Event{
		"in the future":       {Kind: "fed", HappenedAt: noon.AddDate(0, 0, 1)},
		"about the future":    {Kind: "fed", HappenedAbout: "about 2031"},
		"before it began":     {Kind: "fed", HappenedAt: time.Date(2025, 1, 9, 0, 0, 0, 0, time.UTC)},
		"no year":             {Kind: "fed", HappenedAbout: "long ago"},
		"weighed, no mass":    {Kind: "weighed"},
		"a mass of a lorry":   {Kind: "weighed", MassKG: ptr(700.0)},
		"no such kind":        {Kind: "sung to"},
		"began in the future": {},
	} {
		var err error
		if e.Kind == "" {
			_, err = w.ColonyMake(t.Context(), NewColony{SpeciesID: w.species.ID, Dwelling: "log", BeganAbout: "about 2031"})
		} else {
			e.ColonyID = c.ID
			_, err = w.EventNote(t.Context(), e)
		}
		require.True(t, fault.Is(postgres.Translate(err), fault.Invalid), "%s: %v", name, err)
	}
	_, err := w.ColonyMake(t.Context(), NewColony{SpeciesID: w.species.ID, Dwelling: "log", HousedAt: noon.AddDate(0, 1, 0)})
	require.True(t, fault.Is(err, fault.Invalid), "housed next month: %v", err)
}

func TestNothingHappensToAColonyAfterItsEnd(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := w.colony(t, nil)
	_, err := w.EventNote(t.Context(), Event{ColonyID: c.ID, Kind: "fed", HappenedAt: noon.AddDate(0, 0, -10)})
	require.NoError(t, err)
	require.True(t, fault.Is(w.EndIn(t.Context(), Ending{ColonyID: c.ID, How: "ants", At: noon.AddDate(0, 0, -12)}), fault.Invalid), "it was fed after that")
	require.True(t, fault.Is(w.EndIn(t.Context(), Ending{ColonyID: c.ID, How: "ants", At: noon.AddDate(0, 0, 2)}), fault.Invalid), "the day after tomorrow")
	lost := noon.AddDate(0, 0, -5)
	_, err = w.EventNote(t.Context(), Event{ColonyID: c.ID, Kind: "inspected", HappenedAt: noon.AddDate(0, 0, -4), Note: "found dead"})
	require.NoError(t, err)
	require.NoError(t, w.EndIn(t.Context(), Ending{ColonyID: c.ID, How: "ants", At: lost}), "so the end was found")
	events, err := w.EventsOf(t.Context(), c.ID)
	require.NoError(t, err)
	require.Equal(t, []any{"lost", lost}, []any{events[1].Kind, events[1].HappenedAt.UTC()})
	_, err = w.EventNote(t.Context(), Event{ColonyID: c.ID, Kind: "fed", HappenedAt: lost.Add(time.Hour)})
	require.True(t, fault.Is(err, fault.Conflict), "%v", err)
	_, err = w.EventNote(t.Context(), Event{ColonyID: c.ID, Kind: "fed", HappenedAt: lost.AddDate(0, 0, -1)})
	require.NoError(t, err, "what was forgotten may still be noted")
	_, err = w.Split(t.Context(), Splitting{ParentID: c.ID, BoxID: w.box(t, "10016", nil)})
	require.True(t, fault.Is(err, fault.Conflict))

	old := w.colony(t, func(n *NewColony) { n.BeganOn, n.BeganAbout, n.SettledOn = nil, "about 1961", nil })
	require.NoError(t, w.EndIn(t.Context(), Ending{ColonyID: old.ID, How: "the flood", About: "about 1974"}))
	_, err = w.EventNote(t.Context(), Event{ColonyID: old.ID, Kind: "fed", HappenedAbout: "about 1974"})
	require.NoError(t, err, "the same year")
	_, err = w.EventNote(t.Context(), Event{ColonyID: old.ID, Kind: "fed", HappenedAbout: "about 1975"})
	require.True(t, fault.Is(err, fault.Conflict))
}

func TestBroodGivenAndUnited(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a, b, c := w.colony(t, nil), w.colony(t, nil), w.colony(t, nil)
	require.NoError(t, w.BroodGive(t.Context(), Joining{FromID: a.ID, ToID: b.ID}))
	require.NoError(t, w.BroodGive(t.Context(), Joining{FromID: a.ID, ToID: b.ID}), "a second time")
	parents, err := w.ParentsOf(t.Context(), b.ID)
	require.NoError(t, err)
	require.Len(t, parents, 1)
	require.Equal(t, []any{a.ID, "brood given"}, []any{parents[0].ParentID, parents[0].Kind})
	require.NotNil(t, parents[0].HappenedOn)
	require.NoError(t, w.BroodGive(t.Context(), Joining{FromID: a.ID, ToID: w.colony(t, func(n *NewColony) { n.BeganOn = nil }).ID, About: "about 2025"}))
	children, err := w.ChildrenOf(t.Context(), a.ID)
	require.NoError(t, err)
	require.Nil(t, children[1].HappenedOn, "no day is known")
	require.Equal(t, []string{"brood given: Gave brood to C0002.", "brood given: Gave brood to C0002.", "brood given: Gave brood to C0004."}, w.notes(t, a.ID))
	require.Contains(t, w.notes(t, b.ID)[0], "Was given brood of C0001.")

	require.True(t, fault.Is(w.BroodGive(t.Context(), Joining{FromID: a.ID, ToID: a.ID}), fault.Invalid), "itself")
	require.True(t, fault.Is(w.BroodGive(t.Context(), Joining{FromID: b.ID, ToID: a.ID}), fault.Conflict), "its own ancestor")
	require.True(t, fault.Is(w.Unite(t.Context(), Joining{FromID: a.ID, ToID: 999}), fault.NotFound))

	require.NoError(t, w.Unite(t.Context(), Joining{FromID: b.ID, ToID: c.ID, At: noon.AddDate(0, 0, -1)}))
	gone, err := w.ColonyGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, "united with C0003", gone.EndedHow)
	require.True(t, fault.Is(w.Unite(t.Context(), Joining{FromID: b.ID, ToID: c.ID}), fault.Conflict), "it is gone")

	require.NoError(t, w.HoldBack(t.Context(), a.ID, "mites"))
	require.True(t, fault.Is(w.BroodGive(t.Context(), Joining{FromID: a.ID, ToID: c.ID}), fault.Conflict))
	require.NoError(t, w.BroodGive(t.Context(), Joining{FromID: a.ID, ToID: c.ID, InSpite: "done before I looked"}))
	held, err := w.ColonyGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.Equal(t, "brood given from C0001: mites", held.HeldBackBecause)
}

func TestFindingsAreDatedAndTheLatestHolds(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	all, err := w.SpeciesList(t.Context())
	require.NoError(t, err)
	other := all[1]
	if other.ID == w.species.ID {
		other = all[0]
	}
	c := w.colony(t, nil)
	unit := w.unit(t)
	_, err = w.db.Exec(t.Context(), `UPDATE order_line SET bee_species_id = $1`, w.species.ID)
	require.NoError(t, err)
	require.NoError(t, w.db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := claims.Put(ctx, tx, noon, []claims.Want{{For: claims.Unit(unit), Thing: claims.Colony(c.ID), Quantity: 1, Strength: claims.PutAside}})
		return err
	}))
	require.True(t, fault.Is(w.FindingNote(t.Context(), Finding{ColonyID: c.ID, SpeciesID: other.ID, FoundOn: noon.AddDate(0, 0, 3)}), fault.Invalid), "in three days")
	require.True(t, fault.Is(w.FindingNote(t.Context(), Finding{ColonyID: c.ID}), fault.Invalid), "no kind")
	require.NoError(t, w.FindingNote(t.Context(), Finding{ColonyID: c.ID, SpeciesID: other.ID, FoundOn: *day("2024-03-01"), FoundBy: "a neighbour"}))
	got, err := w.ColonyGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.Equal(t, w.species.ID, *got.SpeciesID, "an older finding is not the latest")
	require.NotNil(t, got.UnitID)
	require.NoError(t, w.FindingNote(t.Context(), Finding{ColonyID: c.ID, SpeciesID: other.ID, FoundBy: "entrance and brood seen"}))
	got, err = w.ColonyGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.Equal(t, []any{other.ID, false}, []any{*got.SpeciesID, *got.SpeciesSure})
	require.Nil(t, got.UnitID, "it was ordered as another kind")
	list, err := w.FindingsOf(t.Context(), c.ID)
	require.NoError(t, err)
	require.Len(t, list, 3)
	require.Equal(t, "a neighbour", list[2].FoundBy)
}

func TestColonyFactsArePutRight(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := w.colony(t, nil)
	f := ColonyFacts{ID: c.ID, Version: c.Version, Name: "Anna", BeganAbout: "about 1961", Origin: "Drawn from the ironbark, Mrs Quill allowed it"}
	got, err := w.ColonyPut(t.Context(), f)
	require.NoError(t, err)
	require.Equal(t, []any{"Anna", "about 1961", f.Origin}, []any{got.Name, got.BeganAbout, got.Origin})
	_, err = w.ColonyPut(t.Context(), f)
	require.True(t, fault.Is(err, fault.Stale))
	f.Version, f.BeganAbout = got.Version, "about 2061"
	_, err = w.ColonyPut(t.Context(), f)
	require.True(t, fault.Is(err, fault.Invalid))
}
