package web

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerDressPages(r *routes) {
	r.get(access.Timber, "/timber/packs/:id/dress", s.handleDress)
	r.post(access.Timber, "/timber/packs/:id/dress", s.handleDressPost)
	r.get(access.Timber, "/timber/lots/:id/rip", s.handleRip)
	r.post(access.Timber, "/timber/lots/:id/rip", s.handleRipPost)
}

// Rows a dressing offers: boards of the full width, and strips that were ripped of them.
const (
	dressRows = 4
	stripRows = 3
)

var dockChoices = []Choice{{Text: "Nothing in particular"}, {Value: "checks", Text: "Checks"}, {Value: "knots", Text: "Knots"}, {Value: "wane", Text: "Wane"}, {Value: "stain", Text: "Stain"},
	{Value: "borers", Text: "Borers"}, {Value: "twist", Text: "Twist"}, {Value: "other", Text: "Something else"}}

// takenName is the field of how many boards of a line of a pack were taken out.
func takenName(c timber.Content) string { return fmt.Sprintf("taken.%d.%s", c.LengthMM, c.Grade) }

func (s *Server) handleDress(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	p, err := s.Timber.PackGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	back := sheetLink{"Pack " + p.Number, hrefOf("pack", id)}
	title := "Dress boards of pack " + p.Number
	if p.FinishedAt != nil {
		return s.showSheet(c, title, sheetView{Lead: "The pack is finished: all of it is dressed or gone.", Links: []sheetLink{back}})
	}
	f := formOf(c)
	if err := s.fillDress(c, f, p); err != nil {
		return err
	}
	v := sheetView{Lead: fmt.Sprintf("%s, green %s. Dry: %s.", p.SpeciesName, show.BoardSize(p.WidthMM, p.ThicknessMM), dryWords(p)), Links: []sheetLink{back},
		Forms:    []sheetForm{{Action: hrefOf("pack", id) + "/dress", Form: f, Parts: dressParts(f, p), Button: "Put them on the rack"}},
		Cautions: []string{"Planer: never a board shorter than the tables ask, knots and nails looked for, hands clear of the cutters, a push block to hand. The machine's own manual comes first.", sawCare, dustCare, liftCare}}
	return s.showSheet(c, title, v)
}

// fillDress writes down what the book knows: the size the pack is meant for.
func (s *Server) fillDress(c echo.Context, f *Form, p timber.Pack) error {
	if p.DressesToID == nil {
		return nil
	}
	z, err := s.Timber.SizeGet(c.Request().Context(), *p.DressesToID)
	f.Fill("width_mm", z.WidthMM.String())
	f.Fill("thickness_mm", z.ThicknessMM.String())
	return err
}

func dressParts(f *Form, p timber.Pack) []sheetPart {
	taken := sheetPart{Legend: "How many were taken out"}
	for _, l := range p.Content {
		if l.Count > 0 {
			taken.Fields = append(taken.Fields, in(f.Field(takenName(l), fmt.Sprintf("Of %d of %d mm, %s", l.Count, l.LengthMM, l.Grade), "mode=numeric")))
		}
	}
	f.Fill("other.grade", "sound")
	parts := []sheetPart{taken, {Legend: "A length the book does not have", Fold: true, Fields: []kindField{in(f.Field("other.length_mm", "Length", "mode=numeric", "unit=mm")),
		in(f.Field("other.count", "How many", "mode=numeric")), choose(f.Choose("other.grade", "Grade", gradeChoices))}},
		{Legend: "Dressed to", Fields: []kindField{in(f.Field("width_mm", "Width", "mode=decimal", "unit=mm", "required")), in(f.Field("thickness_mm", "Thickness", "mode=decimal", "unit=mm", "required")),
			in(f.Field("thickness_true_mm", "True thickness, if it differs", "mode=decimal", "unit=mm"))}}}
	row := func(name, legend string, fold bool, first ...kindField) {
		f.Fill(name+"grade", "sound")
		fields := append(first, in(f.Field(name+"count", "How many", "mode=numeric")), in(f.Field(name+"length_mm", "Good length", "mode=numeric", "unit=mm")), choose(f.Choose(name+"grade", "Grade", gradeChoices)))
		parts = append(parts, sheetPart{Legend: legend, Fold: fold, Fields: fields})
	}
	for i := range dressRows {
		legend := "What came, after docking"
		if i > 0 {
			legend = fmt.Sprintf("Another length, %d", i+1)
		}
		row(fmt.Sprintf("boards.%d.", i), legend, i > 0)
	}
	for i := range stripRows {
		name := fmt.Sprintf("strips.%d.", i)
		row(name, fmt.Sprintf("Ripped narrower, %d", i+1), true, in(f.Field(name+"width_mm", "Width of the strips", "mode=decimal", "unit=mm")))
	}
	return append(parts, sheetPart{Fields: []kindField{in(f.Field("place", "Where they lie now")), choose(f.Choose("docked_for", "Most was docked for", dockChoices)),
		in(f.Field("minutes", "Time it took", "mode=numeric", "unit=minutes")), in(f.Field("by", "By whom")), tick(f.Field("done", "The pack is finished: nothing is left in it"))}})
}

// readDress reads a dressing.
func readDress(f *Form, p timber.Pack) timber.Dressing {
	d := timber.Dressing{PackID: p.ID, Place: f.Text("place"), Done: f.Ticked("done"), By: f.Text("by"), DockedFor: f.Text("docked_for"), Minutes: f.optional("minutes", 10_000)}
	for _, l := range p.Content {
		if n := f.optional(takenName(l), 100_000); n > 0 {
			d.Taken = append(d.Taken, timber.Content{LengthMM: l.LengthMM, Grade: l.Grade, Count: n})
		}
	}
	if f.Text("other.length_mm") != "" || f.Text("other.count") != "" {
		d.Taken = append(d.Taken, timber.Content{LengthMM: int(f.Int("other.length_mm", 1, 20_000)), Grade: f.Text("other.grade"), Count: int(f.Int("other.count", 1, 100_000))})
	}
	wide, thick, real := f.Decimal("width_mm", 1), f.Decimal("thickness_mm", 1), f.optionalDecimal("thickness_true_mm", 1)
	add := func(name string, width func() decimal.Decimal) {
		if f.Text(name+"length_mm") == "" && f.Text(name+"count") == "" {
			return
		}
		d.Boards = append(d.Boards, timber.DressedLot{WidthMM: width(), ThicknessMM: thick, ThicknessTrueMM: real,
			LengthMM: int(f.Int(name+"length_mm", 1, 20_000)), Count: int(f.Int(name+"count", 1, 100_000)), Grade: f.Text(name + "grade")})
	}
	for i := range dressRows {
		add(fmt.Sprintf("boards.%d.", i), func() decimal.Decimal { return wide })
	}
	for i := range stripRows {
		name := fmt.Sprintf("strips.%d.", i)
		add(name, func() decimal.Decimal { return f.Decimal(name+"width_mm", 1) })
	}
	return d
}

func (s *Server) handleDressPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	p, err := s.Timber.PackGet(ctx, id)
	if err != nil {
		return err
	}
	f := formOf(c)
	d := readDress(f, p)
	d.At = s.DB.Now()
	if err := f.Err(); err != nil {
		return again(err, s.handleDress)
	}
	out, err := s.Timber.PackDress(ctx, d)
	if err != nil {
		return again(err, s.handleDress)
	}
	n := 0
	for _, b := range d.Boards {
		n += b.Count
	}
	said := show.Count(int64(n), "board lies", "boards lie") + " on the rack."
	if n > 0 {
		said += fmt.Sprintf(" %s of %s came, %s docked.", metres(out.Work.CameMM), metres(out.Work.TakenMM), show.Pct(out.Work.DockedPct()))
	}
	return goTo(c, hrefOf("pack", id), joined(said, append(out.Notes, timber.Booked{Broken: out.Broken}.Notes()...)))
}

// dressTable lists the dressings of a pack.
func (s *Server) dressTable(c echo.Context, packID int64) (sheetTable, error) {
	t := sheetTable{Title: "Dressed of it", Heads: heads("Day", "#Boards", "#Taken", "#Came", "#Docked", "For", "#Minutes", "By"), Empty: "Nothing was dressed of it yet."}
	list, err := s.Timber.WorkList(c.Request().Context(), packID)
	if err != nil {
		return t, err
	}
	set, err := s.settings(c)
	for _, w := range list {
		t.add(cellOf(show.Time(w.At, set.Location())), numCell(w.Taken), cellOf(metres(w.TakenMM)), cellOf(metres(w.CameMM)), cellOf(show.Pct(w.DockedPct())), cellOf(w.DockedFor), numCell(w.Minutes), cellOf(w.By))
	}
	return t, err
}

// packDressed puts what came of a pack on its page.
func (s *Server) packDressed(c echo.Context, p timber.Pack, v *sheetView) error {
	came, err := s.Timber.PackCame(c.Request().Context(), p.ID)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	t, err := s.dressTable(c, p.ID)
	v.Tables = append(v.Tables, t)
	v.Facts = append(v.Facts, cameFacts(came)...)
	if came.Times > 0 {
		cur := currency(set)
		v.Costs = append(v.Costs, sheetFact{Name: "Of it given to dressed boards", Text: cur.Money(came.BoardsMinor)}, sheetFact{Name: "Drying space of those", Text: cur.Money(came.DryingMinor)},
			sheetFact{Name: "Time at planer and saw", Text: cur.Money(came.LabourMinor)})
	}
	return err
}

// cameFacts say what came of timber against what went in.
func cameFacts(x timber.Came) []sheetFact {
	if x.Times == 0 {
		return nil
	}
	return []sheetFact{{Name: "Dressed so far", Text: fmt.Sprintf("%s of %s", metres(x.CameMM), metres(x.TakenMM))}, {Name: "Docked", Text: show.Pct(x.DockedPct()) + " of the length"},
		{Name: "Dressing loss", Text: show.Pct(x.LossPct()) + " of the green volume"}}
}

// reckoningTable tells how the cost of a lot came about, line by line; for who may see
// costs.
func (s *Server) reckoningTable(c echo.Context, lotID int64) ([]sheetFact, error) {
	list, err := s.Timber.LotReckoning(c.Request().Context(), lotID)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	set, err := s.settings(c)
	if err != nil {
		return nil, err
	}
	cur := currency(set)
	var out []sheetFact
	for _, k := range list {
		from := "Log, haulage, sawing of pack " + k.PackNumber
		if k.FromLotID != nil {
			from = "The wide boards that were ripped"
		}
		out = append(out, sheetFact{Name: from, Text: cur.Money(k.BoardsMinor)})
		if k.LogID != nil && k.LogMinor+k.HaulageMinor+k.SawingMinor > 0 {
			out = append(out, sheetFact{Name: "(log " + k.LogNumber + " in all)", Text: fmt.Sprintf("%s, haulage %s, sawing %s", cur.Money(k.LogMinor), cur.Money(k.HaulageMinor), cur.Money(k.SawingMinor))})
		}
		if k.FromLotID == nil {
			out = append(out, sheetFact{Name: "Drying space", Text: cur.Money(k.DryingMinor)})
		}
		out = append(out, sheetFact{Name: "Time at planer and saw", Text: cur.Money(k.LabourMinor)},
			sheetFact{Name: fmt.Sprintf("In all for %s, %s", show.Count(int64(k.Count), "board", "boards"), metres(k.MM)), Text: cur.Money(k.CostMinor())}, sheetFact{Name: "A metre of them", Text: cur.Money(k.MetreCostMinor())})
	}
	return out, nil
}

func (s *Server) handleRip(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	l, err := s.Timber.LotGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	fields := []kindField{in(f.Field("count", fmt.Sprintf("How many of the %d boards", l.OnHand), "mode=numeric", "required"))}
	for i := range 4 {
		label := fmt.Sprintf("Width of strip %d", i+1)
		options := []string{"mode=decimal", "unit=mm"}
		if i == 0 {
			options = append(options, "required")
		}
		fields = append(fields, in(f.Field(fmt.Sprintf("widths_mm.%d", i), label, options...)))
	}
	fields = append(fields, in(f.Field("length_mm", "Good length, if shorter", "mode=numeric", "unit=mm")), in(f.Field("minutes", "Time it took", "mode=numeric", "unit=minutes")), in(f.Field("by", "By whom")))
	about := fmt.Sprintf("Strips of one board, %s mm wide. Each cut takes %s mm.", show.MM(l.WidthMM), show.MM(set.SawKerfMM))
	if l.PutAside+l.Meant > 0 {
		about += fmt.Sprintf(" %d are put aside or meant for jobs, %d are free.", l.PutAside+l.Meant, max(0, l.Free()))
	}
	v := sheetView{Lead: about, Links: []sheetLink{{"The boards", "/timber/lots/" + idText(id)}}, Cautions: []string{sawCare, dustCare},
		Forms: []sheetForm{{Action: "/timber/lots/" + idText(id) + "/rip", Form: f, Parts: one(fields...), Button: "They are ripped"}}}
	return s.showSheet(c, fmt.Sprintf("Rip %s, %s, %d mm", l.SpeciesName, show.BoardSize(l.WidthMM, l.ThicknessMM), l.LengthMM), v)
}

func (s *Server) handleRipPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	p := timber.Ripping{LotID: id, At: s.DB.Now(), Count: int(f.Int("count", 1, 100_000)), LengthMM: f.optional("length_mm", 20_000), Minutes: f.optional("minutes", 10_000), By: f.Text("by")}
	for i := range 4 {
		if name := "widths_mm." + strconv.Itoa(i); i == 0 || f.Text(name) != "" {
			p.WidthsMM = append(p.WidthsMM, f.Decimal(name, 1))
		}
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleRip)
	}
	out, err := s.Timber.LotRip(c.Request().Context(), p)
	if err != nil {
		return again(err, s.handleRip)
	}
	var came []string
	for _, l := range out.Lots {
		came = append(came, show.BoardSize(l.WidthMM, l.ThicknessMM))
	}
	said := fmt.Sprintf("%s ripped to %s.", show.Count(int64(p.Count), "board is", "boards are"), strings.Join(came, " and "))
	return goTo(c, "/timber/lots/"+idText(out.Lots[0].ID), joined(said, append(out.Notes, timber.Booked{Broken: out.Broken}.Notes()...)))
}
