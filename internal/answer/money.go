package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/books"
	"kerfbook/internal/einvoice"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/sales"
)

// PaymentTake notes a payment against an order with its receipt; a refund too. Errors: as
// of books.PaymentMake.
func (r *Room) PaymentTake(ctx context.Context, p books.Payment) (books.Result, error) {
	return r.Books.PaymentMake(ctx, p, func(ctx context.Context, p books.Payment, balance int64) ([]byte, error) {
		doc, err := r.receiptDoc(ctx, p, balance)
		if err != nil {
			return nil, err
		}
		return paper.Receipt(doc)
	})
}

var methodWords = map[string]string{"cash": "in cash", "transfer": "by bank transfer", "card": "by card", "cheque": "by cheque", "in kind": "in kind"}

func (r *Room) receiptDoc(ctx context.Context, p books.Payment, balance int64) (paper.ReceiptDoc, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return paper.ReceiptDoc{}, err
	}
	tax, err := house.TaxIn(ctx, r.db, today)
	if err != nil {
		return paper.ReceiptDoc{}, err
	}
	o, err := r.Sales.OrderGet(ctx, p.OrderID)
	if err != nil {
		return paper.ReceiptDoc{}, err
	}
	money := currency(set)
	d := paper.ReceiptDoc{Head: r.head(set, tax, p.Number, p.HappenedAt), Amount: money.Money(p.AmountMinor), How: methodWords[p.Method], On: paper.Day(house.DateIn(p.HappenedAt, set.Location())), Note: p.Note}
	if p.Method == "in kind" {
		d.How = "in kind: " + p.InKind
	}
	if d.From, err = r.paperParty(ctx, o.PartyID); err != nil {
		return d, err
	}
	d.For = map[string]string{"deposit": "Deposit on order ", "payment": "Order ", "refund": "Paid back on order "}[p.Kind] + o.Number
	switch {
	case balance > 0:
		d.Balance = money.Money(balance)
	case p.Kind == "payment" && balance == 0 && p.AmountMinor == o.PriceMinor && tax.Registered == (taxOf(o) != 0):
		d.Lines, d.EachHead, d.Totals = paperLines(money, orderLines(o)), eachHead(tax), totals(money, tax, o.PriceMinor-taxOf(o), taxOf(o), o.PriceMinor)
	}
	return d, nil
}

func orderLines(o sales.Order) []sales.Line {
	var list []sales.Line
	for _, l := range o.Lines {
		list = append(list, l.Line)
	}
	return list
}

func taxOf(o sales.Order) int64 {
	var sum int64
	for _, l := range o.Lines {
		sum += l.TaxMinor
	}
	return sum
}

// frozenInvoice is all that an issued invoice says.
type frozenInvoice struct {
	Doc paper.InvoiceDoc `json:"doc"`
	E   *einvoice.Doc    `json:"e_invoice,omitempty"` // none on invoices of before there were any
}

// InvoiceIssue issues an invoice with its paper. Errors: as of books.InvoiceIssue.
func (r *Room) InvoiceIssue(ctx context.Context, n books.InvoiceNew) (books.Invoice, error) {
	return r.Books.InvoiceIssue(ctx, n, r.drawInvoice)
}

// InvoiceAdjust issues an adjustment note with its paper. Errors: as of
// books.InvoiceAdjust.
func (r *Room) InvoiceAdjust(ctx context.Context, n books.AdjustmentNew) (books.Invoice, error) {
	return r.Books.InvoiceAdjust(ctx, n, r.drawInvoice)
}

func (r *Room) drawInvoice(ctx context.Context, inv books.Invoice, paid int64) (any, []byte, error) {
	doc, err := r.invoiceDoc(ctx, inv, paid)
	if err != nil {
		return nil, nil, err
	}
	pdf, err := paper.Invoice(doc)
	if err != nil {
		return nil, nil, fmt.Errorf("draw invoice %s: %w", inv.Number, err)
	}
	doc.Words = nil
	e, err := r.eInvoiceDoc(ctx, inv, paid)
	if err != nil {
		return nil, nil, err
	}
	return frozenInvoice{doc, &e}, pdf, nil
}

func (r *Room) invoiceDoc(ctx context.Context, inv books.Invoice, paid int64) (paper.InvoiceDoc, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return paper.InvoiceDoc{}, err
	}
	tax, err := house.TaxIn(ctx, r.db, inv.InvoiceOn)
	if err != nil {
		return paper.InvoiceDoc{}, err
	}
	money := currency(set)
	tax.Registered = inv.Registered // an adjustment follows the invoice it takes off
	d := paper.InvoiceDoc{Head: r.head(set, tax, inv.Number, inv.IssuedAt), Order: inv.OrderNumber, EachHead: eachHead(tax), Totals: totals(money, tax, inv.PriceExTaxMinor, inv.TaxMinor, inv.PriceMinor),
		PayWays: payWays(set), DueOn: paper.Day(inv.DueOn)}
	if d.Buyer, err = r.paperParty(ctx, inv.PartyID); err != nil {
		return d, err
	}
	var all []sales.Line
	taxed := inv.TaxMinor != 0
	for _, l := range inv.Lines {
		all = append(all, sales.Line{Description: l.Description, Quantity: l.Quantity, UnitPriceMinor: l.UnitPriceMinor, PriceMinor: l.PriceMinor, TaxMinor: l.TaxMinor})
		taxed = taxed && l.TaxMinor != 0
	}
	d.Lines = paperLines(money, all)
	o, err := r.Sales.OrderGet(ctx, inv.OrderID)
	if err != nil {
		return d, err
	}
	d.TheirOrder = o.TheirNumber
	if inv.SuppliedOn != nil {
		d.Supplied = paper.Day(*inv.SuppliedOn)
	}
	if taxed {
		d.TaxInside = fmt.Sprintf("The total includes %s of %s.", tax.Name, money.Money(inv.TaxMinor))
	}
	if inv.AdjustsNumber != nil {
		d.Credits, d.Note, d.DueOn, d.PayWays = *inv.AdjustsNumber, inv.Why, "", nil
		return d, nil
	}
	before, err := r.Books.InvoicesOf(ctx, inv.OrderID)
	if err != nil {
		return d, err
	}
	for _, b := range before {
		if b.ID != inv.ID && b.Number < inv.Number {
			paid -= b.PriceMinor // what earlier invoices asked for was paid first
		}
	}
	paid = min(max(0, paid), inv.PriceMinor)
	if paid > 0 {
		d.Received = []paper.Payment{{On: paper.Day(house.DateIn(inv.IssuedAt, set.Location())), How: "received so far", Amount: money.Money(paid)}}
	}
	d.Due = money.Money(inv.PriceMinor - paid)
	return d, nil
}

// orderDoc is the confirmation of an order as it stands now.
func (r *Room) orderDoc(ctx context.Context, o sales.Order, at time.Time) (paper.OrderDoc, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return paper.OrderDoc{}, err
	}
	tax, err := house.TaxIn(ctx, r.db, set.Today(o.HappenedAt))
	if err != nil {
		return paper.OrderDoc{}, err
	}
	money := currency(set)
	var lines []sales.Line
	for _, l := range o.Lines {
		if open := openQuantity(l); open > 0 {
			lines = append(lines, l.Line)
		}
	}
	var net, taxes, price int64
	for _, l := range lines {
		net, taxes, price = net+l.PriceExTaxMinor, taxes+l.TaxMinor, price+l.PriceMinor
	}
	d := paper.OrderDoc{Head: r.head(set, tax, o.Number, at), Accepted: paper.Day(house.DateIn(o.HappenedAt, set.Location())), Lines: paperLines(money, lines), EachHead: eachHead(tax),
		Totals: totals(money, tax, net, taxes, price), NoTax: !tax.Registered && taxes == 0, Balance: money.Money(o.BalanceMinor()), Units: unitPromises(o), PayWays: payWays(set), Terms: sentences(set.Terms), Note: o.Notes}
	d.Words = r.wording(ctx, o.Number)
	if o.DepositMinor > 0 {
		d.Deposit = money.Money(o.DepositMinor)
	}
	if price != o.PriceMinor {
		d.Totals = append(d.Totals, paper.Total{Label: "Less what is cancelled", Amount: money.Money(price - o.PriceMinor)})
	}
	if d.Buyer, err = r.paperParty(ctx, o.PartyID); err != nil {
		return d, err
	}
	if d.Site, err = r.paperSite(ctx, o.SiteID); err != nil {
		return d, err
	}
	if o.QuoteID != nil {
		q, err := r.Sales.QuoteGet(ctx, *o.QuoteID)
		if err != nil {
			return d, err
		}
		d.Quote = q.Name()
	}
	payments, err := r.Books.PaymentsOf(ctx, o.ID)
	if err != nil {
		return d, err
	}
	for _, p := range payments {
		amount := p.AmountMinor
		if p.Kind == "refund" {
			amount = -amount
		}
		d.Received = append(d.Received, paper.Payment{On: paper.Day(house.DateIn(p.HappenedAt, set.Location())), How: p.Kind + " " + methodWords[p.Method], Amount: money.Money(amount)})
	}
	_, d.Drawing, err = r.drawingOf(ctx, lines, true)
	return d, err
}

// openQuantity is how many units of a line are not cancelled.
func openQuantity(l sales.OrderLine) int {
	n := 0
	for _, u := range l.Units {
		if u.CancelledAt == nil {
			n++
		}
	}
	return n
}

// unitPromises says for each unit what was promised for when.
func unitPromises(o sales.Order) []paper.Promise {
	var list []paper.Promise
	for _, l := range o.Lines {
		for _, u := range l.Units {
			if u.CancelledAt != nil || (!u.WantsBox && !u.WantsColony) {
				continue
			}
			what := l.Description
			if len(l.Units) > 1 {
				what = fmt.Sprintf("%d. %s", u.N, l.Description)
			}
			p := paper.Promise{What: what, When: "to be agreed"}
			if on := u.DueOn(); on != nil {
				p.When = paper.Day(*on)
			}
			if u.BoxSerial != nil {
				p.Note = "box " + *u.BoxSerial
			}
			list = append(list, p)
		}
	}
	return list
}

// OrderConfirmation draws the confirmation of an order as it stands now.
func (r *Room) OrderConfirmation(ctx context.Context, id int64) ([]byte, error) {
	o, err := r.Sales.OrderGet(ctx, id)
	if err != nil {
		return nil, err
	}
	doc, err := r.orderDoc(ctx, o, r.db.Now())
	if err != nil {
		return nil, err
	}
	return paper.Order(doc)
}
