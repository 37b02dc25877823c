package answer

import (
	"context"
	"encoding/json"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/books"
	"kerfbook/internal/einvoice"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

// EInvoice writes an issued invoice or note as an electronic invoice (UBL 2.1), from what
// was frozen when it was issued, and gives its number. Error: Conflict when the buyer has
// no name.
func (r *Room) EInvoice(ctx context.Context, id int64) (xml []byte, number string, err error) {
	inv, err := r.Books.InvoiceGet(ctx, id)
	if err != nil {
		return nil, "", err
	}
	raw, err := r.Books.InvoiceFrozen(ctx, id)
	if err != nil {
		return nil, "", err
	}
	var frozen frozenInvoice
	if json.Unmarshal(raw, &frozen) != nil || frozen.E == nil { // issued before electronic invoices: as the records stand now
		e, err := r.eInvoiceDoc(ctx, inv, 0)
		if err != nil {
			return nil, "", err
		}
		frozen.E = &e
	}
	xml, err = einvoice.XML(*frozen.E)
	if err != nil {
		return nil, "", fault.Wrap(err, fault.Conflict, "Invoice %s cannot be written as an electronic invoice: seller, buyer and lines need names and quantities.", inv.Number)
	}
	return xml, inv.Number, nil
}

func (r *Room) eInvoiceDoc(ctx context.Context, inv books.Invoice, paid int64) (einvoice.Doc, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return einvoice.Doc{}, err
	}
	tax, err := house.TaxIn(ctx, r.db, inv.InvoiceOn)
	if err != nil {
		return einvoice.Doc{}, err
	}
	buyer, err := r.Sales.PartyGet(ctx, inv.PartyID)
	if err != nil {
		return einvoice.Doc{}, err
	}
	order, err := r.Sales.OrderGet(ctx, inv.OrderID)
	if err != nil {
		return einvoice.Doc{}, err
	}
	d := einvoice.Doc{Number: inv.Number, IssuedOn: inv.InvoiceOn.Format(time.DateOnly), DueOn: inv.DueOn.Format(time.DateOnly), Currency: set.Currency, MinorDigits: int32(set.MinorDigits), Registered: inv.Registered, TaxName: tax.Name,
		Order: order.TheirNumber, Note: inv.Why,
		Seller: einvoice.Party{Name: set.Name, Street: oneLine(set.Address), Town: set.Town, Postcode: set.Postcode, Region: set.Region, Country: set.Country, BusinessNumber: abnDigits(set.BusinessNumber), Email: set.Email, Phone: set.Phone},
		Buyer:  einvoice.Party{Name: buyer.Called(), Town: buyer.Town, Country: set.Country, BusinessNumber: abnDigits(buyer.BusinessNumber), Email: buyer.Email()}}
	if d.Order == "" {
		d.Order = order.Number
	}
	if inv.SuppliedOn != nil {
		d.SuppliedOn = inv.SuppliedOn.Format(time.DateOnly)
	}
	if inv.AdjustsNumber != nil {
		d.Credits, d.DueOn, paid = *inv.AdjustsNumber, "", 0
	}
	d.PaidMinor = min(max(0, paid), max(0, inv.PriceMinor))
	for _, l := range inv.Lines {
		d.Lines = append(d.Lines, einvoice.Line{What: oneLine(l.Description), Quantity: decimal.Max(l.Quantity, decimal.New(1, -3)), NetMinor: l.PriceExTaxMinor, TaxMinor: l.TaxMinor, TaxPct: l.TaxPct})
	}
	return d, nil
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// abnDigits are the digits of an Australian Business Number; of another number nothing.
func abnDigits(typed string) string {
	if written, ok := strings.CutPrefix(businessNumber(typed), "ABN "); ok {
		return strings.ReplaceAll(written, " ", "")
	}
	return ""
}
