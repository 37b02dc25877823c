package web

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// sawnView is the page of a sawn log: what came of it beside what was expected.
func (s *Server) sawnView(c echo.Context, g timber.Log, set house.Settings, v *sheetView) error {
	v.Lead = "Sawn on " + show.Time(*g.SawnAt, set.Location())
	boards, err := s.Timber.LogBoards(c.Request().Context(), g.ID)
	if err != nil {
		return err
	}
	cur := currency(set)
	v.Costs = []sheetFact{{Name: "Log", Text: cur.Money(g.CostMinor)}, {Name: "Haulage", Text: cur.Money(g.HaulageMinor)}, {Name: "Sawing", Text: cur.Money(g.SawingMinor)},
		{Name: "Together, on its boards by their volume", Text: cur.Money(g.CostMinor + g.HaulageMinor + g.SawingMinor)}}
	if g.SawnMin != nil && *g.SawnMin > 0 {
		v.Facts = append(v.Facts, sheetFact{Name: "At the mill", Text: show.Minutes(int64(*g.SawnMin))})
	}
	if g.RealM3 == nil {
		v.Links = []sheetLink{{"Put down what came of it", hrefOf("log", g.ID) + "/sawing"}, {"Stack a pack of it", "/timber/packs/new?log_id=" + idText(g.ID)}}
		return nil
	}
	v.Facts = append(v.Facts, realFacts(g, boards)...)
	v.Tables = append(v.Tables, realTable(g, boards))
	packs := sheetTable{Title: "Where its boards went", Heads: heads("Pack", "Green size", "#Length", "Grade", "#Boards")}
	for _, b := range boards {
		packs.add(linkCell(b.PackNumber, hrefOf("pack", b.PackID)), cellOf(show.BoardSize(b.WidthMM, b.ThicknessMM)), cellOf(strconv.Itoa(b.LengthMM)+" mm"), cellOf(b.Grade), numCell(b.Count))
	}
	v.Tables = append(v.Tables, packs)
	return nil
}

// realFacts set real beside expected recovery in a sentence each.
func realFacts(g timber.Log, boards []timber.LogBoard) []sheetFact {
	total := int64(0)
	for _, b := range boards {
		total += int64(b.LengthMM) * int64(b.Count)
	}
	real := g.RealM3.InexactFloat64()
	out := []sheetFact{{Name: "Came of it", Text: fmt.Sprintf("%s, %.3f m³: %.0f %% of the log", metres(total), real, 100*real/g.VolumeM3())}}
	if e := g.Expected; e != nil && e.M3 > 0 {
		drawn := 0.0
		for _, z := range e.Sizes {
			drawn += z.TotalMM
		}
		out = append(out, sheetFact{Name: "The drawing said", Text: fmt.Sprintf("%s, %.3f m³: %.0f %% of the log", metres(int64(drawn)), e.M3, 100*e.M3/e.LogM3)},
			sheetFact{Name: "Real against drawn", Text: fmt.Sprintf("%.2f by volume, %.2f by metres", real/e.M3, float64(total)/max(drawn, 1))})
	}
	return out
}

// realTable counts drawn and real boards by green size.
func realTable(g timber.Log, boards []timber.LogBoard) sheetTable {
	type line struct {
		drawn, real     int
		drawnMM, realMM int64
	}
	lines, order := map[string]*line{}, []string{}
	at := func(w, t decimal.Decimal) *line {
		key := show.BoardSize(w, t)
		if lines[key] == nil {
			lines[key], order = &line{}, append(order, key)
		}
		return lines[key]
	}
	if g.Expected != nil {
		for _, z := range g.Expected.Sizes {
			if z.Boards > 0 {
				l := at(decimal.NewFromFloat(z.GreenWidthMM), decimal.NewFromFloat(z.GreenThicknessMM))
				l.drawn += z.Boards
				l.drawnMM += int64(z.TotalMM)
			}
		}
	}
	for _, b := range boards {
		l := at(b.WidthMM, b.ThicknessMM)
		l.real += b.Count
		l.realMM += int64(b.LengthMM) * int64(b.Count)
	}
	t := sheetTable{Title: "Drawn and real", Heads: heads("Green size", "#Boards drawn", "#Boards real", "#Metres drawn", "#Metres real")}
	for _, key := range order {
		l := lines[key]
		t.add(cellOf(key), numCell(l.drawn), numCell(l.real), cellOf(metres(l.drawnMM)), cellOf(metres(l.realMM)))
	}
	return t
}

// moreSawn is how many empty lines the form of a sawing day has.
const moreSawn = 4

// sawnRow is a size and length that the drawing has, for a line of the form.
type sawnRow struct {
	width, thickness string
	length, count    int
	dressed          string
}

// sawnRows are the lines that a sawing day begins with: what the drawing holds, by size and
// length, the shorter lengths rounded down to whole decimetres.
func sawnRows(y answer.LogYield) []sawnRow {
	var out []sawnRow
	for _, z := range y.Sizes {
		at := map[int]int{}
		for _, b := range y.Out.Layout {
			if b.ID != z.ID {
				continue
			}
			length := int(b.LengthMM) / 100 * 100
			if b.LengthMM >= y.Log.LengthMM.InexactFloat64()-1 {
				length = int(b.LengthMM)
			}
			i, ok := at[length]
			if !ok {
				i = len(out)
				at[length] = i
				out = append(out, sawnRow{show.MM(z.Green.WidthMM), show.MM(z.Green.ThicknessMM), length, 0, z.ID})
			}
			out[i].count++
		}
	}
	return out
}

func (s *Server) handleSawingDay(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	g, err := s.Timber.LogGet(ctx, id)
	if err != nil {
		return err
	}
	if g.RealM3 != nil {
		return fault.New(fault.Conflict, "What came of log %s is booked already.", g.Number)
	}
	f := formOf(c)
	f.FillVersion(g.Version)
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f.Fill("sawn_on", show.ISODate(today))
	if g.SawnAt != nil && g.SawnMin != nil {
		f.Fill("minutes", strconv.Itoa(*g.SawnMin))
	}
	var rows []sawnRow
	y, err := s.Answer.LogYield(ctx, id)
	switch kind := fault.KindOf(err); {
	case err == nil:
		rows = sawnRows(y)
	case kind != fault.Invalid && kind != fault.Conflict:
		return err
	}
	if len(rows) > sawnLines-moreSawn {
		rows = rows[:sawnLines-moreSawn]
	}
	climates, err := s.climateChoices(c)
	if err != nil {
		return err
	}
	drawn := sheetTable{Heads: heads("Sawn green, mm", "#Drawn", "#Came"), Narrow: true}
	for i, r := range rows {
		at := fmt.Sprintf("boards.%d.", i)
		f.Fill(at+"width_mm", r.width)
		f.Fill(at+"thickness_mm", r.thickness)
		f.Fill(at+"length_mm", strconv.Itoa(r.length))
		what := fmt.Sprintf("%s × %s, %d long", r.width, r.thickness, r.length)
		drawn.add(cellOf(what), numCell(r.count), sheetCell{Field: f.Field(at+"count", "How many came: "+what, "mode=numeric")})
	}
	form := sheetForm{Action: hrefOf("log", id) + "/sawing", Form: f, Table: drawn, TableFirst: true, Button: "Book it and stack it"}
	for i := range rows {
		for _, name := range []string{"width_mm", "thickness_mm", "length_mm"} {
			name = fmt.Sprintf("boards.%d.%s", i, name)
			form.Hidden = append(form.Hidden, sheetHidden{name, f.Text(name)})
		}
	}
	form.Parts = []sheetPart{{Fields: []kindField{in(f.Field("sawn_on", "Sawn on", "type=date", "required")), in(f.Field("minutes", "Time at the mill", "mode=numeric", "unit=minutes")),
		in(f.Field("place", "Where the stack stands")), choose(f.Choose("climate_id", "Weather of that place", climates, "hint=Needed to work out when it will be dry.")), in(f.Field("stacked_on", "Stacked on", "type=date", "hint=Empty: the day it was sawn."))}}}
	for i := len(rows); i < max(len(rows)+moreSawn, f.sawnSent()); i++ {
		at := fmt.Sprintf("boards.%d.", i)
		form.Parts = append(form.Parts, sheetPart{Legend: fmt.Sprintf("Boards the drawing does not have, or of another grade %d", i-len(rows)+1), Fold: true, Fields: []kindField{in(f.Field(at+"count", "How many came", "mode=numeric", "unit=boards")),
			in(f.Field(at+"length_mm", "Length", "mode=numeric", "unit=mm")), in(f.Field(at+"width_mm", "Width", "mode=decimal", "unit=mm")), in(f.Field(at+"thickness_mm", "Thickness", "mode=decimal", "unit=mm")), choose(f.Choose(at+"grade", "Grade", sawnGrades))}})
	}
	v := sheetView{Lead: "Count what really came. Lines without a count are left out; each green size becomes a stickered pack of this log.", Links: []sheetLink{{"The log", hrefOf("log", id)}},
		Forms: []sheetForm{form}, Cautions: []string{liftCare, sawCare, dustCare}}
	return s.showSheet(c, "Sawing day of log "+g.Number, v)
}

// sawnGrades are the grades of green boards, the usual one first.
var sawnGrades = []Choice{gradeChoices[1], gradeChoices[0], gradeChoices[2]}

// sawnLines is the most lines a form of a sawing day has.
const sawnLines = 60

// sawnSent is how many lines were sent.
func (f *Form) sawnSent() int {
	n := 0
	for name := range f.values {
		if rest, ok := strings.CutPrefix(name, "boards."); ok {
			no, _, _ := strings.Cut(rest, ".")
			if i, err := strconv.Atoi(no); err == nil && i >= 0 && i < sawnLines {
				n = max(n, i+1)
			}
		}
	}
	return n
}

func (s *Server) handleSawingDayPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	now := s.DB.Now()
	w := timber.Sawing{At: now, Minutes: f.optional("minutes", 10_000), Place: f.Text("place"), ClimateID: f.maybeID("climate_id")}
	if day := f.Date("sawn_on"); day == nil {
		f.Wrong("sawn_on", "Say on which day it was sawn.")
	} else if day.After(set.Today(now)) {
		f.Wrong("sawn_on", "This day is still to come. Write when it was sawn.")
	} else if day.Before(set.Today(now)) {
		w.At = time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, set.Location())
	}
	if day := f.Date("stacked_on"); day != nil {
		w.StackedOn = *day
	}
	sent := []int{} // the form's lines of the boards taken
	for i := range f.sawnSent() {
		at := fmt.Sprintf("boards.%d.", i)
		if n := f.Text(at + "count"); n == "" || n == "0" {
			continue
		}
		w.Boards = append(w.Boards, timber.SawnBoards{WidthMM: f.Decimal(at+"width_mm", 1), ThicknessMM: f.Decimal(at+"thickness_mm", 1), LengthMM: int(f.Int(at+"length_mm", 1, 20_000)), Count: int(f.Int(at+"count", 1, 100_000)), Grade: f.Text(at + "grade")})
		sent = append(sent, i)
	}
	if len(w.Boards) == 0 {
		f.Wrong("boards.0.count", "Write how many boards came of it.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleSawingDay)
	}
	_, packs, err := s.Answer.LogSaw(c.Request().Context(), id, f.Version, w)
	if err != nil {
		return again(atLines(err, sent), s.handleSawingDay)
	}
	names := make([]string, len(packs))
	for i, p := range packs {
		names[i] = p.Number
	}
	return goTo(c, hrefOf("log", id), "It is sawn and stacked: "+strings.Join(names, ", ")+". Write the numbers on the packs.")
}

// atLines turns the places of boards in an error into the form's lines they stood in.
func atLines(err error, sent []int) error {
	var wrong *fault.Error
	if !errors.As(err, &wrong) || len(wrong.Fields) == 0 {
		return err
	}
	var l fault.List
	for _, f := range wrong.Fields {
		if rest, ok := strings.CutPrefix(f.Pointer, "/boards/"); ok {
			no, field, _ := strings.Cut(rest, "/")
			if i, err := strconv.Atoi(no); err == nil && i < len(sent) {
				f.Pointer = fmt.Sprintf("/boards/%d/%s", sent[i], field)
			}
		}
		l.Add(f.Pointer, "%s", f.Detail)
	}
	return l.Err()
}
