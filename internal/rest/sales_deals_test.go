package rest

import (
	"context"
	"net/http"
	"strconv"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/books"
	"kerfbook/internal/sales"
)

// saleLine is n of a box at unit minor units each, taxed at 10 %.
func saleLine(n, unit int64) sales.Line {
	net := n * unit
	tax := (net + 5) / 10
	return sales.Line{Kind: "box", Description: "A box", Quantity: decimal.NewFromInt(n), UnitPriceMinor: unit, TaxPct: decimal.NewFromInt(10), PriceExTaxMinor: net, TaxMinor: tax, PriceMinor: net + tax, CostMinor: net / 2}
}

// issued gives an issued quote with one alternative a line.
func (c *client) issued(party int64, lines ...sales.Line) sales.Quote {
	c.t.Helper()
	q := sales.Quote{PartyID: party, DepositMinor: 1000}
	for _, l := range lines {
		q.Alternatives = append(q.Alternatives, sales.Alternative{Lines: []sales.Line{l}})
	}
	q, err := c.server.Sales.QuotePut(c.t.Context(), q)
	require.NoError(c.t, err)
	q, err = c.server.Sales.QuoteIssue(c.t.Context(), q.ID, q.Version, func(_ context.Context, q sales.Quote, _ time.Time) (any, []byte, error) {
		return map[string]string{"number": *q.Number}, []byte("%PDF " + *q.Number), nil
	})
	require.NoError(c.t, err)
	return q
}

func (c *client) order(party int64, lines ...sales.Line) sales.Order {
	c.t.Helper()
	o, err := c.server.Sales.OrderMake(c.t.Context(), sales.NewOrder{PartyID: party, Lines: lines})
	require.NoError(c.t, err)
	return o
}

func TestQuotesReadAndEndedOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p := c.addParty("Ottoline Brandreth", "")
	first, second := c.issued(p.ID, saleLine(2, 30000), saleLine(2, 35000)), c.issued(p.ID, saleLine(1, 30000))
	draft, err := c.server.Sales.QuotePut(t.Context(), sales.Quote{PartyID: p.ID, Alternatives: []sales.Alternative{{Lines: []sales.Line{saleLine(1, 100)}}}})
	require.NoError(t, err)
	var q api.Quote
	one := at("/api/v1/quotes/", first.ID)
	c.do("GET", one, nil).want(http.StatusOK).into(&q)
	require.Equal(t, api.QuoteStateIssued, q.State)
	require.Len(t, q.Alternatives, 2)
	require.Equal(t, int64(77000), q.Alternatives[1].PriceMinor, "2 x 350.00 and a tenth")
	require.Equal(t, "%PDF Q0001", string(c.do("GET", one+"/pdf", nil).want(http.StatusOK).Body))
	c.do("GET", at("/api/v1/quotes/", draft.ID, "/pdf"), nil).want(http.StatusConflict)
	c.do("POST", one+"/decline", `{"note":"too dear"}`).want(http.StatusOK).into(&q)
	require.Equal(t, api.QuoteStateDeclined, q.State)
	require.Equal(t, "too dear", *q.AnswerNote)
	c.do("POST", one+"/withdraw", `{}`).want(http.StatusConflict)
	c.do("POST", at("/api/v1/quotes/", second.ID, "/withdraw"), `{}`).want(http.StatusOK)
	c.do("DELETE", at("/api/v1/quotes/", second.ID), nil).want(http.StatusConflict)
	c.do("DELETE", at("/api/v1/quotes/", draft.ID), nil).want(http.StatusNoContent)
	var list api.QuoteList
	c.do("GET", "/api/v1/quotes", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 2)
	c.do("GET", "/api/v1/quotes?state=declined", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/quotes?state=lost", nil).want(http.StatusBadRequest)
}

func TestOrdersReadOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p := c.addParty("Ada Quill", "")
	l := saleLine(2, 30000)
	in := c.db.Now().AddDate(0, 1, 0).Truncate(24 * time.Hour)
	l.BoxOn = &in
	made := c.order(p.ID, l)
	var o api.Order
	one := at("/api/v1/orders/", made.ID)
	c.do("GET", one, nil).want(http.StatusOK).into(&o)
	require.Equal(t, api.OrderStateOpen, o.State)
	require.Equal(t, int64(66000), o.PriceMinor)
	require.Len(t, o.Lines[0].Units, 2)
	require.Equal(t, "to be built", o.Lines[0].Units[0].State)
	unit := at("/api/v1/order-units/", o.Lines[0].Units[1].ID, "/promise")
	later := in.AddDate(0, 0, 7).Format(time.DateOnly)
	c.do("POST", unit, `{"part":"box","day":"`+later+`","reason":"rain"}`).want(http.StatusOK).into(&o)
	require.Equal(t, later, *o.Lines[0].Units[1].PromisedBoxOn)
	require.Equal(t, []string{"/day"}, c.do("POST", unit, `{"part":"box","day":"2001-01-01"}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/order-units/999999/promise", `{"part":"box","day":"`+later+`"}`).want(http.StatusNotFound)
	var list api.OrderList
	c.do("GET", "/api/v1/orders?open=true&find=quill", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	require.Contains(t, string(c.do("GET", "/api/v1/orders?format=csv", nil).want(http.StatusOK).Body), "S0001")
	c.do("GET", "/api/v1/orders/999999", nil).want(http.StatusNotFound)
}

// checkAdvance invoices a deposit of an order and pays it from the credit of another one.
func (c *client) checkAdvance(party int64) {
	t := c.t
	next, paidUp := c.order(party, saleLine(1, 10000)), c.order(party, saleLine(1, 10000))
	invoices := at("/api/v1/orders/", next.ID, "/invoices")
	var ahead api.Invoice
	c.do("POST", invoices, `{"kind":"deposit","amount_minor":3300,"supplied_on":"2020-01-01"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", invoices, `{"kind":"deposit","amount_minor":3300}`).want(http.StatusCreated).into(&ahead)
	require.Equal(t, int64(300), ahead.TaxMinor)
	require.Equal(t, []string{"/invoice_on"}, c.do("POST", invoices, `{"invoice_on":"2020-01-01"}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", at("/api/v1/orders/", paidUp.ID, "/payments"), `{"kind":"payment","method":"cash","amount_minor":12000}`).want(http.StatusCreated)
	var made api.PaymentMade
	c.do("POST", at("/api/v1/orders/", next.ID, "/credit"), `{"from_order_id":`+strconv.FormatInt(paidUp.ID, 10)+`}`).want(http.StatusCreated).into(&made)
	require.Equal(t, int64(1000), made.Payment.AmountMinor)
	require.Equal(t, paidUp.Number, *made.Payment.OtherOrderNumber)
	c.do("POST", at("/api/v1/orders/", next.ID, "/credit"), `{"from_order_id":`+strconv.FormatInt(next.ID, 10)+`}`).want(http.StatusUnprocessableEntity)
}

func TestBooksReadOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	ctx := t.Context()
	p := c.addParty("Ada Quill", "")
	o := c.order(p.ID, saleLine(2, 30000))
	paid, err := c.server.Books.PaymentMake(ctx, books.Payment{OrderID: o.ID, Kind: "deposit", Method: "cash", AmountMinor: 10000},
		func(context.Context, books.Payment, int64) ([]byte, error) { return []byte("%PDF receipt"), nil })
	require.NoError(t, err)
	bare, err := c.server.Books.PaymentMake(ctx, books.Payment{OrderID: o.ID, Kind: "payment", Method: "transfer", AmountMinor: 500}, nil)
	require.NoError(t, err)
	inv, err := c.server.Books.InvoiceIssue(ctx, books.InvoiceNew{OrderID: o.ID}, func(context.Context, books.Invoice, int64) (any, []byte, error) {
		return 1, []byte("%PDF invoice"), nil
	})
	require.NoError(t, err)

	var payments api.OrderPayments
	c.do("GET", at("/api/v1/orders/", o.ID, "/payments"), nil).want(http.StatusOK).into(&payments)
	require.Equal(t, []int64{66000, 10500, 55500}, []int64{payments.OwedMinor, payments.PaidMinor, payments.BalanceMinor})
	c.do("GET", "/api/v1/orders/999999/payments", nil).want(http.StatusNotFound)
	var list api.PaymentList
	c.do("GET", "/api/v1/payments?limit=1", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/payments?limit=1&after="+*list.Next, nil).want(http.StatusOK).into(&list)
	require.Equal(t, "P0001", list.Items[0].Number)
	require.Contains(t, string(c.do("GET", "/api/v1/payments?format=csv", nil).want(http.StatusOK).Body), "P0002")
	var one api.Payment
	c.do("GET", at("/api/v1/payments/", paid.Payment.ID), nil).want(http.StatusOK).into(&one)
	require.True(t, one.HasReceipt)
	c.do("GET", "/api/v1/payments/999999", nil).want(http.StatusNotFound)
	require.Equal(t, "%PDF receipt", string(c.do("GET", at("/api/v1/payments/", paid.Payment.ID, "/receipt"), nil).want(http.StatusOK).Body))
	c.do("GET", at("/api/v1/payments/", bare.Payment.ID, "/receipt"), nil).want(http.StatusNotFound)

	var of api.OrderInvoices
	c.do("GET", at("/api/v1/orders/", o.ID, "/invoices"), nil).want(http.StatusOK).into(&of)
	require.Len(t, of.Items, 1)
	c.do("GET", "/api/v1/orders/999999/invoices", nil).want(http.StatusNotFound)
	require.Contains(t, string(c.do("GET", at("/api/v1/invoices/", inv.ID, "/e-invoice"), nil).want(http.StatusOK).Body), "<cbc:ID>I0001</cbc:ID>")
	c.do("GET", "/api/v1/invoices/999999/e-invoice", nil).want(http.StatusNotFound)
	path := at("/api/v1/invoices/", inv.ID, "/adjustments")
	var note api.Invoice
	c.do("POST", path, `{"amount_minor":3300,"why":"a dent","lowers_price":true}`).want(http.StatusCreated).into(&note)
	require.Equal(t, []int64{-3300, -300}, []int64{note.PriceMinor, note.TaxMinor})
	require.Equal(t, []string{"/amount_minor"}, c.do("POST", path, `{"amount_minor":6000000,"why":"too much"}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("GET", path, nil).want(http.StatusOK).into(&of)
	require.Len(t, of.Items, 1)
	c.do("GET", "/api/v1/invoices/999999/adjustments", nil).want(http.StatusNotFound)
	c.do("GET", at("/api/v1/orders/", o.ID, "/payments"), nil).want(http.StatusOK).into(&payments)
	require.Equal(t, int64(66000-3300), payments.OwedMinor)
	c.checkAdvance(p.ID)
	var report api.TaxReport
	c.do("GET", "/api/v1/tax-report?from=2020-01-01&to=2035-01-01&basis=accrual", nil).want(http.StatusOK).into(&report)
	var sum int64
	for _, d := range report.Documents {
		sum += d.TaxMinor
	}
	require.Equal(t, report.TaxDueMinor, sum, "the documents add up")
	require.Equal(t, int64(6000-300+300+1000), report.TaxDueMinor, "an invoice less its note, a deposit, an order paid up")
	require.Contains(t, string(c.do("GET", "/api/v1/tax-report?from=2020-01-01&to=2035-01-01&format=csv", nil).want(http.StatusOK).Body), "price_ex_tax_minor")
	cost := `{"name":"Rent","amount_minor":5000,"every":"month","next_on":"2026-01-10"}`
	var rent api.StandingCost
	made := c.do("POST", "/api/v1/standing-costs", cost).want(http.StatusCreated)
	made.into(&rent)
	c.do("GET", at("/api/v1/standing-costs/", rent.ID), nil).want(http.StatusOK)
	c.do("PUT", at("/api/v1/standing-costs/", rent.ID), cost).want(http.StatusPreconditionRequired)
	c.do("PUT", at("/api/v1/standing-costs/", rent.ID), `{"name":"Rent","amount_minor":6000,"every":"month","next_on":"2026-01-10"}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	require.Contains(t, string(c.do("GET", "/api/v1/standing-costs", nil).want(http.StatusOK).Body), "6000")
	var ahead api.MoneyAhead
	c.do("GET", "/api/v1/money-ahead?there_minor=100000", nil).want(http.StatusOK).into(&ahead)
	require.Len(t, ahead.Weeks, 12)
	require.Positive(t, ahead.Weeks[0].EndMinor)
	var earned api.Earned
	c.do("GET", "/api/v1/earned?from=2020-01-01&to=2035-01-01&by=month", nil).want(http.StatusOK).into(&earned)
	require.Empty(t, earned.Jobs, "nothing was handed over")
	require.Contains(t, string(c.do("GET", "/api/v1/earned?from=2020-01-01&to=2035-01-01&format=csv", nil).want(http.StatusOK).Body), "left_minor")
	c.do("GET", "/api/v1/earned?from=2020-01-01&to=2035-01-01&by=moon", nil).want(http.StatusBadRequest)
	var journal api.Journal
	c.do("GET", "/api/v1/journal?from=2020-01-01&to=2035-01-01", nil).want(http.StatusOK).into(&journal)
	sum = 0
	for _, l := range journal.Lines {
		sum += l.DebitMinor - l.CreditMinor
	}
	require.Zero(t, sum, "the journal balances")
	require.Contains(t, string(c.do("GET", "/api/v1/journal?from=2020-01-01&to=2035-01-01&format=csv", nil).want(http.StatusOK).Body), "Tax on sales,0.00,")
	require.Equal(t, []string{"/to"}, c.do("GET", "/api/v1/tax-report?from=2020-01-02&to=2020-01-01", nil).want(http.StatusUnprocessableEntity).pointers())
	c.do("GET", "/api/v1/tax-report?from=yesterday&to=2020-01-01", nil).want(http.StatusBadRequest)
	var invoices api.InvoiceList
	c.do("GET", "/api/v1/invoices", nil).want(http.StatusOK).into(&invoices)
	require.True(t, invoices.Items[0].Registered)
	require.Contains(t, string(c.do("GET", "/api/v1/invoices?format=csv", nil).want(http.StatusOK).Body), "I0001")
	c.do("GET", "/api/v1/invoices?limit=0", nil).want(http.StatusBadRequest)
	var whole api.Invoice
	c.do("GET", at("/api/v1/invoices/", inv.ID), nil).want(http.StatusOK).into(&whole)
	require.Len(t, whole.Lines, 2)
	require.Equal(t, int64(6000), whole.TaxMinor)
	require.Equal(t, "%PDF invoice", string(c.do("GET", at("/api/v1/invoices/", inv.ID, "/pdf"), nil).want(http.StatusOK).Body))
	c.do("GET", "/api/v1/invoices/999999/pdf", nil).want(http.StatusNotFound)
	c.do("GET", "/api/v1/invoices/overdue", nil).want(http.StatusOK).into(&of)
	require.Empty(t, of.Items, "due today is not overdue")
	var held api.DepositsHeld
	c.do("GET", "/api/v1/deposits-held", nil).want(http.StatusOK).into(&held)
	require.Equal(t, int64(10500), held.Items[0].PaidMinor)
}
