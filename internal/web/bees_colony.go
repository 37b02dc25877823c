package web

import (
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

type colonyView struct {
	Number, Name, State, Species, Where, Owner, Keeper, Began, Settled, Origin, Notes string
	Held, Gone, Settling, Ours, Kept                                                  bool
	Unit                                                                              string // address of what it is promised for
	Box                                                                               string // address of its box
	Parents, Children                                                                 []relationRow
	Events                                                                            []eventRow
	Descent                                                                           *descentDrawing
	Here                                                                              sheetFact // in our keeping: what was agreed
	ID                                                                                int64
	Note, House, Mark, Place, Join, Found, Facts                                      *Form
	Kinds, Dwellings, Bees                                                            []Choice
	Findings                                                                          []findingRow
	Paper                                                                             colonyPaper
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
		Began: x.BeganAbout, Settled: show.DateOr(x.SettledOn, ""), Origin: x.Origin, Notes: x.Notes, Held: x.HeldBackBecause != "", Gone: x.EndedAt != nil, Settling: x.SettledOn == nil, Ours: x.Ours(), Kept: x.Kept,
		Note: formOf(c, "note"), House: formOf(c, "house"), Join: formOf(c, "join"), Found: formOf(c, "found"), Facts: formOf(c, "facts"), Mark: formOf(c, "mark"), Place: formOf(c, "place"), Kinds: eventKinds, Dwellings: dwellings}
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
	if v.Here, err = s.keptHere(c, id, 0); err != nil {
		return err
	}
	events, err := s.Apiary.EventsOf(ctx, id)
	if err != nil {
		return err
	}
	for _, e := range events {
		row := eventRow{On: show.Time(e.HappenedAt, set.Location()), Kind: e.Kind, Note: e.Note}
		if e.HappenedAbout != "" {
			row.On = e.HappenedAbout
		}
		if e.MassKG != nil {
			row.Mass = strconv.FormatFloat(*e.MassKG, 'f', -1, 64) + " kg"
		}
		v.Events = append(v.Events, row)
	}
	if err := s.colonyForms(c, &v, x, today); err != nil {
		return err
	}
	if v.Paper, err = s.colonyPaper(c, x); err != nil {
		return err
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
	deeds := map[string]func(echo.Context, int64) (string, error){"note": s.noteColony, "house": s.houseColony, "join": s.joinColony, "found": s.foundColony, "facts": s.factsColony, "mark": s.markColony, "place": s.moveColony, "permit": s.nameColonyPermit}
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
