package rest

import (
	"encoding/json"
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/searches"
)

func (s *Server) registerSearchRoutes(g *echo.Group) {
	g.GET("/searches", s.handleSearchList)
	g.POST("/searches", s.handleSearchStart)
	g.GET("/searches/:id", s.handleSearch)
	g.POST("/searches/:id/stop", s.handleSearchStop)
	g.POST("/builds/:id/longer", s.handleLookLonger)
	g.POST("/builds/:id/longer/take", s.handleLongerTake)
}

func caller(c echo.Context) int64 { return access.PersonFrom(c.Request().Context()).ID }

func (s *Server) handleSearchStart(c echo.Context) error {
	var in struct { // as api.SearchNew, with the input as it was written
		Topic string          `json:"topic"`
		Input json.RawMessage `json:"input"`
	}
	if err := bind(c, &in); err != nil {
		return err
	}
	started, err := s.Searches.Start(c.Request().Context(), searches.Ask{AccountID: caller(c), Topic: in.Topic, Input: in.Input})
	return s.replySearch(c, http.StatusCreated, started, err)
}

func (s *Server) handleSearch(c echo.Context) error {
	found, err := s.Searches.Get(c.Request().Context(), caller(c), pathID(c, "id"))
	return s.replySearch(c, http.StatusOK, found, err)
}

func (s *Server) handleSearchStop(c echo.Context) error {
	found, err := s.Searches.Stop(c.Request().Context(), caller(c), pathID(c, "id"))
	return s.replySearch(c, http.StatusOK, found, err)
}

func (s *Server) handleSearchList(c echo.Context) error {
	list, err := s.Searches.List(c.Request().Context(), caller(c), c.QueryParam("about"))
	return s.replySearches(c, http.StatusOK, list, err)
}

func (s *Server) handleLookLonger(c echo.Context) error {
	var in api.LookLonger
	if err := bind(c, &in); err != nil {
		return err
	}
	started, err := s.Answer.LookLonger(c.Request().Context(), caller(c), pathID(c, "id"), in.Seconds)
	list := make([]searches.Search, len(started))
	for i, l := range started {
		list[i] = l.Search
	}
	return s.replySearches(c, http.StatusCreated, list, err)
}

func (s *Server) handleLongerTake(c echo.Context) error {
	b, err := s.Answer.LookLongerTake(c.Request().Context(), caller(c), pathID(c, "id"))
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) replySearches(c echo.Context, status int, list []searches.Search, err error) error {
	if err != nil {
		return err
	}
	out := api.SearchList{Items: make([]api.Search, len(list))}
	for i, x := range list {
		if out.Items[i], err = s.searchOf(x); err != nil {
			return err
		}
	}
	return reply(c, status, out)
}

func (s *Server) replySearch(c echo.Context, status int, x searches.Search, err error) error {
	if err != nil {
		return err
	}
	out, err := s.searchOf(x)
	if err != nil {
		return err
	}
	return reply(c, status, out)
}

func (s *Server) searchOf(x searches.Search) (api.Search, error) {
	out := api.Search{ID: x.ID, Topic: x.Topic, About: x.About, State: api.SearchState(x.State()), AskedAt: x.AskedAt, EndedAt: x.EndedAt,
		TimeLimitMs: int(x.Limit.Milliseconds()), TookMs: int(x.Took(s.DB.Now()).Milliseconds()), Stopping: x.Stopping}
	if p := x.Progress; p != nil {
		out.Progress = &api.SearchProgress{Best: p.Best, Bound: p.Bound, Unit: p.Unit}
	}
	for _, part := range []struct {
		raw json.RawMessage
		to  **map[string]any
	}{{x.Asked, &out.Input}, {x.Answered, &out.Output}} {
		if part.raw == nil {
			continue
		}
		*part.to = &map[string]any{}
		if err := json.Unmarshal(part.raw, *part.to); err != nil {
			return out, err
		}
	}
	return out, nil
}
