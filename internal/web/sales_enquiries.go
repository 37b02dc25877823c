package web

import (
	"encoding/json"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerEnquiryPages(r *routes) {
	r.get(access.Enquiries, "/enquiries", s.handleEnquiries)
	r.get(access.Enquiries, "/enquiries/:id", s.handleEnquiry)
	r.post(access.Enquiries, "/enquiries/:id", s.handleEnquiryPost)
}

// listView is what every list page has: its find line and the way to the next page.
type listView struct {
	Action, Label, Asked string
	All                  string // "yes" when closed or done ones are shown too
	Next                 string // address of the next page; empty on the last
	First                string // address of the first page; empty there
}

// listAt reads the find line of a list at path.
func listAt(c echo.Context, path, label string) listView {
	v := listView{Action: path, Label: label, Asked: strings.TrimSpace(c.QueryParam("q")), All: c.QueryParam("all")}
	if c.QueryParam("after") != "" {
		v.First = v.with("")
	}
	return v
}

// with gives the address of the page after a mark.
func (v listView) with(after string) string {
	q := url.Values{}
	for name, value := range map[string]string{"q": v.Asked, "all": v.All, "after": after} {
		if value != "" {
			q.Set(name, value)
		}
	}
	return v.Action + "?" + q.Encode()
}

func (v *listView) next(after string) {
	if after != "" {
		v.Next = v.with(after)
	}
}

type enquiriesView struct {
	List listView
	Rows []enquiryRow
}

type enquiryRow struct {
	ID                             int64
	When, Who, Place, Wanted, Ring string
	State                          string
	Late                           bool
}

var enquiriesPage = definePage[enquiriesView]("enquiries")

func (s *Server) handleEnquiries(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := enquiriesView{List: listAt(c, "/enquiries", "Name, place or phone number")}
	list, next, err := s.Sales.EnquiryList(ctx, sales.EnquiryFilter{Find: v.List.Asked, OpenOnly: v.List.All == "" && v.List.Asked == "", After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	v.List.next(next)
	o, err := s.offer(ctx)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	for _, e := range list {
		r := enquiryRow{ID: e.ID, When: show.Date(e.HappenedAt.In(set.Location())), Who: e.Called(), Place: e.Place, Wanted: wanted(o, e), State: "open"}
		switch {
		case e.ClosedAt != nil:
			r.State = "closed: " + e.ClosedBecause
		case e.RingAgainOn != nil:
			r.State = "ring again " + show.Date(*e.RingAgainOn)
			r.Late = e.RingAgainOn.Before(today)
		}
		v.Rows = append(v.Rows, r)
	}
	return enquiriesPage.show(s, c, "Enquiries", v)
}

// wanted says what an enquiry is about in a line.
func wanted(o offer, e sales.Enquiry) string {
	text := o.words(e.Wish())
	if text != "" && e.Wanted != "" {
		return text + "; " + e.Wanted
	}
	return text + e.Wanted
}

type enquiryView struct {
	ID          int64
	Facts       []fact
	Closed      string // why; empty while it is open
	Words       string // what is asked about, in a line
	Answer      answerView
	Ask         *Form // the options, as a GET form
	Wish        wishFields
	WishJSON    string // what the answer is about, for the forms that keep it
	Changed     bool   // whether other options are shown than those kept
	Drafts      []Choice
	Quote, Keep *Form
	Ring, Close *Form
}

// fact is a line of a list of facts; Href makes a link of it.
type fact struct{ Name, Value, Href string }

// facts leaves out what is empty.
func facts(list ...fact) []fact {
	kept := list[:0]
	for _, f := range list {
		if f.Value != "" {
			kept = append(kept, f)
		}
	}
	return kept
}

var enquiryPage = definePage[enquiryView]("enquiry")

func (s *Server) handleEnquiry(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	e, err := s.Sales.EnquiryGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := enquiryView{ID: e.ID, Ask: formOf(c, "ask"), Quote: formOf(c, "quote"), Keep: formOf(c, "keep"), Ring: formOf(c, "ring"), Close: formOf(c, "close")}
	if err := s.fillAnswer(c, e, &v); err != nil {
		return err
	}
	ring := ""
	if e.RingAgainOn != nil {
		ring = show.Date(*e.RingAgainOn)
		v.Ring.Fill("ring_again_on", show.ISODate(*e.RingAgainOn))
	}
	v.Ring.FillVersion(e.Version)
	if e.ClosedAt != nil {
		v.Closed = e.ClosedBecause
	}
	who := fact{Name: "Who", Value: e.Called()}
	if e.PartyID != nil {
		who.Href = hrefOf("party", *e.PartyID)
	}
	v.Facts = facts(who, fact{Name: "Number", Value: e.Number, Href: "tel:" + e.NumberNormal}, fact{Name: "Place", Value: e.Place},
		fact{Name: "Asked", Value: show.Time(e.HappenedAt, set.Location())}, fact{Name: "In their words", Value: e.Wanted},
		fact{Name: "Found by", Value: e.FoundBy}, fact{Name: "Ring again", Value: ring})
	return enquiryPage.show(s, c, "Enquiry of "+e.Called(), v)
}

// fillAnswer answers what is kept with the enquiry, or the options in the address.
func (s *Server) fillAnswer(c echo.Context, e sales.Enquiry, v *enquiryView) error {
	o, err := s.offer(c.Request().Context())
	if err != nil {
		return err
	}
	wish := e.Wish()
	if c.QueryParams().Has("model_id") {
		v.Ask.values, v.Ask.Sent = c.QueryParams(), true
		wish, v.Changed = o.wish(v.Ask), true
	}
	o.fill(v.Ask, wish)
	v.Wish, v.Words = o.fields(v.Ask), o.words(wish)
	if v.Ask.Err() != nil {
		v.Answer.Problem = "The options need a change; see below."
		return nil
	}
	body, err := json.Marshal(wish)
	if err != nil {
		return err
	}
	v.WishJSON = string(body)
	q := answer.Question{Wish: wish}
	if e.PartyID != nil {
		q.PartyID = *e.PartyID
	}
	if v.Answer, err = s.answerTo(c, q); err != nil {
		return err
	}
	v.Drafts, err = s.draftChoices(c, e.PartyID)
	return err
}

// handleEnquiryPost keeps the options, makes a quote of them, rings again on another day,
// closes, or opens again.
func (s *Server) handleEnquiryPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	e, err := s.Sales.EnquiryGet(ctx, id)
	if err != nil {
		return err
	}
	f, _ := c.Get(formIn).(*Form)
	back := hrefOf("enquiry", id)
	switch f.Text("deed") {
	case "quote":
		q, err := s.quoteOf(c, e, f)
		if err != nil {
			return again(err, s.handleEnquiry)
		}
		return goTo(c, hrefOf("quote", q.ID), "The draft has this alternative now. Look it over, then issue it.")
	case "keep":
		wish, err := wishOf(f)
		if err != nil {
			return again(err, s.handleEnquiry)
		}
		e.SetWish(wish)
		if _, err := s.Sales.EnquiryPut(ctx, e); err != nil {
			return again(err, s.handleEnquiry)
		}
		return goTo(c, back, "These options are kept with the enquiry.")
	case "close":
		if f.Text("because") == "" {
			f.Wrong("because", "Say in a few words why.")
			return again(f.Err(), s.handleEnquiry)
		}
		if err := s.Sales.EnquiryClose(ctx, id, f.Text("because")); err != nil {
			return again(err, s.handleEnquiry)
		}
		return goTo(c, back, "Closed.")
	case "open":
		e.ClosedAt, e.ClosedBecause = nil, ""
		if _, err := s.Sales.EnquiryPut(ctx, e); err != nil {
			return again(err, s.handleEnquiry)
		}
		return goTo(c, back, "Open again.")
	}
	e.Version, e.RingAgainOn = f.Version, f.Date("ring_again_on")
	if err := f.Err(); err != nil {
		return again(err, s.handleEnquiry)
	}
	if _, err := s.Sales.EnquiryPut(ctx, e); err != nil {
		return again(err, s.handleEnquiry)
	}
	return goTo(c, back, "Noted.")
}

// wishOf reads the wish that a page put into its own hidden field.
func wishOf(f *Form) (sales.Wish, error) {
	var w sales.Wish
	if err := json.Unmarshal([]byte(f.Text("wish")), &w); err != nil {
		return w, fault.Bad("/wish", "The options cannot be read. Choose them again.")
	}
	return w, nil
}

// quoteOf puts what the page answered into a draft: a new one, or one that is there.
func (s *Server) quoteOf(c echo.Context, e sales.Enquiry, f *Form) (sales.Quote, error) {
	ctx := c.Request().Context()
	wish, err := wishOf(f)
	if err != nil {
		return sales.Quote{}, err
	}
	draft := f.ID("quote_id")
	if err := f.Err(); err != nil {
		return sales.Quote{}, err
	}
	if draft != 0 {
		return s.Answer.AlternativeAdd(ctx, draft, 0, wish, f.Text("title"))
	}
	p, err := s.Sales.EnquiryParty(ctx, e.ID)
	if err != nil {
		return sales.Quote{}, err
	}
	return s.Answer.DraftFromWishes(ctx, answer.Draft{PartyID: p.ID, EnquiryID: &e.ID, Wishes: []sales.Wish{wish}, DateAtAcceptance: f.Ticked("date_at_acceptance")})
}
