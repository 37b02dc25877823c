package answer

import (
	"context"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
)

// BoxPutAside puts a box aside for a unit that wants one. Errors: Conflict when the unit
// has one, is not open, or the box is promised, not ours or held back, or bees live in it
// that may not go.
func (r *Room) BoxPutAside(ctx context.Context, unit, box int64) error {
	return r.bodyPutAside(ctx, unit, claims.Box(box), func(u sales.Unit) error {
		switch {
		case !u.WantsBox || u.OwnBox:
			return fault.New(fault.Conflict, "No box of ours goes with this piece.")
		case u.BoxID != nil:
			return fault.New(fault.Conflict, "Box %s is put aside for this piece already.", *u.BoxSerial)
		}
		o, err := r.Sales.OrderOfUnit(ctx, unit)
		if err != nil {
			return err
		}
		return r.beesInside(ctx, box, o.PartyID)
	})
}

// ColonyPutAside puts a colony aside for a unit that wants one. A colony that lives in a
// box of ours takes the box with it: where the unit wants a box and has none, that box is
// put aside too. Errors: Conflict as for BoxPutAside, and for a colony of another kind
// than was ordered.
func (r *Room) ColonyPutAside(ctx context.Context, unit, colony int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		c, err := r.Apiary.ColonyGet(ctx, colony)
		if err != nil {
			return err
		}
		u, err := r.Sales.UnitGet(ctx, unit)
		if err != nil {
			return err
		}
		if err := r.bodyPutAside(ctx, unit, claims.Colony(colony), func(u sales.Unit) error {
			switch {
			case !u.WantsColony:
				return fault.New(fault.Conflict, "No colony goes with this piece.")
			case u.ColonyID != nil:
				return fault.New(fault.Conflict, "Colony %s is put aside for this piece already.", *u.ColonyNumber)
			case u.BoxID != nil && c.BoxID != nil && *c.BoxID != *u.BoxID:
				return fault.New(fault.Conflict, "This colony lives in box %s, and box %s is put aside for this piece. House it there first, or free that box.", text(c.BoxSerial), *u.BoxSerial)
			}
			return r.rightKind(ctx, u, c.SpeciesID)
		}); err != nil {
			return err
		}
		if c.BoxID == nil || !u.WantsBox || u.OwnBox || u.BoxID != nil {
			return nil
		}
		return r.BoxPutAside(ctx, unit, *c.BoxID)
	})
}

// rightKind refuses a colony of another kind than the unit's line names.
func (r *Room) rightKind(ctx context.Context, u sales.Unit, species *int64) error {
	o, err := r.Sales.OrderOfUnit(ctx, u.ID)
	if err != nil {
		return err
	}
	for _, l := range o.Lines {
		if l.ID == u.OrderLineID && l.BeeSpeciesID != nil && (species == nil || *species != *l.BeeSpeciesID) {
			return fault.New(fault.Conflict, "This colony is of another kind than was ordered.")
		}
	}
	return nil
}

func (r *Room) bodyPutAside(ctx context.Context, unit int64, t claims.Thing, allowed func(sales.Unit) error) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM order_unit WHERE id = $1 FOR UPDATE`, unit); err != nil {
			return err
		}
		u, err := r.Sales.UnitGet(ctx, unit)
		if err != nil {
			return err
		}
		if !u.Open() {
			return fault.New(fault.Conflict, "This piece is %s already.", u.State())
		}
		if err := allowed(u); err != nil {
			return err
		}
		_, err = claims.Put(ctx, tx, r.db.Now(), []claims.Want{{For: claims.Unit(unit), Thing: t, Quantity: 1, Strength: claims.PutAside, PromisedOn: u.DueOn()}})
		return err
	})
}

// UnitFree frees what is put aside for a unit: its box, its colony or both.
func (r *Room) UnitFree(ctx context.Context, unit int64, box, colony bool, because string) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		open, err := claims.OpenFor(ctx, tx, claims.Unit(unit))
		if err != nil {
			return err
		}
		var ids []int64
		for _, c := range open {
			if box && c.Thing.Kind == claims.BoxKind || colony && c.Thing.Kind == claims.ColonyKind {
				ids = append(ids, c.ID)
			}
		}
		if len(ids) == 0 {
			return fault.New(fault.Conflict, "Nothing of this is put aside for this piece.")
		}
		_, err = claims.End(ctx, tx, r.db.Now(), ids, claims.Freed, because)
		return err
	})
}

func text(p *string) string {
	if p == nil {
		return ""
	}
	return *p
}
