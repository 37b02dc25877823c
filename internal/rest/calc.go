package rest

import (
	"encoding/json"
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/calc/topics"
	"kerfbook/internal/fault"
)

func (s *Server) registerCalcRoutes(g *echo.Group) {
	g.GET("/calc", handleTopicList)
	g.POST("/calc/:topic", handleCalculate)
}

func handleTopicList(c echo.Context) error {
	all := topics.All()
	out := api.TopicList{Items: make([]api.Topic, len(all))}
	for i, t := range all {
		out.Items[i] = api.Topic{Name: t.Name, Summary: t.Summary}
		if err := json.Unmarshal([]byte(t.Example), &out.Items[i].Example); err != nil {
			return err
		}
	}
	return reply(c, http.StatusOK, out)
}

func handleCalculate(c echo.Context) error {
	t, ok := topics.Find(c.Param("topic"))
	if !ok {
		return fault.New(fault.NotFound, "There is no calculation of this name. GET /api/v1/calc lists them.")
	}
	body, _ := c.Get(bodyIn).([]byte)
	out, err := t.Run(c.Request().Context(), body)
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, out)
}
