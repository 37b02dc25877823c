package web

import (
	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// speciesDecimals are the figures of a timber that may be unknown, by field.
func speciesDecimals(sp *timber.Species) map[string]**decimal.Decimal {
	return map[string]**decimal.Decimal{"density_kg_m3": &sp.DensityKgM3, "specific_gravity": &sp.SpecificGravity, "radial_pct": &sp.RadialPct, "tangential_pct": &sp.TangentialPct}
}

func (s *Server) handleLogs(c echo.Context) error {
	list, next, err := s.Timber.LogList(c.Request().Context(), timber.LogFilter{After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Log", "Timber", "#Small end", "#Large end", "#Length", "Sawn"), Empty: "No log is in the book."}
	for _, g := range list {
		sawn := "not yet"
		if g.SawnAt != nil {
			sawn = "sawn"
		}
		t.add(linkCell(g.Number, hrefOf("log", g.ID)), cellOf(g.SpeciesName), cellOf(show.MM(g.SmallEndMM)+" mm"), cellOf(show.MM(g.LargeEndMM)+" mm"), cellOf(show.MM(g.LengthMM)+" mm"), cellOf(sawn))
	}
	v := sheetView{Links: []sheetLink{{"Enter a log", "/timber/logs/new"}}, Tables: []sheetTable{t}, Cautions: []string{liftCare, "Felling and work on trees belong to trained people; licences and local rules come first."}}
	if next != "" {
		v.More = "/timber/logs?after=" + next
	}
	return s.showSheet(c, "Logs", v)
}

// logFields are the fields of a log.
func (s *Server) logFields(c echo.Context, f *Form) ([]kindField, error) {
	kinds, err := s.timberChoices(c)
	if err != nil {
		return nil, err
	}
	fields := []kindField{choose(f.Choose("species_id", "Timber", kinds, "required")),
		in(f.Field("small_end_mm", "Small end, through the middle under bark", "mode=decimal", "unit=mm", "required", "hint=The diameter, not the girth.")),
		in(f.Field("large_end_mm", "Large end", "mode=decimal", "unit=mm", "required")), in(f.Field("length_mm", "Length", "mode=decimal", "unit=mm", "required")),
		in(f.Field("sweep_mm", "Sweep", "mode=decimal", "unit=mm", "hint=How far the middle stands off a line from end to end.")), in(f.Field("felled_on", "Felled on", "type=date")), in(f.Field("from_where", "Where it comes from")),
		tick(f.Field("ends_sealed", "The ends are sealed")), tick(f.Field("metal_suspected", "There may be metal in it")), tick(f.Field("hollow_suspected", "It may be hollow"))}
	if person(c).May(access.Prices) {
		fields = append(fields, in(f.Field("cost", "Cost", "mode=decimal")), in(f.Field("haulage", "Haulage", "mode=decimal")))
	}
	fields = append(fields, area(f.Field("notes", "Notes")))
	if f.Problem != "" {
		fields = append(fields, tick(f.Field("sure", "I have looked again: the sizes are right")))
	}
	return fields, nil
}

// readLog takes the form's fields into a log.
func (s *Server) readLog(c echo.Context, f *Form, g *timber.Log) error {
	g.SpeciesID, g.SmallEndMM, g.LargeEndMM, g.LengthMM = f.chosen("species_id", "Choose the timber."), f.Decimal("small_end_mm", 1), f.Decimal("large_end_mm", 1), f.Decimal("length_mm", 1)
	g.SweepMM, g.FelledOn, g.FromWhere, g.Notes = f.optionalDecimal("sweep_mm", 1), f.Date("felled_on"), f.Text("from_where"), f.Text("notes")
	g.EndsSealed, g.MetalSuspected, g.HollowSuspected = f.Ticked("ends_sealed"), f.Ticked("metal_suspected"), f.Ticked("hollow_suspected")
	var err error
	if g.CostMinor, err = s.optionalMoney(c, f, "cost", g.CostMinor); err != nil {
		return err
	}
	g.HaulageMinor, err = s.optionalMoney(c, f, "haulage", g.HaulageMinor)
	return err
}

func (s *Server) handleLogNew(c echo.Context) error {
	f := formOf(c)
	fields, err := s.logFields(c, f)
	if err != nil {
		return err
	}
	return s.showSheet(c, "Enter a log", sheetView{Forms: []sheetForm{{Action: "/timber/logs/new", Form: f, Parts: one(fields...), Button: "Enter it"}}, Cautions: []string{liftCare}})
}

func (s *Server) handleLogNewPost(c echo.Context) error {
	f := formOf(c)
	var g timber.Log
	if err := s.readLog(c, f, &g); err != nil {
		return err
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleLogNew)
	}
	g, err := s.Timber.LogSave(c.Request().Context(), g, f.Ticked("sure"))
	if err != nil {
		return again(err, s.handleLogNew)
	}
	return goTo(c, hrefOf("log", g.ID), "It is log "+g.Number+": write the number on its end.")
}

func (s *Server) handleLog(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	g, err := s.Timber.LogGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f, sawn := formOf(c, "change"), formOf(c, "sawn")
	f.FillVersion(g.Version)
	sawn.FillVersion(g.Version)
	cur := currency(set)
	for name, value := range map[string]string{"species_id": idText(g.SpeciesID), "small_end_mm": show.MM(g.SmallEndMM), "large_end_mm": show.MM(g.LargeEndMM), "length_mm": show.MM(g.LengthMM), "sweep_mm": show.MM(g.SweepMM),
		"from_where": g.FromWhere, "notes": g.Notes, "cost": cur.Plain(g.CostMinor), "haulage": cur.Plain(g.HaulageMinor)} {
		f.Fill(name, value)
	}
	if g.FelledOn != nil {
		f.Fill("felled_on", show.ISODate(*g.FelledOn))
	}
	f.FillTick("ends_sealed", g.EndsSealed)
	f.FillTick("metal_suspected", g.MetalSuspected)
	f.FillTick("hollow_suspected", g.HollowSuspected)
	fields, err := s.logFields(c, f)
	if err != nil {
		return err
	}
	v := sheetView{Facts: told(sheetFact{Name: "Timber", Text: g.SpeciesName}, sheetFact{Name: "Sizes", Text: show.MM(g.SmallEndMM) + " to " + show.MM(g.LargeEndMM) + " mm through, " + show.MM(g.LengthMM) + " mm long"},
		sheetFact{Name: "Felled", Text: show.DateOr(g.FelledOn, "")}, sheetFact{Name: "From", Text: g.FromWhere}, sheetFact{Name: "Notes", Text: g.Notes}),
		Costs:    []sheetFact{{Name: "Log", Text: cur.Money(g.CostMinor)}, {Name: "Haulage", Text: cur.Money(g.HaulageMinor)}},
		Forms:    []sheetForm{{Title: "Change it", Fold: true, Action: hrefOf("log", id) + "/change", Form: f, Parts: one(fields...), Button: "Keep"}},
		Cautions: []string{liftCare, sawCare, dustCare}, History: "/history/log/" + idText(id)}
	if g.MetalSuspected {
		v.Cautions = append([]string{"There may be metal in this log: go over it with a detector before it meets a blade."}, v.Cautions...)
	}
	if g.SawnAt != nil {
		v.Lead = "Sawn on " + show.Time(*g.SawnAt, set.Location())
		v.Links = []sheetLink{{"Stack what came of it", "/timber/packs/new?log_id=" + idText(id)}}
	} else {
		v.Lead = "Not sawn yet"
		v.Links = []sheetLink{{"Sawing card (PDF)", hrefOf("log", id) + "/sawing-card.pdf"}}
		v.Side = []sheetForm{{Title: "It is sawn", Action: hrefOf("log", id) + "/sawn", Form: sawn, Parts: one(in(sawn.Field("minutes", "Time at the mill", "mode=numeric", "unit=minutes"))), Button: "Note it"}}
	}
	return s.showSheet(c, "Log "+g.Number, v)
}

func (s *Server) handleLogPost(c echo.Context) error {
	back := func(id int64) string { return hrefOf("log", id) }
	return s.deed(c, s.handleLog, back, map[string]func(echo.Context, int64) (string, error){"change": s.changeLog, "sawn": s.sawnLog})
}

func (s *Server) changeLog(c echo.Context, id int64) (string, error) {
	f := formOf(c, "change")
	g, err := s.Timber.LogGet(c.Request().Context(), id)
	if err != nil {
		return "", err
	}
	if err := s.readLog(c, f, &g); err != nil {
		return "", err
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	g.Version = f.Version
	_, err = s.Timber.LogSave(c.Request().Context(), g, f.Ticked("sure"))
	return "Kept.", err
}

func (s *Server) sawnLog(c echo.Context, id int64) (string, error) {
	f := formOf(c, "sawn")
	minutes := f.optional("minutes", 10_000)
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err := s.Timber.LogSawn(c.Request().Context(), id, f.Version, s.DB.Now(), minutes)
	return "It is sawn. Stack what came of it.", err
}

func (s *Server) handleSawingCardPDF(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	pdf, err := s.Answer.SawingCard(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return sendPDF(c, "sawing-"+idText(id), pdf)
}
