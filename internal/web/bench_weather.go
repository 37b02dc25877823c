package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerWeatherPages(r *routes) {
	r.get(access.Bench, "/bench/weather", s.handleWeather)
	r.post(access.Bench, "/bench/weather", s.handleWeatherPost)
	r.post(access.Bench, "/bench/weather/:day/:mark", s.handleWeatherMark)
}

// weatherDays is how many days the page lets one mark: as far as a forecast is worth much.
const weatherDays = 7

// rainWords says where the figures come from.
const rainWords = "How many days of each month have rain, as a mean over many years. The national weather office has a table of it for the station nearest to you: look for its climate averages, mean number of days of rain (1 mm or more)."

func (s *Server) handleWeather(c echo.Context) error {
	ctx := c.Request().Context()
	sky, err := s.Workshop.WeatherGet(ctx)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	b, err := s.Workshop.Bench(ctx, set.Location())
	if err != nil {
		return err
	}
	jobs, err := b.Jobs()
	if err != nil {
		return err
	}
	v := sheetView{Links: []sheetLink{{"Open builds", "/bench"}, {"Plan of the bench", "/bench/plan"}, {"Models", "/bench/models"}}}
	waits, ok := dryTable(jobs, sky, set.Location())
	v.Lead = "No work that is open needs dry weather. On a model's page you say which operations do."
	if ok {
		v.Lead = "The plan lays this work on days that may be dry, and the promised dates leave room for wet ones. Say what you know of the days to come."
	}
	today := set.Today(s.DB.Now())
	days := sheetTable{Title: "The days to come", Heads: heads("Day", "Weather", "")}
	for n := range weatherDays {
		day := today.AddDate(0, 0, n)
		words, cell := skyWords(sky, day), sheetCell{}
		for _, m := range weatherMarks {
			if m.words != words {
				cell.Buttons = append(cell.Buttons, button("/bench/weather/"+day.Format(time.DateOnly)+"/"+m.mark, m.button, show.Date(day)+": "+strings.ToLower(m.button)))
			}
		}
		if words != "will be dry" && words != "will be wet" {
			cell.Buttons = cell.Buttons[:2]
		}
		days.add(cellOf(show.Date(day)), cellOf(words), cell)
	}
	v.Tables = []sheetTable{days}
	if ok {
		v.Tables = append(v.Tables, waits)
	}
	v.Forms = []sheetForm{rainForm(c, sky)}
	return s.showSheet(c, "Dry weather", v)
}

var weatherMarks = []struct{ mark, button, words string }{{"dry", "Dry", "will be dry"}, {"wet", "Wet", "will be wet"}, {"unknown", "Not known", ""}}

// skyWords says what is known of a day's weather.
func skyWords(sky workshop.Weather, day time.Time) string {
	for _, d := range sky.Marked {
		if d.On.Equal(day) {
			return map[bool]string{true: "will be dry", false: "will be wet"}[d.Dry]
		}
	}
	return fmt.Sprintf("dry in %.0f of 100", 100*sky.DryChance(int(day.Month())))
}

// dryTable lists the open work that needs dry weather; false when there is none.
func dryTable(jobs []workshop.BenchJob, sky workshop.Weather, loc *time.Location) (sheetTable, bool) {
	t := sheetTable{Title: "Needs dry weather", Heads: heads("Operation", "Build", "Laid for", "That day")}
	for _, z := range spansOf(jobs) {
		if !z.Dry {
			continue
		}
		day := house.DateIn(z.StartsAt, loc)
		words := cellOf(skyWords(sky, day))
		if words.Text == "will be wet" {
			words = sheetCell{Late: "will be wet:", Text: "you hold it to that day"}
		}
		t.add(cellOf(plain(z.Operation)), linkCell(z.number, hrefOf("build", z.build)), cellOf(show.Date(day)), words)
	}
	return t, len(t.Rows) > 0
}

func rainForm(c echo.Context, sky workshop.Weather) sheetForm {
	f := formOf(c)
	part := sheetPart{}
	for m, days := range sky.RainDays {
		name := "rain_days." + strconv.Itoa(m)
		if !sky.Guess {
			f.Fill(name, strconv.FormatFloat(days, 'f', -1, 64))
		}
		part.Fields = append(part.Fields, in(f.Field(name, time.Month(m+1).String(), "mode=decimal", "unit=days with rain", "required")))
	}
	about := rainWords + fmt.Sprintf(" Dry days in 100 as it is written down: %s.", sky.Words())
	if sky.Guess {
		about = fmt.Sprintf("A guess holds until you type them: %.0f days with rain in every month. ", sky.RainDays[0]) + rainWords
	}
	return sheetForm{Title: "Days with rain", Fold: !sky.Guess, Action: "/bench/weather", Form: f, Button: "Keep", About: about, Parts: []sheetPart{part}}
}

func (s *Server) handleWeatherPost(c echo.Context) error {
	f := formOf(c)
	var rain [12]float64
	for m := range rain {
		rain[m] = math.Round(f.Decimal("rain_days."+strconv.Itoa(m), 1).InexactFloat64()*10) / 10
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleWeather)
	}
	if err := s.Workshop.RainDaysSet(c.Request().Context(), rain); err != nil {
		return again(err, s.handleWeather)
	}
	return goTo(c, "/bench/weather", "The days with rain are kept. They are no guess any more.")
}

func (s *Server) handleWeatherMark(c echo.Context) error {
	day, err := time.Parse(time.DateOnly, c.Param("day"))
	dry, ok := map[string]*bool{"dry": new(bool), "wet": new(bool), "unknown": nil}[c.Param("mark")]
	if err != nil || !ok {
		return fault.New(fault.NotFound, "There is no such page.")
	}
	said := "Nothing is known of " + show.Date(day) + "."
	if dry != nil {
		*dry = c.Param("mark") == "dry"
		said = show.Date(day) + " will be " + c.Param("mark") + ". The bench is laid by it."
	}
	if err := s.Workshop.WeatherMark(c.Request().Context(), day, dry); err != nil {
		return again(err, s.handleWeather)
	}
	return goTo(c, "/bench/weather", said)
}

// dryForm lets one say which operations of a model need dry weather.
func dryForm(c echo.Context, at string, list []workshop.DryOperation) sheetForm {
	f := formOf(c, "dry")
	part := sheetPart{}
	for i, o := range list {
		name := "operation." + strconv.Itoa(i)
		f.FillTick(name, o.Dry)
		part.Fields = append(part.Fields, tick(f.Field(name, plain(o.Name))))
	}
	return sheetForm{Title: "Needs dry weather", Fold: true, Action: at + "/dry", Form: f, Button: "Keep", Parts: []sheetPart{part},
		About: "Work that is done outside, or that must dry outside. The plan keeps it off wet days; it holds for open builds too."}
}

func (s *Server) dryModel(c echo.Context, id int64) (string, error) {
	f, ctx := formOf(c, "dry"), c.Request().Context()
	list, err := s.Workshop.DryOperations(ctx, id)
	if err != nil {
		return "", err
	}
	names := []string{}
	for i, o := range list {
		if f.Ticked("operation." + strconv.Itoa(i)) {
			names = append(names, o.Name)
		}
	}
	_, err = s.Workshop.DryOperationsSet(ctx, id, names)
	return "Kept. The plan keeps this work off wet days.", err
}

// weatherLead puts the work that needs dry weather on the Bench page.
func (s *Server) weatherLead(c echo.Context, v *sheetView, jobs []workshop.BenchJob, loc *time.Location) error {
	sky, err := s.Workshop.WeatherGet(c.Request().Context())
	if err != nil {
		return err
	}
	if t, ok := dryTable(jobs, sky, loc); ok {
		t.More, t.MoreText = "/bench/weather", "Say what you know of the weather"
		v.Tables = append(v.Tables, t)
	}
	return nil
}
