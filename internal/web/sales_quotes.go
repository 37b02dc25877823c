package web

import (
	"slices"
	"strconv"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerQuotePages(r *routes) {
	r.get(access.Enquiries, "/quotes", s.handleQuotes)
	r.get(access.Enquiries, "/quotes/:id", s.handleQuote)
	r.get(access.Enquiries, "/quotes/:id/pdf", s.handleQuotePDF)
	r.post(access.Enquiries, "/quotes/:id", s.handleQuotePost)
}

type quotesView struct {
	List   listView
	States []stateLink
	Rows   []dealRow
}

type stateLink struct {
	Name, Href string
	Here       bool
}

var quotesPage = definePage[quotesView]("quotes")

func (s *Server) handleQuotes(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	state := c.QueryParam("all")
	v := quotesView{List: listAt(c, "/quotes", "Name or quote number"), States: []stateLink{{"All", "/quotes", state == ""}}}
	for _, name := range []string{sales.Draft, sales.Issued, sales.Lapsed, sales.Accepted, sales.Declined, sales.Withdrawn} {
		v.States = append(v.States, stateLink{name, "/quotes?all=" + name, state == name})
	}
	list, next, err := s.Sales.QuoteList(c.Request().Context(), sales.QuoteFilter{State: state, Find: v.List.Asked, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	v.List.next(next)
	for _, q := range list {
		v.Rows = append(v.Rows, quoteRow(q, set, s.DB.Now()))
	}
	return quotesPage.show(s, c, "Quotes", v)
}

type quoteView struct {
	Mailed       *mailed
	Problem      string // of a form that has a button only
	ID           int64
	Version      int
	State        string
	Facts        []fact
	Alternatives []alternativeView
	Form         *Form // of the draft
	Sites        []Choice
	Add          *Form // a line put there by hand
	Services     []Choice
	TaxCodes     []Choice
	End          *Form
	Key          string // for the forms that have one button only
	Draft, Open  bool   // Open: issued and not answered, not lapsed
	Lapsed       bool
	Revisable    bool
	Text         string
	AskHref      string // to ask for a further alternative
	RevisedHref  string
	Bees         []string // kinds outside their natural range at the buyer's place
}

type alternativeView struct {
	ID              int64
	Letter, Title   string
	Lines           []lineRow
	Net, Tax, Price string
	Cost, Left      string
	Loss            bool
	Dates           []dateRow
	Take            *Form
	Taken           bool
}

type lineRow struct {
	ID                   int64
	Added                bool // by hand: it can be taken off a draft
	What, Quantity, Each string
	Amount               string
	Field                Field // how many of it are taken
}

var quotePage = definePage[quoteView]("quote")

func (s *Server) handleQuote(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	q, err := s.Sales.QuoteGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	state := q.State(set.Today(s.DB.Now()))
	bees, err := s.Answer.QuoteOutOfRange(ctx, q)
	if err != nil {
		return err
	}
	sent := (*mailed)(nil)
	if state != sales.Draft {
		if sent, err = s.mailedOf(c, "quote", q.Name()); err != nil {
			return err
		}
	}
	v := quoteView{Mailed: sent, Bees: bees, ID: id, Version: q.Version, State: state, Form: formOf(c, "draft"), End: formOf(c, "end"), Key: formOf(c, "").Key, Problem: formOf(c, "").Problem, Draft: state == sales.Draft,
		Open: state == sales.Issued, Lapsed: state == sales.Lapsed, Revisable: q.IssuedAt != nil && q.RevisedByID == nil && state != sales.Accepted}
	if v.Facts, err = s.quoteFacts(c, q, set); err != nil {
		return err
	}
	if q.EnquiryID != nil {
		v.AskHref = hrefOf("enquiry", *q.EnquiryID)
	}
	if q.RevisedByID != nil {
		v.RevisedHref = hrefOf("quote", *q.RevisedByID)
	}
	for _, a := range q.Alternatives {
		v.Alternatives = append(v.Alternatives, layAlternative(c, a, q, set))
	}
	if v.Draft {
		if v.Sites, err = s.siteChoices(c, q.PartyID); err != nil {
			return err
		}
		fillDraft(v.Form, q, currency(set))
		v.Add, v.TaxCodes = formOf(c, "add"), serviceTaxes
		v.Add.FillVersion(q.Version)
		if v.Services, err = s.serviceChoices(c, set); err != nil {
			return err
		}
	}
	if q.ThrownAwayAt == nil {
		if v.Text, err = s.Answer.QuoteText(ctx, id); err != nil {
			return err
		}
	}
	return quotePage.show(s, c, quoteTitle(q), v)
}

func quoteTitle(q sales.Quote) string {
	if q.IssuedAt == nil {
		return "Draft quote for " + q.PartyName
	}
	return "Quote " + q.Name()
}

func (s *Server) quoteFacts(c echo.Context, q sales.Quote, set house.Settings) ([]fact, error) {
	state := q.State(set.Today(s.DB.Now()))
	if q.ThrownAwayAt != nil {
		state = "thrown away"
	}
	list := []fact{{Name: "State", Value: state}, {Name: "For", Value: q.PartyName, Href: hrefOf("party", q.PartyID)}}
	if q.EventNote != nil {
		list = append(list, fact{Name: "Said", Value: *q.EventNote})
	}
	if q.IssuedAt != nil {
		list = append(list, fact{Name: "Issued", Value: show.Time(*q.IssuedAt, set.Location())})
	}
	list = append(list, fact{Name: "Valid until", Value: show.DateOr(q.ValidUntil, "")})
	if q.DepositMinor > 0 {
		list = append(list, fact{Name: "Deposit", Value: currency(set).Money(q.DepositMinor)})
	}
	if q.DateAtAcceptance {
		list = append(list, fact{Name: "Holds", Value: "nothing; the date is confirmed at acceptance"})
	}
	if q.SiteID != nil {
		t, err := s.Sales.SiteGet(c.Request().Context(), *q.SiteID)
		if err != nil {
			return nil, err
		}
		list = append(list, fact{Name: "To stand at", Value: siteName(t), Href: "/sites/" + idText(t.ID)})
	}
	if q.OrderID != nil {
		list = append(list, fact{Name: "Order", Value: "to the order", Href: hrefOf("order", *q.OrderID)})
	}
	if q.VariesOrderID != nil {
		list = append(list, fact{Name: "Varies", Value: "an order", Href: hrefOf("order", *q.VariesOrderID)})
	}
	if q.RevisesID != nil {
		list = append(list, fact{Name: "Revises", Value: "an earlier one", Href: hrefOf("quote", *q.RevisesID)})
	}
	return facts(list...), nil
}

func takeName(letter string) string { return "take-" + letter }

func layAlternative(c echo.Context, a sales.Alternative, q sales.Quote, set house.Settings) alternativeView {
	cur := currency(set)
	v := alternativeView{ID: a.ID, Letter: a.Letter, Title: a.Title, Net: cur.Money(a.PriceExTaxMinor), Price: cur.Money(a.PriceMinor), Cost: cur.Money(a.CostMinor),
		Left: cur.Money(a.PriceExTaxMinor - a.CostMinor), Loss: a.CostMinor > a.PriceExTaxMinor, Take: formOf(c, takeName(a.Letter)), Taken: q.EventAltID != nil && *q.EventAltID == a.ID}
	if a.TaxMinor != 0 {
		v.Tax = cur.Money(a.TaxMinor)
	}
	if a.BoxOn != nil {
		v.Dates = append(v.Dates, dateRow{"Box", show.Date(*a.BoxOn)})
	}
	if a.ColonyOn != nil {
		v.Dates = append(v.Dates, dateRow{"Colony", show.Date(*a.ColonyOn)})
	}
	for _, l := range a.Lines {
		name := "line-" + idText(l.ID)
		v.Take.Fill(name, l.Quantity.String())
		v.Lines = append(v.Lines, lineRow{ID: l.ID, Added: l.Added, What: l.Description, Quantity: l.Quantity.String(), Each: cur.Money(l.UnitPriceMinor), Amount: cur.Money(l.PriceMinor),
			Field: v.Take.Field(name, l.Description, "mode=decimal", "unit=of "+l.Quantity.String())})
	}
	return v
}

func (s *Server) siteChoices(c echo.Context, party int64) ([]Choice, error) {
	sites, err := s.Sales.SiteList(c.Request().Context(), party)
	list := []Choice{{Value: "", Text: "No place named"}}
	for _, t := range sites {
		list = append(list, Choice{Value: idText(t.ID), Text: siteName(t)})
	}
	return list, err
}

func fillDraft(f *Form, q sales.Quote, cur show.Currency) {
	f.FillVersion(q.Version)
	f.Fill("intro", q.Intro)
	if q.ValidUntil != nil {
		f.Fill("valid_until", show.ISODate(*q.ValidUntil))
	}
	f.Fill("deposit_minor", cur.Plain(q.DepositMinor))
	f.FillTick("date_at_acceptance", q.DateAtAcceptance)
	if q.SiteID != nil {
		f.Fill("site_id", idText(*q.SiteID))
	}
	for _, a := range q.Alternatives {
		f.Fill("title-"+a.Letter, a.Title)
	}
}

func (s *Server) handleQuotePDF(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	q, err := s.Sales.QuoteGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	if q.DocumentID == nil {
		return fault.New(fault.Conflict, "This quote is a draft and has no paper yet. Issue it first.")
	}
	return s.sendPaper(c, *q.DocumentID)
}

// handleQuotePost does what the pressed button says.
func (s *Server) handleQuotePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f, _ := c.Get(formIn).(*Form)
	deeds := map[string]func(echo.Context, int64, *Form) (string, string, error){
		"keep": s.keepDraft, "issue": s.issueQuote, "remove": s.removeAlternative, "add": s.addQuoteLine, "off": s.takeLineOff, "throw": s.throwQuote,
		"accept": s.acceptQuote, "decline": s.endQuote, "withdraw": s.endQuote, "revise": s.reviseQuote, "reissue": s.reissueQuote,
	}
	deed, ok := deeds[f.Text("deed")]
	if !ok {
		return fault.New(fault.Invalid, "This button is not known. Load the page again.")
	}
	href, said, err := deed(c, id, f)
	if err != nil {
		return again(err, s.handleQuote)
	}
	return goTo(c, href, said)
}

// keepDraft stores what stands in the form of the draft and gives it as it is now.
func (s *Server) keptDraft(c echo.Context, id int64, f *Form) (sales.Quote, error) {
	ctx := c.Request().Context()
	q, err := s.Sales.QuoteGet(ctx, id)
	if err != nil {
		return q, err
	}
	set, err := s.settings(c)
	if err != nil {
		return q, err
	}
	q.Version, q.Intro, q.ValidUntil, q.DepositMinor, q.DateAtAcceptance, q.SiteID = f.Version, f.Text("intro"), f.Date("valid_until"), 0, f.Ticked("date_at_acceptance"), nil
	if f.Text("deposit_minor") != "" {
		q.DepositMinor = f.Money("deposit_minor", currency(set))
	}
	if site := f.ID("site_id"); site != 0 {
		q.SiteID = &site
	}
	for i := range q.Alternatives {
		if title := f.Text("title-" + q.Alternatives[i].Letter); title != "" {
			q.Alternatives[i].Title = title
		}
	}
	if err := f.Err(); err != nil {
		return q, err
	}
	return s.Sales.QuotePut(ctx, q)
}

func (s *Server) keepDraft(c echo.Context, id int64, f *Form) (string, string, error) {
	_, err := s.keptDraft(c, id, f)
	return hrefOf("quote", id), "The draft is kept.", err
}

// issueQuote keeps what stands in the form, then issues it.
func (s *Server) issueQuote(c echo.Context, id int64, f *Form) (string, string, error) {
	q, err := s.keptDraft(c, id, f)
	if err != nil {
		return "", "", err
	}
	q, err = s.Answer.QuoteIssue(c.Request().Context(), id, q.Version)
	return hrefOf("quote", id), "Issued as " + q.Name() + ".", err
}

func (s *Server) removeAlternative(c echo.Context, id int64, f *Form) (string, string, error) {
	ctx := c.Request().Context()
	q, err := s.Sales.QuoteGet(ctx, id)
	if err != nil {
		return "", "", err
	}
	out := f.ID("alternative_id")
	q.Version = f.Version
	q.Alternatives = slices.DeleteFunc(q.Alternatives, func(a sales.Alternative) bool { return a.ID == out })
	_, err = s.Sales.QuotePut(ctx, q)
	return hrefOf("quote", id), "The alternative is taken out.", err
}

// addQuoteLine puts a service, or plain words with a price, on every alternative of the draft.
func (s *Server) addQuoteLine(c echo.Context, id int64, f *Form) (string, string, error) {
	set, err := s.settings(c)
	if err != nil {
		return "", "", err
	}
	n := answer.QuoteLine{ServiceID: f.ID("service_id"), Description: f.Text("description"), Quantity: decimal.NewFromInt(1), TaxCode: f.Text("tax_code")}
	if f.Text("quantity") != "" {
		n.Quantity = f.Decimal("quantity", 3)
	}
	if f.Text("unit_price_minor") != "" {
		each := f.Money("unit_price_minor", currency(set))
		n.UnitPriceMinor = &each
	}
	if err := f.Err(); err != nil {
		return "", "", err
	}
	_, err = s.Answer.QuoteLineAdd(c.Request().Context(), id, f.Version, n)
	return hrefOf("quote", id), "It stands on the draft.", err
}

func (s *Server) takeLineOff(c echo.Context, id int64, f *Form) (string, string, error) {
	_, err := s.Answer.QuoteLineRemove(c.Request().Context(), id, f.Version, f.ID("line_id"))
	return hrefOf("quote", id), "The line is off the draft.", err
}

// serviceChoices are the services, for a line of a quote.
func (s *Server) serviceChoices(c echo.Context, set house.Settings) ([]Choice, error) {
	list, err := s.Sales.ServiceList(c.Request().Context())
	out := []Choice{{Value: "", Text: "In words, below"}}
	for _, k := range list {
		out = append(out, Choice{Value: idText(k.ID), Text: k.Name + ", " + currency(set).Money(k.UnitPriceMinor) + " each"})
	}
	return out, err
}

func (s *Server) throwQuote(c echo.Context, id int64, _ *Form) (string, string, error) {
	return "/quotes", "The draft is thrown away.", s.Sales.QuoteThrowAway(c.Request().Context(), id)
}

func (s *Server) endQuote(c echo.Context, id int64, f *Form) (string, string, error) {
	kind := map[string]string{"decline": sales.Declined, "withdraw": sales.Withdrawn}[f.Text("deed")]
	return hrefOf("quote", id), "Noted: " + kind + ".", s.Sales.QuoteEnd(c.Request().Context(), id, kind, f.Text("note"))
}

func (s *Server) reviseQuote(c echo.Context, id int64, _ *Form) (string, string, error) {
	q, err := s.Sales.QuoteRevise(c.Request().Context(), id)
	return hrefOf("quote", q.ID), "A draft of the next revision. The earlier one stands until this is issued.", err
}

// reissueQuote answers a late yes: the next revision, with its dates worked out anew.
func (s *Server) reissueQuote(c echo.Context, id int64, _ *Form) (string, string, error) {
	q, err := s.Answer.QuoteReissue(c.Request().Context(), id)
	return hrefOf("quote", q.ID), "Re-issued as " + q.Name() + " with the dates checked. Now take the yes.", err
}

// acceptQuote takes an alternative, whole or, where fewer are written, in part.
func (s *Server) acceptQuote(c echo.Context, id int64, f *Form) (string, string, error) {
	ctx := c.Request().Context()
	q, err := s.Sales.QuoteGet(ctx, id)
	if err != nil {
		return "", "", err
	}
	a := sales.Acceptance{QuoteID: id, AlternativeID: f.ID("alternative_id"), Note: f.Text("note"), TheirNumber: f.Text("their_number")}
	part := map[int64]decimal.Decimal{}
	whole := true
	for _, alt := range q.Alternatives {
		if alt.ID != a.AlternativeID {
			continue
		}
		for _, l := range alt.Lines {
			name := "line-" + strconv.FormatInt(l.ID, 10)
			n := l.Quantity
			if f.values.Has(name) {
				n = decimal.Zero
				if f.Text(name) != "" {
					n = f.Decimal(name, 3)
				}
			}
			part[l.ID] = n
			whole = whole && n.Equal(l.Quantity)
		}
	}
	if err := f.Err(); err != nil {
		return "", "", err
	}
	if !whole {
		a.Lines = part
	}
	got, err := s.Answer.QuoteAccept(ctx, a)
	return hrefOf("order", got.Order.ID), "It is an order now: " + got.Order.Number + "." + shortWords(got.Short), err
}

// shortWords says what is short after an order was made.
func shortWords(short []string) string {
	text := ""
	for _, line := range short {
		text += " Short: " + line
	}
	if r := []rune(text); len(r) > 300 {
		text = string(r[:300]) + "…"
	}
	return text
}
