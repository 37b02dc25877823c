package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

func (s *Server) registerHandsRoutes(g *echo.Group) {
	g.GET("/second-hands", s.handleHandsList)
	g.POST("/second-hands", s.handleHandsNew)
	g.GET("/second-hands/:id", s.handleHands)
	g.PUT("/second-hands/:id", s.handleHandsPut)
	g.POST("/second-hands/:id/end", s.handleHandsEnd)
}

func (s *Server) handleHandsList(c echo.Context) error {
	day, err := s.today(c)
	if err != nil {
		return err
	}
	if on := c.QueryParam("on"); on != "" {
		asked, err := dayIn(&on, "/on")
		if err != nil {
			return err
		}
		day = *asked
	}
	list, err := s.Workshop.SecondHandsList(c.Request().Context(), day)
	if err != nil {
		return err
	}
	out := api.SecondHandsList{Items: make([]api.SecondHands, len(list))}
	for i, h := range list {
		out.Items[i] = handsOf(h)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleHands(c echo.Context) error {
	h, err := s.Workshop.SecondHandsGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, h.Version, handsOf(h))
}

func (s *Server) handleHandsNew(c echo.Context) error {
	return s.putHands(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleHandsPut(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putHands(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putHands(c echo.Context, id int64, version, status int) error {
	var in api.SecondHandsNew
	if err := bind(c, &in); err != nil {
		return err
	}
	from, err := dayIn(&in.FromOn, "/from_on")
	if err != nil {
		return err
	}
	to, err := dayIn(in.ToOn, "/to_on")
	if err != nil {
		return err
	}
	h := workshop.SecondHands{ID: id, Version: version, Who: val(in.Who), FromOn: *from, ToOn: to, StartMinute: in.StartMinute, Minutes: in.Minutes, WhileAway: val(in.WhileAway)}
	for _, d := range in.Weekdays {
		if d < 0 || d > 6 {
			return fault.Bad("/weekdays", "Each day of the week once, between 0 (Sunday) and 6.")
		}
		h.Weekdays = append(h.Weekdays, int16(d))
	}
	if h, err = s.Workshop.SecondHandsSave(c.Request().Context(), h); err != nil {
		return err
	}
	return replyVersion(c, status, h.Version, handsOf(h))
}

func (s *Server) handleHandsEnd(c echo.Context) error {
	var in api.SecondHandsEnd
	if err := bind(c, &in); err != nil {
		return err
	}
	from, err := dayIn(&in.FromOn, "/from_on")
	if err != nil {
		return err
	}
	if _, err := s.Workshop.SecondHandsEnd(c.Request().Context(), pathID(c, "id"), *from); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func handsOf(h workshop.SecondHands) api.SecondHands {
	out := api.SecondHands{ID: h.ID, Version: h.Version, Who: h.Who, FromOn: h.FromOn.Format(time.DateOnly), ToOn: dayOut(h.ToOn), Weekdays: make([]int, len(h.Weekdays)), StartMinute: h.StartMinute, Minutes: h.Minutes, WhileAway: h.WhileAway}
	for i, d := range h.Weekdays {
		out.Weekdays[i] = int(d)
	}
	return out
}
