package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/show"
)

func (s *Server) registerLineRoutes(g *echo.Group) {
	g.GET("/bee-species/:id/line", s.handleColonyLine)
	g.GET("/bee-species/:id/line/proposal", s.handleLineProposal)
	g.POST("/bee-species/:id/line/accept", s.handleLineAccept)
	g.GET("/bee-species/:id/line/moves", s.handleLineMoves)
	g.POST("/bee-species/:id/line/moves", s.handleLineMove)
	g.GET("/units/:id/line", s.handlePlaceInLine)
}

func linePlaceOf(p answer.LinePlace) api.LinePlace {
	return api.LinePlace{Place: p.Place, UnitID: p.UnitID, N: p.N, OrderID: p.OrderID, Order: p.Order, PartyID: p.PartyID, Who: p.Who, Town: p.Town, JoinedOn: p.JoinedOn.Format(time.DateOnly), NoDeposit: p.NoDeposit,
		AnyKind: p.AnyKind, PromisedOn: dayOut(p.PromisedOn), LikelyOn: dayOut(p.LikelyOn), Late: p.Late, MovedBecause: some(p.MovedBecause), OutOfRange: some(p.OutOfRange)}
}

func (s *Server) handleColonyLine(c echo.Context) error {
	l, err := s.Answer.LineOf(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.ColonyLine{SpeciesID: l.Species.ID, Species: l.Species.Name, AsOf: l.Day.Format(time.DateOnly), Ready: len(l.Herd.Ready), Settling: len(l.Herd.Settling), KeptToSplit: len(l.Herd.Kept),
		Places: []api.LinePlace{}, Interested: []api.LineInterest{}, Reasons: l.Reasons()}
	for _, p := range l.Places {
		out.Places = append(out.Places, linePlaceOf(p))
	}
	for _, i := range l.Interested {
		out.Interested = append(out.Interested, api.LineInterest{What: api.LineInterestWhat(i.What), ID: i.ID, Number: i.Number, Who: i.Who, Since: i.Since, Colonies: i.Colonies})
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePlaceInLine(c echo.Context) error {
	v, err := s.Answer.PlaceOf(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.LinePlaceView{SpeciesID: v.Species.ID, Species: v.Species.Name, Of: v.Of, Words: v.Words(show.Date), Place: linePlaceOf(v.LinePlace), Curve: []api.LinePoint{}, PromiseChance: v.PromiseChance, Reasons: v.Reasons}
	for _, p := range v.Curve {
		out.Curve = append(out.Curve, api.LinePoint{On: p.On.Format(time.DateOnly), Chance: p.Chance})
	}
	return reply(c, http.StatusOK, out)
}

func proposalOf(list []answer.Proposed) api.LineProposal {
	out := api.LineProposal{Items: []api.LineProposed{}}
	for _, p := range list {
		out.Items = append(out.Items, api.LineProposed{Place: p.Place, UnitID: p.UnitID, OrderID: p.OrderID, Order: p.Order, Who: p.Who, ColonyID: p.ColonyID, Colony: p.Colony, Unsure: p.Unsure,
			HouseFirst: some(p.HouseFirst), OutOfRange: some(p.OutOfRange)})
	}
	return out
}

func (s *Server) handleLineProposal(c echo.Context) error {
	list, err := s.Answer.LinePropose(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, proposalOf(list))
}

func (s *Server) handleLineAccept(c echo.Context) error {
	var in api.LineAccept
	if err := bind(c, &in); err != nil {
		return err
	}
	var pairs []answer.LinePair
	for _, p := range val(in.Pairs) {
		pairs = append(pairs, answer.LinePair{UnitID: p.UnitID, ColonyID: p.ColonyID})
	}
	list, err := s.Answer.LineAccept(c.Request().Context(), pathID(c, "id"), pairs)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, proposalOf(list))
}

func (s *Server) handleLineMoves(c echo.Context) error {
	list, err := s.Answer.LineMoves(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.LineMoveList{Items: []api.LineMoved{}}
	for _, m := range list {
		out.Items = append(out.Items, api.LineMoved{ID: m.ID, UnitID: m.UnitID, Order: m.Order, Who: m.Who, BeforeUnitID: m.BeforeUnitID, BeforeWho: some(m.BeforeWho), Reason: m.Reason, At: m.At})
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleLineMove(c echo.Context) error {
	var in api.LineMoveNew
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Answer.LineMove(c.Request().Context(), pathID(c, "id"), in.UnitID, in.BeforeUnitID, in.Reason); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
