package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/timber"
)

func (s *Server) registerPurchaseRoutes(g *echo.Group) {
	g.GET("/purchases", s.handlePurchaseList)
	g.POST("/purchases", s.handlePurchaseOrder)
	g.GET("/purchases/:id", s.handlePurchase)
	g.PUT("/purchases/:id", s.handlePurchaseChange)
	g.POST("/purchases/:id/receive", s.handlePurchaseReceive)
}

func (s *Server) handlePurchaseList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Timber.PurchaseList(c.Request().Context(), c.QueryParam("open") == "true", q.Limit, q.After)
	if err != nil {
		return err
	}
	out := api.PurchaseList{Items: make([]api.Purchase, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = purchaseOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePurchase(c echo.Context) error {
	x, err := s.Timber.PurchaseGet(c.Request().Context(), pathID(c, "id"))
	return s.replyPurchase(c, http.StatusOK, x, err)
}

func (s *Server) replyPurchase(c echo.Context, status int, x timber.Purchase, err error) error {
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, purchaseOf(x))
}

func (s *Server) handlePurchaseOrder(c echo.Context) error {
	var in api.PurchaseNew
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(&in.OrderedOn, "/ordered_on")
	if err != nil {
		return err
	}
	expected, err := dayIn(in.ExpectedOn, "/expected_on")
	if err != nil {
		return err
	}
	p := timber.Purchase{SupplierID: in.SupplierID, OrderedOn: *on, ExpectedOn: expected, TheirNumber: val(in.TheirNumber), Notes: val(in.Notes)}
	for _, l := range in.Lines {
		line := timber.PurchaseLine{ItemID: l.ItemID, LotID: l.LotID, Brings: string(val(l.Brings)), Description: val(l.Description), Quantity: l.Quantity,
			CostExTaxMinor: l.CostExTaxMinor, TaxMinor: val(l.TaxMinor), TaxCode: val(l.TaxCode)}
		line.Timber = timber.Timber{SpeciesID: l.SpeciesID, WidthMM: decIn(l.WidthMm), ThicknessMM: decIn(l.ThicknessMm), LengthMM: l.LengthMm, SmallEndMM: decIn(l.SmallEndMm), LargeEndMM: decIn(l.LargeEndMm), Place: val(l.Place)}
		if l.Grade != nil {
			line.Grade = (*string)(l.Grade)
		}
		p.Lines = append(p.Lines, line)
	}
	x, err := s.Timber.PurchaseOrder(c.Request().Context(), p)
	return s.replyPurchase(c, http.StatusCreated, x, err)
}

func (s *Server) handlePurchaseReceive(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.PurchaseReceive
	if err := bind(c, &in); err != nil {
		return err
	}
	came := make([]timber.Received, len(val(in.Lines)))
	for i, l := range val(in.Lines) {
		came[i] = timber.Received{LineID: l.LineID, Quantity: l.Quantity}
	}
	x, err := s.Timber.PurchaseReceive(c.Request().Context(), pathID(c, "id"), version, s.happened(in.ReceivedAt), came...)
	return s.replyPurchase(c, http.StatusOK, x, err)
}

func (s *Server) handlePurchaseChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.PurchaseChange
	if err := bind(c, &in); err != nil {
		return err
	}
	expected, err := dayIn(in.ExpectedOn, "/expected_on")
	if err != nil {
		return err
	}
	paid, err := dayIn(in.PaidOn, "/paid_on")
	if err != nil {
		return err
	}
	x, err := s.Timber.PurchaseChange(c.Request().Context(), pathID(c, "id"), version, expected, paid)
	return s.replyPurchase(c, http.StatusOK, x, err)
}

func purchaseOf(x timber.Purchase) api.Purchase {
	out := api.Purchase{ID: x.ID, Version: x.Version, SupplierID: x.SupplierID, Supplier: x.SupplierName, OrderedOn: *dayOut(&x.OrderedOn), ExpectedOn: dayOut(x.ExpectedOn),
		ReceivedAt: x.ReceivedAt, PaidOn: dayOut(x.PaidOn), TheirNumber: x.TheirNumber, Notes: x.Notes}
	if x.Lines != nil {
		lines := make([]api.PurchaseLine, len(x.Lines))
		for i, l := range x.Lines {
			lines[i] = api.PurchaseLine{ID: l.ID, Received: l.Received, Brings: l.Brings, SpeciesID: l.SpeciesID, WidthMm: numOut(l.WidthMM), ThicknessMm: numOut(l.ThicknessMM), LengthMm: l.LengthMM,
				Grade: l.Grade, SmallEndMm: numOut(l.SmallEndMM), LargeEndMm: numOut(l.LargeEndMM), Place: &l.Place, Species: &l.SpeciesName, ItemID: l.ItemID, LotID: l.LotID, Description: l.Description, Quantity: l.Quantity, CostExTaxMinor: l.CostExTaxMinor, TaxMinor: l.TaxMinor, TaxCode: l.TaxCode}
		}
		out.Lines = &lines
	}
	return out
}
