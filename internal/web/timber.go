package web

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/claims"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerTimberPages(r *routes) {
	r.get(access.Timber, "/timber", s.handleTimber)
	r.get(access.Timber, "/timber/lots", s.handleLots)
	r.get(access.Timber, "/timber/lots/new", s.handleLotNew)
	r.post(access.Timber, "/timber/lots/new", s.handleLotNewPost)
	r.get(access.Timber, "/timber/lots/:id", s.handleLot)
	r.post(access.Timber, "/timber/lots/:id/:deed", s.handleLotPost)
	r.get(access.Timber, "/timber/count", s.handleCount)
	r.post(access.Timber, "/timber/count", s.handleCountPost)
	r.get(access.Timber, "/timber/species", s.handleTimberList)
	r.get(access.Timber, "/timber/species/:id", s.handleTimberKind)
	r.post(access.Timber, "/timber/species/:id", s.handleTimberKindPost)
	s.registerLogPages(r)
	s.registerPackPages(r)
	s.registerDressPages(r)
	s.registerMillPages(r)
	s.registerItemPages(r)
}

func metres(mm int64) string { return fmt.Sprintf("%.1f m", float64(mm)/1000) }

func (s *Server) handleTimber(c echo.Context) error {
	ctx := c.Request().Context()
	rack, err := s.Timber.Rack(ctx)
	if err != nil {
		return err
	}
	v := sheetView{Links: []sheetLink{{"Put boards on the rack", "/timber/lots/new"}, {"Stack a pack", "/timber/packs/new"}, {"Look at a log", "/timber/logs/look"}, {"Enter a log", "/timber/logs/new"}, {"Count the rack", "/timber/count"}},
		Cautions: []string{liftCare, dustCare, treatedCare}}
	t := sheetTable{Title: "The rack", Heads: heads("Timber", "Board size", "#Boards", "#In all", "#Free"), Empty: "No board is on the rack by the book. Put down what lies there."}
	for _, l := range rack {
		t.add(cellOf(l.SpeciesName), linkCell(show.BoardSize(l.WidthMM, l.ThicknessMM), fmt.Sprintf("/timber/lots?species_id=%d&size_id=%d", l.SpeciesID, l.SizeID)),
			numCell(l.Boards), cellOf(metres(l.TotalMM)), cellOf(metres(l.FreeMM)))
	}
	packs, err := s.packTable(c)
	if err != nil {
		return err
	}
	low, err := s.Timber.ItemsLow(ctx)
	if err != nil {
		return err
	}
	items := sheetTable{Title: "Fittings that run low", Heads: heads("What", "#Free", "#Low mark", "Comes in"), Empty: "No fitting is at its low mark.", More: "/timber/items", MoreText: "All fittings, finish and goods"}
	for _, i := range low {
		free := strconv.Itoa(i.Free())
		if !i.Counted {
			free = "not counted"
		}
		items.add(linkCell(i.Name, "/timber/items/"+idText(i.ID)), cellOf(free), numCell(i.LowMark), cellOf(show.Count(int64(i.ComingDays), "day", "days")))
	}
	v.Tables = []sheetTable{t, packs, items}
	v.Side = nil
	v.Links = append(v.Links, sheetLink{"What to mill next", "/timber/mill-next"}, sheetLink{"Logs", "/timber/logs"}, sheetLink{"Sizes to saw", "/timber/sizes"}, sheetLink{"Fittings", "/timber/items"}, sheetLink{"Kinds of timber", "/timber/species"}, sheetLink{"Weather of drying places", "/timber/climates"}, sheetLink{"Suppliers", "/timber/suppliers"})
	if person(c).May(access.Prices) {
		v.Links = append(v.Links, sheetLink{"Purchases", "/timber/purchases"})
	}
	return s.showSheet(c, "Timber", v)
}

// sizeFilter reads which timber and board size a page is about.
func sizeFilter(c echo.Context) timber.LotFilter {
	f := timber.LotFilter{Limit: 100, After: c.QueryParam("after")}
	f.SpeciesID, _ = strconv.ParseInt(c.QueryParam("species_id"), 10, 53)
	f.SizeID, _ = strconv.ParseInt(c.QueryParam("size_id"), 10, 53)
	return f
}

func (s *Server) handleLots(c echo.Context) error {
	f := sizeFilter(c)
	list, next, err := s.Timber.LotList(c.Request().Context(), f)
	if err != nil {
		return err
	}
	q := fmt.Sprintf("?species_id=%d&size_id=%d", f.SpeciesID, f.SizeID)
	t := sheetTable{Heads: heads("Length", "Board size", "Grade", "Place", "#On hand", "#Put aside", "#Free"), Empty: "None of these are on the rack."}
	title := "Boards on the rack"
	for _, l := range list {
		length := strconv.Itoa(l.LengthMM) + " mm"
		if l.Offcut {
			length += ", offcut"
		}
		t.add(linkCell(length, "/timber/lots/"+idText(l.ID)), cellOf(l.SpeciesName+", "+show.BoardSize(l.WidthMM, l.ThicknessMM)), cellOf(l.Grade), cellOf(l.Place), numCell(l.OnHand), numCell(l.PutAside+l.Meant), numCell(l.Free()))
		if f.SpeciesID > 0 && f.SizeID > 0 {
			title = l.SpeciesName + ", " + show.BoardSize(l.WidthMM, l.ThicknessMM)
		}
	}
	v := sheetView{Links: []sheetLink{{"Put boards on the rack", "/timber/lots/new"}, {"Count these", "/timber/count" + q}, {"The whole rack", "/timber"}}, Tables: []sheetTable{t}}
	if next != "" {
		v.More = "/timber/lots" + q + "&after=" + next
	}
	return s.showSheet(c, title, v)
}

var gradeChoices = []Choice{{Value: "clear", Text: "Clear"}, {Value: "sound", Text: "Sound"}, {Value: "knotty", Text: "Knotty"}}

// timberChoices are the kinds of timber to choose from.
func (s *Server) timberChoices(c echo.Context) ([]Choice, error) {
	list, err := s.Timber.SpeciesList(c.Request().Context(), false)
	out := []Choice{{Text: "Choose"}}
	for _, sp := range list {
		out = append(out, Choice{Value: idText(sp.ID), Text: sp.Name})
	}
	return out, err
}

func (s *Server) handleLotNew(c echo.Context) error {
	kinds, err := s.timberChoices(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("grade", "sound")
	f.Fill("kind", "opening")
	f.Fill("species_id", c.QueryParam("species_id"))
	f.Fill("place", c.QueryParam("place"))
	fields := []kindField{choose(f.Choose("species_id", "Timber", kinds, "required")), in(f.Field("width_mm", "Width", "mode=decimal", "unit=mm", "required")),
		in(f.Field("thickness_mm", "Thickness", "mode=decimal", "unit=mm", "required")), in(f.Field("thickness_true_mm", "True thickness, if it differs", "mode=decimal", "unit=mm")),
		in(f.Field("length_mm", "Length", "mode=numeric", "unit=mm", "required", "hint=Kept rounded down to the workshop's step.")), in(f.Field("count", "How many", "mode=numeric", "unit=boards", "required")),
		choose(f.Choose("grade", "Grade", gradeChoices)), in(f.Field("place", "Where they lie")),
		choose(f.Choose("kind", "They come from", []Choice{{Value: "opening", Text: "They were there before the book"}, {Value: "found", Text: "Found"}, {Value: "bought", Text: "Bought"}, {Value: "returned", Text: "Came back"}})),
		in(f.Field("reason", "Why, if they were found")), tick(f.Field("offcut", "They are offcuts"))}
	if person(c).May(access.Prices) {
		fields = append(fields, in(f.Field("metre_cost", "Cost of a metre", "mode=decimal", "hint=Empty: the standard cost of the timber.")))
	}
	v := sheetView{Forms: []sheetForm{{Action: "/timber/lots/new", Form: f, Parts: one(fields...), Button: "Put them down"}}, Cautions: []string{treatedCare}}
	return s.showSheet(c, "Put boards on the rack", v)
}

func (s *Server) handleLotNewPost(c echo.Context) error {
	f := formOf(c)
	key := timber.LotKey{SpeciesID: f.chosen("species_id", "Choose the timber."), WidthMM: f.Decimal("width_mm", 1), ThicknessMM: f.Decimal("thickness_mm", 1), ThicknessTrueMM: f.optionalDecimal("thickness_true_mm", 1),
		LengthMM: int(f.Int("length_mm", 1, 20_000)), Grade: f.Text("grade"), Place: f.Text("place"), Offcut: f.Ticked("offcut")}
	count := int(f.Int("count", 1, 100_000))
	cost, err := s.optionalMoney(c, f, "metre_cost", -1)
	if err != nil {
		return err
	}
	if cost >= 0 {
		key.MetreCostMinor = &cost
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleLotNew)
	}
	lot, err := s.Timber.LotIn(c.Request().Context(), key, count, timber.MoveKind(f.Text("kind")), s.DB.Now(), f.Text("reason"))
	if err != nil {
		return again(err, s.handleLotNew)
	}
	return goTo(c, "/timber/lots/"+idText(lot.ID), fmt.Sprintf("%d of %d mm lie there now.", lot.OnHand, lot.LengthMM))
}

var lotMoves = []Choice{{Value: "cut", Text: "Cut up"}, {Value: "lost", Text: "Lost or spoiled"}, {Value: "found", Text: "Found"}, {Value: "docked", Text: "Docked"}, {Value: "used", Text: "Used for something else"}, {Value: "returned", Text: "Came back"}}

func (s *Server) handleLot(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	l, err := s.Timber.LotGet(ctx, id)
	if err != nil {
		return err
	}
	open, err := claims.OpenOn(ctx, s.DB, claims.Lot(id))
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	moves, err := s.moveTable(c, claims.Lot(id))
	if err != nil {
		return err
	}
	reckoning, err := s.reckoningTable(c, id)
	if err != nil {
		return err
	}
	f := formOf(c)
	more := url.Values{"species_id": {idText(l.SpeciesID)}, "place": {l.Place}}
	v := sheetView{Links: []sheetLink{{"Rip them narrower", "/timber/lots/" + idText(id) + "/rip"}, {"Put down more boards", "/timber/lots/new?" + more.Encode()}, {"The whole rack", "/timber"}}, Facts: told(sheetFact{Name: "On hand", Text: show.Count(int64(l.OnHand), "board", "boards")}, sheetFact{Name: "Put aside", Text: strconv.Itoa(l.PutAside)}, sheetFact{Name: "Meant for jobs", Text: strconv.Itoa(l.Meant)},
		sheetFact{Name: "Free", Text: strconv.Itoa(l.Free())}, sheetFact{Name: "True thickness", Text: show.MM(l.ThicknessTrueMM) + " mm"}, sheetFact{Name: "Grade", Text: l.Grade}, sheetFact{Name: "Place", Text: l.Place},
		sheetFact{Name: "On the rack since", Text: show.Date(l.FirstInOn)}),
		Costs:  append([]sheetFact{{Name: "A metre", Text: currency(set).Money(l.MetreCostMinor) + map[bool]string{true: "", false: ", the standard cost"}[l.OwnCost]}}, reckoning...),
		Tables: []sheetTable{claimTable(open), moves},
		Forms: []sheetForm{{Title: "Something happened to them", Action: "/timber/lots/" + idText(id) + "/move", Form: f, Button: "Book it", About: "What really happened is always taken; if the book is wrong, it is the book that changes.",
			Parts: one(choose(f.Choose("kind", "What", lotMoves)), in(f.Field("quantity", "How many", "mode=numeric", "unit=boards", "required")), in(f.Field("reason", "Why", "hint=Needed for what is lost or found.")))}},
		Cautions: []string{sawCare, dustCare}}
	if l.PackID != nil {
		v.Links = append(v.Links, sheetLink{"The pack they came from", hrefOf("pack", *l.PackID)})
	}
	title := fmt.Sprintf("%s, %s, %d mm", l.SpeciesName, show.BoardSize(l.WidthMM, l.ThicknessMM), l.LengthMM)
	if l.Offcut {
		title += ", offcuts"
	}
	return s.showSheet(c, title, v)
}

// claimTable lists whom a thing is put aside for.
func claimTable(open []claims.Claim) sheetTable {
	t := sheetTable{Title: "Put aside and meant", Heads: heads("For", "How firmly", "#How many", "Promised"), Empty: "Nobody has a claim on it."}
	for _, k := range open {
		who, href := "an order", ""
		if k.For.BuildID > 0 {
			who, href = "a build", hrefOf("build", k.For.BuildID)
		}
		t.add(linkCell(who, href), cellOf(string(k.Strength)), numCell(k.Quantity), cellOf(show.DateOr(k.PromisedOn, "")))
	}
	return t
}

// moveWords says what a move was as the forms that book moves say it.
func moveWords(kind timber.MoveKind) string {
	if kind == timber.Opening {
		return "there before the book"
	}
	return string(kind)
}

func (s *Server) moveTable(c echo.Context, thing claims.Thing) (sheetTable, error) {
	t := sheetTable{Title: "Moves", Heads: heads("When", "What", "#Pieces", "Why"), Empty: "Nothing has moved yet."}
	set, err := s.settings(c)
	if err != nil {
		return t, err
	}
	list, next, err := s.Timber.MoveList(c.Request().Context(), thing, 30, c.QueryParam("moves"))
	if next != "" {
		t.More, t.MoreText = "?moves="+url.QueryEscape(next), "Earlier moves"
	}
	for _, m := range list {
		what := linkCell(moveWords(m.Kind), "")
		if m.BuildID != nil {
			what.Href = hrefOf("build", *m.BuildID)
		}
		if m.PackID != nil {
			what.Href = hrefOf("pack", *m.PackID)
		}
		t.add(cellOf(show.Time(m.HappenedAt, set.Location())), what, cellOf(fmt.Sprintf("%+d", m.Quantity)), cellOf(m.Reason))
	}
	return t, err
}

func (s *Server) handleLotPost(c echo.Context) error {
	back := func(id int64) string { return "/timber/lots/" + idText(id) }
	return s.deed(c, s.handleLot, back, map[string]func(echo.Context, int64) (string, error){"move": func(c echo.Context, id int64) (string, error) {
		return s.bookMove(c, claims.Lot(id))
	}})
}

// bookMove books what a form says happened to a lot or an item.
func (s *Server) bookMove(c echo.Context, thing claims.Thing) (string, error) {
	f := formOf(c, c.FormValue(nameField))
	n := int(f.Int("quantity", 1, 100_000))
	if err := f.Err(); err != nil {
		return "", err
	}
	b, err := s.Timber.MoveBook(c.Request().Context(), timber.Move{Thing: thing, Quantity: n, Kind: timber.MoveKind(f.Text("kind")), HappenedAt: s.DB.Now(), Reason: f.Text("reason")})
	return joined("It is booked.", b.Notes()), err
}

func (s *Server) handleCount(c echo.Context) error {
	list, next, err := s.Timber.LotList(c.Request().Context(), sizeFilter(c))
	if err != nil {
		return err
	}
	f := formOf(c)
	t := sheetTable{Heads: heads("Boards", "Place", "#By the book", "#Counted"), Empty: "No board is on the rack by the book."}
	for _, l := range list {
		name := "counted." + idText(l.ID)
		what := fmt.Sprintf("%s, %s, %d mm", l.SpeciesName, show.BoardSize(l.WidthMM, l.ThicknessMM), l.LengthMM)
		t.add(cellOf(what), cellOf(l.Place), numCell(l.OnHand), sheetCell{Field: f.Field(name, "Counted: "+what, "mode=numeric")})
	}
	v := sheetView{Lead: "Write what you counted. Lines left empty stay as they are; differences are booked."}
	if len(t.Rows) > 0 {
		v.Forms = []sheetForm{{Action: "/timber/count", Form: f, Table: t, Button: "Post the count"}}
	} else {
		v.Tables = []sheetTable{t}
	}
	if next != "" {
		q := sizeFilter(c)
		v.More = fmt.Sprintf("/timber/count?species_id=%d&size_id=%d&after=%s", q.SpeciesID, q.SizeID, next)
	}
	return s.showSheet(c, "Count the rack", v)
}

func (s *Server) handleCountPost(c echo.Context) error {
	f := formOf(c)
	var lines []timber.CountLine
	for name := range f.values {
		id, ok := strings.CutPrefix(name, "counted.")
		lot, err := strconv.ParseInt(id, 10, 53)
		if !ok || err != nil || lot < 1 || f.Text(name) == "" {
			continue
		}
		lines = append(lines, timber.CountLine{Thing: claims.Lot(lot), Counted: int(f.Int(name, 0, 100_000))})
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleCount)
	}
	diffs, err := s.Timber.Count(c.Request().Context(), lines, s.DB.Now())
	if err != nil {
		return again(err, s.handleCount)
	}
	said := []string{}
	for _, d := range diffs {
		said = append(said, fmt.Sprintf("%s: the book said %d, there are %d.", d.Words, d.Book, d.Counted))
		said = append(said, d.Booked.Notes()...)
	}
	if len(said) > 12 {
		said = append(said[:12], "And more: see the lots.")
	}
	return goTo(c, "/timber", joined(fmt.Sprintf("%s counted, %s from the book.", show.Count(int64(len(lines)), "line", "lines"), show.Count(int64(len(diffs)), "differs", "differ")), said))
}
