package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/books"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
)

// registerDeedRoutes are those of the sales that touch several rooms at once.
func (s *Server) registerDeedRoutes(g *echo.Group) {
	g.POST("/answer", s.handleAsk)
	g.POST("/quotes", s.handleQuoteDraft)
	g.PATCH("/quotes/:id", s.handleQuoteChange)
	g.POST("/quotes/:id/alternatives", s.handleAlternativeAdd)
	g.POST("/quotes/:id/lines", s.handleQuoteLineAdd)
	g.DELETE("/quotes/:id/lines/:line", s.handleQuoteLineRemove)
	g.POST("/quotes/:id/issue", s.handleQuoteIssue)
	g.POST("/quotes/:id/revise", s.handleQuoteRevise)
	g.POST("/quotes/:id/reissue", s.handleQuoteReissue)
	g.POST("/quotes/:id/accept", s.handleQuoteAccept)
	g.GET("/quotes/:id/text", s.handleQuoteText)
	g.POST("/orders", s.handleOrderMake)
	g.POST("/orders/typed-in", s.handleOrderTypedIn)
	g.POST("/orders/from-shelf", s.handleShelfSale)
	g.POST("/orders/:id/cancel", s.handleOrderCancel)
	g.GET("/orders/:id/short", s.handleOrderShort)
	g.POST("/orders/:id/put-aside", s.handleOrderPutAside)
	g.GET("/orders/:id/pdf", s.handleOrderPDF)
	g.POST("/orders/:id/payments", s.handlePaymentTake)
	g.POST("/orders/:id/invoices", s.handleInvoiceIssue)
	g.POST("/orders/:id/credit", s.handleCreditUse)
	g.POST("/invoices/:id/adjustments", s.handleInvoiceAdjust)
}

func (s *Server) handleAsk(c echo.Context) error {
	var in api.Question
	if err := bind(c, &in); err != nil {
		return err
	}
	a, err := s.Answer.Ask(c.Request().Context(), answer.Question{Wish: wishIn(in.Wish), PartyID: val(in.PartyID), SiteID: val(in.SiteID), QuoteID: val(in.QuoteID)})
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, answerOf(a))
}

func answerOf(a answer.Answer) api.Answer {
	out := api.Answer{Wish: wishOf(a.Question.Wish), PriceExTaxMinor: a.PriceExTaxMinor, TaxMinor: a.TaxMinor, PriceMinor: a.PriceMinor, TaxName: a.TaxName, Registered: a.Registered,
		CostMinor: a.CostMinor, LeftMinor: a.LeftMinor, BoxOn: dayOut(a.BoxOn), ColonyOn: dayOut(a.ColonyOn), Decides: a.Decides, PriceParts: make([]api.AnswerPart, len(a.PriceParts)),
		Cost: make([]api.AnswerCost, len(a.Cost)), Units: make([]api.AnswerUnit, len(a.Units)), Reasons: make([]api.AnswerReason, len(a.Reasons)), Lines: make([]api.AnswerLine, len(a.Lines))}
	if !a.AsOf.IsZero() {
		out.AsOf = dayOut(&a.AsOf)
	}
	if a.MarginPct != nil {
		pct := a.MarginPct.InexactFloat64()
		out.MarginPct = &pct
	}
	for i, p := range a.PriceParts {
		out.PriceParts[i] = api.AnswerPart{What: p.What, EachMinor: p.EachMinor, Listed: p.Listed}
	}
	for i, k := range a.Cost {
		out.Cost[i] = api.AnswerCost{Kind: k.Kind, What: k.What, CostMinor: k.CostMinor}
	}
	for i, u := range a.Units {
		out.Units[i] = api.AnswerUnit{N: u.N, From: u.From, BoxSerial: some(u.Serial), BuildNumber: some(u.Build), BoxOn: dayOut(u.BoxOn), ColonyOn: dayOut(u.ColonyOn)}
	}
	for i, r := range a.Reasons {
		out.Reasons[i] = api.AnswerReason{Part: r.Part, Text: r.Text, Late: r.Late, Short: r.Short}
	}
	for i, l := range a.Lines {
		out.Lines[i] = api.AnswerLine{Kind: l.Kind, Description: l.Description, Quantity: l.Quantity.InexactFloat64(), UnitPriceMinor: l.UnitPriceMinor, PriceExTaxMinor: l.PriceExTaxMinor,
			TaxMinor: l.TaxMinor, PriceMinor: l.PriceMinor, BoxOn: dayOut(l.BoxOn), ColonyOn: dayOut(l.ColonyOn)}
	}
	return out
}

func wishesIn(list []api.Wish) []sales.Wish {
	out := make([]sales.Wish, len(list))
	for i, w := range list {
		out[i] = wishIn(w)
	}
	return out
}

func (s *Server) handleQuoteDraft(c echo.Context) error {
	var in api.QuoteNew
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	d := answer.Draft{PartyID: val(in.PartyID), SiteID: in.SiteID, EnquiryID: in.EnquiryID, VariesOrderID: in.VariesOrderID, Wishes: wishesIn(in.Wishes), Titles: val(in.Titles),
		Intro: val(in.Intro), DateAtAcceptance: val(in.DateAtAcceptance)}
	switch {
	case d.PartyID == 0 && d.EnquiryID == nil:
		return fault.Bad("/party_id", "Say who it is for, or from which enquiry it comes.")
	case d.PartyID == 0:
		p, err := s.Sales.EnquiryParty(ctx, *d.EnquiryID)
		if err != nil {
			return err
		}
		d.PartyID = p.ID
	}
	q, err := s.Answer.DraftFromWishes(ctx, d)
	if err != nil {
		return err
	}
	return s.showQuote(c, http.StatusCreated, q.ID)
}

func (s *Server) handleQuoteChange(c echo.Context) error {
	var in api.QuoteChange
	if err := bind(c, &in); err != nil {
		return err
	}
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	q, err := s.Sales.QuoteGet(ctx, pathID(c, "id"))
	if err != nil {
		return err
	}
	q.Version = version
	if in.SiteID != nil {
		q.SiteID = in.SiteID
	}
	if in.Intro != nil {
		q.Intro = *in.Intro
	}
	if in.DepositMinor != nil {
		q.DepositMinor = *in.DepositMinor
	}
	if in.DateAtAcceptance != nil {
		q.DateAtAcceptance = *in.DateAtAcceptance
	}
	if in.ValidUntil != nil {
		if q.ValidUntil, err = dayIn(in.ValidUntil, "/valid_until"); err != nil {
			return err
		}
	}
	if q, err = s.Sales.QuotePut(ctx, q); err != nil {
		return err
	}
	return s.showQuote(c, http.StatusOK, q.ID)
}

func (s *Server) handleAlternativeAdd(c echo.Context) error {
	var in api.AlternativeNew
	if err := bind(c, &in); err != nil {
		return err
	}
	q, err := s.Answer.AlternativeAdd(c.Request().Context(), pathID(c, "id"), 0, wishIn(in.Wish), val(in.Title))
	if err != nil {
		return err
	}
	return s.showQuote(c, http.StatusCreated, q.ID)
}

func (s *Server) handleQuoteLineAdd(c echo.Context) error {
	var in api.QuoteLineNew
	if err := bind(c, &in); err != nil {
		return err
	}
	n := answer.QuoteLine{AlternativeID: val(in.AlternativeID), ServiceID: val(in.ServiceID), Description: val(in.Description), Quantity: places(in.Quantity, 3), UnitPriceMinor: in.UnitPriceMinor, TaxCode: "standard"}
	if in.TaxCode != nil {
		n.TaxCode = string(*in.TaxCode)
	}
	q, err := s.Answer.QuoteLineAdd(c.Request().Context(), pathID(c, "id"), 0, n)
	if err != nil {
		return err
	}
	return s.showQuote(c, http.StatusCreated, q.ID)
}

func (s *Server) handleQuoteLineRemove(c echo.Context) error {
	q, err := s.Answer.QuoteLineRemove(c.Request().Context(), pathID(c, "id"), 0, pathID(c, "line"))
	if err != nil {
		return err
	}
	return s.showQuote(c, http.StatusOK, q.ID)
}

func (s *Server) handleQuoteIssue(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	q, err := s.Answer.QuoteIssue(c.Request().Context(), pathID(c, "id"), version)
	if err != nil {
		return err
	}
	return s.showQuote(c, http.StatusOK, q.ID)
}

func (s *Server) handleQuoteRevise(c echo.Context) error {
	q, err := s.Sales.QuoteRevise(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.showQuote(c, http.StatusCreated, q.ID)
}

func (s *Server) handleQuoteReissue(c echo.Context) error {
	q, err := s.Answer.QuoteReissue(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.showQuote(c, http.StatusCreated, q.ID)
}

func (s *Server) handleQuoteAccept(c echo.Context) error {
	var in api.Acceptance
	if err := bind(c, &in); err != nil {
		return err
	}
	a := sales.Acceptance{QuoteID: pathID(c, "id"), AlternativeID: val(in.AlternativeID), HappenedAt: val(in.HappenedAt), Note: val(in.Note), TheirNumber: val(in.TheirNumber)}
	if in.Lines != nil {
		a.Lines = map[int64]decimal.Decimal{}
		for _, l := range *in.Lines {
			a.Lines[l.LineID] = decimal.NewFromFloat(l.Quantity)
		}
	}
	got, err := s.Answer.QuoteAccept(c.Request().Context(), a)
	if err != nil {
		return err
	}
	return replyAgreed(c, got)
}

func replyAgreed(c echo.Context, got answer.Agreed) error {
	return reply(c, http.StatusCreated, api.Agreed{Order: orderOf(got.Order), Short: append([]string{}, got.Short...)})
}

func (s *Server) handleQuoteText(c echo.Context) error {
	text, err := s.Answer.QuoteText(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return c.String(http.StatusOK, text)
}

func (s *Server) handleOrderMake(c echo.Context) error {
	var in api.OrderNew
	if err := bind(c, &in); err != nil {
		return err
	}
	n := answer.NewOrder{Wishes: wishesIn(in.Wishes)}
	n.PartyID, n.SiteID, n.HappenedAt, n.TheirNumber, n.DepositMinor, n.Notes = in.PartyID, in.SiteID, val(in.HappenedAt), val(in.TheirNumber), val(in.DepositMinor), val(in.Notes)
	got, err := s.Answer.OrderMake(c.Request().Context(), n)
	if err != nil {
		return err
	}
	return replyAgreed(c, got)
}

func (s *Server) handleOrderTypedIn(c echo.Context) error {
	var in api.OrderTypedIn
	if err := bind(c, &in); err != nil {
		return err
	}
	t := answer.TypedIn{PartyID: in.PartyID, SiteID: in.SiteID, HappenedAt: in.HappenedAt, TheirNumber: val(in.TheirNumber), Notes: val(in.Notes), DepositMinor: val(in.DepositMinor),
		PaidMinor: val(in.PaidMinor), PaidMethod: "cash"}
	if in.PaidMethod != nil {
		t.PaidMethod = string(*in.PaidMethod)
	}
	for i, l := range in.Lines {
		o := answer.TypedLine{Kind: string(l.Kind), Description: val(l.Description), Count: int64(l.Count), PriceMinor: l.PriceMinor, ModelID: val(l.ModelID), BeeSpeciesID: val(l.BeeSpeciesID), WithColony: val(l.WithColony)}
		var err error
		if o.BoxOn, err = dayIn(l.BoxOn, "/lines/"+itoa(i)+"/box_on"); err != nil {
			return err
		}
		if o.ColonyOn, err = dayIn(l.ColonyOn, "/lines/"+itoa(i)+"/colony_on"); err != nil {
			return err
		}
		t.Lines = append(t.Lines, o)
	}
	got, err := s.Answer.OrderTypedIn(c.Request().Context(), t)
	if err != nil {
		return err
	}
	return replyAgreed(c, got)
}

func (s *Server) handleShelfSale(c echo.Context) error {
	var in api.ShelfSale
	if err := bind(c, &in); err != nil {
		return err
	}
	got, err := s.Answer.SellFromShelf(c.Request().Context(), answer.ShelfSale{Serials: in.Serials, PartyID: val(in.PartyID), Name: val(in.Name), Phone: val(in.Phone), SiteID: in.SiteID,
		PriceMinor: val(in.PriceMinor), Method: string(in.Method), InKind: val(in.InKind), HappenedAt: val(in.HappenedAt), ReceivedBy: val(in.ReceivedBy)})
	if err != nil {
		return err
	}
	out := api.ShelfSold{Order: orderOf(got.Order), HandoverIds: []int64{}}
	if got.Payment.ID != 0 {
		p, err := s.Books.PaymentGet(c.Request().Context(), got.Payment.ID)
		if err != nil {
			return err
		}
		paid := paymentOf(p)
		out.Payment = &paid
	}
	for _, h := range got.Handovers {
		out.HandoverIds = append(out.HandoverIds, h.ID)
	}
	return reply(c, http.StatusCreated, out)
}

func (s *Server) handleOrderCancel(c echo.Context) error {
	var in api.OrderCancel
	if err := bind(c, &in); err != nil {
		return err
	}
	k := answer.Cancel{Cancellation: sales.Cancellation{OrderID: pathID(c, "id"), UnitIDs: val(in.UnitIds), Because: in.Because, ReturnedMinor: val(in.DepositReturnedMinor)}}
	if in.DepositEnd != nil {
		k.DepositEnd = string(*in.DepositEnd)
	}
	if in.RefundMethod != nil {
		k.RefundMethod = string(*in.RefundMethod)
	}
	got, err := s.Answer.OrderCancel(c.Request().Context(), k)
	if err != nil {
		return err
	}
	out := api.OrderCancelled{Order: orderOf(got.Order), Freed: append([]string{}, got.Freed...)}
	if got.Refund != nil {
		p, err := s.Books.PaymentGet(c.Request().Context(), got.Refund.ID)
		if err != nil {
			return err
		}
		paid := paymentOf(p)
		out.Refund = &paid
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleOrderShort(c echo.Context) error {
	short, err := s.Answer.OrderShort(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.ShortList{Short: append([]string{}, short...)})
}

func (s *Server) handleOrderPutAside(c echo.Context) error {
	short, err := s.Answer.OrderPutAside(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.ShortList{Short: append([]string{}, short...)})
}

func (s *Server) handleOrderPDF(c echo.Context) error {
	o, err := s.Sales.OrderGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	pdf, err := s.Answer.OrderConfirmation(c.Request().Context(), o.ID)
	if err != nil {
		return err
	}
	return replyPDF(c, "order-"+o.Number, pdf)
}

func (s *Server) handlePaymentTake(c echo.Context) error {
	var in api.PaymentNew
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	got, err := s.Answer.PaymentTake(ctx, books.Payment{OrderID: pathID(c, "id"), Kind: string(in.Kind), Method: string(in.Method), AmountMinor: in.AmountMinor, InKind: val(in.InKind),
		HappenedAt: val(in.HappenedAt), Note: val(in.Note)})
	if err != nil {
		return err
	}
	p, err := s.Books.PaymentGet(ctx, got.Payment.ID)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, api.PaymentMade{Payment: paymentOf(p), BalanceMinor: got.BalanceMinor})
}

func (s *Server) handleInvoiceIssue(c echo.Context) error {
	var in api.InvoiceNew
	if err := bind(c, &in); err != nil {
		return err
	}
	n := books.InvoiceNew{OrderID: pathID(c, "id"), Kind: string(val(in.Kind)), UnitIDs: val(in.UnitIds), AmountMinor: val(in.AmountMinor), DueDays: in.DueDays}
	var err error
	if n.InvoiceOn, err = dayIn(in.InvoiceOn, "/invoice_on"); err != nil {
		return err
	}
	if n.SuppliedOn, err = dayIn(in.SuppliedOn, "/supplied_on"); err != nil {
		return err
	}
	i, err := s.Answer.InvoiceIssue(c.Request().Context(), n)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, invoiceOf(i))
}

func (s *Server) handleInvoiceAdjust(c echo.Context) error {
	var in api.AdjustmentNew
	if err := bind(c, &in); err != nil {
		return err
	}
	i, err := s.Answer.InvoiceAdjust(c.Request().Context(), books.AdjustmentNew{InvoiceID: pathID(c, "id"), LineIDs: val(in.LineIds), AmountMinor: val(in.AmountMinor), Why: in.Why, LowersPrice: val(in.LowersPrice)})
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, invoiceOf(i))
}

func (s *Server) handleCreditUse(c echo.Context) error {
	var in api.CreditUse
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	got, err := s.Books.CreditUse(ctx, in.FromOrderID, pathID(c, "id"), val(in.AmountMinor))
	if err != nil {
		return err
	}
	p, err := s.Books.PaymentGet(ctx, got.Payment.ID)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, api.PaymentMade{Payment: paymentOf(p), BalanceMinor: got.BalanceMinor})
}
