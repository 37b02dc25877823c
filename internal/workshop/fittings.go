package workshop

import (
	"context"
	"slices"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/postgres"
	"kerfbook/internal/timber"
)

// fittingsOut are the moves of the fittings that the finished pieces took: with the last
// piece all that is left of the batch's.
func (r *Room) fittingsOut(ctx context.Context, tx pgx.Tx, b Build, f Finish, p pieces) ([]timber.Move, error) {
	items, err := itemsOf(ctx, tx, b)
	if err != nil {
		return nil, err
	}
	used, err := fittingsUsed(ctx, tx, b.ID)
	if err != nil {
		return nil, err
	}
	var moves []timber.Move
	for _, one := range b.Fittings {
		item, ok := items[one.ID]
		if !ok || !item.Counted {
			continue
		}
		n := one.Count / b.Quantity * len(p.good)
		if p.last {
			n = one.Count - used[item.ID]
		}
		if n > 0 {
			moves = append(moves, timber.Move{Thing: claims.Item(item.ID), Quantity: -n, Kind: timber.Used, HappenedAt: f.At, BuildID: &b.ID})
		}
	}
	return moves, nil
}

func itemsOf(ctx context.Context, q postgres.Querier, b Build) (map[string]timber.Item, error) {
	codes := make([]string, len(b.Fittings))
	for i, one := range b.Fittings {
		codes[i] = one.ID
	}
	return timber.ItemsByCode(ctx, q, codes)
}

// fittingsUsed gives what a build has used of each item so far.
func fittingsUsed(ctx context.Context, q postgres.Querier, build int64) (map[int64]int, error) {
	type row struct {
		ItemID int64 `db:"item_id"`
		Used   int   `db:"used"`
	}
	list, err := postgres.List[row](ctx, q, `SELECT item_id, -sum(quantity)::int AS used FROM stock_move WHERE build_id = $1 AND item_id IS NOT NULL AND kind = 'used' GROUP BY item_id ORDER BY item_id`, build)
	out := map[int64]int{}
	for _, u := range list {
		out[u.ItemID] = u.Used
	}
	return out, err
}

// fittingsLeft gives what a build still needs of its fittings: those of finished pieces are
// used already.
func fittingsLeft(ctx context.Context, q postgres.Querier, b Build, items map[string]timber.Item) ([]hive.Fitting, error) {
	if b.Finished == 0 {
		return b.Fittings, nil
	}
	used, err := fittingsUsed(ctx, q, b.ID)
	left := slices.Clone(b.Fittings)
	for i, f := range left {
		left[i].Count = max(0, f.Count-used[items[f.ID].ID])
	}
	return left, err
}
