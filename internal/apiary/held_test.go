package apiary

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
)

// notes gives what the log of a colony says, newest first.
func (w *world) notes(t *testing.T, colony int64) []string {
	t.Helper()
	events, err := w.EventsOf(t.Context(), colony)
	require.NoError(t, err)
	var list []string
	for _, e := range events {
		list = append(list, e.Kind+": "+e.Note)
	}
	return list
}

func TestWhatIsDoneToAHeldBackColonyStandsWithItsReason(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	mother := w.colony(t, nil)
	require.NoError(t, w.HoldBack(t.Context(), mother.ID, "chalk in the brood"))
	box := w.box(t, "10016", nil)
	deeds := map[string]func(spite string) error{
		"split": func(spite string) error {
			_, err := w.Split(t.Context(), Splitting{ParentID: mother.ID, BoxID: box, InSpite: spite})
			return err
		},
		"house": func(spite string) error {
			_, err := w.HouseIn(t.Context(), Housing{ColonyID: mother.ID, Dwelling: "other", Description: "a crate", InSpite: spite})
			return err
		},
		"give": func(spite string) error {
			return w.Give(t.Context(), Move{ColonyID: mother.ID, Place: "the far paddock", InSpite: spite})
		},
		"child": func(spite string) error {
			_, err := w.ColonyMake(t.Context(), NewColony{SpeciesID: w.species.ID, Dwelling: "log", Parents: []Parent{{ParentID: mother.ID, Kind: "brood given"}}, InSpite: spite})
			return err
		},
	}
	for name, deed := range deeds {
		err := deed(" ")
		require.True(t, fault.Is(err, fault.Conflict), "%s: %v", name, err)
		require.ErrorContains(t, err, "/in_spite")
		require.ErrorContains(t, err, "chalk in the brood")
		before := len(w.notes(t, mother.ID))
		require.NoError(t, deed("the inspector told us to"), name)
		log := w.notes(t, mother.ID)
		require.Greater(t, len(log), before, name)
		require.Contains(t, log[0]+log[1], "In spite of being held back (chalk in the brood): the inspector told us to", name)
	}
	children, err := w.ChildrenOf(t.Context(), mother.ID)
	require.NoError(t, err)
	require.Len(t, children, 2)
	for _, c := range children {
		child, err := w.ColonyGet(t.Context(), c.ColonyID)
		require.NoError(t, err)
		require.Equal(t, "as its parent "+mother.Number+": chalk in the brood", child.HeldBackBecause)
	}
}

func TestWhatWasDoneBeforeAColonyWasHeldBackNeedsNoReason(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	mother := w.colony(t, nil)
	require.NoError(t, w.HoldBack(t.Context(), mother.ID, "chalk in the brood"))
	child, err := w.Split(t.Context(), Splitting{ParentID: mother.ID, BoxID: w.box(t, "10016", nil), At: noon.AddDate(0, -2, 0)})
	require.NoError(t, err)
	require.Empty(t, child.HeldBackBecause)
	old, err := w.ColonyMake(t.Context(), NewColony{SpeciesID: w.species.ID, Dwelling: "log", BeganOn: day("2026-11-01"), Parents: []Parent{{ParentID: mother.ID, Kind: "split"}}})
	require.NoError(t, err, "it began the day before")
	require.Empty(t, old.HeldBackBecause)
	_, err = w.ColonyMake(t.Context(), NewColony{SpeciesID: w.species.ID, Dwelling: "log", BeganOn: day("2026-11-02"), Parents: []Parent{{ParentID: mother.ID, Kind: "split"}}})
	require.True(t, fault.Is(err, fault.Conflict), "on the day: %v", err)
}

func TestAHeldBackColonyFeedsNoLine(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	mother := w.colony(t, nil)
	ready := w.colony(t, nil)
	yes := true
	require.NoError(t, w.KeepToSplit(t.Context(), mother.ID, &yes))
	herd := func() Herd {
		h, err := w.HerdOf(t.Context(), w.species.ID, time.UTC, *day("2026-11-02"))
		require.NoError(t, err)
		return h
	}
	require.Equal(t, []string{mother.Number}, numbers(herd().Kept))
	require.Equal(t, []string{ready.Number}, numbers(herd().Ready))
	require.NoError(t, w.HoldBack(t.Context(), mother.ID, "mites"))
	require.NoError(t, w.HoldBack(t.Context(), ready.ID, "mites"))
	require.Equal(t, Herd{Day: *day("2026-11-02")}, herd(), "neither it nor its splits to come")
	require.NoError(t, w.Release(t.Context(), mother.ID))
	require.Equal(t, []string{mother.Number}, numbers(herd().Kept))
}
