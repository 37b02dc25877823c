package answer

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/books"
	"kerfbook/internal/calc/costing"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// ShelfSale sells boxes that stand on the shelf, now and in one step.
type ShelfSale struct {
	Serials    []string
	PartyID    int64  // 0: Name, who becomes a party
	Name       string // of somebody who is not in the book yet
	Phone      string
	SiteID     *int64
	PriceMinor int64     // of all together, with tax; 0: the list price
	Method     string    // cash, transfer, card, cheque, in kind
	InKind     string    // what was given instead
	HappenedAt time.Time // zero: now
	ReceivedBy string    // empty: the buyer
}

// Sold is what came of a sale from the shelf.
type Sold struct {
	Order     sales.Order
	Payment   books.Payment
	Handovers []handover.Handover
}

// SellFromShelf makes the order, takes the payment with its receipt, and hands the boxes
// over, with the workshop's colonies that live in them, all in one transaction. Errors:
// Invalid; Conflict for a box that is not ours, promised to somebody else or gone, or in
// which bees live that are held back or another's.
func (r *Room) SellFromShelf(ctx context.Context, s ShelfSale) (Sold, error) {
	var l fault.List
	l.Check(len(s.Serials) > 0, "/serials", "Say which box is sold.")
	l.Check(len(s.Serials) <= 20, "/serials", "At most 20 boxes at once.")
	l.Check(s.PartyID != 0 || strings.TrimSpace(s.Name) != "", "/name", "Say who buys it.")
	l.Check(s.PriceMinor >= 0 && s.PriceMinor <= 1e11, "/price_minor", "The price cannot be negative.")
	if err := l.Err(); err != nil {
		return Sold{}, err
	}
	var out Sold
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if s.HappenedAt.IsZero() {
			s.HappenedAt = r.db.Now()
		}
		buyer, err := r.buyer(ctx, s)
		if err != nil {
			return err
		}
		list, err := r.shelfBoxes(ctx, s.Serials, buyer.ID)
		if err != nil {
			return err
		}
		lines, err := r.saleLines(ctx, s, list)
		if err != nil {
			return err
		}
		order, err := r.Sales.OrderMake(ctx, sales.NewOrder{PartyID: buyer.ID, SiteID: s.SiteID, HappenedAt: s.HappenedAt, Lines: lines})
		if err != nil {
			return err
		}
		if out.Payment, err = r.payNow(ctx, s, order); err != nil {
			return err
		}
		out.Handovers = nil
		for i, b := range list {
			g := Giving{UnitID: order.Lines[i].Units[0].ID, BoxID: &b.ID, SiteID: s.SiteID, HappenedAt: s.HappenedAt, ReceivedBy: s.ReceivedBy}
			if g.ReceivedBy == "" {
				g.ReceivedBy = buyer.Called()
			}
			if lines[i].WithColony {
				g.ColonyID = b.ColonyID
			}
			given, err := r.HandOver(ctx, g)
			if err != nil {
				return err
			}
			out.Handovers = append(out.Handovers, given.Handover)
		}
		out.Order, err = r.Sales.OrderGet(ctx, order.ID)
		return err
	})
	return out, err
}

func (r *Room) buyer(ctx context.Context, s ShelfSale) (sales.Party, error) {
	if s.PartyID != 0 {
		return r.Sales.PartyGet(ctx, s.PartyID)
	}
	p := sales.Party{Name: s.Name}
	if s.Phone != "" {
		p.Contacts = []sales.Contact{{Kind: "phone", Value: s.Phone}}
	}
	return r.Sales.PartyPut(ctx, p)
}

// shelfBoxes reads the boxes of a sale; each must be ours to sell.
func (r *Room) shelfBoxes(ctx context.Context, serials []string, buyer int64) ([]workshop.Box, error) {
	var list []workshop.Box
	seen := map[string]bool{}
	for i, serial := range serials {
		serial = strings.TrimSpace(serial)
		at := fmt.Sprintf("/serials/%d", i)
		b, err := r.Workshop.BoxBySerial(ctx, serial)
		switch {
		case fault.Is(err, fault.NotFound):
			return nil, fault.Bad(at, "There is no box %s in the book.", serial)
		case err != nil:
			return nil, err
		case seen[serial]:
			return nil, fault.Bad(at, "Box %s stands there twice.", serial)
		case b.ClaimedByUnitID != nil:
			return nil, fault.New(fault.Conflict, "Box %s is already promised to somebody else.", serial)
		case !b.Ours || b.GoneAt != nil || b.StolenAt != nil || b.HeldBackBecause != "":
			return nil, fault.New(fault.Conflict, "Box %s cannot be sold: it is not the workshop's, or it is held back, stolen or gone.", serial)
		}
		if err := r.beesInside(ctx, b.ID, buyer); err != nil {
			return nil, err
		}
		seen[serial] = true
		list = append(list, b)
	}
	return list, nil
}

// saleLines makes a line for each box: at the price given, shared by the list prices, or
// at the list price.
func (r *Room) saleLines(ctx context.Context, s ShelfSale, list []workshop.Box) ([]sales.Line, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	tax, err := house.TaxIn(ctx, r.db, today)
	if err != nil {
		return nil, err
	}
	pct, err := tax.Pct("standard")
	if err != nil {
		return nil, err
	}
	listed := make([]int64, len(list)) // with tax
	var all int64
	lines := make([]sales.Line, len(list))
	for i, b := range list {
		l, price, err := r.saleLine(ctx, b)
		if err != nil {
			return nil, err
		}
		if price == 0 && s.PriceMinor == 0 {
			return nil, fault.Bad("/price_minor", "There is no list price for box %s. Say what it is sold for.", b.Serial)
		}
		with := costing.SplitTax(decimal.New(price, -2), pct, false).Gross
		if step := decimal.New(set.RoundToMinor, -2); step.IsPositive() {
			with = costing.NewAmount(costing.RoundTo(with.Decimal, step))
		}
		listed[i] = with.MinorUnits()
		all += listed[i]
		lines[i] = l
	}
	left := s.PriceMinor
	for i := range lines {
		price := listed[i]
		switch {
		case s.PriceMinor == 0:
		case i == len(lines)-1:
			price = left
		case all > 0:
			price = s.PriceMinor * listed[i] / all
		default:
			price = s.PriceMinor / int64(len(lines))
		}
		left -= price
		split := costing.SplitTax(decimal.New(price, -2), pct, true)
		lines[i].TaxCode, lines[i].TaxPct = "standard", pct
		lines[i].PriceExTaxMinor, lines[i].TaxMinor, lines[i].PriceMinor = split.Net.MinorUnits(), split.Tax.MinorUnits(), price
		lines[i].UnitPriceMinor = lines[i].PriceExTaxMinor
	}
	return lines, nil
}

// saleLine describes a box that is sold, with its list price ex tax, 0 for none.
func (r *Room) saleLine(ctx context.Context, b workshop.Box) (sales.Line, int64, error) {
	l := sales.Line{Kind: "box", Description: "Box " + b.Serial + ", " + strings.Join(append([]string{b.What()}, b.OptionNames...), ", "), Quantity: decimal.NewFromInt(1),
		ModelRevisionID: b.RevisionID, TimberSpeciesID: b.SpeciesID, CostMinor: deref(b.CostMinor)}
	var subjects []string
	if b.RevisionID != nil {
		rev, err := r.Workshop.RevisionGet(ctx, *b.RevisionID)
		if err != nil {
			return l, 0, err
		}
		subjects = append(subjects, sales.Subject("model", rev.ModelID))
	}
	if b.ColonyID != nil {
		c, err := r.Apiary.ColonyGet(ctx, *b.ColonyID)
		if err != nil {
			return l, 0, err
		}
		if c.Ours() {
			l.WithColony, l.BeeSpeciesID = true, c.SpeciesID
			l.Description += ", with colony " + c.Number
			if c.SpeciesID != nil {
				subjects = append(subjects, sales.Subject("colony", *c.SpeciesID))
			}
		}
	}
	price, err := r.listSum(ctx, subjects)
	if clip := []rune(l.Description); len(clip) > fault.ShortText {
		l.Description = string(clip[:fault.ShortText])
	}
	return l, price, err
}

// listSum adds up list prices of today; 0 when one is missing.
func (r *Room) listSum(ctx context.Context, subjects []string) (int64, error) {
	if len(subjects) == 0 {
		return 0, nil
	}
	_, today, err := r.settings(ctx)
	if err != nil {
		return 0, err
	}
	prices, err := r.Sales.PricesOn(ctx, today, subjects...)
	if err != nil || len(prices) < len(subjects) {
		return 0, err
	}
	var sum int64
	for _, p := range prices {
		sum += p.PriceMinor
	}
	return sum, nil
}

func (r *Room) payNow(ctx context.Context, s ShelfSale, o sales.Order) (books.Payment, error) {
	if o.PriceMinor == 0 {
		return books.Payment{}, nil // given away
	}
	p, err := r.PaymentTake(ctx, books.Payment{OrderID: o.ID, Kind: "payment", Method: s.Method, InKind: s.InKind, AmountMinor: o.PriceMinor, HappenedAt: s.HappenedAt})
	return p.Payment, err
}

// Cancel says what of an order is cancelled, and how a deposit goes back.
type Cancel struct {
	sales.Cancellation
	RefundMethod string // cash, transfer, card, cheque; empty: transfer
}

// Cancelled is what came of it.
type Cancelled struct {
	Order  sales.Order
	Refund *books.Payment
	Freed  []string // what is free again, in plain words
}

// OrderCancel cancels open units of an order, frees what stood aside for them, and pays
// back what was decided of the deposit, in one transaction. Errors: as of
// sales.OrderCancel.
func (r *Room) OrderCancel(ctx context.Context, c Cancel) (Cancelled, error) {
	var out Cancelled
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		out = Cancelled{Freed: []string{}}
		units, err := r.Sales.OrderCancel(ctx, c.Cancellation)
		if err != nil {
			return err
		}
		for _, id := range units {
			open, err := claims.OpenFor(ctx, tx, claims.Unit(id))
			if err != nil {
				return err
			}
			for _, one := range open {
				out.Freed = append(out.Freed, freedWords(one))
			}
		}
		if err := r.freeUnits(ctx, tx, units, claims.Cancelled, because(c.Because)); err != nil {
			return err
		}
		if out.Order, err = r.Sales.OrderGet(ctx, c.OrderID); err != nil {
			return err
		}
		if back := deref(out.Order.DepositReturnedMinor); back > 0 {
			method := c.RefundMethod
			if method == "" {
				method = "transfer"
			}
			p, err := r.PaymentTake(ctx, books.Payment{OrderID: c.OrderID, Kind: "refund", Method: method, AmountMinor: back, Note: "Deposit returned"})
			if err != nil {
				return err
			}
			out.Refund = &p.Payment
			out.Order, err = r.Sales.OrderGet(ctx, c.OrderID)
			return err
		}
		return nil
	})
	return out, err
}

func freedWords(c claims.Claim) string {
	if c.Thing.Kind == claims.BoxKind || c.Thing.Kind == claims.ColonyKind {
		return c.Words + " is free again."
	}
	return fmt.Sprintf("%s of %s.", show.Count(int64(c.Quantity), "piece", "pieces"), c.Words)
}
