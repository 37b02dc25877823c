package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

func (s *Server) registerWeatherRoutes(g *echo.Group) {
	g.GET("/weather", s.replyWeather)
	g.POST("/weather", s.handleRainDaysSet)
	g.POST("/weather/days", s.handleWeatherMark)
	g.GET("/models/:id/dry-operations", s.handleDryOperations)
	g.POST("/models/:id/dry-operations", s.handleDryOperationsSet)
}

func (s *Server) replyWeather(c echo.Context) error {
	w, err := s.Workshop.WeatherGet(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.Weather{RainDays: w.RainDays[:], DryChancePct: make([]float64, 12), Guess: w.Guess, Days: make([]api.WeatherDay, len(w.Marked))}
	for m := range out.DryChancePct {
		out.DryChancePct[m] = 100 * w.DryChance(m+1)
	}
	for i, d := range w.Marked {
		out.Days[i] = api.WeatherDay{On: d.On.Format(time.DateOnly), Dry: d.Dry}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleRainDaysSet(c echo.Context) error {
	var in api.RainDays
	if err := bind(c, &in); err != nil {
		return err
	}
	var rain [12]float64
	if len(in.RainDays) != len(rain) {
		return fault.Bad("/rain_days", "Write twelve figures, January first.")
	}
	copy(rain[:], in.RainDays)
	if err := s.Workshop.RainDaysSet(c.Request().Context(), rain); err != nil {
		return err
	}
	return s.replyWeather(c)
}

func (s *Server) handleWeatherMark(c echo.Context) error {
	var in api.WeatherMark
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(&in.On, "/on")
	if err != nil {
		return err
	}
	if on == nil {
		return fault.Bad("/on", "Say which day.")
	}
	var dry *bool
	if in.Weather != api.WeatherMarkWeatherUnknown {
		is := in.Weather == api.WeatherMarkWeatherDry
		dry = &is
	}
	if err := s.Workshop.WeatherMark(c.Request().Context(), *on, dry); err != nil {
		return err
	}
	return s.replyWeather(c)
}

func (s *Server) handleDryOperations(c echo.Context) error {
	list, err := s.Workshop.DryOperations(c.Request().Context(), pathID(c, "id"))
	return replyDry(c, list, err)
}

func (s *Server) handleDryOperationsSet(c echo.Context) error {
	var in api.DryOperationsNew
	if err := bind(c, &in); err != nil {
		return err
	}
	list, err := s.Workshop.DryOperationsSet(c.Request().Context(), pathID(c, "id"), in.Operations)
	return replyDry(c, list, err)
}

func replyDry(c echo.Context, list []workshop.DryOperation, err error) error {
	if err != nil {
		return err
	}
	out := api.DryOperationList{Operations: make([]api.DryOperation, len(list))}
	for i, o := range list {
		out.Operations[i] = api.DryOperation{Operation: o.Name, NeedsDry: o.Dry}
	}
	return reply(c, http.StatusOK, out)
}
