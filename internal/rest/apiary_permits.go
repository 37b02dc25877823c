package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/apiary"
)

func (s *Server) registerPermitRoutes(g *echo.Group) {
	g.GET("/permits", s.handlePermitList)
	g.POST("/permits", s.handlePermitAdd)
	g.GET("/permits/:id", s.handlePermit)
	g.PUT("/permits/:id", s.handlePermitChange)
	g.POST("/colonies/:id/permit", s.handleColonyPermit)
}

func permitOf(p apiary.Permit, today time.Time) api.Permit {
	return api.Permit{ID: p.ID, Version: p.Version, Number: p.Number, Authority: p.Authority, Kind: p.Kind, Covers: p.Covers, FromOn: dayOut(p.FromOn), EndsOn: dayOut(p.EndsOn), WarnDays: p.WarnDays, State: p.State(today), PutAway: p.PutAway, Notes: p.Notes}
}

func (s *Server) handlePermitList(c echo.Context) error {
	list, err := s.Apiary.PermitList(c.Request().Context(), c.QueryParam("put_away") == "true")
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	out := api.PermitList{Items: make([]api.Permit, len(list))}
	for i, p := range list {
		out.Items[i] = permitOf(p, today)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePermitAdd(c echo.Context) error {
	return s.putPermit(c, 0, 0, http.StatusCreated)
}

func (s *Server) handlePermitChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putPermit(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putPermit(c echo.Context, id int64, version, status int) error {
	var in api.PermitNew
	if err := bind(c, &in); err != nil {
		return err
	}
	p := apiary.Permit{ID: id, Version: version, Number: in.Number, Authority: in.Authority, Kind: string(val(in.Kind)), Covers: val(in.Covers), WarnDays: apiary.PermitWarnDays, Notes: val(in.Notes), PutAway: val(in.PutAway)}
	if in.WarnDays != nil {
		p.WarnDays = *in.WarnDays
	}
	var err error
	if p.FromOn, err = dayIn(in.FromOn, "/from_on"); err != nil {
		return err
	}
	if p.EndsOn, err = dayIn(in.EndsOn, "/ends_on"); err != nil {
		return err
	}
	if p, err = s.Apiary.PermitPut(c.Request().Context(), p); err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	return replyVersion(c, status, p.Version, permitOf(p, today))
}

func (s *Server) handlePermit(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	p, err := s.Apiary.PermitGet(ctx, id)
	if err != nil {
		return err
	}
	uses, err := s.Apiary.PermitUses(ctx, id)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	out := api.PermitWhole{Permit: permitOf(p, today), Uses: []api.PermitUse{}}
	for _, u := range uses {
		out.Uses = append(out.Uses, api.PermitUse{Kind: u.Kind, ID: u.ID, Name: u.Name, On: dayOut(u.On), Open: u.Open})
	}
	return replyVersion(c, http.StatusOK, p.Version, out)
}

func (s *Server) handleColonyPermit(c echo.Context) error {
	var in api.PermitNamed
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Apiary.ColonyPermit(c.Request().Context(), pathID(c, "id"), in.PermitID); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
