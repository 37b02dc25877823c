package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/workshop"
)

func (s *Server) registerBoxRoutes(g *echo.Group) {
	g.GET("/boxes", s.handleBoxList)
	g.POST("/boxes", s.handleBoxRegister)
	g.GET("/boxes/:id", s.handleBox)
	g.PUT("/boxes/:id", s.handleBoxChange)
	g.POST("/boxes/:id/place", s.handleBoxPlace)
	g.POST("/boxes/:id/sections", s.handleBoxSection)
	g.GET("/boxes/:id/label", s.handleBoxLabel)
	g.GET("/serials/:serial", s.handleSerial)
	g.GET("/shelf", s.handleShelf)
	g.POST("/shelf", s.handleShelfAdd)
}

func (s *Server) handleBoxList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Workshop.BoxList(c.Request().Context(), workshop.BoxFilter{Find: q.Find, Shelf: c.QueryParam("shelf") == "true", ModelID: queryInt(c, "model_id", 0), Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, x := range list {
			rows[i] = []string{x.Serial, x.What(), x.Maker, x.FinishedAt.Format(time.RFC3339), val(dayOut(x.CuredOn)), strconv.FormatBool(x.Ours), x.Place}
		}
		return replyCSV(c, "boxes", []string{"serial", "what", "maker", "finished_at", "cured_on", "ours", "place"}, rows)
	}
	out := api.BoxList{Items: make([]api.Box, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = boxOf(c, x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) replyBox(c echo.Context, status int, x workshop.Box, err error) error {
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, boxWholeOf(c, x))
}

func (s *Server) handleBox(c echo.Context) error {
	x, err := s.Workshop.BoxGet(c.Request().Context(), pathID(c, "id"))
	return s.replyBox(c, http.StatusOK, x, err)
}

func (s *Server) handleSerial(c echo.Context) error {
	x, err := s.Workshop.BoxBySerial(c.Request().Context(), c.Param("serial"))
	return s.replyBox(c, http.StatusOK, x, err)
}

func (s *Server) handleBoxRegister(c echo.Context) error {
	var in api.BoxNew
	if err := bind(c, &in); err != nil {
		return err
	}
	cured, err := dayIn(in.CuredOn, "/cured_on")
	if err != nil {
		return err
	}
	b := workshop.BoxNew{Serial: val(in.Serial), RevisionID: in.ModelRevisionID, Maker: val(in.Maker), Description: val(in.Description), SpeciesID: in.TimberSpeciesID, OptionIDs: val(in.Options),
		FinishedAt: in.FinishedAt.UTC(), CuredOn: cured, OwnerID: in.OwnerID, SiteID: in.SiteID, Place: val(in.Place), Notes: val(in.Notes)}
	if prices(c) {
		b.CostMinor = in.CostMinor
	}
	x, err := s.Workshop.BoxRegister(c.Request().Context(), b)
	return s.replyBox(c, http.StatusCreated, x, err)
}

func (s *Server) handleBoxChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.BoxChange
	if err := bind(c, &in); err != nil {
		return err
	}
	cured, err := dayIn(in.CuredOn, "/cured_on")
	if err != nil {
		return err
	}
	x, err := s.Workshop.BoxSave(c.Request().Context(), workshop.BoxChange{ID: pathID(c, "id"), Version: version, HeldBackBecause: val(in.HeldBackBecause),
		StolenAt: in.StolenAt, GoneAt: in.GoneAt, CuredOn: cured, Notes: val(in.Notes)})
	return s.replyBox(c, http.StatusOK, x, err)
}

func (s *Server) handleBoxPlace(c echo.Context) error {
	var in api.BoxPlaceNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Answer.BoxElsewhere(c.Request().Context(), pathID(c, "id"), moveOf(s, 0, in))
	return s.replyBox(c, http.StatusOK, x, err)
}

func (s *Server) handleBoxSection(c echo.Context) error {
	var in api.BoxSectionNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Workshop.SectionMove(c.Request().Context(), pathID(c, "id"), in.PlaceInBox, val(in.Section), val(in.Note), s.happened(in.At))
	return s.replyBox(c, http.StatusOK, x, err)
}

func (s *Server) handleBoxLabel(c echo.Context) error {
	pdf, name, err := s.Answer.BoxLabel(c.Request().Context(), pathID(c, "id"), labelsUsed(c))
	return replySheet(c, pdf, name, err)
}

func boxOf(c echo.Context, x workshop.Box) api.Box {
	out := api.Box{ID: x.ID, Version: x.Version, Serial: x.Serial, What: x.What(), ModelRevisionID: x.RevisionID, BuildID: x.BuildID, Maker: x.Maker, TimberSpeciesID: x.SpeciesID,
		Species: x.SpeciesName, Options: append([]string{}, x.OptionNames...), FinishedAt: x.FinishedAt, CuredOn: dayOut(x.CuredOn), HeldBackBecause: x.HeldBackBecause, StolenAt: x.StolenAt,
		GoneAt: x.GoneAt, Ours: x.Ours, OwnerID: x.OwnerPartyID, SiteID: x.SiteID, Place: x.Place, ColonyID: x.ColonyID, PromisedToUnit: x.ClaimedByUnitID, Notes: x.Notes}
	if x.CostMinor != nil {
		out.CostMinor = costOut(c, *x.CostMinor)
	}
	return out
}

func boxWholeOf(c echo.Context, x workshop.Box) api.BoxWhole {
	out := api.BoxWhole{Box: boxOf(c, x), Sections: []api.BoxSection{}, Owners: []api.BoxOwner{}, Places: []api.BoxPlace{}}
	for _, z := range x.Sections {
		out.Sections = append(out.Sections, api.BoxSection{Section: z.Section, PlaceInBox: z.Place, FromAt: z.FromAt, ToAt: z.ToAt, Note: z.Note, CameFromBoxID: z.CameFromBoxID, CameFromSerial: z.CameFromSerial, CameFromPlace: z.CameFromPlace})
	}
	for _, o := range x.Owners {
		out.Owners = append(out.Owners, api.BoxOwner{PartyID: o.PartyID, FromAt: o.FromAt, ToAt: o.ToAt})
	}
	for _, p := range x.Places {
		out.Places = append(out.Places, api.BoxPlace{SiteID: p.SiteID, Place: p.Place, FromAt: p.FromAt, ToAt: p.ToAt})
	}
	return out
}

func (s *Server) handleShelf(c echo.Context) error {
	list, err := s.Workshop.ShelfLots(c.Request().Context(), queryInt(c, "model_id", 0))
	if err != nil {
		return err
	}
	out := api.Shelf{Items: make([]api.ShelfLot, len(list))}
	for i, l := range list {
		out.Items[i] = shelfLotOf(l)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleShelfAdd(c echo.Context) error {
	var in api.ShelfNew
	if err := bind(c, &in); err != nil {
		return err
	}
	l, err := s.Workshop.ShelfLotIn(c.Request().Context(), in.ModelRevisionID, string(in.Makes), in.Piece, in.TimberSpeciesID, in.Count, s.happened(in.HappenedAt))
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, shelfLotOf(l))
}

func shelfLotOf(l workshop.ShelfLot) api.ShelfLot {
	return api.ShelfLot{ID: l.ID, ModelRevisionID: l.RevisionID, Model: l.ModelName, Revision: l.Revision, Makes: l.Makes, Piece: l.Piece, Species: l.SpeciesName,
		OnHand: l.OnHand, PutAside: l.PutAside, Meant: l.Meant, Free: l.Free()}
}
