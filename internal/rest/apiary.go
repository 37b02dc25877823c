package rest

import (
	"encoding/json"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

func (s *Server) registerApiaryRoutes(g *echo.Group) {
	s.registerKeepingRoutes(g)
	g.GET("/bee-species", s.handleBeeSpeciesList)
	g.POST("/bee-species", s.handleBeeSpeciesAdd)
	g.GET("/bee-species/:id", s.handleBeeSpecies)
	g.PUT("/bee-species/:id", s.handleBeeSpeciesChange)
	g.GET("/colonies", s.handleColonyList)
	g.POST("/colonies", s.handleColonyAdd)
	g.GET("/colonies/:id", s.handleColony)
	g.PUT("/colonies/:id", s.handleColonyChange)
	g.GET("/colonies/:id/descent", s.handleColonyDescent)
	g.POST("/colonies/:id/brood", s.handleColonyBrood)
	g.POST("/colonies/:id/unite", s.handleColonyUnite)
	g.POST("/colonies/:id/findings", s.handleColonyFinding)
	g.POST("/colonies/:id/events", s.handleColonyEvent)
	g.POST("/colonies/:id/house", s.handleColonyHouse)
	g.POST("/colonies/:id/split", s.handleColonySplit)
	g.POST("/colonies/:id/mark", s.handleColonyMark)
	s.registerHostTreeRoutes(g)
	s.registerPermitRoutes(g)
}

func (s *Server) handleBeeSpeciesList(c echo.Context) error {
	list, err := s.Apiary.SpeciesList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.BeeSpeciesList{Items: make([]api.BeeSpecies, len(list))}
	for i, sp := range list {
		out.Items[i] = beeSpeciesOf(sp)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleBeeSpecies(c echo.Context) error {
	sp, err := s.Apiary.SpeciesGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, sp.Version, beeSpeciesOf(sp))
}

func (s *Server) handleBeeSpeciesAdd(c echo.Context) error {
	return s.putBeeSpecies(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleBeeSpeciesChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putBeeSpecies(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putBeeSpecies(c echo.Context, id int64, version, status int) error {
	in := api.BeeSpeciesNew{}
	if err := bind(c, &in); err != nil {
		return err
	}
	sp := apiary.Species{ID: id, Version: version, Code: in.Code, Name: in.Name, CommonName: val(in.CommonName), NaturalRange: val(in.NaturalRange), SplitIntervalMonths: in.SplitIntervalMonths,
		SplitChancePct: 80, FlightMinC: wide(in.FlightMinC), HeatLimitC: wide(in.HeatLimitC), ColdLimitC: wide(in.ColdLimitC), FlightRangeM: in.FlightRangeM,
		LongestClosedHours: in.LongestClosedHours, SettlingWeeks: in.SettlingWeeks, TreeVisitDays: in.TreeVisitDays, TreeVisitColdDays: in.TreeVisitColdDays}
	if in.SplitChancePct != nil {
		sp.SplitChancePct = float64(*in.SplitChancePct)
	}
	for _, m := range val(in.SplitMonths) {
		sp.SplitMonths = append(sp.SplitMonths, int32(m))
	}
	var err error
	if in.RangeRegions != nil {
		if sp.RangeRegions, err = json.Marshal(*in.RangeRegions); err != nil {
			return err
		}
	}
	if in.Sources != nil {
		if sp.SourcesJSON, err = json.Marshal(*in.Sources); err != nil {
			return err
		}
	}
	if sp, err = s.Apiary.SpeciesPut(c.Request().Context(), sp); err != nil {
		return err
	}
	return replyVersion(c, status, sp.Version, beeSpeciesOf(sp))
}

func wide(p *float32) *float64 {
	if p == nil {
		return nil
	}
	v := float64(*p)
	return &v
}

func narrow(p *float64) *float32 {
	if p == nil {
		return nil
	}
	v := float32(*p)
	return &v
}

func beeSpeciesOf(sp apiary.Species) api.BeeSpecies {
	out := api.BeeSpecies{ID: sp.ID, Version: sp.Version, Code: sp.Code, Name: sp.Name, CommonName: sp.CommonName, NaturalRange: sp.NaturalRange, RangeRegions: sp.Regions(), SplitMonths: []int{},
		SplitIntervalMonths: sp.SplitIntervalMonths, SplitChancePct: float32(sp.SplitChancePct), FlightMinC: narrow(sp.FlightMinC), HeatLimitC: narrow(sp.HeatLimitC), ColdLimitC: narrow(sp.ColdLimitC),
		FlightRangeM: sp.FlightRangeM, LongestClosedHours: sp.LongestClosedHours, SettlingWeeks: sp.SettlingWeeks, TreeVisitDays: sp.TreeVisitDays, TreeVisitColdDays: sp.TreeVisitColdDays, Sources: sp.Sources()}
	for _, m := range sp.SplitMonths {
		out.SplitMonths = append(out.SplitMonths, int(m))
	}
	if out.RangeRegions == nil {
		out.RangeRegions = []string{}
	}
	return out
}

func (s *Server) handleColonyList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Apiary.ColonyList(c.Request().Context(), apiary.ColonyFilter{Find: q.Find, Living: c.QueryParam("living") == "true", SpeciesID: queryInt(c, "species_id", 0), Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, x := range list {
			rows[i] = []string{x.Number, x.Name, val(x.SpeciesName), x.State(today), val(x.Dwelling), val(x.BoxSerial), x.OwnerName, x.PlaceName, val(dayOut(x.BeganOn)), x.BeganAbout}
		}
		return replyCSV(c, "colonies", []string{"number", "name", "species", "state", "dwelling", "box_serial", "owner", "place", "began_on", "began_about"}, rows)
	}
	out := api.ColonyList{Items: make([]api.Colony, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = colonyOf(x, today)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleColonyAdd(c echo.Context) error {
	var in api.ColonyNew
	if err := bind(c, &in); err != nil {
		return err
	}
	n := apiary.NewColony{Name: val(in.Name), SpeciesID: in.SpeciesID, SpeciesSure: val(in.SpeciesSure), FoundBy: val(in.FoundBy), BeganAbout: val(in.BeganAbout), Origin: val(in.Origin), OwnerID: in.OwnerID,
		KeeperID: in.KeeperID, Agreed: val(in.Agreed), Dwelling: string(val(in.Dwelling)), BoxID: in.BoxID, HostTreeID: in.HostTreeID, Description: val(in.Description), HousedAt: val(in.HousedAt),
		Place: val(in.Place), SiteID: in.SiteID, Notes: val(in.Notes), InSpite: val(in.InSpite)}
	var err error
	for _, d := range []struct {
		to      **time.Time
		from    *string
		pointer string
	}{{&n.BeganOn, in.BeganOn, "/began_on"}, {&n.SettledOn, in.SettledOn, "/settled_on"}, {&n.SettlesAbout, in.SettlesAbout, "/settles_about"}} {
		if *d.to, err = dayIn(d.from, d.pointer); err != nil {
			return err
		}
	}
	for _, p := range val(in.Parents) {
		on, err := dayIn(p.HappenedOn, "/parents")
		if err != nil {
			return err
		}
		n.Parents = append(n.Parents, apiary.Parent{ParentID: p.ColonyID, Kind: string(p.Kind), HappenedOn: on})
	}
	x, err := s.Apiary.ColonyMake(c.Request().Context(), n)
	if err != nil {
		return err
	}
	return s.replyColony(c, http.StatusCreated, x)
}

func (s *Server) replyColony(c echo.Context, status int, x apiary.Colony) error {
	today, err := s.today(c)
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, colonyOf(x, today))
}

func (s *Server) handleColony(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	x, err := s.Apiary.ColonyGet(ctx, id)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	parents, err := s.Apiary.ParentsOf(ctx, id)
	if err != nil {
		return err
	}
	children, err := s.Apiary.ChildrenOf(ctx, id)
	if err != nil {
		return err
	}
	events, err := s.Apiary.EventsOf(ctx, id)
	if err != nil {
		return err
	}
	out := api.ColonyWhole{Colony: colonyOf(x, today), Parents: []api.ColonyRelation{}, Children: []api.ColonyRelation{}, Events: []api.ColonyEvent{}}
	for _, p := range parents {
		out.Parents = append(out.Parents, api.ColonyRelation{ColonyID: p.ParentID, Number: p.Number, Name: p.Name, Kind: p.Kind, HappenedOn: dayOut(p.HappenedOn)})
	}
	for _, p := range children {
		out.Children = append(out.Children, api.ColonyRelation{ColonyID: p.ColonyID, Number: p.Number, Name: p.Name, Kind: p.Kind, HappenedOn: dayOut(p.HappenedOn)})
	}
	for _, e := range events {
		out.Events = append(out.Events, colonyEventOf(e))
	}
	if out.Findings, err = s.findingsOf(c, id); err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, x.Version, out)
}

func colonyEventOf(e apiary.Event) api.ColonyEvent {
	return api.ColonyEvent{ID: e.ID, Kind: e.Kind, HappenedAt: e.HappenedAt, HappenedAbout: some(e.HappenedAbout), MassKg: narrow(e.MassKG), Note: e.Note}
}

func colonyOf(x apiary.Colony, today time.Time) api.Colony {
	return api.Colony{ID: x.ID, Version: x.Version, Number: x.Number, Name: x.Name, State: x.State(today), Ready: x.Ready(today) && x.UnitID == nil, Species: val(x.SpeciesName), SpeciesID: x.SpeciesID,
		SpeciesSure: val(x.SpeciesSure), Dwelling: val(x.Dwelling), BoxID: x.BoxID, BoxSerial: x.BoxSerial, HousedAt: x.HousedAt, Owner: x.OwnerName, OwnerID: x.OwnerID, Keeper: x.KeeperName, KeeperID: x.KeeperID,
		Place: x.PlaceName, UnitID: x.UnitID, BeganOn: dayOut(x.BeganOn), BeganAbout: some(x.BeganAbout), Origin: x.Origin, SettledOn: dayOut(x.SettledOn), SettlesAbout: dayOut(x.SettlesAbout),
		HeldBackBecause: some(x.HeldBackBecause), KeptToSplit: x.Kept, Notes: x.Notes}
}

func (s *Server) handleColonyEvent(c echo.Context) error {
	var in api.ColonyEventNew
	if err := bind(c, &in); err != nil {
		return err
	}
	e, err := s.Apiary.EventNote(c.Request().Context(), apiary.Event{ColonyID: pathID(c, "id"), Kind: string(in.Kind), HappenedAt: val(in.HappenedAt), HappenedAbout: val(in.HappenedAbout), MassKG: wide(in.MassKg), Note: val(in.Note)})
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, colonyEventOf(e))
}

func (s *Server) handleColonyHouse(c echo.Context) error {
	var in api.Housing
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx, id := c.Request().Context(), pathID(c, "id")
	warnings, err := s.Answer.HouseColony(ctx, apiary.Housing{ColonyID: id, Dwelling: string(val(in.Dwelling)), BoxID: in.BoxID, Description: val(in.Description), At: val(in.HappenedAt), InSpite: val(in.InSpite)})
	if err != nil {
		return err
	}
	x, err := s.Apiary.ColonyGet(ctx, id)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	if warnings == nil {
		warnings = []string{}
	}
	return reply(c, http.StatusOK, api.Housed{Colony: colonyOf(x, today), Warnings: warnings})
}

func (s *Server) handleColonySplit(c echo.Context) error {
	var in api.ColonySplit
	if err := bind(c, &in); err != nil {
		return err
	}
	made := answer.SplitMade{Splitting: apiary.Splitting{ParentID: pathID(c, "id"), BoxID: in.BoxID, At: val(in.HappenedAt), Note: val(in.Note), InSpite: val(in.InSpite)}, Exchange: in.Exchange == nil || *in.Exchange}
	for _, z := range val(in.Sections) {
		made.Sections = append(made.Sections, workshop.SectionStep{Place: z.Place, ToPlace: val(z.ToPlace)})
	}
	child, _, err := s.Answer.SplitColony(c.Request().Context(), made)
	if err != nil {
		return err
	}
	return s.replyColony(c, http.StatusCreated, child)
}

func (s *Server) handleColonyMark(c echo.Context) error {
	var in api.ColonyMark
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(in.On, "/on")
	if err != nil {
		return err
	}
	ctx, id := c.Request().Context(), pathID(c, "id")
	switch in.Mark {
	case "settled":
		today, e := s.today(c)
		if e != nil {
			return e
		}
		if on == nil {
			on = &today
		}
		if on.After(today) {
			return fault.Bad("/on", "Settled is what was seen; it cannot lie in the future.")
		}
		err = s.Apiary.Settle(ctx, id, *on)
	case "held back":
		err = s.Apiary.HoldBack(ctx, id, val(in.Because))
	case "released":
		err = s.Apiary.Release(ctx, id)
	case "kept to be split", "to be given":
		keep := in.Mark == "kept to be split"
		err = s.Apiary.KeepToSplit(ctx, id, &keep)
	case "left to the log":
		err = s.Apiary.KeepToSplit(ctx, id, nil)
	default:
		err = s.colonyGone(c, apiary.Ending{ColonyID: id, How: val(in.Because), About: val(in.HappenedAbout)}, on)
	}
	if err != nil {
		return err
	}
	x, err := s.Apiary.ColonyGet(ctx, id)
	if err != nil {
		return err
	}
	return s.replyColony(c, http.StatusOK, x)
}

// today is the workshop's day.
func (s *Server) today(c echo.Context) (time.Time, error) {
	set, err := s.House.SettingsGet(c.Request().Context())
	return set.Today(s.DB.Now()), err
}
