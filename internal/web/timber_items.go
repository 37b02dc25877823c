package web

import (
	"fmt"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerItemPages(r *routes) {
	r.get(access.Timber, "/timber/items", s.handleItems)
	r.get(access.Timber, "/timber/items/:id", s.handleItem)
	r.post(access.Timber, "/timber/items/:id/:deed", s.handleItemPost)
	r.get(access.Prices, "/timber/purchases", s.handlePurchases)
	r.get(access.Prices, "/timber/purchases/new", s.handlePurchaseNew)
	r.post(access.Prices, "/timber/purchases/new", s.handlePurchaseNewPost)
	r.get(access.Prices, "/timber/purchases/:id", s.handlePurchase)
	r.post(access.Prices, "/timber/purchases/:id", s.handlePurchasePost)
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

func (s *Server) handlePurchases(c echo.Context) error {
	list, next, err := s.Timber.PurchaseList(c.Request().Context(), false, 50, c.QueryParam("after"))
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Ordered", "Supplier", "Their number", "Expected", "Came in"), Empty: "Nothing was bought yet."}
	for _, p := range list {
		in := "not yet"
		if p.ReceivedAt != nil {
			in = "yes"
		}
		t.add(linkCell(show.Date(p.OrderedOn), "/timber/purchases/"+idText(p.ID)), cellOf(p.SupplierName), cellOf(p.TheirNumber), cellOf(show.DateOr(p.ExpectedOn, "")), cellOf(in))
	}
	v := sheetView{Links: []sheetLink{{"Write down an order", "/timber/purchases/new"}}, Tables: []sheetTable{t}}
	if next != "" {
		v.More = "/timber/purchases?after=" + next
	}
	return s.showSheet(c, "Purchases", v)
}

const purchaseRows = 6

func (s *Server) handlePurchaseNew(c echo.Context) error {
	suppliers, err := s.supplierChoices(c)
	if err != nil {
		return err
	}
	list, _, err := s.Timber.ItemList(c.Request().Context(), timber.ItemFilter{Limit: 200})
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	items := []Choice{{Text: "Something else, in words"}}
	for _, i := range list {
		items = append(items, Choice{Value: idText(i.ID), Text: i.Name})
	}
	f := formOf(c)
	f.Fill("ordered_on", show.ISODate(today))
	parts := []sheetPart{{Fields: []kindField{choose(f.Choose("supplier_id", "Supplier", suppliers)), in(f.Field("new_supplier", "Or a new supplier")), in(f.Field("ordered_on", "Ordered on", "type=date", "required")),
		in(f.Field("expected_on", "Expected on", "type=date")), in(f.Field("their_number", "Their number"))}}}
	for n := range purchaseRows {
		at := fmt.Sprintf("lines.%d.", n)
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("Line %d", n+1), Fields: []kindField{choose(f.Choose(at+"item_id", "What", items)), in(f.Field(at+"description", "In words")), in(f.Field(at+"quantity", "How many", "mode=numeric")),
			in(f.Field(at+"cost", "Cost of the line without tax", "mode=decimal")), in(f.Field(at+"tax", "Tax of the line", "mode=decimal"))}})
	}
	return s.showSheet(c, "Write down an order", sheetView{Forms: []sheetForm{{Action: "/timber/purchases/new", Form: f, Parts: parts, Button: "Write it down"}}})
}

func (s *Server) handlePurchaseNewPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	p := timber.Purchase{SupplierID: f.maybeID("supplier_id"), ExpectedOn: f.Date("expected_on"), TheirNumber: f.Text("their_number")}
	if day := f.Date("ordered_on"); day != nil {
		p.OrderedOn = *day
	}
	for n := range purchaseRows {
		at := fmt.Sprintf("lines.%d.", n)
		if f.Text(at+"item_id") == "" && f.Text(at+"description") == "" {
			continue
		}
		line := timber.PurchaseLine{ItemID: f.maybeID(at + "item_id"), Description: f.Text(at + "description"), Quantity: int(f.Int(at+"quantity", 1, 100_000))}
		line.CostExTaxMinor = f.Money(at+"cost", currency(set))
		if f.Text(at+"tax") != "" {
			line.TaxMinor = f.Money(at+"tax", currency(set))
		}
		p.Lines = append(p.Lines, line)
	}
	if err := f.Err(); err != nil {
		return again(err, s.handlePurchaseNew)
	}
	if name := f.Text("new_supplier"); p.SupplierID == nil && name != "" {
		sup, err := s.Timber.SupplierSave(ctx, timber.Supplier{Name: name, LeadDays: 7})
		if err != nil {
			return again(err, s.handlePurchaseNew)
		}
		p.SupplierID = &sup.ID
	}
	out, err := s.Timber.PurchaseOrder(ctx, p)
	if err != nil {
		return again(err, s.handlePurchaseNew)
	}
	return goTo(c, "/timber/purchases/"+idText(out.ID), "Written down.")
}

func (s *Server) handlePurchase(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	p, err := s.Timber.PurchaseGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	cur := currency(set)
	t := sheetTable{Heads: heads("What", "#How many", "#Without tax", "#Tax"), Empty: "No lines."}
	for _, l := range p.Lines {
		what := linkCell(l.Description, "")
		if l.ItemID != nil {
			i, err := s.Timber.ItemGet(ctx, *l.ItemID)
			if err != nil {
				return err
			}
			what = linkCell(i.Name, "/timber/items/"+idText(i.ID))
		}
		t.add(what, numCell(l.Quantity), cellOf(cur.Money(l.CostExTaxMinor)), cellOf(cur.Money(l.TaxMinor)))
	}
	v := sheetView{Facts: told(sheetFact{Name: "Supplier", Text: p.SupplierName}, sheetFact{Name: "Ordered", Text: show.Date(p.OrderedOn)}, sheetFact{Name: "Expected", Text: show.DateOr(p.ExpectedOn, "")}, sheetFact{Name: "Their number", Text: p.TheirNumber}),
		Tables: []sheetTable{t}, History: "/history/purchase/" + idText(id)}
	if p.ReceivedAt != nil {
		v.Lead = "Came in on " + show.Time(*p.ReceivedAt, set.Location())
	} else {
		b := button("/timber/purchases/"+idText(id), "All of it came in", "")
		b.Version, b.Main = p.Version, true
		v.Buttons = []sheetButton{b}
	}
	return s.showSheet(c, "Purchase of "+show.Date(p.OrderedOn), v)
}

func (s *Server) handlePurchasePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	if _, err := s.Timber.PurchaseReceive(c.Request().Context(), id, formOf(c).Version, s.DB.Now()); err != nil {
		if fault.Is(err, fault.NotFound) {
			return err
		}
		return again(err, s.handlePurchase)
	}
	return goTo(c, "/timber/purchases/"+idText(id), "It is booked in.")
}
