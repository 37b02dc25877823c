package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/workshop"
)

func (s *Server) registerPlanRoutes(g *echo.Group) {
	g.GET("/bench-plans", s.handlePlanList)
	g.POST("/bench-plans", s.handlePlanLay)
	g.GET("/bench-plans/:id", s.handlePlan)
	g.POST("/bench-plans/:id/decision", s.handlePlanDecision)
	g.GET("/current-bench-plan", s.handlePlanCurrent)
	g.GET("/promises-kept", s.handlePromisesKept)
}

func (s *Server) handlePlanList(c echo.Context) error {
	list, err := s.Workshop.PlanList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.BenchPlanList{Items: make([]api.BenchPlan, len(list))}
	for i, p := range list {
		out.Items[i] = planOf(p)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePlanLay(c echo.Context) error {
	var in api.PlanNew
	if err := bind(c, &in); err != nil {
		return err
	}
	p, err := s.Workshop.PlanLay(c.Request().Context(), val(in.Why))
	return s.replyPlan(c, http.StatusCreated, p, err)
}

func (s *Server) replyPlan(c echo.Context, status int, p workshop.BenchPlan, err error) error {
	if err != nil {
		return err
	}
	return reply(c, status, planOf(p))
}

func (s *Server) handlePlan(c echo.Context) error {
	p, err := s.Workshop.PlanGet(c.Request().Context(), pathID(c, "id"))
	return s.replyPlan(c, http.StatusOK, p, err)
}

func (s *Server) handlePlanCurrent(c echo.Context) error {
	p, err := s.Workshop.PlanCurrent(c.Request().Context())
	return s.replyPlan(c, http.StatusOK, p, err)
}

func (s *Server) handlePlanDecision(c echo.Context) error {
	var in api.PlanDecision
	if err := bind(c, &in); err != nil {
		return err
	}
	decide := s.Workshop.PlanTurnDown
	if in.Accept {
		decide = s.Workshop.PlanAccept
	}
	p, err := decide(c.Request().Context(), pathID(c, "id"))
	return s.replyPlan(c, http.StatusOK, p, err)
}

func planOf(p workshop.BenchPlan) api.BenchPlan {
	out := api.BenchPlan{ID: p.ID, Number: p.Number, Why: p.Why, ProposedAt: p.ProposedAt, AcceptedAt: p.AcceptedAt, TurnedDownAt: p.TurnedDownAt, LateMinutes: int(p.LateMinutes), Proved: p.Proved}
	if p.Steps != nil {
		steps := make([]api.BenchPlanStep, len(p.Steps))
		for i, z := range p.Steps {
			steps[i] = api.BenchPlanStep{BuildID: z.BuildID, Build: z.BuildNumber, OperationID: z.OperationID, Operation: z.OperationName, StartsAt: z.StartsAt, EndsAt: z.EndsAt, DueOn: dayOut(z.DueOn)}
		}
		out.Steps = &steps
	}
	return out
}

func (s *Server) handlePromisesKept(c echo.Context) error {
	k, err := s.Answer.PromisesKept(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.PromisesKept{Kept: k.Kept, Of: len(k.Items), Items: make([]api.PromiseKept, len(k.Items))}
	for i, p := range k.Items {
		out.Items[i] = api.PromiseKept{OrderUnitID: p.UnitID, OrderID: p.OrderID, Order: p.Order, Buyer: p.Who, What: p.What, N: p.N, PromisedOn: p.Promised.Format(time.DateOnly),
			MovedOn: dayOut(p.Moved), Why: saidOf(p.Why), ReadyOn: dayOut(p.Ready), HandedOverOn: dayOut(p.Handed), Kept: p.Kept}
	}
	return reply(c, http.StatusOK, out)
}

// saidOf leaves out what nobody said.
func saidOf(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}
