package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
)

func (s *Server) registerIllRoutes(g *echo.Group) {
	g.GET("/away/:id/calls", s.handleRingList)
	g.POST("/away/:id/calls", s.handleRingTold)
}

func (s *Server) handleRingList(c echo.Context) error {
	_, list, err := s.Answer.RingList(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.RingList{Items: make([]api.RingRow, len(list))}
	for i, x := range list {
		out.Items[i] = api.RingRow{Subject: x.Subject, Who: x.Who, Phone: x.Phone, Email: x.Email, What: x.What, On: *dayOut(&x.On), Words: x.Words, ToldAt: x.ToldAt}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleRingTold(c echo.Context) error {
	var in api.RingTold
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Answer.RingTold(c.Request().Context(), pathID(c, "id"), in.Subject, in.Told); err != nil {
		return err
	}
	return s.handleRingList(c)
}
