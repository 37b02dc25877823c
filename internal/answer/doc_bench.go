package answer

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// JobCard draws the job card of a build as it stands now. It carries no prices.
func (r *Room) JobCard(ctx context.Context, buildID int64) ([]byte, string, error) {
	b, err := r.Workshop.BuildGet(ctx, buildID)
	if err != nil {
		return nil, "", err
	}
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, "", err
	}
	now := r.db.Now()
	d := paper.JobCardDoc{Head: r.head(set, house.TaxState{}, b.Number, now), Build: b.Title(), Model: fmt.Sprintf("%s, revision %d", b.ModelName, b.Revision),
		Due: show.DateOr(b.DueOn, "no date"), Timber: b.SpeciesName, Finish: strings.Join(b.OptionNames, ", "), KerfMM: set.SawKerfMM.InexactFloat64(), Note: b.Notes}
	if d.For, err = r.buildFor(ctx, b); err != nil {
		return nil, "", err
	}
	for _, p := range b.Parts {
		d.Parts = append(d.Parts, paper.JobPart{Name: p.Name, BoardSize: show.BoardSize(p.WidthMM, p.ThicknessMM), LengthMM: p.LengthMM.InexactFloat64(), Count: p.Count})
	}
	if err := r.jobBoards(ctx, b, set, &d); err != nil {
		return nil, "", err
	}
	for _, g := range b.Gauges {
		d.Gauges = append(d.Gauges, paper.Gauge{What: g.Name, SizeMM: g.NominalMM.InexactFloat64(), LowMM: g.LowMM.InexactFloat64(), HighMM: g.HighMM.InexactFloat64()})
	}
	for _, o := range b.Operations {
		d.Operations = append(d.Operations, paper.Operation{Name: plainName(o.Name), Needs: strings.Join(o.Needs, ", "), SetupM: float64(o.SetupMin),
			WorkM: o.StandardMin(b.Quantity) - float64(o.SetupMin), WaitM: float64(o.WaitMin)})
	}
	pdf, err := paper.JobCard(d)
	return pdf, "jobcard-" + b.Number, err
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

// jobBoards puts the cutting plans of a build on its job card.
func (r *Room) jobBoards(ctx context.Context, b workshop.Build, set house.Settings, d *paper.JobCardDoc) error {
	lengths := map[string]float64{}
	names := map[string]string{}
	for _, p := range b.Parts {
		lengths[p.ID], names[p.ID] = p.LengthMM.InexactFloat64(), p.Name
	}
	for _, plan := range b.Plans {
		size := show.BoardSize(plan.WidthMM, plan.ThicknessMM)
		for _, l := range plan.Answered.Layouts {
			var id int64
			if _, err := fmt.Sscan(l.Board, &id); err != nil {
				return fmt.Errorf("cutting plan of build %s: board %q: %w", b.Number, l.Board, err)
			}
			lot, err := r.Timber.LotGet(ctx, id)
			if err != nil {
				return err
			}
			d.Boards = append(d.Boards, paper.CutBoard{Name: fmt.Sprintf("lot %d", id), Place: lot.Place, BoardSize: size, LengthMM: float64(lot.LengthMM), Times: l.Times,
				TrimMM: plan.Asked.TrimMM, Cuts: cutsOf(l, lengths, names), OffcutMM: l.OffcutMM, OffcutKept: l.OffcutMM >= float64(set.KeepOffcutMM), WasAnOffcut: lot.Offcut})
		}
		for _, m := range plan.Missing() {
			d.Unplaced = append(d.Unplaced, fmt.Sprintf("%d × %s, %s mm", m.Count, names[m.Part], trimZero(lengths[m.Part])))
		}
		d.PlanNote = strings.TrimSpace(d.PlanNote + " " + size + ": " + plan.Note())
	}
	return nil
}

func trimZero(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

func cutsOf(l cutting.Layout, lengths map[string]float64, names map[string]string) []paper.Cut {
	var cuts []paper.Cut
	for _, c := range l.Cuts {
		for range c.Count {
			cuts = append(cuts, paper.Cut{Part: names[c.Part], LengthMM: lengths[c.Part]})
		}
	}
	return cuts
}

// labelSheet is the sheet of labels in the printer, by the workshop's settings.
func labelSheet(set house.Settings) (paper.LabelSheet, error) {
	sheet := paper.A4Labels()
	if len(set.LabelSheet) > 2 { // more than {}
		if err := json.Unmarshal(set.LabelSheet, &sheet); err != nil {
			return sheet, fault.Wrap(err, fault.Conflict, "The label sheet in the settings cannot be read. Set it anew.")
		}
	}
	if err := sheet.Check(); errors.Is(err, paper.ErrLabelSheet) {
		return sheet, fault.Wrap(err, fault.Conflict, "The label sheet in the settings does not fit its page: %s.", err)
	}
	return sheet, nil
}

// BuildLabels draws the labels of the boxes that a build made. Conflict while it has made
// none.
func (r *Room) BuildLabels(ctx context.Context, buildID int64) ([]byte, string, error) {
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
	pdf, err := r.boxLabels(ctx, b.Number, boxes)
	return pdf, "labels-" + b.Number, err
}

// BoxLabel draws the label of one box.
func (r *Room) BoxLabel(ctx context.Context, boxID int64) ([]byte, string, error) {
	box, err := r.Workshop.BoxGet(ctx, boxID)
	if err != nil {
		return nil, "", err
	}
	pdf, err := r.boxLabels(ctx, box.Serial, []workshop.Box{box})
	return pdf, "label-" + box.Serial, err
}

func (r *Room) boxLabels(ctx context.Context, number string, boxes []workshop.Box) ([]byte, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	sheet, err := labelSheet(set)
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
