package web

import (
	"fmt"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerPurchasePages(r *routes) {
	r.get(access.Timber, "/timber/suppliers", s.handleSuppliers)
	r.get(access.Timber, "/timber/suppliers/:id", s.handleSupplier)
	r.post(access.Timber, "/timber/suppliers/:id", s.handleSupplierPost)
	r.get(access.Prices, "/timber/purchases", s.handlePurchases)
	r.get(access.Prices, "/timber/purchases/new", s.handlePurchaseNew)
	r.post(access.Prices, "/timber/purchases/new", s.handlePurchaseNewPost)
	r.get(access.Prices, "/timber/purchases/:id", s.handlePurchase)
	r.post(access.Prices, "/timber/purchases/:id", s.handlePurchasePost)
	r.post(access.Prices, "/timber/purchases/:id/:deed", s.handlePurchaseDeed)
}

func (s *Server) handleSuppliers(c echo.Context) error {
	list, err := s.Timber.SupplierList(c.Request().Context())
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Name", "Phone", "Comes in"), Empty: "No supplier is in the book yet."}
	for _, x := range list {
		t.add(linkCell(x.Name, "/timber/suppliers/"+idText(x.ID)), cellOf(x.Phone), cellOf(show.Count(int64(x.LeadDays), "day", "days")))
	}
	links := []sheetLink{{"Add a supplier", "/timber/suppliers/0"}}
	if person(c).May(access.Prices) {
		links = append(links, sheetLink{"Purchases", "/timber/purchases"})
	}
	return s.showSheet(c, "Suppliers", sheetView{Links: links, Tables: []sheetTable{t}})
}

// supplierOf reads the supplier of the address; a new one for 0.
func (s *Server) supplierOf(c echo.Context) (timber.Supplier, error) {
	if c.Param("id") == "0" {
		return timber.Supplier{LeadDays: 7}, nil // our estimate
	}
	id, err := pathID(c)
	if err != nil {
		return timber.Supplier{}, err
	}
	return s.Timber.SupplierGet(c.Request().Context(), id)
}

func (s *Server) handleSupplier(c echo.Context) error {
	x, err := s.supplierOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(x.Version)
	f.Fill("name", x.Name)
	f.Fill("phone", x.Phone)
	f.Fill("lead_days", strconv.Itoa(x.LeadDays))
	f.Fill("notes", x.Notes)
	f.FillTick("put_away", x.PutAwayAt != nil)
	v := sheetView{Links: []sheetLink{{"All suppliers", "/timber/suppliers"}}, Forms: []sheetForm{{Action: "/timber/suppliers/" + c.Param("id"), Form: f, Button: "Keep",
		Parts: one(in(f.Field("name", "Name", "required")), in(f.Field("phone", "Phone", "type=tel")), in(f.Field("lead_days", "Days from order to delivery", "mode=numeric", "unit=days", "required")),
			area(f.Field("notes", "Notes")), tick(f.Field("put_away", "Put away: nothing is bought there any more")))}}}
	title := "A supplier"
	if x.ID > 0 {
		title, v.History = x.Name, "/history/supplier/"+idText(x.ID)
		if person(c).May(access.Prices) {
			v.Links = append(v.Links, sheetLink{"Write down an order", "/timber/purchases/new?supplier_id=" + idText(x.ID)})
		}
	}
	return s.showSheet(c, title, v)
}

func (s *Server) handleSupplierPost(c echo.Context) error {
	x, err := s.supplierOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	x.Version, x.Name, x.Phone, x.Notes, x.LeadDays = f.Version, f.Text("name"), f.Text("phone"), f.Text("notes"), int(f.Int("lead_days", 0, 1000))
	now := s.DB.Now()
	if !f.Ticked("put_away") {
		x.PutAwayAt = nil
	} else if x.PutAwayAt == nil {
		x.PutAwayAt = &now
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleSupplier)
	}
	if _, err := s.Timber.SupplierSave(c.Request().Context(), x); err != nil {
		return again(err, s.handleSupplier)
	}
	return goTo(c, "/timber/suppliers", "Kept.")
}

func (s *Server) handlePurchases(c echo.Context) error {
	list, next, err := s.Timber.PurchaseList(c.Request().Context(), false, 50, c.QueryParam("after"))
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Ordered", "Supplier", "Their number", "Expected", "Came in", "Paid"), Empty: "Nothing was bought yet."}
	for _, p := range list {
		expected, in, paid := cellOf(show.DateOr(p.ExpectedOn, "")), "not yet", "not yet"
		if p.ReceivedAt != nil {
			in = "yes"
		} else if p.ExpectedOn != nil && p.ExpectedOn.Before(today) {
			expected.Late = "late"
		}
		if p.PaidOn != nil {
			paid = show.Date(*p.PaidOn)
		}
		t.add(linkCell(show.Date(p.OrderedOn), "/timber/purchases/"+idText(p.ID)), cellOf(p.SupplierName), cellOf(p.TheirNumber), expected, cellOf(in), cellOf(paid))
	}
	v := sheetView{Links: append(purchaseLinks(), sheetLink{"Suppliers", "/timber/suppliers"}), Tables: []sheetTable{t}}
	if next != "" {
		v.More = "/timber/purchases?after=" + next
	}
	return s.showSheet(c, "Purchases", v)
}

// purchaseOf are the kinds of order that a form is made for, and what a line of it is.
var purchaseOf = []struct{ of, title, line string }{{"", "Order fittings, finish, other things", "Line"}, {timber.BringsBoards, "Order dressed boards", "Boards"},
	{timber.BringsPack, "Order green boards", "Green boards"}, {timber.BringsLog, "Buy logs", "Log"}}

func purchaseLinks() []sheetLink {
	var out []sheetLink
	for _, k := range purchaseOf {
		out = append(out, sheetLink{k.title, purchaseNew(k.of)})
	}
	return out
}

// purchaseNew is the address of the form for a kind of order.
func purchaseNew(of string) string {
	if of == "" {
		return "/timber/purchases/new"
	}
	return "/timber/purchases/new?of=" + of
}

const purchaseRows = 4

func (s *Server) handlePurchaseNew(c echo.Context) error {
	suppliers, err := s.supplierChoices(c)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("ordered_on", show.ISODate(today))
	f.Fill("supplier_id", c.QueryParam("supplier_id"))
	kind := purchaseOf[0]
	for _, k := range purchaseOf {
		if k.of == c.QueryParam("of") {
			kind = k
		}
	}
	fields, err := s.purchaseFields(c, f, kind.of)
	if err != nil {
		return err
	}
	parts := []sheetPart{}
	for n := range purchaseRows {
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("%s %d", kind.line, n+1), Fold: n > 0, Fields: fields(fmt.Sprintf("lines.%d.", n))})
	}
	parts = append(parts, sheetPart{Legend: "From whom", Fields: []kindField{choose(f.Choose("supplier_id", "Supplier", suppliers)), in(f.Field("new_supplier", "Or a new supplier")), in(f.Field("ordered_on", "Ordered on", "type=date", "required")),
		in(f.Field("expected_on", "Expected on", "type=date", "hint=Empty: after the supplier's days.")), in(f.Field("their_number", "Their number")), tick(f.Field("paid", "It is paid"))}})
	links := []sheetLink{}
	for i, l := range purchaseLinks() {
		if purchaseOf[i].of != kind.of {
			links = append(links, l)
		}
	}
	return s.showSheet(c, kind.title, sheetView{Links: links, Forms: []sheetForm{{Action: purchaseNew(kind.of), Form: f, Parts: parts, Button: "Write it down"}}})
}

// purchaseFields gives the fields of a line under a name such as lines.0.
func (s *Server) purchaseFields(c echo.Context, f *Form, of string) (func(at string) []kindField, error) {
	cost := func(at string) []kindField {
		return []kindField{in(f.Field(at+"quantity", "How many", "mode=numeric")), in(f.Field(at+"cost", "Cost of them all, without tax", "mode=decimal")), in(f.Field(at+"tax", "Tax on that", "mode=decimal"))}
	}
	if of == "" {
		list, _, err := s.Timber.ItemList(c.Request().Context(), timber.ItemFilter{Limit: 200})
		items := []Choice{{Text: "Something else, in words"}}
		for _, i := range list {
			items = append(items, Choice{Value: idText(i.ID), Text: i.Name})
		}
		return func(at string) []kindField {
			return append([]kindField{choose(f.Choose(at+"item_id", "What", items)), in(f.Field(at+"description", "In words"))}, cost(at)...)
		}, err
	}
	kinds, err := s.timberChoices(c)
	return func(at string) []kindField {
		out := []kindField{choose(f.Choose(at+"species_id", "Timber", kinds))}
		if of == timber.BringsLog {
			out = append(out, in(f.Field(at+"small_end_mm", "Small end, under bark", "mode=decimal", "unit=mm")), in(f.Field(at+"large_end_mm", "Large end, under bark", "mode=decimal", "unit=mm")))
		} else {
			f.Fill(at+"grade", "sound")
			out = append(out, in(f.Field(at+"width_mm", "Width", "mode=decimal", "unit=mm")), in(f.Field(at+"thickness_mm", "Thickness", "mode=decimal", "unit=mm")), choose(f.Choose(at+"grade", "Grade", gradeChoices)))
		}
		out = append(out, in(f.Field(at+"length_mm", "Length", "mode=numeric", "unit=mm")))
		if of != timber.BringsLog {
			out = append(out, in(f.Field(at+"place", "Where they will lie")))
		}
		return append(out, cost(at)...)
	}, err
}

// readPurchaseLine reads one line; ok is false where nothing was written.
func readPurchaseLine(f *Form, at, of string, money func(name string) int64) (line timber.PurchaseLine, ok bool) {
	if of == "" && f.Text(at+"item_id") == "" && f.Text(at+"description") == "" || of != "" && f.Text(at+"length_mm") == "" && f.Text(at+"quantity") == "" {
		return line, false
	}
	line = timber.PurchaseLine{Brings: of, Description: f.Text(at + "description"), Quantity: int(f.Int(at+"quantity", 1, 100_000)), CostExTaxMinor: money(at + "cost")}
	if f.Text(at+"tax") != "" {
		line.TaxMinor = money(at + "tax")
	}
	if of == "" {
		line.ItemID = f.maybeID(at + "item_id")
		return line, true
	}
	length := int(f.Int(at+"length_mm", 1, 20_000))
	line.SpeciesID, line.LengthMM, line.Place = f.maybeID(at+"species_id"), &length, f.Text(at+"place")
	if of == timber.BringsLog {
		line.SmallEndMM, line.LargeEndMM = f.maybeDecimal(at+"small_end_mm", 1), f.maybeDecimal(at+"large_end_mm", 1)
		return line, true
	}
	grade := f.Text(at + "grade")
	line.WidthMM, line.ThicknessMM, line.Grade = f.maybeDecimal(at+"width_mm", 1), f.maybeDecimal(at+"thickness_mm", 1), &grade
	return line, true
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
	if f.Ticked("paid") {
		today := set.Today(s.DB.Now())
		p.PaidOn = &today
	}
	of := c.QueryParam("of")
	for n := range purchaseRows {
		if line, ok := readPurchaseLine(f, fmt.Sprintf("lines.%d.", n), of, func(name string) int64 { return f.Money(name, currency(set)) }); ok {
			p.Lines = append(p.Lines, line)
		}
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

// lineCell says what a line of a purchase is.
func (s *Server) lineCell(c echo.Context, l timber.PurchaseLine) (sheetCell, error) {
	ctx := c.Request().Context()
	switch {
	case l.ItemID != nil:
		i, err := s.Timber.ItemGet(ctx, *l.ItemID)
		return linkCell(i.Name, "/timber/items/"+idText(*l.ItemID)), err
	case l.LotID != nil:
		lot, err := s.Timber.LotGet(ctx, *l.LotID)
		return linkCell(fmt.Sprintf("%s, %s, %d mm", lot.SpeciesName, show.BoardSize(lot.WidthMM, lot.ThicknessMM), lot.LengthMM), "/timber/lots/"+idText(*l.LotID)), err
	case l.Brings == timber.BringsLog:
		return cellOf(fmt.Sprintf("Log of %s, %s to %s mm, %d mm long", l.SpeciesName, l.SmallEndMM, l.LargeEndMM, *l.LengthMM)), nil
	case l.Brings != "":
		state := "dressed"
		if l.Brings == timber.BringsPack {
			state = "green"
		}
		return cellOf(fmt.Sprintf("%s, %s, %d mm, %s", l.SpeciesName, show.BoardSize(*l.WidthMM, *l.ThicknessMM), *l.LengthMM, state)), nil
	}
	return cellOf(l.Description), nil
}

func (s *Server) handlePurchase(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	p, err := s.Timber.PurchaseGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	cur, at := currency(set), "/timber/purchases/"+idText(id)
	t := sheetTable{Heads: heads("What", "#Ordered", "#Came in", "#Without tax", "#Tax"), Empty: "No lines."}
	part := formOf(c, "part")
	part.FillVersion(p.Version)
	var came []kindField
	for _, l := range p.Lines {
		what, err := s.lineCell(c, l)
		if err != nil {
			return err
		}
		t.add(what, numCell(l.Quantity), numCell(l.Received), cellOf(cur.Money(l.CostExTaxMinor)), cellOf(cur.Money(l.TaxMinor)))
		if left := l.Quantity - l.Received; left > 0 {
			came = append(came, in(part.Field("came."+idText(l.ID), fmt.Sprintf("Of %d: %s", left, what.Text), "mode=numeric")))
		}
	}
	paid := "not yet"
	if p.PaidOn != nil {
		paid = show.Date(*p.PaidOn)
	}
	v := sheetView{Links: []sheetLink{{"All purchases", "/timber/purchases"}}, Facts: told(sheetFact{Name: "Supplier", Text: p.SupplierName}, sheetFact{Name: "Ordered", Text: show.Date(p.OrderedOn)},
		sheetFact{Name: "Expected", Text: show.DateOr(p.ExpectedOn, "")}, sheetFact{Name: "Paid", Text: paid}, sheetFact{Name: "Their number", Text: p.TheirNumber}), Tables: []sheetTable{t}, History: "/history/purchase/" + idText(id)}
	change := formOf(c, "change")
	change.FillVersion(p.Version)
	if p.ExpectedOn != nil {
		change.Fill("expected_on", show.ISODate(*p.ExpectedOn))
	}
	if p.PaidOn != nil {
		change.Fill("paid_on", show.ISODate(*p.PaidOn))
	}
	fields := []kindField{in(change.Field("paid_on", "Paid on", "type=date"))}
	if p.ReceivedAt != nil {
		v.Lead = "Came in on " + show.Time(*p.ReceivedAt, set.Location())
	} else {
		b := button(at, "All of it came in", "")
		b.Version, b.Main = p.Version, true
		v.Buttons = []sheetButton{b}
		v.Forms = []sheetForm{{Title: "Only part of it came in", Fold: true, Action: at + "/part", Form: part, Parts: one(came...), Button: "That came in"}}
		fields = append([]kindField{in(change.Field("expected_on", "Expected on", "type=date"))}, fields...)
	}
	v.Side = []sheetForm{{Title: "Expected, paid", Action: at + "/change", Form: change, Parts: one(fields...), Button: "Keep"}}
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

func (s *Server) handlePurchaseDeed(c echo.Context) error {
	back := func(id int64) string { return "/timber/purchases/" + idText(id) }
	return s.deed(c, s.handlePurchase, back, map[string]func(echo.Context, int64) (string, error){"part": s.receivePart, "change": s.changePurchase})
}

func (s *Server) receivePart(c echo.Context, id int64) (string, error) {
	f := formOf(c, "part")
	p, err := s.Timber.PurchaseGet(c.Request().Context(), id)
	if err != nil {
		return "", err
	}
	var came []timber.Received
	for _, l := range p.Lines {
		if n := f.optional("came."+idText(l.ID), 100_000); n > 0 {
			came = append(came, timber.Received{LineID: l.ID, Quantity: n})
		}
	}
	if len(came) == 0 {
		f.Wrong("came."+idText(p.Lines[0].ID), "Write how many came.")
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err = s.Timber.PurchaseReceive(c.Request().Context(), id, f.Version, s.DB.Now(), came...)
	return "It is booked in.", err
}

func (s *Server) changePurchase(c echo.Context, id int64) (string, error) {
	f := formOf(c, "change")
	p, err := s.Timber.PurchaseGet(c.Request().Context(), id)
	if err != nil {
		return "", err
	}
	expected := p.ExpectedOn
	if p.ReceivedAt == nil {
		expected = f.Date("expected_on")
	}
	paid := f.Date("paid_on")
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err = s.Timber.PurchaseChange(c.Request().Context(), id, f.Version, expected, paid)
	return "Kept.", err
}
