package answer

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// UnitsBuild is a build for units of orders.
type UnitsBuild struct {
	UnitIDs    []int64
	RevisionID int64      // must be that of the orders; 0: whatever it is
	TimberID   int64      // where the order names none; 0: the usual one
	Further    int        // boxes beyond the units, for the shelf
	DueOn      *time.Time // nil: the earliest promise that is not past
	NotBefore  *time.Time
	Notes      string
}

// BuildForUnits makes a build of the boxes that units wait for. What stood aside for the
// units in boards and fittings goes to the build. Errors: Invalid, NotFound; Conflict when
// the units want different boxes, or have a box or a build already.
func (r *Room) BuildForUnits(ctx context.Context, n UnitsBuild) (workshop.Build, error) {
	if len(n.UnitIDs) == 0 {
		return workshop.Build{}, fault.Bad("/units", "Say which pieces are built.")
	}
	if n.Further < 0 {
		return workshop.Build{}, fault.Bad("/further", "The number cannot be negative.")
	}
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		line, due, err := r.sameBox(ctx, tx, n.UnitIDs)
		if err != nil {
			return err
		}
		if n.RevisionID != 0 && n.RevisionID != *line.ModelRevisionID {
			return fault.Bad("/model_revision_id", "The order is for another model or revision: %s.", line.Description)
		}
		species := deref(line.TimberSpeciesID)
		if species == 0 {
			species = n.TimberID
		}
		if species == 0 {
			if species, err = r.usualTimber(ctx); err != nil {
				return err
			}
		}
		for _, unit := range n.UnitIDs {
			if err := r.relay(ctx, tx, unit); err != nil {
				return err
			}
		}
		if n.DueOn != nil {
			due = n.DueOn
		}
		id, err = r.Workshop.BuildMakeTx(ctx, tx, workshop.BuildNew{RevisionID: *line.ModelRevisionID, Quantity: len(n.UnitIDs) + n.Further, SpeciesID: species, OptionIDs: line.Options(),
			Units: n.UnitIDs, DueOn: due, NotBefore: n.NotBefore, Notes: n.Notes})
		return err
	})
	if err != nil {
		return workshop.Build{}, err
	}
	return r.Workshop.BuildGet(ctx, id)
}

// sameBox locks the units and gives the line that says what all of them are, and the
// earliest promise that is not past.
func (r *Room) sameBox(ctx context.Context, tx pgx.Tx, units []int64) (sales.Line, *time.Time, error) {
	if _, err := tx.Exec(ctx, `SELECT id FROM order_unit WHERE id = ANY ($1) ORDER BY id FOR UPDATE`, units); err != nil {
		return sales.Line{}, nil, err
	}
	_, today, err := r.settings(ctx)
	if err != nil {
		return sales.Line{}, nil, err
	}
	var first *sales.Line
	var due *time.Time
	for i, id := range units {
		at := fmt.Sprintf("/units/%d", i)
		o, err := r.Sales.OrderOfUnit(ctx, id)
		if err != nil {
			return sales.Line{}, nil, err
		}
		line, u := unitIn(o, id)
		switch {
		case !u.Open():
			return line, nil, fault.New(fault.Conflict, "Piece %d of order %s is %s already.", u.N, o.Number, u.State())
		case line.Kind != "box" || line.ModelRevisionID == nil:
			return line, nil, fault.Bad(at, "Piece %d of order %s is no box of a model.", u.N, o.Number)
		case u.BoxID != nil:
			return line, nil, fault.New(fault.Conflict, "Box %s is put aside for piece %d of order %s.", *u.BoxSerial, u.N, o.Number)
		case u.BuildID != nil:
			return line, nil, fault.New(fault.Conflict, "Build %s makes piece %d of order %s already.", *u.BuildNumber, u.N, o.Number)
		case first == nil:
			first = &line
		case *first.ModelRevisionID != *line.ModelRevisionID || deref(first.TimberSpeciesID) != deref(line.TimberSpeciesID) || !slices.Equal(sorted(first.Options()), sorted(line.Options())):
			return line, nil, fault.New(fault.Conflict, "These pieces are different boxes. Build those of one kind together.")
		}
		if u.PromisedBoxOn != nil && !u.PromisedBoxOn.Before(today) && (due == nil || u.PromisedBoxOn.Before(*due)) {
			due = u.PromisedBoxOn
		}
	}
	return *first, due, nil
}

func sorted(ids []int64) []int64 { return slices.Sorted(slices.Values(ids)) }

func unitIn(o sales.Order, id int64) (sales.Line, sales.Unit) {
	for _, l := range o.Lines {
		for _, u := range l.Units {
			if u.ID == id {
				return l.Line, u
			}
		}
	}
	return sales.Line{}, sales.Unit{}
}

// relay ends the claims of a unit on boards and fittings, so that its build can have them.
func (r *Room) relay(ctx context.Context, tx pgx.Tx, unit int64) error {
	open, err := claims.OpenFor(ctx, tx, claims.Unit(unit))
	if err != nil {
		return err
	}
	var ids []int64
	for _, c := range open {
		if c.Thing.Kind == claims.LotKind || c.Thing.Kind == claims.ItemKind || c.Thing.Kind == claims.PackKind {
			ids = append(ids, c.ID)
		}
	}
	_, err = claims.End(ctx, tx, r.db.Now(), ids, claims.Relaid, "goes to the build")
	return err
}
