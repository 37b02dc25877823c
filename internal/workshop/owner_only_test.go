package workshop_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// What a drawing or an option marks as the owner's alone is so on every build of it.
func TestOwnerOnlyGoesFromTheDrawingToTheBuild(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.haveScrews(1000)
	drawn := body()
	drawn.Operations[0].OwnerOnly = true
	var err error
	w.rev, err = w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: drawn, Reason: "the saw is not for helpers"})
	require.NoError(t, err)
	paint, err := w.room.OptionSave(t.Context(), workshop.Option{Code: "painted", Name: "painted", Kind: "finish", Operations: []hive.Operation{{ID: "glue", PieceMinutes: 1, OwnerOnly: true}, {ID: "paint", PieceMinutes: 5}}})
	require.NoError(t, err)
	plain, painted := w.build(1), w.build(1, func(n *workshop.BuildNew) { n.OptionIDs = []int64{paint.ID} })
	marks := func(b workshop.Build) map[string]bool {
		out := map[string]bool{}
		for _, o := range b.Operations {
			out[o.Name] = o.OwnerOnly
		}
		return out
	}
	require.Equal(t, map[string]bool{"cut": true, "glue": false}, marks(plain))
	require.Equal(t, map[string]bool{"cut": true, "glue": true, "paint": false}, marks(painted), "an option that adds to an operation can only make it stricter")
	_, err = w.room.SpellStart(t.Context(), plain.Operations[0].ID, w.helper, w.now)
	require.True(t, fault.Is(err, fault.Forbidden), "%v", err)
	_, err = w.room.SpellStart(t.Context(), plain.Operations[1].ID, w.helper, w.now)
	require.NoError(t, err)
}
