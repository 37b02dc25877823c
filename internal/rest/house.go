package rest

import (
	"encoding/json"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
)

func (s *Server) registerHouseRoutes(g *echo.Group) {
	g.GET("/history", s.handleHistory)
	g.GET("/workshop", s.handleWorkshop)
	g.PUT("/workshop", s.handleWorkshopPut)
	g.GET("/tax-registrations", s.handleTaxList)
	g.POST("/tax-registrations", s.handleTaxAdd)
}

func (s *Server) handleTaxList(c echo.Context) error {
	list, err := s.House.TaxList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.TaxRegistrationList{Items: make([]api.TaxRegistration, len(list))}
	for i, t := range list {
		out.Items[i] = api.TaxRegistration{FromOn: t.FromOn.Format(time.DateOnly), Registered: t.Registered, TaxName: t.Name}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleTaxAdd(c echo.Context) error {
	var in api.TaxRegistration
	if err := bind(c, &in); err != nil {
		return err
	}
	day, err := dayIn(&in.FromOn, "/from_on")
	if err != nil {
		return err
	}
	if err := s.House.TaxRegister(c.Request().Context(), *day, in.Registered, in.TaxName); err != nil {
		return err
	}
	return reply(c, http.StatusCreated, in)
}

func (s *Server) handleHistory(c echo.Context) error {
	list, err := s.House.HistoryOf(c.Request().Context(), c.QueryParam("table"), queryInt(c, "id", 0), int(queryInt(c, "limit", listStandard)))
	if err != nil {
		return err
	}
	out := api.ChangeList{Items: make([]api.Change, len(list))}
	for i, ch := range list {
		o := api.Change{Deed: api.ChangeDeed(ch.Deed), At: ch.At}
		if ch.ActorName != nil {
			o.Who = *ch.ActorName
		}
		if o.Was, err = object(ch.Was); err != nil {
			return err
		}
		if o.Became, err = object(ch.Became); err != nil {
			return err
		}
		out.Items[i] = o
	}
	return reply(c, http.StatusOK, out)
}

// object gives JSON of the database as an object, nil for none.
func object(raw []byte) (*map[string]any, error) {
	if len(raw) == 0 {
		return nil, nil
	}
	var m map[string]any
	err := json.Unmarshal(raw, &m)
	return &m, err
}
