package web

import (
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerDryingPages(r *routes) {
	r.post(access.Timber, "/timber/packs/:id/moves/:move/back", s.handlePackMoveBack)
}

// The drawing of a drying curve, in units of its own box; on a phone one unit is about
// one CSS pixel, so that its letters are never smaller than 12.
const (
	curveWide, curveHigh  = 320.0, 250.0
	curveLeft, curveRight = 30.0, 8.0
	curveTop, curveFoot   = 40.0, 26.0
	curveMostPct          = 60.0 // wetter than that is not drawn
	curveLabelWide        = 96.0 // of a word at a date
)

// dryCurve is a drying curve as a drawing.
type dryCurve struct {
	Band, Expected, Air string // points of polygon and lines
	TargetY             string
	TargetText          string
	TargetTextY         string
	Levels              []curveMark // moistures at the left edge
	Days                []curveMark // months at the foot
	Dates               []curveMark // even odds and 4 in 5
	Moves               []curveMark
	Readings            []curveMark
	Caption, Said       string
}

// curveMark is something at a place of the drawing.
type curveMark struct{ X, Y, TextX, TextY, Anchor, Text string }

func at(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// curveScale turns days and moistures into places of the drawing.
type curveScale struct {
	from    time.Time
	days    float64
	mostPct float64
}

func (k curveScale) x(on time.Time) float64 {
	return curveLeft + (curveWide-curveLeft-curveRight)*on.Sub(k.from).Hours()/24/k.days
}

func (k curveScale) y(pct float64) float64 {
	return curveTop + (curveHigh-curveTop-curveFoot)*(1-min(pct, k.mostPct)/k.mostPct)
}

// drawCurve draws the forecast of a pack; nil where there is none.
func drawCurve(p timber.Pack, f timber.Forecast) *dryCurve {
	points := f.Curve.Points
	if f.Lack != "" || len(points) < 2 {
		return nil
	}
	first, last := points[0], points[len(points)-1]
	k := curveScale{from: first.On, days: math.Max(1, last.On.Sub(first.On).Hours()/24), mostPct: math.Min(curveMostPct, math.Max(30, 10*math.Ceil(first.HighPct/10)))}
	d := &dryCurve{}
	var high, low, line, air []string
	for _, q := range points {
		x := at(k.x(q.On))
		high = append(high, x+","+at(k.y(q.HighPct)))
		low = append(low, x+","+at(k.y(q.LowPct)))
		line = append(line, x+","+at(k.y(q.MCPct)))
		air = append(air, x+","+at(k.y(q.EMCPct)))
	}
	for i := len(low) - 1; i >= 0; i-- {
		high = append(high, low[i])
	}
	d.Band, d.Expected, d.Air = strings.Join(high, " "), strings.Join(line, " "), strings.Join(air, " ")
	target := p.TargetMCPct.InexactFloat64()
	d.TargetY, d.TargetText, d.TargetTextY = at(k.y(target)), "dry enough, "+show.Pct(p.TargetMCPct), at(k.y(target)+14)
	d.scales(k, last.On)
	d.marks(k, p, f)
	d.Caption = "Thick line: the moisture expected. Grey: where eight in ten cases lie. Dotted: what the air asks for. Dots: readings."
	d.Said = curveSaid(p, f)
	return d
}

// scales writes moistures at the edge and months at the foot.
func (d *dryCurve) scales(k curveScale, last time.Time) {
	for pct := 10.0; pct <= k.mostPct; pct += 10 {
		d.Levels = append(d.Levels, curveMark{Y: at(k.y(pct)), TextY: at(k.y(pct) + 4), Text: strconv.Itoa(int(pct))})
	}
	step := 1 + int(k.days)/150
	month := time.Date(k.from.Year(), k.from.Month()+1, 1, 0, 0, 0, 0, time.UTC)
	for ; !month.After(last); month = month.AddDate(0, step, 0) {
		x := k.x(month)
		text := month.Format("Jan")
		if month.Month() <= time.Month(step) || len(d.Days) == 0 {
			text = month.Format("Jan 06")
		}
		if x < curveWide-30 {
			d.Days = append(d.Days, curveMark{X: at(x), TextX: at(x + 2), TextY: at(curveHigh - 8), Text: text})
		}
	}
}

// marks sets the two dates, the moves and the readings.
func (d *dryCurve) marks(k curveScale, p timber.Pack, f timber.Forecast) {
	d.dates(k, f)
	for _, m := range p.Places {
		if x := k.x(m.FromOn); x >= curveLeft && x <= curveWide-curveRight {
			anchor, textX := "start", x+3
			if x > curveWide/2 {
				anchor, textX = "end", x-3
			}
			d.Moves = append(d.Moves, curveMark{X: at(x), TextX: at(textX), TextY: at(curveHigh - curveFoot - 6), Anchor: anchor, Text: "moved"})
		}
	}
	for _, r := range p.Readings {
		d.Readings = append(d.Readings, curveMark{X: at(k.x(r.ReadOn)), Y: at(k.y(r.MCPct.InexactFloat64()))})
	}
}

// dates writes a word at each of the two dates, so that neither word crosses the line of
// the other: both to the left of their lines where there is room, else to the right.
func (d *dryCurve) dates(k curveScale, f timber.Forecast) {
	if f.Curve.ReadyOn == nil {
		return
	}
	mark := func(on time.Time, word string, left bool, row float64) {
		x := k.x(on)
		m := curveMark{X: at(x), Y: at(2 + 16*row), TextX: at(x + 3), TextY: at(13 + 16*row), Anchor: "start", Text: word + ", " + on.Format("2 Jan")}
		if left {
			m.TextX, m.Anchor = at(x-3), "end"
		}
		d.Dates = append(d.Dates, m)
	}
	left := k.x(*f.Curve.ReadyOn) > curveLabelWide+curveLeft
	evenRow, sureRow := 0.0, 1.0
	if left {
		evenRow, sureRow = 1, 0
	}
	mark(*f.Curve.ReadyOn, "even odds", left, evenRow)
	if sure := f.Curve.ReadyOnP80; sure != nil {
		mark(*sure, "4 in 5", left || k.x(*sure) > curveWide-curveLabelWide, sureRow)
	}
}

// curveSaid says in one sentence what the drawing shows.
func curveSaid(p timber.Pack, f timber.Forecast) string {
	points := f.Curve.Points
	said := fmt.Sprintf("From %.0f %% on %s", points[0].MCPct, show.Date(points[0].On))
	for _, m := range []struct {
		on   *time.Time
		word string
	}{{f.Curve.ReadyOn, "down to " + show.Pct(p.TargetMCPct) + " by even odds on "}, {f.Curve.ReadyOnP80, "with 4 in 5 odds by "}} {
		if m.on != nil {
			said += ", " + m.word + show.Date(*m.on)
		}
	}
	if f.Curve.Never {
		said += ", and not down to " + show.Pct(p.TargetMCPct) + " there"
	}
	return said + ". The air asks for " + fmt.Sprintf("%.1f", f.Curve.DriestEMCPct) + " % at its driest."
}

// curveTable gives the curve in figures, a line about every month and at both dates.
func curveTable(f timber.Forecast) sheetTable {
	t := sheetTable{Title: "The curve in figures", Fold: true, Heads: heads("Day", "#Expected", "#Eight in ten between", "#The air asks for", "#Chance that it is dry")}
	points := f.Curve.Points
	if len(points) == 0 {
		return t
	}
	every := max(1, len(points)/12)
	for i, p := range points {
		isDate := f.Curve.ReadyOn != nil && p.On.Equal(*f.Curve.ReadyOn) || f.Curve.ReadyOnP80 != nil && p.On.Equal(*f.Curve.ReadyOnP80)
		if i%every == 0 || isDate || i == len(points)-1 {
			t.add(cellOf(show.Date(p.On)), cellOf(fmt.Sprintf("%.1f %%", p.MCPct)), cellOf(fmt.Sprintf("%.0f to %.0f %%", p.LowPct, p.HighPct)),
				cellOf(fmt.Sprintf("%.1f %%", p.EMCPct)), cellOf(fmt.Sprintf("%.0f in 100", math.Floor(100*p.Chance))))
		}
	}
	return t
}

// packDrying puts on a pack's page when it will be dry, the curve, and what would help.
func (s *Server) packDrying(c echo.Context, p timber.Pack, today time.Time, v *sheetView) error {
	f, err := s.Timber.PackForecast(c.Request().Context(), p)
	if err != nil {
		return err
	}
	v.Curve = drawCurve(p, f)
	v.Lead, v.Late = "", ""
	for _, m := range []struct {
		on   *time.Time
		word string
	}{{p.ReadyOn, "Dry by even odds"}, {p.ReadyOnP80, "Dry by 4 in 5 odds"}} {
		if m.on != nil {
			v.Dates = append(v.Dates, sheetFact{Name: m.word, Text: show.Date(*m.on)})
		}
	}
	v.Lead = dryLead(p, f, today)
	if p.NeverDry {
		v.Late = "Never dry there."
	}
	if f.Lack == "density" {
		v.Links = append(v.Links, sheetLink{"Put its density down", hrefOf("timber_species", p.SpeciesID)})
	}
	v.Tables = append(v.Tables, elsewhereTable(f))
	if f.Lack == "" {
		v.Tables = append(v.Tables, curveTable(f))
		v.Facts = append(v.Facts, startFact(p, f), paceFact(p, f))
		v.Facts = told(v.Facts...)
	}
	return nil
}

// dryLead says in plain words how the drying stands, and what would help.
func dryLead(p timber.Pack, f timber.Forecast, today time.Time) string {
	switch {
	case f.Lack == "climate":
		return "No dry date can be worked out: the weather of its place is not known. Say below where it stands, or set the dates yourself."
	case f.Lack == "density":
		return "No dry date can be worked out: the density of " + p.SpeciesName + " is not in the book. Put it down with the timber, or set the dates yourself."
	case p.NeverDry && f.Curve.Never:
		return neverWords(p, f)
	case p.LatestMCPct != nil && p.LatestMCPct.LessThanOrEqual(p.TargetMCPct):
		return "It has read " + show.Pct(*p.LatestMCPct) + ": dry enough. Read a second board before it is dressed."
	case !sameDay(p.ReadyOn, f.Curve.ReadyOn) || !sameDay(p.ReadyOnP80, f.Curve.ReadyOnP80):
		return "The drawing is from the figures of timber and weather as they are now, the dates are from before. Work them out anew if they should follow."
	case p.ReadyOn != nil && p.ReadyOn.Before(today):
		return "The day of even odds is past: read the meter."
	case p.ReadyOn != nil && p.ReadyOnP80 == nil:
		return "It stays less sure than 4 in 5: its place hardly brings it so low."
	case len(p.Readings) == 0:
		return "Not measured yet. Every reading makes the dates surer."
	}
	return ""
}

// neverWords says what would bring a pack down to its target, or which target its place reaches.
func neverWords(p timber.Pack, f timber.Forecast) string {
	said := fmt.Sprintf("Its place cannot bring it to %s: the air asks for %.1f %% at its driest.", show.Pct(p.TargetMCPct), f.Curve.DriestEMCPct)
	if f.Reachable != nil {
		said += fmt.Sprintf(" It would reach %d %%.", *f.Reachable)
	}
	for _, e := range f.Elsewhere {
		if e.ReadyOn != nil {
			return said + " Moved today to " + e.Name + " it would be dry about " + show.Date(*e.ReadyOn) + "."
		}
	}
	return said + " A solar or heated chamber would help: put one down among the drying places."
}

func sameDay(a, b *time.Time) bool {
	return a == nil && b == nil || a != nil && b != nil && a.Equal(*b)
}

func startFact(p timber.Pack, f timber.Forecast) sheetFact {
	text := map[string]string{"species": "not measured; taken as usual for the timber", "usual": "not measured; taken as 70 %, a guess"}[f.Start]
	if p.StartMCPct != nil {
		text = show.Pct(*p.StartMCPct) + ", measured"
	}
	return sheetFact{Name: "Moisture when stacked", Text: text}
}

func paceFact(p timber.Pack, f timber.Forecast) sheetFact {
	text := ""
	switch pace := f.Curve.Pace; {
	case len(p.Readings) == 0:
	case pace > 1.1:
		text = fmt.Sprintf("%.1f times as fast as timber and weather say", pace)
	case pace < 0.9:
		text = fmt.Sprintf("%.1f times as fast as timber and weather say: slower", pace)
	default:
		text = "as timber and weather say"
	}
	return sheetFact{Name: "It dries", Text: text}
}

func elsewhereTable(f timber.Forecast) sheetTable {
	t := sheetTable{Title: "If it were moved today", Heads: heads("To", "Even odds", "4 in 5"), Empty: "No other drying place is put down.", More: "/timber/climates", MoreText: "Drying places"}
	for _, e := range f.Elsewhere {
		even := show.DateOr(e.ReadyOn, "never dry there")
		t.add(linkCell(e.Name+kindWords(e.Kind), "/timber/climates/"+idText(e.ClimateID)), cellOf(even), cellOf(show.DateOr(e.ReadyOnP80, "stays less sure")))
	}
	return t
}

// kindWords names a chamber as one.
func kindWords(kind string) string {
	switch kind {
	case timber.Solar:
		return ", solar chamber"
	case timber.Heated:
		return ", heated chamber"
	}
	return ""
}

// correctionWords says where the moisture of a reading is from.
func correctionWords(r timber.Reading) string {
	switch r.Correction {
	case timber.CorrectedByList:
		if r.Source == "" {
			return "by the timber's table"
		}
		return "by the timber's table: " + r.Source
	case timber.CorrectedByHand:
		return "typed"
	}
	return "as the meter shows, not corrected"
}

func readingTable(p timber.Pack) sheetTable {
	t := sheetTable{Title: "Readings", Heads: heads("Day", "Board", "Meter", "Moisture", "Corrected", "Even odds since", "4 in 5 since"), Empty: "Not measured yet."}
	for _, r := range p.Readings {
		even := show.DateOr(r.ReadyOn, "")
		if r.NeverDry {
			even = "never, where it stood"
		}
		t.add(cellOf(show.Date(r.ReadOn)), cellOf(r.Board), cellOf(show.Pct(r.MeterPct)), cellOf(show.Pct(r.MCPct)), cellOf(correctionWords(r)), cellOf(even), cellOf(show.DateOr(r.ReadyOnP80, "")))
	}
	return t
}

func placeTable(p timber.Pack, today time.Time) sheetTable {
	t := sheetTable{Title: "Where it stood", Heads: heads("From", "Place", "Spot", ""), Empty: "It has not been moved since it was stacked."}
	for _, m := range p.Places {
		from := show.Date(m.FromOn)
		if m.FromOn.After(today) {
			from += ", planned"
		}
		back := sheetCell{}
		if p.FinishedAt == nil {
			back.Buttons = []sheetButton{button(fmt.Sprintf("/timber/packs/%d/moves/%d/back", p.ID, m.ID), "Take back", "Take back the move of "+show.Date(m.FromOn))}
		}
		t.add(cellOf(from), cellOf(m.ClimateName+kindWords(m.Kind)), cellOf(m.Place), back)
	}
	return t
}

// moveForm moves a pack into a chamber or back into the yard.
func (s *Server) moveForm(c echo.Context, p timber.Pack, today time.Time) (sheetForm, error) {
	choices, err := s.climateChoices(c)
	if err != nil {
		return sheetForm{}, err
	}
	choices[0].Text = "Choose"
	f := formOf(c, "move")
	day := today
	if p.ClimateID == nil && len(p.Places) == 0 {
		day = p.StackedOn
	}
	f.Fill("from_on", show.ISODate(day))
	return sheetForm{Title: "Move it", Fold: true, Action: hrefOf("pack", p.ID) + "/move", Form: f, Button: "Write it down", About: "Into a solar or heated chamber, or back into the yard. A day still to come is a plan.",
		Parts: one(choose(f.Choose("climate_id", "To which drying place", choices, "required")), in(f.Field("from_on", "Day of the move", "type=date", "required")), in(f.Field("place", "Where exactly")))}, nil
}

func (s *Server) movePack(c echo.Context, id int64) (string, error) {
	f := formOf(c, "move")
	m := timber.PackPlace{ClimateID: f.chosen("climate_id", "Choose the drying place."), Place: f.Text("place")}
	if day := f.Date("from_on"); day != nil {
		m.FromOn = *day
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	p, err := s.Timber.PackMove(c.Request().Context(), id, m)
	return "Written down. Dry: " + dryWords(p) + ".", err
}

func (s *Server) reckonPack(c echo.Context, id int64) (string, error) {
	p, err := s.Timber.PackReckon(c.Request().Context(), id)
	return "Worked out anew. Dry: " + dryWords(p) + ".", err
}

func (s *Server) targetPack(c echo.Context, id int64) (string, error) {
	f := formOf(c, "target")
	pct := f.Decimal("target_mc_pct", 1)
	if err := f.Err(); err != nil {
		return "", err
	}
	p, err := s.Timber.PackTargetSet(c.Request().Context(), id, f.Version, pct)
	return "Kept. Dry: " + dryWords(p) + ".", err
}

func (s *Server) handlePackMoveBack(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	move, err := strconv.ParseInt(c.Param("move"), 10, 53)
	if err != nil {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	p, err := s.Timber.PackMoveBack(c.Request().Context(), id, move)
	if err != nil {
		return again(err, s.handlePack)
	}
	return goTo(c, hrefOf("pack", id), "Taken back. Dry: "+dryWords(p)+".")
}
