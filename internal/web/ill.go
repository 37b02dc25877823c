package web

import (
	"crypto/rand"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerIllPages(r *routes) {
	r.get(access.Settings, "/settings/ill", s.handleIll)
	r.post(access.Settings, "/settings/ill", s.handleIllPost)
	r.get(access.Settings, "/settings/away/:id/ring", s.handleRing)
	r.post(access.Settings, "/settings/away/:id/ring", s.handleRingPost)
}

// handleIll is the first tap: until when.
func (s *Server) handleIll(c echo.Context) error {
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("to_on", show.ISODate(today.AddDate(0, 0, 2)))
	return s.showSheet(c, "I am ill", sheetView{Lead: "You are away from today. Then comes whom to ring, with the words ready.",
		Forms: []sheetForm{{Action: "/settings/ill", Form: f, Button: "I am ill until then", Parts: one(in(f.Field("to_on", "Until and with", "type=date", "required", "hint=A guess of three days: it can be longer or shorter.")))}}})
}

func (s *Server) handleIllPost(c echo.Context) error {
	f := formOf(c)
	to := f.Date("to_on")
	if to == nil {
		f.Wrong("to_on", "Say until which day.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleIll)
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	a, err := s.Workshop.AwayAdd(c.Request().Context(), workshop.Away{FromOn: today, ToOn: *to, Why: workshop.Ill})
	if err != nil {
		return again(err, s.handleIll)
	}
	return goTo(c, "/settings/away/"+idText(a.ID)+"/ring", "You are away until "+show.Date(a.ToOn)+". Get well.")
}

type ringView struct {
	Lead, Action, About string
	Rows                []ringRow
}

type ringRow struct{ Who, Phone, Email, What, On, Words, Told, Subject, Key string }

var ringPage = definePage[ringView]("ring")

// handleRing is whom to ring because of days away.
func (s *Server) handleRing(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	away, list, err := s.Answer.RingList(c.Request().Context(), id)
	if err != nil {
		return err
	}
	v := ringView{Lead: "Away from " + show.Date(away.FromOn) + " to " + show.Date(away.ToOn) + ".", Action: "/settings/away/" + idText(id) + "/ring", About: set.Name}
	for _, x := range list {
		row := ringRow{Who: x.Who, Phone: strings.ReplaceAll(x.Phone, " ", ""), Email: x.Email, What: x.What, On: show.Date(x.On), Words: x.Words, Subject: x.Subject, Key: rand.Text()}
		if x.ToldAt != nil {
			row.Told = show.Time(*x.ToldAt, set.Location())
		}
		v.Rows = append(v.Rows, row)
	}
	return ringPage.show(s, c, "Whom to ring", v)
}

func (s *Server) handleRingPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	told := f.Text("told") != "no"
	if err := s.Answer.RingTold(c.Request().Context(), id, f.Text("subject"), told); err != nil {
		return again(err, s.handleRing)
	}
	return goTo(c, "/settings/away/"+idText(id)+"/ring", map[bool]string{true: "Told.", false: "Not told after all."}[told])
}
