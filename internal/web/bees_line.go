package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerLinePages(r *routes) {
	r.get(access.Bees, "/bees/line/:id", s.handleLine)
	r.post(access.Bees, "/bees/line/:id/:deed", s.handleLinePost)
}

type lineView struct {
	ID         int64
	Name       string
	Proposal   []proposedRow
	Give, Move *Form
	Places     []linePlaceRow
	Curve      *lineCurve
	Range      []rangeNote
	Interested []interestRow
	Moves      []lineMoveRow
	Units      []Choice
	Before     []Choice
	Reasons    []string
	Others     []lineLink
	Species    string // address of the figures of the kind
}

type proposedRow struct {
	Pair, Colony, ColonyHref, Who, Href string
	Place                               int
	Notes                               []string
}

type linePlaceRow struct {
	Place                                             int
	Who, Href, Since, Likely, Promised, Moved, Choose string
	Late, OutOfRange, AnyKind, Chosen                 bool
}

type rangeNote struct{ Who, Text string }

type interestRow struct{ Who, What, Href, Since, Colonies string }

type lineMoveRow struct{ Who, What, Reason, On string }

type lineLink struct {
	Name, Href string
	Waiting    int
	Ready      int
}

var linePage = definePage[lineView]("line")

func lineHref(species int64) string { return "/bees/line/" + idText(species) }

func pairText(unit, colony int64) string { return idText(unit) + ":" + idText(colony) }

func (s *Server) handleLine(c echo.Context) error {
	ctx := c.Request().Context()
	id, err := pathID(c)
	if err != nil {
		return err
	}
	l, err := s.Answer.LineOf(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	proposal, err := s.Answer.LinePropose(ctx, id)
	if err != nil {
		return err
	}
	v := lineView{ID: id, Name: l.Species.Name, Give: formOf(c, "give"), Move: formOf(c, "move"), Reasons: l.Reasons(), Species: "/bees/species/" + idText(id), Before: []Choice{{Value: "", Text: "Behind all who wait now"}}}
	for _, p := range proposal {
		v.Proposal = append(v.Proposal, proposedOf(p))
	}
	unit, _ := strconv.ParseInt(c.QueryParam("unit"), 10, 64)
	if !slices.ContainsFunc(l.Places, func(p answer.LinePlace) bool { return p.UnitID == unit }) {
		unit = 0 // a link of yesterday: the first who must wait
	}
	one, err := l.View(unit)
	if err != nil {
		return err
	}
	v.Curve = drawLineCurve(one)
	for _, p := range l.Places {
		v.place(p, l, one)
	}
	for _, i := range l.Interested {
		row := interestRow{Who: i.Who, Since: show.Date(i.Since.In(set.Location())), Colonies: show.Count(int64(i.Colonies), "colony", "colonies")}
		switch i.What {
		case answer.InterestOrder:
			row.What, row.Href = "ordered, "+i.Number+"; the deposit is still to come", hrefOf("order", i.ID)
		case answer.InterestQuote:
			row.What, row.Href = "has a quote, "+i.Number, hrefOf("quote", i.ID)
		default:
			row.What, row.Href = "has asked", hrefOf("enquiry", i.ID)
		}
		v.Interested = append(v.Interested, row)
	}
	for _, m := range l.Moves {
		what := "behind all who waited then"
		if m.BeforeUnitID != nil {
			what = "before " + m.BeforeWho
		}
		v.Moves = append(v.Moves, lineMoveRow{m.Who + ", " + m.Order, what, m.Reason, show.Time(m.At, set.Location())})
	}
	all, err := s.lineLinks(c)
	if err != nil {
		return err
	}
	v.Others = slices.DeleteFunc(all, func(o lineLink) bool { return o.Href == lineHref(id) })
	return linePage.show(s, c, "Who waits: "+l.Species.Name, v)
}

func proposedOf(p answer.Proposed) proposedRow {
	row := proposedRow{Pair: pairText(p.UnitID, p.ColonyID), Colony: p.Colony, ColonyHref: hrefOf("colony", p.ColonyID), Who: p.Who + ", " + p.Order, Href: hrefOf("order", p.OrderID), Place: p.Place}
	if p.OutOfRange != "" {
		row.Notes = append(row.Notes, "outside its natural range")
	}
	if p.Unsure {
		row.Notes = append(row.Notes, "its kind is not sure: look again")
	}
	if p.HouseFirst != "" {
		row.Notes = append(row.Notes, p.HouseFirst)
	}
	return row
}

func (v *lineView) place(p answer.LinePlace, l answer.ColonyLine, one *answer.PlaceView) {
	row := linePlaceRow{Place: p.Place, Who: p.Who + ", " + p.Order, Href: hrefOf("order", p.OrderID), Since: show.Date(p.JoinedOn), Promised: show.DateOr(p.PromisedOn, "nothing"), Moved: p.MovedBecause,
		Late: p.Late, OutOfRange: p.OutOfRange != "", AnyKind: p.AnyKind, Chosen: one != nil && one.UnitID == p.UnitID, Choose: fmt.Sprintf("%s?unit=%d#curve", lineHref(v.ID), p.UnitID)}
	row.Likely = show.DateOr(p.LikelyOn, "cannot be said")
	if p.LikelyOn != nil && !p.LikelyOn.After(l.Day) {
		row.Likely = "there now"
	}
	if p.NoDeposit {
		row.Since += ", no deposit asked"
	}
	v.Places = append(v.Places, row)
	words := fmt.Sprintf("%d: %s, %s", p.Place, p.Who, p.Order)
	v.Units = append(v.Units, Choice{Value: idText(p.UnitID), Text: words})
	v.Before = append(v.Before, Choice{Value: idText(p.UnitID), Text: "Before " + words})
	if p.OutOfRange == "" {
		return
	}
	if i := slices.IndexFunc(v.Range, func(n rangeNote) bool { return n.Text == p.OutOfRange }); i >= 0 {
		v.Range[i].Who += ", " + p.Who
		return
	}
	v.Range = append(v.Range, rangeNote{p.Who, p.OutOfRange})
}

// lineLinks are the lines of all kinds.
func (s *Server) lineLinks(c echo.Context) ([]lineLink, error) {
	list, err := s.Answer.Lines(c.Request().Context())
	var out []lineLink
	for _, l := range list {
		out = append(out, lineLink{l.Name, lineHref(l.SpeciesID), l.Waiting, l.Ready})
	}
	return out, err
}

func (s *Server) handleLinePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	deeds := map[string]func(echo.Context, int64) (string, error){"give": s.giveInLine, "move": s.moveInLine}
	deed, ok := deeds[c.Param("deed")]
	if !ok {
		return fault.New(fault.NotFound, "There is no such page.")
	}
	said, err := deed(c, id)
	if err != nil {
		return again(err, s.handleLine)
	}
	return goTo(c, lineHref(id), said)
}

// giveInLine puts the colonies of the pairs that were shown aside: one, or all of them.
func (s *Server) giveInLine(c echo.Context, species int64) (string, error) {
	f := formOf(c, "give")
	texts := f.All("pair")
	if one := f.Text("one"); one != "" {
		texts = []string{one}
	}
	var pairs []answer.LinePair
	for _, t := range texts {
		var p answer.LinePair
		if _, err := fmt.Sscanf(t, "%d:%d", &p.UnitID, &p.ColonyID); err != nil {
			return "", fault.Bad("/pair", "Choose a colony of the proposal.")
		}
		pairs = append(pairs, p)
	}
	if len(pairs) == 0 {
		return "", fault.Bad("/pair", "Choose a colony of the proposal.")
	}
	done, err := s.Answer.LineAccept(c.Request().Context(), species, pairs)
	if err != nil {
		return "", err
	}
	var said []string
	for _, d := range done {
		words := "Colony " + d.Colony + " is put aside for " + d.Who
		if d.HouseFirst != "" {
			words += "; " + d.HouseFirst
		}
		said = append(said, words+".")
	}
	return strings.Join(said, " "), nil
}

func (s *Server) moveInLine(c echo.Context, species int64) (string, error) {
	f := formOf(c, "move")
	unit := f.ID("unit_id")
	var before *int64
	if f.Text("before_unit_id") != "" {
		id := f.ID("before_unit_id")
		before = &id
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	return "Moved. The move and its reason stay in the book.", s.Answer.LineMove(c.Request().Context(), species, unit, before, f.Text("reason"))
}

// inLineRow says where a piece of an order stands in the line for a colony.
type inLineRow struct {
	Piece, Text, Href, Range string
	Late                     bool
}

// inLine gives the places of an order in the lines for colonies, and says where it does not
// stand in one yet.
func (s *Server) inLine(c echo.Context, o sales.Order) ([]inLineRow, error) {
	places, err := s.Answer.PlacesOf(c.Request().Context(), o)
	if err != nil {
		return nil, err
	}
	var out []inLineRow
	for _, l := range o.Lines {
		for _, u := range l.Units {
			if !u.Open() || !u.WantsColony || u.ColonyID != nil {
				continue
			}
			row := inLineRow{Piece: fmt.Sprintf("%s, piece %d", l.Description, u.N), Text: "Not in the line yet: who has paid the deposit stands in it.", Href: "/bees"}
			if l.BeeSpeciesID != nil {
				row.Href = lineHref(*l.BeeSpeciesID)
			}
			if i := slices.IndexFunc(places, func(p answer.PlaceView) bool { return p.UnitID == u.ID }); i >= 0 {
				p := places[i]
				words := p.Words(show.Date)
				row.Text, row.Late, row.Range = strings.ToUpper(words[:1])+words[1:]+".", p.Late, p.OutOfRange
				row.Href = fmt.Sprintf("%s?unit=%d#curve", lineHref(p.Species.ID), u.ID)
			}
			out = append(out, row)
		}
	}
	return out, nil
}
