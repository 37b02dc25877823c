package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerCuttingPages(r *routes) {
	r.post(access.Bench, "/bench/cuttings", s.handleCutTogether)
	r.get(access.Bench, "/bench/cuttings/:id", s.handleCutting)
	r.post(access.Bench, "/bench/cuttings/:id/:deed", s.handleCuttingPost)
	r.get(access.Bench, "/bench/cuttings/:id/job-card.pdf", paperOf(s.Answer.CuttingCard))
	r.post(access.Bench, "/bench/builds/:id/labels", handleLabelsAsk("build", "/labels.pdf"))
	r.post(access.Bench, "/bench/builds/:id/part-labels", handleLabelsAsk("build", "/part-labels.pdf"))
	r.post(access.Bench, "/bench/boxes/:id/label", handleLabelsAsk("box", "/label.pdf"))
}

// labelsOf sends labels; the query's used says how many are gone from the first sheet.
func labelsOf(draw func(ctx context.Context, id int64, used int) ([]byte, string, error)) echo.HandlerFunc {
	return func(c echo.Context) error {
		used := 0
		if text := c.QueryParam("used"); text != "" {
			n, err := strconv.Atoi(text)
			if err != nil {
				return fault.Bad("/used", "Write how many labels are gone from the sheet, such as 3.")
			}
			used = n
		}
		return paperOf(func(ctx context.Context, id int64) ([]byte, string, error) { return draw(ctx, id, used) })(c)
	}
}

// handleLabelsAsk goes to the labels of a record, past those that are gone from the sheet.
func handleLabelsAsk(kind, paper string) echo.HandlerFunc {
	return func(c echo.Context) error {
		id, err := pathID(c)
		if err != nil {
			return err
		}
		used := formOf(c, "labels").optional("used", 999)
		return c.Redirect(http.StatusSeeOther, fmt.Sprintf("%s%s?used=%d", hrefOf(kind, id), paper, used))
	}
}

// labelForm asks how many labels are gone from the sheet in the printer.
func labelForm(c echo.Context, title, action string) sheetForm {
	f := formOf(c, "labels")
	return sheetForm{Title: title, Fold: true, Action: action, Form: f, Button: "Print them", About: "Sizes of the sheet stand in the settings.",
		Parts: one(in(f.Field("used", "Labels gone from the first sheet", "mode=numeric", "hint=They are skipped; leave it empty for a whole sheet.")))}
}

// togetherForm offers open builds to be cut together; ok is false when there is but one.
func togetherForm(c echo.Context, list []workshop.Build) (form sheetForm, ok bool) {
	f := formOf(c, "together")
	p := sheetPart{}
	for _, b := range list {
		p.Fields = append(p.Fields, tick(f.Field("build."+idText(b.ID), b.Number+": "+b.Title())))
	}
	return sheetForm{Title: "Cut several together", Fold: true, Action: "/bench/cuttings", Form: f, Button: "Cut together", Parts: []sheetPart{p},
		About: "One board may then serve several builds, and fewer are needed."}, len(list) > 1
}

// handleCutTogether plans the builds that were ticked on the Bench page together.
func (s *Server) handleCutTogether(c echo.Context) error {
	f := formOf(c, "together")
	var ids []int64
	for name := range f.values {
		if id, err := strconv.ParseInt(strings.TrimPrefix(name, "build."), 10, 64); err == nil && strings.HasPrefix(name, "build.") {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	if len(ids) < 2 {
		return again(fault.Bad("/builds", "Tick two builds or more, then cut them together."), s.handleBench)
	}
	cut, err := s.Workshop.CuttingTogether(c.Request().Context(), ids)
	if err != nil {
		return again(err, s.handleBench)
	}
	return goTo(c, hrefOf("cutting", cut.ID), "They are planned together. Look at it, then put the boards aside.")
}

type cuttingView struct {
	Sheet    sheetView
	Lead     string
	Warnings []string
	Groups   []cutGroup
}

// cutGroup is what is cut of one timber, board size and grade.
type cutGroup struct {
	Title, Note string
	Boards      []drawnBoard
}

// drawnBoard is one board of the plan, or several alike, drawn to scale.
type drawnBoard struct {
	Name, About, Words string
	Width, Long        int // of the drawing, and of the board in it
	Pieces             []drawnPiece
	Marks              []drawnMark
	Cuts               []string
	Buttons            []sheetButton
	Dock               *dockForm
}

type drawnPiece struct{ Class, X, W string }

type drawnMark struct {
	X, Y   string
	Text   string
	Strong bool
}

// dockForm is the way out for a board that failed.
type dockForm struct {
	Action string
	Form   *Form
	Field  Field
	Out    []sheetButton
}

var cuttingPage = definePage[cuttingView]("cutting")

func (s *Server) handleCutting(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	cut, err := s.Workshop.CuttingGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := cuttingView{Lead: cuttingLead(cut)}
	at := hrefOf("cutting", id)
	v.Sheet = sheetView{Cautions: []string{sawCare, dustCare, liftCare}, History: "/history/cutting/" + idText(id), Links: []sheetLink{{"Job card (PDF)", at + "/job-card.pdf"}, {"Bench", "/bench"}}}
	for _, b := range cut.Builds {
		v.Sheet.Facts = append(v.Sheet.Facts, sheetFact{Name: "Build", Text: b.Number + ": " + b.Title(), Href: hrefOf("build", b.ID)})
		for _, w := range b.Warnings {
			v.Warnings = append(v.Warnings, b.Number+": "+w)
		}
		for _, short := range b.Short {
			v.Sheet.Short = append(v.Sheet.Short, b.Number+": "+short)
		}
	}
	s.choiceFacts(cut, currency(set), &v.Sheet)
	if f, ok := c.Get(formIn).(*Form); ok && f.Name == "" {
		v.Sheet.Problem = f.Problem
	}
	open := cut.EndedAt == nil
	if open && cut.AcceptedAt == nil && cut.Totals.Boards > 0 {
		b := button(at+"/accept", "Put the boards aside", "")
		b.Main = true
		v.Sheet.Buttons = append(v.Sheet.Buttons, b)
	}
	if open {
		v.Sheet.Buttons = append(v.Sheet.Buttons, button(at+"/lay", "Lay it anew", ""))
	}
	d := drawer{s: s, c: c, cut: cut, set: set, open: open}
	v.Groups = d.groups()
	v.Sheet.Tables = d.tables()
	title := "Cutting"
	if len(cut.Builds) == 1 {
		title += " for build " + cut.Builds[0].Number
	} else if len(cut.Builds) > 1 {
		numbers := make([]string, len(cut.Builds))
		for i, b := range cut.Builds {
			numbers[i] = b.Number
		}
		title += " together: " + strings.Join(numbers, ", ")
	}
	return cuttingPage.show(s, c, title, v)
}

func cuttingLead(cut workshop.Cutting) string {
	what := show.Count(int64(cut.Totals.Boards), "board", "boards") + ", " + boardMetres(cut.Totals.LengthMM)
	switch {
	case cut.EndedAt != nil:
		return "This cutting is done."
	case cut.Totals.Boards == 0 && len(cut.Cut) > 0:
		return "Every board of the plan is cut."
	case cut.Totals.Boards == 0:
		return "There is no board for it on the rack yet."
	case cut.AcceptedAt != nil:
		return "Still to cut: " + what + ", put aside."
	}
	return "Still to cut: " + what + ". The boards are only meant for it until you put them aside."
}

func boardMetres(mm int64) string { return strconv.FormatFloat(float64(mm)/1000, 'f', 1, 64) + " m" }

// choiceFacts say what the maker's choice costs against the best there is.
func (s *Server) choiceFacts(cut workshop.Cutting, money show.Currency, v *sheetView) {
	v.Costs = []sheetFact{{Name: "These boards", Text: money.Money(cut.Totals.CostMinor)}}
	if cut.Best == nil {
		return
	}
	best := *cut.Best
	laid := cut.Laid
	v.Facts = append(v.Facts, sheetFact{Name: "Your choice", Text: show.Count(int64(laid.Boards), "board", "boards") + ", " + boardMetres(laid.LengthMM)},
		sheetFact{Name: "The best", Text: show.Count(int64(best.Boards), "board", "boards") + ", " + boardMetres(best.LengthMM)},
		sheetFact{Name: "Your choice takes", Text: apart(laid.LengthMM-best.LengthMM, boardMetres, "as much") + missingMore(laid.MissingMM-best.MissingMM)})
	v.Costs = append(v.Costs, sheetFact{Name: "Your choice", Text: money.Money(laid.CostMinor)}, sheetFact{Name: "The best", Text: money.Money(best.CostMinor)},
		sheetFact{Name: "Your choice costs", Text: apart(laid.CostMinor-best.CostMinor, money.Money, "the same")})
}

func apart(n int64, text func(int64) string, same string) string {
	switch {
	case n > 0:
		return text(n) + " more"
	case n < 0:
		return text(-n) + " less"
	}
	return same
}

func missingMore(mm int64) string {
	if mm <= 0 {
		return ""
	}
	return ", and leaves " + boardMetres(mm) + " of parts without a board"
}

// drawer draws a cutting for its page.
type drawer struct {
	s       *Server
	c       echo.Context
	cut     workshop.Cutting
	set     house.Settings
	open    bool
	offcuts int
}

// drawWidth is the width of a drawing: a phone's column, so that 12 units are 12 pixels.
const drawWidth = 328

func (d *drawer) groups() []cutGroup {
	longest := 1
	for _, l := range d.cut.Lots {
		longest = max(longest, l.LengthMM)
	}
	scale := float64(drawWidth-2) / float64(longest)
	var list []cutGroup
	for _, p := range d.cut.Plans {
		title := show.BoardSize(p.WidthMM, p.ThicknessMM)
		if p.Grade != "knotty" {
			title += ", " + p.Grade + " or better"
		}
		i := slices.IndexFunc(list, func(g cutGroup) bool { return g.Title == title })
		if i < 0 {
			i = len(list)
			list = append(list, cutGroup{Title: title, Note: p.Note()})
		}
		for layout := range p.Answered.Layouts {
			if p.Left(layout) > 0 {
				list[i].Boards = append(list[i].Boards, d.board(p, layout, scale))
			}
		}
	}
	return list
}

// run is neighbouring pieces that are alike.
type run struct {
	name     string
	mm       float64
	from, to float64
	first, n int
}

func (d *drawer) board(p workshop.CuttingPlan, layout int, scale float64) drawnBoard {
	l, left := p.Answered.Layouts[layout], p.Left(layout)
	id, _ := p.Lot(layout)
	lot := d.cut.Lots[id]
	b := drawnBoard{Width: drawWidth, Long: int(float64(lot.LengthMM) * scale), Name: fmt.Sprintf("%d × lot %d", left, id), About: strings.Join(filledOf(fmt.Sprintf("%d mm", lot.LengthMM), lot.Grade, offcutWord(lot.Offcut), lot.Place, d.ownerWord(p)), ", ")}
	runs := d.runs(p, l)
	for _, r := range runs {
		b.Cuts = append(b.Cuts, r.words())
		at := r.from
		for range r.n {
			b.Pieces = append(b.Pieces, drawnPiece{"piece", px(1 + at*scale), px(r.mm * scale)})
			at += r.mm + p.Asked.KerfMM
		}
		b.Marks = append(b.Marks, marksOf(r, p.Asked.KerfMM, scale)...)
	}
	if l.OffcutMM > 0 {
		words, class, name := "waste", "waste", ""
		if length, keeps := workshop.KeepsOffcut(d.set, l.OffcutMM); keeps {
			d.offcuts++
			name = "offcut " + letterOf(d.offcuts)
			words, class = fmt.Sprintf("keep %s: write %d mm on it, back to %s", name, length, orRack(lot.Place)), "offcut"
		} else {
			words = fmt.Sprintf("%.0f mm fall away", l.OffcutMM)
		}
		to := float64(lot.LengthMM) - p.Asked.TrimMM
		b.Pieces = append(b.Pieces, drawnPiece{class, px(1 + (to-l.OffcutMM)*scale), px(l.OffcutMM * scale)})
		if name != "" && l.OffcutMM*scale > 20 {
			b.Marks = append(b.Marks, drawnMark{X: px(1 + (to-l.OffcutMM/2)*scale), Y: "27", Text: letterOf(d.offcuts), Strong: true})
		}
		b.Cuts = append(b.Cuts, words)
	}
	b.Words = fmt.Sprintf("Board of %d mm: %s", lot.LengthMM, strings.Join(b.Cuts, "; "))
	if d.open {
		d.deeds(p, layout, left, &b)
	}
	return b
}

func (r run) words() string {
	if r.n == 1 {
		return fmt.Sprintf("%d: %s, %s mm", r.first, r.name, mmText(r.mm))
	}
	return fmt.Sprintf("%d to %d: %s, each %s mm", r.first, r.first+r.n-1, r.name, mmText(r.mm))
}

func mmText(mm float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(mm, 'f', 1, 64), ".0")
}

// charPX is about the width of a figure at 12 pixels (our estimate).
const charPX = 7.2

// marksOf writes the numbers and the length into the pieces of a run, where they fit.
func marksOf(r run, kerf, scale float64) []drawnMark {
	length, width := mmText(r.mm), r.mm*scale
	fits := func(text string) bool { return float64(len(text))*charPX < width-1 }
	var list []drawnMark
	for i := range r.n {
		number := strconv.Itoa(r.first + i)
		middle := px(1 + (r.from+float64(i)*(r.mm+kerf)+r.mm/2)*scale)
		switch {
		case fits(number) && fits(length):
			list = append(list, drawnMark{X: middle, Y: "19", Text: number}, drawnMark{X: middle, Y: "36", Text: length, Strong: true})
		case fits(number):
			list = append(list, drawnMark{X: middle, Y: "27", Text: number})
		}
	}
	return list
}

// runs lists the pieces of a board in the order of cutting, like neighbours together.
func (d *drawer) runs(p workshop.CuttingPlan, l cutting.Layout) []run {
	lengths := map[string]float64{}
	for _, q := range p.Asked.Parts {
		lengths[q.ID] = q.LengthMM
	}
	at, number := p.Asked.TrimMM, 1
	var list []run
	for _, k := range l.Cuts {
		mm := lengths[k.Part]
		r := run{name: d.partName(p, k.Part), mm: mm, from: at, first: number, n: k.Count}
		r.to = at + float64(k.Count)*mm + float64(k.Count-1)*p.Asked.KerfMM
		at, number = r.to+p.Asked.KerfMM, number+k.Count
		list = append(list, r)
	}
	return list
}

func (d *drawer) partName(p workshop.CuttingPlan, id string) string {
	build, part := p.PartOf(id)
	for _, b := range d.cut.Builds {
		if b.ID != build {
			continue
		}
		for _, q := range b.Parts {
			if q.ID != part {
				continue
			}
			if len(d.cut.Builds) > 1 {
				return q.Name + " for " + b.Number
			}
			return q.Name
		}
	}
	return part
}

func (d *drawer) ownerWord(p workshop.CuttingPlan) string {
	for _, b := range d.cut.Builds {
		if b.ID == p.BuildID && len(d.cut.Builds) > 1 {
			return "booked to " + b.Number
		}
	}
	return ""
}

// deeds are the buttons beside a board: it is cut, or it failed.
func (d *drawer) deeds(p workshop.CuttingPlan, layout, left int, b *drawnBoard) {
	at := fmt.Sprintf("%s/%%s-%d-%d", hrefOf("cutting", d.cut.ID), p.ID, layout)
	if left > 1 {
		b.Buttons = append(b.Buttons, button(fmt.Sprintf(at, "one"), "One is cut", "One is cut: "+b.Name), button(fmt.Sprintf(at, "cut"), fmt.Sprintf("All %d are cut", left), fmt.Sprintf("All %d are cut: %s", left, b.Name)))
	} else {
		b.Buttons = append(b.Buttons, button(fmt.Sprintf(at, "cut"), "It is cut", "It is cut: "+b.Name))
	}
	f := formOf(d.c, fmt.Sprintf("dock.%d.%d", p.ID, layout))
	b.Dock = &dockForm{Action: fmt.Sprintf(at, "dock"), Form: f, Field: f.Field("usable_mm", "Still good of it", "mode=numeric", "unit=mm", "required"),
		Out: []sheetButton{button(fmt.Sprintf(at, "leave"), "Leave it out and plan on", "Leave it out and plan on: one of "+b.Name)}}
}

func filledOf(list ...string) []string {
	return slices.DeleteFunc(list, func(s string) bool { return s == "" })
}

func offcutWord(is bool) string {
	if is {
		return "an offcut"
	}
	return ""
}

func orRack(place string) string {
	if place == "" {
		return "the rack"
	}
	return place
}

// letterOf names the n-th offcut as the job card does.
func letterOf(n int) string {
	name := string(rune('A' + (n-1)%26))
	if n > 26 {
		name += strconv.Itoa((n-1)/26 + 1)
	}
	return name
}

func px(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// tables are the lots to choose from, and what is cut already.
func (d *drawer) tables() []sheetTable {
	at := hrefOf("cutting", d.cut.ID)
	t := sheetTable{Title: "Boards to choose from", Fold: true, Heads: heads("Lot", "What", "#In the plan", "Your choice", ""), Empty: "No boards of these sizes are free."}
	used := map[int64]int{}
	for _, p := range d.cut.Plans {
		for i := range p.Answered.Layouts {
			if id, err := p.Lot(i); err == nil {
				used[id] += p.Left(i)
			}
		}
	}
	ids := []int64{}
	for id := range d.cut.Lots {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for _, id := range ids {
		l := d.cut.Lots[id]
		what := fmt.Sprintf("%s, %d mm, %s", show.BoardSize(l.WidthMM, l.ThicknessMM), l.LengthMM, l.Grade)
		if !l.ThicknessTrueMM.Equal(l.ThicknessMM) {
			what += ", truly " + show.MM(l.ThicknessTrueMM) + " mm thick"
		}
		state, cell := "", sheetCell{}
		pinned := slices.Contains(d.cut.Choices.Pinned, id)
		i := slices.IndexFunc(d.cut.Choices.LeftOut, func(o workshop.LotLeftOut) bool { return o.LotID == id })
		name := "lot " + idText(id)
		switch {
		case pinned:
			state = "use it"
		case i >= 0 && d.cut.Choices.LeftOut[i].Count > 0:
			state = fmt.Sprintf("%d left out", d.cut.Choices.LeftOut[i].Count)
		case i >= 0:
			state = "left out"
		}
		if d.open {
			if state != "" {
				cell.Buttons = []sheetButton{button(at+"/free-"+idText(id), "As the plan likes", "As the plan likes: "+name)}
			} else {
				cell.Buttons = []sheetButton{button(at+"/use-"+idText(id), "Use this", "Use this: "+name), button(at+"/out-"+idText(id), "Leave out", "Leave out: "+name)}
			}
		}
		t.add(linkCell(name, "/timber/lots/"+idText(id)), cellOf(strings.Join(filledOf(what, l.Place), ", ")), numCell(used[id]), cellOf(state), cell)
	}
	done := sheetTable{Title: "Cut already", Heads: heads("Board", "#How many", "Parts", "When"), Empty: "Nothing yet."}
	for _, x := range d.cut.Cut {
		done.add(linkCell(x.Words, "/timber/lots/"+idText(x.LotID)), numCell(x.Boards), cellOf(strings.ReplaceAll(strings.Join(x.Parts, ", "), " x ", " × ")), cellOf(show.Time(x.CutAt, d.set.Location())))
	}
	return []sheetTable{t, done}
}

func (s *Server) handleCuttingPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	said, err := s.cuttingDeed(c, id, c.Param("deed"))
	if err != nil {
		return again(err, s.handleCutting)
	}
	return goTo(c, hrefOf("cutting", id), said)
}

// cuttingDeed does what the last part of the address names: a word alone, a word and a
// lot, or a word, a plan and a layout.
func (s *Server) cuttingDeed(c echo.Context, id int64, deed string) (string, error) {
	ctx := c.Request().Context()
	word, rest, _ := strings.Cut(deed, "-")
	var a, b int64
	n, _ := fmt.Sscanf(rest, "%d-%d", &a, &b)
	missing := fault.New(fault.NotFound, "There is no such page.")
	switch {
	case deed == "accept":
		_, err := s.Workshop.CuttingPutAside(ctx, id)
		return "The boards are put aside.", err
	case deed == "lay", word == "use" && n == 1, word == "out" && n == 1, word == "free" && n == 1:
		return s.chooseBoards(c, id, word, a)
	case n != 2:
		return "", missing
	case word == "cut", word == "one":
		times := map[string]int{"cut": 0, "one": 1}[word]
		_, err := s.Workshop.CuttingDone(ctx, id, a, int(b), times, s.DB.Now())
		return "Written down as cut.", err
	case word == "leave":
		_, err := s.Workshop.CuttingFailed(ctx, id, workshop.Failed{PlanID: a, Layout: int(b), At: s.DB.Now()})
		return "It is left out, and the rest is laid anew.", err
	case word == "dock":
		f := formOf(c, fmt.Sprintf("dock.%d.%d", a, b))
		usable := int(f.Int("usable_mm", 0, 20_000))
		if err := f.Err(); err != nil {
			return "", err
		}
		_, err := s.Workshop.CuttingFailed(ctx, id, workshop.Failed{PlanID: a, Layout: int(b), UsableMM: &usable, At: s.DB.Now()})
		return fmt.Sprintf("It is docked to %d mm, and the rest is laid anew.", usable), err
	}
	return "", missing
}

// chooseBoards lays a cutting anew with a lot pinned, left out, or left to the plan.
func (s *Server) chooseBoards(c echo.Context, id int64, word string, lot int64) (string, error) {
	ctx := c.Request().Context()
	cut, err := s.Workshop.CuttingGet(ctx, id)
	if err != nil {
		return "", err
	}
	ch := cut.Choices
	if word != "lay" {
		ch.Pinned = slices.DeleteFunc(slices.Clone(ch.Pinned), func(x int64) bool { return x == lot })
		ch.LeftOut = slices.DeleteFunc(slices.Clone(ch.LeftOut), func(o workshop.LotLeftOut) bool { return o.LotID == lot })
	}
	switch word {
	case "use":
		ch.Pinned = append(ch.Pinned, lot)
	case "out":
		ch.LeftOut = append(ch.LeftOut, workshop.LotLeftOut{LotID: lot})
	}
	_, err = s.Workshop.CuttingChoose(ctx, id, ch)
	return "The cutting plan is laid anew.", err
}
