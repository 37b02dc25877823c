package web

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/show"
)

// DayLines gives what a day asks; internal/answer has it.
type DayLines interface {
	// DaySheet gives every line of the workshop's day, in any order.
	DaySheet(ctx context.Context, day time.Time) ([]answer.DayLine, error)
}

type dayView struct {
	Form    *Form
	Bench   *dayBench // nil: nothing to do there
	Lines   []dayLine
	Waiting int // lines beyond those shown
}

type dayLine struct {
	Subject, Kind, Text, Href, Due string
	Late                           bool
	AskOpen                        int64 // the stop of which it is asked whether the entrance is open
}

var dayPage = definePage[dayView]("day")

func (s *Server) registerDayPages(r *routes) {
	r.get(access.Day, "/", s.handleDay)
	r.post(access.Day, "/day", s.handleDayPost)
}

func (s *Server) handleDay(c echo.Context) error {
	today, err := s.today(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	lines, err := s.Day.DaySheet(ctx, today)
	if err != nil {
		return err
	}
	if lines, err = s.DayBook.Left(ctx, today, lines); err != nil {
		return err
	}
	v := dayView{Form: formOf(c)}
	var asked string
	if v.Bench, asked, err = s.dayBench(c, today); err != nil {
		return err
	}
	for _, l := range lines {
		if !person(c).May(l.Area) || l.Subject == asked {
			continue
		}
		if len(v.Lines) == answer.DayMost {
			v.Waiting++
			continue
		}
		v.Lines = append(v.Lines, dayLine{l.Subject, l.Kind, l.Text, l.Href, show.Date(l.Due), l.Late, openStop(l.Kind, l.Subject)})
	}
	return dayPage.show(s, c, "Day sheet", v)
}

// openStop reads the stop from the subject of a line that asks whether it is open; 0 for
// any other line.
func openStop(kind, subject string) int64 {
	var id int64
	if kind != answer.OpenAsked {
		return 0
	}
	if n, err := fmt.Sscanf(subject, "stop:%d:open", &id); n != 1 || err != nil {
		return 0
	}
	return id
}

// handleDayPost marks a line done, or puts it off by the days of the button pressed.
func (s *Server) handleDayPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	today, err := s.today(c)
	if err != nil {
		return err
	}
	subject, deed := f.Text("subject"), f.Text("deed")
	switch {
	case deed == "open" && person(c).May(access.Runs):
		if err := s.Answer.StopMark(ctx, openStop(answer.OpenAsked, subject), "open", time.Time{}); err != nil {
			return again(err, s.handleDay)
		}
		return goTo(c, "/", "Good: it is open.")
	case deed == "done":
		if err := s.DayBook.MarkDone(ctx, subject); err != nil {
			return again(err, s.handleDay)
		}
		return goTo(c, "/", "Done and off the sheet.")
	case strings.HasPrefix(deed, "off-"):
		days := map[string]int{"off-1": 1, "off-7": 7}[deed]
		to := today.AddDate(0, 0, days)
		if err := s.DayBook.PutOff(ctx, subject, today, to); err != nil {
			return again(err, s.handleDay)
		}
		return goTo(c, "/", "Put off to "+show.Date(to)+".")
	}
	return goTo(c, "/", "")
}
