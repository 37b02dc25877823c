package web

import (
	"fmt"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/books"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerOrderPages(r *routes) {
	r.get(access.Orders, "/orders", s.handleOrders)
	r.get(access.Orders, "/orders/:id", s.handleOrder)
	r.get(access.Orders, "/orders/:id/pdf", s.handleOrderPDF)
	r.post(access.Orders, "/orders/:id", s.handleOrderPost)
}

type ordersView struct {
	List listView
	Rows []dealRow
}

var ordersPage = definePage[ordersView]("orders")

func (s *Server) handleOrders(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := ordersView{List: listAt(c, "/orders", "Name or order number")}
	party, _ := strconv.ParseInt(c.QueryParam("party"), 10, 64)
	list, next, err := s.Sales.OrderList(c.Request().Context(), sales.OrderFilter{Find: v.List.Asked, OpenOnly: v.List.All == "" && v.List.Asked == "", PartyID: party, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	v.List.next(next)
	for _, o := range list {
		v.Rows = append(v.Rows, orderRow(o, set, s.DB.Now()))
	}
	return ordersPage.show(s, c, "Orders", v)
}

type orderView struct {
	Problem                            string // of a form that has a button only
	ID                                 int64
	Facts                              []fact
	Lines                              []orderLineView
	Short                              []string
	Price, Paid, Balance               string
	Deposit                            string
	Payments                           []paymentRow
	Invoices                           []invoiceRow
	InvoicedGone                       []books.Invoice // whose pieces are cancelled
	CreditLeft                         string          // paid beyond the price
	Credits                            []Choice        // of the same buyer on other orders
	InvoiceKinds                       []Choice
	Open, Buildable, AskTimber         bool
	PayForm, InvoiceForm, CancelForm   *Form
	PromiseForm, VaryForm, PlaceForm   *Form
	Sites                              []Choice // of the buyer, where there are several
	Kinds, Methods, Ends, Parts, Units []Choice
	OpenUnits                          []unitRow
	Wish                               wishFields
	Timber                             Field // of a build whose order names none
	Cost, Left                         string
	Loss                               bool
	Key                                string
	RunHref                            string
	Mailed                             *mailed
	InLine                             []inLineRow
	Unfetched                          *unfetchedLine
}

type orderLineView struct {
	What, Quantity, Price string
	Units                 []unitRow
}

type unitRow struct {
	ID                          int64
	N, What, State, Box, Colony string
	Serial, BoxHref             string
	Number, ColonyHref          string
	Build, BuildHref            string
	HandOver                    string
	Late, Open, Buildable       bool
	Ready                       bool // everything stands aside for it
	Service                     bool // to be done, not handed over
}

var orderPage = definePage[orderView]("order")

func (s *Server) handleOrder(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	o, err := s.Sales.OrderGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := orderView{ID: id, Key: formOf(c, "").Key, Problem: formOf(c, "").Problem, PayForm: formOf(c, "pay"), InvoiceForm: formOf(c, "invoice"), CancelForm: formOf(c, "cancel"), PromiseForm: formOf(c, "promise"), VaryForm: formOf(c, "vary"), PlaceForm: formOf(c, "place"),
		InvoiceKinds: invoiceKinds, Kinds: paymentKinds, Methods: paymentMethods, Parts: []Choice{{Value: "box", Text: "The box"}, {Value: "colony", Text: "The colony"}}}
	if v.Facts, err = s.orderFacts(c, o, set); err != nil {
		return err
	}
	s.layUnits(&v, o, set)
	if v.Sites, err = s.siteChoices(c, o.PartyID); err != nil {
		return err
	}
	v.Sites[0].Text = "As the order says"
	if v.Open {
		if v.Short, err = s.Answer.OrderShort(ctx, id); err != nil {
			return err
		}
		if v.InLine, err = s.inLine(c, o); err != nil {
			return err
		}
		if v.Unfetched, err = s.unfetchedOf(c, id); err != nil {
			return err
		}
	}
	if err := s.layMoney(c, &v, o, set); err != nil {
		return err
	}
	offer, err := s.offer(ctx)
	if err != nil {
		return err
	}
	offer.fill(v.VaryForm, wishOfOrder(o))
	v.Wish = offer.fields(v.VaryForm)
	v.Timber = formOf(c, "build").Choose("timber_id", "Timber", append([]Choice{{Value: "", Text: "The usual one"}}, offer.timbers[1:]...))
	if v.Mailed, err = s.mailedOf(c, "order", o.Number); err != nil {
		return err
	}
	return orderPage.show(s, c, "Order "+o.Number, v)
}

var (
	invoiceKinds   = []Choice{{Value: "final", Text: "All pieces not invoiced yet"}, {Value: "deposit", Text: "A deposit"}, {Value: "progress", Text: "A part, for work under way"}}
	paymentKinds   = []Choice{{Value: "deposit", Text: "Deposit"}, {Value: "payment", Text: "Payment"}, {Value: "refund", Text: "Money back"}}
	paymentMethods = []Choice{{Value: "cash", Text: "Cash"}, {Value: "transfer", Text: "Bank transfer"}, {Value: "card", Text: "Card"}, {Value: "cheque", Text: "Cheque"}, {Value: "in kind", Text: "In kind"}}
)

func (s *Server) orderFacts(c echo.Context, o sales.Order, set house.Settings) ([]fact, error) {
	list := []fact{{Name: "State", Value: o.State()}, {Name: "For", Value: o.PartyName, Href: hrefOf("party", o.PartyID)}, {Name: "Agreed", Value: show.Date(o.HappenedAt.In(set.Location()))}}
	if o.SiteID != nil {
		t, err := s.Sales.SiteGet(c.Request().Context(), *o.SiteID)
		if err != nil {
			return nil, err
		}
		list = append(list, fact{Name: "To stand at", Value: siteName(t), Href: "/sites/" + idText(t.ID)})
	}
	if o.QuoteID != nil {
		list = append(list, fact{Name: "From", Value: "the quote", Href: hrefOf("quote", *o.QuoteID)})
	}
	if o.TypedIn {
		list = append(list, fact{Name: "Typed in", Value: "from an old paper"})
	}
	if o.DepositEnd != nil {
		list = append(list, fact{Name: "Deposit", Value: *o.DepositEnd})
	}
	return facts(append(list, fact{Name: "Their number", Value: o.TheirNumber}, fact{Name: "Notes", Value: o.Notes})...), nil
}

func (s *Server) layUnits(v *orderView, o sales.Order, set house.Settings) {
	today, cur := set.Today(s.DB.Now()), currency(set)
	for _, l := range o.Lines {
		line := orderLineView{What: l.Description, Quantity: l.Quantity.String(), Price: cur.Money(l.PriceMinor)}
		for _, u := range l.Units {
			r := unitRow{ID: u.ID, N: strconv.Itoa(u.N), What: l.Description, State: u.State(), Box: promised(u, u.WantsBox && !u.OwnBox, u.PromisedBoxOn), Colony: promised(u, u.WantsColony, u.PromisedColonyOn), Open: u.Open(), Ready: u.Ready(),
				Buildable: u.Open() && u.WantsBox && !u.OwnBox && u.BoxID == nil && u.BuildID == nil}
			if !u.WantsBox && !u.WantsColony && u.Open() {
				r.State, r.Service = "to be done", true
			}
			if u.BoxID != nil && u.BoxSerial != nil {
				r.Serial, r.BoxHref = *u.BoxSerial, hrefOf("box", *u.BoxID)
			}
			if u.ColonyID != nil && u.ColonyNumber != nil {
				r.Number, r.ColonyHref = *u.ColonyNumber, hrefOf("colony", *u.ColonyID)
			}
			if u.BuildID != nil && u.BuildNumber != nil {
				r.Build, r.BuildHref = *u.BuildNumber, hrefOf("build", *u.BuildID)
			}
			if due := u.DueOn(); r.Open && due != nil && due.Before(today) {
				r.Late = true
			}
			if r.Open && (u.WantsBox || u.WantsColony) {
				r.HandOver = "/runs/hand-over/" + idText(u.ID)
			}
			v.AskTimber = v.AskTimber || r.Buildable && l.TimberSpeciesID == nil
			v.Open, v.Buildable = v.Open || r.Open, v.Buildable || r.Buildable
			if r.Open {
				v.OpenUnits = append(v.OpenUnits, r)
				v.Units = append(v.Units, Choice{Value: idText(u.ID), Text: fmt.Sprintf("%s, piece %d", l.Description, u.N)})
			}
			line.Units = append(line.Units, r)
		}
		v.Lines = append(v.Lines, line)
	}
	v.RunHref = "/runs/new"
}

func (s *Server) layMoney(c echo.Context, v *orderView, o sales.Order, set house.Settings) error {
	ctx, cur := c.Request().Context(), currency(set)
	v.Price, v.Paid, v.Balance = cur.Money(o.PriceMinor), cur.Money(o.PaidMinor), cur.Money(o.BalanceMinor())
	if o.DepositMinor > 0 {
		v.Deposit = cur.Money(o.DepositMinor)
	}
	var cost, net int64
	for _, l := range o.Lines {
		cost, net = cost+l.CostMinor, net+l.PriceExTaxMinor
	}
	v.Cost, v.Left, v.Loss = cur.Money(cost), cur.Money(net-cost), net < cost
	next, kind := o.BalanceMinor(), "payment"
	if o.PaidMinor == 0 && o.DepositMinor > 0 {
		next, kind = o.DepositMinor, "deposit"
	}
	v.PayForm.Fill("kind", kind)
	if next > 0 {
		v.PayForm.Fill("amount_minor", cur.Plain(next))
	}
	if o.PaidMinor > 0 {
		v.Ends = []Choice{{Value: "", Text: "The order goes on in part"}, {Value: "returned", Text: "All that was paid goes back"}, {Value: "kept", Text: "It is kept"}, {Value: "part returned", Text: "A part goes back"}}
	}
	payments, err := s.Books.PaymentsOf(ctx, o.ID)
	if err != nil {
		return err
	}
	for _, p := range payments {
		v.Payments = append(v.Payments, paymentLine(p, set))
	}
	invoices, err := s.Books.InvoicesOf(ctx, o.ID)
	if err != nil {
		return err
	}
	for _, i := range invoices {
		v.Invoices = append(v.Invoices, invoiceLine(i, set))
	}
	if v.InvoicedGone, err = s.Books.InvoicedButGone(ctx, o.ID); err != nil || o.BalanceMinor() == 0 {
		return err
	}
	if o.BalanceMinor() < 0 {
		v.CreditLeft = cur.Money(-o.BalanceMinor())
		return nil
	}
	credits, err := s.Books.CreditsOf(ctx, o.PartyID)
	for _, k := range credits {
		v.Credits = append(v.Credits, Choice{Value: idText(k.OrderID), Text: cur.Money(k.AmountMinor) + " on order " + k.OrderNumber})
	}
	return err
}

// wishOfOrder is what the open part of an order wants, as a start for a variation.
func wishOfOrder(o sales.Order) sales.Wish {
	for _, l := range o.Lines {
		open := 0
		for _, u := range l.Units {
			if u.Open() {
				open++
			}
		}
		if open == 0 || (l.Kind != "box" && l.Kind != "colony") {
			continue
		}
		w := sales.Wish{Count: open, WithColony: l.WithColony, OptionIDs: l.Options()}
		if l.BeeSpeciesID != nil {
			w.BeeSpeciesID = *l.BeeSpeciesID
		}
		if l.TimberSpeciesID != nil {
			w.TimberID = *l.TimberSpeciesID
		}
		return w
	}
	return sales.Wish{Count: 1}
}

func (s *Server) handleOrderPDF(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	o, err := s.Sales.OrderGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	pdf, err := s.Answer.OrderConfirmation(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return sendPDF(c, "order-"+o.Number, pdf)
}

// handleOrderPost does what the pressed button says.
func (s *Server) handleOrderPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f, _ := c.Get(formIn).(*Form)
	deeds := map[string]func(echo.Context, int64, *Form) (string, string, error){
		"pay": s.takePayment, "invoice": s.issueInvoice, "cancel": s.cancelOrder, "promise": s.changePromise, "build": s.buildUnits, "vary": s.varyOrder, "aside": s.putOrderAside, "credit": s.useCredit, "done": s.serviceDone, "place": s.placeUnit,
	}
	name := f.Text("deed")
	if f.Text("done") != "" {
		name = "done"
	}
	deed, ok := deeds[name]
	if !ok {
		return fault.New(fault.Invalid, "This button is not known. Load the page again.")
	}
	href, said, err := deed(c, id, f)
	if err != nil {
		return again(err, s.handleOrder)
	}
	return goTo(c, href, said)
}

func (s *Server) takePayment(c echo.Context, id int64, f *Form) (string, string, error) {
	set, err := s.settings(c)
	if err != nil {
		return "", "", err
	}
	p := books.Payment{OrderID: id, Kind: f.Text("kind"), Method: f.Text("method"), AmountMinor: f.Money("amount_minor", currency(set)), InKind: f.Text("in_kind"), Note: f.Text("note")}
	if day := f.Date("happened_on"); day != nil {
		p.HappenedAt = time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, set.Location())
		if now := s.DB.Now(); p.HappenedAt.After(now) && house.DateIn(now, set.Location()).Equal(*day) {
			p.HappenedAt = now
		}
	}
	if err := f.Err(); err != nil {
		return "", "", err
	}
	got, err := s.Answer.PaymentTake(c.Request().Context(), p)
	said := "Noted. Still to pay: " + currency(set).Money(got.BalanceMinor) + "."
	if got.BalanceMinor < 0 {
		said = "Noted. That is " + currency(set).Money(-got.BalanceMinor) + " more than is owed: it is kept as credit."
	}
	return hrefOf("payment", got.Payment.ID), said, err
}

// placeUnit says where a piece goes.
func (s *Server) placeUnit(c echo.Context, id int64, f *Form) (string, string, error) {
	var site *int64
	if chosen := f.ID("site_id"); chosen != 0 {
		site = &chosen
	}
	if err := f.Err(); err != nil {
		return "", "", err
	}
	return hrefOf("order", id), "Noted where it goes.", s.Sales.UnitPlace(c.Request().Context(), f.ID("unit_id"), site)
}

// serviceDone notes that the service whose button was pressed was done.
func (s *Server) serviceDone(c echo.Context, id int64, f *Form) (string, string, error) {
	_, err := s.Answer.ServiceDone(c.Request().Context(), f.ID("done"))
	return hrefOf("order", id), "Noted: done.", err
}

// ticked gives the ids of the units that are ticked.
func ticked(f *Form) []int64 {
	var ids []int64
	for _, text := range f.All("unit") {
		if id, err := strconv.ParseInt(text, 10, 64); err == nil {
			ids = append(ids, id)
		}
	}
	return ids
}

func (s *Server) issueInvoice(c echo.Context, id int64, f *Form) (string, string, error) {
	set, err := s.settings(c)
	if err != nil {
		return "", "", err
	}
	n := books.InvoiceNew{OrderID: id, Kind: f.Text("kind"), UnitIDs: ticked(f), SuppliedOn: f.Date("supplied_on")}
	if f.Text("due_days") != "" {
		days := int(f.Int("due_days", 0, 365))
		n.DueDays = &days
	}
	if f.Text("amount_minor") != "" {
		n.AmountMinor = f.Money("amount_minor", currency(set))
	}
	if err := f.Err(); err != nil {
		return "", "", err
	}
	i, err := s.Answer.InvoiceIssue(c.Request().Context(), n)
	return hrefOf("invoice", i.ID), "Issued as " + i.Number + ".", err
}

// useCredit pays the order from what the buyer paid beyond the price of another.
func (s *Server) useCredit(c echo.Context, id int64, f *Form) (string, string, error) {
	set, err := s.settings(c)
	if err != nil {
		return "", "", err
	}
	got, err := s.Books.CreditUse(c.Request().Context(), f.ID("from_order_id"), id, 0)
	return hrefOf("payment", got.Payment.ID), "Noted. Still to pay: " + currency(set).Money(got.BalanceMinor) + ".", err
}

func (s *Server) cancelOrder(c echo.Context, id int64, f *Form) (string, string, error) {
	set, err := s.settings(c)
	if err != nil {
		return "", "", err
	}
	k := answer.Cancel{Cancellation: sales.Cancellation{OrderID: id, UnitIDs: ticked(f), Because: f.Text("because"), DepositEnd: f.Text("deposit_end")}, RefundMethod: f.Text("method")}
	if f.Text("deposit_returned_minor") != "" {
		k.ReturnedMinor = f.Money("deposit_returned_minor", currency(set))
	}
	if err := f.Err(); err != nil {
		return "", "", err
	}
	got, err := s.Answer.OrderCancel(c.Request().Context(), k)
	said := "Cancelled."
	for _, line := range got.Freed {
		said += " " + line
	}
	if r := []rune(said); len(r) > 300 {
		said = string(r[:300]) + "…"
	}
	return hrefOf("order", id), said, err
}

func (s *Server) changePromise(c echo.Context, id int64, f *Form) (string, string, error) {
	day := f.Date("day")
	if day == nil {
		f.Wrong("day", "Choose the new day.")
	}
	if f.Text("reason") == "" {
		f.Wrong("reason", "Say why, as the buyer is told.")
	}
	unit := f.ID("unit_id")
	if err := f.Err(); err != nil {
		return "", "", err
	}
	return hrefOf("order", id), "The promise is changed. Tell the buyer.", s.Sales.PromiseChange(c.Request().Context(), unit, f.Text("part"), day, f.Text("reason"))
}

func (s *Server) buildUnits(c echo.Context, _ int64, f *Form) (string, string, error) {
	b, err := s.Answer.BuildForUnits(c.Request().Context(), answer.UnitsBuild{UnitIDs: ticked(f), TimberID: f.ID("timber_id")})
	return hrefOf("build", b.ID), "The build is on the bench.", err
}

// varyOrder makes a draft quote that takes the place of what is still open, once accepted.
func (s *Server) varyOrder(c echo.Context, id int64, f *Form) (string, string, error) {
	ctx := c.Request().Context()
	o, err := s.Sales.OrderGet(ctx, id)
	if err != nil {
		return "", "", err
	}
	offer, err := s.offer(ctx)
	if err != nil {
		return "", "", err
	}
	wish := offer.wish(f)
	if err := f.Err(); err != nil {
		return "", "", err
	}
	q, err := s.Answer.DraftFromWishes(ctx, answer.Draft{PartyID: o.PartyID, SiteID: o.SiteID, VariesOrderID: &o.ID, Wishes: []sales.Wish{wish}})
	return hrefOf("quote", q.ID), "Issue this, and take the yes: then it stands in place of what is still open of the order.", err
}

func (s *Server) putOrderAside(c echo.Context, id int64, _ *Form) (string, string, error) {
	short, err := s.Answer.OrderPutAside(c.Request().Context(), id)
	return hrefOf("order", id), "What there is stands aside now." + shortWords(short), err
}

// promised shows the promised day of a part of a unit; where an open unit wants the part
// and nothing is agreed, it says so.
func promised(u sales.Unit, wanted bool, day *time.Time) string {
	if day == nil && wanted && u.Open() {
		return "no day agreed yet"
	}
	return show.DateOr(day, "")
}
