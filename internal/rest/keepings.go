package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
)

func (s *Server) registerKeepingRoutes(g *echo.Group) {
	g.GET("/keepings", s.handleKeepingList)
	g.POST("/keepings", s.handleTakeIn)
	g.GET("/keepings/:id", s.handleKeeping)
	g.PUT("/keepings/:id", s.handleKeepingChange)
	g.POST("/keepings/:id/end", s.handleKeepingEnd)
}

func (s *Server) handleKeepingList(c echo.Context) error {
	list, err := s.Apiary.KeepingList(c.Request().Context(), c.QueryParam("ended") == "true")
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	if listOf(c).CSV {
		rows := make([][]string, len(list))
		for i, k := range list {
			price := ""
			if k.PriceMinor != nil {
				price = strconv.FormatInt(*k.PriceMinor, 10)
			}
			rows[i] = []string{k.Called(), k.Owner, k.Phone, k.Purpose, k.Agreed, price, k.CameAt.Format(time.RFC3339), val(dayOut(k.BackOn)), k.Place, k.EndedHow}
		}
		return replyCSV(c, "keepings", []string{"called", "owner", "phone", "purpose", "agreed", "price_minor", "came_at", "back_on", "place", "ended_how"}, rows)
	}
	out := api.KeepingList{Items: make([]api.Keeping, len(list))}
	for i, k := range list {
		out.Items[i] = keepingOf(k, today)
	}
	return reply(c, http.StatusOK, out)
}

func keepingOf(k apiary.Keeping, today time.Time) api.Keeping {
	return api.Keeping{ID: k.ID, Version: k.Version, Called: k.Called(), ColonyID: k.ColonyID, BoxID: k.BoxID, Owner: k.Owner, OwnerID: k.PartyID, Phone: k.Phone, Purpose: k.Purpose, Agreed: k.Agreed, PriceMinor: k.PriceMinor,
		BackOn: dayOut(k.BackOn), Due: k.EndedAt == nil && k.BackOn != nil && !k.BackOn.After(today), CameAt: k.CameAt, Place: k.Place, EndedAt: k.EndedAt, EndedHow: some(k.EndedHow), EndedNote: some(k.EndedNote)}
}

func (s *Server) replyKeeping(c echo.Context, status int, k apiary.Keeping) error {
	today, err := s.today(c)
	if err != nil {
		return err
	}
	return replyVersion(c, status, k.Version, keepingOf(k, today))
}

func (s *Server) handleKeeping(c echo.Context) error {
	k, err := s.Apiary.KeepingGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.replyKeeping(c, http.StatusOK, k)
}

func (s *Server) handleTakeIn(c echo.Context) error {
	var in api.KeepingNew
	if err := bind(c, &in); err != nil {
		return err
	}
	t := answer.TakenIn{PartyID: in.PartyID, ColonyID: in.ColonyID, BoxID: in.BoxID, SpeciesID: val(in.SpeciesID), SpeciesSure: val(in.SpeciesSure), Description: val(in.Description), SiteID: in.SiteID, Place: val(in.Place), CameAt: val(in.CameAt),
		KeepingTerms: apiary.KeepingTerms{Purpose: string(val(in.Purpose)), Agreed: val(in.Agreed), PriceMinor: in.PriceMinor}}
	var err error
	if t.BackOn, err = dayIn(in.BackOn, "/back_on"); err != nil {
		return err
	}
	k, err := s.Answer.TakeIn(c.Request().Context(), t)
	if err != nil {
		return err
	}
	return s.replyKeeping(c, http.StatusCreated, k)
}

func (s *Server) handleKeepingChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.KeepingTerms
	if err := bind(c, &in); err != nil {
		return err
	}
	t := apiary.KeepingTerms{Purpose: string(val(in.Purpose)), Agreed: val(in.Agreed), PriceMinor: in.PriceMinor}
	if t.BackOn, err = dayIn(in.BackOn, "/back_on"); err != nil {
		return err
	}
	k, err := s.Apiary.KeepingChange(c.Request().Context(), pathID(c, "id"), version, t)
	if err != nil {
		return err
	}
	return s.replyKeeping(c, http.StatusOK, k)
}

func (s *Server) handleKeepingEnd(c echo.Context) error {
	var in api.KeepingEnd
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx, id := c.Request().Context(), pathID(c, "id")
	if _, err := s.Answer.KeepingEnd(ctx, id, answer.KeepingOver{How: string(in.How), At: val(in.At), SiteID: in.SiteID, Place: val(in.Place), Note: val(in.Note), InSpite: val(in.InSpite)}); err != nil {
		return err
	}
	k, err := s.Apiary.KeepingGet(ctx, id)
	if err != nil {
		return err
	}
	return s.replyKeeping(c, http.StatusOK, k)
}
