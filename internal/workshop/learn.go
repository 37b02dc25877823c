package workshop

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Minutes are learnt from at most so many builds, proposed from so many on, and only where
// they differ by so much; the standard counts like so many builds. Our choices.
const (
	teachMost    = 12
	teachLeast   = 3
	teachPrior   = 1.0
	teachDiffers = 0.1
	teachLookAt  = 200 // finished builds
)

// Learnt is what real time says of the minutes a piece of one operation of a model.
type Learnt struct {
	Operation   string
	StandardMin decimal.Decimal // a piece, as the latest revision has it
	RealMin     decimal.Decimal // a piece, the median of the builds
	BetterMin   decimal.Decimal // a piece, what is proposed
	Builds      int
	FromDays    int  // builds beside these of which whole days alone are known
	Worth       bool // it differs enough to be taken over
}

// RobustMinutes estimates minutes a piece from real ones of the last builds and the
// standard: the median of the builds, drawn towards the standard as if that had been one
// build more: (n median + standard) / (n + 1). Real minutes and standard are 0 or more.
// One build in n that went wrong, however badly, moves the median no further than to the
// next of the others. The median of an even number is the mean of the middle two. n = 0
// gives the standard. Source: the median's breakdown point of one half, P. J. Huber,
// Robust Statistics, 1981, section 1.4 (from memory); the weight of the standard is our
// choice.
func RobustMinutes(real []float64, standard float64) (median, better float64) {
	n := len(real)
	if n == 0 {
		return standard, standard
	}
	s := slices.Sorted(slices.Values(real))
	median = (s[(n-1)/2] + s[n/2]) / 2
	return median, (float64(n)*median + teachPrior*standard) / (float64(n) + teachPrior)
}

// ModelLearnt compares the standard minutes a piece of a model's latest revision with what
// the last finished builds of the model took: time written down on the operation, less its
// set-up, for each piece, beside the standard that the drawing of that build has today. Whole
// days that were split by standard minutes teach their total alone.
func (r *Room) ModelLearnt(ctx context.Context, modelID int64) ([]Learnt, error) {
	revs, err := r.RevisionList(ctx, modelID)
	if err != nil || len(revs) == 0 {
		return nil, err
	}
	latest := slices.MaxFunc(revs, func(a, b Revision) int { return a.Revision - b.Revision })
	ops, err := postgres.List[spentOp](ctx, r.db, spentOpsSQL(`SELECT b.id, b.quantity, b.model_revision_id, b.finished_at FROM build b JOIN model_revision r ON r.id = b.model_revision_id
		WHERE r.model_id = $1 AND b.makes = 'box' AND b.finished_at IS NOT NULL ORDER BY b.finished_at DESC, b.id DESC LIMIT $2`), modelID, teachLookAt)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(revs))
	for i, rev := range revs {
		ids[i] = rev.ID
	}
	f, err := figuresOf(ctx, r.db, ids)
	if err != nil {
		return nil, err
	}
	t := newTaught(f, byBuild(ops))
	var out []Learnt
	for _, o := range latest.Body.Operations {
		rate, ok := t.rate(o.ID, o.PieceMinutes)
		if !ok {
			continue
		}
		out = append(out, Learnt{Operation: o.ID, StandardMin: decimal.NewFromFloat(o.PieceMinutes).Round(1), RealMin: decimal.NewFromFloat(rate.median).Round(1), BetterMin: decimal.NewFromFloat(rate.better).Round(1),
			Builds: rate.builds, FromDays: rate.days, Worth: rate.builds+rate.days >= teachLeast && math.Abs(rate.better-o.PieceMinutes) > teachDiffers*math.Max(0.5, o.PieceMinutes)})
	}
	return out, nil
}

// LearntTake makes a new revision of a model with the minutes that were learnt for the
// operations named; its reason says from how many builds. Errors: NotFound, Invalid for an
// operation that has nothing to teach.
func (r *Room) LearntTake(ctx context.Context, modelID int64, operations []string) (Revision, error) {
	var out Revision
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		list, err := r.ModelLearnt(ctx, modelID)
		if err != nil {
			return err
		}
		revs, err := r.RevisionList(ctx, modelID)
		if err != nil {
			return err
		}
		if len(revs) == 0 {
			return fault.New(fault.NotFound, "There is no such model, or it is not drawn up yet.")
		}
		latest := slices.MaxFunc(revs, func(a, b Revision) int { return a.Revision - b.Revision })
		body, why := latest.Body, []string{}
		body.Operations = slices.Clone(body.Operations)
		var l fault.List
		l.Check(len(operations) > 0, "/operations", "Name an operation.")
		for i, name := range operations {
			at := fmt.Sprintf("/operations/%d", i)
			k := slices.IndexFunc(list, func(x Learnt) bool { return x.Operation == name && x.Worth })
			if !l.Check(k >= 0, at, "The builds teach nothing new about %q.", name) || !l.Check(!slices.Contains(operations[:i], name), at, "It is named twice.") {
				continue
			}
			for j := range body.Operations {
				if body.Operations[j].ID == name {
					body.Operations[j].PieceMinutes = list[k].BetterMin.InexactFloat64()
				}
			}
			why = append(why, fmt.Sprintf("%s %s minutes a piece instead of %s (%d builds)", name, list[k].BetterMin, list[k].StandardMin, list[k].Builds+list[k].FromDays))
		}
		if err := l.Err(); err != nil {
			return err
		}
		reason := []rune("Learnt: " + strings.Join(why, "; "))
		out, err = r.RevisionAdd(ctx, Drawing{ModelID: modelID, Body: body, FitID: latest.FitID, SerialSection: latest.SerialSection, Reason: string(reason[:min(len(reason), 200)])})
		return err
	})
	return out, err
}
