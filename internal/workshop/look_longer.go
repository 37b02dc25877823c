package workshop

import (
	"context"
	"encoding/json"
	"errors"
	"slices"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/cutting"
)

// Planner lays the parts of one question on its boards, as [cutting.Plan] does.
type Planner func(ctx context.Context, in cutting.In) (cutting.Out, error)

type plannerKey struct{}

// WithPlanner gives a context in which cutting plans are laid by another than
// [cutting.Plan], such as one that knows the answer of a long search.
func WithPlanner(ctx context.Context, p Planner) context.Context {
	return context.WithValue(ctx, plannerKey{}, p)
}

// planBoards is the one call of the cutting calculation.
func planBoards(ctx context.Context, in cutting.In) (cutting.Out, error) {
	if p, ok := ctx.Value(plannerKey{}).(Planner); ok {
		return p(ctx, in)
	}
	return cutting.Plan(ctx, in)
}

// CuttingKey names a question: two with one key have the same plans. How long to look,
// and the age of offcuts by a day or so, make no other question of it.
func CuttingKey(in cutting.In) string {
	in.TimeLimitMS, in.WorkLimit = nil, nil
	in.Boards = slices.Clone(in.Boards)
	for i := range in.Boards {
		in.Boards[i].AgeDays = 0
	}
	raw, err := json.Marshal(in)
	if err != nil {
		panic(err) // numbers and texts
	}
	return string(raw)
}

var errOnlyAsked = errors.New("only asked")

// CuttingQuestions gives what laying the cutting plans of an open build anew would ask of
// the calculation now, as plans that are not kept, and changes nothing. Errors: NotFound,
// Conflict.
func (r *Room) CuttingQuestions(ctx context.Context, buildID int64) ([]CuttingPlan, error) {
	var b Build
	quick := WithPlanner(ctx, func(ctx context.Context, in cutting.In) (cutting.Out, error) {
		least := 1
		in.WorkLimit = &least
		return cutting.Plan(ctx, in)
	})
	err := r.db.WithTx(quick, func(ctx context.Context, _ pgx.Tx) error {
		var err error
		if b, err = r.CuttingLay(ctx, buildID); err != nil {
			return err
		}
		return errOnlyAsked
	})
	if !errors.Is(err, errOnlyAsked) {
		return nil, err
	}
	var list []CuttingPlan
	seen := map[string]bool{}
	for _, p := range b.Plans {
		if key := CuttingKey(p.Asked); len(p.Asked.Parts) > 0 && !seen[key] {
			seen[key] = true
			list = append(list, p)
		}
	}
	return list, nil
}
