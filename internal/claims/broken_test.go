package claims_test

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
)

func (w *world) breakFor(t claims.Thing, left int) []claims.Claim {
	w.t.Helper()
	var broken []claims.Claim
	require.NoError(w.t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
		var err error
		broken, err = claims.BreakForFact(ctx, tx, now, t, left, "two boards had split")
		return err
	}))
	return broken
}

func TestBreakForFactLatestPromiseFirst(t *testing.T) {
	t.Parallel()
	const source = "design.md section 4: ends the claims that no longer hold (latest promise first)"
	type broke struct {
		build    int // 1 or 2; 0 is unit A
		quantity int
	}
	tests := []struct {
		name, source string
		left         int
		want         []broke
	}{
		{"enough is left", source, 6, nil},
		{"the unpromised build goes first, in part", source, 5, []broke{{2, 1}}},
		{"then the later promise", source, 3, []broke{{2, 2}, {1, 1}}},
		{"then the sooner one", source, 1, []broke{{2, 2}, {1, 2}, {0, 1}}},
		{"nothing is left", source, 0, []broke{{2, 2}, {1, 2}, {0, 2}}},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.put(claims.Want{claims.Unit(w.unitA), claims.Lot(w.lot), 2, claims.PutAside, day("2026-04-01")},
				claims.Want{claims.Build(w.build), claims.Lot(w.lot), 2, claims.PutAside, day("2026-05-01")},
				claims.Want{claims.Build(w.build2), claims.Lot(w.lot), 2, claims.Meant, nil})
			var got []broke
			for _, c := range w.breakFor(claims.Lot(w.lot), tc.left) {
				n := map[int64]int{w.build: 1, w.build2: 2}[c.For.BuildID]
				require.Equal(t, "two boards had split", c.Because)
				got = append(got, broke{n, c.Quantity})
			}
			require.Equal(t, tc.want, got)
			s := w.stock(claims.Lot(w.lot))
			require.Equal(t, tc.left, s.PutAside+s.Meant)
		})
	}
}

func TestBreakForFactMeantBeforePutAside(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ids := w.put(claims.Want{claims.Build(w.build), claims.Lot(w.lot), 1, claims.Meant, day("2026-05-01")},
		claims.Want{claims.Build(w.build2), claims.Lot(w.lot), 1, claims.PutAside, day("2026-05-01")})
	broken := w.breakFor(claims.Lot(w.lot), 1)
	require.Len(t, broken, 1)
	require.Equal(t, ids[0], broken[0].ID)
}

func TestBrokenListUntilTheClaimantIsDone(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.put(claims.Want{claims.Unit(w.unitA), claims.Box(w.box), 1, claims.PutAside, day("2026-04-01")},
		claims.Want{claims.Build(w.build), claims.Lot(w.lot), 5, claims.PutAside, day("2026-03-20")})
	w.breakFor(claims.Box(w.box), 0)
	w.breakFor(claims.Lot(w.lot), 3)
	list := func() []string {
		all, err := claims.BrokenList(t.Context(), w.db, now)
		require.NoError(t, err)
		words := []string{}
		for _, c := range all {
			words = append(words, c.Words)
			require.Equal(t, claims.Broken, c.EndedHow)
		}
		return words
	}
	require.Equal(t, []string{"hoop pine 100 x 28, 2400 mm", "Box 1005"}, list(), "soonest promise first")
	w.id(`UPDATE order_unit SET cancelled_at = now() WHERE id = $1 RETURNING id`, w.unitA)
	require.Equal(t, []string{"hoop pine 100 x 28, 2400 mm"}, list())
	w.id(`UPDATE build SET finished_at = now() WHERE id = $1 RETURNING id`, w.build)
	require.Empty(t, list())
}

func TestBreakForFactWantsAReason(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	err := w.tx(func(ctx context.Context, tx pgx.Tx) error {
		_, err := claims.BreakForFact(ctx, tx, now, claims.Lot(w.lot), 0, "")
		return err
	})
	require.True(t, fault.Is(err, fault.Invalid))
}

func TestCarryFromPackToLots(t *testing.T) {
	t.Parallel()
	// 30 boards in the pack, meant: 4 sooner, 10 later. Lots have 6 and 2 free.
	const source = "design.md section 4: meant also on packs still drying, re-laid freely"
	tests := []struct {
		name, source                  string
		left                          int
		sooner, later, onPack, broken int // boards after: on lots by claimant, on the pack, broken
	}{
		{"the pack still holds all", source, 14, 0, 0, 14, 0},
		{"the sooner promise is carried first", source, 11, 3, 0, 11, 0},
		{"both", source, 6, 4, 4, 6, 0},
		{"what the lots cannot hold breaks, the later first", source, 0, 4, 4, 0, 6},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.put(claims.Want{claims.Build(w.build), claims.Pack(w.pack), 4, claims.Meant, day("2026-04-01")},
				claims.Want{claims.Build(w.build2), claims.Pack(w.pack), 10, claims.Meant, day("2026-05-01")})
			broken := 0
			require.NoError(t, w.tx(func(ctx context.Context, tx pgx.Tx) error {
				list, err := claims.Carry(ctx, tx, now, claims.Pack(w.pack), tc.left, []claims.Thing{claims.Lot(w.lot), claims.Lot(w.thin)}, "dressed")
				for _, c := range list {
					require.Equal(t, w.build2, c.For.BuildID)
					broken += c.Quantity
				}
				return err
			}))
			onLots := func(build int64) int {
				open, err := claims.OpenFor(t.Context(), w.db, claims.Build(build))
				require.NoError(t, err)
				n := 0
				for _, c := range open {
					if c.Thing.Kind == claims.LotKind {
						n += c.Quantity
					}
				}
				return n
			}
			require.Equal(t, []int{tc.sooner, tc.later, tc.onPack, tc.broken},
				[]int{onLots(w.build), onLots(w.build2), w.stock(claims.Pack(w.pack)).Meant, broken})
		})
	}
}
