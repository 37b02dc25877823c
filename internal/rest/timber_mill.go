package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/timber"
)

func (s *Server) registerMillRoutes(g *echo.Group) {
	g.GET("/mill-next", s.handleMillNext)
	g.GET("/milling-paces", s.handleMillingPaces)
	g.POST("/milling-paces", s.handleMillingPaceSet)
}

func (s *Server) handleMillNext(c echo.Context) error {
	m, err := s.Answer.MillNext(c.Request().Context(), int(queryInt(c, "months", 0)))
	if err != nil {
		return err
	}
	out := api.MillNext{AsOf: m.AsOf.Format(time.DateOnly), Months: len(m.Months), PastMonths: m.PastMonths, AcceptedPct: m.AcceptedPct, QuotesDecided: m.QuotesDecided, Method: answer.MillMethod,
		Sizes: make([]api.MillSize, len(m.Sizes)), Notes: append([]string{}, m.Notes...)}
	for i, z := range m.Sizes {
		out.Sizes[i] = millSizeOf(z)
	}
	return reply(c, http.StatusOK, out)
}

func millSizeOf(z answer.MillSize) api.MillSize {
	out := api.MillSize{SpeciesID: z.SpeciesID, Species: z.Species, WidthMm: z.WidthMM, ThicknessMm: z.ThicknessMM, FreeM: z.FreeMM / 1000, ClaimedM: z.ClaimedMM / 1000, DryingM: z.DryingMM / 1000,
		UndatedM: z.UndatedMM / 1000, YieldPct: z.YieldPct, YieldPacks: z.YieldPacks, GreenWidthMm: z.GreenWidthMM, GreenThicknessMm: z.GreenThicknessMM, Months: make([]api.MillMonth, len(z.Months)),
		Expected: millShortOf(z.Expected), Careful: millShortOf(z.Careful), Sentence: z.Sentence(), DryOn: dayOut(z.DryOn), Logs: make([]api.MillLog, len(z.Logs)), LookFor: some(z.LookFor), Notes: append([]string{}, z.Notes...)}
	for i, m := range z.Months {
		out.Months[i] = api.MillMonth{Month: *dayOut(&m.On), ComesInM: m.InMM / 1000, CarefulInM: m.CarefulInMM / 1000, OrdersM: m.OrdersMM / 1000, BuildsM: m.BuildsMM / 1000, QuotesM: m.QuotesMM / 1000,
			PaceM: m.PaceMM / 1000, LeftM: m.LeftMM / 1000, CarefulLeftM: m.CarefulLeftMM / 1000}
	}
	for i, g := range z.Logs {
		out.Logs[i] = api.MillLog{ID: g.ID, Number: g.Number, GivesM: g.GivesMM / 1000, Boards: g.Boards, TooWide: g.TooWide}
	}
	return out
}

func millShortOf(s *answer.MillShort) *api.MillShort {
	if s == nil {
		return nil
	}
	return &api.MillShort{Month: *dayOut(&s.On), Until: *dayOut(&s.Until), ShortM: s.ShortMM / 1000, SawM: s.SawMM / 1000, Boards: s.Boards, BoardLengthMm: s.BoardMM, SawBy: dayOut(s.SawBy), Late: s.Late}
}

func (s *Server) handleMillingPaces(c echo.Context) error { return s.millingPaces(c, http.StatusOK) }

func (s *Server) millingPaces(c echo.Context, status int) error {
	list, err := s.Timber.PaceList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.MillingPaceList{Items: make([]api.MillingPace, len(list))}
	for i, p := range list {
		out.Items[i] = api.MillingPace{ModelID: p.ModelID, Model: p.ModelName, SpeciesID: p.SpeciesID, Species: p.SpeciesName, BoxesAMonth: p.BoxesAMonth.InexactFloat64()}
	}
	return reply(c, status, out)
}

func (s *Server) handleMillingPaceSet(c echo.Context) error {
	var in api.MillingPaceNew
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Timber.PaceSet(c.Request().Context(), timber.Pace{ModelID: in.ModelID, SpeciesID: in.SpeciesID, BoxesAMonth: dec(in.BoxesAMonth)}); err != nil {
		return err
	}
	return s.millingPaces(c, http.StatusCreated)
}
