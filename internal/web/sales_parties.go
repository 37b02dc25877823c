package web

import (
	"strconv"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerPartyPages(r *routes) {
	r.get(access.Enquiries, "/parties", s.handleParties)
	r.post(access.Enquiries, "/parties", s.handlePartiesPost)
	r.get(access.Enquiries, "/parties/:id", s.handleParty)
	r.post(access.Enquiries, "/parties/:id", s.handlePartyPost)
	r.post(access.Enquiries, "/parties/:id/join", s.handlePartyJoinPost)
	r.post(access.Enquiries, "/parties/:id/nameless", s.handlePartyNamelessPost)
	r.get(access.Enquiries, "/parties/:id/site", s.handlePartySite)
	r.post(access.Enquiries, "/parties/:id/site", s.handlePartySitePost)
	r.get(access.Enquiries, "/sites/:id", s.handleSite)
	r.post(access.Enquiries, "/sites/:id", s.handleSitePost)
}

type partiesView struct {
	List listView
	Rows []partyRow
	Form *Form
	Kind []Choice
}

type partyRow struct {
	ID                       int64
	Name, Town, Phone, Email string
}

var partyKinds = []Choice{{Value: "person", Text: "A person"}, {Value: "organisation", Text: "An organisation"}}

var partiesPage = definePage[partiesView]("parties")

func (s *Server) handleParties(c echo.Context) error {
	v := partiesView{List: listAt(c, "/parties", "Name, town or phone number"), Form: formOf(c), Kind: partyKinds}
	list, next, err := s.Sales.PartyList(c.Request().Context(), sales.PartyFilter{Find: v.List.Asked, After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	v.List.next(next)
	for _, p := range list {
		v.Rows = append(v.Rows, partyRow{p.ID, p.Called(), p.Town, p.Phone(), p.Email()})
	}
	return partiesPage.show(s, c, "People", v)
}

func (s *Server) handlePartiesPost(c echo.Context) error {
	p, err := s.Sales.PartyPut(c.Request().Context(), partyIn(formOf(c), sales.Party{}))
	if err != nil {
		return again(err, s.handleParties)
	}
	return goTo(c, hrefOf("party", p.ID), "Put down.")
}

// partyIn is p as the form has it. The form has two phones and one e-mail address; other
// contacts stay as they are.
func partyIn(f *Form, p sales.Party) sales.Party {
	p.Kind, p.Name, p.Town, p.BusinessNumber = f.Text("kind"), f.Text("name"), f.Text("town"), f.Text("business_number")
	p.FoundBy, p.Notes, p.BuyerClassID, p.DueDays = f.Text("found_by"), f.Text("notes"), nil, nil
	if f.Text("due_days") != "" {
		days := int(f.Int("due_days", 0, 365))
		p.DueDays = &days
	}
	if id := f.ID("buyer_class_id"); id != 0 {
		p.BuyerClassID = &id
	}
	var kept []sales.Contact
	phones, mails := 0, 0
	for _, k := range p.Contacts {
		switch {
		case k.Kind == "phone" && phones < 2:
			phones++
		case k.Kind == "email" && mails < 1:
			mails++
		default:
			kept = append(kept, k)
		}
	}
	typed := []sales.Contact{{Kind: "phone", Value: f.Text("phone"), Person: f.Text("contact")}, {Kind: "phone", Value: f.Text("phone_2")}, {Kind: "email", Value: f.Text("email")}}
	p.Contacts = append(typed, kept...)
	return p
}

type partyView struct {
	ID               int64
	Form, Join, Away *Form
	Kind, Class      []Choice
	Sites            []siteRow
	Orders, Quotes   []dealRow
	Enquiries        []enquiryRow
	Nameless         bool
	Phone, Email     string
	MoreOrders       bool
}

type siteRow struct {
	ID          int64
	Name, Where string
	Hives       int
}

// dealRow is a quote or an order in a list.
type dealRow struct {
	ID                                int64
	Name, Who, When, What, State, Due string
	Price, Balance                    string
	Late                              bool
}

var partyPage = definePage[partyView]("party")

func (s *Server) handleParty(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	p, err := s.Sales.PartyGet(ctx, id)
	if err != nil {
		return err
	}
	if p.ID != id {
		return goTo(c, hrefOf("party", p.ID), "")
	}
	v := partyView{ID: id, Form: formOf(c), Join: formOf(c, "join"), Away: formOf(c, "away"), Kind: partyKinds, Phone: p.Phone(), Email: p.Email(), Nameless: p.PutAwayAt != nil}
	fillParty(v.Form, p)
	if v.Class, err = s.classChoices(c); err != nil {
		return err
	}
	if err := s.partyDeals(c, &v); err != nil {
		return err
	}
	return partyPage.show(s, c, p.Called(), v)
}

func fillParty(f *Form, p sales.Party) {
	f.FillVersion(p.Version)
	for name, value := range map[string]string{"kind": p.Kind, "name": p.Name, "town": p.Town, "business_number": p.BusinessNumber, "found_by": p.FoundBy, "notes": p.Notes, "email": p.Email()} {
		f.Fill(name, value)
	}
	if p.BuyerClassID != nil {
		f.Fill("buyer_class_id", idText(*p.BuyerClassID))
	}
	if p.DueDays != nil {
		f.Fill("due_days", strconv.Itoa(*p.DueDays))
	}
	names := []string{"phone", "phone_2"}
	for _, k := range p.Contacts {
		if k.Kind == "phone" && len(names) > 0 {
			f.Fill(names[0], k.Value)
			if names[0] == "phone" {
				f.Fill("contact", k.Person)
			}
			names = names[1:]
		}
	}
}

func (s *Server) classChoices(c echo.Context) ([]Choice, error) {
	classes, err := s.Sales.ClassList(c.Request().Context())
	list := []Choice{{Value: "", Text: "List price"}}
	for _, b := range classes {
		list = append(list, Choice{Value: idText(b.ID), Text: b.Name + ", " + show.Pct(b.StepPct) + " off"})
	}
	return list, err
}

// partyDeals fills in what a party asked, was quoted and bought, and where their hives stand.
func (s *Server) partyDeals(c echo.Context, v *partyView) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	sites, err := s.Sales.SiteList(ctx, v.ID)
	if err != nil {
		return err
	}
	for _, t := range sites {
		v.Sites = append(v.Sites, siteRow{t.ID, siteName(t), t.Line(), t.HivesThere})
	}
	orders, next, err := s.Sales.OrderList(ctx, sales.OrderFilter{PartyID: v.ID})
	if err != nil {
		return err
	}
	v.MoreOrders = next != ""
	for _, o := range orders {
		v.Orders = append(v.Orders, orderRow(o, set, s.DB.Now()))
	}
	quotes, _, err := s.Sales.QuoteList(ctx, sales.QuoteFilter{PartyID: v.ID})
	if err != nil {
		return err
	}
	for _, q := range quotes {
		v.Quotes = append(v.Quotes, quoteRow(q, set, s.DB.Now()))
	}
	o, err := s.offer(ctx)
	if err != nil {
		return err
	}
	asked, _, err := s.Sales.EnquiryList(ctx, sales.EnquiryFilter{PartyID: v.ID})
	if err != nil {
		return err
	}
	for _, e := range asked {
		v.Enquiries = append(v.Enquiries, enquiryRow{ID: e.ID, When: show.Date(e.HappenedAt.In(set.Location())), Wanted: wanted(o, e)})
	}
	return nil
}

func siteName(t sales.Site) string {
	switch {
	case t.Name != "":
		return t.Name
	case t.Line() != "":
		return t.Line()
	}
	return "Site " + strconv.FormatInt(t.ID, 10)
}

func (s *Server) handlePartyPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f, ctx := formOf(c), c.Request().Context()
	p, err := s.Sales.PartyGet(ctx, id)
	if err != nil {
		return err
	}
	p = partyIn(f, p)
	p.Version = f.Version
	if _, err := s.Sales.PartyPut(ctx, p); err != nil {
		return again(err, s.handleParty)
	}
	return goTo(c, hrefOf("party", p.ID), "Kept.")
}

// handlePartyJoinPost joins this record into another, which is named by a phone number,
// or by the address or number of its page.
func (s *Server) handlePartyJoinPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f, ctx := formOf(c, "join"), c.Request().Context()
	list, _, err := s.Sales.PartyList(ctx, sales.PartyFilter{Find: f.Text("into"), Limit: 3})
	if err != nil {
		return again(err, s.handleParty)
	}
	var into []sales.Party
	for _, p := range list {
		if p.ID != id {
			into = append(into, p)
		}
	}
	switch {
	case f.Text("into") == "" || len(into) == 0:
		f.Wrong("into", "Nobody else is found by this. Write the other's name or phone number.")
	case len(into) > 1:
		f.Wrong("into", "More than one is found by this. Write more of the name, or a phone number.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleParty)
	}
	if err := s.Sales.PartyJoin(ctx, id, into[0].ID); err != nil {
		return again(err, s.handleParty)
	}
	return goTo(c, hrefOf("party", into[0].ID), "The two records are one now.")
}

func (s *Server) handlePartyNamelessPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c, "away")
	if !f.Ticked("sure") {
		f.Wrong("sure", "Tick this first: it cannot be undone.")
		return again(f.Err(), s.handleParty)
	}
	if err := s.Sales.PartyMakeNameless(c.Request().Context(), id); err != nil {
		return again(err, s.handleParty)
	}
	return goTo(c, "/parties", "The name, the contacts and the notes are gone. Issued papers stay.")
}

type siteView struct {
	Form              *Form
	Action, PartyHref string
	PartyName         string
}

var sitePage = definePage[siteView]("site")

// handlePartySite shows the form of a new site.
func (s *Server) handlePartySite(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	p, err := s.Sales.PartyGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("town", p.Town)
	f.Fill("time_zone", set.TimeZone)
	f.Fill("hives_there", "0")
	return sitePage.show(s, c, "A site of "+p.Called(), siteView{Form: f, Action: hrefOf("party", p.ID) + "/site", PartyHref: hrefOf("party", p.ID), PartyName: p.Called()})
}

func (s *Server) handlePartySitePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	t := siteIn(formOf(c), sales.Site{PartyID: &id})
	if err := formOf(c).Err(); err != nil {
		return again(err, s.handlePartySite)
	}
	if _, err := s.Sales.SitePut(c.Request().Context(), t); err != nil {
		return again(err, s.handlePartySite)
	}
	return goTo(c, hrefOf("party", id), "The site is put down.")
}

func (s *Server) handleSite(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	t, err := s.Sales.SiteGet(ctx, id)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(t.Version)
	for name, value := range map[string]string{"name": t.Name, "address": t.Address, "town": t.Town, "region": t.Region, "postcode": t.Postcode, "time_zone": t.TimeZone, "wall": t.Wall,
		"hives_there": strconv.Itoa(t.HivesThere), "notes": t.Notes, "latitude": degrees(t.Latitude), "longitude": degrees(t.Longitude),
		"wall_faces_deg": number(t.WallFacesDeg), "eave_out_mm": number(t.EaveOutMM), "eave_above_mm": number(t.EaveAboveMM)} {
		f.Fill(name, value)
	}
	v := siteView{Form: f, Action: "/sites/" + strconv.FormatInt(id, 10)}
	if t.PartyID != nil {
		p, err := s.Sales.PartyGet(ctx, *t.PartyID)
		if err != nil {
			return err
		}
		v.PartyHref, v.PartyName = hrefOf("party", p.ID), p.Called()
	}
	return sitePage.show(s, c, siteName(t), v)
}

func (s *Server) handleSitePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f, ctx := formOf(c), c.Request().Context()
	t, err := s.Sales.SiteGet(ctx, id)
	if err != nil {
		return err
	}
	t = siteIn(f, t)
	t.Version = f.Version
	if err := f.Err(); err != nil {
		return again(err, s.handleSite)
	}
	if _, err := s.Sales.SitePut(ctx, t); err != nil {
		return again(err, s.handleSite)
	}
	if t.PartyID == nil {
		return goTo(c, "/sites/"+strconv.FormatInt(id, 10), "Kept.")
	}
	return goTo(c, hrefOf("party", *t.PartyID), "The site is kept.")
}

// siteIn is t as the form has it; what cannot be read is noted there.
func siteIn(f *Form, t sales.Site) sales.Site {
	t.Name, t.Address, t.Town, t.Region, t.Postcode = f.Text("name"), f.Text("address"), f.Text("town"), f.Text("region"), f.Text("postcode")
	t.TimeZone, t.Wall, t.Notes = f.Text("time_zone"), f.Text("wall"), f.Text("notes")
	t.Latitude, t.Longitude = signed(f, "latitude"), signed(f, "longitude")
	t.WallFacesDeg, t.EaveOutMM, t.EaveAboveMM = signed(f, "wall_faces_deg"), signed(f, "eave_out_mm"), signed(f, "eave_above_mm")
	t.HivesThere = 0
	if f.Text("hives_there") != "" {
		t.HivesThere = int(f.Int("hives_there", 0, 99999))
	}
	return t
}

// signed reads a number that may be below zero; nil when the field is empty.
func signed(f *Form, name string) *float64 {
	if f.Text(name) == "" {
		return nil
	}
	d, ok := show.Decimal(f.Text(name), 7)
	if !ok {
		f.Wrong(name, "Write a number such as -26.4521.")
		return nil
	}
	v := d.InexactFloat64()
	return &v
}

// degrees writes a place to a hundred-thousandth of a degree, about a metre.
func degrees(v *float64) string {
	if v == nil {
		return ""
	}
	return decimal.NewFromFloat(*v).Round(5).String()
}

func number(v *float64) string {
	if v == nil {
		return ""
	}
	return decimal.NewFromFloat(*v).String()
}
