package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/books"
)

func (s *Server) registerAheadRoutes(g *echo.Group) {
	g.GET("/money-ahead", s.handleMoneyAhead)
	g.GET("/standing-costs", s.handleStandingCosts)
	g.POST("/standing-costs", s.handleStandingCostNew)
	g.GET("/standing-costs/:id", s.handleStandingCost)
	g.PUT("/standing-costs/:id", s.handleStandingCostPut)
}

func (s *Server) handleMoneyAhead(c echo.Context) error {
	there, _ := strconv.ParseInt(c.QueryParam("there_minor"), 10, 64) // checked by the contract
	a, err := s.Books.Ahead(c.Request().Context(), there)
	if err != nil {
		return err
	}
	out := api.MoneyAhead{From: a.From.Format(time.DateOnly), LaterMinor: a.Later, NoDayMinor: a.NoDay, HeldMinor: a.HeldMinor, Weeks: make([]api.MoneyAheadWeek, len(a.Weeks)), Lines: make([]api.MoneyAheadLine, len(a.Lines))}
	for i, w := range a.Weeks {
		out.Weeks[i] = api.MoneyAheadWeek{FirstOn: w.FirstOn.Format(time.DateOnly), InMinor: w.In, OutMinor: w.Out, EndMinor: w.EndWith}
	}
	for i, l := range a.Lines {
		out.Lines[i] = api.MoneyAheadLine{On: l.On.Format(time.DateOnly), Kind: api.MoneyAheadLineKind(l.Kind), ID: l.ID, Number: l.Number, Who: l.Who, AmountMinor: l.Minor, Late: l.Late}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleStandingCosts(c echo.Context) error {
	list, err := s.Books.StandingCostList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.StandingCostList{Items: make([]api.StandingCost, len(list))}
	for i, k := range list {
		out.Items[i] = standingCostOf(k)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleStandingCost(c echo.Context) error {
	k, err := s.Books.StandingCostGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, k.Version, standingCostOf(k))
}

func (s *Server) handleStandingCostNew(c echo.Context) error {
	return s.putStandingCost(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleStandingCostPut(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putStandingCost(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putStandingCost(c echo.Context, id int64, version, status int) error {
	var in api.StandingCostNew
	if err := bind(c, &in); err != nil {
		return err
	}
	next, err := dayIn(&in.NextOn, "/next_on")
	if err != nil {
		return err
	}
	k := books.StandingCost{ID: id, Version: version, Name: in.Name, AmountMinor: in.AmountMinor, Every: string(in.Every), NextOn: *next}
	if val(in.PutAway) {
		now := s.DB.Now()
		k.PutAwayAt = &now
	}
	if k, err = s.Books.StandingCostSave(c.Request().Context(), k); err != nil {
		return err
	}
	return replyVersion(c, status, k.Version, standingCostOf(k))
}

func standingCostOf(k books.StandingCost) api.StandingCost {
	return api.StandingCost{ID: k.ID, Version: k.Version, Name: k.Name, AmountMinor: k.AmountMinor, Every: api.StandingCostEvery(k.Every), NextOn: k.NextOn.Format(time.DateOnly), PutAway: k.PutAwayAt != nil}
}
