package rest

import (
	"encoding/json"
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
)

func (s *Server) registerHouseRoutes(g *echo.Group) {
	g.GET("/history", s.handleHistory)
}

func (s *Server) handleHistory(c echo.Context) error {
	list, err := s.House.HistoryOf(c.Request().Context(), c.QueryParam("table"), queryInt(c, "id", 0), int(queryInt(c, "limit", listStandard)))
	if err != nil {
		return err
	}
	out := api.ChangeList{Items: make([]api.Change, len(list))}
	for i, ch := range list {
		o := api.Change{Deed: api.ChangeDeed(ch.Deed), At: ch.At}
		if ch.ActorName != nil {
			o.Who = *ch.ActorName
		}
		if o.Was, err = object(ch.Was); err != nil {
			return err
		}
		if o.Became, err = object(ch.Became); err != nil {
			return err
		}
		out.Items[i] = o
	}
	return reply(c, http.StatusOK, out)
}

// object gives JSON of the database as an object, nil for none.
func object(raw []byte) (*map[string]any, error) {
	if len(raw) == 0 {
		return nil, nil
	}
	var m map[string]any
	err := json.Unmarshal(raw, &m)
	return &m, err
}
