package web

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerLogPages(r *routes) {
	r.get(access.Timber, "/timber/logs", s.handleLogs)
	r.get(access.Timber, "/timber/logs/look", s.handleLogLook)
	r.get(access.Timber, "/timber/logs/new", s.handleLogNew)
	r.post(access.Timber, "/timber/logs/new", s.handleLogNewPost)
	r.get(access.Timber, "/timber/logs/:id", s.handleLog)
	r.get(access.Timber, "/timber/logs/:id/sawing", s.handleSawingDay)
	r.post(access.Timber, "/timber/logs/:id/sawing", s.handleSawingDayPost)
	r.post(access.Timber, "/timber/logs/:id/:deed", s.handleLogPost)
	r.get(access.Timber, "/timber/logs/:id/sawing-card.pdf", s.handleSawingCardPDF)
	r.get(access.Timber, "/timber/sizes", s.handleSizes)
}

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
	v := sheetView{Links: []sheetLink{{"Look at a log", "/timber/logs/look"}, {"Enter a log", "/timber/logs/new"}, {"Sizes to saw", "/timber/sizes"}}, Tables: []sheetTable{t}, Cautions: []string{liftCare, "Felling and work on trees belong to trained people; licences and local rules come first."}}
	yields, err := s.Timber.YieldList(c.Request().Context())
	if err != nil {
		return err
	}
	if len(yields) > 0 {
		t := sheetTable{Title: "What came of them against the drawings", Heads: heads("Timber", "#Real to drawn", "#Last logs"), Narrow: true}
		for _, y := range yields {
			t.add(linkCell(y.SpeciesName, "/timber/species/"+idText(y.SpeciesID)), cellOf(fmt.Sprintf("%.2f", y.Ratio)), numCell(y.Logs))
		}
		v.Tables = append(v.Tables, t)
	}
	if next != "" {
		v.More = "/timber/logs?after=" + next
	}
	return s.showSheet(c, "Logs", v)
}

var measuredChoices = []Choice{{Value: "", Text: "Through the middle"}, {Value: "girth", Text: "Around (girth)"}}

// logSizes are the fields of a log's sizes.
func logSizes(f *Form, kinds []Choice) []kindField {
	return []kindField{choose(f.Choose("species_id", "Timber", kinds, "required")),
		choose(f.Choose("measured", "The ends are measured", measuredChoices, "hint=Under bark. Over bark, take the bark off both sides first.")),
		in(f.Field("small_end_mm", "Small end", "mode=decimal", "unit=mm", "required")), in(f.Field("large_end_mm", "Large end", "mode=decimal", "unit=mm", "required")),
		in(f.Field("length_mm", "Length", "mode=decimal", "unit=mm", "required")), in(f.Field("sweep_mm", "Sweep", "mode=decimal", "unit=mm", "hint=How far the middle stands off a line from end to end."))}
}

// logRest are the other fields of a log.
func (s *Server) logRest(c echo.Context, f *Form) ([]kindField, error) {
	fields := []kindField{in(f.Field("felled_on", "Felled on", "type=date")), tick(f.Field("ends_sealed", "The ends are sealed")), tick(f.Field("metal_suspected", "There may be metal in it")), tick(f.Field("hollow_suspected", "It may be hollow"))}
	if person(c).May(access.Prices) {
		fields = append(fields, in(f.Field("cost", "Cost", "mode=decimal")), in(f.Field("haulage", "Haulage", "mode=decimal")))
	}
	fields = append(fields, in(f.Field("from_where", "Where it comes from")))
	list, err := s.Timber.SupplierList(c.Request().Context())
	if len(list) > 0 {
		choices := []Choice{{Text: "None"}}
		for _, x := range list {
			choices = append(choices, Choice{Value: idText(x.ID), Text: x.Name})
		}
		fields = append(fields, choose(f.Choose("supplier_id", "Supplier", choices)))
	}
	return fields, err
}

// logFields are the fields of a log.
func (s *Server) logFields(c echo.Context, f *Form) ([]kindField, error) {
	kinds, err := s.timberChoices(c)
	if err != nil {
		return nil, err
	}
	rest, err := s.logRest(c, f)
	if err != nil {
		return nil, err
	}
	fields := append(append(logSizes(f, kinds), rest...), area(f.Field("notes", "Notes")))
	return sureField(f, fields), nil
}

// sureField lets a maker say that an odd size is right, once it was asked about.
func sureField(f *Form, fields []kindField) []kindField {
	if f.Problem != "" {
		return append(fields, tick(f.Field("sure", "I have looked again: the sizes are right")))
	}
	return fields
}

// readLog takes the form's fields into a log.
func (s *Server) readLog(c echo.Context, f *Form, g *timber.Log) error {
	g.SpeciesID, g.SmallEndMM, g.LargeEndMM, g.LengthMM = f.chosen("species_id", "Choose the timber."), f.Decimal("small_end_mm", 1), f.Decimal("large_end_mm", 1), f.Decimal("length_mm", 1)
	g.Girths, g.SweepMM, g.FelledOn, g.FromWhere, g.Notes = f.Text("measured") == "girth", f.optionalDecimal("sweep_mm", 1), f.Date("felled_on"), f.Text("from_where"), f.Text("notes")
	g.EndsSealed, g.MetalSuspected, g.HollowSuspected, g.SupplierID = f.Ticked("ends_sealed"), f.Ticked("metal_suspected"), f.Ticked("hollow_suspected"), f.maybeID("supplier_id")
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
	form := sheetForm{Action: "/timber/logs/new", Form: f, Parts: one(fields...), Button: "Enter it", Hidden: f.wishHidden()}
	return s.showSheet(c, "Enter a log", sheetView{Links: []sheetLink{{"Look at it first", "/timber/logs/look"}}, Forms: []sheetForm{form}, Cautions: []string{liftCare}})
}

func (s *Server) handleLogNewPost(c echo.Context) error {
	f := formOf(c)
	var g timber.Log
	if err := s.readLog(c, f, &g); err != nil {
		return err
	}
	wish, err := s.readWish(c, f)
	if err != nil {
		return err
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleLogNew)
	}
	err = s.DB.WithTx(c.Request().Context(), func(ctx context.Context, _ pgx.Tx) error {
		if g, err = s.Timber.LogSave(ctx, g, f.Ticked("sure")); err != nil || wish == nil {
			return err
		}
		_, err := s.Timber.LogWish(ctx, g.ID, g.Version, wish)
		return err
	})
	if err != nil {
		return again(err, s.handleLogNew)
	}
	return goTo(c, hrefOf("log", g.ID), "It is log "+g.Number+": write the number on its end.")
}

// The fields of what is wanted of a log begin like this, so that they can be carried along.
const (
	sizeField = "size."
	ownField  = "own."
	ownRows   = 3
)

// wishHidden carries what was wanted of a log that was only looked at.
func (f *Form) wishHidden() []sheetHidden {
	var out []sheetHidden
	for name, values := range f.values {
		if (strings.HasPrefix(name, sizeField) || strings.HasPrefix(name, ownField) || name == "heart_box_mm" || name == "shortest_mm" || name == "wished") && len(values) > 0 && values[0] != "" {
			out = append(out, sheetHidden{name, values[0]})
		}
	}
	slices.SortFunc(out, func(a, b sheetHidden) int { return strings.Compare(a.Name, b.Name) })
	return out
}

func sizeName(z timber.Size) string {
	return sizeField + strings.ReplaceAll(z.WidthMM.String()+"x"+z.ThicknessMM.String(), ".", "_")
}

// wishSizes are the sizes a maker can tick: those of the models and those wanted already.
func (s *Server) wishSizes(c echo.Context, wish *timber.LogWish) ([]timber.Size, error) {
	list, err := s.Answer.ModelSizes(c.Request().Context())
	if err != nil || wish == nil {
		return list, err
	}
	for _, w := range wish.Sizes {
		z := timber.Size{WidthMM: decimal.NewFromFloat(w.WidthMM), ThicknessMM: decimal.NewFromFloat(w.ThicknessMM)}
		if !slices.ContainsFunc(list, func(o timber.Size) bool { return o.String() == z.String() }) {
			list = append(list, z)
		}
	}
	return list, nil
}

// wishParts are the fields of what is wanted of a log.
func (s *Server) wishParts(c echo.Context, f *Form, wish *timber.LogWish, set house.Settings) ([]sheetPart, error) {
	list, err := s.wishSizes(c, wish)
	if err != nil {
		return nil, err
	}
	values := map[string]*int64{}
	if wish != nil {
		if wish.HeartBoxMM > 0 {
			f.Fill("heart_box_mm", figureText(wish.HeartBoxMM))
		}
		if wish.ShortestMM > 0 {
			f.Fill("shortest_mm", strconv.Itoa(wish.ShortestMM))
		}
		for _, w := range wish.Sizes {
			values[sizeName(timber.Size{WidthMM: decimal.NewFromFloat(w.WidthMM), ThicknessMM: decimal.NewFromFloat(w.ThicknessMM)})] = w.ValueMinor
		}
	}
	all := len(values) == 0
	var ticks, worth []kindField
	for _, z := range list {
		name := sizeName(z)
		value, on := values[name]
		f.FillTick(name+".on", all || on)
		if value != nil {
			f.Fill(name+".value", currency(set).Plain(*value))
		}
		text := show.BoardSize(z.WidthMM, z.ThicknessMM)
		ticks = append(ticks, tick(f.Field(name+".on", text)))
		worth = append(worth, in(f.Field(name+".value", text, "mode=decimal", "unit=a metre")))
	}
	parts := []sheetPart{}
	if len(ticks) > 0 {
		parts = append(parts, sheetPart{Legend: "Board sizes to look for, dressed", Fields: ticks})
	}
	var own []kindField
	for i := range ownRows {
		at := fmt.Sprintf("%s%d.", ownField, i)
		own = append(own, in(f.Field(at+"width_mm", fmt.Sprintf("Another size %d: width", i+1), "mode=decimal", "unit=mm")), in(f.Field(at+"thickness_mm", fmt.Sprintf("Another size %d: thickness", i+1), "mode=decimal", "unit=mm")))
	}
	parts = append(parts, sheetPart{Legend: "Other sizes", Fields: own, Fold: len(ticks) > 0})
	if person(c).May(access.Prices) && len(worth) > 0 {
		parts = append(parts, sheetPart{Legend: "What a metre is worth", Fields: worth, Fold: true})
	}
	return append(parts, sheetPart{Fields: []kindField{in(f.Field("shortest_mm", "Shortest board of use", "mode=numeric", "unit=mm", "hint=Empty: "+strconv.Itoa(set.ShortBoardMM)+", the workshop's.")),
		in(f.Field("heart_box_mm", "Leave out the heart: side of a square", "mode=decimal", "unit=mm", "hint=Empty: boards may hold the pith."))}}), nil
}

// readWish reads what is wanted of a log; nil when nothing was said.
func (s *Server) readWish(c echo.Context, f *Form) (*timber.LogWish, error) {
	if f.Text("wished") == "" {
		return nil, nil
	}
	set, err := s.settings(c)
	if err != nil {
		return nil, err
	}
	w := &timber.LogWish{HeartBoxMM: f.optionalDecimal("heart_box_mm", 1).InexactFloat64(), ShortestMM: f.optional("shortest_mm", 20_000), Sizes: []timber.WishSize{}}
	var names []string
	for name := range f.values {
		if strings.HasPrefix(name, sizeField) && strings.HasSuffix(name, ".on") {
			names = append(names, strings.TrimSuffix(name, ".on"))
		}
	}
	slices.Sort(names)
	for _, name := range names {
		wide, thick, _ := strings.Cut(strings.ReplaceAll(strings.TrimPrefix(name, sizeField), "_", "."), "x")
		width, ok := show.Decimal(wide, 1)
		thickness, ok2 := show.Decimal(thick, 1)
		if !ok || !ok2 {
			continue
		}
		z := timber.WishSize{WidthMM: width.InexactFloat64(), ThicknessMM: thickness.InexactFloat64()}
		if f.Text(name+".value") != "" && person(c).May(access.Prices) {
			v := f.Money(name+".value", currency(set))
			z.ValueMinor = &v
		}
		w.Sizes = append(w.Sizes, z)
	}
	for i := range ownRows {
		at := fmt.Sprintf("%s%d.", ownField, i)
		if f.Text(at+"width_mm") != "" || f.Text(at+"thickness_mm") != "" {
			w.Sizes = append(w.Sizes, timber.WishSize{WidthMM: f.Decimal(at+"width_mm", 1).InexactFloat64(), ThicknessMM: f.Decimal(at+"thickness_mm", 1).InexactFloat64()})
		}
	}
	slices.SortStableFunc(w.Sizes, func(a, b timber.WishSize) int { return int(b.WidthMM*b.ThicknessMM - a.WidthMM*a.ThicknessMM) })
	return w, nil
}

// handleLogLook shows what a log would give that is not in the book. Everything stands in
// the address; nothing is kept.
func (s *Server) handleLogLook(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c, "look")
	for name, values := range c.QueryParams() {
		if len(values) > 0 {
			f.Fill(name, values[0])
		}
	}
	asked := f.Text("wished") != ""
	v := sheetView{Lead: "Sizes only: see what it gives before you buy it. Nothing is kept until you say so.", Cautions: []string{liftCare}}
	if asked {
		f.Sent = true // what was left empty stays empty
		if err := s.lookAt(c, f, set, &v); err != nil {
			if fault.KindOf(err) != fault.Invalid && fault.KindOf(err) != fault.Conflict {
				return err
			}
			f.fail(err)
			c.Set(statusIn, door.StatusOf(err))
		}
	}
	kinds, err := s.timberChoices(c)
	if err != nil {
		return err
	}
	rest, err := s.logRest(c, f)
	if err != nil {
		return err
	}
	parts := []sheetPart{{Fields: sureField(f, logSizes(f, kinds))}}
	wished, err := s.wishParts(c, f, nil, set)
	if err != nil {
		return err
	}
	parts = append(append(parts, wished...), sheetPart{Legend: "More about it", Fields: rest, Fold: true})
	v.Forms = append([]sheetForm{{Title: "The log", Action: "/timber/logs/look", Form: f, Parts: parts, Button: "What does it give?", Look: true, Hidden: []sheetHidden{{"wished", "yes"}}}}, v.Forms...)
	return s.showSheet(c, "Look at a log", v)
}

// lookAt puts what a log gives on the page, and the form that keeps it.
func (s *Server) lookAt(c echo.Context, f *Form, set house.Settings, v *sheetView) error {
	var g timber.Log
	if err := s.readLog(c, f, &g); err != nil {
		return err
	}
	wish, err := s.readWish(c, f)
	if err != nil {
		return err
	}
	if err := f.Err(); err != nil {
		return err
	}
	if wish != nil && len(wish.Sizes)+int(wish.HeartBoxMM)+wish.ShortestMM > 0 {
		g.Wish = wish
	}
	y, err := s.Answer.LogLook(c.Request().Context(), g, f.Ticked("sure"))
	if err != nil {
		return err
	}
	s.yieldView(c, y, set, v)
	keep := formOf(c, "keep")
	form := sheetForm{Title: "Keep it", About: "It becomes a log of the book with all that is typed here.", Action: "/timber/logs/new", Form: keep, Button: "Keep it"}
	for name := range f.values {
		if !strings.HasPrefix(name, "_") && f.Text(name) != "" {
			form.Hidden = append(form.Hidden, sheetHidden{name, f.Text(name)})
		}
	}
	slices.SortFunc(form.Hidden, func(a, b sheetHidden) int { return strings.Compare(a.Name, b.Name) })
	keep.Name = "" // the page of a new log takes it
	v.Forms = append(v.Forms, form)
	return nil
}

// yieldView puts what a log gives on a page: the drawing, the counts, value against cost,
// whether it fits the mill, by when to mill it.
func (s *Server) yieldView(c echo.Context, y answer.LogYield, set house.Settings, v *sheetView) {
	cur := currency(set)
	v.Cautions = y.Cautions
	if len(y.Out.Layout) > 0 {
		v.LogEnd = logEndOf(y)
	}
	t := sheetTable{Title: "What it gives", Heads: heads("", "Board", "#Boards", "#In all"), Empty: "None of the sizes lies in it.", Narrow: true}
	for _, z := range y.Sizes {
		if z.Boards > 0 {
			t.add(cellOf(z.Key), cellOf(z.ID+", saw "+show.BoardSize(z.Green.WidthMM, z.Green.ThicknessMM)), numCell(z.Boards), cellOf(metres(int64(z.TotalMM))))
		}
	}
	v.Tables = append(v.Tables, t)
	v.Facts = append(v.Facts, told(sheetFact{Name: "By the drawing", Text: fmt.Sprintf("%s, %s in all: %.0f %% of %.3f m³", show.Count(int64(len(y.Out.Layout)), "board", "boards"), metres(int64(y.DrawnMM)), y.Out.RecoveryPct, y.Out.LogVolumeM3)},
		sheetFact{Name: "Lost", Text: fmt.Sprintf("%.0f %% sawdust, %.0f %% slabs and ends", y.Out.SawdustPct, y.Out.SlabPct)},
		sheetFact{Name: "Likely", Text: likelyWords(y)}, sheetFact{Name: "Fits the mill", Text: fitWords(y)}, sheetFact{Name: "Mill by", Text: millByWords(y)})...)
	if person(c).May(access.Prices) {
		v.Costs = append(v.Costs, yieldCosts(y, cur)...)
	}
	if len(y.Choices) > 0 {
		v.Tables = append(v.Tables, choiceTable(y))
	}
}

func likelyWords(y answer.LogYield) string {
	switch {
	case y.Yields.Logs == 0:
		return "no sawn log of this timber is booked yet to set beside the drawing"
	case y.Yields.Believed() == 1 && y.Yields.Ratio != 1:
		return fmt.Sprintf("as drawn; %s of this timber gave %.2f of it, too few to reckon with", show.Count(int64(y.Yields.Logs), "log", "logs"), y.Yields.Ratio)
	}
	return fmt.Sprintf("%s: your logs of this timber gave %.2f of what the drawing says, %s", metres(int64(y.LikelyMM)), y.Yields.Ratio, show.Count(int64(y.Yields.Logs), "log", "logs"))
}

func fitWords(y answer.LogYield) string {
	switch {
	case y.Out.FitsMill:
		return fmt.Sprintf("yes, it takes %.0f mm", y.MillLimitMM)
	case y.Out.TrimMM != nil:
		return fmt.Sprintf("no: it takes %.0f mm. See the ways to cut it below", y.MillLimitMM)
	}
	return fmt.Sprintf("no: it takes %.0f mm and even the small end is thicker. It must be halved lengthwise, or go to a larger mill", y.MillLimitMM)
}

func millByWords(y answer.LogYield) string {
	if y.MillBy == nil {
		return y.MillByWhy
	}
	return show.Date(*y.MillBy) + ". " + y.MillByWhy
}

func yieldCosts(y answer.LogYield, cur show.Currency) []sheetFact {
	from := "by the workshop's figure"
	if y.MinutesFrom > 0 {
		from = "as your last " + show.Count(int64(y.MinutesFrom), "log", "logs") + " took"
	}
	out := []sheetFact{{Name: "Log", Text: cur.Money(y.Log.CostMinor)}, {Name: "Haulage", Text: cur.Money(y.Log.HaulageMinor)},
		{Name: "Sawing", Text: fmt.Sprintf("%s: about %s, %s", cur.Money(y.SawingMinor), show.Minutes(int64(y.SawingMin)), from)}}
	if !y.Valued {
		return append(out, sheetFact{Name: "Worth", Text: "not known: give the timber a standard cost, or write what a metre is worth"})
	}
	for _, x := range y.Choices {
		out = append(out, sheetFact{Name: choiceNames[x.Kind], Text: cur.Money(x.ValueMinor)})
	}
	if !y.Out.FitsMill && y.Best() == nil {
		return append(out, sheetFact{Name: "Worth it?", Text: "No: nothing of it fits the mill"})
	}
	worth := cur.Money(y.ValueMinor) + " as dressed metres cost, where you wrote no other value"
	if !y.Out.FitsMill {
		worth += ". Cut to length, as it gives the most"
	}
	out = append(out, sheetFact{Name: "Boards are worth", Text: worth})
	for _, z := range y.Sizes {
		if z.Boards > 0 {
			out = append(out, sheetFact{Name: z.ID, Text: cur.Money(z.ValueMinor) + " a metre"})
		}
	}
	m := y.MarginMinor()
	if m < 0 {
		return append(out, sheetFact{Name: "Worth it?", Text: "No: it costs " + cur.Money(-m) + " more than its boards are worth"})
	}
	return append(out, sheetFact{Name: "Worth it?", Text: "Yes: " + cur.Money(m) + " is left for drying and dressing"})
}

// choiceNames are the ways to cut a log to length where money stands beside them.
var choiceNames = map[string]string{"whole": "Left whole", "trim": "Cut off at the butt", "cross-cut": "Cross-cut"}

func choiceTable(y answer.LogYield) sheetTable {
	t := sheetTable{Title: "Ways to cut it to length", Heads: heads("Way", "Lengths from the butt", "#Boards", "#Sawn")}
	for _, x := range y.Choices {
		boards := 0
		var pieces []string
		for _, p := range x.Pieces {
			text := fmt.Sprintf("%.0f mm long, %.0f to %.0f mm", p.LengthMM, p.LargeEndMM, p.SmallEndMM)
			if p.SweepMM >= 1 {
				text += fmt.Sprintf(", sweep %.0f", p.SweepMM)
			}
			if !p.FitsMill {
				text += ", too thick"
			}
			boards += p.Boards
			pieces = append(pieces, text)
		}
		words := x.Words
		if x.Best {
			words += " (gives the most)"
		}
		t.add(cellOf(words), cellOf(strings.Join(pieces, "; ")), numCell(boards), cellOf(fmt.Sprintf("%.3f m³", x.M3)))
	}
	return t
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
	v := sheetView{Facts: told(sheetFact{Name: "Timber", Text: g.SpeciesName}, sheetFact{Name: "Sizes", Text: logWords(g)},
		sheetFact{Name: "Felled", Text: show.DateOr(g.FelledOn, "")}, sheetFact{Name: "From", Text: g.FromWhere}, sheetFact{Name: "Notes", Text: g.Notes}), Cautions: []string{liftCare, sawCare, dustCare}, History: "/history/log/" + idText(id)}
	if g.SawnAt != nil {
		if err := s.sawnView(c, g, set, &v); err != nil {
			return err
		}
	} else if err := s.openLogView(c, g, set, &v); err != nil {
		return err
	}
	form, err := s.logForm(c, g, set)
	if err != nil {
		return err
	}
	v.Forms = append(v.Forms, form)
	return s.showSheet(c, "Log "+g.Number, v)
}

func logWords(g timber.Log) string {
	text := show.MM(g.SmallEndMM) + " to " + show.MM(g.LargeEndMM) + " mm through, " + show.MM(g.LengthMM) + " mm long"
	if g.SweepMM.IsPositive() {
		text += ", sweep " + show.MM(g.SweepMM) + " mm"
	}
	return text + fmt.Sprintf(", %.3f m³", g.VolumeM3())
}

// logForm is the form that changes a log.
func (s *Server) logForm(c echo.Context, g timber.Log, set house.Settings) (sheetForm, error) {
	f, cur := formOf(c, "change"), currency(set)
	f.FillVersion(g.Version)
	for name, value := range map[string]string{"species_id": idText(g.SpeciesID), "small_end_mm": show.MM(g.SmallEndMM), "large_end_mm": show.MM(g.LargeEndMM), "length_mm": show.MM(g.LengthMM), "sweep_mm": show.MM(g.SweepMM),
		"from_where": g.FromWhere, "notes": g.Notes, "cost": cur.Plain(g.CostMinor), "haulage": cur.Plain(g.HaulageMinor)} {
		f.Fill(name, value)
	}
	if g.FelledOn != nil {
		f.Fill("felled_on", show.ISODate(*g.FelledOn))
	}
	if g.SupplierID != nil {
		f.Fill("supplier_id", idText(*g.SupplierID))
	}
	f.FillTick("ends_sealed", g.EndsSealed)
	f.FillTick("metal_suspected", g.MetalSuspected)
	f.FillTick("hollow_suspected", g.HollowSuspected)
	fields, err := s.logFields(c, f)
	return sheetForm{Title: "Change it", Fold: true, Action: hrefOf("log", g.ID) + "/change", Form: f, Parts: one(fields...), Button: "Keep"}, err
}

// openLogView is the page of a log that is still to be sawn.
func (s *Server) openLogView(c echo.Context, g timber.Log, set house.Settings, v *sheetView) error {
	v.Lead = "Not sawn yet"
	v.Links = []sheetLink{{"Sawing day: what came of it", hrefOf("log", g.ID) + "/sawing"}, {"Sawing card (PDF)", hrefOf("log", g.ID) + "/sawing-card.pdf"}}
	y, err := s.Answer.LogYield(c.Request().Context(), g.ID)
	switch kind := fault.KindOf(err); {
	case err == nil:
		s.yieldView(c, y, set, v)
		if y.MillBy != nil && y.MillBy.Before(set.Today(s.DB.Now())) {
			v.Late, v.Lead = "Late:", "it should be milled by now"
		}
	case kind == fault.Invalid || kind == fault.Conflict:
		v.Short = []string{door.ProblemOf(err).Detail}
	default:
		return err
	}
	f := formOf(c, "wish")
	f.FillVersion(g.Version)
	parts, err := s.wishParts(c, f, g.Wish, set)
	if err != nil {
		return err
	}
	v.Forms = append(v.Forms, sheetForm{Title: "What is wanted of it", Fold: true, Action: hrefOf("log", g.ID) + "/wish", Form: f, Parts: parts, Button: "Draw it anew", Hidden: []sheetHidden{{"wished", "yes"}}})
	return nil
}

func (s *Server) handleLogPost(c echo.Context) error {
	back := func(id int64) string { return hrefOf("log", id) }
	return s.deed(c, s.handleLog, back, map[string]func(echo.Context, int64) (string, error){"change": s.changeLog, "wish": s.wishLog})
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

func (s *Server) wishLog(c echo.Context, id int64) (string, error) {
	f := formOf(c, "wish")
	wish, err := s.readWish(c, f)
	if err != nil {
		return "", err
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	if wish != nil && !person(c).May(access.Prices) { // who sees no price leaves the values as they are
		g, err := s.Timber.LogGet(c.Request().Context(), id)
		if err != nil {
			return "", err
		}
		wish.KeepValues(g.Wish)
	}
	_, err = s.Timber.LogWish(c.Request().Context(), id, f.Version, wish)
	return "It is drawn anew.", err
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
