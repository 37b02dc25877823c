package web

import (
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerShelfPages(r *routes) {
	r.get(access.Orders, "/orders/shelf", s.handleSell)
	r.post(access.Orders, "/orders/shelf", s.handleSellPost)
	r.get(access.Orders, "/orders/new", s.handleOrderNew)
	r.post(access.Orders, "/orders/new", s.handleOrderNewPost)
	r.get(access.Orders, "/orders/old", s.handleOrderOld)
	r.post(access.Orders, "/orders/old", s.handleOrderOldPost)
}

type shelfView struct {
	Form    *Form
	Boxes   []shelfBox
	Methods []Choice
	Who     whoView
}

type shelfBox struct {
	Serial, What string
	Ticked       bool
}

var shelfPage = definePage[shelfView]("shelf")

// handleSell sells a box now: serial, price, how it is paid, a name.
func (s *Server) handleSell(c echo.Context) error {
	f := queryForm(c)
	list, _, err := s.Workshop.BoxList(c.Request().Context(), workshop.BoxFilter{Shelf: true})
	if err != nil {
		return err
	}
	v := shelfView{Form: f, Methods: paymentMethods}
	for _, b := range list {
		what := strings.Join(append([]string{b.What()}, b.OptionNames...), ", ")
		if b.SpeciesName != "" {
			what += ", " + b.SpeciesName
		}
		box := shelfBox{Serial: b.Serial, What: what}
		for _, serial := range f.All("serial") {
			box.Ticked = box.Ticked || serial == b.Serial
		}
		v.Boxes = append(v.Boxes, box)
	}
	if v.Who, err = s.who(c, f); err != nil {
		return err
	}
	return shelfPage.show(s, c, "Sell from the shelf", v)
}

// buyerOf gives the party that a form names: one of those who use the number, or
// somebody new, who is put down when make is set; 0 when something is to be changed, which
// is noted.
func (s *Server) buyerOf(c echo.Context, f *Form) (int64, error) {
	who, err := s.who(c, f)
	if err != nil {
		return 0, err
	}
	for _, p := range who.People {
		if p.Chosen {
			return p.ID, nil
		}
	}
	if len(who.People) > 0 && !who.New {
		f.Wrong("who", "This number is known. Choose who it is.")
	}
	if f.Text("name") == "" && f.Text("number") == "" {
		f.Wrong("name", "Say who buys it: a name or a number.")
	}
	return 0, nil
}

// newBuyer puts the one whom a form names into the book.
func (s *Server) newBuyer(c echo.Context, f *Form) (int64, error) {
	p := sales.Party{Name: f.Text("name"), Town: f.Text("place"), FoundBy: f.Text("found_by")}
	if f.Text("number") != "" {
		p.Contacts = []sales.Contact{{Kind: "phone", Value: f.Text("number")}}
	}
	p, err := s.Sales.PartyPut(c.Request().Context(), p)
	return p.ID, err
}

func (s *Server) handleSellPost(c echo.Context) error {
	f := formOf(c)
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	sale := answer.ShelfSale{Serials: f.All("serial"), Name: f.Text("name"), Phone: f.Text("number"), Method: f.Text("method"), InKind: f.Text("in_kind")}
	if typed := f.Text("other_serial"); typed != "" {
		sale.Serials = append(sale.Serials, strings.Fields(typed)...)
	}
	if len(sale.Serials) == 0 {
		f.Wrong("other_serial", "Say which box: tick it, or write its serial.")
	}
	if f.Text("price_minor") != "" {
		sale.PriceMinor = f.Money("price_minor", currency(set))
	}
	if sale.PartyID, err = s.buyerOf(c, f); err != nil {
		return again(err, s.handleSell)
	}
	if sale.PartyID == 0 && sale.Name == "" {
		f.Wrong("name", "Say who buys it.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleSell)
	}
	got, err := s.Answer.SellFromShelf(c.Request().Context(), sale)
	if err != nil {
		return again(err, s.handleSell)
	}
	if got.Payment.ID == 0 {
		return goTo(c, hrefOf("order", got.Order.ID), "Given away and handed over.")
	}
	return goTo(c, hrefOf("payment", got.Payment.ID), "Sold and handed over as "+got.Order.Number+". Here is the receipt.")
}

type orderNewView struct {
	Form *Form
	Wish wishFields
	Who  whoView
}

var orderNewPage = definePage[orderNewView]("order-new")

// handleOrderNew is an order without a quote: offered and taken in one step.
func (s *Server) handleOrderNew(c echo.Context) error {
	f := queryForm(c)
	o, err := s.offer(c.Request().Context())
	if err != nil {
		return err
	}
	f.Fill("count", "1")
	who, err := s.who(c, f)
	if err != nil {
		return err
	}
	return orderNewPage.show(s, c, "An order without a quote", orderNewView{Form: f, Wish: o.fields(f), Who: who})
}

func (s *Server) handleOrderNewPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	o, err := s.offer(ctx)
	if err != nil {
		return err
	}
	n := answer.NewOrder{Wishes: []sales.Wish{o.wish(f)}}
	n.TheirNumber, n.Notes = f.Text("their_number"), f.Text("notes")
	if f.Text("deposit_minor") != "" {
		n.DepositMinor = f.Money("deposit_minor", currency(set))
	}
	if n.PartyID, err = s.buyerOf(c, f); err == nil {
		err = f.Err()
	}
	if err == nil && n.PartyID == 0 {
		n.PartyID, err = s.newBuyer(c, f)
	}
	if err != nil {
		return again(err, s.handleOrderNew)
	}
	got, err := s.Answer.OrderMake(ctx, n)
	if err != nil {
		return again(err, s.handleOrderNew)
	}
	return goTo(c, hrefOf("order", got.Order.ID), "Ordered: "+got.Order.Number+"."+shortWords(got.Short))
}

type orderOldView struct {
	Form                  *Form
	Models, Bees, Methods []Choice
	Who                   whoView
}

var orderOldPage = definePage[orderOldView]("order-old")

// handleOrderOld types in an order that was agreed before this book.
func (s *Server) handleOrderOld(c echo.Context) error {
	f := queryForm(c)
	o, err := s.offer(c.Request().Context())
	if err != nil {
		return err
	}
	f.Fill("count", "1")
	who, err := s.who(c, f)
	if err != nil {
		return err
	}
	v := orderOldView{Form: f, Bees: o.bees, Methods: paymentMethods, Who: who, Models: []Choice{{Value: "", Text: "A box of no model here"}}}
	for _, m := range o.models {
		v.Models = append(v.Models, Choice{Value: idText(m.ID), Text: m.Name})
	}
	v.Models = append(v.Models, Choice{Value: noBox, Text: "No box: a colony"})
	return orderOldPage.show(s, c, "Type in an old order", v)
}

func (s *Server) handleOrderOldPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	cur := currency(set)
	l := answer.TypedLine{Kind: "box", Description: f.Text("description"), Count: f.Int("count", 1, sales.MaxPieces), PriceMinor: f.Money("price_minor", cur), BeeSpeciesID: f.ID("bee_species_id"), BoxOn: f.Date("box_on"), ColonyOn: f.Date("colony_on")}
	switch f.Text("model_id") {
	case noBox:
		l.Kind, l.BoxOn = "colony", nil
	case "":
	default:
		l.ModelID = f.ID("model_id")
	}
	l.WithColony = l.BeeSpeciesID != 0 && l.Kind == "box"
	if l.Description == "" && l.ModelID == 0 {
		f.Wrong("description", "Say in a few words what was ordered.")
	}
	t := answer.TypedIn{TheirNumber: f.Text("their_number"), Notes: f.Text("notes"), PaidMethod: f.Text("method"), Lines: []answer.TypedLine{l}}
	if day := f.Date("happened_on"); day != nil {
		t.HappenedAt = time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, set.Location())
	} else {
		f.Wrong("happened_on", "Say when it was agreed.")
	}
	if f.Text("paid_minor") != "" {
		t.PaidMinor = f.Money("paid_minor", cur)
	}
	if t.PartyID, err = s.buyerOf(c, f); err == nil {
		err = f.Err()
	}
	if err == nil && t.PartyID == 0 {
		t.PartyID, err = s.newBuyer(c, f)
	}
	if err != nil {
		return again(err, s.handleOrderOld)
	}
	got, err := s.Answer.OrderTypedIn(ctx, t)
	if err != nil {
		return again(err, s.handleOrderOld)
	}
	return goTo(c, hrefOf("order", got.Order.ID), "Typed in as "+got.Order.Number+"; agreed "+show.Date(got.Order.HappenedAt.In(set.Location()))+".")
}
