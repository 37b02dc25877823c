package web

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// plain reads a short name as words.
func plain(id string) string { return strings.ReplaceAll(id, "-", " ") }

func (s *Server) handleBuild(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	b, err := s.Workshop.BuildGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	v := sheetView{Short: b.Short, Cautions: []string{sawCare, dustCare, liftCare, treatedCare}, History: "/history/build/" + idText(id), Links: []sheetLink{{"Job card (PDF)", hrefOf("build", id) + "/job-card.pdf"}}}
	v.Short = append(v.Short, b.Warnings...)
	if b.CuttingID > 0 {
		v.Links = append(v.Links, sheetLink{"Cutting plan board by board", hrefOf("cutting", b.CuttingID)})
	}
	v.Links = append(v.Links, sheetLink{"Labels of the parts (PDF)", hrefOf("build", id) + "/part-labels.pdf"})
	if err := s.clockLead(c, &v); err != nil {
		return err
	}
	due := show.DateOr(b.DueOn, "no date")
	if b.Open() && b.DueOn != nil && b.DueOn.Before(today) {
		due += ", late"
	}
	v.Facts = told(sheetFact{Name: "Model", Text: fmt.Sprintf("%s, revision %d", b.ModelName, b.Revision), Href: "/bench/revisions/" + idText(b.RevisionID)}, sheetFact{Name: "Timber", Text: b.SpeciesName}, sheetFact{Name: "Options", Text: strings.Join(b.OptionNames, ", ")},
		sheetFact{Name: "For", Text: forWords(b)}, sheetFact{Name: "Due", Text: due}, sheetFact{Name: "Not before", Text: show.DateOr(b.NotBefore, "")}, sheetFact{Name: "Held to", Text: show.DateOr(b.HeldTo, "")},
		sheetFact{Name: "Hours", Text: hoursWords(b) + " standard"}, sheetFact{Name: "Notes", Text: b.Notes})
	switch {
	case b.FinishedAt != nil:
		v.Facts = append(v.Facts, sheetFact{Name: "Finished", Text: show.Time(*b.FinishedAt, set.Location())})
	case b.CancelledAt != nil:
		v.Facts = append(v.Facts, sheetFact{Name: "Cancelled", Text: show.Time(*b.CancelledAt, set.Location())})
	}
	parts, fittings := partTable(b), fittingTable(b)
	if at := hrefOf("build", id); b.Open() {
		parts.Buttons = []sheetButton{button(at+"/lay", "Lay the cutting plan anew", ""), button(at+"/accept", "Put its boards aside", "")}
		fittings.Buttons = []sheetButton{button(at+"/fittings", "Put aside what came in", "Put aside what came in of the fittings")}
	}
	v.Tables = append(timeTables(b), parts)
	v.Tables = append(v.Tables, cuttingTables(b)...)
	if b.Open() {
		v.Tables = append(v.Tables, putAsideTable(b))
		v.Links = append(v.Links, sheetLink{"Look longer for a better cutting plan", longerPage(id)})
	}
	pieces, err := s.outputTable(c, b)
	if err != nil {
		return err
	}
	v.Tables = append(v.Tables, gaugeTable(b), fittings, pieces)
	v.Side = append(v.Side, labelForm(c, "Labels of the parts on a begun sheet", hrefOf("build", id)+"/part-labels"))
	if b.Makes == workshop.MakesBox && b.Finished > 0 {
		v.Links = append(v.Links, sheetLink{"Labels (PDF)", hrefOf("build", id) + "/labels.pdf"})
		v.Side = append(v.Side, labelForm(c, "Labels of the boxes on a begun sheet", hrefOf("build", id)+"/labels"))
	}
	if b.Open() {
		s.buildForms(c, b, &v)
	}
	return s.showSheet(c, "Build "+b.Number+": "+b.Title(), v)
}

func partTable(b workshop.Build) sheetTable {
	t := sheetTable{Title: "Parts", Narrow: true, Heads: heads("Part", "Board size, length", "#Each", "#In all"), Empty: "No parts."}
	for _, p := range b.Parts {
		name := p.Name
		if note := p.Note(); note != "" {
			name += " (" + note + ")"
		}
		t.add(cellOf(name), cellOf(show.BoardSize(p.WidthMM, p.ThicknessMM)+", "+show.MM(p.LengthMM)+" mm"), numCell(p.Each), numCell(p.Count))
	}
	return t
}

// cuttingTables show the cutting plan of each board size.
func cuttingTables(b workshop.Build) []sheetTable {
	names := map[string]string{}
	for _, p := range b.Parts {
		names[p.ID] = fmt.Sprintf("%s %s mm", p.Name, show.MM(p.LengthMM))
		names[fmt.Sprintf("%d/%s", b.ID, p.ID)] = names[p.ID]
	}
	var list []sheetTable
	for _, p := range b.Plans {
		state := "meant"
		if p.AcceptedAt != nil {
			state = "put aside"
		}
		lengths := map[string]string{}
		for _, board := range p.Asked.Boards {
			lengths[board.ID] = show.MM(decimal.NewFromFloat(board.LengthMM)) + " mm"
		}
		t := sheetTable{Title: "Cutting " + show.BoardSize(p.WidthMM, p.ThicknessMM), Heads: heads("Boards", "Cut into", "#Left over"), Empty: p.Note()}
		for _, l := range p.Answered.Layouts {
			t.add(linkCell(fmt.Sprintf("%d × %s, %s", l.Times, lengths[l.Board], state), "/timber/lots/"+l.Board), cellOf(cutWords(l.Cuts, names)), cellOf(fmt.Sprintf("%.0f mm", l.OffcutMM)))
		}
		if len(t.Rows) > 0 {
			t.Title += ": " + p.Note()
		}
		list = append(list, t)
	}
	return list
}

func cutWords(cuts []cutting.PartCount, names map[string]string) string {
	words := make([]string, len(cuts))
	for i, k := range cuts {
		name, mine := names[k.Part]
		if !mine { // of a build that is cut together with it
			_, name, _ = strings.Cut(k.Part, "/")
			name = plain(name) + " of another build"
		}
		words[i] = fmt.Sprintf("%d × %s", k.Count, name)
	}
	return strings.Join(words, ", ")
}

// putAsideTable lists what is put aside or meant for the build.
func putAsideTable(b workshop.Build) sheetTable {
	t := sheetTable{Title: "Put aside and meant for it", Fold: true, Heads: heads("What", "How firmly", "#How many"), Empty: "Nothing yet."}
	pages := map[claims.Kind]string{claims.LotKind: "/timber/lots/", claims.ItemKind: "/timber/items/", claims.PackKind: hrefOf("pack", 0)}
	for _, k := range b.Claims {
		page := strings.TrimSuffix(pages[k.Thing.Kind], "0")
		t.add(linkCell(k.Words, page+idText(k.Thing.ID)), cellOf(string(k.Strength)), numCell(k.Quantity))
	}
	return t
}

func gaugeTable(b workshop.Build) sheetTable {
	t := sheetTable{Title: "Gauge sizes", Narrow: true, Heads: heads("What", "#Size", "#At least", "#At most"), Empty: "This model names no fit."}
	for _, g := range b.Gauges {
		t.add(cellOf(g.Name), cellOf(show.MM(g.NominalMM)+" mm"), cellOf(show.MM(g.LowMM)+" mm"), cellOf(show.MM(g.HighMM)+" mm"))
	}
	return t
}

func fittingTable(b workshop.Build) sheetTable {
	t := sheetTable{Title: "Fittings", Narrow: true, Heads: heads("What", "#Needed"), Empty: "None."}
	for _, f := range b.Fittings {
		t.add(cellOf(plain(f.ID)), numCell(f.Count))
	}
	return t
}

func (s *Server) outputTable(c echo.Context, b workshop.Build) (sheetTable, error) {
	t := sheetTable{Title: "Pieces", Heads: heads("#Piece", "For", "What became of it", "")}
	for _, o := range b.Outputs {
		who, cell := cellOf("the shelf"), sheetCell{}
		if o.UnitID != nil {
			order, err := s.Sales.OrderOfUnit(c.Request().Context(), *o.UnitID)
			if err != nil {
				return t, err
			}
			if who.Text = order.PartyName + ", " + order.Number; person(c).May(access.Orders) {
				who.Href = hrefOf("order", order.ID)
			}
		}
		became := cellOf("")
		switch {
		case o.SpoiledAt != nil:
			became.Text = "spoiled"
		case o.BoxID != nil && o.Serial != nil:
			became = linkCell("box "+*o.Serial, hrefOf("box", *o.BoxID))
		case o.FinishedAt != nil:
			became.Text = "finished"
		case b.Open():
			cell.Buttons = []sheetButton{button(fmt.Sprintf("/bench/builds/%d/spoil-%d", b.ID, o.N), "Spoiled", fmt.Sprintf("Piece %d is spoiled", o.N))}
		}
		t.add(numCell(o.N), who, became, cell)
	}
	return t, nil
}

// buildForms are the forms of a build that is open.
func (s *Server) buildForms(c echo.Context, b workshop.Build, v *sheetView) {
	at := hrefOf("build", b.ID)
	finish, change, cancel := formOf(c, "finish"), formOf(c, "change"), formOf(c, "cancel")
	for _, f := range []*Form{finish, change, cancel} {
		f.FillVersion(b.Version)
	}
	if b.DueOn != nil {
		change.Fill("due_on", show.ISODate(*b.DueOn))
	}
	if b.NotBefore != nil {
		change.Fill("not_before", show.ISODate(*b.NotBefore))
	}
	if b.HeldTo != nil {
		change.Fill("held_to", show.ISODate(*b.HeldTo))
	}
	change.Fill("notes", b.Notes)
	v.Side = append([]sheetForm{
		{Title: "Change dates and notes", Fold: true, Action: at + "/change", Form: change, Button: "Keep", Parts: one(in(change.Field("due_on", "Due on", "type=date")), in(change.Field("not_before", "Not before", "type=date")), in(change.Field("held_to", "Held to", "type=date")), area(change.Field("notes", "Notes")))},
		{Title: "Cancel it", Fold: true, Action: at + "/cancel", Form: cancel, Button: "Cancel this build", Parts: one(in(cancel.Field("because", "Why", "required")))}}, v.Side...)
	open := 0
	for _, o := range b.Outputs {
		if o.FinishedAt == nil && o.SpoiledAt == nil {
			open++
		}
	}
	finish.Fill("pieces", strconv.Itoa(open))
	done := sheetForm{Title: "It is finished", Action: at + "/finish", Form: finish, Button: "Finish it", About: "Boards and fittings leave the book as planned, kept offcuts come back, and every box gets its serial for life.",
		Parts: one(in(finish.Field("pieces", "How many are done", "mode=numeric", fmt.Sprintf("hint=Of %d that are open; the others stay open.", open))), in(finish.Field("place", "Where they stand now")), in(finish.Field("spoiled", "Spoiled pieces", "hint=Their numbers, with commas: 2, 5.")))}
	for i := range 3 {
		row := fmt.Sprintf("boards.%d.", i)
		legend := fmt.Sprintf("Other boards than planned %d", i+1)
		done.Parts = append(done.Parts, sheetPart{Legend: legend, Fold: true, Fields: []kindField{in(finish.Field(row+"lot_id", "Lot", "mode=numeric", "hint=Leave all of these empty when the plan was followed.")), in(finish.Field(row+"count", "Boards cut", "mode=numeric")),
			in(finish.Field(row+"offcut_mm", "Offcut kept", "mode=numeric", "unit=mm")), in(finish.Field(row+"offcuts", "How many of these", "mode=numeric"))}})
	}
	v.Forms = []sheetForm{done}
	time := formOf(c, "time")
	ops := []Choice{}
	for _, o := range b.Operations {
		ops = append(ops, Choice{Value: idText(o.ID), Text: plain(o.Name)})
	}
	v.Side = append(v.Side, sheetForm{Title: "Time without the clock", Fold: true, Action: at + "/time", Form: time, Button: "Write it down", Parts: one(choose(time.Choose("operation_id", "Operation", ops)), in(time.Field("minutes", "Minutes, ending now", "mode=numeric", "required")))})
}

func (s *Server) handleBuildPost(c echo.Context) error {
	back := func(id int64) string { return hrefOf("build", id) }
	deeds := map[string]func(echo.Context, int64) (string, error){"lay": cuttingDeed("The cutting plan is laid anew.", s.Workshop.CuttingLay), "accept": cuttingDeed("The boards are put aside.", s.Workshop.CuttingAccept),
		"fittings": cuttingDeed("What there is of the fittings is put aside.", s.Workshop.BuildClaimFittings), "change": s.changeBuild, "cancel": s.cancelBuild, "finish": s.finishBuild, "time": s.addTime}
	if n, ok := strings.CutPrefix(c.Param("deed"), "spoil-"); ok {
		deeds[c.Param("deed")] = func(c echo.Context, id int64) (string, error) {
			piece, err := strconv.ParseInt(n, 10, 32)
			if err != nil {
				return "", fault.New(fault.NotFound, "There is no such piece.")
			}
			return fmt.Sprintf("Piece %d is spoiled.", piece), s.Workshop.OutputSpoil(c.Request().Context(), id, int(piece), s.DB.Now())
		}
	}
	return s.deed(c, s.handleBuild, back, deeds)
}

// cuttingDeed is what one button does about timber or fittings; it says what is short.
func cuttingDeed(said string, do func(context.Context, int64) (workshop.Build, error)) func(echo.Context, int64) (string, error) {
	return func(c echo.Context, id int64) (string, error) {
		b, err := do(c.Request().Context(), id)
		if len(b.Short) > 0 {
			return said + " Short: " + strings.Join(b.Short, "; ") + ".", err
		}
		return said, err
	}
}

func (s *Server) changeBuild(c echo.Context, id int64) (string, error) {
	f := formOf(c, "change")
	ch := workshop.BuildChange{ID: id, Version: f.Version, DueOn: f.Date("due_on"), NotBefore: f.Date("not_before"), HeldTo: f.Date("held_to"), Notes: f.Text("notes")}
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err := s.Workshop.BuildSave(c.Request().Context(), ch)
	return "Kept.", err
}

func (s *Server) cancelBuild(c echo.Context, id int64) (string, error) {
	f := formOf(c, "cancel")
	_, err := s.Workshop.BuildCancel(c.Request().Context(), id, f.Version, f.Text("because"))
	return "It is cancelled, and what was put aside is free again.", err
}

func (s *Server) finishBuild(c echo.Context, id int64) (string, error) {
	f := formOf(c, "finish")
	done := workshop.Finish{BuildID: id, Version: f.Version, At: s.DB.Now(), Pieces: f.optional("pieces", 1000), Place: f.Text("place")}
	for _, word := range strings.FieldsFunc(f.Text("spoiled"), func(r rune) bool { return r == ',' || r == ' ' }) {
		n, err := strconv.Atoi(word)
		if err != nil {
			f.Wrong("spoiled", "Write the numbers of the pieces, such as 2, 5.")
			break
		}
		done.Spoiled = append(done.Spoiled, n)
	}
	for i := range 3 {
		row := fmt.Sprintf("boards.%d.", i)
		if f.Text(row+"lot_id") == "" {
			continue
		}
		lot := f.Int(row+"lot_id", 1, 1<<53)
		done.Boards = append(done.Boards, workshop.BoardsUsed{LotID: lot, Count: int(f.Int(row+"count", 1, 100_000))})
		if f.Text(row+"offcuts") != "" {
			done.Offcuts = append(done.Offcuts, workshop.OffcutIn{LotID: lot, LengthMM: int(f.Int(row+"offcut_mm", 1, 20_000)), Count: int(f.Int(row+"offcuts", 1, 100_000))})
		}
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	out, err := s.Workshop.BuildFinish(c.Request().Context(), done)
	if err != nil {
		return "", err
	}
	serials := []string{}
	for _, b := range out.Boxes {
		serials = append(serials, b.Serial)
	}
	said := "It is finished."
	if out.Build.Open() {
		said = fmt.Sprintf("%d of %d are finished; the others stay open.", out.Build.Finished, out.Build.Quantity)
	}
	if len(serials) > 0 && len(serials) <= 20 {
		said += " Punch the serials: " + strings.Join(serials, ", ") + "."
	}
	return joined(said, out.Notes), nil
}

func (s *Server) addTime(c echo.Context, _ int64) (string, error) {
	f := formOf(c, "time")
	op, minutes := f.chosen("operation_id", "Choose the operation."), f.Int("minutes", 1, 960)
	if err := f.Err(); err != nil {
		return "", err
	}
	now := s.DB.Now()
	_, err := s.Workshop.SpellAdd(c.Request().Context(), op, person(c).ID, now.Add(-minuteSpan(minutes)), now)
	return show.Minutes(minutes) + " written down.", err
}

// handleOperationPost starts one's time on an operation, or notes that it is done.
func (s *Server) handleOperationPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	var build int64
	said := ""
	switch c.Param("deed") {
	case "start":
		sp, err2 := s.Workshop.SpellStart(ctx, id, person(c).ID, s.DB.Now())
		build, err, said = sp.BuildID, err2, "Your time runs."
	case "done", "again":
		done := c.Param("deed") == "done"
		b, err2 := s.Workshop.OperationDone(ctx, id, done, s.DB.Now())
		build, err, said = b.ID, err2, map[bool]string{true: "Done.", false: "It stands as not done."}[done]
	default:
		return fault.New(fault.NotFound, "There is no such page.")
	}
	if err != nil {
		return s.againFrom(c, err, nil)
	}
	return goTo(c, backFrom(c, hrefOf("build", build)), said)
}

func (s *Server) handleClockStop(c echo.Context) error {
	sp, err := s.Workshop.SpellStop(c.Request().Context(), person(c).ID, s.DB.Now())
	if err != nil {
		return s.againFrom(c, err, nil)
	}
	return goTo(c, backFrom(c, hrefOf("build", sp.BuildID)), "Stopped: "+minutesOf(sp.StoppedAt.Sub(sp.StartedAt).Minutes())+" on "+plain(sp.OperationName)+".")
}
