package answer

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
)

// errLook ends a transaction that only looked.
var errLook = errors.New("only looked")

// OrderShort says in plain words what is short for the pieces of an order that have
// neither box, colony nor build yet, were everything laid out anew now. It changes
// nothing: what it tries is undone.
func (r *Room) OrderShort(ctx context.Context, id int64) ([]string, error) {
	var short []string
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		if short, err = r.layOut(ctx, tx, id); err != nil {
			return err
		}
		return errLook
	})
	if errors.Is(err, errLook) {
		err = nil
	}
	return short, err
}

// OrderPutAside lays out anew what stands aside for an order: boxes, pieces of builds,
// timber and fittings as there are now. It gives what is still short. Errors: NotFound.
func (r *Room) OrderPutAside(ctx context.Context, id int64) ([]string, error) {
	var short []string
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		short, err = r.layOut(ctx, tx, id)
		return err
	})
	return short, err
}

// freeStock ends the claims of a unit on boards and fittings; the colony it has stays.
func (r *Room) freeStock(ctx context.Context, tx pgx.Tx, unit int64) error {
	open, err := claims.OpenFor(ctx, tx, claims.Unit(unit))
	if err != nil {
		return err
	}
	var ids []int64
	for _, c := range open {
		if c.Thing.Kind != claims.ColonyKind {
			ids = append(ids, c.ID)
		}
	}
	_, err = claims.End(ctx, tx, r.db.Now(), ids, claims.Freed, "Laid out anew")
	return err
}

func (r *Room) layOut(ctx context.Context, tx pgx.Tx, id int64) ([]string, error) {
	o, err := r.Sales.OrderGet(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, l := range o.Lines {
		for _, u := range l.Units {
			if !u.Open() || u.BoxID != nil || u.BuildID != nil {
				continue
			}
			if err := r.freeStock(ctx, tx, u.ID); err != nil {
				return nil, err
			}
		}
	}
	quote := deref(o.QuoteID)
	return r.putAside(ctx, o, quote)
}
