package answer

import (
	"context"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// TreeVisit notes a visit to a host tree; with stop, the stop of a round is done by it.
// Errors: those of [apiary.Room.HostTreeVisit]; Invalid for a stop of another tree.
func (r *Room) TreeVisit(ctx context.Context, v apiary.Visit, stop *int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := r.Apiary.HostTreeVisit(ctx, v); err != nil || stop == nil {
			return err
		}
		there, err := postgres.Value[bool](ctx, tx, `SELECT EXISTS (SELECT FROM run_stop WHERE id = $1 AND host_tree_id = $2)`, *stop, v.TreeID)
		if err != nil {
			return err
		}
		if !there {
			return fault.Bad("/run_stop_id", "This stop leads to another tree.")
		}
		return r.Handover.StopMark(ctx, *stop, "done", v.HappenedAt)
	})
}

// TreeBoxAway notes that the box was taken from a host tree; the book has it at its new
// place from then on, with the colony that lives in it, whose id it gives (0 for none).
// Errors: those of [apiary.Room.HostTreeBoxAway].
func (r *Room) TreeBoxAway(ctx context.Context, n apiary.BoxAway) (went int64, err error) {
	if n.At.IsZero() {
		n.At = r.db.Now()
	}
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		t, err := r.Apiary.HostTreeGet(ctx, n.TreeID)
		if err != nil {
			return err
		}
		if went, err = r.Apiary.HostTreeBoxAway(ctx, n); err != nil {
			return err
		}
		return r.Workshop.BoxPlaceTx(ctx, tx, *t.BoxID, n.SiteID, n.Place, n.At)
	})
	return went, err
}

// TreePut is [apiary.Room.HostTreePut]; a box that is fixed now stands at the tree from
// then on.
func (r *Room) TreePut(ctx context.Context, t apiary.HostTree) (out apiary.HostTree, err error) {
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		was := apiary.HostTree{}
		if t.ID != 0 {
			if was, err = r.Apiary.HostTreeGet(ctx, t.ID); err != nil {
				return err
			}
		}
		if out, err = r.Apiary.HostTreePut(ctx, t); err != nil {
			return err
		}
		if out.BoxID == nil || was.BoxID != nil && *was.BoxID == *out.BoxID {
			return nil
		}
		return r.Workshop.BoxPlaceTx(ctx, tx, *out.BoxID, out.SiteID, out.Name, r.db.Now())
	})
	return out, err
}
