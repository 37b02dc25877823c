package web

import (
	"fmt"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/claims"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerItemPages(r *routes) {
	r.get(access.Timber, "/timber/items", s.handleItems)
	r.get(access.Timber, "/timber/items/:id", s.handleItem)
	r.post(access.Timber, "/timber/items/:id/:deed", s.handleItemPost)
	s.registerPurchasePages(r)
}

func (s *Server) handleItems(c echo.Context) error {
	list, next, err := s.Timber.ItemList(c.Request().Context(), timber.ItemFilter{Limit: 100, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("What", "Kind", "#On hand", "#Put aside", "#Low mark", ""), Empty: "Nothing is put down yet."}
	for _, i := range list {
		hand := strconv.Itoa(i.OnHand)
		if !i.Counted {
			hand = "not counted"
		}
		state := sheetCell{}
		if i.RunsLow() {
			state.Late = "runs low"
		}
		t.add(linkCell(i.Name, "/timber/items/"+idText(i.ID)), cellOf(i.Kind), cellOf(hand), numCell(i.PutAside+i.Meant), numCell(i.LowMark), state)
	}
	v := sheetView{Links: []sheetLink{{"Add one", "/timber/items/0"}}, Tables: []sheetTable{t}}
	if next != "" {
		v.More = "/timber/items?after=" + next
	}
	return s.showSheet(c, "Fittings, finish and goods", v)
}

// itemOf reads the item of the address; a new counted one for 0.
func (s *Server) itemOf(c echo.Context) (timber.Item, error) {
	if c.Param("id") == "0" {
		return timber.Item{Counted: true, Unit: "each"}, nil
	}
	id, err := pathID(c)
	if err != nil {
		return timber.Item{}, err
	}
	return s.Timber.ItemGet(c.Request().Context(), id)
}

var itemKinds = []Choice{{Value: "fitting", Text: "A fitting"}, {Value: "finish", Text: "Paint, oil, glue"}, {Value: "goods", Text: "Goods to sell"}}

var itemMoves = []Choice{{Value: "used", Text: "Used"}, {Value: "found", Text: "Found"}, {Value: "lost", Text: "Lost"}, {Value: "opening", Text: "There before the book"}, {Value: "returned", Text: "Came back"}}

func (s *Server) handleItem(c echo.Context) error {
	i, err := s.itemOf(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	suppliers, err := s.supplierChoices(c)
	if err != nil {
		return err
	}
	cur, at := currency(set), "/timber/items/"+c.Param("id")
	f := formOf(c, "change")
	f.FillVersion(i.Version)
	f.Fill("unit", i.Unit)
	f.FillTick("counted", i.Counted)
	title := "A fitting, a finish or goods"
	if i.ID > 0 {
		title = i.Name
		f.Fill("code", i.Code)
		f.Fill("name", i.Name)
		f.Fill("kind", i.Kind)
		f.Fill("low_mark", strconv.Itoa(i.LowMark))
		f.Fill("cost", cur.Plain(i.CostMinor))
		f.FillTick("put_away", i.PutAwayAt != nil)
		if i.SupplierID != nil {
			f.Fill("supplier_id", idText(*i.SupplierID))
		}
		if i.LeadDays != nil {
			f.Fill("lead_days", strconv.Itoa(*i.LeadDays))
		}
	}
	fields := []kindField{in(f.Field("name", "Name", "required")), in(f.Field("code", "Short name, as models name it", "required", "hint=Small letters and hyphens, such as screw-50.")), choose(f.Choose("kind", "It is", itemKinds)),
		tick(f.Field("counted", "It is counted; bulk goods such as glue are not")), in(f.Field("unit", "Unit")), in(f.Field("low_mark", "Low mark", "mode=numeric", "hint=0: none.")), choose(f.Choose("supplier_id", "Supplier", suppliers)),
		in(f.Field("lead_days", "Days until it comes", "mode=numeric", "hint=Empty: the supplier's."))}
	if person(c).May(access.Prices) {
		fields = append(fields, in(f.Field("cost", "Cost each", "mode=decimal")))
	}
	fields = append(fields, tick(f.Field("put_away", "Put away: not used any more")))
	form := sheetForm{Action: at + "/change", Form: f, Parts: one(fields...), Button: "Keep"}
	if i.ID == 0 {
		return s.showSheet(c, title, sheetView{Forms: []sheetForm{form}})
	}
	form.Title, form.Fold = "Change it", true
	v := sheetView{Forms: []sheetForm{form}, Costs: []sheetFact{{Name: "Each", Text: cur.Money(i.CostMinor)}}, History: "/history/item/" + idText(i.ID)}
	if i.RunsLow() {
		v.Late = "Runs low."
		v.Lead = "It comes " + show.Count(int64(i.ComingDays), "day", "days") + " after it is ordered."
	}
	if err := s.itemStock(c, i, at, &v); err != nil {
		return err
	}
	return s.showSheet(c, title, v)
}

// itemStock shows what there is of an item, and the forms that change it.
func (s *Server) itemStock(c echo.Context, i timber.Item, at string, v *sheetView) error {
	if !i.Counted {
		v.Facts = []sheetFact{{Name: "On hand", Text: "not counted"}}
		text, low := "It runs low", "low"
		if i.Low {
			text, low = "There is enough again", "enough"
		}
		v.Buttons = []sheetButton{button(at+"/"+low, text, "")}
		return nil
	}
	v.Facts = []sheetFact{{Name: "On hand", Text: strconv.Itoa(i.OnHand)}, {Name: "Put aside", Text: strconv.Itoa(i.PutAside + i.Meant)}, {Name: "Free", Text: strconv.Itoa(i.Free())}, {Name: "Low mark", Text: strconv.Itoa(i.LowMark)}}
	open, err := claims.OpenOn(c.Request().Context(), s.DB, claims.Item(i.ID))
	if err != nil {
		return err
	}
	moves, err := s.moveTable(c, claims.Item(i.ID))
	if err != nil {
		return err
	}
	v.Tables = []sheetTable{claimTable(open), moves}
	move, count := formOf(c, "move"), formOf(c, "count")
	v.Side = []sheetForm{{Title: "Counted", Action: at + "/count", Form: count, Button: "Post the count", Parts: one(in(count.Field("counted", "There are", "mode=numeric", "required")))},
		{Title: "Something happened", Fold: true, Action: at + "/move", Form: move, Button: "Book it", Parts: one(choose(move.Choose("kind", "What", itemMoves)), in(move.Field("quantity", "How many", "mode=numeric", "required")), in(move.Field("reason", "Why", "hint=Needed for what is lost or found.")))}}
	return nil
}

func (s *Server) supplierChoices(c echo.Context) ([]Choice, error) {
	list, err := s.Timber.SupplierList(c.Request().Context())
	out := []Choice{{Text: "Nobody in particular"}}
	for _, x := range list {
		out = append(out, Choice{Value: idText(x.ID), Text: x.Name})
	}
	return out, err
}

func (s *Server) handleItemPost(c echo.Context) error {
	if c.Param("id") == "0" && c.Param("deed") == "change" {
		i, err := s.saveItem(c)
		if err != nil {
			return again(err, s.handleItem)
		}
		return goTo(c, "/timber/items/"+idText(i.ID), i.Name+" is in the book.")
	}
	back := func(id int64) string { return "/timber/items/" + idText(id) }
	low := func(low bool, said string) func(echo.Context, int64) (string, error) {
		return func(c echo.Context, id int64) (string, error) {
			_, err := s.Timber.ItemLow(c.Request().Context(), id, low)
			return said, err
		}
	}
	return s.deed(c, s.handleItem, back, map[string]func(echo.Context, int64) (string, error){
		"change": func(c echo.Context, _ int64) (string, error) { _, err := s.saveItem(c); return "Kept.", err },
		"move":   func(c echo.Context, id int64) (string, error) { return s.bookMove(c, claims.Item(id)) },
		"count":  s.countItem, "low": low(true, "It stands on the list of what runs low."), "enough": low(false, "It is off the list of what runs low.")})
}

func (s *Server) countItem(c echo.Context, id int64) (string, error) {
	f := formOf(c, "count")
	n := int(f.Int("counted", 0, 100_000))
	if err := f.Err(); err != nil {
		return "", err
	}
	diffs, err := s.Timber.Count(c.Request().Context(), []timber.CountLine{{Thing: claims.Item(id), Counted: n}}, s.DB.Now())
	if len(diffs) == 0 {
		return "The book agrees.", err
	}
	return joined(fmt.Sprintf("The book said %d, there are %d.", diffs[0].Book, diffs[0].Counted), diffs[0].Booked.Notes()), err
}

func (s *Server) saveItem(c echo.Context) (timber.Item, error) {
	i, err := s.itemOf(c)
	if err != nil {
		return i, err
	}
	f := formOf(c, "change")
	i.Version, i.Code, i.Name, i.Kind, i.Counted, i.Unit, i.SupplierID = f.Version, f.Text("code"), f.Text("name"), f.Text("kind"), f.Ticked("counted"), f.Text("unit"), f.maybeID("supplier_id")
	i.LowMark, i.LeadDays = f.optional("low_mark", 100_000), nil
	if f.Text("lead_days") != "" {
		days := f.optional("lead_days", 1000)
		i.LeadDays = &days
	}
	if i.CostMinor, err = s.optionalMoney(c, f, "cost", i.CostMinor); err != nil {
		return i, err
	}
	now := s.DB.Now()
	if !f.Ticked("put_away") {
		i.PutAwayAt = nil
	} else if i.PutAwayAt == nil {
		i.PutAwayAt = &now
	}
	if err := f.Err(); err != nil {
		return i, err
	}
	return s.Timber.ItemSave(c.Request().Context(), i)
}
