package claims_test

import (
	"context"
	"errors"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
)

func TestPutKeepsWithinTheBook(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	unit, build := claims.Unit(w.unitA), claims.Build(w.build)
	// 6 boards: 2 put aside for a unit, 1 meant for a build, so 3 are free.
	w.put(claims.Want{For: unit, Thing: claims.Lot(w.lot), Quantity: 2, Strength: claims.PutAside},
		claims.Want{For: build, Thing: claims.Lot(w.lot), Quantity: 1, Strength: claims.Meant})
	require.Equal(t, claims.Stock{OnHand: 6, PutAside: 2, Meant: 1, Words: "hoop pine 100 x 28, 2400 mm"}, w.stock(claims.Lot(w.lot)))

	const source = "design.md section 4: promises beyond the book are refused"
	tests := []struct {
		name, source string
		wants        []claims.Want
		detail       string // "" when it is taken
		kind         fault.Kind
	}{
		{"all that is free", source, []claims.Want{{unit, claims.Lot(w.lot), 3, claims.PutAside, nil}}, "", 0},
		{"one more than is free", source, []claims.Want{{unit, claims.Lot(w.lot), 4, claims.PutAside, nil}},
			"1 of hoop pine 100 x 28, 2400 mm short: 4 asked for, 3 free.", fault.Conflict},
		{"what is meant is held against the book as well", source, []claims.Want{{unit, claims.Lot(w.lot), 4, claims.Meant, nil}},
			"1 of hoop pine 100 x 28, 2400 mm short: 4 asked for, 3 free.", fault.Conflict},
		{"two wants of one lot are added up", source, []claims.Want{{unit, claims.Lot(w.lot), 2, claims.Meant, nil}, {build, claims.Lot(w.lot), 2, claims.PutAside, nil}},
			"1 of hoop pine 100 x 28, 2400 mm short: 4 asked for, 3 free.", fault.Conflict},
		{"every shortage is said", source, []claims.Want{{unit, claims.Lot(w.thin), 3, claims.PutAside, nil}, {build, claims.Item(w.item), 12, claims.PutAside, nil}},
			"1 of hoop pine 100 x 28, 900 mm short: 3 asked for, 2 free. 2 of screw 50 mm short: 12 asked for, 10 free.", fault.Conflict},
		{"sections on the shelf", source, []claims.Want{{unit, claims.ShelfLot(w.shelfLot), 5, claims.PutAside, nil}},
			"1 of Plain box section honey short: 5 asked for, 4 free.", fault.Conflict},
		{"boards of a pack", source, []claims.Want{{build, claims.Pack(w.pack), 31, claims.Meant, nil}},
			"1 of pack P1, hoop pine 100 x 28 short: 31 asked for, 30 free.", fault.Conflict},
		{"a pack can be meant", source, []claims.Want{{build, claims.Pack(w.pack), 30, claims.Meant, nil}}, "", 0},
		{"a pack cannot be put aside", "design.md section 4: meant also on packs still drying", []claims.Want{{build, claims.Pack(w.pack), 1, claims.PutAside, nil}},
			"Boards that are still drying can be meant for a job, not put aside.", fault.Invalid},
		{"bulk is not claimed", "design.md section 4: fittings are counted, or bulk", []claims.Want{{build, claims.Item(w.bulk), 1, claims.PutAside, nil}},
			"wood glue is not counted, so none of it can be put aside. Look at its low mark instead.", fault.Invalid},
		{"a lot that is not there", source, []claims.Want{{build, claims.Lot(999_999), 1, claims.PutAside, nil}},
			"Something that was to be put aside is not in the book.", fault.NotFound},
		{"no claimant", source, []claims.Want{{claims.Claimant{}, claims.Lot(w.lot), 1, claims.PutAside, nil}},
			"Say for which order unit or which build, one of the two.", fault.Invalid},
		{"nothing", source, []claims.Want{{unit, claims.Lot(w.lot), 0, claims.PutAside, nil}},
			"The quantity must lie between 1 and 100000.", fault.Invalid},
		{"two of one box", source, []claims.Want{{unit, claims.Box(w.box), 2, claims.PutAside, nil}},
			"A box or a colony is claimed whole: the quantity is 1.", fault.Invalid},
		{"somebody else's box", "design.md section 4: only what the workshop owns can be promised", []claims.Want{{unit, claims.Box(w.othersBox), 1, claims.PutAside, nil}},
			"This box cannot be promised: it is not the workshop's, or it is held back, stolen or gone.", fault.Conflict},
		{"a box held back", "design.md section 4: and does not hold back", []claims.Want{{unit, claims.Box(w.boxHeld), 1, claims.PutAside, nil}},
			"This box cannot be promised: it is not the workshop's, or it is held back, stolen or gone.", fault.Conflict},
		{"somebody else's colony", "design.md section 4: only what the workshop owns can be promised", []claims.Want{{unit, claims.Colony(w.colonyOthers), 1, claims.Meant, nil}},
			"This colony cannot be promised: it is not the workshop's, or it is held back or gone.", fault.Conflict},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			undo := errors.New("undo")
			err := w.tx(func(ctx context.Context, tx pgx.Tx) error {
				if _, err := claims.Put(ctx, tx, now, tc.wants); err != nil {
					return err
				}
				return undo
			})
			if tc.detail == "" {
				require.ErrorIs(t, err, undo)
				return
			}
			var f *fault.Error
			require.ErrorAs(t, err, &f)
			require.Equal(t, tc.detail, f.Detail)
			require.Equal(t, tc.kind, f.Kind)
		})
	}
}

func TestPutSaysTheFigures(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.tryPut(claims.Want{For: claims.Build(w.build), Thing: claims.Lot(w.thin), Quantity: 7, Strength: claims.PutAside})
	var short *claims.ShortError
	require.ErrorAs(t, err, &short)
	require.Equal(t, []claims.Short{{Thing: claims.Lot(w.thin), Words: "hoop pine 100 x 28, 900 mm", Asked: 7, Free: 2}}, short.Shorts)
	require.Equal(t, 0, w.stock(claims.Lot(w.thin)).PutAside)
}

func TestBoxAndColonyAreClaimedOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, thing := range []claims.Thing{claims.Box(w.box), claims.Colony(w.colony)} {
		ids := w.put(claims.Want{For: claims.Unit(w.unitA), Thing: thing, Quantity: 1, Strength: claims.Meant})
		_, err := w.tryPut(claims.Want{For: claims.Unit(w.unitB), Thing: thing, Quantity: 1, Strength: claims.PutAside})
		require.True(t, fault.Is(err, fault.Conflict), "%v", err)
		require.ErrorContains(t, err, "is already promised to somebody else.")
		require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
			n, err := claims.End(ctx, tx, now, ids, claims.Freed, "chose another")
			require.Equal(t, 1, n)
			return err
		}))
		w.put(claims.Want{For: claims.Unit(w.unitB), Thing: thing, Quantity: 1, Strength: claims.PutAside})
	}
}

func TestEndGivesBack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.put(claims.Want{For: claims.Build(w.build), Thing: claims.Lot(w.lot), Quantity: 4, Strength: claims.PutAside},
		claims.Want{For: claims.Build(w.build), Thing: claims.Item(w.item), Quantity: 8, Strength: claims.PutAside})
	other := w.put(claims.Want{For: claims.Build(w.build2), Thing: claims.Lot(w.lot), Quantity: 1, Strength: claims.PutAside})

	require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
		was, err := claims.EndFor(ctx, tx, now, claims.Build(w.build), claims.Cancelled, "the buyer rang off")
		require.Len(t, was, 2)
		require.Equal(t, "hoop pine 100 x 28, 2400 mm", was[0].Words)
		return err
	}))
	require.Equal(t, 1, w.stock(claims.Lot(w.lot)).PutAside, "the other build keeps its board")
	require.Equal(t, 0, w.stock(claims.Item(w.item)).PutAside)

	require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
		n, err := claims.End(ctx, tx, now, other, claims.Used, "")
		require.Equal(t, 1, n)
		if err != nil {
			return err
		}
		n, err = claims.End(ctx, tx, now, other, claims.Freed, "")
		require.Equal(t, 0, n, "an ended claim stays ended")
		return err
	}))
	require.Equal(t, 0, w.stock(claims.Lot(w.lot)).PutAside)
	require.Error(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
		_, err := claims.End(ctx, tx, now, other, claims.Broken, "")
		return err
	}), "only a fact breaks a claim")
}

func TestFirm(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ids := w.put(claims.Want{For: claims.Build(w.build), Thing: claims.Lot(w.lot), Quantity: 6, Strength: claims.Meant})
	firm := func(ids []int64) error {
		return w.tx(func(ctx context.Context, tx pgx.Tx) error { return claims.Firm(ctx, tx, ids) })
	}
	require.NoError(t, firm(ids))
	require.Equal(t, claims.Stock{OnHand: 6, PutAside: 6, Words: "hoop pine 100 x 28, 2400 mm"}, w.stock(claims.Lot(w.lot)))
	pack := w.put(claims.Want{For: claims.Build(w.build), Thing: claims.Pack(w.pack), Quantity: 6, Strength: claims.Meant})
	require.True(t, fault.Is(firm(pack), fault.Conflict))
}

// Two people ask for the last boards at once, many times over: the database must never
// hold more put aside than is on hand, and exactly one of the two may have them.
func TestLastBoardsAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, strength := range []claims.Strength{claims.PutAside, claims.Meant} {
		for range 10 {
			var wg sync.WaitGroup
			errs := make([]error, 2)
			who := []claims.Claimant{claims.Unit(w.unitA), claims.Build(w.build)}
			for i := range errs {
				// The second asks for the same things the other way round.
				wants := []claims.Want{{who[i], claims.Lot(w.lot), 4, strength, nil}, {who[i], claims.Item(w.item), 6, strength, nil}}
				if i == 1 {
					wants[0], wants[1] = wants[1], wants[0]
				}
				wg.Go(func() { _, errs[i] = w.tryPut(wants...) })
			}
			wg.Wait()
			lot, item := w.stock(claims.Lot(w.lot)), w.stock(claims.Item(w.item))
			require.Equal(t, 4, lot.PutAside+lot.Meant, "6 boards, 4 asked for twice: %v", errs)
			require.Equal(t, 6, item.PutAside+item.Meant)
			lost := errs[0]
			if lost == nil {
				lost = errs[1]
			}
			require.True(t, fault.Is(lost, fault.Conflict), "%v", errs)
			for _, c := range who {
				require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
					_, err := claims.EndFor(ctx, tx, now, c, claims.Freed, "")
					return err
				}))
			}
		}
	}
}
