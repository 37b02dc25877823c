package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/timber"
)

func (s *Server) registerDressRoutes(g *echo.Group) {
	g.POST("/packs/:id/dress", s.handlePackDress)
	g.GET("/packs/:id/dressings", s.handleDressings)
	g.POST("/lots/:id/rip", s.handleLotRip)
	g.GET("/lots/:id/reckoning", s.handleLotReckoning)
	g.GET("/timber-species/:id/came", s.handleSpeciesCame)
}

func (s *Server) handlePackDress(c echo.Context) error {
	var in api.Dressing
	if err := bind(c, &in); err != nil {
		return err
	}
	d := timber.Dressing{PackID: pathID(c, "id"), At: s.happened(in.HappenedAt), Taken: contentIn(val(in.Taken)), Place: val(in.Place), Done: val(in.Done),
		Minutes: val(in.Minutes), By: val(in.By), DockedFor: string(val(in.DockedFor))}
	for _, b := range val(in.Boards) {
		one := timber.DressedLot{WidthMM: dec(b.WidthMm), ThicknessMM: dec(b.ThicknessMm), ThicknessTrueMM: dec(val(b.ThicknessTrueMm)), LengthMM: b.LengthMm, Count: b.Count}
		if b.Grade != nil {
			one.Grade = string(*b.Grade)
		}
		d.Boards = append(d.Boards, one)
	}
	out, err := s.Timber.PackDress(c.Request().Context(), d)
	return s.replyDressed(c, out, err)
}

func (s *Server) replyDressed(c echo.Context, out timber.DressedOut, err error) error {
	if err != nil {
		return err
	}
	r := api.Dressed{Lots: make([]api.Lot, len(out.Lots)), Work: workOf(c, out.Work), Notes: append(out.Notes, timber.Booked{Broken: out.Broken}.Notes()...)}
	for i, l := range out.Lots {
		r.Lots[i] = lotOf(c, l)
	}
	return reply(c, http.StatusOK, r)
}

func (s *Server) handleLotRip(c echo.Context) error {
	var in api.Ripping
	if err := bind(c, &in); err != nil {
		return err
	}
	p := timber.Ripping{LotID: pathID(c, "id"), At: s.happened(in.HappenedAt), Count: in.Count, WidthsMM: make([]decimal.Decimal, len(in.WidthsMm)), LengthMM: val(in.LengthMm), Minutes: val(in.Minutes), By: val(in.By)}
	for i, w := range in.WidthsMm {
		p.WidthsMM[i] = dec(w)
	}
	out, err := s.Timber.LotRip(c.Request().Context(), p)
	return s.replyDressed(c, out, err)
}

func workOf(c echo.Context, w timber.Work) api.Work {
	return api.Work{ID: w.ID, HappenedAt: w.At, Taken: w.Taken, TakenM: metresOut(w.TakenMM), CameM: metresOut(w.CameMM), DockedPct: w.DockedPct().InexactFloat64(), LossPct: w.LossPct().InexactFloat64(),
		Minutes: w.Minutes, By: w.By, DockedFor: api.DockedFor(w.DockedFor), BoardsMinor: costOut(c, w.BoardsMinor), DryingMinor: costOut(c, w.DryingMinor), LabourMinor: costOut(c, w.LabourMinor)}
}

func cameOf(c echo.Context, x timber.Came) api.Came {
	return api.Came{Times: x.Times, TakenM: metresOut(x.TakenMM), CameM: metresOut(x.CameMM), DockedPct: x.DockedPct().InexactFloat64(), LossPct: x.LossPct().InexactFloat64(),
		Minutes: x.Minutes, CostMinor: costOut(c, x.CostMinor())}
}

func metresOut(mm int64) float64 { return float64(mm) / 1000 }

func (s *Server) handleDressings(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	if _, err := s.Timber.PackGet(ctx, id); err != nil {
		return err
	}
	list, err := s.Timber.WorkList(ctx, id)
	if err != nil {
		return err
	}
	came, err := s.Timber.PackCame(ctx, id)
	if err != nil {
		return err
	}
	out := api.WorkList{Items: make([]api.Work, len(list)), Came: cameOf(c, came)}
	for i, w := range list {
		out.Items[i] = workOf(c, w)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleLotReckoning(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	if _, err := s.Timber.LotGet(ctx, id); err != nil {
		return err
	}
	list, err := s.Timber.LotReckoning(ctx, id)
	if err != nil {
		return err
	}
	out := api.Reckoning{Items: make([]api.ReckoningLine, len(list))}
	for i, k := range list {
		out.Items[i] = api.ReckoningLine{Work: k.Work, PackID: k.PackID, FromLotID: k.FromLotID, LogID: k.LogID, HappenedAt: k.At, Count: k.Count, Metres: metresOut(k.MM),
			BoardsMinor: k.BoardsMinor, DryingMinor: k.DryingMinor, LabourMinor: k.LabourMinor, CostMinor: k.CostMinor(), MetreCostMinor: k.MetreCostMinor()}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleSpeciesCame(c echo.Context) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	sp, err := s.Timber.SpeciesGet(ctx, id)
	if err != nil {
		return err
	}
	came, err := s.Timber.SpeciesCame(ctx, id)
	if err != nil {
		return err
	}
	cost, err := s.Timber.SpeciesRealCost(ctx, id)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.SpeciesCame{Came: cameOf(c, came), Lots: cost.Lots, MetreCostMinor: costOut(c, cost.MetreCostMinor), StandardCostMinor: costOut(c, sp.MetreCostMinor)})
}
