package web

import (
	"fmt"

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
	r.get(access.Bench, "/bench/builds/:id/longer", s.handleLonger)
	r.post(access.Bench, "/bench/builds/:id/longer/:deed", s.handleLongerPost)
	r.get(access.Bench, "/bench/builds/:id/job-card.pdf", paperOf(s.Answer.JobCard))
	r.get(access.Bench, "/bench/builds/:id/labels.pdf", labelsOf(s.Answer.BuildLabels))
	r.get(access.Bench, "/bench/builds/:id/part-labels.pdf", labelsOf(s.Answer.PartLabels))
	s.registerCuttingPages(r)
	r.post(access.Bench, "/bench/operations/:id/:deed", s.handleOperationPost)
	r.post(access.Bench, "/bench/clock/stop", s.handleClockStop)
	s.registerPlanPages(r)
	s.registerWeatherPages(r)
	s.registerEveningPages(r)
	s.registerBoxPages(r)
	s.registerModelPages(r)
	s.registerThingPages(r)
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
	v.Buttons = runningButtons(sp)
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
	v := sheetView{Links: []sheetLink{{"Start a build", "/bench/builds/new"}, {"Plan of the bench", "/bench/plan"}, {"Dry weather", "/bench/weather"}, {"What did the day hold?", "/bench/evening"}, {"Boxes", "/bench/boxes"}, {"Shelf", "/bench/shelf"}, {"Models", "/bench/models"}, {"Finished builds", "/bench/done"}, {"Promises kept", "/bench/promises"}},
		Cautions: []string{sawCare, dustCare, liftCare, treatedCare}}
	if err := s.clockLead(c, &v); err != nil {
		return err
	}
	if err := s.nextLead(c, &v); err != nil {
		return err
	}
	if err := s.benchOutlook(c, &v, today); err != nil {
		return err
	}
	t := sheetTable{Title: "Open builds", Heads: heads("Build", "What", "For", "Due", "Hours"), Empty: "No build is open."}
	for _, b := range list {
		due := cellOf(show.DateOr(b.DueOn, "no date"))
		if b.DueOn != nil && b.DueOn.Before(today) {
			due.Late = "Late:"
		}
		t.add(linkCell(b.Number, hrefOf("build", b.ID)), cellOf(b.Title()), cellOf(forWords(b)), due, cellOf(hoursWords(b)))
	}
	v.Tables = append([]sheetTable{t}, v.Tables...)
	if form, ok := togetherForm(c, list); ok {
		v.Forms = append(v.Forms, form)
	}
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
