package rest

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

func (s *Server) registerPackRoutes(g *echo.Group) {
	g.GET("/climates", s.handleClimateList)
	g.POST("/climates", s.handleClimateAdd)
	g.PUT("/climates/:id", s.handleClimateChange)
	g.GET("/packs", s.handlePackList)
	g.POST("/packs", s.handlePackStack)
	g.GET("/packs/:id", s.handlePack)
	g.POST("/packs/:id/readings", s.handlePackRead)
	g.POST("/packs/:id/moves", s.handlePackMove)
	g.DELETE("/packs/:id/moves/:move", s.handlePackMoveBack)
	g.PUT("/packs/:id/target", s.handlePackTarget)
	g.POST("/packs/:id/reckon", s.handlePackReckon)
	g.GET("/packs/:id/forecast", s.handlePackForecast)
	g.PUT("/packs/:id/dates", s.handlePackDates)
}

func (s *Server) handleClimateList(c echo.Context) error {
	list, err := s.Timber.ClimateList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.ClimateList{Items: make([]api.Climate, len(list))}
	for i, x := range list {
		out.Items[i] = climateOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleClimateAdd(c echo.Context) error {
	return s.putClimate(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleClimateChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putClimate(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putClimate(c echo.Context, id int64, version, status int) error {
	var in api.ClimateNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x := timber.Climate{ID: id, Version: version, Name: in.Name}
	if in.Kind != nil {
		x.Kind = string(*in.Kind)
	}
	if len(in.Months) != len(x.Months) {
		return fault.Bad("/months", "Write twelve months, January first.")
	}
	for i, m := range in.Months {
		x.Months[i] = timber.Month{TemperatureC: m.TemperatureC, HumidityPct: m.HumidityPct}
	}
	x, err := s.Timber.ClimateSave(c.Request().Context(), x)
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, climateOf(x))
}

func climateOf(x timber.Climate) api.Climate {
	out := api.Climate{ID: x.ID, Version: x.Version, Name: x.Name, Kind: x.Kind, Months: make([]api.ClimateMonth, len(x.Months))}
	for i, m := range x.Months {
		out.Months[i] = api.ClimateMonth{TemperatureC: m.TemperatureC, HumidityPct: m.HumidityPct}
	}
	return out
}

func (s *Server) handlePackList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Timber.PackList(c.Request().Context(), timber.PackFilter{Find: q.Find, Finished: c.QueryParam("finished") == "true", Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, x := range list {
			rows[i] = []string{x.Number, x.SpeciesName, x.WidthMM.String(), x.ThicknessMM.String(), x.Place, val(dayOut(&x.StackedOn)), strconv.Itoa(x.Boards), val(dayOut(x.ReadyOn)), val(dayOut(x.ReadyOnP80))}
		}
		return replyCSV(c, "packs", []string{"number", "timber", "width_mm", "thickness_mm", "place", "stacked_on", "boards", "ready_on", "ready_on_p80"}, rows)
	}
	out := api.PackList{Items: make([]api.Pack, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = packOf(c, x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePack(c echo.Context) error {
	x, err := s.Timber.PackGet(c.Request().Context(), pathID(c, "id"))
	return s.replyPack(c, http.StatusOK, x, err)
}

func (s *Server) replyPack(c echo.Context, status int, x timber.Pack, err error) error {
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, packOf(c, x))
}

func (s *Server) handlePackStack(c echo.Context) error {
	var in api.PackNew
	if err := bind(c, &in); err != nil {
		return err
	}
	stacked, err := dayIn(&in.StackedOn, "/stacked_on")
	if err != nil {
		return err
	}
	p := timber.PackNew{SpeciesID: in.SpeciesID, WidthMM: dec(in.WidthMm), ThicknessMM: dec(in.ThicknessMm), LogID: in.LogID, Place: val(in.Place), ClimateID: in.ClimateID,
		StackedOn: *stacked, StartMCPct: decIn(in.StartMcPct), TargetMCPct: dec(val(in.TargetMcPct)), CostMinor: costIn(c, in.CostMinor, 0), Notes: val(in.Notes), Content: contentIn(in.Content)}
	if in.DressesTo != nil {
		p.DressesTo = &timber.Size{WidthMM: dec(in.DressesTo.WidthMm), ThicknessMM: dec(in.DressesTo.ThicknessMm)}
	}
	x, err := s.Timber.PackStack(c.Request().Context(), p)
	return s.replyPack(c, http.StatusCreated, x, err)
}

const standardGrade = "sound"

func contentIn(list []api.PackContent) []timber.Content {
	out := make([]timber.Content, len(list))
	for i, l := range list {
		out[i] = timber.Content{LengthMM: l.LengthMm, Grade: standardGrade, Count: l.Count}
		if l.Grade != nil {
			out[i].Grade = string(*l.Grade)
		}
	}
	return out
}

func (s *Server) handlePackRead(c echo.Context) error {
	var in api.PackReadingNew
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(&in.ReadOn, "/read_on")
	if err != nil {
		return err
	}
	x, err := s.Timber.PackRead(c.Request().Context(), pathID(c, "id"), timber.Reading{ReadOn: *on, Board: val(in.Board), MeterPct: dec(in.MeterPct), MCPct: dec(val(in.McPct)), Late: val(in.Late)})
	return s.replyPack(c, http.StatusCreated, x, err)
}

func (s *Server) handlePackMove(c echo.Context) error {
	var in api.PackPlaceNew
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(&in.FromOn, "/from_on")
	if err != nil {
		return err
	}
	x, err := s.Timber.PackMove(c.Request().Context(), pathID(c, "id"), timber.PackPlace{FromOn: *on, ClimateID: in.ClimateID, Place: val(in.Place)})
	return s.replyPack(c, http.StatusCreated, x, err)
}

func (s *Server) handlePackMoveBack(c echo.Context) error {
	x, err := s.Timber.PackMoveBack(c.Request().Context(), pathID(c, "id"), pathID(c, "move"))
	return s.replyPack(c, http.StatusOK, x, err)
}

func (s *Server) handlePackTarget(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.PackTarget
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Timber.PackTargetSet(c.Request().Context(), pathID(c, "id"), version, dec(in.TargetMcPct))
	return s.replyPack(c, http.StatusOK, x, err)
}

func (s *Server) handlePackReckon(c echo.Context) error {
	x, err := s.Timber.PackReckon(c.Request().Context(), pathID(c, "id"))
	return s.replyPack(c, http.StatusOK, x, err)
}

func (s *Server) handlePackForecast(c echo.Context) error {
	x, err := s.Timber.PackGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	f, err := s.Timber.PackForecast(c.Request().Context(), x)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, forecastOf(f))
}

func forecastOf(f timber.Forecast) api.PackForecast {
	out := api.PackForecast{Curve: make([]api.PackForecastPoint, len(f.Curve.Points)), Elsewhere: make([]api.PackElsewhere, len(f.Elsewhere))}
	if f.Lack != "" {
		out.Lack = &f.Lack
		return out
	}
	out.Start, out.ReadyOn, out.ReadyOnP80, out.NeverDry = &f.Start, dayOut(f.Curve.ReadyOn), dayOut(f.Curve.ReadyOnP80), f.Curve.Never
	out.ReachableMcPct, out.DriestEmcPct, out.Pace = f.Reachable, &f.Curve.DriestEMCPct, &f.Curve.Pace
	for i, p := range f.Curve.Points {
		out.Curve[i] = api.PackForecastPoint{On: *dayOut(&p.On), McPct: p.MCPct, LowMcPct: p.LowPct, HighMcPct: p.HighPct, EmcPct: p.EMCPct, Chance: p.Chance}
	}
	for i, e := range f.Elsewhere {
		out.Elsewhere[i] = api.PackElsewhere{ClimateID: e.ClimateID, Climate: e.Name, Kind: e.Kind, ReadyOn: dayOut(e.ReadyOn), ReadyOnP80: dayOut(e.ReadyOnP80), NeverDry: e.Never}
	}
	return out
}

func (s *Server) handlePackDates(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.PackDates
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(in.ReadyOn, "/ready_on")
	if err != nil {
		return err
	}
	p80, err := dayIn(in.ReadyOnP80, "/ready_on_p80")
	if err != nil {
		return err
	}
	x, err := s.Timber.PackDatesSet(c.Request().Context(), pathID(c, "id"), version, timber.DryDates{ReadyOn: on, ReadyOnP80: p80, Never: val(in.NeverDry)})
	return s.replyPack(c, http.StatusOK, x, err)
}

func packOf(c echo.Context, x timber.Pack) api.Pack {
	out := api.Pack{ID: x.ID, Version: x.Version, Number: x.Number, SpeciesID: x.SpeciesID, Species: x.SpeciesName, WidthMm: x.WidthMM.InexactFloat64(),
		ThicknessMm: x.ThicknessMM.InexactFloat64(), LogID: x.LogID, Place: x.Place, ClimateID: x.ClimateID, StackedOn: *dayOut(&x.StackedOn), StartMcPct: numOut(x.StartMCPct),
		TargetMcPct: x.TargetMCPct.InexactFloat64(), LatestMcPct: numOut(x.LatestMCPct), ReadyOn: dayOut(x.ReadyOn), ReadyOnP80: dayOut(x.ReadyOnP80), NeverDry: x.NeverDry,
		CostMinor: costOut(c, x.CostMinor), FinishedAt: x.FinishedAt, Boards: x.Boards, MeantBoards: x.MeantBoards, Notes: x.Notes}
	if x.Content != nil {
		content := make([]api.PackLine, len(x.Content))
		for i, l := range x.Content {
			content[i] = api.PackLine{LengthMm: l.LengthMM, Grade: l.Grade, Count: l.Count}
		}
		out.Content = &content
	}
	if x.Readings != nil {
		readings := make([]api.PackReading, len(x.Readings))
		for i, r := range x.Readings {
			readings[i] = api.PackReading{ReadOn: *dayOut(&r.ReadOn), Board: r.Board, MeterPct: r.MeterPct.InexactFloat64(), McPct: r.MCPct.InexactFloat64(),
				Correction: r.Correction, CorrectionSource: r.Source, ReadyOn: dayOut(r.ReadyOn), ReadyOnP80: dayOut(r.ReadyOnP80), NeverDry: r.NeverDry}
		}
		out.Readings = &readings
	}
	if x.Places != nil {
		places := make([]api.PackPlace, len(x.Places))
		for i, m := range x.Places {
			places[i] = api.PackPlace{ID: m.ID, FromOn: *dayOut(&m.FromOn), ClimateID: m.ClimateID, Climate: m.ClimateName, Kind: m.Kind, Place: m.Place}
		}
		out.Places = &places
	}
	return out
}
