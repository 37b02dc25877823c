package rest

import (
	"context"
	"math"
	"net/http"
	"strconv"

	"github.com/jackc/pgx/v5"
	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/timber"
)

func (s *Server) registerLogRoutes(g *echo.Group) {
	g.GET("/logs", s.handleLogList)
	g.POST("/logs", s.handleLogAdd)
	g.POST("/logs/look", s.handleLogLook)
	g.GET("/logs/:id", s.handleLog)
	g.PUT("/logs/:id", s.handleLogChange)
	g.GET("/logs/:id/yield", s.handleLogYield)
	g.PUT("/logs/:id/wish", s.handleLogWish)
	g.POST("/logs/:id/sawn", s.handleLogSawn)
	g.GET("/logs/:id/sawing-card", s.handleSawingCard)
	g.GET("/timber-yields", s.handleTimberYields)
	g.POST("/board-sizes/reckon", s.handleSizeReckon)
}

func (s *Server) handleLogList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Timber.LogList(c.Request().Context(), timber.LogFilter{Find: q.Find, Open: c.QueryParam("open") == "true", Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, x := range list {
			rows[i] = []string{x.Number, x.SpeciesName, x.SmallEndMM.String(), x.LargeEndMM.String(), x.LengthMM.String(), val(dayOut(x.FelledOn)), x.FromWhere, strconv.FormatBool(x.SawnAt != nil)}
		}
		return replyCSV(c, "logs", []string{"number", "timber", "small_end_mm", "large_end_mm", "length_mm", "felled_on", "from_where", "sawn"}, rows)
	}
	out := api.LogList{Items: make([]api.Log, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = logOf(c, x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleLog(c echo.Context) error {
	x, err := s.Timber.LogGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.replyLog(c, http.StatusOK, x)
}

// replyLog answers with a log and the boards that came of it.
func (s *Server) replyLog(c echo.Context, status int, x timber.Log) error {
	out := logOf(c, x)
	if x.RealM3 != nil {
		list, err := s.Timber.LogBoards(c.Request().Context(), x.ID)
		if err != nil {
			return err
		}
		boards := make([]api.LogBoard, len(list))
		for i, b := range list {
			boards[i] = api.LogBoard{WidthMm: b.WidthMM.InexactFloat64(), ThicknessMm: b.ThicknessMM.InexactFloat64(), LengthMm: b.LengthMM, Grade: b.Grade, Count: b.Count, PackID: b.PackID, Pack: b.PackNumber}
		}
		out.Boards = &boards
	}
	return replyVersion(c, status, x.Version, out)
}

func (s *Server) handleLogAdd(c echo.Context) error {
	return s.putLog(c, timber.Log{}, http.StatusCreated)
}

func (s *Server) handleLogChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	was, err := s.Timber.LogGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	was.Version = version
	return s.putLog(c, was, http.StatusOK)
}

// logIn reads a log of a request; what is not sent of its costs stays as it was.
func logIn(c echo.Context, in api.LogNew, was timber.Log) (timber.Log, error) {
	felled, err := dayIn(in.FelledOn, "/felled_on")
	return timber.Log{ID: was.ID, Version: was.Version, SpeciesID: in.SpeciesID, SmallEndMM: dec(in.SmallEndMm), LargeEndMM: dec(in.LargeEndMm),
		LengthMM: dec(in.LengthMm), SweepMM: dec(val(in.SweepMm)), FelledOn: felled, EndsSealed: val(in.EndsSealed), MetalSuspected: val(in.MetalSuspected),
		HollowSuspected: val(in.HollowSuspected), FromWhere: val(in.FromWhere), SupplierID: in.SupplierID, CostMinor: costIn(c, in.CostMinor, was.CostMinor),
		HaulageMinor: costIn(c, in.HaulageMinor, was.HaulageMinor), Notes: val(in.Notes), PutAwayAt: was.PutAwayAt, Girths: val(in.Measured) == "girth", Wish: logWishIn(c, in.Wish, was.Wish)}, err
}

// logWishIn reads what is wanted of a log; who may not see costs leaves the values as they
// were.
func logWishIn(c echo.Context, in *api.LogWish, was *timber.LogWish) *timber.LogWish {
	if in == nil {
		return nil
	}
	w := &timber.LogWish{HeartBoxMM: val(in.HeartBoxMm), ShortestMM: val(in.ShortestMm), Sizes: []timber.WishSize{}}
	for _, z := range val(in.Sizes) {
		size := timber.WishSize{WidthMM: z.WidthMm, ThicknessMM: z.ThicknessMm}
		if prices(c) {
			size.ValueMinor = z.ValueMinor
		}
		w.Sizes = append(w.Sizes, size)
	}
	if !prices(c) {
		w.KeepValues(was)
	}
	return w
}

func logWishOf(c echo.Context, w *timber.LogWish) *api.LogWish {
	if w == nil {
		return nil
	}
	sizes := make([]api.LogWishSize, len(w.Sizes))
	for i, z := range w.Sizes {
		sizes[i] = api.LogWishSize{WidthMm: z.WidthMM, ThicknessMm: z.ThicknessMM}
		if prices(c) {
			sizes[i].ValueMinor = z.ValueMinor
		}
	}
	return &api.LogWish{HeartBoxMm: &w.HeartBoxMM, ShortestMm: &w.ShortestMM, Sizes: &sizes}
}

func (s *Server) putLog(c echo.Context, was timber.Log, status int) error {
	var in api.LogNew
	if err := bind(c, &in); err != nil {
		return err
	}
	g, err := logIn(c, in, was)
	if err != nil {
		return err
	}
	var x timber.Log
	err = s.DB.WithTx(c.Request().Context(), func(ctx context.Context, _ pgx.Tx) error {
		if x, err = s.Timber.LogSave(ctx, g, val(in.Sure)); err != nil || g.Wish == nil {
			return err
		}
		x, err = s.Timber.LogWish(ctx, x.ID, x.Version, g.Wish)
		return err
	})
	if err != nil {
		return err
	}
	return s.replyLog(c, status, x)
}

func (s *Server) handleLogLook(c echo.Context) error {
	var in api.LogNew
	if err := bind(c, &in); err != nil {
		return err
	}
	g, err := logIn(c, in, timber.Log{})
	if err != nil {
		return err
	}
	y, err := s.Answer.LogLook(c.Request().Context(), g, val(in.Sure))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, yieldOf(c, y))
}

func (s *Server) handleLogYield(c echo.Context) error {
	y, err := s.Answer.LogYield(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, yieldOf(c, y))
}

func (s *Server) handleLogWish(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.LogWish
	if err := bind(c, &in); err != nil {
		return err
	}
	was, err := s.Timber.LogGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	wish := logWishIn(c, &in, was.Wish)
	if len(wish.Sizes) == 0 && wish.HeartBoxMM == 0 && wish.ShortestMM == 0 {
		wish = nil
	}
	x, err := s.Timber.LogWish(c.Request().Context(), was.ID, version, wish)
	if err != nil {
		return err
	}
	return s.replyLog(c, http.StatusOK, x)
}

func (s *Server) handleLogSawn(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.LogSawn
	if err := bind(c, &in); err != nil {
		return err
	}
	w := timber.Sawing{At: in.SawnAt.UTC(), Minutes: val(in.SawnMin), Place: val(in.Place), ClimateID: in.ClimateID}
	stacked, err := dayIn(in.StackedOn, "/stacked_on")
	if err != nil {
		return err
	}
	if stacked != nil {
		w.StackedOn = *stacked
	}
	for _, b := range val(in.Boards) {
		board := timber.SawnBoards{WidthMM: dec(b.WidthMm), ThicknessMM: dec(b.ThicknessMm), LengthMM: b.LengthMm, Count: b.Count}
		if b.Grade != nil {
			board.Grade = string(*b.Grade)
		}
		if b.DressesTo != nil {
			board.DressesTo = &timber.Size{WidthMM: dec(b.DressesTo.WidthMm), ThicknessMM: dec(b.DressesTo.ThicknessMm)}
		}
		w.Boards = append(w.Boards, board)
	}
	x, _, err := s.Answer.LogSaw(c.Request().Context(), pathID(c, "id"), version, w)
	if err != nil {
		return err
	}
	return s.replyLog(c, http.StatusOK, x)
}

func (s *Server) handleSawingCard(c echo.Context) error {
	id := pathID(c, "id")
	pdf, err := s.Answer.SawingCard(c.Request().Context(), id)
	return replySheet(c, pdf, "sawing-"+strconv.FormatInt(id, 10), err)
}

func (s *Server) handleTimberYields(c echo.Context) error {
	list, err := s.Timber.YieldList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.TimberYieldList{Items: make([]api.TimberYield, len(list))}
	for i, x := range list {
		out.Items[i] = api.TimberYield{SpeciesID: x.SpeciesID, Species: x.SpeciesName, Logs: x.Logs, Ratio: x.Ratio}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleSizeReckon(c echo.Context) error {
	var in api.SizeQuestion
	if err := bind(c, &in); err != nil {
		return err
	}
	q := answer.SizeQuestion{SpeciesID: in.SpeciesID, Change: func(a *timber.Allowance) {
		for _, f := range []struct {
			in *float64
			at *decimal.Decimal
		}{{in.ToMcPct, &a.MCPct}, {in.PlaningMm, &a.PlaningMM}, {in.StraightenWidthMm, &a.StraightenWidthMM}, {in.StraightenThicknessMm, &a.StraightenThicknessMM}, {in.SawVariationMm, &a.SawVariationMM}} {
			if f.in != nil {
				*f.at = dec(*f.in)
			}
		}
		if in.Grain != nil {
			a.Grain = string(*in.Grain)
		}
	}}
	if in.Dressed != nil {
		q.Dressed = &timber.Size{WidthMM: dec(in.Dressed.WidthMm), ThicknessMM: dec(in.Dressed.ThicknessMm)}
	}
	if in.Green != nil {
		q.Green = &timber.Size{WidthMM: dec(in.Green.WidthMm), ThicknessMM: dec(in.Green.ThicknessMm)}
	}
	a, err := s.Answer.Sizes(c.Request().Context(), q)
	if err != nil {
		return err
	}
	size := func(z timber.Size) api.BoardSizeNew {
		return api.BoardSizeNew{WidthMm: z.WidthMM.InexactFloat64(), ThicknessMm: z.ThicknessMM.InexactFloat64()}
	}
	return reply(c, http.StatusOK, api.SizeAnswer{Green: size(a.Green), Dressed: size(a.Dressed), Sure: size(a.Sure), Grain: api.Grain(a.Allowance.Grain), ToMcPct: a.Allowance.MCPct.InexactFloat64(),
		PlaningMm: a.Allowance.PlaningMM.InexactFloat64(), StraightenWidthMm: a.Allowance.StraightenWidthMM.InexactFloat64(), StraightenThicknessMm: a.Allowance.StraightenThicknessMM.InexactFloat64(),
		SawVariationMm: a.Allowance.SawVariationMM.InexactFloat64(), ShrinkagePct: a.ShrinkagePct, ShrinkageToMcPct: a.ShrinkageToMC, Known: a.Known})
}

func logOf(c echo.Context, x timber.Log) api.Log {
	out := api.Log{ID: x.ID, Version: x.Version, Number: x.Number, SpeciesID: x.SpeciesID, Species: x.SpeciesName, SmallEndMm: x.SmallEndMM.InexactFloat64(),
		LargeEndMm: x.LargeEndMM.InexactFloat64(), LengthMm: x.LengthMM.InexactFloat64(), SweepMm: x.SweepMM.InexactFloat64(), FelledOn: dayOut(x.FelledOn),
		EndsSealed: x.EndsSealed, MetalSuspected: x.MetalSuspected, HollowSuspected: x.HollowSuspected, FromWhere: x.FromWhere, SupplierID: x.SupplierID,
		CostMinor: costOut(c, x.CostMinor), HaulageMinor: costOut(c, x.HaulageMinor), SawnAt: x.SawnAt, SawnMin: x.SawnMin, Notes: x.Notes, Wish: logWishOf(c, x.Wish)}
	if x.SawnAt != nil {
		out.SawingMinor = costOut(c, x.SawingMinor)
	}
	if x.RealM3 != nil {
		m3 := x.RealM3.InexactFloat64()
		out.RealM3 = &m3
	}
	if e := x.Expected; e != nil {
		out.Expected = &api.LogExpected{LogM3: e.LogM3, M3: e.M3, Ratio: e.Ratio, Logs: e.Logs, Sizes: make([]api.LogExpectedSize, len(e.Sizes))}
		for i, z := range e.Sizes {
			out.Expected.Sizes[i] = api.LogExpectedSize{WidthMm: z.WidthMM, ThicknessMm: z.ThicknessMM, GreenWidthMm: z.GreenWidthMM, GreenThicknessMm: z.GreenThicknessMM, Boards: z.Boards, TotalMm: z.TotalMM}
		}
	}
	return out
}

// yieldOf gives what a log gives; money to who may see it.
func yieldOf(c echo.Context, y answer.LogYield) api.LogYield {
	out := api.LogYield{Sizes: make([]api.YieldSize, len(y.Sizes)), Layout: make([]api.YieldBoard, len(y.Out.Layout)), SawHeightsMm: y.Out.SawHeightsMM, RecoveryPct: y.Out.RecoveryPct, SawdustPct: y.Out.SawdustPct,
		SlabPct: y.Out.SlabPct, LogM3: y.Out.LogVolumeM3, DrawnM3: y.Out.SawnVolumeM3, DrawnMm: y.DrawnMM, LikelyM3: y.LikelyM3, LikelyMm: y.LikelyMM, Ratio: y.Yields.Ratio, RatioLogs: y.Yields.Logs,
		FitsMill: y.Out.FitsMill, TrimMm: y.Out.TrimMM, SawingMin: y.SawingMin, HeartBoxMm: y.HeartBoxMM, ShortestMm: y.ShortestMM, KerfMm: y.KerfMM, Choices: make([]api.LogChoice, len(y.Choices)),
		MillBy: dayOut(y.MillBy), MillByWhy: y.MillByWhy, Cautions: y.Cautions}
	money := func(minor int64) *int64 {
		if !y.Valued {
			return nil
		}
		return costOut(c, minor)
	}
	out.ValueMinor, out.MarginMinor, out.CostMinor = money(y.ValueMinor), money(y.MarginMinor()), costOut(c, y.CostMinor())
	for i, z := range y.Sizes {
		out.Sizes[i] = api.YieldSize{ID: z.ID, Key: z.Key, WidthMm: z.Dressed.WidthMM.InexactFloat64(), ThicknessMm: z.Dressed.ThicknessMM.InexactFloat64(), GreenWidthMm: z.Green.WidthMM.InexactFloat64(),
			GreenThicknessMm: z.Green.ThicknessMM.InexactFloat64(), Boards: z.Boards, TotalMm: math.Round(z.TotalMM*10) / 10}
		if z.ValueMinor > 0 {
			out.Sizes[i].ValueMinor = costOut(c, z.ValueMinor)
		}
	}
	for i, b := range y.Out.Layout {
		out.Layout[i] = api.YieldBoard{ID: b.ID, XMm: b.XMM, YMm: b.YMM, WidthMm: b.WidthMM, ThicknessMm: b.ThicknessMM, LengthMm: b.LengthMM, FromButtMm: b.FromButtMM}
	}
	for i, x := range y.Choices {
		o := api.LogChoice{Kind: api.LogChoiceKind(x.Kind), Words: x.Words, CutMm: x.CutMM, Best: x.Best, M3: x.M3, ValueMinor: money(x.ValueMinor), Pieces: make([]api.LogPiece, len(x.Pieces))}
		for j, p := range x.Pieces {
			o.Pieces[j] = api.LogPiece{SmallEndMm: p.SmallEndMM, LargeEndMm: p.LargeEndMM, LengthMm: p.LengthMM, SweepMm: p.SweepMM, FitsMill: p.FitsMill, Boards: p.Boards, M3: p.M3, ValueMinor: money(p.ValueMinor)}
		}
		out.Choices[i] = o
	}
	return out
}
