package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/house"
)

func (s *Server) registerCalendarRoutes(g *echo.Group) {
	g.GET("/calendar-feeds", s.handleFeedList)
	g.POST("/calendar-feeds", s.handleFeedMake)
	g.DELETE("/calendar-feeds/:id", s.handleFeedWithdraw)
}

func feedOf(f house.Feed) api.CalendarFeed {
	out := api.CalendarFeed{ID: f.ID, Name: f.Name, Path: "/calendar/" + f.Key + ".ics", Phones: f.Phones, MadeAt: f.MadeAt, WithdrawnAt: f.WithdrawnAt}
	for _, kind := range f.Shows {
		out.Shows = append(out.Shows, api.CalendarKind(kind))
	}
	if out.Shows == nil {
		out.Shows = []api.CalendarKind{}
	}
	return out
}

func (s *Server) handleFeedList(c echo.Context) error {
	list, err := s.House.FeedList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.CalendarFeedList{Items: make([]api.CalendarFeed, len(list))}
	for i, f := range list {
		out.Items[i] = feedOf(f)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleFeedMake(c echo.Context) error {
	var in api.CalendarFeedNew
	if err := bind(c, &in); err != nil {
		return err
	}
	feed := house.Feed{Name: in.Name, Phones: val(in.Phones)}
	for _, kind := range val(in.Shows) {
		feed.Shows = append(feed.Shows, string(kind))
	}
	f, err := s.House.FeedMake(c.Request().Context(), feed)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, feedOf(f))
}

func (s *Server) handleFeedWithdraw(c echo.Context) error {
	f, err := s.House.FeedWithdraw(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, feedOf(f))
}
