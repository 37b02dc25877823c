package web

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerHandsPages(r *routes) {
	r.get(access.Settings, "/settings/hands/:id", s.handleHands)
	r.post(access.Settings, "/settings/hands/:id", s.handleHandsPost)
	r.post(access.Settings, "/settings/hands/:id/end", s.handleHandsEnd)
}

// handsWords says when second hands come, such as "Tuesday and Thursday, 08:00 to 12:00".
func handsWords(h workshop.SecondHands) string {
	var days []string
	for _, d := range weekdays {
		if slices.Contains(h.Weekdays, int16(d.n)) {
			days = append(days, d.name)
		}
	}
	text := strings.Join(days, ", ")
	if k := len(days) - 1; k > 0 {
		text = strings.Join(days[:k], ", ") + " and " + days[k]
	}
	text += ", " + clock(h.StartMinute) + " to " + clock(h.StartMinute+h.Minutes)
	if h.WhileAway {
		text += ", also while you are away"
	}
	return text
}

func (s *Server) handsOf(c echo.Context) (workshop.SecondHands, error) {
	return newOr(c, func(id int64) (workshop.SecondHands, error) {
		return s.Workshop.SecondHandsGet(c.Request().Context(), id)
	})
}

// startOfDay is when the owner's day begins, for second hands that are not put down yet.
func (s *Server) startOfDay(c echo.Context, today time.Time) (int, error) {
	week, err := s.Workshop.WeekAt(c.Request().Context(), today)
	start := 8 * 60 // our guess
	for i, h := range week.Hours {
		if i == 0 || h.StartMinute < start {
			start = h.StartMinute
		}
	}
	return start, err
}

func (s *Server) handleHands(c echo.Context) error {
	h, err := s.handsOf(c)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(h.Version)
	v := sheetView{Lead: "The plan and every date reckon with them. They rest when you rest, and do what is not marked as yours alone.", Links: []sheetLink{{"Hours at the bench", "/settings/hours"}, {"Plan of the bench", "/bench/plan"}}, Cautions: []string{sawCare}}
	if h.ID == 0 {
		start, err := s.startOfDay(c, today)
		if err != nil {
			return err
		}
		f.Fill("from_on", show.ISODate(today))
		f.Fill("start", clock(start))
	} else {
		f.Fill("from_on", show.ISODate(h.FromOn))
		if h.ToOn != nil {
			f.Fill("to_on", show.ISODate(*h.ToOn))
		}
		f.Fill("start", clock(h.StartMinute))
		f.Fill("minutes", decimal.NewFromInt(int64(h.Minutes)).Div(decimal.NewFromInt(60)).Round(2).String())
		f.Fill("who", h.Who)
		f.FillTick("while_away", h.WhileAway)
		for _, d := range h.Weekdays {
			f.FillTick("day_"+strconv.Itoa(int(d)), true)
		}
		v.History = "/history/second_hands/" + idText(h.ID)
		v.Buttons = []sheetButton{button("/bench/plan", "Lay the plan anew", "Lay the plan anew with these hours"), button("/settings/hands/"+idText(h.ID)+"/end", "They come no more", "They come no more: "+h.Name())}
	}
	var days []kindField
	for _, d := range weekdays {
		days = append(days, tick(f.Field("day_"+strconv.Itoa(d.n), d.name)))
	}
	parts := []sheetPart{{Legend: "Which days", Fields: days}, {Legend: "What hours", Fields: []kindField{in(f.Field("start", "Comes at", "type=time", "required")), in(f.Field("minutes", "Stays", "mode=decimal", "unit=hours", "required"))}},
		{Legend: "From when to when", Fields: []kindField{in(f.Field("from_on", "First day", "type=date", "required")), in(f.Field("to_on", "Last day", "type=date", "hint=Empty: until you end it."))}},
		{Fields: []kindField{in(f.Field("who", "Who", "hint=Only needed when there are several.")), tick(f.Field("while_away", "Also on days when I am away"))}}}
	v.Forms = []sheetForm{{Action: "/settings/hands/" + c.Param("id"), Form: f, Parts: parts, Button: "Keep"}}
	return s.showSheet(c, "A second pair of hands", v)
}

// readHands reads what was typed; what is wrong is noted at its field.
func readHands(f *Form, h workshop.SecondHands) workshop.SecondHands {
	h.Version, h.Who, h.WhileAway, h.ToOn, h.Weekdays = f.Version, f.Text("who"), f.Ticked("while_away"), f.Date("to_on"), nil
	if day := f.Date("from_on"); day != nil {
		h.FromOn = *day
	} else {
		f.Wrong("from_on", "Say from which day they come.")
	}
	for _, d := range weekdays {
		if f.Ticked("day_" + strconv.Itoa(d.n)) {
			h.Weekdays = append(h.Weekdays, int16(d.n))
		}
	}
	start, ok := minuteOf(f.Text("start"))
	if h.StartMinute = start; !ok {
		f.Wrong("start", "Write when they come, such as 08:00.")
	}
	h.Minutes = int(f.Decimal("minutes", 2).Mul(decimal.NewFromInt(60)).Round(0).IntPart())
	return h
}

func (s *Server) handleHandsPost(c echo.Context) error {
	h, err := s.handsOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	h = readHands(f, h)
	if err := f.Err(); err != nil {
		return again(err, s.handleHands)
	}
	if h, err = s.Workshop.SecondHandsSave(c.Request().Context(), h); err != nil {
		return again(handsAt(err), s.handleHands)
	}
	return goTo(c, "/settings/hands/"+idText(h.ID), fmt.Sprintf("Kept: %s. Lay the plan anew to give them work.", handsWords(h)))
}

// handsAt puts what a room says of the days of the week and the clock at the page's fields.
func handsAt(err error) error {
	var e *fault.Error
	if errors.As(err, &e) {
		for i := range e.Fields {
			switch e.Fields[i].Pointer {
			case "/weekdays":
				e.Fields[i].Pointer = "/day_1"
			case "/start_minute":
				e.Fields[i].Pointer = "/start"
			}
		}
	}
	return err
}

func (s *Server) handleHandsEnd(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	gone, err := s.Workshop.SecondHandsEnd(c.Request().Context(), id, today)
	switch {
	case fault.Is(err, fault.NotFound):
		return goTo(c, "/settings/hours", "They were taken out already.")
	case err != nil:
		return again(err, s.handleHands)
	case gone:
		return goTo(c, "/settings/hours", "Taken out: they had not begun.")
	}
	return goTo(c, "/settings/hours", "They come no more from today on. Lay the plan anew.")
}
