package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/workshop"
)

func (s *Server) registerTimeRoutes(g *echo.Group) {
	g.POST("/operations/:id/start", s.handleClockStart)
	g.POST("/operations/:id/time", s.handleTimeAdd)
	g.POST("/operations/:id/done", s.handleOperationDone)
	s.registerEveningRoutes(g)
	g.GET("/clock", s.handleClock)
	g.POST("/clock/stop", s.handleClockStop)
	g.GET("/work-week", s.handleWeek)
	g.POST("/work-week", s.handleWeekSet)
	g.GET("/away", s.handleAwayList)
	g.POST("/away", s.handleAwayAdd)
	g.DELETE("/away/:id", s.handleAwayRemove)
}

func (s *Server) replySpell(c echo.Context, status int, x workshop.Spell, err error) error {
	if err != nil {
		return err
	}
	return reply(c, status, api.Spell{ID: x.ID, OperationID: x.OperationID, Operation: x.OperationName, BuildID: x.BuildID, Build: x.BuildNumber, StartedAt: x.StartedAt, StoppedAt: x.StoppedAt})
}

func (s *Server) handleClockStart(c echo.Context) error {
	var in api.ClockTime
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Workshop.SpellStart(c.Request().Context(), pathID(c, "id"), person(c).ID, s.happened(in.At))
	return s.replySpell(c, http.StatusCreated, x, err)
}

func (s *Server) handleTimeAdd(c echo.Context) error {
	var in api.TimeNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Workshop.SpellAdd(c.Request().Context(), pathID(c, "id"), person(c).ID, in.StartedAt.UTC(), in.StoppedAt.UTC())
	return s.replySpell(c, http.StatusCreated, x, err)
}

func (s *Server) handleOperationDone(c echo.Context) error {
	var in api.OperationDone
	if err := bind(c, &in); err != nil {
		return err
	}
	b, err := s.Workshop.OperationDone(c.Request().Context(), pathID(c, "id"), in.Done, s.happened(in.At))
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) handleClock(c echo.Context) error {
	x, err := s.Workshop.SpellOpen(c.Request().Context(), person(c).ID)
	return s.replySpell(c, http.StatusOK, x, err)
}

func (s *Server) handleClockStop(c echo.Context) error {
	var in api.ClockTime
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Workshop.SpellStop(c.Request().Context(), person(c).ID, s.happened(in.At))
	return s.replySpell(c, http.StatusOK, x, err)
}

func (s *Server) handleWeek(c echo.Context) error {
	day, err := s.today(c)
	if err != nil {
		return err
	}
	if on := c.QueryParam("on"); on != "" {
		if day, err = time.Parse(time.DateOnly, on); err != nil {
			return malformed("/on", "This must be a date such as 2026-03-14.")
		}
	}
	w, err := s.Workshop.WeekAt(c.Request().Context(), day)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, weekOf(w))
}

func (s *Server) handleWeekSet(c echo.Context) error {
	var in api.Week
	if err := bind(c, &in); err != nil {
		return err
	}
	from, err := dayIn(in.FromOn, "/from_on")
	if err != nil {
		return err
	}
	w := workshop.Week{}
	if from != nil {
		w.FromOn = *from
	}
	for _, h := range in.Hours {
		hands := 1
		if h.Hands != nil {
			hands = *h.Hands
		}
		w.Hours = append(w.Hours, workshop.Hours{Weekday: h.Weekday, StartMinute: h.StartMinute, EndMinute: h.EndMinute, Hands: hands})
	}
	if err := s.Workshop.WeekSet(c.Request().Context(), w); err != nil {
		return err
	}
	return reply(c, http.StatusOK, weekOf(w))
}

func weekOf(w workshop.Week) api.Week {
	out := api.Week{Hours: make([]api.WeekHours, len(w.Hours))}
	if !w.FromOn.IsZero() {
		out.FromOn = dayOut(&w.FromOn)
	}
	for i, h := range w.Hours {
		out.Hours[i] = api.WeekHours{Weekday: h.Weekday, StartMinute: h.StartMinute, EndMinute: h.EndMinute, Hands: &h.Hands}
	}
	return out
}

func (s *Server) handleAwayList(c echo.Context) error {
	day, err := s.today(c)
	if err != nil {
		return err
	}
	list, err := s.Workshop.AwayList(c.Request().Context(), day)
	if err != nil {
		return err
	}
	out := api.AwayList{Items: make([]api.Away, len(list))}
	for i, a := range list {
		out.Items[i] = awayOf(a)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleAwayAdd(c echo.Context) error {
	var in api.AwayNew
	if err := bind(c, &in); err != nil {
		return err
	}
	from, err := dayIn(&in.FromOn, "/from_on")
	if err != nil {
		return err
	}
	to, err := dayIn(&in.ToOn, "/to_on")
	if err != nil {
		return err
	}
	a, err := s.Workshop.AwayAdd(c.Request().Context(), workshop.Away{FromOn: *from, ToOn: *to, Why: val(in.Why)})
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, awayOf(a))
}

func (s *Server) handleAwayRemove(c echo.Context) error {
	if err := s.Workshop.AwayRemove(c.Request().Context(), pathID(c, "id")); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func awayOf(a workshop.Away) api.Away {
	return api.Away{ID: a.ID, FromOn: *dayOut(&a.FromOn), ToOn: *dayOut(&a.ToOn), Why: a.Why}
}
