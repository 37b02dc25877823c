package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/postgres"
)

func (s *Server) registerProgramRoutes(e *echo.Echo) {
	e.GET("/healthz", s.handleHealth)
	e.GET("/version", s.handleVersion)
	e.GET("/api/openapi.yaml", handleContract)
}

func (s *Server) handleHealth(c echo.Context) error {
	if err := s.DB.Ping(c.Request().Context()); err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.Health{Status: api.HealthStatusOk})
}

func (s *Server) handleVersion(c echo.Context) error {
	schema, err := postgres.Latest()
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.Version{Version: s.Version, Schema: schema})
}

func handleContract(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/yaml", api.Contract)
}
