package answer

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
)

// Agreed is an order that was made or varied, with what is short for it.
type Agreed struct {
	Order sales.Order
	Short []string // in plain words: how much of what is missing
}

// QuoteAccept takes an alternative of an issued quote: the event, the order and what is
// put aside for it, in one transaction. Of a quote dated at acceptance the dates are
// worked out now. A quote that varies an order frees what the old units had.
//
// Errors: as of sales.QuoteAccept; Conflict for a second yes.
func (r *Room) QuoteAccept(ctx context.Context, a sales.Acceptance) (Agreed, error) {
	var out Agreed
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		q, err := r.Sales.QuoteGet(ctx, a.QuoteID)
		if err != nil {
			return err
		}
		var dated *Answer
		if q.DateAtAcceptance {
			if dated, err = r.dateNow(ctx, q, a.AlternativeID); err != nil {
				return err
			}
		}
		order, err := r.Sales.QuoteAccept(ctx, a)
		if err != nil {
			return err
		}
		if q.VariesOrderID != nil {
			if err := r.freeVaried(ctx, tx, order.ID, "Varied by "+q.Name()); err != nil {
				return err
			}
		}
		if dated != nil {
			if err := r.promiseAll(ctx, order, *dated); err != nil {
				return err
			}
		}
		if q.EnquiryID != nil {
			if err := r.closeEnquiry(ctx, *q.EnquiryID, "Ordered: "+order.Number); err != nil {
				return err
			}
		}
		out, err = r.agreed(ctx, order.ID, q.ID)
		return err
	})
	return out, err
}

// agreed puts aside for an order and reads it anew.
func (r *Room) agreed(ctx context.Context, order, quote int64) (Agreed, error) {
	o, err := r.Sales.OrderGet(ctx, order)
	if err != nil {
		return Agreed{}, err
	}
	short, err := r.putAside(ctx, o, quote)
	if err != nil {
		return Agreed{}, err
	}
	o, err = r.Sales.OrderGet(ctx, order)
	return Agreed{Order: o, Short: append([]string{}, short...)}, err
}

// dateNow works out the dates of the alternative that is taken.
func (r *Room) dateNow(ctx context.Context, q sales.Quote, alternative int64) (*Answer, error) {
	for _, alt := range q.Alternatives {
		if alt.ID != alternative && (alternative != 0 || len(q.Alternatives) > 1) {
			continue
		}
		a, err := r.Ask(ctx, Question{Wish: alt.Wish(), PartyID: q.PartyID, SiteID: deref(q.SiteID), QuoteID: q.ID})
		return &a, err
	}
	return nil, nil // which one is taken is refused a step later
}

// promiseAll writes the dates worked out onto the units.
func (r *Room) promiseAll(ctx context.Context, o sales.Order, a Answer) error {
	for _, l := range o.Lines {
		for i, u := range l.Units {
			if i >= len(a.Units) || !u.Open() || (l.Kind != "box" && l.Kind != "colony") {
				continue
			}
			for part, on := range map[string]*time.Time{"box": a.Units[i].BoxOn, "colony": a.Units[i].ColonyOn} {
				if on == nil || part == "box" && !u.WantsBox || part == "colony" && !u.WantsColony {
					continue
				}
				if err := r.Sales.PromiseChange(ctx, u.ID, part, on, "Confirmed at acceptance"); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// freeVaried ends what stood aside for units of an order that are cancelled.
func (r *Room) freeVaried(ctx context.Context, tx pgx.Tx, order int64, why string) error {
	ids, err := postgres.Column[int64](ctx, tx, `SELECT u.id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id
WHERE l.order_id = $1 AND u.cancelled_at IS NOT NULL ORDER BY u.id`, order)
	if err != nil {
		return err
	}
	return r.freeUnits(ctx, tx, ids, claims.Freed, because(why))
}

// closeEnquiry closes the enquiry behind an order; one that is closed stays as it is.
func (r *Room) closeEnquiry(ctx context.Context, id int64, why string) error {
	e, err := r.Sales.EnquiryGet(ctx, id)
	if err != nil || e.ClosedAt != nil {
		return err
	}
	return r.Sales.EnquiryClose(ctx, id, why)
}

// NewOrder is an order without a quote: its lines, and wishes that are worked out now.
type NewOrder struct {
	sales.NewOrder
	Wishes []sales.Wish
}

// OrderMake makes an order without a quote, with what is put aside for it, in one
// transaction. Errors: Invalid, NotFound.
func (r *Room) OrderMake(ctx context.Context, n NewOrder) (Agreed, error) {
	var out Agreed
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		o := n.NewOrder
		o.Lines = append([]sales.Line{}, o.Lines...)
		for _, wish := range n.Wishes {
			a, err := r.Ask(ctx, Question{Wish: wish, PartyID: o.PartyID, SiteID: deref(o.SiteID)})
			if err != nil {
				return err
			}
			if len(a.Lines) == 0 {
				return fault.New(fault.Conflict, "This cannot be ordered yet. %s", strings.Join(texts(a.Reasons), " "))
			}
			o.Lines = append(o.Lines, a.Lines...)
			o.OwnBox = o.OwnBox || wish.OwnBox
		}
		order, err := r.Sales.OrderMake(ctx, o)
		if err != nil {
			return err
		}
		out, err = r.agreed(ctx, order.ID, 0)
		return err
	})
	return out, err
}

func speciesOnly(id int64) *apiary.Species { return &apiary.Species{ID: id} }
