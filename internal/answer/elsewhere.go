package answer

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/postgres"
	"kerfbook/internal/workshop"
)

// BoxElsewhere says where a box stands from an instant on. Bees that live in it go along,
// and the move stands in the movement record. Errors: Invalid, NotFound; Conflict for bees
// that are held back.
func (r *Room) BoxElsewhere(ctx context.Context, box int64, m apiary.Move) (workshop.Box, error) {
	if m.At.IsZero() {
		m.At = r.db.Now()
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := r.Workshop.BoxGet(ctx, box)
		if err != nil {
			return err
		}
		if err := r.Workshop.BoxPlaceTx(ctx, tx, box, m.SiteID, m.Place, m.At); err != nil || b.ColonyID == nil {
			return err
		}
		m.ColonyID = *b.ColonyID
		return r.Apiary.Give(ctx, m)
	})
	if err != nil {
		return workshop.Box{}, err
	}
	return r.Workshop.BoxGet(ctx, box)
}

// ColonyElsewhere says where a colony stands from an instant on; the box it lives in goes
// along, and the move stands in the movement record. Errors: as [Room.BoxElsewhere].
func (r *Room) ColonyElsewhere(ctx context.Context, m apiary.Move) (apiary.Colony, error) {
	c, err := r.Apiary.ColonyGet(ctx, m.ColonyID)
	if err != nil {
		return c, err
	}
	if m.SiteID == nil && m.Place == "" {
		return c, fault.Bad("/place", "Say where it stands now.")
	}
	if c.BoxID != nil {
		_, err = r.BoxElsewhere(ctx, *c.BoxID, m)
	} else {
		err = r.Apiary.Give(ctx, m)
	}
	if err != nil {
		return c, err
	}
	return r.Apiary.ColonyGet(ctx, m.ColonyID)
}

// HouseColony moves a colony into another dwelling. Into a box that stands at another site
// it goes there, and the move stands in the movement record; a box from the workshop comes
// to the bees. It gives what the maker should know.
func (r *Room) HouseColony(ctx context.Context, m apiary.Housing) (warnings []string, err error) {
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if warnings, err = r.Apiary.HouseIn(ctx, m); err != nil || m.BoxID == nil {
			return err
		}
		moved, err := r.meet(ctx, tx, *m.BoxID, apiary.Move{ColonyID: m.ColonyID, At: m.At, Note: "Housed in box ", InSpite: m.InSpite})
		warnings = append(warnings, moved...)
		return err
	})
	return warnings, err
}

// meet brings the colony of m and the box it lives in now to one place, and says so where
// bees were moved.
func (r *Room) meet(ctx context.Context, tx pgx.Tx, box int64, m apiary.Move) ([]string, error) {
	at := m.At
	if at.IsZero() {
		at = r.db.Now()
	}
	c, err := r.Apiary.ColonyGet(ctx, m.ColonyID)
	if err != nil {
		return nil, err
	}
	b, err := r.Workshop.BoxGet(ctx, box)
	if err != nil {
		return nil, err
	}
	switch {
	case b.SiteID == nil && (c.SiteID != nil || c.PlaceName != "" && b.Place != c.PlaceName):
		if len(b.Places) > 0 && at.Before(b.Places[0].FromAt) {
			at = b.Places[0].FromAt
		}
		return nil, r.Workshop.BoxPlaceTx(ctx, tx, box, c.SiteID, c.PlaceName, at)
	case b.SiteID == nil || c.SiteID != nil && *c.SiteID == *b.SiteID:
		return nil, nil
	}
	m.SiteID, m.Place, m.At, m.Note = b.SiteID, b.Place, at, m.Note+b.Serial
	return []string{"The box stands elsewhere by the book, so the bees went there; the move stands in the movement record."}, r.Apiary.Give(ctx, m)
}

// StopMark is [Room.StopMarkAnyway] of a stop whose bees nothing holds back.
func (r *Room) StopMark(ctx context.Context, stop int64, what string, at time.Time) error {
	return r.StopMarkAnyway(ctx, stop, what, at, "")
}

// StopMarkAnyway notes what happened at a stop. A stop that is done and carries a colony without
// an order has moved it: to the stop's site, and on a collection to the workshop. What goes
// to a buyer is moved by its handover. A stop that was done before moves nothing again. One
// with a colony that is held back is not done without the owner's reason in inSpite, which
// goes into the colony's log. Errors: Conflict without one, Forbidden for anybody else
// than the owner.
func (r *Room) StopMarkAnyway(ctx context.Context, stop int64, what string, at time.Time, inSpite string) error {
	if at.IsZero() {
		at = r.db.Now()
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		run, s, err := r.Handover.StopLock(ctx, tx, stop)
		if err != nil {
			return err
		}
		if what != "done" || s.DoneAt != nil {
			return r.Handover.StopMark(ctx, stop, what, at)
		}
		held, err := r.heldAt(ctx, tx, stop, inSpite)
		if err != nil {
			return err
		}
		if err := r.Handover.StopMark(ctx, stop, what, at); err != nil {
			return err
		}
		switch {
		case s.UnitID == nil && s.ColonyID != nil:
			return r.stopMoves(ctx, run, s, at, inSpite)
		case held != nil:
			_, err := r.Apiary.EventNote(ctx, apiary.Event{ColonyID: held.ColonyID, Kind: "moved", HappenedAt: at, Note: held.went(inSpite)})
			return err
		}
		return nil
	})
}

// stopMoves brings the colony of a stop to where the run takes it.
func (r *Room) stopMoves(ctx context.Context, run handover.Run, s handover.Stop, at time.Time, inSpite string) error {
	m := apiary.Move{ColonyID: *s.ColonyID, SiteID: s.SiteID, At: at, Note: "Run " + run.Number, InSpite: inSpite}
	switch {
	case run.Kind == "collection":
		m.SiteID, m.Place = nil, "the workshop"
	case run.Kind != "delivery" || s.SiteID == nil:
		return nil
	default:
		site, err := r.Sales.SiteGet(ctx, *s.SiteID)
		if err != nil {
			return err
		}
		m.Place = because(site.Line())
	}
	var err error
	if m.PermitID, err = r.stopPermit(ctx, &s.ID); err != nil {
		return err
	}
	_, err = r.ColonyElsewhere(ctx, m)
	return err
}

// stopPermit gives the permit under which the bees of a stop travel; nil when none is noted.
func (r *Room) stopPermit(ctx context.Context, stop *int64) (*int64, error) {
	return postgres.Value[*int64](ctx, r.db, `SELECT (SELECT permit_id FROM run_stop WHERE id = $1)`, stop)
}
