package rest

import (
	"maps"
	"net/http"
	"slices"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/sales"
)

func (s *Server) registerPriceRoutes(g *echo.Group) {
	g.GET("/prices", s.handlePriceList)
	g.POST("/prices", s.handlePriceAdd)
	g.GET("/price-history", s.handlePriceHistory)
	g.GET("/buyer-classes", s.handleClassList)
	g.POST("/buyer-classes", s.handleClassAdd)
	g.PUT("/buyer-classes/:id", s.handleClassChange)
}

func (s *Server) handlePriceList(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.House.SettingsGet(ctx)
	if err != nil {
		return err
	}
	day := set.Today(s.DB.Now())
	if on := c.QueryParam("on"); on != "" {
		if day, err = time.Parse(time.DateOnly, on); err != nil {
			return malformed("/on", "This must be a date such as 2026-03-14.")
		}
	}
	prices, err := s.Sales.PricesOn(ctx, day)
	if err != nil {
		return err
	}
	out := api.PriceList{Items: []api.Price{}}
	for _, subject := range slices.Sorted(maps.Keys(prices)) {
		out.Items = append(out.Items, priceOf(prices[subject]))
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePriceAdd(c echo.Context) error {
	var in api.PriceNew
	if err := bind(c, &in); err != nil {
		return err
	}
	from, err := dayIn(&in.FromOn, "/from_on")
	if err != nil {
		return err
	}
	p, err := s.Sales.PricePut(c.Request().Context(), sales.ListPrice{Subject: in.Subject, FromOn: *from, PriceMinor: in.PriceMinor, TaxCode: val(in.TaxCode), Reason: val(in.Reason)})
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, priceOf(p))
}

func (s *Server) handlePriceHistory(c echo.Context) error {
	list, err := s.Sales.PriceHistory(c.Request().Context(), c.QueryParam("subject"))
	if err != nil {
		return err
	}
	out := api.PriceList{Items: make([]api.Price, len(list))}
	for i, p := range list {
		out.Items[i] = priceOf(p)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleClassList(c echo.Context) error {
	list, err := s.Sales.ClassList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.BuyerClassList{Items: make([]api.BuyerClass, len(list))}
	for i, b := range list {
		out.Items[i] = classOf(b)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleClassAdd(c echo.Context) error {
	return s.putClass(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleClassChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putClass(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putClass(c echo.Context, id int64, version, status int) error {
	var in api.BuyerClassNew
	if err := bind(c, &in); err != nil {
		return err
	}
	b, err := s.Sales.ClassPut(c.Request().Context(), sales.BuyerClass{ID: id, Version: version, Name: in.Name, StepPct: decimal.NewFromFloat(in.StepPct)})
	if err != nil {
		return err
	}
	return replyVersion(c, status, b.Version, classOf(b))
}

func priceOf(p sales.ListPrice) api.Price {
	return api.Price{ID: p.ID, Subject: p.Subject, FromOn: p.FromOn.Format(time.DateOnly), PriceMinor: p.PriceMinor, TaxCode: p.TaxCode, Reason: p.Reason}
}

func classOf(b sales.BuyerClass) api.BuyerClass {
	return api.BuyerClass{ID: b.ID, Version: b.Version, Name: b.Name, StepPct: b.StepPct.InexactFloat64()}
}
