package answer

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/books"
	"kerfbook/internal/calc/costing"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
)

// TypedIn is an order agreed before this book, or outside it, as it stands on the old
// paper. Its promises may be past.
type TypedIn struct {
	PartyID      int64
	SiteID       *int64
	HappenedAt   time.Time
	TheirNumber  string
	Notes        string
	DepositMinor int64 // asked for, with tax
	PaidMinor    int64 // received so far, with tax
	PaidMethod   string
	Lines        []TypedLine
}

// TypedLine is a line of such an order at an agreed price.
type TypedLine struct {
	Kind         string // as of sales.Line
	Description  string // empty: the model's name
	Count        int64
	PriceMinor   int64 // of all pieces together, with tax
	ModelID      int64 // 0: no model of ours
	BeeSpeciesID int64
	WithColony   bool
	BoxOn        *time.Time
	ColonyOn     *time.Time
}

// OrderTypedIn puts such an order into the book, with what was paid on it and what there
// is put aside for it. Tax is that of the day it was agreed. Errors: Invalid, NotFound.
func (r *Room) OrderTypedIn(ctx context.Context, t TypedIn) (Agreed, error) {
	var out Agreed
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		set, _, err := r.settings(ctx)
		if err != nil {
			return err
		}
		if t.HappenedAt.IsZero() {
			t.HappenedAt = r.db.Now()
		}
		tax, err := house.TaxIn(ctx, r.db, set.Today(t.HappenedAt))
		if err != nil {
			return err
		}
		n := sales.NewOrder{PartyID: t.PartyID, SiteID: t.SiteID, HappenedAt: t.HappenedAt, TheirNumber: t.TheirNumber, Notes: t.Notes, DepositMinor: t.DepositMinor, TypedIn: true}
		for i, l := range t.Lines {
			line, err := r.typedLine(ctx, fmt.Sprintf("/lines/%d", i), l, tax)
			if err != nil {
				return err
			}
			n.Lines = append(n.Lines, line)
		}
		order, err := r.Sales.OrderMake(ctx, n)
		if err != nil {
			return err
		}
		if t.PaidMinor > 0 {
			p := books.Payment{OrderID: order.ID, Kind: "deposit", Method: t.PaidMethod, AmountMinor: t.PaidMinor, HappenedAt: t.HappenedAt, Note: "Typed in with the order"}
			if _, err := r.Books.PaymentMake(ctx, p, nil); err != nil {
				return err
			}
		}
		out, err = r.agreed(ctx, order.ID, 0)
		return err
	})
	return out, err
}

func (r *Room) typedLine(ctx context.Context, at string, l TypedLine, tax house.TaxState) (sales.Line, error) {
	if l.Count < 1 {
		return sales.Line{}, fault.Bad(at+"/count", "At least one.")
	}
	if l.PriceMinor < 0 || l.PriceMinor > 1e11 {
		return sales.Line{}, fault.Bad(at+"/price_minor", "The price cannot be negative.")
	}
	pct, err := tax.Pct("standard")
	if err != nil {
		return sales.Line{}, err
	}
	split := costing.SplitTax(decimal.New(l.PriceMinor, -2), pct, true)
	out := sales.Line{Kind: l.Kind, Description: l.Description, Quantity: decimal.NewFromInt(l.Count), TaxCode: "standard", TaxPct: pct, PriceExTaxMinor: split.Net.MinorUnits(),
		TaxMinor: split.Tax.MinorUnits(), PriceMinor: l.PriceMinor, UnitPriceMinor: split.Net.MinorUnits() / l.Count, WithColony: l.WithColony, BoxOn: l.BoxOn, ColonyOn: l.ColonyOn}
	if l.BeeSpeciesID != 0 {
		out.BeeSpeciesID = &l.BeeSpeciesID
	}
	if l.ModelID != 0 {
		m, err := r.Workshop.ModelGet(ctx, l.ModelID)
		if err != nil {
			return sales.Line{}, err
		}
		out.ModelRevisionID = m.LatestID
		if out.Description == "" {
			out.Description = m.Name
		}
	}
	return out, nil
}
