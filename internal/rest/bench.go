package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

func (s *Server) registerBenchRoutes(g *echo.Group) {
	s.registerModelRoutes(g)
	g.GET("/builds", s.handleBuildList)
	g.POST("/builds", s.handleBuildMake)
	g.GET("/builds/:id", s.handleBuild)
	g.PUT("/builds/:id", s.handleBuildChange)
	g.POST("/builds/:id/cutting", s.handleCuttingLay)
	g.POST("/builds/:id/cutting/accept", s.handleCuttingAccept)
	g.POST("/builds/:id/fittings", s.handleFittingsClaim)
	g.POST("/builds/:id/outputs/:n", s.handleOutput)
	g.POST("/builds/:id/finish", s.handleBuildFinish)
	g.POST("/builds/:id/cancel", s.handleBuildCancel)
	g.GET("/builds/:id/job-card", s.handleJobCard)
	g.GET("/builds/:id/labels", s.handleBuildLabels)
	g.GET("/builds/:id/part-labels", s.handlePartLabels)
	s.registerCuttingRoutes(g)
	s.registerTimeRoutes(g)
	s.registerBoxRoutes(g)
	s.registerPlanRoutes(g)
	s.registerThingRoutes(g)
	s.registerHandsRoutes(g)
}

func (s *Server) handleBuildList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Workshop.BuildList(c.Request().Context(), workshop.BuildFilter{Find: q.Find, Done: c.QueryParam("done") == "true", Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, x := range list {
			rows[i] = []string{x.Number, x.Title(), strconv.Itoa(x.Quantity), val(dayOut(x.DueOn)), strconv.FormatFloat(x.StandardMin, 'f', 0, 64), strconv.FormatFloat(x.SpentMin, 'f', 0, 64)}
		}
		return replyCSV(c, "builds", []string{"number", "what", "quantity", "due_on", "standard_min", "spent_min"}, rows)
	}
	out := api.BuildList{Items: make([]api.Build, len(list)), Next: next(cursor)}
	for i, x := range list {
		out.Items[i] = buildOf(x)
	}
	return reply(c, http.StatusOK, out)
}

// replyBuild answers with a build whole.
func (s *Server) replyBuild(c echo.Context, status int, b workshop.Build, err error) error {
	if err != nil {
		return err
	}
	return replyVersion(c, status, b.Version, buildWholeOf(b))
}

func (s *Server) handleBuild(c echo.Context) error {
	b, err := s.Workshop.BuildGet(c.Request().Context(), pathID(c, "id"))
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) handleBuildMake(c echo.Context) error {
	var in api.BuildNew
	if err := bind(c, &in); err != nil {
		return err
	}
	due, err := dayIn(in.DueOn, "/due_on")
	if err != nil {
		return err
	}
	from, err := dayIn(in.NotBefore, "/not_before")
	if err != nil {
		return err
	}
	ctx, units, makes := c.Request().Context(), val(in.Units), string(val(in.Makes))
	if len(units) > 0 && (makes == "" || makes == workshop.MakesBox) { // what stands aside for the units goes to the build
		if len(units) > in.Quantity {
			return fault.Bad("/units", "%d order units are named for %d pieces.", len(units), in.Quantity)
		}
		b, err := s.Answer.BuildForUnits(ctx, answer.UnitsBuild{UnitIDs: units, RevisionID: in.ModelRevisionID, TimberID: in.TimberSpeciesID, Further: in.Quantity - len(units), DueOn: due, NotBefore: from, Notes: val(in.Notes)})
		return s.replyBuild(c, http.StatusCreated, b, err)
	}
	b, err := s.Workshop.BuildMake(ctx, workshop.BuildNew{RevisionID: in.ModelRevisionID, Makes: makes, Piece: val(in.Piece), Quantity: in.Quantity,
		SpeciesID: in.TimberSpeciesID, OptionIDs: val(in.Options), Units: units, DueOn: due, NotBefore: from, Notes: val(in.Notes)})
	return s.replyBuild(c, http.StatusCreated, b, err)
}

func (s *Server) handleBuildChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.BuildChange
	if err := bind(c, &in); err != nil {
		return err
	}
	ch := workshop.BuildChange{ID: pathID(c, "id"), Version: version, Notes: val(in.Notes)}
	for _, d := range []struct {
		in      *string
		pointer string
		to      **time.Time
	}{{in.DueOn, "/due_on", &ch.DueOn}, {in.NotBefore, "/not_before", &ch.NotBefore}, {in.HeldTo, "/held_to", &ch.HeldTo}} {
		if *d.to, err = dayIn(d.in, d.pointer); err != nil {
			return err
		}
	}
	b, err := s.Workshop.BuildSave(c.Request().Context(), ch)
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) handleCuttingLay(c echo.Context) error {
	b, err := s.Workshop.CuttingLay(c.Request().Context(), pathID(c, "id"))
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) handleCuttingAccept(c echo.Context) error {
	b, err := s.Workshop.CuttingAccept(c.Request().Context(), pathID(c, "id"))
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) handleFittingsClaim(c echo.Context) error {
	b, err := s.Workshop.BuildClaimFittings(c.Request().Context(), pathID(c, "id"))
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) handleOutput(c echo.Context) error {
	var in api.OutputChange
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx, id, n := c.Request().Context(), pathID(c, "id"), int(pathID(c, "n"))
	var err error
	switch {
	case val(in.Spoiled) && in.OrderUnitID != nil:
		err = fault.Bad("/order_unit_id", "A spoiled piece goes to nobody. Leave the order unit out.")
	case val(in.Spoiled):
		err = s.Workshop.OutputSpoil(ctx, id, n, s.DB.Now())
	default:
		err = s.Workshop.OutputAssign(ctx, id, n, in.OrderUnitID)
	}
	if err != nil {
		return err
	}
	return s.handleBuild(c)
}

func (s *Server) handleBuildFinish(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.BuildFinish
	if err := bind(c, &in); err != nil {
		return err
	}
	f := workshop.Finish{BuildID: pathID(c, "id"), Version: version, At: s.happened(in.FinishedAt), Pieces: val(in.Pieces), Spoiled: val(in.Spoiled), Place: val(in.Place)}
	if in.Boards != nil {
		f.Boards = []workshop.BoardsUsed{}
		for _, b := range *in.Boards {
			f.Boards = append(f.Boards, workshop.BoardsUsed{LotID: b.LotID, Count: b.Count})
		}
	}
	if in.Offcuts != nil {
		f.Offcuts = []workshop.OffcutIn{}
		for _, o := range *in.Offcuts {
			f.Offcuts = append(f.Offcuts, workshop.OffcutIn{LotID: o.LotID, LengthMM: o.LengthMm, Count: o.Count})
		}
	}
	done, err := s.Workshop.BuildFinish(c.Request().Context(), f)
	if err != nil {
		return err
	}
	out := api.BuildFinished{Build: buildOf(done.Build), Boxes: make([]api.Box, len(done.Boxes)), Notes: done.Notes}
	for i, b := range done.Boxes {
		out.Boxes[i] = boxOf(c, b)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleBuildCancel(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.BuildCancel
	if err := bind(c, &in); err != nil {
		return err
	}
	b, err := s.Workshop.BuildCancel(c.Request().Context(), pathID(c, "id"), version, in.Because)
	return s.replyBuild(c, http.StatusOK, b, err)
}

func (s *Server) handleJobCard(c echo.Context) error {
	pdf, name, err := s.Answer.JobCard(c.Request().Context(), pathID(c, "id"))
	return replySheet(c, pdf, name, err)
}

func (s *Server) handleBuildLabels(c echo.Context) error {
	pdf, name, err := s.Answer.BuildLabels(c.Request().Context(), pathID(c, "id"), labelsUsed(c))
	return replySheet(c, pdf, name, err)
}

func (s *Server) handlePartLabels(c echo.Context) error {
	pdf, name, err := s.Answer.PartLabels(c.Request().Context(), pathID(c, "id"), labelsUsed(c))
	return replySheet(c, pdf, name, err)
}

// replySheet answers with a sheet that is drawn from the record as it stands.
func replySheet(c echo.Context, pdf []byte, name string, err error) error {
	if err != nil {
		return err
	}
	return replyPDF(c, name, pdf)
}

func buildOf(b workshop.Build) api.Build {
	return api.Build{ID: b.ID, Version: b.Version, Number: b.Number, Title: b.Title(), ModelRevisionID: b.RevisionID, Model: b.ModelName, Revision: b.Revision, Makes: b.Makes, Piece: b.Piece,
		Quantity: b.Quantity, TimberSpeciesID: b.SpeciesID, Species: b.SpeciesName, Options: append([]string{}, b.OptionNames...), DueOn: dayOut(b.DueOn), NotBefore: dayOut(b.NotBefore),
		HeldTo: dayOut(b.HeldTo), StartedAt: b.StartedAt, FinishedAt: b.FinishedAt, CancelledAt: b.CancelledAt, StandardMin: b.StandardMin, SpentMin: b.SpentMin, Units: b.Units, PiecesFinished: b.Finished, Notes: b.Notes}
}

func buildWholeOf(b workshop.Build) api.BuildWhole {
	out := api.BuildWhole{Build: buildOf(b), Parts: []api.BuildPart{}, Fittings: fittingsOf(b.Fittings), Outputs: []api.BuildOutput{}, Operations: []api.BuildOperation{},
		Claims: []api.BuildClaim{}, Cutting: []api.BuildCutting{}, Gauges: gaugesOf(b.Gauges), Short: append([]string{}, b.Short...), Warnings: append([]string{}, b.Warnings...)}
	if b.CuttingID > 0 {
		out.CuttingID = &b.CuttingID
	}
	if b.TrueWallMM != nil {
		out.TrueWallMm = new(b.TrueWallMM.InexactFloat64())
	}
	for _, p := range b.Parts {
		one := api.BuildPart{ID: p.ID, Name: p.Name, Section: p.Section, WidthMm: p.WidthMM.InexactFloat64(), ThicknessMm: p.ThicknessMM.InexactFloat64(),
			LengthMm: p.LengthMM.InexactFloat64(), Each: p.Each, Count: p.Count}
		if p.Grade != "" {
			one.Grade = new(p.Grade)
		}
		if p.Strips > 0 {
			one.Strips, one.PanelWidthMm = new(p.Strips), new(p.PanelWidthMM.InexactFloat64())
		}
		out.Parts = append(out.Parts, one)
	}
	for _, o := range b.Outputs {
		out.Outputs = append(out.Outputs, api.BuildOutput{N: o.N, OrderUnitID: o.UnitID, BoxID: o.BoxID, Serial: o.Serial, SpoiledAt: o.SpoiledAt, FinishedAt: o.FinishedAt})
	}
	for _, o := range b.Operations {
		out.Operations = append(out.Operations, api.BuildOperation{ID: o.ID, Position: o.Position, Name: o.Name, SetupMin: o.SetupMin, PieceMin: o.PieceMin.InexactFloat64(), WaitMin: o.WaitMin,
			Needs: append([]string{}, o.Needs...), OwnerOnly: o.OwnerOnly, NeedsDry: &o.Dry, StandardMin: o.StandardMin(b.Quantity), SpentMin: o.SpentMin, SplitMin: &o.SplitMin, QuotedMin: &o.QuotedMin, DoneAt: o.DoneAt, Running: append([]string{}, o.Running...)})
	}
	for _, cl := range b.Claims {
		one := api.BuildClaim{ID: cl.ID, What: cl.Words, Quantity: cl.Quantity, Strength: string(cl.Strength)}
		id := cl.Thing.ID
		switch cl.Thing.Kind {
		case claims.LotKind:
			one.LotID = &id
		case claims.ItemKind:
			one.ItemID = &id
		case claims.PackKind:
			one.PackID = &id
		}
		out.Claims = append(out.Claims, one)
	}
	for _, p := range b.Plans {
		out.Cutting = append(out.Cutting, cuttingOf(p))
	}
	return out
}

func cuttingOf(p workshop.CuttingPlan) api.BuildCutting {
	out := api.BuildCutting{ID: p.ID, BuildID: p.BuildID, Grade: p.Grade, BoardSizeID: p.SizeID, WidthMm: p.WidthMM.InexactFloat64(), ThicknessMm: p.ThicknessMM.InexactFloat64(), BoardsUsed: p.Answered.BoardsUsed,
		LengthUsedMm: p.Answered.LengthUsedMM, Proved: p.Answered.Proved, Note: p.Note(), AcceptedAt: p.AcceptedAt, Layouts: []api.CuttingLayout{}, Missing: cutsOut(p.Missing())}
	for i, l := range p.Answered.Layouts {
		one := api.CuttingLayout{LotID: l.Board, Times: l.Times, Cut: l.Times - p.Left(i), Cuts: cutsOut(l.Cuts), OffcutMm: l.OffcutMM}
		for k := range one.Cuts {
			if owner, part := p.PartOf(one.Cuts[k].Part); owner > 0 {
				one.Cuts[k].BuildID, one.Cuts[k].Part = &owner, part
			}
		}
		out.Layouts = append(out.Layouts, one)
	}
	return out
}

func cutsOut(list []cutting.PartCount) []api.CuttingCut {
	out := make([]api.CuttingCut, len(list))
	for i, p := range list {
		out[i] = api.CuttingCut{Part: p.Part, Count: p.Count}
	}
	return out
}

func fittingsOf(list []hive.Fitting) []api.FittingCount {
	out := make([]api.FittingCount, len(list))
	for i, f := range list {
		out[i] = api.FittingCount{ID: f.ID, Count: f.Count}
	}
	return out
}

func gaugesOf(list []workshop.FitSize) []api.FitSize {
	out := make([]api.FitSize, len(list))
	for i, g := range list {
		out[i] = api.FitSize{Name: g.Name, NominalMm: g.NominalMM.InexactFloat64(), LowMm: g.LowMM.InexactFloat64(), HighMm: g.HighMM.InexactFloat64()}
	}
	return out
}
