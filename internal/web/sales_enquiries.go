package web

import (
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
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
	ID             int64
	Who, PartyHref string
	Facts          []fact
	Closed         string // why; empty while it is open
	Ask            *Form  // the options, as a GET form
	Wish           wishFields
	Ring, Close    *Form
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
	o, err := s.offer(ctx)
	if err != nil {
		return err
	}
	v := enquiryView{ID: e.ID, Who: e.Called(), Ask: formOf(c, "ask"), Ring: formOf(c, "ring"), Close: formOf(c, "close")}
	if len(c.QueryParams()) > 0 {
		v.Ask = queryForm(c)
	}
	o.fill(v.Ask, e.Wish())
	v.Wish = o.fields(v.Ask)
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

// handleEnquiryPost rings again on another day, closes, or opens again.
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
