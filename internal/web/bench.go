package web

import (
	"fmt"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerBenchPages(r *routes) {
	r.get(access.Bench, "/bench", s.handleBench)
	r.get(access.Bench, "/bench/done", s.handleBenchDone)
	r.get(access.Bench, "/bench/builds/new", s.handleBuildNew)
	r.post(access.Bench, "/bench/builds/new", s.handleBuildNewPost)
	r.get(access.Bench, "/bench/builds/:id", s.handleBuild)
	r.post(access.Bench, "/bench/builds/:id/:deed", s.handleBuildPost)
	r.get(access.Bench, "/bench/builds/:id/job-card.pdf", paperOf(s.Answer.JobCard))
	r.get(access.Bench, "/bench/builds/:id/labels.pdf", paperOf(s.Answer.BuildLabels))
	r.post(access.Bench, "/bench/operations/:id/:deed", s.handleOperationPost)
	r.post(access.Bench, "/bench/clock/stop", s.handleClockStop)
	r.get(access.Bench, "/bench/plan", s.handlePlan)
	r.post(access.Bench, "/bench/plan", s.handlePlanPost)
	r.post(access.Bench, "/bench/plans/:id/:deed", s.handlePlanDecide)
	s.registerBoxPages(r)
	s.registerModelPages(r)
}

func minutesOf(m float64) string { return show.Minutes(int64(m + 0.5)) }

// clockLead says what time runs for the one who looks, with a button to stop it.
func (s *Server) clockLead(c echo.Context, v *sheetView) error {
	sp, err := s.Workshop.SpellOpen(c.Request().Context(), person(c).ID)
	if fault.Is(err, fault.NotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v.Lead = fmt.Sprintf("Your time runs on %s of %s since %s.", plain(sp.OperationName), sp.BuildNumber, sp.StartedAt.In(set.Location()).Format("15:04"))
	b := button("/bench/clock/stop", "Stop", "Stop my time on "+plain(sp.OperationName))
	b.Main = true
	v.Buttons = []sheetButton{b}
	return nil
}

func (s *Server) handleBench(c echo.Context) error {
	list, next, err := s.Workshop.BuildList(c.Request().Context(), workshop.BuildFilter{Limit: 100, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	v := sheetView{Links: []sheetLink{{"Start a build", "/bench/builds/new"}, {"Plan of the bench", "/bench/plan"}, {"Boxes", "/bench/boxes"}, {"Shelf", "/bench/shelf"}, {"Models", "/bench/models"}, {"Finished builds", "/bench/done"}},
		Cautions: []string{sawCare, dustCare, liftCare, treatedCare}}
	if err := s.clockLead(c, &v); err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Build", "What", "For", "Due", "Hours"), Empty: "No build is open."}
	for _, b := range list {
		due := cellOf(show.DateOr(b.DueOn, "no date"))
		if b.DueOn != nil && b.DueOn.Before(today) {
			due.Late = "Late:"
		}
		t.add(linkCell(b.Number, hrefOf("build", b.ID)), cellOf(b.Title()), cellOf(forWords(b)), due, cellOf(hoursWords(b)))
	}
	v.Tables = []sheetTable{t}
	if next != "" {
		v.More = "/bench?after=" + next
	}
	return s.showSheet(c, "Bench", v)
}

func forWords(b workshop.Build) string {
	switch shelf := b.Quantity - b.Units; {
	case b.Units == 0:
		return "the shelf"
	case shelf > 0:
		return fmt.Sprintf("%d for orders, %d for the shelf", b.Units, shelf)
	}
	return "orders"
}

func hoursWords(b workshop.Build) string {
	return minutesOf(b.SpentMin) + " of " + minutesOf(b.StandardMin)
}

func (s *Server) handleBenchDone(c echo.Context) error {
	list, next, err := s.Workshop.BuildList(c.Request().Context(), workshop.BuildFilter{Done: true, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Build", "What", "Ended", "Hours"), Empty: "No build is finished yet."}
	for _, b := range list {
		end := ""
		switch {
		case b.FinishedAt != nil:
			end = "finished " + show.Time(*b.FinishedAt, set.Location())
		case b.CancelledAt != nil:
			end = "cancelled " + show.Time(*b.CancelledAt, set.Location())
		}
		t.add(linkCell(b.Number, hrefOf("build", b.ID)), cellOf(b.Title()), cellOf(end), cellOf(hoursWords(b)))
	}
	v := sheetView{Links: []sheetLink{{"Open builds", "/bench"}}, Tables: []sheetTable{t}}
	if next != "" {
		v.More = "/bench/done?after=" + next
	}
	return s.showSheet(c, "Finished builds", v)
}

var makesChoices = []Choice{{Value: "box", Text: "Whole boxes"}, {Value: "section", Text: "One section"}, {Value: "part", Text: "One part"}}

// revisionChoices are the latest revisions of the models in use.
func (s *Server) revisionChoices(c echo.Context) ([]Choice, error) {
	list, err := s.Workshop.ModelList(c.Request().Context(), false)
	out := []Choice{{Text: "Choose"}}
	for _, m := range list {
		if m.LatestID != nil {
			out = append(out, Choice{Value: idText(*m.LatestID), Text: m.Name})
		}
	}
	return out, err
}

func (s *Server) handleBuildNew(c echo.Context) error {
	models, err := s.revisionChoices(c)
	if err != nil {
		return err
	}
	kinds, err := s.timberChoices(c)
	if err != nil {
		return err
	}
	options, err := s.Workshop.OptionList(c.Request().Context(), 0)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("quantity", "1")
	fields := []kindField{choose(f.Choose("revision_id", "Model", models, "required")), choose(f.Choose("species_id", "Timber", kinds, "required")), in(f.Field("quantity", "How many", "mode=numeric", "required")),
		choose(f.Choose("makes", "It makes", makesChoices)), in(f.Field("piece", "Which section or part", "hint=Its short name in the model; empty for whole boxes.")), in(f.Field("due_on", "Due on", "type=date")),
		in(f.Field("not_before", "Not before", "type=date")), area(f.Field("notes", "Notes"))}
	parts := one(fields...)
	if len(options) > 0 {
		p := sheetPart{Legend: "Options"}
		for _, o := range options {
			p.Fields = append(p.Fields, tick(f.Field("option."+idText(o.ID), o.Name)))
		}
		parts = append(parts, p)
	}
	v := sheetView{Lead: "Builds for an order are started from the order; this one is for the shelf.", Forms: []sheetForm{{Action: "/bench/builds/new", Form: f, Parts: parts, Button: "Start it"}}, Cautions: []string{sawCare, dustCare}}
	return s.showSheet(c, "Start a build", v)
}

func (s *Server) handleBuildNewPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	n := workshop.BuildNew{RevisionID: f.chosen("revision_id", "Choose the model."), SpeciesID: f.chosen("species_id", "Choose the timber."), Quantity: int(f.Int("quantity", 1, 1000)), Makes: f.Text("makes"), Piece: f.Text("piece"),
		DueOn: f.Date("due_on"), NotBefore: f.Date("not_before"), Notes: f.Text("notes")}
	options, err := s.Workshop.OptionList(ctx, 0)
	if err != nil {
		return err
	}
	for _, o := range options {
		if f.Ticked("option." + idText(o.ID)) {
			n.OptionIDs = append(n.OptionIDs, o.ID)
		}
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleBuildNew)
	}
	b, err := s.Workshop.BuildMake(ctx, n)
	if err != nil {
		return again(err, s.handleBuildNew)
	}
	return goTo(c, hrefOf("build", b.ID), joined("It is build "+b.Number+".", nil))
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
