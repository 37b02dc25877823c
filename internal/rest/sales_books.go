package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/books"
	"kerfbook/internal/fault"
)

func (s *Server) registerBooksRoutes(g *echo.Group) {
	g.GET("/orders/:id/payments", s.handleOrderPayments)
	g.GET("/orders/:id/invoices", s.handleOrderInvoices)
	g.GET("/payments", s.handlePaymentList)
	g.GET("/payments/:id", s.handlePayment)
	g.GET("/payments/:id/receipt", s.handleReceiptPDF)
	g.GET("/invoices", s.handleInvoiceList)
	g.GET("/invoices/overdue", s.handleInvoicesOverdue)
	g.GET("/invoices/:id", s.handleInvoice)
	g.GET("/invoices/:id/pdf", s.handleInvoicePDF)
	g.GET("/invoices/:id/e-invoice", s.handleEInvoice)
	g.GET("/invoices/:id/adjustments", s.handleAdjustments)
	g.GET("/deposits-held", s.handleDepositsHeld)
	g.GET("/tax-report", s.handleTaxReport)
	g.GET("/journal", s.handleJournal)
	g.GET("/earned", s.handleEarned)
}

func (s *Server) handleOrderPayments(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	if _, err := s.Sales.OrderGet(ctx, id); err != nil {
		return err
	}
	list, err := s.Books.PaymentsOf(ctx, id)
	if err != nil {
		return err
	}
	out := api.OrderPayments{Items: paymentsOf(list)}
	if out.OwedMinor, out.PaidMinor, out.BalanceMinor, err = s.Books.Balance(ctx, id); err != nil {
		return err
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePaymentList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Books.PaymentList(c.Request().Context(), q.Limit, q.After)
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, p := range list {
			rows[i] = []string{p.Number, p.HappenedAt.UTC().Format(time.RFC3339), p.OrderNumber, p.PartyName, p.Kind, p.Method, strconv.FormatInt(p.AmountMinor, 10), p.InKind, p.Note}
		}
		return replyCSV(c, "payments", []string{"number", "happened_at", "order", "party", "kind", "method", "amount_minor", "in_kind", "note"}, rows)
	}
	return reply(c, http.StatusOK, api.PaymentList{Items: paymentsOf(list), Next: next(cursor)})
}

func (s *Server) handlePayment(c echo.Context) error {
	p, err := s.Books.PaymentGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, paymentOf(p))
}

func (s *Server) handleReceiptPDF(c echo.Context) error {
	p, err := s.Books.PaymentGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	if p.DocumentID == nil {
		return fault.New(fault.NotFound, "No receipt was written for this payment.")
	}
	return s.replyPaper(c, *p.DocumentID)
}

func (s *Server) handleOrderInvoices(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	if _, err := s.Sales.OrderGet(ctx, id); err != nil {
		return err
	}
	list, err := s.Books.InvoicesOf(ctx, id)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.OrderInvoices{Items: invoicesOf(list)})
}

func (s *Server) handleInvoiceList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Books.InvoiceList(c.Request().Context(), q.Limit, q.After)
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, v := range list {
			rows[i] = []string{v.Number, v.InvoiceOn.Format(time.DateOnly), v.DueOn.Format(time.DateOnly), v.OrderNumber, v.PartyName,
				strconv.FormatInt(v.PriceExTaxMinor, 10), strconv.FormatInt(v.TaxMinor, 10), strconv.FormatInt(v.PriceMinor, 10)}
		}
		return replyCSV(c, "invoices", []string{"number", "invoice_on", "due_on", "order", "party", "price_ex_tax_minor", "tax_minor", "price_minor"}, rows)
	}
	return reply(c, http.StatusOK, api.InvoiceList{Items: invoicesOf(list), Next: next(cursor)})
}

func (s *Server) handleInvoicesOverdue(c echo.Context) error {
	today, err := s.todayOf(c)
	if err != nil {
		return err
	}
	list, err := s.Books.InvoicesOverdue(c.Request().Context(), today)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.OrderInvoices{Items: invoicesOf(list)})
}

func (s *Server) handleInvoice(c echo.Context) error {
	v, err := s.Books.InvoiceGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, invoiceOf(v))
}

func (s *Server) handleEInvoice(c echo.Context) error {
	xml, number, err := s.Answer.EInvoice(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="invoice-`+number+`.xml"`)
	return c.Blob(http.StatusOK, "application/xml", xml)
}

func (s *Server) handleAdjustments(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	if _, err := s.Books.InvoiceGet(ctx, id); err != nil {
		return err
	}
	list, err := s.Books.AdjustmentsOf(ctx, id)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.OrderInvoices{Items: invoicesOf(list)})
}

func (s *Server) handleInvoicePDF(c echo.Context) error {
	v, err := s.Books.InvoiceGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.replyPaper(c, v.DocumentID)
}

func (s *Server) handleDepositsHeld(c echo.Context) error {
	list, err := s.Books.DepositsHeld(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.DepositsHeld{Items: make([]api.HeldDeposit, len(list))}
	for i, h := range list {
		out.Items[i] = api.HeldDeposit{OrderID: h.OrderID, OrderNumber: h.OrderNumber, PartyName: h.PartyName, PaidMinor: h.PaidMinor, FirstAt: h.FirstAt}
	}
	return reply(c, http.StatusOK, out)
}

func paymentsOf(list []books.Payment) []api.Payment {
	out := make([]api.Payment, len(list))
	for i, p := range list {
		out[i] = paymentOf(p)
	}
	return out
}

func paymentOf(p books.Payment) api.Payment {
	return api.Payment{ID: p.ID, Number: p.Number, OrderID: p.OrderID, OrderNumber: p.OrderNumber, PartyName: p.PartyName, Kind: api.PaymentKind(p.Kind), Method: api.PaymentMethod(p.Method),
		AmountMinor: p.AmountMinor, InKind: p.InKind, HappenedAt: p.HappenedAt, Note: p.Note, HasReceipt: p.DocumentID != nil,
		OtherOrderID: p.OtherOrderID, OtherOrderNumber: p.OtherOrderNumber}
}

func invoicesOf(list []books.Invoice) []api.Invoice {
	out := make([]api.Invoice, len(list))
	for i, v := range list {
		out[i] = invoiceOf(v)
	}
	return out
}

func invoiceOf(v books.Invoice) api.Invoice {
	out := api.Invoice{ID: v.ID, Number: v.Number, Kind: api.InvoiceKind(v.Kind), AdjustsID: v.AdjustsID, AdjustsNumber: v.AdjustsNumber, OrderID: v.OrderID, OrderNumber: v.OrderNumber, PartyID: v.PartyID, PartyName: v.PartyName,
		InvoiceOn: v.InvoiceOn.Format(time.DateOnly), DueOn: v.DueOn.Format(time.DateOnly), IssuedAt: v.IssuedAt, Registered: v.Registered,
		PriceExTaxMinor: v.PriceExTaxMinor, TaxMinor: v.TaxMinor, PriceMinor: v.PriceMinor, Lines: make([]api.InvoiceLine, len(v.Lines))}
	if v.Kind == "adjustment" {
		out.Why, out.LowersPrice = &v.Why, &v.LowersPrice
	}
	if v.SuppliedOn != nil {
		day := v.SuppliedOn.Format(time.DateOnly)
		out.SuppliedOn = &day
	}
	for i, l := range v.Lines {
		out.Lines[i] = api.InvoiceLine{ID: &v.Lines[i].ID, DeductsID: l.DeductsID, AdjustsLineID: l.AdjustsLineID, CreditedMinor: &v.Lines[i].CreditedMinor, UnitID: l.UnitID, Description: l.Description, Quantity: l.Quantity.InexactFloat64(), UnitPriceMinor: l.UnitPriceMinor, TaxCode: l.TaxCode,
			TaxPct: l.TaxPct.InexactFloat64(), PriceExTaxMinor: l.PriceExTaxMinor, TaxMinor: l.TaxMinor, PriceMinor: l.PriceMinor}
	}
	return out
}

// period reads the days from and to of a report.
func period(c echo.Context) (from, to time.Time, err error) {
	first, last := c.QueryParam("from"), c.QueryParam("to")
	a, err := dayIn(&first, "/from")
	if err != nil {
		return from, to, err
	}
	b, err := dayIn(&last, "/to")
	if err != nil {
		return from, to, err
	}
	return *a, *b, nil
}

func (s *Server) handleJournal(c echo.Context) error {
	from, to, err := period(c)
	if err != nil {
		return err
	}
	list, err := s.Books.Journal(c.Request().Context(), from, to)
	if err != nil {
		return err
	}
	if listOf(c).CSV {
		set, err := s.House.SettingsGet(c.Request().Context())
		if err != nil {
			return err
		}
		plain := func(minor int64) string {
			return decimal.New(minor, -int32(set.MinorDigits)).StringFixed(int32(set.MinorDigits))
		}
		rows := make([][]string, len(list))
		for i, l := range list {
			rows[i] = []string{l.On.Format(time.DateOnly), l.Entry, l.Account, plain(l.DebitMinor), plain(l.CreditMinor), l.TaxCode, l.Text}
		}
		return replyCSV(c, "journal", []string{"date", "entry", "account", "debit", "credit", "tax", "text"}, rows)
	}
	out := api.Journal{Lines: make([]api.JournalLine, len(list))}
	for i, l := range list {
		out.Lines[i] = api.JournalLine{On: l.On.Format(time.DateOnly), Entry: l.Entry, Account: l.Account, DebitMinor: l.DebitMinor, CreditMinor: l.CreditMinor, TaxCode: l.TaxCode, Text: l.Text}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleTaxReport(c echo.Context) error {
	from, to, err := period(c)
	if err != nil {
		return err
	}
	basis := c.QueryParam("basis")
	if basis == "" {
		basis = books.Cash
	}
	r, err := s.Books.TaxReport(c.Request().Context(), from, to, basis)
	if err != nil {
		return err
	}
	if listOf(c).CSV {
		rows := make([][]string, len(r.Documents))
		for i, d := range r.Documents {
			rows[i] = []string{d.On.Format(time.DateOnly), d.Side, d.Kind, d.Number, d.Who, d.TaxCode, strconv.FormatInt(d.PriceExTaxMinor, 10), strconv.FormatInt(d.TaxMinor, 10)}
		}
		return replyCSV(c, "tax-report", []string{"on", "side", "kind", "number", "who", "tax_code", "price_ex_tax_minor", "tax_minor"}, rows)
	}
	out := api.TaxReport{From: from.Format(time.DateOnly), To: to.Format(time.DateOnly), Basis: api.TaxReportBasis(basis), Sales: taxSums(r.Sales), Purchases: taxSums(r.Purchases), TaxDueMinor: r.TaxDueMinor(), Rounding: r.Rounding,
		Documents: make([]api.TaxLine, len(r.Documents))}
	for i, d := range r.Documents {
		out.Documents[i] = api.TaxLine{On: d.On.Format(time.DateOnly), Side: api.TaxLineSide(d.Side), Kind: api.TaxLineKind(d.Kind), DocumentID: d.DocumentID, Number: d.Number, Who: d.Who, TaxCode: d.TaxCode,
			PriceExTaxMinor: d.PriceExTaxMinor, TaxMinor: d.TaxMinor}
	}
	return reply(c, http.StatusOK, out)
}

func taxSums(list []books.TaxSum) []api.TaxSum {
	out := make([]api.TaxSum, len(list))
	for i, t := range list {
		out[i] = api.TaxSum{TaxCode: t.TaxCode, PriceExTaxMinor: t.PriceExTaxMinor, TaxMinor: t.TaxMinor}
	}
	return out
}

func (s *Server) handleEarned(c echo.Context) error {
	from, to, err := period(c)
	if err != nil {
		return err
	}
	by := c.QueryParam("by")
	if by == "" {
		by = answer.EarnedBy[0]
	}
	e, err := s.Answer.Earned(c.Request().Context(), from, to, by)
	if err != nil {
		return err
	}
	if listOf(c).CSV {
		rows := make([][]string, len(e.Jobs))
		for i, j := range e.Jobs {
			rows[i] = []string{j.OrderNumber, j.HandedOverOn.Format(time.DateOnly), j.What}
			for _, minor := range []int64{j.Price, j.Quoted, j.Material, j.Labour, j.Other, j.Run, j.Guarantee, j.Left()} {
				rows[i] = append(rows[i], strconv.FormatInt(minor, 10))
			}
			rows[i] = append(rows[i], strconv.FormatFloat(j.Minutes, 'f', 1, 64), strconv.FormatBool(j.Real))
		}
		return replyCSV(c, "earned", []string{"order", "handed_over_on", "what", "price_minor", "quoted_minor", "material_minor", "labour_minor", "other_minor", "run_minor", "guarantee_minor", "left_minor", "labour_min", "real"}, rows)
	}
	out := api.Earned{From: from.Format(time.DateOnly), To: to.Format(time.DateOnly), By: by, Sum: earnedGroup(e.Sum), Groups: []api.EarnedGroup{}, Models: []api.ModelPrice{}, Jobs: []api.EarnedJob{}}
	for _, g := range e.Groups {
		out.Groups = append(out.Groups, earnedGroup(g))
	}
	for _, m := range e.Models {
		p := api.ModelPrice{Model: m.Model, Pieces: m.Pieces, CostEachMinor: m.CostEach, WantedMinor: m.Wanted, MarginPct: m.MarginPct.InexactFloat64(), Loses: m.Loses}
		if m.ListPrice > 0 {
			p.ListPriceMinor = &m.ListPrice
		}
		out.Models = append(out.Models, p)
	}
	for _, j := range e.Jobs {
		out.Jobs = append(out.Jobs, api.EarnedJob{UnitID: j.UnitID, OrderID: j.OrderID, OrderNumber: j.OrderNumber, What: j.What, HandedOverOn: j.HandedOverOn.Format(time.DateOnly), PriceMinor: j.Price,
			QuotedMinor: j.Quoted, CostMinor: j.Cost(), LeftMinor: j.Left(), Real: j.Real, NoCost: j.NoCost})
	}
	return reply(c, http.StatusOK, out)
}

func earnedGroup(g answer.EarnedGroup) api.EarnedGroup {
	return api.EarnedGroup{Name: g.Name, Pieces: g.Pieces, NoCost: g.NoCost, PriceMinor: g.Price, QuotedMinor: g.Quoted, MaterialMinor: g.Material, LabourMinor: g.Labour, OtherMinor: g.Other,
		RunMinor: g.Run, GuaranteeMinor: g.Guarantee, LeftMinor: g.Left(), LabourMin: g.Minutes, HourMinor: g.HourMinor()}
}
