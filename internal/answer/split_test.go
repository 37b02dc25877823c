package answer_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// sitting gives what sits in a box, from the bottom, and how many rows its history has.
func (w *world) sitting(id int64) (now map[int]string, rows int) {
	w.t.Helper()
	b, err := w.Workshop.BoxGet(w.t.Context(), id)
	require.NoError(w.t, err)
	now = map[int]string{}
	for _, s := range b.Sections {
		if s.ToAt == nil {
			now[s.Place] = s.Section
		}
	}
	return now, len(b.Sections)
}

// tall is a world whose boxes have two honey sections above the brood.
func tall(t *testing.T) (w *world, old, fresh workshop.Box, hive apiary.Colony) {
	t.Helper()
	w = newWorld(t)
	m := body()
	m.Sections[1].Count = 2
	var err error
	w.rev, err = w.Workshop.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: m, Reason: "taller"})
	require.NoError(t, err)
	old, fresh = w.box(), w.box()
	hive = w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.HousedAt = "box", &old.ID, w.now.AddDate(0, -1, 0) })
	return w, old, fresh, hive
}

func TestSectionsMoveWithTheSplit(t *testing.T) {
	t.Parallel()
	w, old, fresh, hive := tall(t)
	now, rows := w.sitting(old.ID)
	require.Equal(t, map[int]string{1: "brood", 2: "honey", 3: "honey"}, now)
	require.Equal(t, 3, rows)
	child, _, err := w.SplitColony(t.Context(), answer.SplitMade{Splitting: apiary.Splitting{ParentID: hive.ID, BoxID: fresh.ID, Note: "calm"}, Sections: []workshop.SectionStep{{Place: 3}, {Place: 2}}, Exchange: true})
	require.NoError(t, err)
	for _, id := range []int64{old.ID, fresh.ID} {
		now, rows := w.sitting(id)
		require.Equal(t, map[int]string{1: "brood", 2: "honey", 3: "honey"}, now)
		require.Equal(t, 5, rows, "two ended, two came")
	}
	b, err := w.Workshop.BoxGet(t.Context(), fresh.ID)
	require.NoError(t, err)
	for _, s := range b.Sections[1:3] {
		require.Equal(t, []any{old.ID, old.Serial, s.Place, "split of " + hive.Number}, []any{*s.CameFromBoxID, *s.CameFromSerial, *s.CameFromPlace, s.Note})
	}
	require.Nil(t, b.Sections[0].CameFromBoxID, "the floor stayed")
	words := "Of box " + old.Serial + " into box " + fresh.Serial + ": honey from place 3 to place 3, and honey came back; honey from place 2 to place 2, and honey came back. calm"
	for id, first := range map[int64]string{hive.ID: "Gave " + child.Number + ". ", child.ID: "Began as a split from " + hive.Number + ". "} {
		events, err := w.Apiary.EventsOf(t.Context(), id)
		require.NoError(t, err)
		require.Equal(t, first+words, events[0].Note)
	}
}

func TestSectionsOfASplitWithoutExchange(t *testing.T) {
	t.Parallel()
	w, old, fresh, hive := tall(t)
	_, _, err := w.SplitColony(t.Context(), answer.SplitMade{Splitting: apiary.Splitting{ParentID: hive.ID, BoxID: fresh.ID}, Sections: []workshop.SectionStep{{Place: 3, ToPlace: 4}, {Place: 2}}})
	require.NoError(t, err)
	now, _ := w.sitting(old.ID)
	require.Equal(t, map[int]string{1: "brood"}, now)
	now, rows := w.sitting(fresh.ID)
	require.Equal(t, map[int]string{1: "brood", 2: "honey", 3: "honey", 4: "honey"}, now)
	require.Equal(t, 5, rows)
	b, err := w.Workshop.BoxGet(t.Context(), fresh.ID)
	require.NoError(t, err)
	require.Equal(t, "taken out: split of "+hive.Number, b.Sections[4].Note)
}

func TestSectionsThatCannotHaveGoneMoveNothing(t *testing.T) {
	t.Parallel()
	w, old, fresh, hive := tall(t)
	log := w.colony()
	for name, c := range map[string]struct {
		parent   int64
		at       time.Time
		sections []workshop.SectionStep
		says     string
	}{
		"nothing there":      {hive.ID, time.Time{}, []workshop.SectionStep{{Place: 4}}, "nothing sits at place 4"},
		"twice":              {hive.ID, time.Time{}, []workshop.SectionStep{{Place: 3}, {Place: 3}}, "Two sections"},
		"to one place":       {hive.ID, time.Time{}, []workshop.SectionStep{{Place: 3, ToPlace: 2}, {Place: 2}}, "Two sections"},
		"bears the serial":   {hive.ID, time.Time{}, []workshop.SectionStep{{Place: 1}}, "bears the serial " + old.Serial},
		"out of the box":     {hive.ID, time.Time{}, []workshop.SectionStep{{Place: 2, ToPlace: 51}}, "between 1 and 50"},
		"before it was made": {hive.ID, w.now.AddDate(0, -3, 0), []workshop.SectionStep{{Place: 2}}, "came there later"},
		"of a log":           {log.ID, time.Time{}, []workshop.SectionStep{{Place: 2}}, "lives in no box"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := w.SplitColony(t.Context(), answer.SplitMade{Splitting: apiary.Splitting{ParentID: c.parent, BoxID: fresh.ID, At: c.at}, Sections: c.sections, Exchange: true})
			require.True(t, fault.Is(err, fault.Invalid), "%v", err)
			require.ErrorContains(t, err, c.says)
			for _, id := range []int64{old.ID, fresh.ID} {
				_, rows := w.sitting(id)
				require.Equal(t, 3, rows)
			}
			require.Equal(t, 2, w.count(`SELECT count(*)::int FROM colony`))
		})
	}
}
