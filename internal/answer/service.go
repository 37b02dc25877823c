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

func (r *Room) serviceLine(ctx context.Context, at string, s ServiceLine, tax house.TaxState) (sales.Line, error) {
	svc, err := r.Sales.ServiceGet(ctx, s.ServiceID)
	if fault.Is(err, fault.NotFound) {
		return sales.Line{}, fault.Bad(at+"/service_id", "There is no such service.")
	}
	if err != nil {
		return sales.Line{}, err
	}
	if !s.Quantity.IsPositive() || s.Quantity.GreaterThan(decimal.NewFromInt(10_000)) || s.Quantity.Exponent() < -3 {
		return sales.Line{}, fault.Bad(at+"/quantity", "How many: more than nothing, at most 10000, at most three decimals.")
	}
	each := svc.UnitPriceMinor
	if s.UnitPriceMinor != nil {
		each = *s.UnitPriceMinor
	}
	if each < 0 || each > 1e9 {
		return sales.Line{}, fault.Bad(at+"/unit_price_minor", "The price cannot be negative, or this large.")
	}
	pct, err := tax.Pct(svc.TaxCode)
	if err != nil {
		return sales.Line{}, err
	}
	net := decimal.NewFromInt(each).Mul(s.Quantity).Round(0)
	split := costing.SplitTax(net.Shift(-2), pct, false)
	what := svc.Name
	if svc.HeldOn != nil {
		what += ", " + svc.HeldOn.Format("2 January 2006")
	}
	if svc.Each != "piece" {
		what += " (by the " + svc.Each + ")"
	}
	return sales.Line{Kind: "service", Description: what, Quantity: s.Quantity, UnitPriceMinor: each, TaxCode: svc.TaxCode, TaxPct: pct, ServiceID: &svc.ID,
		PriceExTaxMinor: net.IntPart(), TaxMinor: split.Tax.MinorUnits(), PriceMinor: net.IntPart() + split.Tax.MinorUnits(), OptionsJSON: []byte("[]"), NeedsJSON: []byte("{}")}, nil
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
