package web

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/door"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerFoundPages(r *routes) {
	r.open(http.MethodGet, "/found", s.handleFound)
	r.open(http.MethodPost, "/found", s.handleFoundPost)
}

type foundView struct {
	Form                   *Form
	Serial, Since          string
	Workshop, Phone, Tel   string
	Stolen, Known, Strange bool
}

var foundPage = definePage[foundView]("found")

// handleFound is the public page for whoever has found a box and reads its serial.
func (s *Server) handleFound(c echo.Context) error {
	set, err := house.SettingsIn(c.Request().Context(), s.DB)
	if err != nil {
		return err
	}
	return s.showFound(c, foundView{Form: formOf(c), Workshop: set.Name, Phone: set.Phone})
}

func (s *Server) showFound(c echo.Context, v foundView) error {
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	c.Response().Header().Set("Cache-Control", "no-store")
	v.Tel = "tel:" + strings.Map(func(r rune) rune {
		if strings.ContainsRune("+0123456789", r) {
			return r
		}
		return -1
	}, v.Phone)
	return foundPage.show(s, c, "Found a box?", v)
}

// handleFoundPost answers with one of three sentences and nothing else of the box. It
// shows the answer itself: a serial in an address would stay in histories and logs.
func (s *Server) handleFoundPost(c echo.Context) error {
	r, f := c.Request(), formOf(c)
	if err := s.Access.Look(r.Context(), door.Address(r)); err != nil {
		return again(err, s.handleFound)
	}
	x, err := s.Answer.FoundBox(r.Context(), f.Text("serial"))
	if err != nil {
		return again(err, s.handleFound)
	}
	v := foundView{Form: f, Serial: workshop.SerialTyped(f.Text("serial")), Workshop: x.Workshop, Phone: x.Phone,
		Stolen: x.State == workshop.FoundStolen, Known: x.State == workshop.FoundNot, Strange: x.State == workshop.FoundNotOurs, Since: show.DateOr(x.StolenOn, "")}
	return s.showFound(c, v)
}
