package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
)

// wordingsBefore is how many earlier wordings are given.
const wordingsBefore = 20

func (s *Server) registerWordingRoutes(g *echo.Group) {
	g.GET("/wordings", s.handleWordingList)
	g.GET("/wordings/:name", s.handleWording)
	g.PUT("/wordings/:name", s.handleWordingPut)
	g.DELETE("/wordings/:name", s.handleWordingHouse)
	g.POST("/wordings/:name/look", s.handleWordingLook)
	g.POST("/wordings/:name/look/pdf", s.handleWordingLookPDF)
}

func (s *Server) handleWordingList(c echo.Context) error {
	list, err := s.Answer.WordingList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.WordingList{Items: make([]api.WordingShort, len(list))}
	for i, w := range list {
		out.Items[i] = api.WordingShort{Name: w.Name, Title: w.Title, Version: w.Version, Own: w.Own, Wrong: some(w.Wrong)}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleWording(c echo.Context) error {
	w, err := s.Answer.WordingGet(c.Request().Context(), c.Param("name"))
	if err != nil {
		return err
	}
	return s.replyWording(c, w)
}

func (s *Server) replyWording(c echo.Context, w answer.SheetWording) error {
	before, err := s.House.WordingHistory(c.Request().Context(), w.ID, wordingsBefore)
	if err != nil {
		return err
	}
	out := api.Wording{Name: w.Name, Title: w.Title, Version: w.Version, Own: w.Own, Wrong: some(w.Wrong), Text: w.Text, HouseText: w.House, Fields: w.Fields}
	out.Before = make([]api.WordingBefore, len(before))
	for i, b := range before {
		out.Before[i] = api.WordingBefore{Text: b.Body, Who: b.Who, ChangedAt: b.At}
	}
	return replyVersion(c, http.StatusOK, w.Version, out)
}

func (s *Server) handleWordingPut(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.WordingText
	if err := bind(c, &in); err != nil {
		return err
	}
	w, err := s.Answer.WordingPut(c.Request().Context(), c.Param("name"), version, &in.Text)
	if err != nil {
		return err
	}
	return s.replyWording(c, w)
}

func (s *Server) handleWordingHouse(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	w, err := s.Answer.WordingPut(c.Request().Context(), c.Param("name"), version, nil)
	if err != nil {
		return err
	}
	return s.replyWording(c, w)
}

func (s *Server) lookAtWording(c echo.Context) (answer.WordingLook, error) {
	var in api.WordingText
	if err := bind(c, &in); err != nil {
		return answer.WordingLook{}, err
	}
	return s.Answer.WordingTry(c.Request().Context(), c.Param("name"), in.Text)
}

func (s *Server) handleWordingLook(c echo.Context) error {
	look, err := s.lookAtWording(c)
	if err != nil {
		return err
	}
	out := api.WordingLook{On: look.On, Wrong: some(look.Wrong), Passages: make([]api.WordingPassage, len(look.Text))}
	for i, p := range look.Text {
		out.Passages[i] = api.WordingPassage{Kind: api.WordingPassageKind(p.Kind), Text: p.Text}
		if len(p.Cells) > 0 {
			out.Passages[i].Cells = &p.Cells
		}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleWordingLookPDF(c echo.Context) error {
	look, err := s.lookAtWording(c)
	if err != nil {
		return err
	}
	return replyPDF(c, "look", look.PDF)
}
