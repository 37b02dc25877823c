package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
)

func (s *Server) handleColonyDescent(c echo.Context) error {
	d, err := s.Apiary.DescentOf(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.ColonyDescent{ColonyID: d.ColonyID, LeftOut: d.LeftOut, Kin: []api.ColonyKin{}, Ties: []api.ColonyTie{}}
	for _, k := range d.Kin {
		out.Kin = append(out.Kin, api.ColonyKin{ColonyID: k.ColonyID, Number: k.Number, Name: k.Name, Step: k.Step, Stands: k.Stands(), Words: k.Words(), BeganOn: dayOut(k.BeganOn), BeganAbout: some(k.BeganAbout)})
	}
	for _, t := range d.Ties {
		out.Ties = append(out.Ties, api.ColonyTie{ColonyID: t.ColonyID, ParentID: t.ParentID, Kind: t.Kind, HappenedOn: dayOut(t.HappenedOn)})
	}
	return reply(c, http.StatusOK, out)
}
