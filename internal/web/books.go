package web

import (
	"context"
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/books"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

func (s *Server) registerBooksPages(r *routes) {
	r.get(access.Books, "/books", s.handleBooks)
	r.get(access.Books, "/books/tax", s.handleTaxReport)
	r.get(access.Books, "/books/earned", s.handleEarned)
	r.get(access.Books, "/books/ahead", s.handleAhead)
	r.post(access.Books, "/books/ahead", s.handleAheadPost)
	r.get(access.Books, "/books/standing-costs/:id", s.handleStandingCost)
	r.post(access.Books, "/books/standing-costs/:id", s.handleStandingCostPost)
	r.get(access.Books, "/books/payments", s.handlePayments)
	r.get(access.Books, "/books/payments/:id", s.handlePayment)
	r.get(access.Books, "/books/payments/:id/pdf", s.handleReceiptPDF)
	r.get(access.Books, "/books/invoices", s.handleInvoices)
	r.get(access.Books, "/books/invoices/:id", s.handleInvoice)
	r.get(access.Books, "/books/invoices/:id/pdf", s.handleInvoicePDF)
	r.post(access.Books, "/books/invoices/:id/adjust", s.handleInvoiceAdjustPost)
}

type booksView struct {
	Overdue  []invoiceRow
	Held     []heldRow
	HeldSum  string
	Payments []paymentRow
	Invoices []invoiceRow
}

type invoiceRow struct {
	ID                                     int64
	Number, Who, Order, On, Due, Price, Is string
	OrderHref                              string
	Late                                   bool
}

type paymentRow struct {
	ID                                   int64
	Number, Who, Order, On, Kind, Amount string
	OrderHref                            string
}

type heldRow struct {
	Order, OrderHref, Who, Since, Amount string
	Old                                  bool
}

var booksPage = definePage[booksView]("books")

// heldLongYears is after how many years a deposit that is still held is marked.
const heldLongYears = 1

// booksShown is how many of the newest payments and invoices the page of books shows.
const booksShown = 10

func (s *Server) handleBooks(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today, cur := set.Today(s.DB.Now()), currency(set)
	var v booksView
	overdue, err := s.Books.InvoicesOverdue(ctx, today)
	if err != nil {
		return err
	}
	for _, i := range overdue {
		r := invoiceLine(i, set)
		r.Late = true
		v.Overdue = append(v.Overdue, r)
	}
	held, err := s.Books.DepositsHeld(ctx)
	if err != nil {
		return err
	}
	var sum int64
	for _, h := range held {
		since := house.DateIn(h.FirstAt, set.Location())
		sum += h.PaidMinor
		v.Held = append(v.Held, heldRow{h.OrderNumber, hrefOf("order", h.OrderID), h.PartyName, show.Date(since), cur.Money(h.PaidMinor), since.AddDate(heldLongYears, 0, 0).Before(today)})
	}
	v.HeldSum = cur.Money(sum)
	payments, _, err := s.Books.PaymentList(ctx, booksShown, "")
	if err != nil {
		return err
	}
	for _, p := range payments {
		v.Payments = append(v.Payments, paymentLine(p, set))
	}
	invoices, _, err := s.Books.InvoiceList(ctx, booksShown, "")
	if err != nil {
		return err
	}
	for _, i := range invoices {
		v.Invoices = append(v.Invoices, invoiceLine(i, set))
	}
	return booksPage.show(s, c, "Books", v)
}

func invoiceLine(i books.Invoice, set house.Settings) invoiceRow {
	r := invoiceRow{ID: i.ID, Number: i.Number, Who: i.PartyName, Order: i.OrderNumber, OrderHref: hrefOf("order", i.OrderID), On: show.Date(i.InvoiceOn), Due: show.Date(i.DueOn), Price: currency(set).Money(i.PriceMinor), Is: "Invoice"}
	switch {
	case i.Kind == "adjustment" && i.Registered:
		r.Is = "Adjustment note"
	case i.Kind == "adjustment":
		r.Is = "Credit note"
	case i.Registered:
		r.Is = "Tax invoice"
	}
	if i.Kind == "deposit" || i.Kind == "progress" {
		r.Is += " (" + i.Kind + ")"
	}
	return r
}

func paymentLine(p books.Payment, set house.Settings) paymentRow {
	amount := p.AmountMinor
	if p.Kind == "refund" {
		amount = -amount
	}
	return paymentRow{ID: p.ID, Number: p.Number, Who: p.PartyName, Order: p.OrderNumber, OrderHref: hrefOf("order", p.OrderID), On: show.Date(p.HappenedAt.In(set.Location())),
		Kind: p.Kind + ", " + p.Method, Amount: currency(set).Money(amount)}
}

type paymentsView struct {
	List listView
	Rows []paymentRow
}

var paymentsPage = definePage[paymentsView]("payments")

func (s *Server) handlePayments(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := paymentsView{List: listAt(c, "/books/payments", "")}
	list, next, err := s.Books.PaymentList(c.Request().Context(), 0, c.QueryParam("after"))
	if err != nil {
		return err
	}
	v.List.next(next)
	for _, p := range list {
		v.Rows = append(v.Rows, paymentLine(p, set))
	}
	return paymentsPage.show(s, c, "Payments", v)
}

type paymentView struct {
	ID      int64
	Facts   []fact
	Receipt bool
	Mailed  *mailed
}

var paymentPage = definePage[paymentView]("payment")

func (s *Server) handlePayment(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	p, err := s.Books.PaymentGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	r := paymentLine(p, set)
	v := paymentView{ID: id, Receipt: p.DocumentID != nil, Facts: facts(fact{Name: "Amount", Value: r.Amount}, fact{Name: "What", Value: r.Kind}, fact{Name: "In kind", Value: p.InKind},
		fact{Name: "When", Value: show.Time(p.HappenedAt, set.Location())}, fact{Name: "Order", Value: r.Order, Href: r.OrderHref}, fact{Name: "Who", Value: r.Who}, fact{Name: "Note", Value: p.Note})}
	if p.DocumentID != nil {
		if v.Mailed, err = s.mailedOf(c, "receipt", p.Number); err != nil {
			return err
		}
	}
	return paymentPage.show(s, c, "Payment "+p.Number, v)
}

func (s *Server) handleReceiptPDF(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	p, err := s.Books.PaymentGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	if p.DocumentID == nil {
		return fault.New(fault.NotFound, "No receipt was written for this payment.")
	}
	return s.sendPaper(c, *p.DocumentID)
}

// sendPaper sends the bytes of an issued paper.
func (s *Server) sendPaper(c echo.Context, id int64) error {
	p, err := s.House.PaperGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return sendPDF(c, p.Kind+"-"+p.Number, p.Bytes)
}

// paperOf sends the paper that draw makes of the record in the address.
func paperOf(draw func(ctx context.Context, id int64) (pdf []byte, name string, err error)) echo.HandlerFunc {
	return func(c echo.Context) error {
		id, err := pathID(c)
		if err != nil {
			return err
		}
		pdf, name, err := draw(c.Request().Context(), id)
		if err != nil {
			return err
		}
		return sendPDF(c, name, pdf)
	}
}

func sendPDF(c echo.Context, name string, pdf []byte) error {
	c.Response().Header().Set(echo.HeaderContentDisposition, `inline; filename="`+name+`.pdf"`)
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(http.StatusOK, "application/pdf", pdf)
}

type invoicesView struct {
	List listView
	Rows []invoiceRow
}

var invoicesPage = definePage[invoicesView]("invoices")

func (s *Server) handleInvoices(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := invoicesView{List: listAt(c, "/books/invoices", "")}
	list, next, err := s.Books.InvoiceList(c.Request().Context(), 0, c.QueryParam("after"))
	if err != nil {
		return err
	}
	v.List.next(next)
	for _, i := range list {
		v.Rows = append(v.Rows, invoiceLine(i, set))
	}
	return invoicesPage.show(s, c, "Invoices", v)
}

type invoiceView struct {
	ID              int64
	Facts           []fact
	Lines           []invoicedLine
	Net, Tax, Price string
	Registered      bool
	Adjustments     []invoiceRow
	Form            *Form // nil: nothing is left to take off
	Mailed          *mailed
	Note            bool // it takes off another one
	Ends            []Choice
}

type invoicedLine struct {
	What, Quantity, Amount, Credited string
	ID                               int64
	Left                             bool // something of it can be taken off
}

var invoicePage = definePage[invoiceView]("invoice")

func (s *Server) handleInvoice(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	i, err := s.Books.InvoiceGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	adjusted, err := s.Books.AdjustmentsOf(c.Request().Context(), id)
	if err != nil {
		return err
	}
	r, cur := invoiceLine(i, set), currency(set)
	v := invoiceView{ID: id, Net: cur.Money(i.PriceExTaxMinor), Tax: cur.Money(i.TaxMinor), Price: cur.Money(i.PriceMinor), Registered: i.Registered,
		Facts: facts(fact{Name: "To", Value: r.Who, Href: hrefOf("party", i.PartyID)}, fact{Name: "Order", Value: r.Order, Href: r.OrderHref}, fact{Name: "Issued", Value: r.On}, fact{Name: "Supplied", Value: show.DateOr(i.SuppliedOn, "")})}
	left := false
	for _, l := range i.Lines {
		line := invoicedLine{What: l.Description, Quantity: l.Quantity.String(), Amount: cur.Money(l.PriceMinor), ID: l.ID, Left: l.PriceMinor > l.CreditedMinor && l.PriceMinor > 0}
		if l.CreditedMinor > 0 {
			line.Credited = cur.Money(l.CreditedMinor)
		}
		left = left || line.Left
		v.Lines = append(v.Lines, line)
	}
	for _, a := range adjusted {
		v.Adjustments = append(v.Adjustments, invoiceLine(a, set))
	}
	if i.Kind == "adjustment" {
		v.Note = true
		v.Facts = append(v.Facts, facts(fact{Name: "Takes off", Value: *i.AdjustsNumber, Href: hrefOf("invoice", *i.AdjustsID)}, fact{Name: "Why", Value: i.Why})...)
	} else {
		v.Facts = append(v.Facts, facts(fact{Name: "To pay by", Value: r.Due})...)
		if left {
			v.Form, v.Ends = formOf(c), adjustEnds
		}
	}
	if v.Mailed, err = s.mailedOf(c, "invoice", i.Number); err != nil {
		return err
	}
	return invoicePage.show(s, c, r.Is+" "+i.Number, v)
}

// adjustEnds says what an adjustment does to what the buyer owes.
var adjustEnds = []Choice{{Value: "anew", Text: "Only the invoice: the pieces are cancelled, or are invoiced anew"}, {Value: "lower", Text: "The price: the buyer owes that much less"}}

func (s *Server) handleInvoiceAdjustPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	n := books.AdjustmentNew{InvoiceID: id, Why: f.Text("why"), LowersPrice: f.Text("lowers_price") == "lower"}
	for _, text := range f.All("line") {
		if line, err := strconv.ParseInt(text, 10, 64); err == nil {
			n.LineIDs = append(n.LineIDs, line)
		}
	}
	if f.Text("amount_minor") != "" {
		n.AmountMinor = f.Money("amount_minor", currency(set))
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleInvoice)
	}
	a, err := s.Answer.InvoiceAdjust(c.Request().Context(), n)
	if err != nil {
		return again(err, s.handleInvoice)
	}
	return goTo(c, hrefOf("invoice", a.ID), "Issued as "+a.Number+".")
}

func (s *Server) handleInvoicePDF(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	i, err := s.Books.InvoiceGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return s.sendPaper(c, i.DocumentID)
}
