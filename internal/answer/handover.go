package answer

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
)

// Giving is a unit that is handed over, with the evidence.
type Giving struct {
	UnitID     int64
	BoxID      *int64 // nil: the one put aside for it
	ColonyID   *int64 // nil: the one put aside for it
	SiteID     *int64 // nil: that of the unit or the order
	RunStopID  *int64
	HappenedAt time.Time // zero: now
	ReceivedBy string
	BeesIn     *int // in a minute
	BeesOut    *int
	Photo      []byte // JPEG or PNG; shrunk and without its place
	Note       string
	MassKG     *float64 // of the whole hive, weighed
	Fixing     string   // how it is fixed, for the sheet
}

// Given is what came of it.
type Given struct {
	Handover handover.Handover
	Warnings []string // what the maker should know; nothing stopped it
}

// HandOver gives a unit to its buyer: claims end, box and colony get their new owner and
// place with the movement record, the unit is marked, the sheet is drawn and kept, and
// follow-ups are set, all in one transaction. When the last box or colony of an order
// goes, its services count as done.
//
// Errors: Conflict for a unit that is not open, a box or colony that is not there or is
// promised to somebody else, a colony that is gone, held back or does not live in the
// box; Invalid; NotFound.
func (r *Room) HandOver(ctx context.Context, g Giving) (Given, error) {
	var photo []byte
	if len(g.Photo) > 0 {
		var err error
		if photo, err = house.Shrink(g.Photo); err != nil {
			return Given{}, err
		}
	}
	var out Given
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) (err error) {
		if g.RunStopID == nil {
			if g.RunStopID, err = r.Handover.StopOf(ctx, g.UnitID); err != nil {
				return err
			}
		}
		d, err := r.givingFacts(ctx, tx, g)
		if err != nil {
			return err
		}
		if d.warnings, err = r.minded(ctx, d); err != nil {
			return err
		}
		out.Warnings = d.warnings
		if err := r.give(ctx, tx, d); err != nil {
			return err
		}
		h := handover.Handover{UnitID: g.UnitID, RunStopID: g.RunStopID, BoxID: d.box, ColonyID: d.colony, SiteID: d.siteID, HappenedAt: d.at, ReceivedBy: g.ReceivedBy,
			BeesIn: g.BeesIn, BeesOut: g.BeesOut, Note: g.Note, MassKG: g.MassKG}
		var draw func(ctx context.Context, h handover.Handover) ([]byte, error)
		if d.box != nil || d.colony != nil {
			draw = func(ctx context.Context, h handover.Handover) ([]byte, error) {
				return r.drawHandover(ctx, h, g.Fixing)
			}
		}
		if out.Handover, err = r.Handover.Make(ctx, h, draw); err != nil {
			return err
		}
		if photo != nil {
			if _, err := house.PhotoKeep(ctx, tx, "handover", out.Handover.ID, "At the handover", "image/jpeg", photo); err != nil {
				return err
			}
		}
		if g.RunStopID != nil {
			return r.Handover.StopMark(ctx, *g.RunStopID, "done", d.at)
		}
		return nil
	})
	return out, err
}

// giving is a handover with what was found out about it.
type giving struct {
	Giving
	at       time.Time
	order    sales.Order
	line     sales.Line
	unit     sales.Unit
	box      *int64
	colony   *int64
	siteID   *int64
	place    string
	open     []claims.Claim
	warnings []string
}

// givingFacts checks that the unit can go.
func (r *Room) givingFacts(ctx context.Context, tx pgx.Tx, g Giving) (giving, error) {
	d := giving{Giving: g, at: g.HappenedAt, warnings: []string{}}
	if d.at.IsZero() {
		d.at = r.db.Now()
	}
	if strings.TrimSpace(g.ReceivedBy) == "" {
		return d, fault.Bad("/received_by", "Say who received it.")
	}
	if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM order_unit WHERE id = $1 FOR UPDATE`, g.UnitID); err != nil {
		return d, err
	}
	var err error
	if d.order, err = r.Sales.OrderOfUnit(ctx, g.UnitID); err != nil {
		return d, err
	}
	d.line, d.unit = unitIn(d.order, g.UnitID)
	if !d.unit.Open() {
		return d, fault.New(fault.Conflict, "This piece is %s already.", d.unit.State())
	}
	if d.open, err = claims.OpenFor(ctx, tx, claims.Unit(g.UnitID)); err != nil {
		return d, err
	}
	if err := r.bodies(ctx, tx, &d); err != nil {
		return d, err
	}
	return d, r.whereTo(ctx, &d)
}

// bodies finds the box and the colony: those named, else those put aside.
func (r *Room) bodies(ctx context.Context, tx pgx.Tx, d *giving) error {
	var err error
	if d.box, err = r.body(ctx, tx, d, claims.BoxKind, d.BoxID, d.unit.PromisedBoxOn); err != nil {
		return err
	}
	if d.colony, err = r.body(ctx, tx, d, claims.ColonyKind, d.ColonyID, d.unit.PromisedColonyOn); err != nil {
		return err
	}
	switch {
	case d.box == nil && d.unit.WantsBox && !d.unit.OwnBox:
		return fault.New(fault.Conflict, "No box is put aside for this piece. Choose the box that goes.")
	case d.colony == nil && d.unit.WantsColony:
		return fault.New(fault.Conflict, "No colony is put aside for this piece. Choose the colony that goes.")
	case d.colony == nil && d.box != nil:
		return r.beesInside(ctx, *d.box, d.order.PartyID)
	case d.colony == nil:
		return nil
	}
	c, err := r.Apiary.ColonyGet(ctx, *d.colony)
	if err != nil {
		return err
	}
	set, today, err := r.settings(ctx)
	if err != nil {
		return err
	}
	switch {
	case c.EndedAt != nil:
		return fault.New(fault.Conflict, "Colony %s is gone: %s. Choose another.", c.Number, c.EndedHow)
	case c.HeldBackBecause != "":
		return fault.New(fault.Conflict, "Colony %s is held back (%s). Release it first, or choose another.", c.Number, c.HeldBackBecause)
	case d.box != nil && (c.BoxID == nil || *c.BoxID != *d.box):
		return fault.New(fault.Conflict, "Colony %s does not live in this box by the book. House it there first.", c.Number)
	}
	if !c.Ready(house.DateIn(d.at, set.Location())) && !c.Ready(today) {
		d.warnings = append(d.warnings, "Colony "+c.Number+" was not seen settled yet.")
	}
	return nil
}

// body gives the box or colony that goes. One that is named and was not put aside is
// claimed first, so that nobody else's and nothing that cannot be promised goes.
func (r *Room) body(ctx context.Context, tx pgx.Tx, d *giving, kind claims.Kind, named *int64, promised *time.Time) (*int64, error) {
	var claimed *claims.Claim
	for i := range d.open {
		if d.open[i].Thing.Kind == kind {
			claimed = &d.open[i]
		}
	}
	switch {
	case named == nil && claimed == nil:
		return nil, nil
	case named == nil || claimed != nil && claimed.Thing.ID == *named:
		return &claimed.Thing.ID, nil
	case claimed != nil:
		if _, err := claims.End(ctx, tx, r.db.Now(), []int64{claimed.ID}, claims.Freed, "another one went"); err != nil {
			return nil, err
		}
	}
	_, err := claims.Put(ctx, tx, r.db.Now(), []claims.Want{{For: claims.Unit(d.unit.ID), Thing: claims.Thing{Kind: kind, ID: *named}, Quantity: 1, Strength: claims.PutAside, PromisedOn: promised}})
	return named, err
}

// whereTo finds the site and writes the place in words.
func (r *Room) whereTo(ctx context.Context, d *giving) error {
	for _, id := range []*int64{d.SiteID, d.unit.SiteID, d.order.SiteID} {
		if id != nil {
			d.siteID = id
			break
		}
	}
	d.place = d.order.PartyName
	if d.siteID == nil {
		return nil
	}
	s, err := r.Sales.SiteGet(ctx, *d.siteID)
	if err != nil {
		return err
	}
	if line := s.Line(); line != "" {
		d.place += ", " + line
	}
	d.place = because(d.place)
	return nil
}

// give ends the claims, moves stock, box and colony, and marks the unit.
func (r *Room) give(ctx context.Context, tx pgx.Tx, d giving) error {
	ended, err := claims.EndFor(ctx, tx, r.db.Now(), claims.Unit(d.unit.ID), claims.HandedOver, "")
	if err != nil {
		return err
	}
	for _, c := range ended {
		sold := (c.Thing.Kind == claims.ItemKind || c.Thing.Kind == claims.ShelfLotKind) && d.line.Kind != "box"
		if !sold {
			continue // boards and fittings of a box that was not built here stay on the rack
		}
		if _, err := timber.MoveTx(ctx, tx, r.db.Now(), timber.Move{Thing: c.Thing, Quantity: -c.Quantity, Kind: timber.Sold, HappenedAt: d.at, UnitID: &d.unit.ID}); err != nil {
			return err
		}
	}
	if d.box != nil {
		if err := r.Workshop.BoxOwnerTx(ctx, tx, *d.box, &d.order.PartyID, d.at, "handed over with order "+d.order.Number); err != nil {
			return err
		}
		if err := r.Workshop.BoxPlaceTx(ctx, tx, *d.box, d.siteID, d.place, d.at); err != nil {
			return err
		}
	}
	if d.colony != nil {
		m := apiary.Move{ColonyID: *d.colony, ChangesOwner: true, OwnerID: &d.order.PartyID, SiteID: d.siteID, Place: d.place, At: d.at, Note: "Handed over with order " + d.order.Number}
		if m.PermitID, err = r.stopPermit(ctx, d.RunStopID); err != nil {
			return err
		}
		if err := r.Apiary.Give(ctx, m); err != nil {
			return err
		}
		if d.unit.OwnBox {
			if _, err := r.Apiary.House(ctx, *d.colony, "other", nil, "the buyer's own box", d.at); err != nil {
				return err
			}
		}
	}
	if err := r.Sales.UnitHandOver(ctx, d.unit.ID, d.at); err != nil {
		return err
	}
	return r.closeServices(ctx, d)
}

// closeServices marks services and free text of an order as done once nothing else of it
// is open.
func (r *Room) closeServices(ctx context.Context, d giving) error {
	o, err := r.Sales.OrderGet(ctx, d.order.ID)
	if err != nil {
		return err
	}
	var left []int64
	for _, l := range o.Lines {
		for _, u := range l.Units {
			switch {
			case !u.Open():
			case l.Kind == "service" || l.Kind == "text":
				left = append(left, u.ID)
			default:
				return nil
			}
		}
	}
	for _, id := range left {
		if err := r.Sales.UnitHandOver(ctx, id, d.at); err != nil {
			return err
		}
	}
	return nil
}
