package workshop_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

func TestRevisionsAreNumberedAndChecked(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	require.Equal(t, []any{1, "plain", 1, "brood"}, []any{w.rev.Revision, w.rev.Body.ID, w.rev.Body.Revision, w.rev.SerialSection})
	_, err := w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: body()})
	requireField(t, err, fault.Invalid, "/reason")
	second, err := w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: body(), SerialSection: "honey", Reason: "taller"})
	require.NoError(t, err)
	require.Equal(t, 2, second.Revision)
	m, err := w.room.ModelGet(t.Context(), w.model.ID)
	require.NoError(t, err)
	require.Equal(t, second.ID, *m.LatestID)
	list, err := w.room.RevisionList(t.Context(), w.model.ID)
	require.NoError(t, err)
	require.Equal(t, []int{2, 1}, []int{list[0].Revision, list[1].Revision})

	for name, change := range map[string]func(*hive.Model){
		"a negative length": func(m *hive.Model) { m.LengthMM = -300 },
		"no brood":          func(m *hive.Model) { m.Sections[0].Kind, m.Sections[1].Kind = "roof", "floor" },
	} {
		bad := body()
		change(&bad)
		_, err := w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: bad, Reason: "x"})
		require.True(t, fault.Is(err, fault.Invalid), "%s: %v", name, err)
	}
	_, err = w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: body(), SerialSection: "attic", Reason: "x"})
	requireField(t, err, fault.Invalid, "/serial_section")
	_, err = w.room.ModelSave(t.Context(), workshop.Model{Code: "plain", Name: "Another"})
	requireField(t, err, fault.Conflict, "/code")
}

func TestReadyModelsCanBeDrawnUp(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, ready := range hive.Ready() {
		m, err := w.room.ModelSave(t.Context(), workshop.Model{Code: ready.Model.ID, Name: ready.Name})
		require.NoError(t, err)
		rev, err := w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: m.ID, Body: ready.Model})
		require.NoError(t, err)
		want := ready.Model
		want.Revision = 1
		require.Equal(t, want, rev.Body, "a model comes back as it was drawn")
	}
}

func TestCompose(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	m, err := workshop.Compose(w.rev, []workshop.Option{w.honey, w.honey, w.oiled})
	require.NoError(t, err)
	require.Equal(t, []int{1, 3}, []int{m.Sections[0].Count, m.Sections[1].Count})
	require.Equal(t, []int{4, 12}, []int{m.Parts[0].Count, m.Parts[1].Count})
	require.Equal(t, 16+2*4, m.Fittings[0].Count)
	require.Equal(t, "oil", m.Operations[2].ID)
	require.Equal(t, 7, workshop.CureDays([]workshop.Option{w.honey, w.oiled}))
	require.Equal(t, body().Parts, w.rev.Body.Parts, "the revision itself is untouched")

	_, err = workshop.Compose(w.rev, []workshop.Option{w.oiled, w.oiled})
	requireField(t, err, fault.Invalid, "/options/1")
	other := w.honey
	other.ModelID = ptr(w.model.ID + 1)
	_, err = workshop.Compose(w.rev, []workshop.Option{other})
	requireField(t, err, fault.Invalid, "/options/0")
	_, err = workshop.OptionsByID(t.Context(), w.db, []int64{w.oiled.ID, 99_999})
	requireField(t, err, fault.Invalid, "/options/1")
	_, err = w.room.OptionSave(t.Context(), workshop.Option{Code: "attic", Name: "attic", Kind: "section", ModelID: &w.model.ID, Section: "attic"})
	requireField(t, err, fault.Invalid, "/section")
	list, err := w.room.OptionList(t.Context(), w.model.ID)
	require.NoError(t, err)
	require.Len(t, list, 2)
}

func TestFitStaysOnceAModelNamesIt(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	fit, err := w.room.FitSave(t.Context(), workshop.Fit{Name: "300 x 200", Sizes: []workshop.FitSize{{Name: "outer length", NominalMM: d("300"), LowMM: d("299.5"), HighMM: d("300.5")}}})
	require.NoError(t, err)
	fit.Sizes[0].HighMM = d("300.8")
	fit, err = w.room.FitSave(t.Context(), fit)
	require.NoError(t, err, "no model names it yet")
	_, err = w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: body(), FitID: &fit.ID, Reason: "named the fit"})
	require.NoError(t, err)
	fit.Sizes[0].HighMM = d("301")
	_, err = w.room.FitSave(t.Context(), fit)
	require.True(t, fault.Is(err, fault.Conflict), "design.md section 4: the same fit interchanges for ever: %v", err)
	fit.Sizes[0].HighMM = d("300.8")
	fit.Notes = "measured with the steel rule"
	_, err = w.room.FitSave(t.Context(), fit)
	require.NoError(t, err)
	fit.Sizes[0].LowMM = d("300.1")
	_, err = w.room.FitSave(t.Context(), fit)
	requireField(t, err, fault.Invalid, "/sizes/0/nominal_mm")
}
