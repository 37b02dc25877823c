package web

import (
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

func (s *Server) registerBeesPages(r *routes) {
	s.registerKeepingPages(r)
	r.get(access.Bees, "/bees", s.handleBees)
	r.get(access.Bees, "/bees/colonies/new", s.handleColonyNew)
	r.post(access.Bees, "/bees/colonies/new", s.handleColonyNewPost)
	r.get(access.Bees, "/bees/colonies/:id", s.handleColony)
	r.get(access.Bees, "/bees/colonies/:id/split", s.handleSplit)
	r.post(access.Bees, "/bees/colonies/:id/split", s.handleSplitPost)
	r.post(access.Bees, "/bees/colonies/:id/:deed", s.handleColonyPost)
	s.registerTreePages(r)
	s.registerPermitPages(r)
	r.get(access.Bees, "/bees/species/:id", s.handleBeeSpecies)
	r.post(access.Bees, "/bees/species/:id", s.handleBeeSpeciesPost)
}

type beesView struct {
	Colonies []colonyRow
	More     string // address of the next page
	Lines    []lineLink
	Trees    []treeRow // those due first
	Species  []speciesRow

	TreeCount string
}

// treesOnBees is how many host trees the page shows; the rest stand on their own.
const treesOnBees = 6

type colonyRow struct{ Number, Href, Name, Species, Where, State string }

type speciesRow struct{ Name, Common, Href string }

var beesPage = definePage[beesView]("bees")

func (s *Server) handleBees(c echo.Context) error {
	ctx := c.Request().Context()
	today, err := s.today(c)
	if err != nil {
		return err
	}
	colonies, next, err := s.Apiary.ColonyList(ctx, apiary.ColonyFilter{Living: true, Limit: 60, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	var v beesView
	if next != "" {
		v.More = "/bees?after=" + next
	}
	for _, x := range colonies {
		v.Colonies = append(v.Colonies, colonyRow{Number: x.Number, Href: hrefOf("colony", x.ID), Name: x.Name, Species: speciesWords(x), Where: whereWords(x), State: x.State(today)})
	}
	species, err := s.Apiary.SpeciesList(ctx)
	if err != nil {
		return err
	}
	for _, sp := range species {
		v.Species = append(v.Species, speciesRow{sp.Name, sp.CommonName, "/bees/species/" + strconv.FormatInt(sp.ID, 10)})
	}
	if v.Lines, err = s.lineLinks(c); err != nil {
		return err
	}
	if v.Trees, err = s.treeRows(c, apiary.TreeFilter{}); err != nil {
		return err
	}
	v.TreeCount = show.Count(int64(len(v.Trees)), "host tree", "host trees")
	if len(v.Trees) > treesOnBees {
		v.Trees = v.Trees[:treesOnBees]
	}
	return beesPage.show(s, c, "Bees", v)
}

func text(p *string) string {
	if p == nil {
		return ""
	}
	return *p
}

func speciesWords(x apiary.Colony) string {
	name := text(x.SpeciesName)
	if name != "" && x.SpeciesSure != nil && !*x.SpeciesSure {
		name += " (not sure)"
	}
	return name
}

func whereWords(x apiary.Colony) string {
	parts := []string{}
	switch {
	case x.BoxSerial != nil:
		parts = append(parts, "box "+*x.BoxSerial)
	case x.Dwelling != nil:
		parts = append(parts, *x.Dwelling)
	}
	if x.PlaceName != "" {
		parts = append(parts, x.PlaceName)
	}
	return strings.Join(parts, ", ")
}

type colonyNewView struct {
	Form      *Form
	Held      bool // the parent typed in is held back
	Species   []Choice
	Dwellings []Choice
}

var colonyNewPage = definePage[colonyNewView]("colony-new")

var dwellings = []Choice{{Value: "box", Text: "A box (give its serial)"}, {Value: "log", Text: "A log"}, {Value: "tree", Text: "A tree"}, {Value: "other", Text: "Something else"}}

func (s *Server) speciesChoices(c echo.Context) ([]Choice, error) {
	list, err := s.Apiary.SpeciesList(c.Request().Context())
	var out []Choice
	for _, sp := range list {
		out = append(out, Choice{Value: strconv.FormatInt(sp.ID, 10), Text: sp.Name})
	}
	return out, err
}

func (s *Server) handleColonyNew(c echo.Context) error {
	species, err := s.speciesChoices(c)
	if err != nil {
		return err
	}
	v := colonyNewView{Form: formOf(c), Species: species, Dwellings: dwellings}
	if number := v.Form.Text("parents"); number != "" {
		p, err := s.Apiary.ColonyByNumber(c.Request().Context(), number)
		if err != nil && !fault.Is(err, fault.NotFound) {
			return err
		}
		v.Held = p.HeldBackBecause != ""
	}
	return colonyNewPage.show(s, c, "Enter a colony", v)
}

// boxOf reads the serial in a field; 0 when it is empty, noted at the field when there is
// no such box.
func (s *Server) boxOf(c echo.Context, f *Form, name string) (int64, error) {
	serial := f.Text(name)
	if serial == "" {
		return 0, nil
	}
	b, err := s.Workshop.BoxBySerial(c.Request().Context(), serial)
	switch {
	case fault.Is(err, fault.NotFound), fault.Is(err, fault.Invalid):
		f.Wrong(name, "No box bears this serial. Look at it again; the last digit guards against slips.")
		return 0, nil
	case err != nil:
		return 0, err
	}
	return b.ID, nil
}

func (s *Server) handleColonyNewPost(c echo.Context) error {
	f := formOf(c)
	n := apiary.NewColony{Name: f.Text("name"), SpeciesID: f.ID("species_id"), SpeciesSure: f.Ticked("species_sure"), BeganOn: f.Date("began_on"), BeganAbout: f.Text("began_about"), Origin: f.Text("origin"),
		Dwelling: f.Text("dwelling"), Description: f.Text("description"), Place: f.Text("place"), SettledOn: f.Date("settled_on"), SettlesAbout: f.Date("settles_about"), Notes: f.Text("notes"), InSpite: f.Text("in_spite")}
	box, err := s.boxOf(c, f, "box_id")
	if err != nil {
		return err
	}
	if box != 0 {
		n.BoxID, n.Dwelling = &box, "box"
	}
	if number := f.Text("parents"); number != "" {
		p, err := s.Apiary.ColonyByNumber(c.Request().Context(), number)
		switch {
		case fault.Is(err, fault.NotFound):
			f.Wrong("parents", "There is no colony of this number.")
		case err != nil:
			return err
		default:
			n.Parents = []apiary.Parent{{ParentID: p.ID, Kind: "split", HappenedOn: n.BeganOn}}
		}
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleColonyNew)
	}
	x, err := s.Apiary.ColonyMake(c.Request().Context(), n)
	if err != nil {
		return again(err, s.handleColonyNew)
	}
	return goTo(c, hrefOf("colony", x.ID), "Colony "+x.Number+" is in the book.")
}
