package web

import (
	"fmt"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/show"
)

func (s *Server) registerPlanPages(r *routes) {
	r.get(access.Bench, "/bench/plan", s.handlePlan)
	r.post(access.Bench, "/bench/plan", s.handlePlanPost)
	r.post(access.Bench, "/bench/plans/:id/:deed", s.handlePlanDecide)
	r.get(access.Bench, "/bench/promises", s.handlePromises)
}

// keptWords says how the last promises went; empty where none has come due yet.
func keptWords(k answer.Kept) string {
	n := int64(len(k.Items))
	switch {
	case n == 0:
		return ""
	case n == 1:
		return map[bool]string{true: "The one promise so far was kept.", false: "The one promise so far was not kept."}[k.Kept == 1]
	}
	return fmt.Sprintf("%d of the last %d promises were kept.", k.Kept, n)
}

// handlePromises shows which of the last promises were kept.
func (s *Server) handlePromises(c echo.Context) error {
	k, err := s.Answer.PromisesKept(c.Request().Context())
	if err != nil {
		return err
	}
	v := sheetView{Lead: keptWords(k), Links: []sheetLink{{"Open builds", "/bench"}, {"Plan of the bench", "/bench/plan"}}}
	t := sheetTable{Heads: heads("Promised", "How it went", "Order", "What", "Ready", "Handed over", "Moved to"), Empty: "No promise has come due yet."}
	orders := person(c).May(access.Orders)
	for _, p := range k.Items {
		how := cellOf("kept")
		if !p.Kept {
			how = sheetCell{Late: "not kept"}
		}
		order := cellOf(p.Order + ", " + p.Who)
		if orders {
			order.Href = hrefOf("order", p.OrderID)
		}
		moved := ""
		if p.Moved != nil {
			moved = show.Date(*p.Moved)
			if p.Why != "" {
				moved += ": " + p.Why
			}
		}
		t.add(cellOf(show.Date(p.Promised)), how, order, cellOf(fmt.Sprintf("%s, piece %d", p.What, p.N)), cellOf(show.DateOr(p.Ready, "")), cellOf(show.DateOr(p.Handed, "")), cellOf(moved))
	}
	v.Tables = []sheetTable{t}
	return s.showSheet(c, "Promises kept", v)
}

func (s *Server) handlePlan(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	list, err := s.Workshop.PlanList(ctx)
	if err != nil {
		return err
	}
	f := formOf(c)
	v := sheetView{Links: []sheetLink{{"Open builds", "/bench"}, {"Hours and days away", "/settings/hours"}},
		Side: []sheetForm{{Title: "Lay it anew", Action: "/bench/plan", Form: f, Button: "Propose a plan", About: "Work that has begun, that you hold, or that begins in the next two days stays where it is.", Parts: one(in(f.Field("why", "Why")))}}}
	past := sheetTable{Title: "Plans", Heads: heads("Plan", "Laid", "Why", "What became of it", "")}
	inForce := int64(0)
	for _, p := range list {
		state, cell := "proposed", sheetCell{}
		switch {
		case p.TurnedDownAt != nil:
			state = "turned down"
		case p.AcceptedAt != nil && inForce == 0:
			state, inForce = "in force", p.ID
		case p.AcceptedAt != nil:
			state = "replaced"
		case inForce == 0:
			at := "/bench/plans/" + idText(p.ID)
			cell.Buttons = []sheetButton{button(at+"/accept", "Put it in force", fmt.Sprintf("Put it in force: plan %d", p.Number)), button(at+"/turn-down", "Turn it down", fmt.Sprintf("Turn it down: plan %d", p.Number))}
		}
		if p.LateMinutes > 0 {
			state += ", late by " + minutesOf(float64(p.LateMinutes))
		}
		past.add(cellOf(strconv.Itoa(p.Number)), cellOf(show.Time(p.ProposedAt, set.Location())), cellOf(p.Why), cellOf(state), cell)
	}
	showID := inForce
	if n := len(list); n > 0 && list[0].AcceptedAt == nil && list[0].TurnedDownAt == nil {
		showID = list[0].ID
		v.Lead = fmt.Sprintf("Plan %d is proposed and not in force yet.", list[0].Number)
	}
	if showID > 0 {
		t, err := s.planTable(c, showID)
		if err != nil {
			return err
		}
		v.Tables = append(v.Tables, t)
	} else if v.Lead = "No plan is in force. Answers to buyers count open builds one behind the other."; len(list) == 0 {
		past.Empty = "No plan was laid yet."
	}
	v.Tables = append(v.Tables, past)
	return s.showSheet(c, "Plan of the bench", v)
}

func (s *Server) planTable(c echo.Context, id int64) (sheetTable, error) {
	t := sheetTable{Heads: heads("Begins", "Ends", "Build", "Operation", "Due"), Empty: "Nothing is left to do in it."}
	set, err := s.settings(c)
	if err != nil {
		return t, err
	}
	p, err := s.Workshop.PlanGet(c.Request().Context(), id)
	if err != nil {
		return t, err
	}
	for i, z := range p.Steps {
		if i == 60 {
			break
		}
		t.add(cellOf(show.Time(z.StartsAt, set.Location())), cellOf(show.Time(z.EndsAt, set.Location())), linkCell(z.BuildNumber, hrefOf("build", z.BuildID)), cellOf(plain(z.OperationName)), cellOf(show.DateOr(z.DueOn, "")))
	}
	return t, nil
}

func (s *Server) handlePlanPost(c echo.Context) error {
	p, err := s.Workshop.PlanLay(c.Request().Context(), formOf(c).Text("why"))
	if err != nil {
		return again(err, s.handlePlan)
	}
	return goTo(c, "/bench/plan", fmt.Sprintf("Plan %d is proposed. Look at it, then put it in force or turn it down.", p.Number))
}

func (s *Server) handlePlanDecide(c echo.Context) error {
	decide := map[string]func(echo.Context, int64) (string, error){
		"accept": func(c echo.Context, id int64) (string, error) {
			_, err := s.Workshop.PlanAccept(c.Request().Context(), id)
			return "It is in force.", err
		},
		"turn-down": func(c echo.Context, id int64) (string, error) {
			_, err := s.Workshop.PlanTurnDown(c.Request().Context(), id)
			return "It is turned down.", err
		}}
	return s.deed(c, s.handlePlan, func(int64) string { return "/bench/plan" }, decide)
}
