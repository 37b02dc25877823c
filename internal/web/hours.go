package web

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// weekGuess marks the hours of the week while they are a guess.
const weekGuess = "work_week"

// weekdays in the order of the page; the number is that of the record.
var weekdays = []struct {
	n    int
	name string
}{{1, "Monday"}, {2, "Tuesday"}, {3, "Wednesday"}, {4, "Thursday"}, {5, "Friday"}, {6, "Saturday"}, {0, "Sunday"}}

// spellsADay is how many spells of work a day the page takes: before and after noon.
const spellsADay = 2

type hoursView struct {
	Form  *Form
	Away  *Form
	Days  []dayFields
	Off   []awayRow
	Hands []handsRow
	Since string
	Guess bool
}

type dayFields struct {
	Name   string
	Spells []spellFields
}

type spellFields struct{ From, To Field }

type awayRow struct {
	ID        int64
	From, To  string
	Why, Name string
}

type handsRow struct {
	ID                   int64
	Who, When, From, Til string
}

var hoursPage = definePage[hoursView]("hours")

func (s *Server) registerHoursPages(r *routes) {
	r.get(access.Settings, "/settings/hours", s.handleHours)
	r.post(access.Settings, "/settings/hours", s.handleHoursPost)
	r.post(access.Settings, "/settings/away", s.handleAwayPost)
	r.post(access.Settings, "/settings/away/:id", s.handleAwayRemove)
}

func (s *Server) handleHours(c echo.Context) error {
	ctx := c.Request().Context()
	today, err := s.today(c)
	if err != nil {
		return err
	}
	week, err := s.Workshop.WeekAt(ctx, today)
	if err != nil {
		return err
	}
	guessed, err := s.House.GuessList(ctx)
	if err != nil {
		return err
	}
	off, err := s.Workshop.AwayList(ctx, today)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("from_on", show.ISODate(today))
	fillWeek(f, week)
	v := hoursView{Form: f, Away: formOf(c, "away"), Guess: guessed[weekGuess], Since: show.Date(week.FromOn)}
	for _, d := range weekdays {
		row := dayFields{Name: d.name}
		for i := range spellsADay {
			from, to := spellNames(d.n, i)
			row.Spells = append(row.Spells, spellFields{f.Field(from, d.name+[]string{" from", ", again from"}[i], "type=time"), f.Field(to, d.name+[]string{" to", ", again to"}[i], "type=time")})
		}
		v.Days = append(v.Days, row)
	}
	for _, a := range off {
		v.Off = append(v.Off, awayRow{a.ID, show.Date(a.FromOn), show.Date(a.ToOn), a.Why, fmt.Sprintf("%s to %s", show.Date(a.FromOn), show.Date(a.ToOn))})
	}
	second, err := s.Workshop.SecondHandsList(ctx, today)
	if err != nil {
		return err
	}
	for _, h := range second {
		who := h.Name()
		v.Hands = append(v.Hands, handsRow{h.ID, strings.ToUpper(who[:1]) + who[1:], handsWords(h), show.Date(h.FromOn), show.DateOr(h.ToOn, "you end it")})
	}
	return hoursPage.show(s, c, "Hours at the bench", v)
}

func spellNames(weekday, i int) (from, to string) {
	n := strconv.Itoa(weekday) + "." + strconv.Itoa(i)
	return "day." + n + ".from", "day." + n + ".to"
}

func fillWeek(f *Form, w workshop.Week) {
	count := map[int]int{}
	for _, h := range w.Hours {
		from, to := spellNames(h.Weekday, count[h.Weekday])
		f.Fill(from, clock(h.StartMinute))
		f.Fill(to, clock(h.EndMinute))
		count[h.Weekday]++
	}
}

// clock writes minutes after midnight as a time field has them.
func clock(minute int) string { return fmt.Sprintf("%02d:%02d", minute/60, minute%60) }

// minuteOf reads a time field into minutes after midnight.
func minuteOf(text string) (int, bool) {
	t, err := time.Parse("15:04", text)
	return t.Hour()*60 + t.Minute(), err == nil
}

// readWeek reads the spells that were typed; what is wrong is noted at its field.
func readWeek(f *Form) workshop.Week {
	var w workshop.Week
	if day := f.Date("from_on"); day != nil {
		w.FromOn = *day
	} else {
		f.Wrong("from_on", "Say from which day.")
	}
	for _, d := range weekdays {
		for i := range spellsADay {
			fromName, toName := spellNames(d.n, i)
			if f.Text(fromName) == "" && f.Text(toName) == "" {
				continue
			}
			from, ok1 := minuteOf(f.Text(fromName))
			to, ok2 := minuteOf(f.Text(toName))
			switch {
			case !ok1:
				f.Wrong(fromName, "Write when work begins, such as 08:00.")
			case !ok2 || to <= from:
				f.Wrong(toName, "Write when work ends, later than it begins.")
			default:
				w.Hours = append(w.Hours, workshop.Hours{Weekday: d.n, StartMinute: from, EndMinute: to, Hands: 1})
			}
		}
	}
	return w
}

func (s *Server) handleHoursPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	w := readWeek(f)
	if err := f.Err(); err != nil {
		return again(err, s.handleHours)
	}
	err := s.DB.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		if err := s.Workshop.WeekSet(ctx, w); err != nil {
			return err
		}
		return s.House.GuessClear(ctx, weekGuess)
	})
	if err != nil {
		return again(err, s.handleHours)
	}
	return goTo(c, "/settings/hours", "The hours from "+show.Date(w.FromOn)+" are kept.")
}

func (s *Server) handleAwayPost(c echo.Context) error {
	f := formOf(c, "away")
	from, to := f.Date("from_on"), f.Date("to_on")
	if from == nil {
		f.Wrong("from_on", "Say from which day.")
	}
	if to == nil {
		to = from
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleHours)
	}
	if _, err := s.Workshop.AwayAdd(c.Request().Context(), workshop.Away{FromOn: *from, ToOn: *to, Why: f.Text("why")}); err != nil {
		return again(err, s.handleHours)
	}
	return goTo(c, "/settings/hours", "The days away are kept.")
}

func (s *Server) handleAwayRemove(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	if err := s.Workshop.AwayRemove(c.Request().Context(), id); err != nil {
		if fault.Is(err, fault.NotFound) {
			return goTo(c, "/settings/hours", "They were taken off already.")
		}
		return again(err, s.handleHours)
	}
	return goTo(c, "/settings/hours", "Taken off: you are at the bench on those days.")
}

// plainWeek is the week of the set-up page: the same hours on every day that was ticked.
func plainWeek(f *Form) workshop.Week {
	var w workshop.Week
	if f.Text("hours_from") == "" && f.Text("hours_to") == "" {
		return w
	}
	from, ok1 := minuteOf(f.Text("hours_from"))
	to, ok2 := minuteOf(f.Text("hours_to"))
	if !ok1 {
		f.Wrong("hours_from", "Write when work begins, such as 08:00.")
	}
	if !ok2 || to <= from {
		f.Wrong("hours_to", "Write when work ends, later than it begins.")
	}
	for _, d := range weekdays {
		if f.Ticked("day_" + strconv.Itoa(d.n)) {
			w.Hours = append(w.Hours, workshop.Hours{Weekday: d.n, StartMinute: from, EndMinute: to, Hands: 1})
		}
	}
	if len(w.Hours) == 0 {
		f.Wrong("day_1", "Tick the days on which you work.")
	}
	return w
}
