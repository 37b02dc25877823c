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
	g.GET("/bench-plans/:id/effects", s.handlePlanEffects)
	g.GET("/bench-outlook", s.handleBenchOutlook)
	g.GET("/bench-slips", s.handleBenchSlips)
	s.registerWeatherRoutes(g)
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
	change, err := changeIn(in)
	if err != nil {
		return err
	}
	p, err := s.Workshop.PlanLay(c.Request().Context(), val(in.Why), change)
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
	if len(p.Left) > 0 {
		left := leftOf(p.Left)
		out.LeftOut = &left
	}
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

// changeIn reads what is to be otherwise in a new plan.
func changeIn(in api.PlanNew) (workshop.PlanChange, error) {
	day, err := dayIn(in.HoldTo, "/hold_to")
	change := workshop.PlanChange{BuildID: val(in.BuildID), HoldTo: day, LetGo: val(in.LetGo)}
	switch val(in.Move) {
	case "earlier":
		change.Move = -1
	case "later":
		change.Move = 1
	}
	return change, err
}

func leftOf(list []workshop.LeftOut) []api.BuildLeftOut {
	out := make([]api.BuildLeftOut, len(list))
	for i, l := range list {
		out[i] = api.BuildLeftOut{BuildID: l.BuildID, Build: l.Number, Why: l.Why}
	}
	return out
}

func benchJobOf(j workshop.BenchJob) api.BenchJob {
	return api.BenchJob{BuildID: j.BuildID, Build: j.Number, What: j.What, Begun: j.Started, HeldTo: dayOut(j.HeldTo), StartsAt: j.StartsAt, EndsAt: j.EndsAt, EndsOn: j.EndsOn.Format(time.DateOnly),
		EndsP80On: dayOut(j.EndsP80), DueOn: dayOut(j.DueOn), LateDays: j.LateDays, RiskDays: j.RiskDays, WasEndsOn: dayOut(j.WasOn), WasStartsOn: dayOut(j.WasStart)}
}

func benchJobsOf(list []workshop.BenchJob) []api.BenchJob {
	out := make([]api.BenchJob, len(list))
	for i, j := range list {
		out[i] = benchJobOf(j)
	}
	return out
}

func (s *Server) handlePlanEffects(c echo.Context) error {
	list, err := s.Workshop.PlanEffects(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.BenchEffects{Items: benchJobsOf(list)})
}

// outlookDays is how far the outlook goes: a fortnight and ten weeks.
const outlookDays = 84

func (s *Server) handleBenchOutlook(c echo.Context) error {
	ctx := c.Request().Context()
	b, err := s.Workshop.BenchTx(ctx, s.DB)
	if err != nil {
		return err
	}
	jobs, err := b.Jobs()
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	out := api.BenchOutlook{Jobs: benchJobsOf(jobs), LeftOut: leftOf(b.Lost()), Days: []api.BenchDay{}}
	for _, d := range b.Days(jobs, today, outlookDays) {
		day := api.BenchDay{On: d.On.Format(time.DateOnly), OpenMinutes: int(d.OpenMin), Work: []api.BenchDayWork{}}
		for _, w := range d.Work {
			day.Work = append(day.Work, api.BenchDayWork{BuildID: w.BuildID, Minutes: int(w.To - w.From)})
		}
		out.Days = append(out.Days, day)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleBenchSlips(c echo.Context) error {
	list, err := s.Answer.Slips(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.BenchSlips{Items: make([]api.BenchSlip, len(list))}
	for i, x := range list {
		slip := api.BenchSlip{Job: benchJobOf(x.BenchJob), PlannedOn: dayOut(x.PlannedOn), NewOn: dayOut(x.NewOn), Causes: append([]string{}, x.Causes...), Ways: []api.BenchWay{}, Buyers: []api.BenchSlipBuyer{}}
		for _, w := range x.Ways {
			way := api.BenchWay{Kind: w.Kind, Text: w.Text}
			if w.Minutes > 0 {
				minutes := int(w.Minutes)
				way.Minutes = &minutes
			}
			if w.Change != nil {
				way.BuildID, way.HoldTo = &w.Change.BuildID, dayOut(w.Change.HoldTo)
			}
			slip.Ways = append(slip.Ways, way)
		}
		for _, b := range x.Buyers {
			slip.Buyers = append(slip.Buyers, api.BenchSlipBuyer{OrderID: b.OrderID, Order: b.Order, Name: b.Name, Phone: saidOf(b.Phone), PromisedOn: b.PromisedOn.Format(time.DateOnly), Pieces: b.Pieces, Words: b.Words})
		}
		out.Items[i] = slip
	}
	return reply(c, http.StatusOK, out)
}
