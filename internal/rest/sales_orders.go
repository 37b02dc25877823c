package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/sales"
)

func (s *Server) registerOrderRoutes(g *echo.Group) {
	g.GET("/orders", s.handleOrderList)
	g.GET("/orders/:id", s.handleOrder)
	g.POST("/order-units/:id/promise", s.handlePromiseChange)
}

func (s *Server) handleOrderList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Sales.OrderList(c.Request().Context(), sales.OrderFilter{Find: q.Find, OpenOnly: c.QueryParam("open") == "true", PartyID: queryInt(c, "party_id", 0), Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, o := range list {
			rows[i] = []string{o.Number, o.HappenedAt.UTC().Format(time.RFC3339), o.PartyName, o.State(), strconv.FormatInt(o.PriceMinor, 10), strconv.FormatInt(o.PaidMinor, 10),
				strconv.FormatInt(o.BalanceMinor(), 10), val(dayOut(o.NextOn))}
		}
		return replyCSV(c, "orders", []string{"number", "happened_at", "party", "state", "price_minor", "paid_minor", "balance_minor", "next_on"}, rows)
	}
	out := api.OrderList{Items: make([]api.Order, len(list)), Next: next(cursor)}
	for i, o := range list {
		out.Items[i] = orderOf(o)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleOrder(c echo.Context) error {
	return s.showOrder(c, http.StatusOK, pathID(c, "id"))
}

func (s *Server) showOrder(c echo.Context, status int, id int64) error {
	o, err := s.Sales.OrderGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return replyVersion(c, status, o.Version, orderOf(o))
}

func (s *Server) handlePromiseChange(c echo.Context) error {
	var in api.PromiseChange
	if err := bind(c, &in); err != nil {
		return err
	}
	day, err := dayIn(&in.Day, "/day")
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	if err := s.Sales.PromiseChange(ctx, pathID(c, "id"), string(in.Part), day, val(in.Reason)); err != nil {
		return err
	}
	o, err := s.Sales.OrderOfUnit(ctx, pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, o.Version, orderOf(o))
}

func orderOf(o sales.Order) api.Order {
	out := api.Order{ID: o.ID, Version: o.Version, Number: o.Number, State: api.OrderState(o.State()), PartyID: o.PartyID, PartyName: o.PartyName, SiteID: o.SiteID, QuoteID: o.QuoteID,
		HappenedAt: o.HappenedAt, TheirNumber: o.TheirNumber, TypedIn: o.TypedIn, Notes: o.Notes, PriceMinor: o.PriceMinor, DepositMinor: o.DepositMinor, PaidMinor: o.PaidMinor,
		BalanceMinor: o.BalanceMinor(), DepositEnd: o.DepositEnd, DepositReturnedMinor: o.DepositReturnedMinor, Units: o.Units, Done: o.Done, Gone: o.Gone, NextOn: dayOut(o.NextOn),
		Lines: make([]api.OrderLine, len(o.Lines))}
	for i, l := range o.Lines {
		out.Lines[i] = orderLineOf(l)
	}
	return out
}

func orderLineOf(l sales.OrderLine) api.OrderLine {
	v := lineOf(l.Line)
	o := api.OrderLine{ID: v.ID, Kind: v.Kind, Description: v.Description, Quantity: v.Quantity, UnitPriceMinor: v.UnitPriceMinor, TaxCode: v.TaxCode, TaxPct: v.TaxPct,
		PriceExTaxMinor: v.PriceExTaxMinor, TaxMinor: v.TaxMinor, PriceMinor: v.PriceMinor, CostMinor: v.CostMinor, ModelRevisionID: v.ModelRevisionID, TimberSpeciesID: v.TimberSpeciesID,
		BeeSpeciesID: v.BeeSpeciesID, ItemID: v.ItemID, WithColony: v.WithColony, OptionIds: v.OptionIds, Units: make([]api.OrderUnit, len(l.Units))}
	for i, u := range l.Units {
		o.Units[i] = api.OrderUnit{ID: u.ID, N: u.N, State: u.State(), Ready: u.Ready(), WantsBox: u.WantsBox, WantsColony: u.WantsColony, OwnBox: u.OwnBox,
			PromisedBoxOn: dayOut(u.PromisedBoxOn), PromisedColonyOn: dayOut(u.PromisedColonyOn), SiteID: u.SiteID, BoxID: u.BoxID, BoxSerial: u.BoxSerial, ColonyID: u.ColonyID,
			ColonyNumber: u.ColonyNumber, BuildID: u.BuildID, BuildNumber: u.BuildNumber, HandedOverAt: u.HandedOverAt, ReturnedAt: u.ReturnedAt, CancelledAt: u.CancelledAt,
			CancelledBecause: some(u.CancelledBecause)}
	}
	return o
}
