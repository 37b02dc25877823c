package web

import (
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerAskPages(r *routes) {
	r.get(access.Enquiries, "/ask", s.handleAsk)
	r.post(access.Enquiries, "/ask", s.handleAskPost)
	r.get(access.Enquiries, "/ask/who", s.handleAskWho)
}

type askView struct {
	Form *Form
	Wish wishFields
	Who  whoView
	// Lines are those of buyers who wait for bees.
	Lines []lineLink
}

// whoView offers the people who use a number.
type whoView struct {
	People []whoRow
	New    bool // "somebody else" is chosen
	Wrong  string
}

type whoRow struct {
	ID          int64
	Name, About string
	Chosen      bool
}

var askPage = definePage[askView]("ask")

// somebodyElse is the choice of none of the people who use a number.
const somebodyElse = "new"

// handleAsk shows the form. A press of "Look the number up" comes back here with
// everything that was typed.
func (s *Server) handleAsk(c echo.Context) error {
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
	lines, err := s.lineLinks(c)
	if err != nil {
		return err
	}
	return askPage.show(s, c, "A buyer is asking", askView{Form: f, Wish: o.fields(f), Who: who, Lines: lines})
}

// who gives the people that use the number in f; a person come from their own page
// stands there without a number.
func (s *Server) who(c echo.Context, f *Form) (whoView, error) {
	ctx := c.Request().Context()
	v := whoView{New: f.Text("who") == somebodyElse, Wrong: f.wrong["who"]}
	var list []sales.Party
	if id, err := strconv.ParseInt(f.Text("who"), 10, 64); err == nil && f.Text("number") == "" {
		p, err := s.Sales.PartyGet(ctx, id)
		if err != nil {
			return v, err
		}
		list = []sales.Party{p}
	}
	if number := f.Text("number"); number != "" {
		var err error
		if list, err = s.Sales.PartiesByNumber(ctx, number); err != nil {
			return v, err
		}
	}
	for _, p := range list {
		v.People = append(v.People, whoRow{ID: p.ID, Name: p.Called(), About: p.Town, Chosen: f.Text("who") == strconv.FormatInt(p.ID, 10)})
	}
	return v, nil
}

// handleAskWho is the part of the form that the script fetches once a number is typed.
func (s *Server) handleAskWho(c echo.Context) error {
	v, err := s.who(c, queryForm(c))
	if err != nil {
		return err
	}
	var b strings.Builder
	if err := s.templates["ask"].ExecuteTemplate(&b, "who", v); err != nil {
		return err
	}
	return c.HTML(200, b.String())
}

func (s *Server) handleAskPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	o, err := s.offer(ctx)
	if err != nil {
		return err
	}
	who, err := s.who(c, f)
	if err != nil {
		return again(err, s.handleAsk)
	}
	e := sales.Enquiry{Name: f.Text("name"), Number: f.Text("number"), Place: f.Text("place"), Wanted: f.Text("wanted"), FoundBy: f.Text("found_by"), RingAgainOn: f.Date("ring_again_on")}
	for _, p := range who.People {
		if p.Chosen {
			e.PartyID = &p.ID
			if e.Name == "" {
				e.Name = p.Name
			}
		}
	}
	if e.PartyID == nil && len(who.People) > 0 && !who.New {
		f.Wrong("who", "This number is known. Choose who is asking.")
	}
	e.SetWish(o.wish(f))
	if err := f.Err(); err != nil {
		return again(err, s.handleAsk)
	}
	if e, err = s.Sales.EnquiryPut(ctx, e); err != nil {
		return again(err, s.handleAsk)
	}
	said := "Noted."
	if e.RingAgainOn != nil {
		said = "Noted; ring again on " + show.Date(*e.RingAgainOn) + "."
	}
	return goTo(c, hrefOf("enquiry", e.ID), said)
}
