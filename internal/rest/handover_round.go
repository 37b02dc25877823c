package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
)

func (s *Server) registerRoundRoutes(g *echo.Group) {
	g.POST("/rounds", s.handleRoundPlan)
	g.POST("/run-stops/:id/permit", s.handleStopPermit)
}

func (s *Server) handleRoundPlan(c echo.Context) error {
	var in api.RoundNew
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(&in.RunOn, "/run_on")
	if err != nil {
		return err
	}
	if in.TreeIds != nil && in.DueWithinDays != nil {
		return fault.Bad("/due_within_days", "Name the trees, or say within how many days they are due: one of the two.")
	}
	n, err := s.Answer.RoundMake(c.Request().Context(), answer.NewRound{On: *on, TreeIDs: val(in.TreeIds), WithinDays: in.DueWithinDays, Driver: val(in.Driver), Notes: val(in.Notes)})
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusCreated, n.Version, runOf(n))
}

func (s *Server) handleStopPermit(c echo.Context) error {
	var in api.PermitNamed
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Handover.StopPermit(c.Request().Context(), pathID(c, "id"), in.PermitID); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
