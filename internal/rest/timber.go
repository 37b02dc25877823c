package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/timber"
)

func (s *Server) registerTimberRoutes(g *echo.Group) {
	g.GET("/timber-species", s.handleTimberSpeciesList)
	g.POST("/timber-species", s.handleTimberSpeciesAdd)
	g.GET("/timber-species/:id", s.handleTimberSpecies)
	g.PUT("/timber-species/:id", s.handleTimberSpeciesChange)
	g.GET("/board-sizes", s.handleSizeList)
	g.POST("/board-sizes", s.handleSizeAdd)
	g.GET("/suppliers", s.handleSupplierList)
	g.POST("/suppliers", s.handleSupplierAdd)
	g.GET("/suppliers/:id", s.handleSupplier)
	g.PUT("/suppliers/:id", s.handleSupplierChange)
	s.registerLogRoutes(g)
	s.registerPackRoutes(g)
	s.registerDressRoutes(g)
	s.registerStockRoutes(g)
	s.registerItemRoutes(g)
	s.registerMillRoutes(g)
}

// prices reports whether the one who asks may see costs.
func prices(c echo.Context) bool { return person(c).May(access.Prices) }

// costIn gives a cost of a request; who may not see costs leaves it as it was.
func costIn(c echo.Context, in *int64, was int64) int64 {
	if in == nil || !prices(c) {
		return was
	}
	return *in
}

// costOut gives a cost to who may see it.
func costOut(c echo.Context, minor int64) *int64 {
	if !prices(c) {
		return nil
	}
	return &minor
}

func dec(v float64) decimal.Decimal { return decimal.NewFromFloat(v) }

func decIn(v *float64) *decimal.Decimal {
	if v == nil {
		return nil
	}
	d := dec(*v)
	return &d
}

func numOut(d *decimal.Decimal) *float64 {
	if d == nil {
		return nil
	}
	v := d.InexactFloat64()
	return &v
}

// putAwayAt keeps when a record was put away, or notes that it is now.
func putAwayAt(away bool, was *time.Time, now time.Time) *time.Time {
	switch {
	case !away:
		return nil
	case was != nil:
		return was
	}
	return &now
}

// happened gives when something happened: now, where the request does not say.
func (s *Server) happened(at *time.Time) time.Time {
	if at == nil {
		return s.DB.Now()
	}
	return at.UTC()
}

func (s *Server) handleTimberSpeciesList(c echo.Context) error {
	list, err := s.Timber.SpeciesList(c.Request().Context(), false)
	if err != nil {
		return err
	}
	out := api.TimberSpeciesList{Items: make([]api.TimberSpecies, len(list))}
	for i, x := range list {
		out.Items[i] = timberSpeciesOf(c, x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleTimberSpecies(c echo.Context) error {
	x, err := s.Timber.SpeciesGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, x.Version, timberSpeciesOf(c, x))
}

func (s *Server) handleTimberSpeciesAdd(c echo.Context) error {
	return s.putTimberSpecies(c, timber.Species{}, http.StatusCreated)
}

func (s *Server) handleTimberSpeciesChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	was, err := s.Timber.SpeciesGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	was.Version = version
	return s.putTimberSpecies(c, was, http.StatusOK)
}

func (s *Server) putTimberSpecies(c echo.Context, was timber.Species, status int) error {
	var in api.TimberSpeciesNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Timber.SpeciesSave(c.Request().Context(), timber.Species{ID: was.ID, Version: was.Version, Code: in.Code, Name: in.Name, Botanical: val(in.Botanical),
		DensityKgM3: decIn(in.DensityKgM3), SpecificGravity: decIn(in.SpecificGravity), RadialPct: decIn(in.RadialPct), TangentialPct: decIn(in.TangentialPct),
		ShrinkageToMCPct: dec(val(in.ShrinkageToMcPct)), BorersLikeSapwood: val(in.BorersLikeSapwood), MetreCostMinor: costIn(c, in.MetreCostMinor, was.MetreCostMinor),
		Source: val(in.Source), GreenMCPct: decIn(in.GreenMcPct), Slowness: decIn(in.Slowness), MeterTable: meterIn(val(in.MeterTable)), MeterSource: val(in.MeterSource), PutAwayAt: putAwayAt(val(in.PutAway), was.PutAwayAt, s.DB.Now())})
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, timberSpeciesOf(c, x))
}

func timberSpeciesOf(c echo.Context, x timber.Species) api.TimberSpecies {
	return api.TimberSpecies{ID: x.ID, Version: x.Version, Code: x.Code, Name: x.Name, Botanical: x.Botanical, DensityKgM3: numOut(x.DensityKgM3),
		SpecificGravity: numOut(x.SpecificGravity), RadialPct: numOut(x.RadialPct), TangentialPct: numOut(x.TangentialPct),
		ShrinkageToMcPct: x.ShrinkageToMCPct.InexactFloat64(), BorersLikeSapwood: x.BorersLikeSapwood, MetreCostMinor: costOut(c, x.MetreCostMinor),
		Source: x.Source, GreenMcPct: numOut(x.GreenMCPct), Slowness: numOut(x.Slowness), MeterTable: meterOut(x.MeterTable), MeterSource: x.MeterSource, PutAway: x.PutAwayAt != nil}
}

func meterIn(list []api.MeterStep) []timber.MeterStep {
	out := make([]timber.MeterStep, len(list))
	for i, m := range list {
		out[i] = timber.MeterStep{ShowsPct: dec(m.ShowsPct), TruePct: dec(m.TruePct)}
	}
	return out
}

func meterOut(list []timber.MeterStep) []api.MeterStep {
	out := make([]api.MeterStep, len(list))
	for i, m := range list {
		out[i] = api.MeterStep{ShowsPct: m.ShowsPct.InexactFloat64(), TruePct: m.TruePct.InexactFloat64()}
	}
	return out
}

func (s *Server) handleSizeList(c echo.Context) error {
	list, err := s.Timber.SizeList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.BoardSizeList{Items: make([]api.BoardSize, len(list))}
	for i, x := range list {
		out.Items[i] = sizeOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleSizeAdd(c echo.Context) error {
	var in api.BoardSizeNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Timber.SizeAdd(c.Request().Context(), dec(in.WidthMm), dec(in.ThicknessMm))
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, sizeOf(x))
}

func sizeOf(x timber.Size) api.BoardSize {
	return api.BoardSize{ID: x.ID, WidthMm: x.WidthMM.InexactFloat64(), ThicknessMm: x.ThicknessMM.InexactFloat64()}
}

func (s *Server) handleSupplierList(c echo.Context) error {
	list, err := s.Timber.SupplierList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.SupplierList{Items: make([]api.Supplier, len(list))}
	for i, x := range list {
		out.Items[i] = supplierOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleSupplier(c echo.Context) error {
	x, err := s.Timber.SupplierGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, x.Version, supplierOf(x))
}

func (s *Server) handleSupplierAdd(c echo.Context) error {
	return s.putSupplier(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleSupplierChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putSupplier(c, pathID(c, "id"), version, http.StatusOK)
}

// standardLead is the days from an order to its delivery where nobody says; our estimate.
const standardLead = 7

func (s *Server) putSupplier(c echo.Context, id int64, version, status int) error {
	var in api.SupplierNew
	if err := bind(c, &in); err != nil {
		return err
	}
	lead := standardLead
	if in.LeadDays != nil {
		lead = *in.LeadDays
	}
	x, err := s.Timber.SupplierSave(c.Request().Context(), timber.Supplier{ID: id, Version: version, Name: in.Name, Phone: val(in.Phone), LeadDays: lead,
		Notes: val(in.Notes), PutAwayAt: putAwayAt(val(in.PutAway), nil, s.DB.Now())})
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, supplierOf(x))
}

func supplierOf(x timber.Supplier) api.Supplier {
	return api.Supplier{ID: x.ID, Version: x.Version, Name: x.Name, Phone: x.Phone, LeadDays: x.LeadDays, Notes: x.Notes, PutAway: x.PutAwayAt != nil}
}
