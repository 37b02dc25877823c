package rest

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/sales"
)

func (s *Server) registerPartyRoutes(g *echo.Group) {
	g.GET("/parties", s.handlePartyList)
	g.POST("/parties", s.handlePartyAdd)
	g.GET("/parties/by-number", s.handlePartiesByNumber)
	g.GET("/parties/:id", s.handleParty)
	g.PUT("/parties/:id", s.handlePartyChange)
	g.POST("/parties/:id/join", s.handlePartyJoin)
	g.POST("/parties/:id/make-nameless", s.handlePartyMakeNameless)
	g.GET("/parties/:id/sites", s.handleSiteList)
	g.POST("/parties/:id/sites", s.handleSiteAdd)
	g.GET("/sites", s.handleSitePage)
	g.GET("/sites/:id", s.handleSite)
	g.PUT("/sites/:id", s.handleSiteChange)
}

func (s *Server) handlePartyList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Sales.PartyList(c.Request().Context(), sales.PartyFilter{Find: q.Find, Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, p := range list {
			rows[i] = []string{strconv.FormatInt(p.ID, 10), p.Kind, p.Name, p.Town, p.Phone(), p.Email(), p.FoundBy}
		}
		return replyCSV(c, "parties", []string{"id", "kind", "name", "town", "phone", "email", "found_by"}, rows)
	}
	return reply(c, http.StatusOK, api.PartyList{Items: partiesOf(list), Next: next(cursor)})
}

func (s *Server) handlePartyAdd(c echo.Context) error {
	return s.putParty(c, 0, 0, http.StatusCreated)
}

func (s *Server) handlePartyChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putParty(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putParty(c echo.Context, id int64, version, status int) error {
	var in api.PartyNew
	if err := bind(c, &in); err != nil {
		return err
	}
	p := sales.Party{ID: id, Version: version, Kind: string(val(in.Kind)), Name: val(in.Name), Town: val(in.Town), BusinessNumber: val(in.BusinessNumber),
		BuyerClassID: in.BuyerClassID, DueDays: in.DueDays, FoundBy: val(in.FoundBy), Notes: val(in.Notes)}
	for _, k := range val(in.Contacts) {
		p.Contacts = append(p.Contacts, sales.Contact{Kind: string(k.Kind), Value: k.Value, Person: val(k.Person)})
	}
	p, err := s.Sales.PartyPut(c.Request().Context(), p)
	if err != nil {
		return err
	}
	return replyVersion(c, status, p.Version, partyOf(p))
}

func (s *Server) handlePartiesByNumber(c echo.Context) error {
	list, err := s.Sales.PartiesByNumber(c.Request().Context(), strings.TrimSpace(c.QueryParam("number")))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.PartiesByNumber{Items: partiesOf(list)})
}

func (s *Server) handleParty(c echo.Context) error {
	p, err := s.Sales.PartyGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, p.Version, partyOf(p))
}

func (s *Server) handlePartyJoin(c echo.Context) error {
	var in api.PartyJoin
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	if err := s.Sales.PartyJoin(ctx, pathID(c, "id"), in.IntoID); err != nil {
		return err
	}
	p, err := s.Sales.PartyGet(ctx, in.IntoID)
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, p.Version, partyOf(p))
}

func (s *Server) handlePartyMakeNameless(c echo.Context) error {
	if err := s.Sales.PartyMakeNameless(c.Request().Context(), pathID(c, "id")); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handleSiteList(c echo.Context) error {
	list, err := s.Sales.SiteList(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.SiteList{Items: make([]api.Site, len(list))}
	for i, v := range list {
		out.Items[i] = siteOf(v)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleSitePage(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Sales.SitePage(c.Request().Context(), q.After, q.Limit)
	if err != nil {
		return err
	}
	out := api.SitePage{Items: make([]api.Site, len(list)), Next: next(cursor)}
	for i, v := range list {
		out.Items[i] = siteOf(v)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleSiteAdd(c echo.Context) error {
	p, err := s.Sales.PartyGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.putSite(c, sales.Site{PartyID: &p.ID}, http.StatusCreated)
}

func (s *Server) handleSite(c echo.Context) error {
	v, err := s.Sales.SiteGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, v.Version, siteOf(v))
}

func (s *Server) handleSiteChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	was, err := s.Sales.SiteGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.putSite(c, sales.Site{ID: was.ID, Version: version, PartyID: was.PartyID}, http.StatusOK)
}

// putSite stores v, of which id, version and party are known, with what the body says.
func (s *Server) putSite(c echo.Context, v sales.Site, status int) error {
	var in api.SiteNew
	if err := bind(c, &in); err != nil {
		return err
	}
	v.Name, v.Address, v.Town, v.Region, v.Postcode = val(in.Name), val(in.Address), val(in.Town), val(in.Region), val(in.Postcode)
	v.Latitude, v.Longitude, v.TimeZone = in.Latitude, in.Longitude, val(in.TimeZone)
	v.Wall, v.WallFacesDeg, v.EaveOutMM, v.EaveAboveMM = val(in.Wall), in.WallFacesDeg, in.EaveOutMm, in.EaveAboveMm
	v.HivesThere, v.Notes = val(in.HivesThere), val(in.Notes)
	v, err := s.Sales.SitePut(c.Request().Context(), v)
	if err != nil {
		return err
	}
	return replyVersion(c, status, v.Version, siteOf(v))
}

func partiesOf(list []sales.Party) []api.Party {
	out := make([]api.Party, len(list))
	for i, p := range list {
		out[i] = partyOf(p)
	}
	return out
}

func partyOf(p sales.Party) api.Party {
	out := api.Party{ID: p.ID, Version: p.Version, Kind: p.Kind, Name: p.Name, Called: p.Called(), Town: p.Town, BusinessNumber: p.BusinessNumber,
		BuyerClassID: p.BuyerClassID, DueDays: p.DueDays, FoundBy: p.FoundBy, Notes: p.Notes, Contacts: []api.Contact{}, PutAway: p.PutAwayAt != nil, MadeAt: p.MadeAt}
	for _, k := range p.Contacts {
		o := api.Contact{Kind: api.ContactKind(k.Kind), Value: k.Value}
		if k.Person != "" {
			o.Person = &k.Person
		}
		out.Contacts = append(out.Contacts, o)
	}
	return out
}

func siteOf(v sales.Site) api.Site {
	return api.Site{ID: v.ID, Version: v.Version, PartyID: v.PartyID, Name: v.Name, Address: v.Address, Town: v.Town, Region: v.Region, Postcode: v.Postcode,
		Latitude: v.Latitude, Longitude: v.Longitude, TimeZone: v.TimeZone, Wall: v.Wall, WallFacesDeg: v.WallFacesDeg, EaveOutMm: v.EaveOutMM,
		EaveAboveMm: v.EaveAboveMM, HivesThere: v.HivesThere, Notes: v.Notes}
}
