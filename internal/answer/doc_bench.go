package answer

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// JobCard draws the job card of a build as it stands now. It carries no prices. Where the
// build is cut together with others, its card shows its own boards, and says which of its
// parts come from boards of the others.
func (r *Room) JobCard(ctx context.Context, buildID int64) ([]byte, string, error) {
	b, err := r.Workshop.BuildGet(ctx, buildID)
	if err != nil {
		return nil, "", err
	}
	builds, plans, number := []workshop.Build{b}, b.Plans, ""
	if b.CuttingID > 0 && b.Open() {
		c, err := r.Workshop.CuttingGet(ctx, b.CuttingID)
		if err != nil {
			return nil, "", err
		}
		if len(c.Builds) > 1 {
			builds, plans, number = c.Builds, c.Plans, fmt.Sprintf("cutting %d", c.ID)
		}
	}
	j, err := r.newJob(ctx, builds, plans)
	if err != nil {
		return nil, "", err
	}
	d := &j.doc
	d.Head = r.head(j.set, house.TaxState{}, b.Number, r.db.Now())
	d.Words = r.wording(ctx, b.Number)
	d.Build, d.Model = b.Title(), fmt.Sprintf("%s, revision %d", b.ModelName, b.Revision)
	d.Due, d.Timber, d.Finish, d.Note = show.DateOr(b.DueOn, "no date"), b.SpeciesName, strings.Join(b.OptionNames, ", "), b.Notes
	if d.For, err = r.buildFor(ctx, b); err != nil {
		return nil, "", err
	}
	if err := j.addBuild(ctx, r, b, ""); err != nil {
		return nil, "", err
	}
	for _, p := range plans {
		if p.BuildID == b.ID {
			if err := j.addPlan(p); err != nil {
				return nil, "", err
			}
		} else if n := j.partsIn(p, b.ID); n != "" {
			d.Elsewhere = append(d.Elsewhere, fmt.Sprintf("From boards of %s (%s): %s", j.numbers[p.BuildID], number, n))
		}
	}
	pdf, err := paper.JobCard(*d)
	return pdf, "jobcard-" + b.Number, err
}

// CuttingCard draws the job card of builds that are cut together: all boards, with the
// build that each part belongs to. It carries no prices.
func (r *Room) CuttingCard(ctx context.Context, cuttingID int64) ([]byte, string, error) {
	c, err := r.Workshop.CuttingGet(ctx, cuttingID)
	if err != nil {
		return nil, "", err
	}
	if len(c.Builds) == 1 {
		return r.JobCard(ctx, c.Builds[0].ID)
	}
	j, err := r.newJob(ctx, c.Builds, c.Plans)
	if err != nil {
		return nil, "", err
	}
	d := &j.doc
	number := fmt.Sprintf("C%d", c.ID)
	d.Head = r.head(j.set, house.TaxState{}, number, r.db.Now())
	d.Words = r.wording(ctx, number)
	var titles []string
	for _, b := range c.Builds {
		titles = append(titles, b.Number)
		d.For = append(d.For, b.Number+": "+b.Title()+", due "+show.DateOr(b.DueOn, "no date"))
		if err := j.addBuild(ctx, r, b, b.Number); err != nil {
			return nil, "", err
		}
	}
	d.Build = "Cut together: " + strings.Join(titles, ", ")
	for _, p := range c.Plans {
		if err := j.addPlan(p); err != nil {
			return nil, "", err
		}
	}
	pdf, err := paper.JobCard(*d)
	return pdf, "jobcard-" + number, err
}

// job is a job card while it is filled in.
type job struct {
	doc     paper.JobCardDoc
	set     house.Settings
	lots    map[int64]timber.Lot
	numbers map[int64]string                        // of the builds
	parts   map[int64]map[string]workshop.BuildPart // by build and id
	noted   map[string]bool
	offcuts int
}

func (r *Room) newJob(ctx context.Context, builds []workshop.Build, plans []workshop.CuttingPlan) (*job, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	j := &job{set: set, lots: map[int64]timber.Lot{}, numbers: map[int64]string{}, parts: map[int64]map[string]workshop.BuildPart{}, noted: map[string]bool{}}
	j.doc.KerfMM = set.SawKerfMM.InexactFloat64()
	for _, b := range builds {
		j.numbers[b.ID], j.parts[b.ID] = b.Number, map[string]workshop.BuildPart{}
		for _, p := range b.Parts {
			j.parts[b.ID][p.ID] = p
		}
	}
	var ids []int64
	for _, p := range plans {
		for i := range p.Answered.Layouts {
			id, err := p.Lot(i)
			if err != nil {
				return nil, err
			}
			ids = append(ids, id)
		}
	}
	lots, err := timber.LotsByID(ctx, r.db, ids)
	for _, l := range lots {
		j.lots[l.ID] = l
	}
	return j, err
}

// addBuild puts the parts, checks and operations of a build on the card; number is put
// before them where the card is of several builds.
func (j *job) addBuild(ctx context.Context, r *Room, b workshop.Build, number string) error {
	d := &j.doc
	before := ""
	if number != "" {
		before = number + ": "
	}
	for _, p := range b.Parts {
		d.Parts = append(d.Parts, paper.JobPart{Name: before + p.Name, BoardSize: show.BoardSize(p.WidthMM, p.ThicknessMM), LengthMM: p.LengthMM.InexactFloat64(), Count: p.Count, Note: p.Note()})
	}
	d.Warnings = append(d.Warnings, b.Warnings...)
	for _, g := range b.Gauges {
		if key := g.Name + g.NominalMM.String(); !j.noted[key] {
			j.noted[key] = true
			d.Gauges = append(d.Gauges, paper.Gauge{What: g.Name, SizeMM: g.NominalMM.InexactFloat64(), LowMM: g.LowMM.InexactFloat64(), HighMM: g.HighMM.InexactFloat64()})
		}
	}
	model, err := r.buildModel(ctx, b)
	if err != nil {
		return err
	}
	if number != "" {
		before = b.ModelName + ": "
	}
	for _, c := range checksOf(b, model, before) { // equal ones of several builds once
		if key := fmt.Sprint(c); !j.noted[key] {
			j.noted[key] = true
			d.Checks = append(d.Checks, c)
		}
	}
	if number != "" {
		before = number + ": "
	}
	for _, o := range b.Operations {
		step := paper.Operation{Name: before + plainName(o.Name), Needs: strings.Join(o.Needs, ", "), SetupM: float64(o.SetupMin), WorkM: o.StandardMin(b.Quantity) - float64(o.SetupMin), WaitM: float64(o.WaitMin)}
		if o.OwnerOnly {
			step.Needs = strings.Join(append([]string{"the owner's own hands"}, o.Needs...), ", ")
		}
		if o.Name == workshop.GlueUp {
			step.Caution = glueCare
		}
		d.Operations = append(d.Operations, step)
	}
	return nil
}

// glueCare is what stands beside the glue-up (common practice, no source).
const glueCare = "joint the edges square and glue the same day; clamps above and below; gloves on; leave it in the clamps as the glue's maker says; plane only when cured"

func (r *Room) buildModel(ctx context.Context, b workshop.Build) (hive.Model, error) {
	rev, err := r.Workshop.RevisionGet(ctx, b.RevisionID)
	if err != nil {
		return hive.Model{}, err
	}
	options, err := workshop.OptionsByID(ctx, r.db, b.OptionIDs)
	if err != nil {
		return hive.Model{}, err
	}
	return workshop.Compose(rev, options)
}

// checksOf are the checks of a box besides its gauge sizes: wall thickness, diagonal and
// flatness. The limits are common practice, no source.
func checksOf(b workshop.Build, m hive.Model, before string) []paper.Gauge {
	wall := m.WallMM
	limit := "as drawn; sort out what differs by more than 0.5"
	if b.TrueWallMM != nil {
		wall, limit = b.TrueWallMM.InexactFloat64(), "true thickness of the boards put aside; part lengths are reckoned with it"
	}
	list := []paper.Gauge{{What: before + "wall thickness", SizeMM: wall, Limit: limit, Measure: "calipers at both ends of each board"}}
	if b.Makes == workshop.MakesPart {
		return list
	}
	length, width := m.LengthMM, m.WidthMM
	if m.HeldFrom == "inside" {
		length, width = length+2*wall, width+2*wall
	}
	return append(list, paper.Gauge{What: before + "diagonals of each section, outside", SizeMM: math.Round(math.Hypot(length, width)*10) / 10, Limit: "both alike within 1", Measure: "corner to corner, both ways"},
		paper.Gauge{What: before + "flatness of the meeting edges", Limit: "no gap above 0.5", Measure: "on a flat board, or a straightedge across both ways"})
}

// plainName reads an id as words.
func plainName(id string) string { return strings.ReplaceAll(id, "-", " ") }

// buildFor says whom the pieces of a build are for.
func (r *Room) buildFor(ctx context.Context, b workshop.Build) ([]string, error) {
	rows, err := r.db.Query(ctx, `SELECT o.number || ' ' || p.name, count(*)::int FROM build_output x JOIN order_unit u ON u.id = x.order_unit_id
		JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
		WHERE x.build_id = $1 AND x.spoiled_at IS NULL GROUP BY o.id, o.number, p.name ORDER BY o.id`, b.ID)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	list, units := []string{}, 0
	for rows.Next() {
		var who string
		var n int
		if err := rows.Scan(&who, &n); err != nil {
			return nil, err
		}
		units += n
		list = append(list, fmt.Sprintf("%d for %s", n, strings.TrimSpace(who)))
	}
	shelf := 0
	for _, o := range b.Outputs {
		if o.UnitID == nil && o.SpoiledAt == nil {
			shelf++
		}
	}
	if shelf > 0 {
		list = append(list, fmt.Sprintf("%d for the shelf", shelf))
	}
	return list, rows.Err()
}

// addPlan puts the boards of a cutting plan on the card; what is cut already is left out.
func (j *job) addPlan(p workshop.CuttingPlan) error {
	d, size := &j.doc, show.BoardSize(p.WidthMM, p.ThicknessMM)
	lengths := map[string]float64{}
	for _, q := range p.Asked.Parts {
		lengths[q.ID] = q.LengthMM
	}
	for i, l := range p.Answered.Layouts {
		id, err := p.Lot(i)
		if err != nil {
			return err
		}
		lot := j.lots[id]
		board := paper.CutBoard{Name: fmt.Sprintf("lot %d", id), Place: lot.Place, BoardSize: size, LengthMM: float64(lot.LengthMM), Times: p.Left(i),
			TrimMM: p.Asked.TrimMM, Cuts: j.cutsOf(p, l, lengths), OffcutMM: l.OffcutMM, WasAnOffcut: lot.Offcut}
		if board.Times == 0 {
			d.AlreadyCut += l.Times
			continue
		}
		d.AlreadyCut += l.Times - board.Times
		if length, keeps := workshop.KeepsOffcut(j.set, l.OffcutMM); keeps {
			j.offcuts++
			board.OffcutKept, board.OffcutName = true, offcutName(j.offcuts)
			d.Offcuts = append(d.Offcuts, paper.KeptOffcut{Name: board.OffcutName, BoardSize: size, LengthMM: float64(length), Count: board.Times, Place: first(lot.Place, "the rack")})
		}
		d.Boards = append(d.Boards, board)
	}
	for _, m := range p.Missing() {
		part := j.parts[p.BuildID][m.Part]
		d.Unplaced = append(d.Unplaced, fmt.Sprintf("%d × %s, %s mm", m.Count, part.Name, trimZero(part.LengthMM.InexactFloat64())))
	}
	key := fmt.Sprintf("%s: %s", j.groupOf(p), p.Note())
	if !j.noted[key] { // builds that are cut together share the note
		j.noted[key] = true
		d.PlanNote = strings.TrimSpace(d.PlanNote + " " + key)
	}
	return nil
}

func (j *job) groupOf(p workshop.CuttingPlan) string {
	size := show.BoardSize(p.WidthMM, p.ThicknessMM)
	if p.Grade != "knotty" {
		size += " " + p.Grade
	}
	return size
}

// offcutName names offcuts by letters: A to Z, then A2 and so on.
func offcutName(n int) string {
	name := string(rune('A' + (n-1)%26))
	if n > 26 {
		name += fmt.Sprint((n-1)/26 + 1)
	}
	return name
}

func first(list ...string) string {
	for _, s := range list {
		if s != "" {
			return s
		}
	}
	return ""
}

func trimZero(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

func (j *job) cutsOf(p workshop.CuttingPlan, l cutting.Layout, lengths map[string]float64) []paper.Cut {
	var cuts []paper.Cut
	for _, c := range l.Cuts {
		build, part := p.PartOf(c.Part)
		name := j.parts[build][part].Name
		if p.Answered.Joint {
			name = j.numbers[build] + " " + name
		}
		for range c.Count {
			cuts = append(cuts, paper.Cut{Part: name, LengthMM: lengths[c.Part]})
		}
	}
	return cuts
}

// partsIn lists the parts for one build that a plan's boards still give; "" for none.
func (j *job) partsIn(p workshop.CuttingPlan, build int64) string {
	total, order := map[string]int{}, []string{}
	for i, l := range p.Answered.Layouts {
		for _, c := range l.Cuts {
			owner, part := p.PartOf(c.Part)
			if owner != build || p.Left(i) == 0 {
				continue
			}
			if total[part] == 0 {
				order = append(order, part)
			}
			total[part] += c.Count * p.Left(i)
		}
	}
	words := make([]string, len(order))
	for i, part := range order {
		words[i] = fmt.Sprintf("%d × %s", total[part], j.parts[build][part].Name)
	}
	return strings.Join(words, ", ")
}

// LabelSheet is the sheet of labels by the workshop's settings; a common sheet where they
// say nothing. Conflict when what is stored cannot be read.
func LabelSheet(set house.Settings) (paper.LabelSheet, error) {
	sheet := paper.A4Labels()
	if len(set.LabelSheet) > 2 { // more than {}
		if err := json.Unmarshal(set.LabelSheet, &sheet); err != nil {
			return sheet, fault.Wrap(err, fault.Conflict, "The label sheet in the settings cannot be read. Set it anew.")
		}
	}
	return sheet, nil
}

// SetLabelSheet puts a sheet of labels into the settings. Invalid, at /label_sheet, when
// its labels do not lie on the page.
func SetLabelSheet(set *house.Settings, sheet paper.LabelSheet) error {
	sheet.Used = 0 // said when labels are printed
	if err := sheet.Check(); err != nil {
		return fault.Bad("/label_sheet", "This does not go together: %s.", strings.TrimPrefix(err.Error(), paper.ErrLabelSheet.Error()+": "))
	}
	raw, err := json.Marshal(sheet)
	set.LabelSheet = raw
	return err
}

// labelSheet is the sheet of labels in the printer, by the workshop's settings.
// used labels are gone from the first sheet and skipped.
func labelSheet(set house.Settings, used int) (paper.LabelSheet, error) {
	sheet, err := LabelSheet(set)
	if err != nil {
		return sheet, err
	}
	if most := sheet.Columns*sheet.Rows - 1; used < 0 || used > most {
		return sheet, fault.Bad("/used", "The sheet has %d labels: between 0 and %d can be used up.", most+1, most)
	}
	sheet.Used = used
	if err := sheet.Check(); errors.Is(err, paper.ErrLabelSheet) {
		return sheet, fault.Wrap(err, fault.Conflict, "The label sheet in the settings does not fit its page: %s.", err)
	}
	return sheet, nil
}

// BuildLabels draws the labels of the boxes that a build made. Conflict while it has made
// none.
func (r *Room) BuildLabels(ctx context.Context, buildID int64, used int) ([]byte, string, error) {
	b, err := r.Workshop.BuildGet(ctx, buildID)
	if err != nil {
		return nil, "", err
	}
	var boxes []workshop.Box
	for _, o := range b.Outputs {
		if o.BoxID != nil {
			box, err := r.Workshop.BoxGet(ctx, *o.BoxID)
			if err != nil {
				return nil, "", err
			}
			boxes = append(boxes, box)
		}
	}
	if len(boxes) == 0 {
		return nil, "", fault.New(fault.Conflict, "Build %s has made no boxes yet: they get their serials when it is finished.", b.Number)
	}
	pdf, err := r.boxLabels(ctx, b.Number, boxes, used)
	return pdf, "labels-" + b.Number, err
}

// BoxLabel draws the label of one box.
func (r *Room) BoxLabel(ctx context.Context, boxID int64, used int) ([]byte, string, error) {
	box, err := r.Workshop.BoxGet(ctx, boxID)
	if err != nil {
		return nil, "", err
	}
	pdf, err := r.boxLabels(ctx, box.Serial, []workshop.Box{box}, used)
	return pdf, "label-" + box.Serial, err
}

func (r *Room) boxLabels(ctx context.Context, number string, boxes []workshop.Box, used int) ([]byte, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	sheet, err := labelSheet(set, used)
	if err != nil {
		return nil, err
	}
	d := paper.BoxLabelsDoc{Head: r.head(set, house.TaxState{}, number, r.db.Now()), Sheet: sheet}
	for _, b := range boxes {
		label := paper.BoxLabel{Serial: b.Serial, Model: b.ModelName, Timber: b.SpeciesName, Made: show.Date(house.DateIn(b.FinishedAt, set.Location()))}
		if label.Model == "" {
			label.Model = b.Description
		}
		if b.ColonyID != nil {
			colony, err := r.Apiary.ColonyGet(ctx, *b.ColonyID)
			if err != nil {
				return nil, err
			}
			if colony.SpeciesName != nil {
				label.Species = *colony.SpeciesName
			}
		}
		d.Labels = append(d.Labels, label)
	}
	return paper.BoxLabels(d)
}
