package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/house"
)

func (s *Server) registerStandInRoutes(g *echo.Group) {
	g.GET("/stand-in", s.handleStandIn)
	g.PUT("/stand-in", s.handleStandInPut)
	g.GET("/stand-in/pdf", s.handleStandInPDF)
}

func standInOf(w house.StandIn) api.StandIn {
	return api.StandIn{FirstToDo: &w.FirstToDo, WhoDecides: &w.WhoDecides, Backups: &w.Backups, Starting: &w.Starting}
}

func (s *Server) handleStandIn(c echo.Context) error {
	w, err := s.House.StandInGet(c.Request().Context())
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, w.Version, standInOf(w))
}

func (s *Server) handleStandInPut(c echo.Context) error {
	var in api.StandIn
	if err := bind(c, &in); err != nil {
		return err
	}
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	w, err := s.House.StandInPut(c.Request().Context(), house.StandIn{Version: version, FirstToDo: val(in.FirstToDo), WhoDecides: val(in.WhoDecides), Backups: val(in.Backups), Starting: val(in.Starting)})
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, w.Version, standInOf(w))
}

func (s *Server) handleStandInPDF(c echo.Context) error {
	pdf, err := s.Answer.StandInSheet(c.Request().Context())
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, "application/pdf", pdf)
}
