package books

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// AdjustmentNew says what to take off an invoice.
type AdjustmentNew struct {
	InvoiceID   int64
	LineIDs     []int64 // whole lines; none and no amount: all that is left of it
	AmountMinor int64   // instead of lines, with tax
	Why         string  // as the buyer reads it
	LowersPrice bool    // the buyer owes that much less; otherwise the pieces can be invoiced anew
}

// InvoiceAdjust takes an invoice off again, whole or in part, by an adjustment note (a
// credit note of a workshop that is not registered). The invoice itself never changes.
// Errors: Invalid; Conflict where less is left than is taken off, or the invoice is an
// adjustment itself.
func (r *Room) InvoiceAdjust(ctx context.Context, n AdjustmentNew, draw DrawInvoice) (Invoice, error) {
	var l fault.List
	n.Why = strings.TrimSpace(n.Why)
	l.Check(n.Why != "", "/why", "Say what it is for; the buyer reads it.")
	l.Text("/why", n.Why, 200)
	l.Check(n.AmountMinor >= 0, "/amount_minor", "An amount is more than nothing.")
	l.Check(n.AmountMinor == 0 || len(n.LineIDs) == 0, "/amount_minor", "Either lines or an amount, not both.")
	if err := l.Err(); err != nil {
		return Invoice{}, err
	}
	of, err := r.InvoiceGet(ctx, n.InvoiceID)
	if err != nil {
		return Invoice{}, err
	}
	if of.Kind == "adjustment" {
		return Invoice{}, fault.New(fault.Conflict, "%s takes off an invoice itself. Issue a new invoice instead.", of.Number)
	}
	return r.issue(ctx, of.OrderID, draw, func(ctx context.Context, tx pgx.Tx, _ house.Settings, inv *Invoice) error {
		inv.Kind, inv.AdjustsID, inv.AdjustsNumber, inv.Why, inv.LowersPrice = "adjustment", &of.ID, &of.Number, n.Why, n.LowersPrice
		inv.Registered = of.Registered // what was charged is what is taken off
		// The order's row is locked now; what was credited meanwhile counts.
		lines, err := postgres.List[InvoiceLine](ctx, tx, invoiceLines+`WHERE v.invoice_id = $1 ORDER BY v.position`, of.ID)
		if err != nil {
			return err
		}
		if n.AmountMinor > 0 {
			err = inv.takeAmount(lines, n.AmountMinor)
		} else {
			err = inv.takeLines(lines, n.LineIDs)
		}
		if err != nil {
			return err
		}
		return deductedAlready(ctx, tx, of, inv.Lines)
	})
}

// takeLines takes off all that is left of lines, of all of them where none is named.
func (inv *Invoice) takeLines(lines []InvoiceLine, ids []int64) error {
	named := map[int64]bool{}
	for _, id := range ids {
		named[id] = true
	}
	found := 0
	for _, l := range lines {
		if len(ids) > 0 && !named[l.ID] {
			continue
		}
		found++
		if left := l.PriceMinor - l.CreditedMinor; left != 0 {
			inv.Lines = append(inv.Lines, l.off(left))
		}
	}
	if found < len(named) {
		return fault.Bad("/line_ids", "Some of these lines are not of this invoice.")
	}
	if len(inv.Lines) == 0 {
		return fault.New(fault.Conflict, "All of this is taken off already.")
	}
	return nil
}

// takeAmount spreads an amount over the lines that stand, in proportion to what is left
// of each.
func (inv *Invoice) takeAmount(lines []InvoiceLine, minor int64) error {
	var left int64
	var groups []ahead
	for _, l := range lines {
		open := max(0, l.PriceMinor-l.CreditedMinor)
		left += open
		groups = append(groups, ahead{PriceExTax: open})
	}
	if minor > left {
		return fault.Bad("/amount_minor", "Only %s of this invoice is left.", amount(left))
	}
	for i, part := range spread(minor, groups) {
		if part != 0 {
			inv.Lines = append(inv.Lines, lines[i].off(part))
		}
	}
	return nil
}

// off is the line that takes minor units, with tax, off l; what takes off all that is
// left takes the rest of the tax with it.
func (l InvoiceLine) off(minor int64) InvoiceLine {
	tax := prorate(l.TaxMinor, minor, l.PriceMinor)
	if minor == l.PriceMinor-l.CreditedMinor {
		tax = l.TaxMinor - l.CreditedTaxMinor
	}
	return InvoiceLine{UnitID: l.UnitID, DeductsID: l.DeductsID, AdjustsLineID: &l.ID, Description: l.Description, Quantity: decimal.NewFromInt(1), UnitPriceMinor: -(minor - tax), TaxCode: l.TaxCode, TaxPct: l.TaxPct,
		PriceExTaxMinor: -(minor - tax), TaxMinor: -tax}
}

// deductedAlready refuses to take more off a deposit or progress invoice than later
// invoices have not taken off yet.
func deductedAlready(ctx context.Context, tx pgx.Tx, of Invoice, lines []InvoiceLine) error {
	if of.Kind == "final" {
		return nil
	}
	list, err := aheadOf(ctx, tx, of.OrderID)
	if err != nil {
		return err
	}
	var left, wanted int64
	for _, a := range list {
		if a.InvoiceID == of.ID {
			left += a.PriceExTax + a.Tax
		}
	}
	for _, l := range lines {
		wanted -= l.PriceExTaxMinor + l.TaxMinor
	}
	if wanted > left {
		return fault.New(fault.Conflict, "Only %s of invoice %s is not taken off by a later invoice yet. Take that one off first.", amount(left), of.Number)
	}
	return nil
}

// AdjustmentsOf gives what was taken off an invoice, oldest first, without lines.
func (r *Room) AdjustmentsOf(ctx context.Context, id int64) ([]Invoice, error) {
	return postgres.List[Invoice](ctx, r.db, invoiceSelect+`WHERE i.adjusts_id = $1 ORDER BY i.id`, id)
}

// InvoicedButGone gives the invoices of an order on which pieces stand that were
// cancelled since and are not taken off, oldest first, without lines.
func (r *Room) InvoicedButGone(ctx context.Context, order int64) ([]Invoice, error) {
	return postgres.List[Invoice](ctx, r.db, invoiceSelect+`WHERE i.order_id = $1 AND i.kind <> 'adjustment' AND EXISTS (SELECT 1 FROM invoice_line v JOIN order_unit u ON u.id = v.order_unit_id AND u.cancelled_at IS NOT NULL
	WHERE v.invoice_id = i.id AND v.price_minor + coalesce((SELECT sum(a.price_minor) FROM invoice_line a WHERE a.adjusts_line_id = v.id), 0) > 0) ORDER BY i.id`, order)
}
