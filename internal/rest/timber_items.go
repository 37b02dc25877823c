package rest

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/claims"
	"kerfbook/internal/timber"
)

func (s *Server) registerItemRoutes(g *echo.Group) {
	g.GET("/items", s.handleItemList)
	g.POST("/items", s.handleItemAdd)
	g.GET("/items-low", s.handleItemsLow)
	g.GET("/items/:id", s.handleItem)
	g.PUT("/items/:id", s.handleItemChange)
	g.POST("/items/:id/low", s.handleItemLow)
	g.GET("/items/:id/moves", s.handleItemMoves)
	s.registerPurchaseRoutes(g)
}

func (s *Server) handleItemList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Timber.ItemList(c.Request().Context(), timber.ItemFilter{Find: q.Find, Kind: c.QueryParam("kind"), Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, x := range list {
			rows[i] = []string{x.Code, x.Name, x.Kind, strconv.FormatBool(x.Counted), x.Unit, strconv.Itoa(x.OnHand), strconv.Itoa(x.PutAside), strconv.Itoa(x.LowMark), strconv.FormatBool(x.RunsLow())}
		}
		return replyCSV(c, "items", []string{"code", "name", "kind", "counted", "unit", "on_hand", "put_aside", "low_mark", "low"}, rows)
	}
	out := api.ItemList{Items: make([]api.Item, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = itemOf(c, x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleItemsLow(c echo.Context) error {
	list, err := s.Timber.ItemsLow(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.ItemList{Items: make([]api.Item, len(list))}
	for i, x := range list {
		out.Items[i] = itemOf(c, x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleItem(c echo.Context) error {
	x, err := s.Timber.ItemGet(c.Request().Context(), pathID(c, "id"))
	return s.replyItem(c, http.StatusOK, x, err)
}

func (s *Server) replyItem(c echo.Context, status int, x timber.Item, err error) error {
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, itemOf(c, x))
}

func (s *Server) handleItemAdd(c echo.Context) error {
	return s.putItem(c, timber.Item{Counted: true}, http.StatusCreated)
}

func (s *Server) handleItemChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	was, err := s.Timber.ItemGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	was.Version = version
	return s.putItem(c, was, http.StatusOK)
}

func (s *Server) putItem(c echo.Context, was timber.Item, status int) error {
	var in api.ItemNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x := timber.Item{ID: was.ID, Version: was.Version, Code: in.Code, Name: in.Name, Kind: string(in.Kind), Counted: was.Counted, Unit: val(in.Unit),
		CostMinor: costIn(c, in.CostMinor, was.CostMinor), SupplierID: in.SupplierID, LeadDays: in.LeadDays, LowMark: val(in.LowMark), Low: was.Low, OnHand: was.OnHand,
		PutAwayAt: putAwayAt(val(in.PutAway), was.PutAwayAt, s.DB.Now())}
	if in.Counted != nil {
		x.Counted = *in.Counted
	}
	x, err := s.Timber.ItemSave(c.Request().Context(), x)
	return s.replyItem(c, status, x, err)
}

func (s *Server) handleItemLow(c echo.Context) error {
	var in api.ItemLow
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Timber.ItemLow(c.Request().Context(), pathID(c, "id"), in.Low)
	return s.replyItem(c, http.StatusOK, x, err)
}

func (s *Server) handleItemMoves(c echo.Context) error {
	return s.replyMoves(c, claims.Item(pathID(c, "id")))
}

func itemOf(c echo.Context, x timber.Item) api.Item {
	return api.Item{ID: x.ID, Version: x.Version, Code: x.Code, Name: x.Name, Kind: x.Kind, Counted: x.Counted, Unit: x.Unit, CostMinor: costOut(c, x.CostMinor), SupplierID: x.SupplierID,
		ComingDays: x.ComingDays, LowMark: x.LowMark, Low: x.RunsLow(), OnHand: x.OnHand, PutAside: x.PutAside, Meant: x.Meant, Free: x.Free()}
}
