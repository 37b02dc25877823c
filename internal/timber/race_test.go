package timber_test

import (
	"context"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

// atOnce runs the deeds at the same time, each on a connection of its own.
func atOnce(deeds ...func() error) []error {
	errs := make([]error, len(deeds))
	var start, done sync.WaitGroup
	start.Add(1)
	for i, do := range deeds {
		done.Go(func() {
			start.Wait()
			errs[i] = do()
		})
	}
	start.Done()
	done.Wait()
	return errs
}

// Issue, bad input: two people taking the last boards at once: one promise is refused,
// both facts are kept.
func TestTwoTakeTheLastBoards(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for range 10 {
		lot := w.lot(2400, 3)
		promise := func(build int64) func() error {
			return func() error {
				return w.db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
					_, err := claims.Put(ctx, tx, now, []claims.Want{{For: claims.Build(build), Thing: claims.Lot(lot.ID), Quantity: 3, Strength: claims.PutAside}})
					return err
				})
			}
		}
		errs := atOnce(promise(w.build), promise(w.build2))
		require.True(t, (errs[0] == nil) != (errs[1] == nil), "one promise holds: %v, %v", errs[0], errs[1])
		for _, err := range errs {
			require.True(t, err == nil || fault.Is(err, fault.Conflict), "%v", err)
		}
		l, err := w.room.LotGet(t.Context(), lot.ID)
		require.NoError(t, err)
		require.Equal(t, []int{3, 3}, []int{l.OnHand, l.PutAside})

		cut := func() error {
			_, err := w.room.MoveBook(t.Context(), timber.Move{Thing: claims.Lot(lot.ID), Quantity: 3, Kind: timber.Cut, HappenedAt: now})
			return err
		}
		for _, err := range atOnce(cut, cut) {
			require.NoError(t, err, "a fact is never refused")
		}
		moves, _, err := w.room.MoveList(t.Context(), claims.Lot(lot.ID), 3, "")
		require.NoError(t, err)
		require.Equal(t, []any{timber.Cut, timber.Found, timber.Cut}, []any{moves[0].Kind, moves[1].Kind, moves[2].Kind}, "both cuts are there; the boards of the second are found")
		l, err = w.room.LotGet(t.Context(), lot.ID)
		require.NoError(t, err)
		require.Equal(t, []int{0, 0}, []int{l.OnHand, l.PutAside}, "the promise the facts broke has ended")
	}
}

// Two dressings of one pack at once give out its cost once.
func TestTwoDressOnePackAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.stack()
	dress := func(mm, n int) func() error {
		return func() error {
			_, err := w.room.PackDress(t.Context(), timber.Dressing{PackID: p.ID, At: now, Place: "rack", Taken: []timber.Content{{mm, "sound", n}}, Boards: []timber.DressedLot{boards("100", mm-50, n)}})
			return err
		}
	}
	for _, err := range atOnce(dress(2400, 20), dress(1800, 10)) {
		require.NoError(t, err)
	}
	all, err := w.room.PackCame(t.Context(), p.ID)
	require.NoError(t, err)
	require.Equal(t, int64(26_400), all.BoardsMinor)
	p, err = w.room.PackGet(t.Context(), p.ID)
	require.NoError(t, err)
	require.NotNil(t, p.FinishedAt)
}
