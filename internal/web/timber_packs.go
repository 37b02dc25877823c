package web

import (
	"fmt"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/claims"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerPackPages(r *routes) {
	r.get(access.Timber, "/timber/packs/new", s.handlePackNew)
	r.post(access.Timber, "/timber/packs/new", s.handlePackNewPost)
	r.get(access.Timber, "/timber/packs/:id", s.handlePack)
	r.post(access.Timber, "/timber/packs/:id/:deed", s.handlePackPost)
	s.registerDryingPages(r)
	r.get(access.Timber, "/timber/climates", s.handleClimates)
	r.get(access.Timber, "/timber/climates/:id", s.handleClimate)
	r.post(access.Timber, "/timber/climates/:id", s.handleClimatePost)
}

// dryWords says when a pack will be dry.
func dryWords(p timber.Pack) string {
	switch {
	case p.NeverDry:
		return "never, where it stands"
	case p.ReadyOnP80 != nil && p.ReadyOn != nil:
		return show.Date(*p.ReadyOn) + " by even odds, " + show.Date(*p.ReadyOnP80) + " by 4 in 5"
	case p.ReadyOn != nil:
		return show.Date(*p.ReadyOn) + " by even odds"
	}
	return "not known"
}

func (s *Server) packTable(c echo.Context) (sheetTable, error) {
	t := sheetTable{Title: "Packs drying", Heads: heads("Pack", "Timber", "Green size", "Place", "#Boards", "#Moisture", "Even odds", "4 in 5"), Empty: "No pack is drying."}
	list, _, err := s.Timber.PackList(c.Request().Context(), timber.PackFilter{Limit: 100})
	for _, p := range list {
		mc := ""
		if p.LatestMCPct != nil {
			mc = show.Pct(*p.LatestMCPct)
		}
		t.add(linkCell(p.Number, hrefOf("pack", p.ID)), cellOf(p.SpeciesName), cellOf(show.BoardSize(p.WidthMM, p.ThicknessMM)), cellOf(p.Place), numCell(p.Boards), cellOf(mc), evenCell(p), cellOf(show.DateOr(p.ReadyOnP80, "")))
	}
	return t, err
}

// evenCell says when a pack is dry by even odds, or that it never is.
func evenCell(p timber.Pack) sheetCell {
	if p.NeverDry {
		return sheetCell{Text: "where it stands", Late: "never"}
	}
	return cellOf(show.DateOr(p.ReadyOn, "not known"))
}

// contentRows is how many lines of length and count a form of a pack offers.
const contentRows = 6

// contentParts are the lines of length, grade and count of a form, under names such as
// taken.0.length_mm.
func contentParts(f *Form, name, legend string) []sheetPart {
	var parts []sheetPart
	for i := range contentRows {
		at := fmt.Sprintf("%s.%d.", name, i)
		f.Fill(at+"grade", "sound")
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("%s %d", legend, i+1), Fields: []kindField{in(f.Field(at+"length_mm", "Length", "mode=numeric", "unit=mm")),
			in(f.Field(at+"count", "How many", "mode=numeric")), choose(f.Choose(at+"grade", "Grade", gradeChoices))}})
	}
	return parts
}

// readContent reads the lines that were filled in.
func readContent(f *Form, name string) []timber.Content {
	var out []timber.Content
	for i := range contentRows {
		at := fmt.Sprintf("%s.%d.", name, i)
		if f.Text(at+"length_mm") == "" && f.Text(at+"count") == "" {
			continue
		}
		out = append(out, timber.Content{LengthMM: int(f.Int(at+"length_mm", 1, 20_000)), Count: int(f.Int(at+"count", 1, 100_000)), Grade: f.Text(at + "grade")})
	}
	return out
}

func (s *Server) climateChoices(c echo.Context) ([]Choice, error) {
	list, err := s.Timber.ClimateList(c.Request().Context())
	out := []Choice{{Text: "Not known"}}
	for _, k := range list {
		out = append(out, Choice{Value: idText(k.ID), Text: k.Name})
	}
	return out, err
}

func (s *Server) handlePackNew(c echo.Context) error {
	kinds, err := s.timberChoices(c)
	if err != nil {
		return err
	}
	climates, err := s.climateChoices(c)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("stacked_on", show.ISODate(today))
	f.Fill("target_mc_pct", "12")
	f.Fill("log_id", c.QueryParam("log_id"))
	if id, err := strconv.ParseInt(f.Text("log_id"), 10, 53); err == nil {
		if g, err := s.Timber.LogGet(c.Request().Context(), id); err == nil {
			f.Fill("species_id", idText(g.SpeciesID))
		}
	}
	logs, err := s.logChoices(c)
	if err != nil {
		return err
	}
	fields := []kindField{choose(f.Choose("species_id", "Timber", kinds, "required")), choose(f.Choose("log_id", "Sawn from", logs)), in(f.Field("width_mm", "Green width", "mode=decimal", "unit=mm", "required")),
		in(f.Field("thickness_mm", "Green thickness", "mode=decimal", "unit=mm", "required")), in(f.Field("dresses_width_mm", "Will be dressed to a width of", "mode=decimal", "unit=mm")),
		in(f.Field("dresses_thickness_mm", "and a thickness of", "mode=decimal", "unit=mm")), in(f.Field("stacked_on", "Stacked on", "type=date", "required")), in(f.Field("place", "Where it stands")),
		choose(f.Choose("climate_id", "Weather of that place", climates, "hint=Needed to work out when it will be dry.")), in(f.Field("start_mc_pct", "Moisture when stacked", "mode=decimal", "unit=%")),
		in(f.Field("target_mc_pct", "Dry enough at", "mode=decimal", "unit=%"))}
	if person(c).May(access.Prices) {
		fields = append(fields, in(f.Field("cost", "Cost of log, haulage and sawing", "mode=decimal")))
	}
	fields = append(fields, area(f.Field("notes", "Notes")))
	parts := append([]sheetPart{{Fields: fields}}, contentParts(f, "content", "Boards")...)
	v := sheetView{Forms: []sheetForm{{Action: "/timber/packs/new", Form: f, Parts: parts, Button: "Write it down"}},
		Cautions: []string{liftCare, "Stickers of sound, untreated timber, one above the other; a stack that leans can fall on somebody.", treatedCare}}
	return s.showSheet(c, "Stack a pack", v)
}

func (s *Server) logChoices(c echo.Context) ([]Choice, error) {
	list, _, err := s.Timber.LogList(c.Request().Context(), timber.LogFilter{})
	out := []Choice{{Text: "No log of ours"}}
	for _, g := range list {
		out = append(out, Choice{Value: idText(g.ID), Text: g.Number + ", " + g.SpeciesName})
	}
	return out, err
}

// maybeID is the id of a choice that may stay open.
func (f *Form) maybeID(name string) *int64 {
	if id := f.ID(name); id > 0 {
		return &id
	}
	return nil
}

func (s *Server) handlePackNewPost(c echo.Context) error {
	f := formOf(c)
	p := timber.PackNew{SpeciesID: f.chosen("species_id", "Choose the timber."), LogID: f.maybeID("log_id"), WidthMM: f.Decimal("width_mm", 1), ThicknessMM: f.Decimal("thickness_mm", 1), Place: f.Text("place"),
		ClimateID: f.maybeID("climate_id"), StartMCPct: f.maybeDecimal("start_mc_pct", 1), TargetMCPct: f.optionalDecimal("target_mc_pct", 1), Notes: f.Text("notes"), Content: readContent(f, "content")}
	if day := f.Date("stacked_on"); day != nil {
		p.StackedOn = *day
	}
	if f.Text("dresses_width_mm") != "" || f.Text("dresses_thickness_mm") != "" {
		p.DressesTo = &timber.Size{WidthMM: f.Decimal("dresses_width_mm", 1), ThicknessMM: f.Decimal("dresses_thickness_mm", 1)}
	}
	var err error
	if p.CostMinor, err = s.optionalMoney(c, f, "cost", 0); err != nil {
		return err
	}
	if err := f.Err(); err != nil {
		return again(err, s.handlePackNew)
	}
	out, err := s.Timber.PackStack(c.Request().Context(), p)
	if err != nil {
		return again(err, s.handlePackNew)
	}
	return goTo(c, hrefOf("pack", out.ID), "It is pack "+out.Number+". Dry: "+dryWords(out)+".")
}

func (s *Server) handlePack(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	p, err := s.Timber.PackGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	open, err := claims.OpenOn(ctx, s.DB, claims.Pack(id))
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	content := sheetTable{Title: "What lies in it", Heads: heads("Length", "Grade", "#Boards"), Empty: "Nothing by the book."}
	for _, l := range p.Content {
		content.add(cellOf(strconv.Itoa(l.LengthMM)+" mm"), cellOf(l.Grade), numCell(l.Count))
	}
	v := sheetView{Lead: "Dry: " + dryWords(p), Facts: told(sheetFact{Name: "Timber", Text: p.SpeciesName}, sheetFact{Name: "Green size", Text: show.BoardSize(p.WidthMM, p.ThicknessMM)}, sheetFact{Name: "Place", Text: p.Place},
		sheetFact{Name: "Stacked", Text: show.Date(p.StackedOn)}, sheetFact{Name: "Dry enough at", Text: show.Pct(p.TargetMCPct)}, sheetFact{Name: "Meant for jobs", Text: show.Count(int64(p.MeantBoards), "board", "boards")}, sheetFact{Name: "Notes", Text: p.Notes}),
		Costs: []sheetFact{{Name: "Log, haulage and sawing", Text: currency(set).Money(p.CostMinor)}}, Tables: []sheetTable{readingTable(p), placeTable(p, today), content, claimTable(open)},
		Cautions: []string{liftCare, dustCare, sawCare}, History: "/history/pack/" + idText(id)}
	if err := s.packDressed(c, p, &v); err != nil {
		return err
	}
	if p.FinishedAt != nil {
		v.Lead = "Finished: all of it is dressed or gone."
	} else {
		v.Links = append(v.Links, sheetLink{"Write a reading down", "#reading"}, sheetLink{"Dress boards of it", hrefOf("pack", id) + "/dress"})
		if err := s.packDrying(c, p, today, &v); err != nil {
			return err
		}
		if err := s.packForms(c, p, today, &v); err != nil {
			return err
		}
	}
	return s.showSheet(c, "Pack "+p.Number, v)
}

// packForms are the forms of a pack that still stands.
func (s *Server) packForms(c echo.Context, p timber.Pack, today time.Time, v *sheetView) error {
	at := hrefOf("pack", p.ID)
	species, err := s.Timber.SpeciesGet(c.Request().Context(), p.SpeciesID)
	if err != nil {
		return err
	}
	hint := "hint=Empty: as the meter shows. No correction is put down for this timber."
	if len(species.MeterTable) > 0 {
		hint = "hint=Empty: by the table put down for this timber."
	}
	read, dates, target := formOf(c, "reading"), formOf(c, "dates"), formOf(c, "target")
	read.Fill("read_on", show.ISODate(today))
	dates.FillVersion(p.Version)
	target.FillVersion(p.Version)
	target.Fill("target_mc_pct", p.TargetMCPct.String())
	move, err := s.moveForm(c, p, today)
	if err != nil {
		return err
	}
	v.Side = []sheetForm{{Title: "A reading", ID: "reading", Action: at + "/reading", Form: read, Button: "Write it down", Parts: one(in(read.Field("read_on", "Day", "type=date", "required")), in(read.Field("meter_pct", "The meter shows", "mode=decimal", "unit=%", "required")),
		in(read.Field("board", "Which board")), in(read.Field("mc_pct", "Corrected for the timber", "mode=decimal", "unit=%", hint)), tick(read.Field("late", "Written down late: there are later readings")))},
		move,
		{Title: "Dry enough at another moisture", Fold: true, Action: at + "/target", Form: target, Button: "Keep", Parts: one(in(target.Field("target_mc_pct", "Dry enough at", "mode=decimal", "unit=%", "required")))},
		{Title: "Set the dates yourself", Fold: true, Action: at + "/dates", Form: dates, Button: "Keep", Parts: one(in(dates.Field("ready_on", "Dry by even odds", "type=date")), in(dates.Field("ready_on_p80", "Dry by 4 in 5 odds", "type=date")), tick(dates.Field("never_dry", "It will never be dry there")))}}
	v.Tables = append(v.Tables, sheetTable{Title: "Work the dates out anew", Fold: true, Empty: "From the figures of timber and weather as they are now. Readings keep the dates that followed from them.",
		Buttons: []sheetButton{button(at+"/reckon", "Work them out", "")}})
	return nil
}

func (s *Server) handlePackPost(c echo.Context) error {
	back := func(id int64) string { return hrefOf("pack", id) }
	return s.deed(c, s.handlePack, back, map[string]func(echo.Context, int64) (string, error){"reading": s.readPack, "dates": s.datePack, "move": s.movePack, "reckon": s.reckonPack, "target": s.targetPack})
}

func (s *Server) readPack(c echo.Context, id int64) (string, error) {
	f := formOf(c, "reading")
	r := timber.Reading{MeterPct: f.Decimal("meter_pct", 1), MCPct: f.optionalDecimal("mc_pct", 1), Board: f.Text("board"), Late: f.Ticked("late")}
	if day := f.Date("read_on"); day != nil {
		r.ReadOn = *day
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	p, err := s.Timber.PackRead(c.Request().Context(), id, r)
	return "Written down. Dry: " + dryWords(p) + ".", err
}

func (s *Server) datePack(c echo.Context, id int64) (string, error) {
	f := formOf(c, "dates")
	d := timber.DryDates{ReadyOn: f.Date("ready_on"), ReadyOnP80: f.Date("ready_on_p80"), Never: f.Ticked("never_dry")}
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err := s.Timber.PackDatesSet(c.Request().Context(), id, f.Version, d)
	return "Kept.", err
}

func (s *Server) handleClimates(c echo.Context) error {
	list, err := s.Timber.ClimateList(c.Request().Context())
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Place", "What it is", "#January", "#July"), Empty: "No weather is put down yet. Packs need it to know when they are dry."}
	month := func(m timber.Month) sheetCell {
		return cellOf(fmt.Sprintf("%.0f °C, %.0f %%", m.TemperatureC, m.HumidityPct))
	}
	for _, k := range list {
		t.add(linkCell(k.Name, "/timber/climates/"+idText(k.ID)), cellOf(climateKindText(k.Kind)), month(k.Months[0]), month(k.Months[6]))
	}
	return s.showSheet(c, "Weather of drying places", sheetView{Links: []sheetLink{{"Put down a place", "/timber/climates/0"}}, Tables: []sheetTable{t}})
}

var climateKinds = []Choice{{Value: timber.Outdoors, Text: "Open air: yard or shed"}, {Value: timber.Solar, Text: "Solar chamber"}, {Value: timber.Heated, Text: "Heated chamber"}}

func climateKindText(kind string) string {
	for _, k := range climateKinds {
		if k.Value == kind {
			return k.Text
		}
	}
	return ""
}

// climateOf reads the climate of the address; the zero one for 0, which is a new one.
func (s *Server) climateOf(c echo.Context) (timber.Climate, error) {
	if c.Param("id") == "0" {
		return timber.Climate{}, nil
	}
	id, err := pathID(c)
	if err != nil {
		return timber.Climate{}, err
	}
	return s.Timber.ClimateGet(c.Request().Context(), id)
}

func (s *Server) handleClimate(c echo.Context) error {
	k, err := s.climateOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(k.Version)
	title, parts := "A drying place", []sheetPart{{Fields: []kindField{in(f.Field("name", "Name of the place", "required")), choose(f.Choose("kind", "What it is", climateKinds))}}}
	if k.ID > 0 {
		title = k.Name
		f.Fill("name", k.Name)
		f.Fill("kind", k.Kind)
	}
	for i, m := range k.Months {
		t, h := fmt.Sprintf("months.%d.temperature_c", i), fmt.Sprintf("months.%d.humidity_pct", i)
		if k.ID > 0 {
			f.Fill(t, strconv.FormatFloat(m.TemperatureC, 'f', -1, 64))
			f.Fill(h, strconv.FormatFloat(m.HumidityPct, 'f', -1, 64))
		}
		parts = append(parts, sheetPart{Legend: time.Month(i + 1).String(), Fields: []kindField{in(f.Field(t, "Mean temperature", "mode=text", "unit=°C", "required")), in(f.Field(h, "Mean humidity", "mode=decimal", "unit=%", "required"))}})
	}
	v := sheetView{Lead: "Means of the nearest weather station; under a roof it is a little damper and cooler. For a chamber: what a thermometer and hygrometer in it show over the month, a month in which it is not run like the air outside.", Forms: []sheetForm{{Action: "/timber/climates/" + c.Param("id"), Form: f, Parts: parts, Button: "Keep"}}}
	return s.showSheet(c, title, v)
}

func (s *Server) handleClimatePost(c echo.Context) error {
	k, err := s.climateOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	k.Name, k.Kind, k.Version = f.Text("name"), f.Text("kind"), f.Version
	for i := range k.Months {
		t, h := fmt.Sprintf("months.%d.temperature_c", i), fmt.Sprintf("months.%d.humidity_pct", i)
		d, ok := show.Decimal(f.Text(t), 1)
		if !ok {
			f.Wrong(t, "Write degrees such as 21.5; frost with a minus.")
		}
		k.Months[i] = timber.Month{TemperatureC: d.InexactFloat64(), HumidityPct: f.Decimal(h, 1).InexactFloat64()}
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleClimate)
	}
	if _, err := s.Timber.ClimateSave(c.Request().Context(), k); err != nil {
		return again(err, s.handleClimate)
	}
	return goTo(c, "/timber/climates", "Kept.")
}
