package cutting

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/calc/contract"
)

// Plan lays the parts of in on its boards.
//
// The search ends when the plan is proved to be the best, when the work limit is
// reached, or, unproved, when the time limit or ctx ends it. Under the work limit
// alone the same input gives the same plan everywhere, in whatever order its
// lists stand.
//
// Errors: *contract.Error for bad input: a part longer than every board, a kerf
// wider than a part, counts and lengths outside the limits, equal ids. What finds
// no room although it would fit a board is no error: it is in Out.Unplaced.
func Plan(ctx context.Context, in In) (Out, error) {
	started := time.Now()
	if err := validate(in); err != nil {
		return Out{}, err
	}
	m := newModel(in)
	e := newEffort(ctx, in, started)
	out := m.out(m.solve(e), e.work)
	if err := Check(in, out); err != nil {
		return Out{}, fmt.Errorf("the cutting plan failed its own check: %w", err)
	}
	return out, nil
}

const (
	defaultTimeMS = 1000
	// finishShare of the time limit, at most finishMost, is left for writing and checking
	// the plan.
	finishShare = 0.1
	finishMost  = 200 * time.Millisecond
	finishPiece = 300 * time.Nanosecond // more of it, for each piece
	// workPerMS is how many steps are asked of a millisecond: low enough for a
	// desk computer to reach the work limit before the clock does. Our estimate,
	// from the benchmark days.
	workPerMS = 800000
)

func newEffort(ctx context.Context, in In, started time.Time) *effort {
	limit := defaultTimeMS
	if in.TimeLimitMS != nil {
		limit = *in.TimeLimitMS
	}
	span := time.Duration(limit) * time.Millisecond
	finish := min(finishMost, time.Duration(finishShare*float64(span)))
	for _, p := range in.Parts {
		finish += time.Duration(p.Count) * finishPiece
	}
	e := &effort{ctx: ctx, deadline: started.Add(span - finish), limit: limit * workPerMS, watch: contract.WatchOf(ctx)}
	if in.WorkLimit != nil {
		e.limit = *in.WorkLimit
	}
	return e
}
