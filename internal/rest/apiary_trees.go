package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/apiary"
)

func (s *Server) registerHostTreeRoutes(g *echo.Group) {
	g.GET("/host-trees", s.handleHostTreeList)
	g.POST("/host-trees", s.handleHostTreeAdd)
	g.GET("/host-trees/:id", s.handleHostTree)
	g.PUT("/host-trees/:id", s.handleHostTreeChange)
	g.POST("/host-trees/:id/visits", s.handleHostTreeVisit)
	g.POST("/host-trees/:id/settle", s.handleHostTreeSettle)
	g.POST("/host-trees/:id/box-away", s.handleHostTreeBoxAway)
	g.POST("/host-trees/:id/put-away", s.handleHostTreePutAway)
}

func hostTreeOf(t apiary.HostTree, today time.Time) api.HostTree {
	out := api.HostTree{ID: t.ID, Version: t.Version, Name: t.Name, Place: t.Place, Latitude: t.AtLatitude, Longitude: t.AtLongitude, SiteID: t.SiteID, OwnerID: t.OwnerPartyID, Owner: some(t.OwnerName), Permission: t.Permission,
		PermissionOn: dayOut(t.PermissionOn), PermissionUntil: dayOut(t.PermissionUntil), PermitID: t.PermitID, SpeciesID: t.BeeSpeciesID, Species: some(t.SpeciesName), BoxID: t.BoxID, BoxSerial: t.BoxSerial, FixedOn: dayOut(t.FixedOn),
		BoxLeaves: t.BoxLeaves, VisitEveryDays: t.VisitEveryDays, NextVisitOn: dayOut(t.NextVisitOn), DueOn: dayOut(t.DueOn), SettledOn: dayOut(t.SettledOn), ColonyID: t.ColonyID, ColonyNumber: t.ColonyNumber,
		State: t.State(), Asks: t.Asks(), LookFor: t.LookFor(), Mind: append([]string{}, t.Mind(today)...), LastVisitAt: t.LastVisitAt, LastFound: some(t.LastFound), PutAway: t.PutAway, PutAwayBecause: some(t.PutAwayBecause), Notes: t.Notes}
	if p, named := t.Permit(); named {
		out.Permit = some(p.Title())
	}
	return out
}

func (s *Server) handleHostTreeList(c echo.Context) error {
	q := listOf(c)
	due, err := dayIn(some(c.QueryParam("due_by")), "/due_by")
	if err != nil {
		return err
	}
	list, err := s.Apiary.HostTreeList(c.Request().Context(), apiary.TreeFilter{DueBy: due, Find: q.Find, PutAway: c.QueryParam("put_away") == "true"})
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	out := api.HostTreeList{Items: make([]api.HostTree, len(list))}
	for i, t := range list {
		out.Items[i] = hostTreeOf(t, today)
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, t := range out.Items {
			rows[i] = []string{t.Name, t.Place, val(t.BoxSerial), t.State, val(t.DueOn), t.Asks, t.Permission, val(t.PermissionUntil), val(t.Permit)}
		}
		return replyCSV(c, "host-trees", []string{"name", "place", "box_serial", "state", "due_on", "asks", "permission", "permission_until", "permit"}, rows)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleHostTreeAdd(c echo.Context) error {
	return s.putHostTree(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleHostTreeChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putHostTree(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putHostTree(c echo.Context, id int64, version, status int) error {
	var in api.HostTreeNew
	if err := bind(c, &in); err != nil {
		return err
	}
	t := apiary.HostTree{ID: id, Version: version, Name: in.Name, Place: val(in.Place), Latitude: in.Latitude, Longitude: in.Longitude, SiteID: in.SiteID, OwnerPartyID: in.OwnerID, Permission: val(in.Permission), PermitID: in.PermitID,
		BeeSpeciesID: in.SpeciesID, BoxID: in.BoxID, BoxLeaves: in.BoxLeaves == nil || *in.BoxLeaves, VisitEveryDays: in.VisitEveryDays, Notes: val(in.Notes)}
	var err error
	for _, d := range []struct {
		to      **time.Time
		from    *string
		pointer string
	}{{&t.FixedOn, in.FixedOn, "/fixed_on"}, {&t.NextVisitOn, in.NextVisitOn, "/next_visit_on"}, {&t.PermissionOn, in.PermissionOn, "/permission_on"}, {&t.PermissionUntil, in.PermissionUntil, "/permission_until"}} {
		if *d.to, err = dayIn(d.from, d.pointer); err != nil {
			return err
		}
	}
	if t, err = s.Answer.TreePut(c.Request().Context(), t); err != nil {
		return err
	}
	return s.replyHostTree(c, status, t.ID)
}

// replyHostTree replies with the tree as it is now.
func (s *Server) replyHostTree(c echo.Context, status int, id int64) error {
	t, err := s.Apiary.HostTreeGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	return replyVersion(c, status, t.Version, hostTreeOf(t, today))
}

func (s *Server) handleHostTree(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	t, err := s.Apiary.HostTreeGet(ctx, id)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	visits, err := s.Apiary.HostTreeVisits(ctx, id)
	if err != nil {
		return err
	}
	drawn, err := s.Apiary.DrawnFrom(ctx, id)
	if err != nil {
		return err
	}
	out := api.HostTreeWhole{Tree: hostTreeOf(t, today), Visits: []api.HostTreeSeen{}, Drawn: []api.ColonyRelation{}}
	for _, v := range visits {
		out.Visits = append(out.Visits, api.HostTreeSeen{HappenedAt: v.HappenedAt, Found: v.Found, Seen: v.Seen})
	}
	for _, p := range drawn {
		out.Drawn = append(out.Drawn, api.ColonyRelation{ColonyID: p.ColonyID, Number: p.Number, Name: p.Name, Kind: p.Kind, HappenedOn: dayOut(p.HappenedOn)})
	}
	return replyVersion(c, http.StatusOK, t.Version, out)
}

func (s *Server) handleHostTreeVisit(c echo.Context) error {
	var in api.HostTreeVisit
	if err := bind(c, &in); err != nil {
		return err
	}
	next, err := dayIn(in.NextVisitOn, "/next_visit_on")
	if err != nil {
		return err
	}
	v := apiary.Visit{TreeID: pathID(c, "id"), HappenedAt: val(in.HappenedAt), Found: string(val(in.Found)), Seen: val(in.Seen), NextVisitOn: next}
	if err := s.Answer.TreeVisit(c.Request().Context(), v, in.RunStopID); err != nil {
		return err
	}
	return s.replyHostTree(c, http.StatusOK, v.TreeID)
}

func (s *Server) handleHostTreeSettle(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.HostTreeSettle
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(in.On, "/on")
	if err != nil {
		return err
	}
	x, err := s.Apiary.HostTreeSettle(c.Request().Context(), apiary.TreeSettling{TreeID: pathID(c, "id"), Version: version, On: val(on), BoxLeaves: in.BoxLeaves, SpeciesID: val(in.SpeciesID), Sure: val(in.SpeciesSure), Notes: val(in.Notes)})
	if err != nil {
		return err
	}
	return s.replyColony(c, http.StatusCreated, x)
}

func (s *Server) handleHostTreeBoxAway(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.HostTreeBoxAway
	if err := bind(c, &in); err != nil {
		return err
	}
	id := pathID(c, "id")
	if _, err := s.Answer.TreeBoxAway(c.Request().Context(), apiary.BoxAway{TreeID: id, Version: version, At: val(in.HappenedAt), SiteID: in.SiteID, Place: in.Place, Note: val(in.Note)}); err != nil {
		return err
	}
	return s.replyHostTree(c, http.StatusOK, id)
}

func (s *Server) handleHostTreePutAway(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.HostTreePutAway
	if err := bind(c, &in); err != nil {
		return err
	}
	id := pathID(c, "id")
	if err := s.Apiary.HostTreePutAway(c.Request().Context(), id, version, in.Because); err != nil {
		return err
	}
	return s.replyHostTree(c, http.StatusOK, id)
}
