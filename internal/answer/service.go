package answer

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/costing"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
)

// ServiceOrder is an order of services: plain lines, nothing built.
type ServiceOrder struct {
	sales.NewOrder // without lines
	Services       []ServiceLine
}

// ServiceLine is so much of one service.
type ServiceLine struct {
	ServiceID      int64
	Quantity       decimal.Decimal
	UnitPriceMinor *int64 // each, without tax; nil: the service's
}

// ServiceOrderMake makes an order of services at their prices of today. Errors: Invalid,
// also where a course has too few seats left; NotFound.
func (r *Room) ServiceOrderMake(ctx context.Context, n ServiceOrder) (Agreed, error) {
	var out Agreed
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		_, today, err := r.settings(ctx)
		if err != nil {
			return err
		}
		tax, err := house.TaxIn(ctx, r.db, today)
		if err != nil {
			return err
		}
		if len(n.Services) == 0 {
			return fault.Bad("/lines", "Say what is ordered.")
		}
		n.Lines = nil
		for i, s := range n.Services {
			line, err := r.serviceLine(ctx, fmt.Sprintf("/lines/%d", i), s, tax)
			if err != nil {
				return err
			}
			n.Lines = append(n.Lines, line)
		}
		order, err := r.Sales.OrderMake(ctx, n.NewOrder)
		if err != nil {
			return err
		}
		out, err = r.agreed(ctx, order.ID, 0)
		return err
	})
	return out, err
}

const quantityWords = "How many: more than nothing, at most 10000, at most three decimals."

func goodQuantity(n decimal.Decimal) bool {
	return n.IsPositive() && n.LessThanOrEqual(decimal.NewFromInt(10_000)) && n.Exponent() >= -3
}

func goodPrice(minor int64) bool { return minor >= 0 && minor <= 1e9 }

func (r *Room) serviceLine(ctx context.Context, at string, s ServiceLine, tax house.TaxState) (sales.Line, error) {
	svc, err := r.Sales.ServiceGet(ctx, s.ServiceID)
	if fault.Is(err, fault.NotFound) {
		return sales.Line{}, fault.Bad(at+"/service_id", "There is no such service.")
	}
	if err != nil {
		return sales.Line{}, err
	}
	if !goodQuantity(s.Quantity) {
		return sales.Line{}, fault.Bad(at+"/quantity", quantityWords)
	}
	each := svc.UnitPriceMinor
	if s.UnitPriceMinor != nil {
		each = *s.UnitPriceMinor
	}
	if !goodPrice(each) {
		return sales.Line{}, fault.Bad(at+"/unit_price_minor", "The price cannot be negative, or this large.")
	}
	pct, err := tax.Pct(svc.TaxCode)
	if err != nil {
		return sales.Line{}, err
	}
	what := svc.Name
	if svc.HeldOn != nil {
		what += ", " + svc.HeldOn.Format("2 January 2006")
	}
	if svc.Each != "piece" {
		what += " (by the " + svc.Each + ")"
	}
	l := plainLine("service", what, s.Quantity, each, svc.TaxCode, pct)
	l.ServiceID = &svc.ID
	return l, nil
}

// plainLine is a line of so many at a price each without tax (minor units), with nothing built for it.
func plainLine(kind, what string, quantity decimal.Decimal, eachMinor int64, taxCode string, taxPct decimal.Decimal) sales.Line {
	net := decimal.NewFromInt(eachMinor).Mul(quantity).Round(0)
	tax := costing.SplitTax(net.Shift(-2), taxPct, false).Tax.MinorUnits()
	return sales.Line{Kind: kind, Description: what, Quantity: quantity, UnitPriceMinor: eachMinor, TaxCode: taxCode, TaxPct: taxPct,
		PriceExTaxMinor: net.IntPart(), TaxMinor: tax, PriceMinor: net.IntPart() + tax, OptionsJSON: []byte("[]"), NeedsJSON: []byte("{}")}
}

// ServiceDone notes that a service was done: a unit that holds neither box nor colony.
// Errors: Conflict for another unit, or one that is done or cancelled.
func (r *Room) ServiceDone(ctx context.Context, unit int64) (sales.Order, error) {
	var out sales.Order
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		o, err := r.Sales.OrderOfUnit(ctx, unit)
		if err != nil {
			return err
		}
		for _, l := range o.Lines {
			for _, u := range l.Units {
				if u.ID == unit && l.Kind != "service" && l.Kind != "text" && l.Kind != "goods" {
					return fault.New(fault.Conflict, "This is a piece of its own: hand it over.")
				}
			}
		}
		if err := r.Sales.UnitHandOver(ctx, unit, r.db.Now()); err != nil {
			return err
		}
		out, err = r.Sales.OrderGet(ctx, o.ID)
		return err
	})
	return out, err
}
