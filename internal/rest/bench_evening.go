package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/workshop"
)

func (s *Server) registerEveningRoutes(g *echo.Group) {
	g.GET("/evenings/:on", s.handleEvening)
	g.POST("/evenings/:on", s.handleEveningPut)
	g.GET("/forgotten-time", s.handleForgotten)
	g.GET("/clock/next", s.handleNextStep)
	g.POST("/spells/:id", s.handleSpellMend)
	g.DELETE("/spells/:id", s.handleSpellStrike)
	g.GET("/models/:id/learnt", s.handleLearnt)
	g.POST("/models/:id/learnt", s.handleLearntTake)
}

func spellOf(x workshop.Spell) api.Spell {
	return api.Spell{ID: x.ID, OperationID: x.OperationID, Operation: x.OperationName, BuildID: x.BuildID, Build: x.BuildNumber, StartedAt: x.StartedAt, StoppedAt: x.StoppedAt}
}

func onDay(c echo.Context) (time.Time, error) {
	day, err := time.Parse(time.DateOnly, c.Param("on"))
	if err != nil || day.Year() < 1900 {
		return day, malformed("/on", "This must be a date such as 2026-03-14.")
	}
	return day, nil
}

func (s *Server) replyEvening(c echo.Context, e workshop.Evening, err error) error {
	if err != nil {
		return err
	}
	out := api.Evening{On: *dayOut(&e.On), TappedMin: e.TappedMin, HoursMin: e.HoursMin, Steps: make([]api.EveningStep, len(e.Steps)), Spells: make([]api.Spell, len(e.Spells))}
	for i, x := range e.Steps {
		out.Steps[i] = api.EveningStep{OperationID: x.OperationID, Operation: x.Name, BuildID: x.BuildID, Build: x.BuildNumber, What: x.What, StandardMin: x.StandardMin, TappedMin: x.TappedMin, Planned: x.Planned, DoneAt: x.DoneAt}
	}
	for i, x := range e.Spells {
		out.Spells[i] = spellOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleEvening(c echo.Context) error {
	day, err := onDay(c)
	if err != nil {
		return err
	}
	e, err := s.Workshop.EveningGet(c.Request().Context(), person(c).ID, day)
	return s.replyEvening(c, e, err)
}

func (s *Server) handleEveningPut(c echo.Context) error {
	var in api.EveningNote
	if err := bind(c, &in); err != nil {
		return err
	}
	day, err := onDay(c)
	if err != nil {
		return err
	}
	e, err := s.Workshop.EveningPut(c.Request().Context(), person(c).ID, workshop.EveningNote{On: day, Minutes: in.Minutes, DoneIDs: val(in.Done), WorkedID: val(in.Worked)})
	return s.replyEvening(c, e, err)
}

func (s *Server) handleForgotten(c echo.Context) error {
	list, err := s.Workshop.SpellsForgotten(c.Request().Context(), person(c).ID)
	if err != nil {
		return err
	}
	out := api.ForgottenList{Items: make([]api.Forgotten, len(list))}
	for i, f := range list {
		out.Items[i] = api.Forgotten{Spell: spellOf(f.Spell), Stops: make([]api.ForgottenStop, len(f.Stops))}
		for k, stop := range f.Stops {
			out.Items[i].Stops[k] = api.ForgottenStop{At: stop.At, Words: stop.Words}
		}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleNextStep(c echo.Context) error {
	x, err := s.Workshop.NextStep(c.Request().Context(), person(c).Role == access.Owner)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.NextStep{OperationID: x.OperationID, Operation: x.Name, BuildID: x.BuildID, Build: x.BuildNumber, What: x.What, StandardMin: x.StandardMin, StartsAt: x.StartsAt})
}

func (s *Server) handleSpellMend(c echo.Context) error {
	var in api.TimeNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Workshop.SpellMend(c.Request().Context(), pathID(c, "id"), person(c).ID, in.StartedAt.UTC(), in.StoppedAt.UTC())
	return s.replySpell(c, http.StatusOK, x, err)
}

func (s *Server) handleSpellStrike(c echo.Context) error {
	if err := s.Workshop.SpellStrike(c.Request().Context(), pathID(c, "id"), person(c).ID); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handleLearnt(c echo.Context) error {
	list, err := s.Workshop.ModelLearnt(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.LearntList{Items: make([]api.Learnt, len(list))}
	for i, x := range list {
		out.Items[i] = api.Learnt{Operation: x.Operation, StandardMin: x.StandardMin.InexactFloat64(), RealMin: x.RealMin.InexactFloat64(), BetterMin: x.BetterMin.InexactFloat64(), Builds: x.Builds, FromDays: x.FromDays, Worth: x.Worth}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleLearntTake(c echo.Context) error {
	var in api.LearntTake
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Workshop.LearntTake(c.Request().Context(), pathID(c, "id"), in.Operations)
	if err != nil {
		return err
	}
	return s.replyRevision(c, http.StatusCreated, x, nil)
}
