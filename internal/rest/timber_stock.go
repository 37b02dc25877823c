package rest

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

func (s *Server) registerStockRoutes(g *echo.Group) {
	g.GET("/lots", s.handleLotList)
	g.POST("/lots", s.handleLotAdd)
	g.GET("/lots/:id", s.handleLot)
	g.GET("/lots/:id/moves", s.handleLotMoves)
	g.GET("/rack", s.handleRack)
	g.POST("/stock-moves", s.handleMove)
	g.POST("/counts", s.handleCount)
}

func (s *Server) handleLotList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Timber.LotList(c.Request().Context(), timber.LotFilter{SpeciesID: queryInt(c, "species_id", 0), SizeID: queryInt(c, "board_size_id", 0),
		Empty: c.QueryParam("empty") == "true", Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, x := range list {
			rows[i] = []string{x.SpeciesName, x.WidthMM.String(), x.ThicknessMM.String(), x.ThicknessTrueMM.String(), x.Grade, strconv.Itoa(x.LengthMM), x.Place,
				strconv.FormatBool(x.Offcut), strconv.Itoa(x.OnHand), strconv.Itoa(x.PutAside), strconv.Itoa(x.Meant)}
		}
		return replyCSV(c, "rack", []string{"timber", "width_mm", "thickness_mm", "thickness_true_mm", "grade", "length_mm", "place", "offcut", "on_hand", "put_aside", "meant"}, rows)
	}
	out := api.LotList{Items: make([]api.Lot, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = lotOf(c, x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleLot(c echo.Context) error {
	x, err := s.Timber.LotGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, lotOf(c, x))
}

func (s *Server) handleLotAdd(c echo.Context) error {
	var in api.LotNew
	if err := bind(c, &in); err != nil {
		return err
	}
	key := timber.LotKey{SpeciesID: in.SpeciesID, WidthMM: dec(in.WidthMm), ThicknessMM: dec(in.ThicknessMm), ThicknessTrueMM: dec(val(in.ThicknessTrueMm)),
		Grade: string(val(in.Grade)), LengthMM: in.LengthMm, Place: val(in.Place), Offcut: val(in.Offcut)}
	if in.MetreCostMinor != nil && prices(c) {
		key.MetreCostMinor = in.MetreCostMinor
	}
	kind := timber.Opening
	if in.Kind != nil {
		kind = timber.MoveKind(*in.Kind)
	}
	x, err := s.Timber.LotIn(c.Request().Context(), key, in.Count, kind, s.happened(in.HappenedAt), val(in.Reason))
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, lotOf(c, x))
}

func lotOf(c echo.Context, x timber.Lot) api.Lot {
	out := api.Lot{ID: x.ID, SpeciesID: x.SpeciesID, Species: x.SpeciesName, BoardSizeID: x.SizeID, WidthMm: x.WidthMM.InexactFloat64(), ThicknessMm: x.ThicknessMM.InexactFloat64(),
		ThicknessTrueMm: x.ThicknessTrueMM.InexactFloat64(), Grade: x.Grade, LengthMm: x.LengthMM, Place: x.Place, Offcut: x.Offcut, OnHand: x.OnHand, PutAside: x.PutAside,
		Meant: x.Meant, Free: x.Free(), FirstInOn: *dayOut(&x.FirstInOn), MetreCostMinor: costOut(c, x.MetreCostMinor)}
	if prices(c) {
		out.OwnCost = &x.OwnCost
	}
	return out
}

func (s *Server) handleLotMoves(c echo.Context) error {
	return s.replyMoves(c, claims.Lot(pathID(c, "id")))
}

func (s *Server) replyMoves(c echo.Context, t claims.Thing) error {
	q := listOf(c)
	list, cursor, err := s.Timber.MoveList(c.Request().Context(), t, q.Limit, q.After)
	if err != nil {
		return err
	}
	out := api.MoveList{Items: make([]api.Move, len(list)), Next: next(cursor)}
	for i, m := range list {
		out.Items[i] = api.Move{ID: m.ID, Quantity: m.Quantity, Kind: string(m.Kind), HappenedAt: m.HappenedAt, Reason: m.Reason, BuildID: m.BuildID, OrderUnitID: m.UnitID, PackID: m.PackID}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleRack(c echo.Context) error {
	list, err := s.Timber.Rack(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.Rack{Items: make([]api.RackLine, len(list))}
	for i, l := range list {
		out.Items[i] = api.RackLine{SpeciesID: l.SpeciesID, Species: l.SpeciesName, BoardSizeID: l.SizeID, WidthMm: l.WidthMM.InexactFloat64(), ThicknessMm: l.ThicknessMM.InexactFloat64(),
			Boards: l.Boards, TotalM: float64(l.TotalMM) / 1000, FreeM: float64(l.FreeMM) / 1000}
	}
	return reply(c, http.StatusOK, out)
}

// thingIn gives the one thing that a request names.
func thingIn(lot, item, shelf *int64, pointer string) (claims.Thing, error) {
	var found []claims.Thing
	for _, t := range []struct {
		id *int64
		of func(int64) claims.Thing
	}{{lot, claims.Lot}, {item, claims.Item}, {shelf, claims.ShelfLot}} {
		if t.id != nil {
			found = append(found, t.of(*t.id))
		}
	}
	if len(found) != 1 {
		return claims.Thing{}, fault.Bad(pointer, "Name one thing: lot_id, item_id or shelf_lot_id.")
	}
	return found[0], nil
}

func (s *Server) handleMove(c echo.Context) error {
	var in api.MoveNew
	if err := bind(c, &in); err != nil {
		return err
	}
	thing, err := thingIn(in.LotID, in.ItemID, in.ShelfLotID, "/lot_id")
	if err != nil {
		return err
	}
	b, err := s.Timber.MoveBook(c.Request().Context(), timber.Move{Thing: thing, Quantity: in.Quantity, Kind: timber.MoveKind(in.Kind), HappenedAt: s.happened(in.HappenedAt), Reason: val(in.Reason)})
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, api.Booked{Found: b.Found, Notes: b.Notes()})
}

func (s *Server) handleCount(c echo.Context) error {
	var in api.CountNew
	if err := bind(c, &in); err != nil {
		return err
	}
	lines := make([]timber.CountLine, len(in.Lines))
	for i, l := range in.Lines {
		thing, err := thingIn(l.LotID, l.ItemID, l.ShelfLotID, "/lines/"+itoa(i))
		if err != nil {
			return err
		}
		lines[i] = timber.CountLine{Thing: thing, Counted: l.Counted}
	}
	diffs, err := s.Timber.Count(c.Request().Context(), lines, s.happened(in.HappenedAt))
	if err != nil {
		return err
	}
	out := api.CountDone{Differences: make([]api.CountDifference, len(diffs))}
	for i, d := range diffs {
		out.Differences[i] = api.CountDifference{What: d.Words, Book: d.Book, Counted: d.Counted, Notes: d.Booked.Notes()}
	}
	return reply(c, http.StatusCreated, out)
}
