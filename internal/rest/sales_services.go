package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/sales"
)

func (s *Server) registerServiceRoutes(g *echo.Group) {
	g.GET("/services", s.handleServiceList)
	g.POST("/services", s.handleServiceNew)
	g.GET("/services/:id", s.handleService)
	g.PUT("/services/:id", s.handleServicePut)
	g.POST("/service-orders", s.handleServiceOrder)
	g.POST("/order-units/:id/done", s.handleServiceDone)
	g.POST("/order-units/:id/site", s.handleUnitPlace)
}

func (s *Server) handleServiceList(c echo.Context) error {
	list, err := s.Sales.ServiceList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.ServiceList{Items: make([]api.Service, len(list))}
	for i, k := range list {
		out.Items[i] = serviceOf(k)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleService(c echo.Context) error {
	k, err := s.Sales.ServiceGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, k.Version, serviceOf(k))
}

func (s *Server) handleServiceNew(c echo.Context) error {
	return s.putService(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleServicePut(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putService(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putService(c echo.Context, id int64, version, status int) error {
	var in api.ServiceNew
	if err := bind(c, &in); err != nil {
		return err
	}
	held, err := dayIn(in.HeldOn, "/held_on")
	if err != nil {
		return err
	}
	k := sales.Service{ID: id, Version: version, Name: in.Name, Each: val(in.Each), UnitPriceMinor: in.UnitPriceMinor, TaxCode: val(in.TaxCode), Seats: in.Seats, HeldOn: held}
	if val(in.PutAway) {
		now := s.DB.Now()
		k.PutAwayAt = &now
	}
	if k, err = s.Sales.ServiceSave(c.Request().Context(), k); err != nil {
		return err
	}
	return replyVersion(c, status, k.Version, serviceOf(k))
}

func serviceOf(k sales.Service) api.Service {
	out := api.Service{ID: k.ID, Version: k.Version, Name: k.Name, Each: k.Each, UnitPriceMinor: k.UnitPriceMinor, TaxCode: k.TaxCode, Seats: k.Seats, Taken: k.Taken.InexactFloat64(), PutAway: k.PutAwayAt != nil}
	if k.HeldOn != nil {
		day := k.HeldOn.Format(time.DateOnly)
		out.HeldOn = &day
	}
	return out
}

func (s *Server) handleServiceOrder(c echo.Context) error {
	var in api.ServiceOrderNew
	if err := bind(c, &in); err != nil {
		return err
	}
	n := answer.ServiceOrder{NewOrder: sales.NewOrder{PartyID: in.PartyID, SiteID: in.SiteID, TheirNumber: val(in.TheirNumber), Notes: val(in.Notes), DepositMinor: val(in.DepositMinor)}}
	for _, l := range in.Lines {
		n.Services = append(n.Services, answer.ServiceLine{ServiceID: l.ServiceID, Quantity: decimal.NewFromFloat(l.Quantity).Round(3), UnitPriceMinor: l.UnitPriceMinor})
	}
	got, err := s.Answer.ServiceOrderMake(c.Request().Context(), n)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, api.Agreed{Order: orderOf(got.Order), Short: append([]string{}, got.Short...)})
}

func (s *Server) handleServiceDone(c echo.Context) error {
	o, err := s.Answer.ServiceDone(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, o.Version, orderOf(o))
}

func (s *Server) handleUnitPlace(c echo.Context) error {
	var in api.UnitPlace
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx, unit := c.Request().Context(), pathID(c, "id")
	if _, err := s.Sales.UnitGet(ctx, unit); err != nil {
		return err
	}
	if err := s.Sales.UnitPlace(ctx, unit, in.SiteID); err != nil {
		return err
	}
	o, err := s.Sales.OrderOfUnit(ctx, unit)
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, o.Version, orderOf(o))
}
