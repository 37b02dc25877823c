package rest

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
)

func (s *Server) registerMovementRoutes(g *echo.Group) {
	g.GET("/movements", s.handleMovementList)
	g.GET("/movements/record", s.handleMovementRecord)
	g.POST("/movements/:id/permit", s.handleMovementPermit)
	g.POST("/colonies/:id/place", s.handleColonyPlace)
}

// movementSpan reads the first and the last day that are asked for.
func movementSpan(c echo.Context) (from, to time.Time, err error) {
	for name, day := range map[string]*time.Time{"from": &from, "to": &to} {
		if *day, err = time.Parse(time.DateOnly, c.QueryParam(name)); err != nil {
			return from, to, fault.Bad("/"+name, "This must be a date such as 2026-03-14.")
		}
	}
	return from, to, nil
}

func (s *Server) handleMovementList(c echo.Context) error {
	from, to, err := movementSpan(c)
	if err != nil {
		return err
	}
	record, err := s.Answer.Movements(c.Request().Context(), from, to)
	if err != nil {
		return err
	}
	if listOf(c).CSV {
		set, err := s.House.SettingsGet(c.Request().Context())
		if err != nil {
			return err
		}
		rows := make([][]string, len(record.List))
		for i, m := range record.List {
			rows[i] = []string{m.Number, m.FromPlace, m.ToPlace, m.HappenedAt.In(set.Location()).Format(time.RFC3339), m.Note, m.Species, m.ToName, "1", m.PermitNumber}
		}
		return replyCSV(c, "movements", []string{"colony", "from", "to", "at", "note", "species", "to_whom", "how_many", "permit_number"}, rows)
	}
	out := api.MovementList{Items: make([]api.Movement, len(record.List))}
	for i, m := range record.List {
		out.Items[i] = api.Movement{ID: m.ID, ColonyID: m.ColonyID, Number: m.Number, Species: m.Species, FromPlace: m.FromPlace, ToPlace: m.ToPlace, ToWhom: some(m.ToName),
			PermitNumber: some(m.PermitNumber), HappenedAt: m.HappenedAt, RecordedAt: m.RecordedAt, Note: m.Note}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleMovementRecord(c echo.Context) error {
	from, to, err := movementSpan(c)
	if err != nil {
		return err
	}
	pdf, err := s.Answer.MovementRecord(c.Request().Context(), from, to)
	return replySheet(c, pdf, "movements-"+answer.SpanText(from, to), err)
}

func (s *Server) handleMovementPermit(c echo.Context) error {
	var in api.MovementPermit
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Apiary.MovementPermit(c.Request().Context(), pathID(c, "id"), in.PermitNumber); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handleColonyPlace(c echo.Context) error {
	var in api.BoxPlaceNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Answer.ColonyElsewhere(c.Request().Context(), moveOf(s, pathID(c, "id"), in))
	if err != nil {
		return err
	}
	return s.replyColony(c, http.StatusOK, x)
}

// moveOf is a place as it came, for a colony or for a box whose bees go along.
func moveOf(s *Server, colony int64, in api.BoxPlaceNew) apiary.Move {
	return apiary.Move{ColonyID: colony, SiteID: in.SiteID, Place: val(in.Place), At: s.happened(in.At), PermitNumber: val(in.PermitNumber), PermitID: in.PermitID, Note: val(in.Note)}
}
