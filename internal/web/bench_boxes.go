package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerBoxPages(r *routes) {
	r.get(access.Bench, "/bench/boxes", s.handleBoxes)
	r.get(access.Bench, "/bench/boxes/new", s.handleBoxNew)
	r.post(access.Bench, "/bench/boxes/new", s.handleBoxNewPost)
	r.get(access.Bench, "/bench/boxes/:id", s.handleBox)
	r.post(access.Bench, "/bench/boxes/:id/:deed", s.handleBoxPost)
	r.get(access.Bench, "/bench/boxes/:id/label.pdf", labelsOf(s.Answer.BoxLabel))
	r.get(access.Bench, "/bench/shelf", s.handleShelf)
	r.post(access.Bench, "/bench/shelf", s.handleShelfPost)
}

func minuteSpan(n int64) time.Duration { return time.Duration(n) * time.Minute }

// boxState says how a box stands.
func boxState(b workshop.Box, today time.Time) string {
	switch {
	case b.GoneAt != nil:
		return "gone"
	case b.StolenAt != nil:
		return "stolen"
	case !b.Ours:
		return "with its owner"
	case b.HeldBackBecause != "":
		return "held back: " + b.HeldBackBecause
	case b.ClaimedByUnitID != nil:
		return "promised to an order"
	case b.ColonyID != nil:
		return "on the shelf, with bees"
	case b.CuredOn != nil && b.CuredOn.After(today):
		return "curing until " + show.Date(*b.CuredOn)
	}
	return "on the shelf"
}

func (s *Server) handleBoxes(c echo.Context) error {
	shelf, typed := c.QueryParam("shelf") != "", c.QueryParam("serial")
	if typed != "" {
		return s.showFoundBoxes(c, typed)
	}
	list, next, err := s.Workshop.BoxList(c.Request().Context(), workshop.BoxFilter{Shelf: shelf, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	v := sheetView{Links: []sheetLink{{"Register a box", "/bench/boxes/new"}, {"Free on the shelf only", "/bench/boxes?shelf=yes"}, {"Sections and parts on the shelf", "/bench/shelf"}}, Tables: []sheetTable{boxTable(list, today)}, Side: []sheetForm{serialForm(c)}}
	if person(c).May(access.Orders) {
		v.Links = append(v.Links, sheetLink{"Boxes that are missing", "/bench/boxes/stolen"})
	}
	title, at := "Boxes", "/bench/boxes?after="
	if shelf {
		v.Links[1] = sheetLink{"All boxes", "/bench/boxes"}
		title, at = "Boxes free on the shelf", "/bench/boxes?shelf=yes&after="
	}
	if next != "" {
		v.More = at + next
	}
	return s.showSheet(c, title, v)
}

func boxTable(list []workshop.Box, today time.Time) sheetTable {
	t := sheetTable{Heads: heads("Serial", "What", "How it stands", "Where"), Empty: "No box is here."}
	for _, b := range list {
		t.add(linkCell(b.Serial, hrefOf("box", b.ID)), cellOf(b.What()), cellOf(boxState(b, today)), cellOf(b.Place))
	}
	return t
}

// serialForm finds a box by its serial, however it was typed.
func serialForm(c echo.Context) sheetForm {
	f := formOf(c, "find")
	f.Fill("serial", c.QueryParam("serial"))
	return sheetForm{Title: "Find by serial", Action: "/bench/boxes", Form: f, Look: true, Button: "Find", Parts: one(in(f.Field("serial", "Serial", "mode=numeric", "hint=A digit may be wrong or missing.")))}
}

// showFoundBoxes goes to the box that bears a serial, or shows those it may be meant for.
func (s *Server) showFoundBoxes(c echo.Context, typed string) error {
	list, said, err := s.findBox(c, typed)
	if err != nil {
		return err
	}
	if said == "" {
		return c.Redirect(http.StatusSeeOther, hrefOf("box", list[0].ID))
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	v := sheetView{Lead: said, Links: []sheetLink{{"All boxes", "/bench/boxes"}, {"Register a box", "/bench/boxes/new"}}, Forms: []sheetForm{serialForm(c)}}
	if len(list) > 0 {
		v.Tables = []sheetTable{boxTable(list, today)}
	}
	return s.showSheet(c, "Boxes", v)
}

func (s *Server) handleBoxNew(c echo.Context) error {
	models, err := s.revisionChoices(c)
	if err != nil {
		return err
	}
	models[0].Text = "No model of ours"
	kinds, err := s.timberChoices(c)
	if err != nil {
		return err
	}
	kinds[0].Text = "Not known"
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("finished_on", show.ISODate(today))
	v := sheetView{Lead: "For boxes sold long ago and boxes of other makers; new ones get theirs from a build.", Forms: []sheetForm{{Action: "/bench/boxes/new", Form: f, Button: "Register it", Parts: one(
		in(f.Field("serial", "Serial", "mode=numeric", "hint=As it is punched; empty: it gets the next one.")), choose(f.Choose("revision_id", "Model", models)), in(f.Field("description", "Or what box it is")), in(f.Field("maker", "Maker", "hint=Empty: this workshop.")),
		choose(f.Choose("species_id", "Timber", kinds)), in(f.Field("finished_on", "Made or come here on", "type=date", "required")), in(f.Field("place", "Where it is")), tick(f.Field("sold", "It is not ours any more")), in(f.Field("number", "Owner's phone number", "type=tel", "mode=tel", "hint=Somebody the book knows by it is found; others are put down.")), in(f.Field("name", "Owner's name")), area(f.Field("notes", "Notes")))}}}
	return s.showSheet(c, "Register a box", v)
}

func (s *Server) handleBoxNewPost(c echo.Context) error {
	f := formOf(c)
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	n := workshop.BoxNew{Serial: f.Text("serial"), RevisionID: f.maybeID("revision_id"), Description: f.Text("description"), Maker: f.Text("maker"), SpeciesID: f.maybeID("species_id"), Place: f.Text("place"), Notes: f.Text("notes")}
	if day := f.Date("finished_on"); day != nil {
		n.FinishedAt = time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, set.Location()).UTC()
	}
	if f.Ticked("sold") && f.Text("name") == "" && f.Text("number") == "" {
		f.Wrong("name", "Say whose it is: a name or a number.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleBoxNew)
	}
	if f.Ticked("sold") {
		owner, err := s.ownerOf(c, f)
		if err != nil {
			return again(err, s.handleBoxNew)
		}
		n.OwnerID = &owner
	}
	b, err := s.Workshop.BoxRegister(c.Request().Context(), n)
	if err != nil {
		return again(err, s.handleBoxNew)
	}
	return goTo(c, hrefOf("box", b.ID), "It is box "+b.Serial+".")
}

// ownerOf gives the one who uses the number in f, by name where several do, or puts
// somebody new into the book.
func (s *Server) ownerOf(c echo.Context, f *Form) (int64, error) {
	if known, err := s.knownOwner(c, f); err != nil || known != 0 {
		return known, err
	}
	return s.newBuyer(c, f)
}

// knownOwner gives the one who uses the number in f, by name where several do; 0 when the
// book knows nobody by it.
func (s *Server) knownOwner(c echo.Context, f *Form) (int64, error) {
	if f.Text("number") == "" {
		return 0, nil
	}
	known, err := s.Sales.PartiesByNumber(c.Request().Context(), f.Text("number"))
	if err != nil {
		return 0, err
	}
	for _, p := range known {
		if len(known) == 1 && f.Text("name") == "" || strings.EqualFold(p.Name, f.Text("name")) {
			return p.ID, nil
		}
	}
	if len(known) > 0 && f.Text("name") == "" {
		return 0, fault.Bad("/name", "Several people use this number. Say who it is.")
	}
	return 0, nil
}

func (s *Server) handleBox(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	b, err := s.Workshop.BoxGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	day := func(t time.Time) string { return show.Time(t, set.Location()) }
	v := sheetView{Lead: boxState(b, set.Today(s.DB.Now())), Links: []sheetLink{{"Label (PDF)", hrefOf("box", id) + "/label.pdf"}}, History: "/history/box/" + idText(id), Cautions: []string{treatedCare, "A full box is heavy and its bees are at home: two people, and the entrance closed while it moves."}}
	v.Facts = told(sheetFact{Name: "What", Text: b.What()}, sheetFact{Name: "Maker", Text: b.Maker}, sheetFact{Name: "Finished", Text: day(b.FinishedAt)}, sheetFact{Name: "Bees may live in it from", Text: show.DateOr(b.CuredOn, "")}, sheetFact{Name: "Where", Text: b.Place}, sheetFact{Name: "Notes", Text: b.Notes})
	if b.BuildID != nil {
		v.Facts = append(v.Facts, sheetFact{Name: "Build", Text: "made here", Href: hrefOf("build", *b.BuildID)})
	}
	if b.ColonyID != nil && person(c).May(access.Bees) {
		v.Facts = append(v.Facts, sheetFact{Name: "Colony", Text: "lives in it", Href: hrefOf("colony", *b.ColonyID)})
	}
	if person(c).May(access.Bees) {
		here, err := s.keptHere(c, 0, b.ID)
		if err != nil {
			return err
		}
		v.Facts = append(v.Facts, told(here)...)
	}
	if b.OwnerPartyID != nil && person(c).May(access.Orders) {
		v.Facts = append(v.Facts, sheetFact{Name: "Owner", Text: ownerName(b), Href: hrefOf("party", *b.OwnerPartyID)})
	}
	if b.CostMinor != nil {
		v.Costs = []sheetFact{{Name: "To make it cost", Text: currency(set).Money(*b.CostMinor)}}
	}
	sections := sheetTable{Title: "Sections", Heads: heads("#Place", "Section", "From", "To", "Note"), Empty: "Not known."}
	for _, z := range b.Sections {
		to := ""
		if z.ToAt != nil {
			to = day(*z.ToAt)
		}
		sections.add(numCell(z.Place), cellOf(plain(z.Section)), cellOf(day(z.FromAt)), cellOf(to), cellOf(z.Note))
	}
	places := sheetTable{Title: "Where it was", Heads: heads("Place", "From"), Empty: "Not known."}
	for _, p := range b.Places {
		where := p.Place
		if where == "" && p.SiteID != nil {
			where = "at a site"
		}
		places.add(cellOf(where), cellOf(day(p.FromAt)))
	}
	v.Tables = []sheetTable{sections, places}
	s.boxForms(c, b, &v)
	if err := s.boxRegister(c, b, set, &v); err != nil {
		return err
	}
	return s.showSheet(c, "Box "+b.Serial, v)
}

func (s *Server) boxForms(c echo.Context, b workshop.Box, v *sheetView) {
	at := hrefOf("box", b.ID)
	move, section, change := formOf(c, "place"), formOf(c, "section"), formOf(c, "change")
	change.FillVersion(b.Version)
	change.Fill("notes", b.Notes)
	change.Fill("held_back_because", b.HeldBackBecause)
	change.FillTick("gone", b.GoneAt != nil)
	v.Side = []sheetForm{labelForm(c, "Label on a begun sheet", at+"/label"), {Title: "It stands elsewhere now", Action: at + "/place", Form: move, Button: "Note it", Parts: one(in(move.Field("place", "Where", "required", "hint=Bees in it go along, into the movement record.")), in(move.Field("permit_number", "Permit number, if moving bees needs one")))},
		{Title: "A section was changed", Fold: true, Action: at + "/section", Form: section, Button: "Note it", Parts: one(in(section.Field("place_in_box", "Place from the bottom", "mode=numeric", "required")), in(section.Field("section", "What sits there now", "hint=Empty: nothing.")), in(section.Field("note", "Note")))},
		{Title: "Hold it back, gone", Fold: true, Action: at + "/change", Form: change, Button: "Keep", Parts: one(in(change.Field("held_back_because", "Held back because", "hint=Empty: it may be promised.")), tick(change.Field("gone", "It is gone: burnt, broken up")), area(change.Field("notes", "Notes")))}}
}

func (s *Server) handleBoxPost(c echo.Context) error {
	back := func(id int64) string { return hrefOf("box", id) }
	return s.deed(c, s.handleBox, back, map[string]func(echo.Context, int64) (string, error){
		"place": func(c echo.Context, id int64) (string, error) {
			f := formOf(c, "place")
			if f.Text("place") == "" {
				f.Wrong("place", "Say where it stands.")
			}
			if err := f.Err(); err != nil {
				return "", err
			}
			_, err := s.Answer.BoxElsewhere(c.Request().Context(), id, apiary.Move{Place: f.Text("place"), PermitNumber: f.Text("permit_number")})
			return "Noted.", err
		},
		"section": func(c echo.Context, id int64) (string, error) {
			f := formOf(c, "section")
			place := int(f.Int("place_in_box", 1, 50))
			if err := f.Err(); err != nil {
				return "", err
			}
			_, err := s.Workshop.SectionMove(c.Request().Context(), id, place, f.Text("section"), f.Text("note"), s.DB.Now())
			return "Noted.", err
		}, "change": s.changeBox})
}

func (s *Server) changeBox(c echo.Context, id int64) (string, error) {
	f, ctx, now := formOf(c, "change"), c.Request().Context(), s.DB.Now()
	b, err := s.Workshop.BoxGet(ctx, id)
	if err != nil {
		return "", err
	}
	since := func(name string, was *time.Time) *time.Time {
		switch {
		case !f.Ticked(name):
			return nil
		case was != nil:
			return was
		}
		return &now
	}
	_, err = s.Workshop.BoxSave(ctx, workshop.BoxChange{ID: id, Version: f.Version, HeldBackBecause: f.Text("held_back_because"), StolenAt: b.StolenAt, GoneAt: since("gone", b.GoneAt), CuredOn: b.CuredOn, Notes: f.Text("notes")})
	return "Kept.", err
}

func (s *Server) handleShelf(c echo.Context) error {
	list, err := s.Workshop.ShelfLots(c.Request().Context(), 0)
	if err != nil {
		return err
	}
	models, err := s.revisionChoices(c)
	if err != nil {
		return err
	}
	kinds, err := s.timberChoices(c)
	if err != nil {
		return err
	}
	kinds[0].Text = "Not known"
	t := sheetTable{Heads: heads("Model", "Piece", "Timber", "#On hand", "#Put aside", "#Free"), Empty: "No sections or parts lie on the shelf."}
	for _, l := range list {
		t.add(cellOf(fmt.Sprintf("%s, revision %d", l.ModelName, l.Revision)), cellOf(l.Makes+" "+plain(l.Piece)), cellOf(l.SpeciesName), numCell(l.OnHand), numCell(l.PutAside+l.Meant), numCell(l.Free()))
	}
	f := formOf(c)
	f.Fill("makes", "section")
	v := sheetView{Links: []sheetLink{{"Boxes free on the shelf", "/bench/boxes?shelf=yes"}}, Tables: []sheetTable{t}, Side: []sheetForm{{Title: "There before the book", Action: "/bench/shelf", Form: f, Button: "Put them down", Parts: one(choose(f.Choose("revision_id", "Model", models, "required")),
		choose(f.Choose("makes", "They are", makesChoices[1:])), in(f.Field("piece", "Which section or part", "required")), choose(f.Choose("species_id", "Timber", kinds)), in(f.Field("count", "How many", "mode=numeric", "required")))}}}
	return s.showSheet(c, "Sections and parts on the shelf", v)
}

func (s *Server) handleShelfPost(c echo.Context) error {
	f := formOf(c)
	rev, count := f.chosen("revision_id", "Choose the model."), int(f.Int("count", 1, 100_000))
	if err := f.Err(); err != nil {
		return again(err, s.handleShelf)
	}
	l, err := s.Workshop.ShelfLotIn(c.Request().Context(), rev, f.Text("makes"), f.Text("piece"), f.maybeID("species_id"), count, s.DB.Now())
	if err != nil {
		return again(err, s.handleShelf)
	}
	return goTo(c, "/bench/shelf", strconv.Itoa(l.OnHand)+" lie there now.")
}
