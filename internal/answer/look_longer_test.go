package answer_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/fault"
	"kerfbook/internal/searches"
	"kerfbook/internal/workshop"
)

// found waits for the searches of a build to end.
func (w *world) found(account, build int64) []answer.Longer {
	w.t.Helper()
	var list []answer.Longer
	require.Eventually(w.t, func() bool {
		var err error
		list, err = w.LookLongerList(w.t.Context(), account, build)
		require.NoError(w.t, err)
		for _, l := range list {
			if l.State() != searches.Ended {
				return false
			}
		}
		return len(list) > 0
	}, 30*time.Second, 20*time.Millisecond)
	return list
}

// A build with a poor plan gets the better one that a search found, once the maker takes
// it. By hand: three boxes take 6 m; six boards of 1 m hold them without waste, three of
// 2.4 m do too but are longer.
func TestLookLonger(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	t.Cleanup(w.Searches.Close)
	ctx := t.Context()
	a, err := access.New(w.db, access.Options{Cost: access.TestCost}).AccountAdd(ctx, access.NewAccount{SignIn: "maker", Role: access.Owner, Password: "stringybark and wax"})
	require.NoError(t, err)
	w.rack(2400, 3)
	w.rack(1000, 6)
	w.rack(1900, 1)
	b, err := w.Workshop.BuildMake(ctx, workshop.BuildNew{RevisionID: w.rev.ID, SpeciesID: w.species.ID, Quantity: 3})
	require.NoError(t, err)
	poor := workshop.WithPlanner(ctx, func(ctx context.Context, in cutting.In) (cutting.Out, error) {
		var long []cutting.Board
		for _, board := range in.Boards {
			if board.LengthMM > 2000 {
				long = append(long, board)
			}
		}
		in.Boards = long
		return cutting.Plan(ctx, in)
	})
	b, err = w.Workshop.CuttingLay(poor, b.ID)
	require.NoError(t, err)
	require.Equal(t, 7200.0, b.Plans[0].Answered.LengthUsedMM)

	_, err = w.LookLongerTake(ctx, a.ID, b.ID)
	require.True(t, fault.Is(err, fault.Conflict), "nothing was sought")
	for _, seconds := range []int{0, -1, 601} {
		_, err = w.LookLonger(ctx, a.ID, b.ID, seconds)
		require.True(t, fault.Is(err, fault.Invalid))
	}
	started, err := w.LookLonger(ctx, a.ID, b.ID, 20)
	require.NoError(t, err)
	require.Len(t, started, 1, "one board size")
	require.Equal(t, "100 × 28 mm", started[0].Size)
	still, err := w.Workshop.BuildGet(ctx, b.ID)
	require.NoError(t, err)
	require.Equal(t, b.Plans, still.Plans, "asking changes nothing")

	out, ended := w.found(a.ID, b.ID)[0].Plan()
	require.True(t, ended)
	require.True(t, out.Proved)
	require.Equal(t, 6000.0, out.LengthUsedMM)
	b, err = w.LookLongerTake(ctx, a.ID, b.ID)
	require.NoError(t, err)
	require.Equal(t, 6000.0, b.Plans[0].Answered.LengthUsedMM)
	require.Equal(t, 6, w.count(`SELECT sum(quantity)::int FROM claim WHERE lot_id IS NOT NULL AND ended_at IS NULL`))

	// The rack changes: what was found does not fit any more, and nothing is laid anew.
	w.rack(600, 1)
	before := w.count(`SELECT count(*) FROM cutting_plan`)
	_, err = w.LookLongerTake(ctx, a.ID, b.ID)
	require.True(t, fault.Is(err, fault.Conflict))
	require.ErrorContains(t, err, "Look again")
	require.Equal(t, before, w.count(`SELECT count(*) FROM cutting_plan`))
	_, err = w.LookLonger(ctx, a.ID, b.ID, 1)
	require.NoError(t, err)
	require.Len(t, w.found(a.ID, b.ID), 1, "those of the last start alone")
	_, err = w.LookLongerTake(ctx, a.ID, b.ID)
	require.NoError(t, err)
}

func TestLookLongerWithoutTimber(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	t.Cleanup(w.Searches.Close)
	b, err := w.Workshop.BuildMake(t.Context(), workshop.BuildNew{RevisionID: w.rev.ID, SpeciesID: w.species.ID, Quantity: 1})
	require.NoError(t, err)
	_, err = w.LookLonger(t.Context(), 1, b.ID, 5)
	require.True(t, fault.Is(err, fault.Conflict))
	_, err = w.LookLonger(t.Context(), 1, b.ID+1, 5)
	require.True(t, fault.Is(err, fault.NotFound))
}
