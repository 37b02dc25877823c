package rest

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/workshop"
)

func (s *Server) registerCuttingRoutes(g *echo.Group) {
	g.POST("/cuttings", s.handleCutTogether)
	g.GET("/cuttings/:id", s.handleCutting)
	g.POST("/cuttings/:id/lay", s.handleCuttingChoose)
	g.POST("/cuttings/:id/accept", s.handleCuttingPutAside)
	g.POST("/cuttings/:id/cut", s.handleCuttingDone)
	g.POST("/cuttings/:id/failed", s.handleCuttingFailed)
	g.GET("/cuttings/:id/job-card", s.handleCuttingJobCard)
}

func (s *Server) handleCutTogether(c echo.Context) error {
	var in api.CuttingNew
	if err := bind(c, &in); err != nil {
		return err
	}
	cut, err := s.Workshop.CuttingTogether(c.Request().Context(), in.Builds)
	return replyCutting(c, http.StatusCreated, cut, err)
}

func (s *Server) handleCutting(c echo.Context) error {
	cut, err := s.Workshop.CuttingGet(c.Request().Context(), pathID(c, "id"))
	return replyCutting(c, http.StatusOK, cut, err)
}

func (s *Server) handleCuttingChoose(c echo.Context) error {
	var in api.CuttingChoices
	if err := bind(c, &in); err != nil {
		return err
	}
	ch := workshop.Choices{Pinned: val(in.Pinned)}
	for _, o := range val(in.LeftOut) {
		ch.LeftOut = append(ch.LeftOut, workshop.LotLeftOut{LotID: o.LotID, Count: o.Count})
	}
	cut, err := s.Workshop.CuttingChoose(c.Request().Context(), pathID(c, "id"), ch)
	return replyCutting(c, http.StatusOK, cut, err)
}

func (s *Server) handleCuttingPutAside(c echo.Context) error {
	cut, err := s.Workshop.CuttingPutAside(c.Request().Context(), pathID(c, "id"))
	return replyCutting(c, http.StatusOK, cut, err)
}

func (s *Server) handleCuttingDone(c echo.Context) error {
	var in api.CuttingDone
	if err := bind(c, &in); err != nil {
		return err
	}
	cut, err := s.Workshop.CuttingDone(c.Request().Context(), pathID(c, "id"), in.PlanID, in.Layout, val(in.Times), s.happened(in.CutAt))
	return replyCutting(c, http.StatusOK, cut, err)
}

func (s *Server) handleCuttingFailed(c echo.Context) error {
	var in api.CuttingFailed
	if err := bind(c, &in); err != nil {
		return err
	}
	cut, err := s.Workshop.CuttingFailed(c.Request().Context(), pathID(c, "id"), workshop.Failed{PlanID: in.PlanID, Layout: in.Layout, UsableMM: in.UsableMm, At: s.happened(in.At)})
	return replyCutting(c, http.StatusOK, cut, err)
}

func (s *Server) handleCuttingJobCard(c echo.Context) error {
	pdf, name, err := s.Answer.CuttingCard(c.Request().Context(), pathID(c, "id"))
	return replySheet(c, pdf, name, err)
}

// replyCutting answers with a cutting whole; its money only to those who may see costs.
func replyCutting(c echo.Context, status int, cut workshop.Cutting, err error) error {
	if err != nil {
		return err
	}
	totals := func(t workshop.Totals) api.CuttingTotals {
		out := api.CuttingTotals{Boards: t.Boards, LengthMm: int(t.LengthMM), MissingMm: int(t.MissingMM)}
		if prices(c) {
			out.CostMinor = &t.CostMinor
		}
		return out
	}
	out := api.Cutting{ID: cut.ID, Version: cut.Version, LaidAt: cut.LaidAt, AcceptedAt: cut.AcceptedAt, EndedAt: cut.EndedAt, Builds: []api.Build{}, Plans: []api.BuildCutting{}, Pinned: append([]int64{}, cut.Choices.Pinned...),
		LeftOut: []api.LotLeftOut{}, Totals: totals(cut.Totals), Laid: totals(cut.Laid), Cut: []api.BoardsCut{}, Warnings: []string{}}
	if cut.Best != nil {
		best := totals(*cut.Best)
		out.Best = &best
	}
	for _, b := range cut.Builds {
		out.Builds = append(out.Builds, buildOf(b))
		for _, w := range b.Warnings {
			out.Warnings = append(out.Warnings, b.Number+": "+w)
		}
	}
	for _, p := range cut.Plans {
		out.Plans = append(out.Plans, cuttingOf(p))
	}
	for _, o := range cut.Choices.LeftOut {
		out.LeftOut = append(out.LeftOut, api.LotLeftOut{LotID: o.LotID, Count: o.Count})
	}
	for _, x := range cut.Cut {
		out.Cut = append(out.Cut, api.BoardsCut{ID: x.ID, BuildID: x.BuildID, LotID: x.LotID, Board: x.Words, Boards: x.Boards, CutAt: x.CutAt, Parts: append([]string{}, x.Parts...)})
	}
	return replyVersion(c, status, cut.Version, out)
}

// labelsUsed is how many labels are gone from the first sheet; -1 for what is no number.
func labelsUsed(c echo.Context) int {
	text := c.QueryParam("used")
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		return -1
	}
	return n
}
