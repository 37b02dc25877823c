package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/workshop"
)

func (s *Server) registerThingRoutes(g *echo.Group) {
	g.GET("/limited-things", s.handleThings)
	g.POST("/limited-things", s.handleThingNew)
	g.GET("/limited-things/:id", s.handleThing)
	g.PUT("/limited-things/:id", s.handleThingPut)
	g.GET("/limited-things/:id/builds", s.handleThingBuilds)
}

func (s *Server) handleThings(c echo.Context) error {
	list, err := s.Workshop.ThingList(c.Request().Context(), c.QueryParam("put_away") == "true")
	if err != nil {
		return err
	}
	out := api.LimitedThingList{Items: make([]api.LimitedThing, len(list))}
	for i, t := range list {
		out.Items[i] = thingOf(t)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleThing(c echo.Context) error {
	t, err := s.Workshop.ThingGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, t.Version, thingOf(t))
}

func (s *Server) handleThingNew(c echo.Context) error {
	return s.putThing(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleThingPut(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putThing(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putThing(c echo.Context, id int64, version, status int) error {
	var in api.LimitedThingNew
	if err := bind(c, &in); err != nil {
		return err
	}
	t, err := s.Workshop.ThingSave(c.Request().Context(), workshop.Thing{ID: id, Version: version, Name: in.Name, Count: in.Count, Notes: val(in.Notes), PutAwayAt: putAwayAt(val(in.PutAway), nil, s.DB.Now())})
	if err != nil {
		return err
	}
	return replyVersion(c, status, t.Version, thingOf(t))
}

func thingOf(t workshop.Thing) api.LimitedThing {
	return api.LimitedThing{ID: t.ID, Version: t.Version, Name: t.Name, Count: t.Count, Notes: t.Notes, PutAway: t.PutAwayAt != nil}
}

// handleThingBuilds asks about the count that is, unless another is named.
func (s *Server) handleThingBuilds(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	t, err := s.Workshop.ThingGet(ctx, id)
	if err != nil {
		return err
	}
	list, err := s.Workshop.ThingUses(ctx, id, int(queryInt(c, "count", int64(t.There()))))
	if err != nil {
		return err
	}
	out := api.LimitedThingBuildList{Items: make([]api.LimitedThingBuild, len(list))}
	for i, u := range list {
		out.Items[i] = api.LimitedThingBuild{BuildID: u.BuildID, Build: u.Number, What: u.What, Operations: append([]string{}, u.Operations...), Hurt: u.Hurt(), EndsOn: dayOut(u.EndsOn), ThenOn: dayOut(u.ThenOn), DueOn: dayOut(u.DueOn), LateDays: u.LateDays, Why: u.Why}
	}
	return reply(c, http.StatusOK, out)
}
