package web

import (
	"errors"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

func (s *Server) registerMovementPages(r *routes) {
	r.get(access.Bees, "/bees/movements", s.handleMovements)
	r.post(access.Bees, "/bees/movements", s.handleMovementsPost)
	r.get(access.Bees, "/bees/movements.pdf", s.handleMovementRecord)
}

type movementsView struct {
	From, To, Problem string
	Spans             []spanLink
	Title, Total      string
	Rows              []movementRow
	More              string
	Form              *Form
	Open              []Choice // moves without a permit's number
}

// spanLink is a stretch of days in one tap; Here marks the one that is shown.
type spanLink struct {
	Name, Href string
	Here       bool
}

type movementRow struct{ On, From, To, Note, Count, Colonies, Permit string }

var movementsPage = definePage[movementsView]("movements")

// movementRows is how many moves the page shows; paper and file hold all of them.
const movementRows = 100

// movementSpan gives the days that are asked for, this quarter when none are; a day that
// cannot be read is the zero day.
func (s *Server) movementSpan(c echo.Context) (from, to time.Time, spans []answer.Span, err error) {
	set, err := s.settings(c)
	if err != nil {
		return from, to, nil, err
	}
	spans = answer.Spans(set.Country, set.Today(s.DB.Now()))
	from, to = spans[0].From, spans[0].To
	for name, day := range map[string]*time.Time{"from": &from, "to": &to} {
		if text, asked := c.QueryParam(name), c.QueryParams().Has(name); asked {
			*day, _ = time.Parse(time.DateOnly, text) // the zero day is refused by the room
		}
	}
	return from, to, spans, nil
}

func (s *Server) handleMovements(c echo.Context) error {
	from, to, spans, err := s.movementSpan(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := movementsView{From: show.ISODate(from), To: show.ISODate(to), Form: formOf(c)}
	for _, x := range spans {
		v.Spans = append(v.Spans, spanLink{x.Name, "/bees/movements?from=" + show.ISODate(x.From) + "&to=" + show.ISODate(x.To), x.From.Equal(from) && x.To.Equal(to)})
	}
	record, err := s.Answer.Movements(c.Request().Context(), from, to)
	var wrong *fault.Error
	if errors.As(err, &wrong) && wrong.Kind == fault.Invalid {
		v.Problem = wrong.Detail
		return movementsPage.show(s, c, "Movement record", v)
	}
	if err != nil {
		return err
	}
	v.Title, v.Total = "Bees moved from "+show.Date(from)+" to "+show.Date(to), record.Total()
	for i := len(record.Moves) - 1; i >= 0 && len(v.Rows) < movementRows; i-- {
		m := record.Moves[i]
		v.Rows = append(v.Rows, movementRow{On: show.Time(m.HappenedAt, set.Location()), From: m.From, To: m.To, Note: m.Note, Count: show.Count(int64(len(m.Colonies)), "colony", "colonies"),
			Colonies: strings.Join(m.Colonies, ", "), Permit: m.PermitNumber})
	}
	if n := len(record.Moves) - len(v.Rows); n > 0 {
		v.More = show.Count(int64(n), "earlier move stands", "earlier moves stand") + " on the paper and in the file."
	}
	v.Open = movesWithoutPermit(record.List, set.Location())
	return movementsPage.show(s, c, "Movement record", v)
}

func movesWithoutPermit(list []apiary.Movement, loc *time.Location) []Choice {
	var out []Choice
	for _, m := range list {
		if m.PermitNumber == "" && len(out) < movementRows {
			out = append(out, Choice{Value: idText(m.ID), Text: m.Number + ", " + show.Time(m.HappenedAt, loc) + ", to " + m.ToPlace})
		}
	}
	return out
}

func (s *Server) handleMovementsPost(c echo.Context) error {
	f := formOf(c)
	id := f.chosen("movement", "Choose the move.")
	if err := f.Err(); err != nil {
		return again(err, s.handleMovements)
	}
	if err := s.Apiary.MovementPermit(c.Request().Context(), id, f.Text("permit_number")); err != nil {
		return again(err, s.handleMovements)
	}
	return goTo(c, c.Request().URL.RequestURI(), "The permit stands at the move.")
}

func (s *Server) handleMovementRecord(c echo.Context) error {
	from, to, _, err := s.movementSpan(c)
	if err != nil {
		return err
	}
	pdf, err := s.Answer.MovementRecord(c.Request().Context(), from, to)
	if err != nil {
		return err
	}
	return sendPDF(c, "movements-"+answer.SpanText(from, to), pdf)
}

// moveColony notes that a colony stands elsewhere now.
func (s *Server) moveColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "place")
	m := apiary.Move{ColonyID: id, Place: f.Text("place"), PermitNumber: f.Text("permit_number"), Note: f.Text("note"), InSpite: f.Text("in_spite")}
	if m.Place == "" {
		f.Wrong("place", "Say where it stands now.")
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err := s.Answer.ColonyElsewhere(c.Request().Context(), m)
	return "It stands there now, and the move is in the movement record.", err
}
