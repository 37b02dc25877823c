package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerMillPages(r *routes) {
	r.get(access.Timber, "/timber/mill-next", s.handleMillNext)
	r.post(access.Timber, "/timber/mill-next", s.handleMillingPacePost)
}

// millView is what to mill next: the sizes that run short, drawn and in figures, those
// that last, how it is reckoned, and the pace the maker sets.
type millView struct {
	Links   []sheetLink
	Notes   []string
	Short   []millSizeView
	Lasting []millSizeView
	Empty   bool // no board is needed, drying or on the rack
	Open    bool // all figures stand open, to print
	Method  string
	Learnt  string
	Paces   sheetTable
	Form    *Form
	Kinds   []Choice
	Models  []Choice
	Care    string
}

type millSizeView struct {
	Name, Late, Sentence string
	Says, More           []string // beside the drawing, and with the figures
	Logs                 []sheetLink
	Gives                []string // beside each log
	Strip                strip
	Figures              sheetTable
}

var millPage = definePage[millView]("mill-next")

func (s *Server) handleMillNext(c echo.Context) error {
	months := 12
	if text := c.QueryParam("months"); text != "" {
		months, _ = strconv.Atoi(text) // what is no number is refused as a wrong number of months
		if months == 0 {
			months = -1
		}
	}
	m, err := s.Answer.MillNext(c.Request().Context(), months)
	if err != nil {
		return err
	}
	v := millView{Notes: m.Notes, Open: c.QueryParam("figures") == "open", Method: answer.MillMethod, Learnt: learntFrom(m), Care: sawCare, Empty: len(m.Sizes) == 0,
		Links: []sheetLink{{"12 months", "/timber/mill-next?months=12"}, {"18 months", "/timber/mill-next?months=18"}, {"All figures, to print", fmt.Sprintf("/timber/mill-next?months=%d&figures=open", max(len(m.Months), 12))}, {"Logs", "/timber/logs"}, {"The rack", "/timber"}}}
	for i, z := range m.Sizes {
		one := millSizeOf(z, i)
		if z.First() == nil {
			v.Lasting = append(v.Lasting, one)
		} else {
			v.Short = append(v.Short, one)
		}
	}
	if err := s.fillPace(c, &v, m.Paces); err != nil {
		return err
	}
	return millPage.show(s, c, "What to mill next", v)
}

// learntFrom says what the pace and the odds of quotes rest on.
func learntFrom(m answer.MillNext) string {
	pace := "No past month is known yet."
	if m.PastMonths > 0 {
		pace = fmt.Sprintf("The pace is learnt from %s.", show.Count(int64(m.PastMonths), "past month", "past months"))
	}
	if m.QuotesDecided == 0 {
		return pace + " No quote was answered yet, so each counts half."
	}
	return fmt.Sprintf("%s Of %s decided, %.0f of 100 are taken to become orders.", pace, show.Count(int64(m.QuotesDecided), "quote", "quotes"), m.AcceptedPct)
}

func (s *Server) fillPace(c echo.Context, v *millView, paces []timber.Pace) error {
	models, err := s.Workshop.ModelList(c.Request().Context(), false)
	if err != nil {
		return err
	}
	v.Models = []Choice{{Text: "Choose"}}
	for _, m := range models {
		v.Models = append(v.Models, Choice{Value: idText(m.ID), Text: m.Name})
	}
	if v.Kinds, err = s.timberChoices(c); err != nil {
		return err
	}
	v.Form = formOf(c)
	v.Paces = sheetTable{Heads: heads("Timber", "Model", "#Boxes a month")}
	for _, p := range paces {
		v.Paces.add(cellOf(p.SpeciesName), cellOf(p.ModelName), cellOf(p.BoxesAMonth.String()))
	}
	return nil
}

func (s *Server) handleMillingPacePost(c echo.Context) error {
	f := formOf(c)
	p := timber.Pace{ModelID: f.chosen("model_id", "Choose the model."), SpeciesID: f.chosen("species_id", "Choose the timber."), BoxesAMonth: f.Decimal("boxes_a_month", 1)}
	if err := f.Err(); err != nil {
		return again(err, s.handleMillNext)
	}
	if err := s.Timber.PaceSet(c.Request().Context(), p); err != nil {
		return again(err, s.handleMillNext)
	}
	return goTo(c, "/timber/mill-next", "The pace is noted.")
}

func metresOf(mm float64) string { return strconv.FormatFloat(mm/1000, 'f', 1, 64) + " m" }

func millSizeOf(z answer.MillSize, n int) millSizeView {
	v := millSizeView{Name: z.Name(), Sentence: z.Sentence(), Strip: stripOf(z, n)}
	if short := z.First(); short != nil && short.Late {
		v.Late = "Late"
	}
	v.Says, v.More = millSays(z), millStands(z)
	for _, g := range z.Logs {
		text := fmt.Sprintf("gives %s, %s", metresOf(g.GivesMM), show.Count(int64(g.Boards), "board", "boards"))
		if g.TooWide {
			text += "; too thick for the mill as it is"
		}
		v.Logs, v.Gives = append(v.Logs, sheetLink{"Log " + g.Number, "/timber/logs/" + idText(g.ID)}), append(v.Gives, text)
	}
	v.Figures = sheetTable{Narrow: true, Heads: heads("Metres", "#In", "#Out", "#Left", "#Careful")}
	for _, m := range z.Months {
		v.Figures.add(cellOf(m.On.Format("Jan 06")), cellOf(bare(m.InMM)), cellOf(bare(m.NeedMM())), missing(m.LeftMM), cellOf(bare(m.CarefulLeftMM)))
	}
	return v
}

func bare(mm float64) string {
	text := strconv.FormatFloat(mm/1000, 'f', 1, 64)
	if text == "-0.0" {
		return "0.0"
	}
	return strings.Replace(text, "-", "\u2212", 1)
}

// missing marks what is below nothing with a word.
func missing(mm float64) sheetCell {
	cell := cellOf(bare(mm))
	if mm < -1 {
		cell.Late, cell.Text = "short", bare(-mm)
	}
	return cell
}

// millSays are the sentences below the drawing.
func millSays(z answer.MillSize) []string {
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	if short := z.First(); short != nil {
		say("That is %s green in boards of %d mm, to last until the end of %s.", metresOf(short.SawMM), short.BoardMM, short.Until.Format("January 2006"))
	}
	if z.Expected != nil && z.Careful != nil && (!z.Careful.On.Equal(z.Expected.On) || z.Careful.Boards != z.Expected.Boards) {
		text := fmt.Sprintf("To be sure in four of five cases: short in %s, %s", z.Careful.On.Format("January 2006"), show.Count(int64(z.Careful.Boards), "board", "boards"))
		if z.Careful.SawBy != nil {
			text += " by " + show.Date(*z.Careful.SawBy)
			if z.Careful.Late {
				text += ", which is past"
			}
		}
		say("%s.", text)
	}
	if z.First() != nil && z.DryOn != nil {
		say("Sawn now it is dressed about %s.", show.Date(*z.DryOn))
	}
	list = append(list, z.Notes...)
	if z.LookFor != "" {
		list = append(list, z.LookFor)
	}
	return list
}

// millStands says what lies there and what is asked of it.
func millStands(z answer.MillSize) []string {
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	rack := fmt.Sprintf("On the rack %s free", metresOf(z.FreeMM))
	if z.ClaimedMM > 0 {
		rack += fmt.Sprintf(", %s put aside or meant for jobs", metresOf(z.ClaimedMM))
	}
	if z.DryingMM > 0 {
		from := "our estimate"
		if z.YieldPacks > 0 {
			from = "as " + show.Count(int64(z.YieldPacks), "pack", "packs") + " showed"
		}
		rack += fmt.Sprintf("; %s drying, of which dressing leaves %.0f %% in this size (%s)", metresOf(z.DryingMM), z.YieldPct, from)
	}
	say("%s.", rack)
	if z.UndatedMM > 0 {
		say("%s in packs without a dry date is not counted.", metresOf(z.UndatedMM))
	}
	var orders, builds, quotes, pace float64
	for _, m := range z.Months {
		orders, builds, quotes, pace = orders+m.OrdersMM, builds+m.BuildsMM, quotes+m.QuotesMM, pace+m.PaceMM
	}
	var parts []string
	for _, p := range []struct {
		what string
		mm   float64
	}{{"orders", orders}, {"builds", builds}, {"quotes", quotes}, {"orders to come", pace}} {
		if p.mm > 0 {
			parts = append(parts, p.what+" "+metresOf(p.mm))
		}
	}
	if len(parts) > 0 {
		say("Needed in these months: %s.", strings.Join(parts, ", "))
	} else {
		say("Nothing is asked of it in these months.")
	}
	return list
}

// strip is a drawing of what is left month by month, in units of its own.
type strip struct {
	ID, Title     string
	Height        int
	Zero          float64 // where nothing is left
	Bars          []stripBar
	Careful       string // points of the careful line
	Top           float64
	TopText       string // how much the upper rule stands for
	ShortX        float64
	ShortAt       float64 // middle of that month
	ShortY        float64
	ShortText     string
	ShortEnd      bool // the word ends at ShortX rather than begins there
	LabelY, YearY float64
}

type stripBar struct {
	X, Wide     float64
	Y, High     float64 // what is left, above the zero line
	InY, InHigh float64 // of it, what came in this month
	Low         float64 // what is missing, below the line
	Letter      string
	LetterX     float64
	Year        string
}

// Sizes of the drawing: as wide as a phone's page, so that its text stays legible there.
const (
	stripWide   = 336.0
	stripHigh   = 120.0 // of the bars
	stripTop    = 22.0  // above them
	stripLetter = 16.0
)

// stripOf draws a size's months to one scale; what is missing is drawn no deeper than
// what lies there is high, so that the good months stay legible.
func stripOf(z answer.MillSize, n int) strip {
	up, down := 1.0, 0.0
	for _, m := range z.Months {
		up, down = max(up, m.LeftMM, m.CarefulLeftMM), max(down, -m.LeftMM, -m.CarefulLeftMM)
	}
	none := up <= 1 // nothing lies there in any month
	if none {
		up = max(up, down/4)
	} else {
		down = min(down, up)
	}
	scale := stripHigh / (up + down)
	y := func(mm float64) float64 { return round1(stripTop + (up-max(mm, -down))*scale) }
	d := strip{ID: fmt.Sprintf("strip-%d", n), Title: fmt.Sprintf("%s: metres left at the end of each month", z.Name()), Zero: y(0), Top: y(up), TopText: metresOf(up), LabelY: y(-down) + stripLetter, YearY: y(-down) + 2*stripLetter, Height: int(y(-down) + 2*stripLetter + 4)}
	if none {
		d.TopText = ""
	}
	wide := stripWide / float64(len(z.Months))
	var points []string
	for i, m := range z.Months {
		x := round1(2 + float64(i)*wide)
		b := stripBar{X: x, Wide: round1(wide * 0.7), Letter: m.On.Format("Jan")[:1], LetterX: round1(x + wide*0.35)}
		if left := max(0, m.LeftMM); left > 0 {
			b.Y, b.High = y(left), round1(left*scale)
			came := min(left, m.InMM)
			b.InY, b.InHigh = b.Y, round1(came*scale)
		}
		if m.LeftMM < -1 {
			b.Low = round1(y(m.LeftMM) - d.Zero)
		}
		if i == 0 || m.On.Month() == 1 && i < len(z.Months)-1 {
			b.Year = m.On.Format("2006")
		}
		if i > 0 && i < 3 && b.Year != "" { // two years would touch
			d.Bars[0].Year = ""
		}
		d.Bars = append(d.Bars, b)
		points = append(points, fmt.Sprintf("%g,%g %g,%g", x, y(m.CarefulLeftMM), round1(x+wide), y(m.CarefulLeftMM)))
	}
	d.Careful = strings.Join(points, " ")
	d.short(z)
	return d
}

// short puts the word to the first month that runs short.
func (d *strip) short(z answer.MillSize) {
	short := z.First()
	if short == nil {
		return
	}
	word := "short in "
	if z.Expected == nil {
		word = "may be short in "
	}
	d.ShortText = word + short.On.Format("Jan 2006")
	for i, m := range z.Months {
		if m.On.Equal(short.On) {
			d.ShortX, d.ShortY, d.ShortAt = d.Bars[i].X, round1(d.Top+14), round1(d.Bars[i].X+d.Bars[i].Wide/2)
			d.ShortEnd = d.ShortX > stripWide/2
			if d.ShortEnd {
				d.ShortX = round1(d.ShortX + d.Bars[i].Wide)
			}
		}
	}
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }
