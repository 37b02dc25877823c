package workshop_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/workshop"
)

// By hand. One of three boxes is ordered, quoted when cutting was 20 + 10 and gluing 30
// minutes, oiled 10 + 5; since then cutting stands at 40 a piece. The build has the new
// figures; what the buyer was quoted stays.
func TestBuildShowsWhatWasQuoted(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.haveScrews(1000)
	_, err := w.db.Exec(t.Context(), `UPDATE order_line SET model_revision_id = $1, options = jsonb_build_array($2::bigint)`, w.rev.ID, w.oiled.ID)
	require.NoError(t, err)
	longer := body()
	longer.Operations[0].PieceMinutes = 40
	rev, err := w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: longer, Reason: "it takes longer"})
	require.NoError(t, err)
	b := w.build(3, func(n *workshop.BuildNew) {
		n.RevisionID, n.Units, n.OptionIDs = rev.ID, []int64{w.unit}, []int64{w.oiled.ID}
	})
	quoted := func(b workshop.Build) (out []float64) {
		for _, o := range b.Operations {
			out = append(out, o.QuotedMin)
		}
		return out
	}
	require.Equal(t, []float64{20 + 10, 30, 10 + 5}, quoted(b))
	require.Equal(t, 1, b.QuotedPieces)
	require.Zero(t, b.QuotedElse)
	require.Equal(t, 20+3*40.0, b.Operations[0].StandardMin(3))
	_, err = w.room.SpellAdd(t.Context(), b.Operations[0].ID, w.owner, w.now.Add(-150*time.Minute), w.now)
	require.NoError(t, err)
	b, err = w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, 50.0, b.Operations[0].RealMin(b.QuotedPieces, b.Quantity), "a third of 150")

	// Without the oil the build has no such operation, and the quote had.
	plain := w.build(1, func(n *workshop.BuildNew) { n.Units = []int64{w.unit2} })
	require.Equal(t, []float64{20 + 10, 30}, quoted(plain))
	require.Equal(t, 15.0, plain.QuotedElse)
	require.Zero(t, w.build(1).QuotedPieces, "for the shelf")
}
