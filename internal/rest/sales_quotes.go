package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
)

func (s *Server) registerQuoteRoutes(g *echo.Group) {
	g.GET("/quotes", s.handleQuoteList)
	g.GET("/quotes/:id", s.handleQuote)
	g.DELETE("/quotes/:id", s.handleQuoteThrowAway)
	g.POST("/quotes/:id/decline", func(c echo.Context) error { return s.endQuote(c, sales.Declined) })
	g.POST("/quotes/:id/withdraw", func(c echo.Context) error { return s.endQuote(c, sales.Withdrawn) })
	g.GET("/quotes/:id/pdf", s.handleQuotePDF)
}

// todayOf is the workshop's business date.
func (s *Server) todayOf(c echo.Context) (time.Time, error) {
	set, err := s.House.SettingsGet(c.Request().Context())
	return set.Today(s.DB.Now()), err
}

func (s *Server) handleQuoteList(c echo.Context) error {
	q := listOf(c)
	today, err := s.todayOf(c)
	if err != nil {
		return err
	}
	list, cursor, err := s.Sales.QuoteList(c.Request().Context(), sales.QuoteFilter{State: c.QueryParam("state"), PartyID: queryInt(c, "party_id", 0), Find: q.Find, Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, v := range list {
			o := quoteOf(v, today)
			rows[i] = []string{val(o.Number), strconv.Itoa(o.Revision), o.PartyName, string(o.State), strconv.FormatInt(v.PriceMinor, 10)}
		}
		return replyCSV(c, "quotes", []string{"number", "revision", "party", "state", "price_minor"}, rows)
	}
	out := api.QuoteList{Items: make([]api.Quote, len(list)), Next: next(cursor)}
	for i, v := range list {
		out.Items[i] = quoteOf(v, today)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleQuote(c echo.Context) error {
	return s.showQuote(c, http.StatusOK, pathID(c, "id"))
}

func (s *Server) showQuote(c echo.Context, status int, id int64) error {
	q, err := s.Sales.QuoteGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	today, err := s.todayOf(c)
	if err != nil {
		return err
	}
	return replyVersion(c, status, q.Version, quoteOf(q, today))
}

func (s *Server) handleQuoteThrowAway(c echo.Context) error {
	if err := s.Sales.QuoteThrowAway(c.Request().Context(), pathID(c, "id")); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) endQuote(c echo.Context, kind string) error {
	var in api.QuoteEnd
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Sales.QuoteEnd(c.Request().Context(), pathID(c, "id"), kind, val(in.Note)); err != nil {
		return err
	}
	return s.showQuote(c, http.StatusOK, pathID(c, "id"))
}

func (s *Server) handleQuotePDF(c echo.Context) error {
	q, err := s.Sales.QuoteGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	if q.DocumentID == nil {
		return fault.New(fault.Conflict, "This quote is a draft and has no paper yet. Issue it first.")
	}
	return s.replyPaper(c, *q.DocumentID)
}

// replyPaper answers with the bytes of an issued paper.
func (s *Server) replyPaper(c echo.Context, id int64) error {
	p, err := s.House.PaperGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return replyPDF(c, p.Kind+"-"+p.Number, p.Bytes)
}

func replyPDF(c echo.Context, name string, pdf []byte) error {
	c.Response().Header().Set(echo.HeaderContentDisposition, `inline; filename="`+name+`.pdf"`)
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(http.StatusOK, "application/pdf", pdf)
}

func quoteOf(q sales.Quote, today time.Time) api.Quote {
	out := api.Quote{ID: q.ID, Version: q.Version, State: api.QuoteState(q.State(today)), Number: q.Number, Revision: q.Revision, Name: q.Name(), RevisesID: q.RevisesID, RevisedByID: q.RevisedByID,
		PartyID: q.PartyID, PartyName: q.PartyName, SiteID: q.SiteID, EnquiryID: q.EnquiryID, VariesOrderID: q.VariesOrderID, OrderID: q.OrderID, MadeAt: q.MadeAt, IssuedAt: q.IssuedAt,
		ValidUntil: dayOut(q.ValidUntil), DateAtAcceptance: q.DateAtAcceptance, Intro: q.Intro, DepositMinor: q.DepositMinor, PriceMinor: q.PriceMinor,
		AnsweredAt: q.EventAt, AnswerNote: q.EventNote, TakenAlternativeID: q.EventAltID, Alternatives: make([]api.QuoteAlternative, len(q.Alternatives))}
	for i, a := range q.Alternatives {
		o := api.QuoteAlternative{ID: a.ID, Letter: a.Letter, Title: a.Title, Wish: wishOf(a.Wish()), BoxOn: dayOut(a.BoxOn), ColonyOn: dayOut(a.ColonyOn),
			PriceExTaxMinor: a.PriceExTaxMinor, TaxMinor: a.TaxMinor, PriceMinor: a.PriceMinor, CostMinor: a.CostMinor, Lines: make([]api.SaleLine, len(a.Lines))}
		for j, l := range a.Lines {
			o.Lines[j] = lineOf(l)
		}
		out.Alternatives[i] = o
	}
	return out
}

func lineOf(l sales.Line) api.SaleLine {
	ids := l.Options()
	if ids == nil {
		ids = []int64{}
	}
	return api.SaleLine{ID: l.ID, Kind: l.Kind, Description: l.Description, Quantity: l.Quantity.InexactFloat64(), UnitPriceMinor: l.UnitPriceMinor, TaxCode: l.TaxCode, TaxPct: l.TaxPct.InexactFloat64(),
		PriceExTaxMinor: l.PriceExTaxMinor, TaxMinor: l.TaxMinor, PriceMinor: l.PriceMinor, CostMinor: l.CostMinor, ModelRevisionID: l.ModelRevisionID, TimberSpeciesID: l.TimberSpeciesID,
		BeeSpeciesID: l.BeeSpeciesID, ItemID: l.ItemID, WithColony: l.WithColony, OptionIds: ids, Added: some(l.Added), ServiceID: l.ServiceID, BoxOn: dayOut(l.BoxOn), ColonyOn: dayOut(l.ColonyOn)}
}
