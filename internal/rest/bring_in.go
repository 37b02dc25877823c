package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
)

func (s *Server) registerBringInRoutes(g *echo.Group) {
	g.POST("/tables/:kind", s.handleBringIn)
}

func (s *Server) handleBringIn(c echo.Context) error {
	var in api.TableIn
	if err := bind(c, &in); err != nil {
		return err
	}
	got, err := s.Answer.BringIn(c.Request().Context(), c.Param("kind"), []byte(in.Csv), val(in.Look))
	if err != nil {
		return err
	}
	out := api.Brought{Kind: got.Kind, New: got.New, Already: got.Already, Wrong: got.Wrong, Done: got.Done, Lines: make([]api.BroughtLine, len(got.Lines))}
	for i, l := range got.Lines {
		out.Lines[i] = api.BroughtLine{Line: l.Line, Said: l.Said, Already: l.Already, Wrong: []api.WrongCell{}}
		if l.ID != 0 {
			out.Lines[i].RecordID = &got.Lines[i].ID
		}
		for _, w := range l.Wrong {
			out.Lines[i].Wrong = append(out.Lines[i].Wrong, api.WrongCell{Column: w.Pointer, Detail: w.Detail})
		}
	}
	return reply(c, http.StatusOK, out)
}
