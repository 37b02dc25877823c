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
	r.get(access.Bees, "/bees", s.handleBees)
	r.get(access.Bees, "/bees/colonies/new", s.handleColonyNew)
	r.post(access.Bees, "/bees/colonies/new", s.handleColonyNewPost)
	r.get(access.Bees, "/bees/colonies/:id", s.handleColony)
	r.post(access.Bees, "/bees/colonies/:id/:deed", s.handleColonyPost)
	s.registerTreePages(r)
	s.registerPermitPages(r)
	r.get(access.Bees, "/bees/species/:id", s.handleBeeSpecies)
	r.post(access.Bees, "/bees/species/:id", s.handleBeeSpeciesPost)
}

type beesView struct {
	Colonies []colonyRow
	More     string // address of the next page
	Waiting  []waitingRow
	Trees    []treeRow // those due first
	Species  []speciesRow

	TreeCount string
}

// treesOnBees is how many host trees the page shows; the rest stand on their own.
const treesOnBees = 6

type colonyRow struct{ Number, Href, Name, Species, Where, State string }

type waitingRow struct {
	Place                         int
	Buyer, Species, Promised, For string
	Href                          string
	Late, Deposit                 bool
}

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
	names := map[int64]string{}
	for _, sp := range species {
		names[sp.ID] = sp.Name
		v.Species = append(v.Species, speciesRow{sp.Name, sp.CommonName, "/bees/species/" + strconv.FormatInt(sp.ID, 10)})
	}
	units, err := s.Sales.OpenUnits(ctx, true, 100)
	if err != nil {
		return err
	}
	for _, u := range units {
		if u.Unit.ColonyID != nil {
			continue
		}
		w := waitingRow{Place: len(v.Waiting) + 1, Buyer: u.PartyName, For: u.OrderNumber, Href: hrefOf("order", u.OrderID), Promised: show.DateOr(u.Unit.PromisedColonyOn, "not promised"), Deposit: u.DepositPaid,
			Late: u.Unit.PromisedColonyOn != nil && u.Unit.PromisedColonyOn.Before(today)}
		if u.Line.BeeSpeciesID != nil {
			w.Species = names[*u.Line.BeeSpeciesID]
		}
		v.Waiting = append(v.Waiting, w)
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

type colonyView struct {
	Number, Name, State, Species, Where, Owner, Keeper, Began, Settled, Origin, Notes string
	Held, Gone, Settling, Ours                                                        bool
	Unit                                                                              string // address of what it is promised for
	Box                                                                               string // address of its box
	Parents, Children                                                                 []relationRow
	Events                                                                            []eventRow
	Descent                                                                           *descentDrawing
	ID                                                                                int64
	Note, House, Split, Mark, Place                                                   *Form
	Kinds, Dwellings                                                                  []Choice
	History                                                                           string
}

type relationRow struct{ Number, Href, Kind, On string }

type eventRow struct{ On, Kind, Note, Mass string }

var colonyPage = definePage[colonyView]("colony")

var eventKinds = []Choice{{Value: "inspected", Text: "Looked in"}, {Value: "fed", Text: "Fed"}, {Value: "weighed", Text: "Weighed"}, {Value: "pests", Text: "Pests seen"}, {Value: "note", Text: "Something else"}}

func (s *Server) handleColony(c echo.Context) error {
	ctx := c.Request().Context()
	id, err := pathID(c)
	if err != nil {
		return err
	}
	x, err := s.Apiary.ColonyGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	v := colonyView{ID: id, Number: x.Number, Name: x.Name, State: x.State(today), Species: speciesWords(x), Where: whereWords(x), Owner: orWorkshop(x.OwnerName), Keeper: orWorkshop(x.KeeperName),
		Began: x.BeganAbout, Settled: show.DateOr(x.SettledOn, ""), Origin: x.Origin, Notes: x.Notes, Held: x.HeldBackBecause != "", Gone: x.EndedAt != nil, Settling: x.SettledOn == nil, Ours: x.Ours(),
		Note: formOf(c, "note"), House: formOf(c, "house"), Split: formOf(c, "split"), Mark: formOf(c, "mark"), Place: formOf(c, "place"), Kinds: eventKinds, Dwellings: dwellings,
		History: "/history/colony/" + strconv.FormatInt(id, 10)}
	if x.BeganOn != nil {
		v.Began = show.Date(*x.BeganOn)
	}
	if x.SettledOn == nil && x.SettlesAbout != nil {
		v.Settled = "expected " + show.Date(*x.SettlesAbout)
	}
	if x.BoxID != nil {
		v.Box = hrefOf("box", *x.BoxID)
	}
	if x.UnitID != nil {
		o, err := s.Sales.OrderOfUnit(ctx, *x.UnitID)
		if err != nil {
			return err
		}
		v.Unit = hrefOf("order", o.ID)
	}
	if v.Parents, err = s.relations(c, id, true); err != nil {
		return err
	}
	if v.Children, err = s.relations(c, id, false); err != nil {
		return err
	}
	kin, err := s.Apiary.DescentOf(ctx, id)
	if err != nil {
		return err
	}
	v.Descent = drawDescent(kin)
	events, err := s.Apiary.EventsOf(ctx, id)
	if err != nil {
		return err
	}
	for _, e := range events {
		row := eventRow{On: show.Time(e.HappenedAt, set.Location()), Kind: e.Kind, Note: e.Note}
		if e.MassKG != nil {
			row.Mass = strconv.FormatFloat(*e.MassKG, 'f', -1, 64) + " kg"
		}
		v.Events = append(v.Events, row)
	}
	return colonyPage.show(s, c, "Colony "+x.Number, v)
}

func orWorkshop(name string) string {
	if name == "" {
		return "the workshop"
	}
	return name
}

func (s *Server) relations(c echo.Context, id int64, up bool) ([]relationRow, error) {
	read := s.Apiary.ChildrenOf
	if up {
		read = s.Apiary.ParentsOf
	}
	list, err := read(c.Request().Context(), id)
	var out []relationRow
	for _, p := range list {
		other := p.ColonyID
		if up {
			other = p.ParentID
		}
		out = append(out, relationRow{p.Number, hrefOf("colony", other), p.Kind, show.DateOr(p.HappenedOn, "")})
	}
	return out, err
}

func (s *Server) handleColonyPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	deeds := map[string]func(echo.Context, int64) (string, error){"note": s.noteColony, "house": s.houseColony, "split": s.splitColony, "mark": s.markColony, "place": s.moveColony}
	deed, ok := deeds[c.Param("deed")]
	if !ok {
		return fault.New(fault.NotFound, "There is no such page.")
	}
	said, err := deed(c, id)
	if err != nil {
		return again(err, s.handleColony)
	}
	return goTo(c, hrefOf("colony", id), said)
}

func (s *Server) noteColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "note")
	e := apiary.Event{ColonyID: id, Kind: f.Text("kind"), Note: f.Text("note")}
	if f.Text("mass_kg") != "" {
		m, _ := f.Decimal("mass_kg", 2).Float64()
		e.MassKG = &m
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err := s.Apiary.EventNote(c.Request().Context(), e)
	return "Noted.", err
}

func (s *Server) houseColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "house")
	box, err := s.boxOf(c, f, "box_id")
	if err != nil {
		return "", err
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	var to *int64
	if box != 0 {
		to = &box
	}
	warnings, err := s.Answer.HouseColony(c.Request().Context(), apiary.Housing{ColonyID: id, Dwelling: f.Text("dwelling"), BoxID: to, Description: f.Text("description"), InSpite: f.Text("in_spite")})
	return strings.TrimSpace("It lives there now. " + strings.Join(warnings, " ")), err
}

func (s *Server) splitColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "split")
	box, err := s.boxOf(c, f, "box_id")
	if err != nil {
		return "", err
	}
	if box == 0 {
		f.Wrong("box_id", "Give the serial of the box that the split went into.")
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	child, said, err := s.Answer.SplitColony(c.Request().Context(), apiary.Splitting{ParentID: id, BoxID: box, Note: f.Text("note"), InSpite: f.Text("in_spite")})
	return joined("The split is colony "+child.Number+".", said), err
}

func (s *Server) markColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "mark")
	ctx := c.Request().Context()
	today, err := s.today(c)
	if err != nil {
		return "", err
	}
	switch f.Text("mark") {
	case "settled":
		return "It is settled and can be handed over.", s.Apiary.Settle(ctx, id, today)
	case "held back":
		return "It is held back: nobody can be promised it.", s.Apiary.HoldBack(ctx, id, f.Text("because"))
	case "released":
		return "It is no longer held back.", s.Apiary.Release(ctx, id)
	case "gone":
		return "Noted as gone.", s.Apiary.End(ctx, id, f.Text("because"), s.DB.Now())
	}
	return "", fault.Bad("/mark", "Choose what is so.")
}
