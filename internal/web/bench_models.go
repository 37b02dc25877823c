package web

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerModelPages(r *routes) {
	r.get(access.Bench, "/bench/models", s.handleModels)
	r.post(access.Bench, "/bench/models", s.handleModelsPost)
	r.get(access.Bench, "/bench/models/:id", s.handleModel)
	r.post(access.Bench, "/bench/models/:id/:deed", s.handleModelPost)
	r.get(access.Bench, "/bench/revisions/:id", s.handleRevision)
	r.get(access.Bench, "/bench/fits/:id", s.handleFit)
	r.post(access.Bench, "/bench/fits/:id", s.handleFitPost)
	r.get(access.Bench, "/bench/options/:id", s.handleOption)
	r.post(access.Bench, "/bench/options/:id", s.handleOptionPost)
}

func (s *Server) handleModels(c echo.Context) error {
	ctx := c.Request().Context()
	models, err := s.Workshop.ModelList(ctx, true)
	if err != nil {
		return err
	}
	fits, err := s.Workshop.FitList(ctx)
	if err != nil {
		return err
	}
	options, err := s.Workshop.OptionList(ctx, 0)
	if err != nil {
		return err
	}
	t := sheetTable{Heads: heads("Model", "#Revision"), Empty: "No model is drawn up yet."}
	for _, m := range models {
		name := m.Name
		if m.PutAwayAt != nil {
			name += " (put away)"
		}
		t.add(linkCell(name, "/bench/models/"+idText(m.ID)), numCell(m.Latest))
	}
	ft := sheetTable{Title: "Fits", Heads: heads("Fit", "In use"), Empty: "No fit is put down yet.", More: "/bench/fits/0", MoreText: "Put down a fit"}
	for _, f := range fits {
		ft.add(linkCell(f.Name, "/bench/fits/"+idText(f.ID)), cellOf(map[bool]string{true: "a model names it"}[f.InUse]))
	}
	ot := sheetTable{Title: "Options a buyer can choose", Heads: heads("Option", "Kind", "Cures"), Empty: "No option is put down yet.", More: "/bench/options/0", MoreText: "Put down an option"}
	for _, o := range options {
		cures := ""
		if o.CureDays > 0 {
			cures = show.Count(int64(o.CureDays), "day", "days")
		}
		ot.add(linkCell(o.Name, "/bench/options/"+idText(o.ID)), cellOf(o.Kind), cellOf(cures))
	}
	f := formOf(c)
	start := []Choice{{Text: "An empty drawing"}}
	for _, r := range hive.Ready() {
		start = append(start, Choice{Value: r.Model.ID, Text: r.Name + ": " + r.About})
	}
	v := sheetView{Links: []sheetLink{{"Open builds", "/bench"}, {"Things there are only so many of", "/bench/things"}}, Tables: []sheetTable{t, ft, ot}, Side: []sheetForm{{Title: "A new model", Action: "/bench/models", Form: f, Button: "Draw it up",
		Parts: one(in(f.Field("name", "Name", "required")), in(f.Field("code", "Short name", "required", "hint=Small letters and hyphens, such as two-tier.")), choose(f.Choose("start", "Start from", start)))}}}
	return s.showSheet(c, "Models", v)
}

func (s *Server) handleModelsPost(c echo.Context) error {
	f := formOf(c)
	m, err := s.Workshop.ModelSave(c.Request().Context(), workshop.Model{Code: f.Text("code"), Name: f.Text("name")})
	if err != nil {
		return again(err, s.handleModels)
	}
	href := "/bench/models/" + idText(m.ID)
	if f.Text("start") != "" {
		href += "?start=" + f.Text("start")
	}
	return goTo(c, href, m.Name+" is in the book. Now draw it up.")
}

// startModel is what a drawing begins with: the latest revision, else the ready model
// asked for, else one empty brood section.
func (s *Server) startModel(c echo.Context, m workshop.Model) (workshop.Revision, error) {
	if m.LatestID != nil {
		return s.Workshop.RevisionGet(c.Request().Context(), *m.LatestID)
	}
	for _, r := range hive.Ready() {
		if r.Model.ID == c.QueryParam("start") {
			return workshop.Revision{Body: r.Model}, nil
		}
	}
	return workshop.Revision{Body: hive.Model{HeldFrom: "outside", Sections: []hive.Section{{ID: "brood", Kind: "brood", Count: 1}}}}, nil
}

func (s *Server) handleModel(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	m, err := s.Workshop.ModelGet(ctx, id)
	if err != nil {
		return err
	}
	revisions, err := s.Workshop.RevisionList(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	t := sheetTable{Title: "Revisions", Heads: heads("#Revision", "Drawn", "Why"), Empty: "It is not drawn up yet: fill in the drawing below."}
	for _, r := range revisions {
		t.add(linkCell(strconv.Itoa(r.Revision), "/bench/revisions/"+idText(r.ID)), cellOf(show.Time(r.MadeAt, set.Location())), cellOf(r.Reason))
	}
	learnt, err := s.Workshop.ModelLearnt(ctx, id)
	if err != nil {
		return err
	}
	rev, err := s.startModel(c, m)
	if err != nil {
		return err
	}
	draw, name := formOf(c, "draw"), formOf(c, "name")
	name.FillVersion(m.Version)
	name.Fill("name", m.Name)
	name.Fill("code", m.Code)
	name.FillTick("put_away", m.PutAwayAt != nil)
	parts, err := s.drawingParts(c, draw, rev, m.Latest > 0)
	if err != nil {
		return err
	}
	at := "/bench/models/" + idText(id)
	dry, err := s.Workshop.DryOperations(ctx, id)
	if err != nil {
		return err
	}
	v := sheetView{Tables: []sheetTable{t}, History: "/history/box_model/" + idText(id), Links: []sheetLink{{"All models", "/bench/models"}},
		Forms: []sheetForm{{Title: "Draw up a revision", Fold: m.Latest > 0, Action: at + "/draw", Form: draw, Button: "Keep the drawing", Parts: parts,
			About: "A part is as long as its factors say: so many times the model's length, its width, the wall and the height of its section, and so many millimetres more. Factors are halves or whole numbers. Lines left empty are left out."}},
		Side: []sheetForm{{Title: "Name", Fold: true, Action: at + "/name", Form: name, Button: "Keep", Parts: one(in(name.Field("name", "Name", "required")), in(name.Field("code", "Short name", "required")), tick(name.Field("put_away", "Put away: no longer offered")))}}}
	if len(dry) > 0 {
		v.Side = append(v.Side, dryForm(c, at, dry))
	}
	if len(learnt) > 0 {
		v.Tables = append(v.Tables, learntTable(id, learnt))
	}
	return s.showSheet(c, m.Name, v)
}

func (s *Server) handleModelPost(c echo.Context) error {
	back := func(id int64) string { return "/bench/models/" + idText(id) }
	return s.deed(c, s.handleModel, back, map[string]func(echo.Context, int64) (string, error){"draw": s.drawModel, "learnt": s.takeLearnt, "name": s.nameModel, "dry": s.dryModel})
}

func (s *Server) nameModel(c echo.Context, id int64) (string, error) {
	f, ctx := formOf(c, "name"), c.Request().Context()
	m, err := s.Workshop.ModelGet(ctx, id)
	if err != nil {
		return "", err
	}
	now := s.DB.Now()
	m.Version, m.Name, m.Code = f.Version, f.Text("name"), f.Text("code")
	if !f.Ticked("put_away") {
		m.PutAwayAt = nil
	} else if m.PutAwayAt == nil {
		m.PutAwayAt = &now
	}
	_, err = s.Workshop.ModelSave(ctx, m)
	return "Kept.", err
}

func (s *Server) drawModel(c echo.Context, id int64) (string, error) {
	f := formOf(c, "draw")
	d := workshop.Drawing{ModelID: id, Body: readDrawing(f), FitID: f.maybeID("fit_id"), SerialSection: f.Text("serial_section"), Reason: f.Text("reason")}
	if err := f.Err(); err != nil {
		return "", err
	}
	if d.FitID != nil {
		fit, err := s.Workshop.FitGet(c.Request().Context(), *d.FitID)
		if err != nil {
			return "", err
		}
		d.Body.Fit = fit.Name
	}
	r, err := s.Workshop.RevisionAdd(c.Request().Context(), d)
	return fmt.Sprintf("Revision %d is kept.", r.Revision), err
}

func (s *Server) handleRevision(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	r, err := s.Workshop.RevisionGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	v := sheetView{Links: []sheetLink{{"The model", "/bench/models/" + idText(r.ModelID)}}}
	out, err := hive.Hive(c.Request().Context(), hive.HiveIn{Model: r.Body})
	if err == nil {
		v.Facts = told(sheetFact{Name: "Room inside", Text: fmt.Sprintf("%.1f litres", out.InnerVolumeL)}, sheetFact{Name: "Outside", Text: fmt.Sprintf("%.0f × %.0f × %.0f mm", out.OutsideLengthMM, out.OutsideWidthMM, out.OutsideHeightMM)},
			sheetFact{Name: "Empty, in hoop pine", Text: fmt.Sprintf("%.1f kg", out.EmptyMassKg)}, sheetFact{Name: "Full", Text: fmt.Sprintf("about %.0f kg", out.FullMassKg)}, sheetFact{Name: "Loses heat", Text: fmt.Sprintf("%.2f W for each degree", out.HeatLossWK)},
			sheetFact{Name: "Bears the serial", Text: plain(r.SerialSection)}, sheetFact{Name: "Why it changed", Text: r.Reason})
	}
	sections := sheetTable{Title: "Sections, from the ground up", Heads: heads("Section", "Kind", "#Height", "#How many")}
	for _, z := range r.Body.Sections {
		sections.add(cellOf(plain(z.ID)), cellOf(z.Kind), cellOf(figureText(z.HeightMM)+" mm"), numCell(z.Count))
	}
	parts := sheetTable{Title: "Parts", Heads: heads("Part", "Section", "Board size", "#Length", "#How many")}
	for _, p := range out.Parts {
		parts.add(cellOf(p.Name), cellOf(plain(p.Section)), cellOf(figureText(p.BoardSize.WidthMM)+" × "+figureText(p.BoardSize.ThicknessMM)+" mm"), cellOf(figureText(p.LengthMM)+" mm"), numCell(p.Count))
	}
	ops := sheetTable{Title: "Operations", Heads: heads("Operation", "Needs", "#Once", "#Each", "#Wait"), Empty: "None."}
	for _, o := range r.Body.Operations {
		ops.add(cellOf(plain(o.ID)), cellOf(strings.Join(workNeeds(o.Needs, o.OwnerOnly), ", ")), cellOf(minutesOf(o.SetupMinutes)), cellOf(minutesOf(o.PieceMinutes)), cellOf(minutesOf(o.WaitMinutes)))
	}
	fittings := sheetTable{Title: "Fittings", Heads: heads("What", "#How many"), Empty: "None."}
	for _, f := range r.Body.Fittings {
		fittings.add(cellOf(plain(f.ID)), numCell(f.Count))
	}
	v.Tables = []sheetTable{sections, parts, fittings, ops}
	return s.showSheet(c, fmt.Sprintf("%s, revision %d", r.ModelName, r.Revision), v)
}

// workNeeds says what an operation needs beside hands.
func workNeeds(things []string, ownerOnly bool) []string {
	if ownerOnly {
		return append([]string{"only the owner"}, things...)
	}
	return things
}

// number writes a figure without zeros behind it.
func figureText(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

const fitRows = 8

// newOr reads what the address names with get; the zero value for 0, a new record.
func newOr[T any](c echo.Context, get func(int64) (T, error)) (T, error) {
	var none T
	if c.Param("id") == "0" {
		return none, nil
	}
	id, err := pathID(c)
	if err != nil {
		return none, err
	}
	return get(id)
}

func (s *Server) fitOf(c echo.Context) (workshop.Fit, error) {
	return newOr(c, func(id int64) (workshop.Fit, error) { return s.Workshop.FitGet(c.Request().Context(), id) })
}

func (s *Server) handleFit(c echo.Context) error {
	fit, err := s.fitOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(fit.Version)
	title := "A fit"
	if fit.ID > 0 {
		title = fit.Name
		f.Fill("name", fit.Name)
		f.Fill("notes", fit.Notes)
	}
	parts := one(in(f.Field("name", "Name", "required")), area(f.Field("notes", "Notes")))
	for i := range max(fitRows, len(fit.Sizes)) {
		at := fmt.Sprintf("sizes.%d.", i)
		if i < len(fit.Sizes) {
			z := fit.Sizes[i]
			f.Fill(at+"name", z.Name)
			f.Fill(at+"nominal_mm", show.MM(z.NominalMM))
			f.Fill(at+"low_mm", show.MM(z.LowMM))
			f.Fill(at+"high_mm", show.MM(z.HighMM))
		}
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("Size %d", i+1), Fields: []kindField{in(f.Field(at+"name", "What is measured")), in(f.Field(at+"nominal_mm", "Size", "mode=decimal", "unit=mm")),
			in(f.Field(at+"low_mm", "At least", "mode=decimal", "unit=mm")), in(f.Field(at+"high_mm", "At most", "mode=decimal", "unit=mm"))}})
	}
	v := sheetView{Lead: "The sizes at which sections meet. The same fit interchanges for ever: once a model names it, its sizes stay.", Forms: []sheetForm{{Action: "/bench/fits/" + c.Param("id"), Form: f, Parts: parts, Button: "Keep"}}}
	return s.showSheet(c, title, v)
}

func (s *Server) handleFitPost(c echo.Context) error {
	fit, err := s.fitOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	rows := max(fitRows, len(fit.Sizes))
	fit.Name, fit.Notes, fit.Version, fit.Sizes = f.Text("name"), f.Text("notes"), f.Version, nil
	for i := range rows {
		at := fmt.Sprintf("sizes.%d.", i)
		if f.Text(at+"name") == "" {
			continue
		}
		fit.Sizes = append(fit.Sizes, workshop.FitSize{Name: f.Text(at + "name"), NominalMM: f.Decimal(at+"nominal_mm", 1), LowMM: f.Decimal(at+"low_mm", 1), HighMM: f.Decimal(at+"high_mm", 1)})
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleFit)
	}
	if _, err := s.Workshop.FitSave(c.Request().Context(), fit); err != nil {
		return again(err, s.handleFit)
	}
	return goTo(c, "/bench/models", "Kept.")
}

var optionKinds = []Choice{{Value: "section", Text: "A further section"}, {Value: "mount", Text: "A mount"}, {Value: "finish", Text: "A finish"}, {Value: "other", Text: "Something else"}}

// optionOf reads the option of the address from the list of those in use.
func (s *Server) optionOf(c echo.Context) (workshop.Option, error) {
	return newOr(c, func(id int64) (workshop.Option, error) {
		list, err := workshop.OptionsByID(c.Request().Context(), s.DB, []int64{id})
		if err != nil {
			return workshop.Option{}, err
		}
		return list[0], nil
	})
}

func (s *Server) handleOption(c echo.Context) error {
	o, err := s.optionOf(c)
	if err != nil {
		return err
	}
	models, err := s.Workshop.ModelList(c.Request().Context(), false)
	if err != nil {
		return err
	}
	choices := []Choice{{Text: "Every model"}}
	for _, m := range models {
		choices = append(choices, Choice{Value: idText(m.ID), Text: m.Name})
	}
	f := formOf(c)
	f.FillVersion(o.Version)
	title := "An option"
	if o.ID > 0 {
		title = o.Name
		f.Fill("code", o.Code)
		f.Fill("name", o.Name)
		f.Fill("kind", o.Kind)
		f.Fill("section", o.Section)
		f.Fill("cure_days", strconv.Itoa(o.CureDays))
		f.FillTick("put_away", o.PutAwayAt != nil)
		if o.ModelID != nil {
			f.Fill("model_id", idText(*o.ModelID))
		}
	}
	parts := one(in(f.Field("name", "Name", "required")), in(f.Field("code", "Short name", "required")), choose(f.Choose("kind", "It is", optionKinds)), choose(f.Choose("model_id", "For", choices)),
		in(f.Field("section", "The section it repeats", "hint=For a further section: its short name in the model.")), in(f.Field("cure_days", "Days before bees may live in it", "mode=numeric")), tick(f.Field("put_away", "Put away: no longer offered")))
	parts = append(parts, fittingParts(f, "", o.Fittings, 2)...)
	needs, err := s.needChoices(c.Request().Context())
	if err != nil {
		return err
	}
	parts = append(parts, operationParts(f, "", o.Operations, 2, needs)...)
	return s.showSheet(c, title, sheetView{Forms: []sheetForm{{Action: "/bench/options/" + c.Param("id"), Form: f, Parts: parts, Button: "Keep"}}, Cautions: []string{treatedCare}})
}

func (s *Server) handleOptionPost(c echo.Context) error {
	o, err := s.optionOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	o.Version, o.Code, o.Name, o.Kind, o.ModelID, o.Section, o.CureDays = f.Version, f.Text("code"), f.Text("name"), f.Text("kind"), f.maybeID("model_id"), f.Text("section"), f.optional("cure_days", 365)
	o.Fittings, o.Operations = readFittings(f, "", len(o.Fittings)+2), readOperations(f, "", len(o.Operations)+2)
	now := s.DB.Now()
	if !f.Ticked("put_away") {
		o.PutAwayAt = nil
	} else if o.PutAwayAt == nil {
		o.PutAwayAt = &now
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleOption)
	}
	if _, err := s.Workshop.OptionSave(c.Request().Context(), o); err != nil {
		return again(err, s.handleOption)
	}
	return goTo(c, "/bench/models", "Kept.")
}
