package rest

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
)

// DayLines gives what a day asks; internal/answer has it.
type DayLines interface {
	// DaySheet gives every line of the workshop's day, in any order.
	DaySheet(ctx context.Context, day time.Time) ([]answer.DayLine, error)
}

func (s *Server) registerDayRoutes(g *echo.Group) {
	g.GET("/find", s.handleFind)
	g.GET("/day", s.handleDay)
	g.POST("/day/marks", s.handleDayMark)
}

func (s *Server) handleFind(c echo.Context) error {
	hits, err := s.Finder.Find(c.Request().Context(), person(c), c.QueryParam("q"))
	if err != nil {
		return err
	}
	out := api.HitList{Items: make([]api.Hit, len(hits))}
	for i, h := range hits {
		out.Items[i] = api.Hit{Kind: h.Kind, ID: h.ID, Title: h.Title, About: h.About}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleDay(c echo.Context) error {
	ctx := c.Request().Context()
	today, err := s.today(c)
	if err != nil {
		return err
	}
	lines, err := s.Day.DaySheet(ctx, today)
	if err != nil {
		return err
	}
	if lines, err = s.DayBook.Left(ctx, today, lines); err != nil {
		return err
	}
	out := api.DaySheet{Day: today.Format(time.DateOnly), Lines: []api.DayLine{}}
	for _, l := range lines {
		if !person(c).May(l.Area) {
			continue
		}
		line := api.DayLine{Subject: l.Subject, Kind: l.Kind, Text: l.Text, Late: l.Late}
		if !l.Due.IsZero() {
			line.DueOn = dayOut(&l.Due)
		}
		out.Lines = append(out.Lines, line)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleDayMark(c echo.Context) error {
	var in api.DayMark
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	today, err := s.today(c)
	if err != nil {
		return err
	}
	switch in.Deed {
	case api.DayMarkDeedDone:
		err = s.DayBook.MarkDone(ctx, in.Subject)
	case api.DayMarkDeedPutBack:
		err = s.DayBook.Restore(ctx, in.Subject)
	default:
		var to *time.Time
		if to, err = dayIn(in.PutOffTo, "/put_off_to"); err == nil && to == nil {
			err = fault.Bad("/put_off_to", "Say to which day.")
		}
		if err == nil {
			err = s.DayBook.PutOff(ctx, in.Subject, today, *to)
		}
	}
	if err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
