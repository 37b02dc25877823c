package web

import (
	"crypto/rand"
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
)

func (s *Server) registerWordingPages(r *routes) {
	r.get(access.Settings, "/settings/sheets", s.handleWordings)
	r.get(access.Settings, "/settings/sheets/:name", s.handleWording)
	r.post(access.Settings, "/settings/sheets/:name", s.handleWordingPost)
	// Looking keeps nothing, so the same form may be looked at again and again.
	s.plainPost(r, access.Settings, "/settings/sheets/:name/look", s.handleWordingLook)
	s.plainPost(r, access.Settings, "/settings/sheets/:name/look.pdf", s.handleWordingLookPDF)
}

func (s *Server) handleWordings(c echo.Context) error {
	list, err := s.Answer.WordingList(c.Request().Context())
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Sheet", "Wording")}
	for _, w := range list {
		state := cellOf("of the house")
		switch {
		case w.Wrong != "":
			state = sheetCell{Late: "Cannot be used:", Text: w.Wrong}
		case w.Own:
			state.Text = "your own"
		}
		t.add(linkCell(w.Title, "/settings/sheets/"+w.Name), state)
	}
	return s.showSheet(c, "Wording of the sheets", sheetView{Lead: "What the sheets say can be put in your own words. You see the paper before you keep it, and can always go back.", Tables: []sheetTable{t}})
}

type wordingView struct {
	Form             *Form
	Action, HouseKey string
	Own              bool
	Version          int
	Wrong            string
	Fields           []string
	Before           []wordingBefore
	Look             *wordingLook
}

type wordingBefore struct{ Href, When, Who string }

type wordingLook struct {
	On, Wrong string
	Parts     []carePart
}

var wordingPage = definePage[wordingView]("wording")

// wordingsBefore is how many earlier wordings are listed.
const wordingsBefore = 10

func (s *Server) handleWording(c echo.Context) error { return s.showWording(c, nil) }

func (s *Server) showWording(c echo.Context, look *wordingLook) error {
	ctx := c.Request().Context()
	w, err := s.Answer.WordingGet(ctx, c.Param("name"))
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := wordingView{Form: formOf(c), Action: "/settings/sheets/" + w.Name, HouseKey: rand.Text(), Own: w.Own, Version: w.Version, Wrong: w.Wrong, Fields: w.Fields, Look: look}
	v.Form.FillVersion(w.Version)
	before, err := s.House.WordingHistory(ctx, w.ID, wordingsBefore)
	if err != nil {
		return err
	}
	for i, b := range before {
		n := strconv.Itoa(i + 1)
		if c.QueryParam("before") == n {
			v.Form.Fill("text", b.Body)
		}
		v.Before = append(v.Before, wordingBefore{v.Action + "?before=" + n, show.Time(b.At, set.Location()), b.Who})
	}
	v.Form.Fill("text", w.Text)
	return wordingPage.show(s, c, w.Title, v)
}

func (s *Server) handleWordingPost(c echo.Context) error {
	f, name := formOf(c), c.Param("name")
	text := f.Secret("text") // as typed: a space at the start of a line counts
	keep, said := &text, "Kept. The next paper says it so."
	if f.Text("deed") == "house" {
		keep, said = nil, "The house wording is in use again."
	}
	if _, err := s.Answer.WordingPut(c.Request().Context(), name, f.Version, keep); err != nil {
		return again(err, s.handleWording)
	}
	return goTo(c, "/settings/sheets/"+name, said)
}

func (s *Server) handleWordingLook(c echo.Context) error {
	look, err := s.Answer.WordingTry(c.Request().Context(), c.Param("name"), formOf(c).Secret("text"))
	if err != nil {
		return again(err, s.handleWording)
	}
	if look.Wrong != "" {
		c.Set(statusIn, http.StatusUnprocessableEntity)
	}
	return s.showWording(c, &wordingLook{On: look.On, Wrong: look.Wrong, Parts: careParts(look.Text)})
}

func (s *Server) handleWordingLookPDF(c echo.Context) error {
	look, err := s.Answer.WordingTry(c.Request().Context(), c.Param("name"), formOf(c).Secret("text"))
	if err != nil {
		return again(err, s.handleWording)
	}
	if look.Wrong != "" { // a paper in the house wording would look as if it were the maker's
		return s.handleWordingLook(c)
	}
	return sendPDF(c, "look", look.PDF)
}
