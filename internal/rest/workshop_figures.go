package rest

import (
	"math"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
)

func (s *Server) handleWorkshop(c echo.Context) error {
	set, err := s.House.SettingsGet(c.Request().Context())
	if err != nil {
		return err
	}
	return s.replyWorkshop(c, set)
}

func (s *Server) replyWorkshop(c echo.Context, set house.Settings) error {
	guesses, err := s.House.GuessList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.Workshop{Version: set.Version, Figures: figuresOf(set), Guesses: []string{}}
	for subject := range guesses {
		if name, ok := strings.CutPrefix(subject, "workshop."); ok {
			out.Guesses = append(out.Guesses, name)
		}
	}
	slices.Sort(out.Guesses)
	return replyVersion(c, http.StatusOK, set.Version, out)
}

func (s *Server) handleWorkshopPut(c echo.Context) error {
	var in api.WorkshopFigures
	if err := bind(c, &in); err != nil {
		return err
	}
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	set, err := s.House.SettingsGet(c.Request().Context())
	if err != nil {
		return err
	}
	set.Version = version
	takeFigures(&set, in)
	if in.LabelSheet != nil {
		if err := answer.SetLabelSheet(&set, labelSheetIn(*in.LabelSheet)); err != nil {
			return err
		}
	}
	if set, err = s.House.SettingsChange(c.Request().Context(), set); err != nil {
		return err
	}
	return s.replyWorkshop(c, set)
}

// labelSheetOf gives the sheet of labels; nil when what is stored cannot be read.
func labelSheetOf(s house.Settings) *api.LabelSheet {
	l, err := answer.LabelSheet(s)
	if err != nil {
		return nil
	}
	gap := func(step, size float64) float64 { return math.Max(0, math.Round((step-size)*100)/100) }
	return &api.LabelSheet{Columns: l.Columns, Rows: l.Rows, LeftMm: l.LeftMM, TopMm: l.TopMM, LabelWidthMm: l.LabelWidthMM, LabelHeightMm: l.LabelHeightMM,
		GapAcrossMm: gap(l.StepXMM, l.LabelWidthMM), GapDownMm: gap(l.StepYMM, l.LabelHeightMM), PageWidthMm: l.PageWidthMM, PageHeightMm: l.PageHeightMM, Outline: l.Outline}
}

func labelSheetIn(l api.LabelSheet) paper.LabelSheet {
	return paper.LabelSheet{Columns: l.Columns, Rows: l.Rows, LeftMM: l.LeftMm, TopMM: l.TopMm, LabelWidthMM: l.LabelWidthMm, LabelHeightMM: l.LabelHeightMm,
		StepXMM: l.LabelWidthMm + l.GapAcrossMm, StepYMM: l.LabelHeightMm + l.GapDownMm, PageWidthMM: l.PageWidthMm, PageHeightMM: l.PageHeightMm, Outline: l.Outline}
}

func figuresOf(s house.Settings) api.WorkshopFigures {
	return api.WorkshopFigures{
		LabelSheet: labelSheetOf(s),
		Name:       s.Name, MakerName: s.MakerName, Phone: s.Phone, Email: s.Email, Address: s.Address, Town: s.Town, Region: s.Region, Postcode: s.Postcode,
		Country: s.Country, Latitude: s.Latitude, Longitude: s.Longitude, TimeZone: s.TimeZone, Currency: s.Currency, MinorDigits: s.MinorDigits,
		BusinessNumber: s.BusinessNumber, PublicURL: s.PublicURL, QuoteValidDays: s.QuoteValidDays, DepositPct: s.DepositPct.InexactFloat64(),
		DepositIs: api.WorkshopFiguresDepositIs(s.DepositIs), OverheadPct: s.OverheadPct.InexactFloat64(), MarginPct: s.MarginPct.InexactFloat64(),
		HourCostMinor: s.HourCostMinor, DeliveryKmCostMinor: s.DeliveryKMCostMinor, RoundToMinor: s.RoundToMinor, LengthStepMm: s.LengthStepMM,
		SawKerfMm: s.SawKerfMM.InexactFloat64(), MillKerfMm: s.MillKerfMM.InexactFloat64(), MillLimitMm: s.MillLimitMM.InexactFloat64(),
		TrimMm: s.TrimMM.InexactFloat64(), KeepOffcutMm: s.KeepOffcutMM, Guarantee: s.Guarantee, WaysToPay: s.WaysToPay, NotIncluded: s.NotIncluded,
		CouldDelay: s.CouldDelay, Terms: s.Terms, FollowUpDays: s.FollowUpDays,
		PlaningMm: s.PlaningMM.InexactFloat64(), StraightenWidthMm: s.StraightenWidthMM.InexactFloat64(), StraightenThicknessMm: s.StraightenThicknessMM.InexactFloat64(),
		SawVariationMm: s.SawVariationMM.InexactFloat64(), BoxMcPct: s.BoxMCPct.InexactFloat64(), SawnGrain: api.Grain(s.SawnGrain), ShortBoardMm: s.ShortBoardMM,
		MillHourCostMinor: s.MillHourCostMinor, MillMinM3: s.MillMinM3, DryingM3MonthMinor: s.DryingM3MonthMinor,
	}
}

func takeFigures(s *house.Settings, f api.WorkshopFigures) {
	s.Name, s.MakerName, s.Phone, s.Email, s.Address, s.Town, s.Region, s.Postcode = f.Name, f.MakerName, f.Phone, f.Email, f.Address, f.Town, f.Region, f.Postcode
	s.Country, s.Latitude, s.Longitude, s.TimeZone, s.Currency, s.MinorDigits = f.Country, f.Latitude, f.Longitude, f.TimeZone, f.Currency, f.MinorDigits
	s.BusinessNumber, s.PublicURL, s.QuoteValidDays, s.DepositPct = f.BusinessNumber, f.PublicURL, f.QuoteValidDays, places(f.DepositPct, 2)
	s.DepositIs, s.OverheadPct, s.MarginPct = string(f.DepositIs), places(f.OverheadPct, 2), places(f.MarginPct, 2)
	s.HourCostMinor, s.DeliveryKMCostMinor, s.RoundToMinor, s.LengthStepMM = f.HourCostMinor, f.DeliveryKmCostMinor, f.RoundToMinor, f.LengthStepMm
	s.SawKerfMM, s.MillKerfMM, s.MillLimitMM, s.TrimMM = places(f.SawKerfMm, 1), places(f.MillKerfMm, 1), places(f.MillLimitMm, 1), places(f.TrimMm, 1)
	s.KeepOffcutMM, s.Guarantee, s.WaysToPay, s.NotIncluded = f.KeepOffcutMm, f.Guarantee, f.WaysToPay, f.NotIncluded
	s.CouldDelay, s.Terms, s.FollowUpDays = f.CouldDelay, f.Terms, f.FollowUpDays
	s.PlaningMM, s.StraightenWidthMM, s.StraightenThicknessMM, s.SawVariationMM = places(f.PlaningMm, 1), places(f.StraightenWidthMm, 1), places(f.StraightenThicknessMm, 1), places(f.SawVariationMm, 1)
	s.BoxMCPct, s.SawnGrain, s.ShortBoardMM, s.MillHourCostMinor, s.MillMinM3 = places(f.BoxMcPct, 1), string(f.SawnGrain), f.ShortBoardMm, f.MillHourCostMinor, f.MillMinM3
	s.DryingM3MonthMinor = f.DryingM3MonthMinor
}

// places rounds a number of a request to the decimals the record keeps.
func places(v float64, n int32) decimal.Decimal {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return decimal.Zero
	}
	return decimal.NewFromFloat(v).Round(n)
}
