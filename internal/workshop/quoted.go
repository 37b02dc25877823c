package workshop

import (
	"context"
	"math"
	"slices"

	"kerfbook/internal/postgres"
)

// quotedLine is what a line of an order was quoted with: the boxes of a build that go to it.
type quotedLine struct {
	RevisionID int64   `db:"revision_id"`
	OptionIDs  []int64 `db:"option_ids"`
	Pieces     int     `db:"pieces"`
}

// quoteOperations notes on the operations of a build of boxes what the buyers of its pieces
// were quoted, each order with its own set-up, and what of the time spent is a share of
// whole days. What an order was quoted stands in its revision and options; a build may have
// later ones.
func quoteOperations(ctx context.Context, q postgres.Querier, b *Build) error {
	shares, err := postgres.List[struct {
		OperationID int64   `db:"build_operation_id"`
		Minutes     float64 `db:"minutes"`
	}](ctx, q, `SELECT t.build_operation_id, (extract(epoch FROM sum(t.stopped_at - t.started_at)) / 60)::float8 AS minutes FROM time_spell t JOIN build_operation o ON o.id = t.build_operation_id
		WHERE o.build_id = $1 AND t.split_on IS NOT NULL GROUP BY 1`, b.ID)
	if err != nil {
		return err
	}
	for _, s := range shares {
		if i := slices.IndexFunc(b.Operations, func(o Operation) bool { return o.ID == s.OperationID }); i >= 0 {
			b.Operations[i].SplitMin = s.Minutes
		}
	}
	if b.Units == 0 || b.Makes != MakesBox {
		return nil
	}
	lines, err := postgres.List[quotedLine](ctx, q, `SELECT l.model_revision_id AS revision_id, ARRAY(SELECT e.v::bigint FROM jsonb_array_elements_text(l.options) WITH ORDINALITY e(v, n) ORDER BY e.n) AS option_ids, count(*)::int AS pieces
		FROM build_output x JOIN order_unit u ON u.id = x.order_unit_id JOIN order_line l ON l.id = u.order_line_id
		WHERE x.build_id = $1 AND x.spoiled_at IS NULL AND l.model_revision_id IS NOT NULL GROUP BY l.id ORDER BY l.id`, b.ID)
	if err != nil {
		return err
	}
	for _, line := range lines {
		rev, err := revisionIn(ctx, q, line.RevisionID)
		if err != nil {
			return err
		}
		options, err := OptionsByID(ctx, q, line.OptionIDs)
		if err != nil {
			return err
		}
		model, err := Compose(rev, options)
		if err != nil {
			continue // an option was changed since, so that it does not go with this model any more
		}
		b.QuotedPieces += line.Pieces
		for _, o := range model.Operations {
			minutes := math.Ceil(o.SetupMinutes) + o.PieceMinutes*float64(line.Pieces)
			if i := slices.IndexFunc(b.Operations, func(x Operation) bool { return x.Name == o.ID }); i >= 0 {
				b.Operations[i].QuotedMin += minutes
			} else {
				b.QuotedElse += minutes
			}
		}
	}
	return nil
}

// RealMin is what of the minutes spent on an operation falls to n of its build's pieces.
func (o Operation) RealMin(n, of int) float64 {
	if of <= 0 {
		return 0
	}
	return o.SpentMin * float64(n) / float64(of)
}
