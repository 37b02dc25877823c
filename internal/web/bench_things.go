package web

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerThingPages(r *routes) {
	r.get(access.Bench, "/bench/things", s.handleThings)
	r.get(access.Bench, "/bench/things/:id", s.handleThing)
	r.post(access.Bench, "/bench/things/:id", s.handleThingPost)
}

func (s *Server) handleThings(c echo.Context) error {
	list, err := s.Workshop.ThingList(c.Request().Context(), true)
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("What", "", "#How many"), Narrow: true, Empty: "Nothing is put down yet: work waits for hands alone."}
	for _, x := range list {
		about := x.Notes
		if x.PutAwayAt != nil {
			about = "put away"
		}
		t.add(linkCell(x.Name, "/bench/things/"+idText(x.ID)), cellOf(about), numCell(x.There()))
	}
	return s.showSheet(c, "Things there are only so many of", sheetView{Lead: "Clamps, the paint rack: an operation that needs one waits until it is free. The plan and every date reckon with these counts.",
		Links: []sheetLink{{"Put one down", "/bench/things/0"}, {"Models", "/bench/models"}, {"Plan of the bench", "/bench/plan"}}, Tables: []sheetTable{t}})
}

func (s *Server) thingOf(c echo.Context) (workshop.Thing, error) {
	return newOr(c, func(id int64) (workshop.Thing, error) { return s.Workshop.ThingGet(c.Request().Context(), id) })
}

func (s *Server) handleThing(c echo.Context) error {
	t, err := s.thingOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(t.Version)
	title, v := "Something there are only so many of", sheetView{Links: []sheetLink{{"All of them", "/bench/things"}}}
	if t.ID > 0 {
		title = t.Name
		f.Fill("name", t.Name)
		f.Fill("count", strconv.Itoa(t.Count))
		f.Fill("notes", t.Notes)
		f.FillTick("put_away", t.PutAwayAt != nil)
		v.History = "/history/limited_thing/" + idText(t.ID)
	}
	fields := []kindField{in(f.Field("name", "What it is", "required", "hint=As the bench calls it, such as clamps.")), in(f.Field("count", "How many", "required", "mode=numeric", "hint=So many operations can have it at once.")), in(f.Field("notes", "Notes"))}
	if t.ID > 0 {
		fields = append(fields, tick(f.Field("put_away", "There is none any more: put it away")))
		uses, err := s.Workshop.ThingUses(c.Request().Context(), t.ID, thingAsked(f, t))
		if err != nil {
			return err
		}
		table, hurt := usesTable(uses, thingAsked(f, t) != t.There())
		v.Tables = []sheetTable{table}
		if hurt > 0 {
			fields = append(fields, tick(f.Field("sure", "It is so all the same")))
		}
	}
	v.Forms = []sheetForm{{Action: "/bench/things/" + c.Param("id"), Form: f, Parts: one(fields...), Button: "Keep"}}
	return s.showSheet(c, title, v)
}

// thingAsked is how many there would be by what stands in the form.
func thingAsked(f *Form, t workshop.Thing) int {
	n, err := strconv.Atoi(f.Text("count"))
	switch {
	case f.Ticked("put_away"):
		return 0
	case f.Text("count") == "" || err != nil || n < 0 || n > 1000:
		return t.There()
	}
	return n
}

// usesTable shows the open builds that a thing matters to, and how many a change hurts.
func usesTable(uses []workshop.ThingUse, change bool) (sheetTable, int) {
	t := sheetTable{Title: "Open builds that need it", Heads: heads("Build", "For", "Done on", "Due"), Empty: "No open build needs it."}
	if change {
		t.Title, t.Heads = "What this does to the open builds", heads("Build", "For", "Done on", "Then", "Due")
	}
	hurt := 0
	for _, u := range uses {
		then := cellOf(show.DateOr(u.ThenOn, "finds no place"))
		if u.ThenOn == nil && u.Why != "" {
			then.Text = "never: " + u.Why
		}
		if u.LateDays > 0 {
			then.Late = "Late:"
		}
		row := []sheetCell{linkCell(u.Number+": "+u.What, hrefOf("build", u.BuildID)), cellOf(strings.Join(plainAll(u.Operations), ", "))}
		if change {
			if u.Hurt() {
				hurt++
				then.Late = "Later:"
			}
			row = append(row, cellOf(show.DateOr(u.EndsOn, "finds no place")))
		}
		t.add(append(row, then, cellOf(show.DateOr(u.DueOn, "no date")))...)
	}
	return t, hurt
}

func plainAll(names []string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = plain(n)
	}
	return out
}

// handleThingPost keeps a thing; a change that hurts open builds is shown first and needs
// one tick more.
func (s *Server) handleThingPost(c echo.Context) error {
	t, err := s.thingOf(c)
	if err != nil {
		return err
	}
	f, ctx := formOf(c), c.Request().Context()
	if t.ID > 0 && thingAsked(f, t) < t.There() && !f.Ticked("sure") {
		uses, err := s.Workshop.ThingUses(ctx, t.ID, thingAsked(f, t))
		if err != nil {
			return err
		}
		if _, hurt := usesTable(uses, true); hurt > 0 {
			f.Wrong("sure", show.Count(int64(hurt), "build is done later then, or never: see below.", "builds are done later then, or never: see below.")+" Tick this if it is so all the same.")
		}
	}
	now := s.DB.Now()
	t.Version, t.Name, t.Count, t.Notes = f.Version, f.Text("name"), int(f.Int("count", 1, 1000)), f.Text("notes")
	if !f.Ticked("put_away") {
		t.PutAwayAt = nil
	} else if t.PutAwayAt == nil {
		t.PutAwayAt = &now
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleThing)
	}
	if t, err = s.Workshop.ThingSave(ctx, t); err != nil {
		return again(err, s.handleThing)
	}
	return goTo(c, "/bench/things/"+idText(t.ID), "Kept.")
}

// needChoices are the things an operation can need.
func (s *Server) needChoices(ctx context.Context) ([]Choice, error) {
	list, err := s.Workshop.ThingList(ctx, false)
	choices := []Choice{{Text: "Nothing"}}
	for _, t := range list {
		choices = append(choices, Choice{Value: t.Name, Text: t.Name})
	}
	return choices, err
}

// needFields are the fields for what an operation waits for: two, or one more than it
// names. A name that is no record yet, as a ready drawing has, can be kept.
func needFields(f *Form, at string, needs []string, choices []Choice) []kindField {
	var fields []kindField
	for k := 0; k < max(2, len(needs)+1) || k < drawingRows && f.values.Has(at+strconv.Itoa(k)); k++ {
		name := at + strconv.Itoa(k)
		if k < len(needs) {
			f.Fill(name, workshop.ThingName(needs[k]))
		}
		list := choices
		if now := f.Text(name); !slices.ContainsFunc(list, func(c Choice) bool { return c.Value == now }) {
			list = append(slices.Clone(list), Choice{Value: now, Text: now})
		}
		fields = append(fields, choose(f.Choose(name, []string{"Waits for", "and for"}[min(k, 1)], list)))
	}
	return fields
}
