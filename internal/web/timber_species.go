package web

import (
	"fmt"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) handleTimberList(c echo.Context) error {
	list, err := s.Timber.SpeciesList(c.Request().Context(), true)
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Timber", "Air-dry density", "Shrinks", "Green moisture", "Sapwood", "Meter", "Source"), Empty: "No timber is in the book yet."}
	for _, sp := range list {
		name := sp.Name
		if sp.PutAwayAt != nil {
			name += " (put away)"
		}
		t.add(linkCell(name, hrefOf("timber_species", sp.ID)), cellOf(densityWords(sp)), cellOf(shrinkWords(sp)),
			cellOf(pctOrNot(sp.GreenMCPct)), cellOf(sapwoodWords(sp)), cellOf(meterWords(sp)), cellOf(sourceWords(sp)))
	}
	v := sheetView{Lead: "Every figure can be changed for the timber you have. Where one is not known, the timber's page says what cannot be worked out.",
		Links: []sheetLink{{"Add a timber of your own", "/timber/species/0"}}, Tables: []sheetTable{t}}
	return s.showSheet(c, "Kinds of timber", v)
}

// timberFigures are the figures of a timber that may stay open, by the name of their field.
func timberFigures(sp *timber.Species) map[string]**decimal.Decimal {
	all := speciesDecimals(sp)
	all["green_mc_pct"], all["slowness"] = &sp.GreenMCPct, &sp.Slowness
	return all
}

const notKnown = "not known"

func densityWords(sp timber.Species) string {
	switch {
	case sp.DensityKgM3 != nil:
		return sp.DensityKgM3.String() + " kg/m³"
	case sp.SpecificGravity != nil:
		return "gravity " + sp.SpecificGravity.String()
	}
	return notKnown
}

func pctOrNot(d *decimal.Decimal) string {
	if d == nil {
		return notKnown
	}
	return d.String() + " %"
}

// runsToWords says down to which moisture the shrinkage of a timber is given.
func runsToWords(sp timber.Species) string {
	switch {
	case sp.RadialPct == nil && sp.TangentialPct == nil:
		return notKnown
	case sp.ShrinkageToMCPct.IsZero():
		return "bone dry, 0 %"
	}
	return show.Pct(sp.ShrinkageToMCPct)
}

func sapwoodWords(sp timber.Species) string {
	if sp.BorersLikeSapwood {
		return "borers like it: left out, never treated"
	}
	return "no borers known"
}

func meterWords(sp timber.Species) string {
	if len(sp.MeterTable) == 0 {
		return "not corrected"
	}
	words := "by a table of " + show.Count(int64(len(sp.MeterTable)), "line", "lines")
	if sp.MeterSource != "" {
		words += ", " + sp.MeterSource
	}
	return words
}

func sourceWords(sp timber.Species) string {
	if sp.Source == "" {
		return "none given"
	}
	return sp.Source
}

// lacksWords says what cannot be worked out for a timber, and which figure would mend it.
func lacksWords(sp timber.Species) []string {
	var out []string
	if _, _, ok := sp.Basis(); !ok {
		out = append(out, "When a pack is dry, the mass and the warmth of a box: put the air-dry density down, or the specific gravity.")
	}
	if sp.RadialPct == nil || sp.TangentialPct == nil {
		out = append(out, "The size to saw for a dressed size: put both shrinkages down, and the moisture they run to.")
	}
	if len(sp.MeterTable) == 0 {
		out = append(out, "Nothing corrects the meter: readings are taken as it shows them.")
	}
	return out
}

// timberKind reads the timber of the address; the zero one for 0, which is a new one.
func (s *Server) timberKind(c echo.Context) (timber.Species, error) {
	if c.Param("id") == "0" {
		return timber.Species{}, nil
	}
	id, err := pathID(c)
	if err != nil {
		return timber.Species{}, err
	}
	return s.Timber.SpeciesGet(c.Request().Context(), id)
}

func (s *Server) handleTimberKind(c echo.Context) error {
	sp, err := s.timberKind(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(sp.Version)
	if sp.ID > 0 {
		f.Fill("code", sp.Code)
		f.Fill("name", sp.Name)
		f.Fill("botanical", sp.Botanical)
		f.Fill("source", sp.Source)
		f.Fill("shrinkage_to_mc_pct", sp.ShrinkageToMCPct.String())
		f.Fill("metre_cost", currency(set).Plain(sp.MetreCostMinor))
		f.FillTick("borers", sp.BorersLikeSapwood)
		f.FillTick("put_away", sp.PutAwayAt != nil)
		f.Fill("meter_source", sp.MeterSource)
		for i, m := range sp.MeterTable {
			f.Fill(fmt.Sprintf("meter_table.%d.shows_pct", i), m.ShowsPct.String())
			f.Fill(fmt.Sprintf("meter_table.%d.true_pct", i), m.TruePct.String())
		}
		for name, d := range timberFigures(&sp) {
			if *d != nil {
				f.Fill(name, (*d).String())
			}
		}
	}
	fields := []kindField{in(f.Field("name", "Name", "required")), in(f.Field("code", "Short name", "required", "hint=Small letters and hyphens, such as hoop-pine.")), in(f.Field("botanical", "Botanical name")),
		in(f.Field("density_kg_m3", "Air-dry density", "mode=decimal", "unit=kg/m³")), in(f.Field("specific_gravity", "Or specific gravity at 12 %", "mode=decimal")),
		in(f.Field("radial_pct", "Shrinkage, radial", "mode=decimal", "unit=%")), in(f.Field("tangential_pct", "Shrinkage, tangential", "mode=decimal", "unit=%")),
		in(f.Field("shrinkage_to_mc_pct", "The shrinkage runs to a moisture of", "mode=decimal", "unit=%", "hint=Many tables of local timber run to 12, American ones to 0.")),
		in(f.Field("green_mc_pct", "Usual moisture when sawn", "mode=decimal", "unit=%", "hint=Empty: 70, a guess.")), in(f.Field("slowness", "Dries so many times as long as its weight says", "mode=decimal", "unit=times", "hint=Empty: as its weight says. Refractory timber such as oak: about 1.4.")),
		tick(f.Field("borers", "Borers like its sapwood: it is left out of boxes, never treated")), area(f.Field("source", "Where the figures are from"))}
	if person(c).May(access.Prices) {
		fields = append(fields, in(f.Field("metre_cost", "Standard cost of a metre of 100 × 28 mm", "mode=decimal")))
	}
	fields = append(fields, tick(f.Field("put_away", "Put away: not used any more")))
	v := sheetView{Forms: []sheetForm{{Action: "/timber/species/" + c.Param("id"), Form: f, Parts: append(one(fields...), meterParts(f)...), Button: "Keep"}}}
	if sp.ID > 0 {
		if lacks := lacksWords(sp); len(lacks) > 0 {
			t := sheetTable{Title: "What cannot be worked out", Heads: heads("With these figures")}
			for _, l := range lacks {
				t.add(cellOf(l))
			}
			v.Tables = []sheetTable{t}
		}
		v.Facts = told(sheetFact{Name: "Density", Text: densityWords(sp)}, sheetFact{Name: "Shrinks", Text: shrinkWords(sp)}, sheetFact{Name: "Sapwood", Text: sapwoodWords(sp)},
			sheetFact{Name: "Meter", Text: meterWords(sp)}, sheetFact{Name: "Source", Text: sourceWords(sp)})
	}
	title := "A timber of your own"
	if sp.ID > 0 {
		if err := s.timberCame(c, sp, &v); err != nil {
			return err
		}
		title, v.History = sp.Name, "/history/timber_species/"+idText(sp.ID)
	}
	return s.showSheet(c, title, v)
}

// timberCame puts what came of the last packs of a timber, and what its boards really cost,
// beside its figures.
func (s *Server) timberCame(c echo.Context, sp timber.Species, v *sheetView) error {
	ctx := c.Request().Context()
	came, err := s.Timber.SpeciesCame(ctx, sp.ID)
	if err != nil {
		return err
	}
	cost, err := s.Timber.SpeciesRealCost(ctx, sp.ID)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	v.Facts = append(v.Facts, cameFacts(came)...)
	cur := currency(set)
	v.Costs = append(v.Costs, sheetFact{Name: "Standard cost of a metre of 100 × 28 mm", Text: cur.Money(sp.MetreCostMinor)})
	if cost.Lots > 0 {
		v.Costs = append(v.Costs, sheetFact{Name: fmt.Sprintf("What the last %s really cost a metre", show.Count(int64(cost.Lots), "lot", "lots")), Text: fmt.Sprintf("%s, over %s", cur.Money(cost.MetreCostMinor), metres(cost.MM))})
	}
	return err
}

func shrinkWords(sp timber.Species) string {
	if sp.RadialPct == nil && sp.TangentialPct == nil {
		return notKnown
	}
	return pctOrNot(sp.RadialPct) + " radial, " + pctOrNot(sp.TangentialPct) + " tangential, from green to " + runsToWords(sp)
}

// meterRows is how many lines of a meter's table the form offers.
const meterRows = 6

// meterParts are the lines of the meter's table.
func meterParts(f *Form) []sheetPart {
	parts := []sheetPart{{Fields: []kindField{in(f.Field("meter_source", "Correction of the meter: where from", "hint=Such as the booklet of the meter. One line: the same difference everywhere. Several: straight lines between them. None: not corrected."))}}}
	for i := range meterRows {
		at := fmt.Sprintf("meter_table.%d.", i)
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("Meter, line %d", i+1), Fold: true, Fields: []kindField{in(f.Field(at+"shows_pct", "The meter shows", "mode=decimal", "unit=%")), in(f.Field(at+"true_pct", "True moisture", "mode=decimal", "unit=%"))}})
	}
	return parts
}

// readMeter reads the lines of the meter's table that were filled in; more than the form
// offers stay as they are.
func readMeter(f *Form, was []timber.MeterStep) []timber.MeterStep {
	out := []timber.MeterStep{}
	for i := range meterRows {
		at := fmt.Sprintf("meter_table.%d.", i)
		if f.Text(at+"shows_pct") != "" || f.Text(at+"true_pct") != "" {
			out = append(out, timber.MeterStep{ShowsPct: f.Decimal(at+"shows_pct", 1), TruePct: f.Decimal(at+"true_pct", 1)})
		}
	}
	return append(out, was[min(meterRows, len(was)):]...)
}

func (s *Server) handleTimberKindPost(c echo.Context) error {
	sp, err := s.timberKind(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	sp.Version, sp.Code, sp.Name, sp.Botanical, sp.Source = f.Version, f.Text("code"), f.Text("name"), f.Text("botanical"), f.Text("source")
	sp.ShrinkageToMCPct, sp.BorersLikeSapwood = f.optionalDecimal("shrinkage_to_mc_pct", 1), f.Ticked("borers")
	sp.MeterSource, sp.MeterTable = f.Text("meter_source"), readMeter(f, sp.MeterTable)
	for name, d := range timberFigures(&sp) {
		*d = f.maybeDecimal(name, 3)
	}
	if sp.MetreCostMinor, err = s.optionalMoney(c, f, "metre_cost", sp.MetreCostMinor); err != nil {
		return err
	}
	now := s.DB.Now()
	if !f.Ticked("put_away") {
		sp.PutAwayAt = nil
	} else if sp.PutAwayAt == nil {
		sp.PutAwayAt = &now
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleTimberKind)
	}
	if _, err := s.Timber.SpeciesSave(c.Request().Context(), sp); err != nil {
		return again(err, s.handleTimberKind)
	}
	return goTo(c, "/timber/species", "Kept.")
}
