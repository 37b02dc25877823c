package answer

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/postgres"
	"kerfbook/internal/workshop"
)

// labelSheet is the sheet of labels of the settings; a common A4 sheet where none is set.
func labelSheet(set house.Settings) paper.LabelSheet {
	sheet := paper.A4Labels()
	var own struct {
		PageWidthMM   *float64 `json:"page_width_mm"`
		PageHeightMM  *float64 `json:"page_height_mm"`
		Columns       *int     `json:"columns"`
		Rows          *int     `json:"rows"`
		LeftMM        *float64 `json:"left_mm"`
		TopMM         *float64 `json:"top_mm"`
		LabelWidthMM  *float64 `json:"label_width_mm"`
		LabelHeightMM *float64 `json:"label_height_mm"`
		StepXMM       *float64 `json:"step_x_mm"`
		StepYMM       *float64 `json:"step_y_mm"`
		Outline       bool     `json:"outline"`
	}
	if json.Unmarshal(set.LabelSheet, &own) != nil {
		return sheet
	}
	for to, from := range map[*float64]*float64{&sheet.PageWidthMM: own.PageWidthMM, &sheet.PageHeightMM: own.PageHeightMM, &sheet.LeftMM: own.LeftMM, &sheet.TopMM: own.TopMM,
		&sheet.LabelWidthMM: own.LabelWidthMM, &sheet.LabelHeightMM: own.LabelHeightMM, &sheet.StepXMM: own.StepXMM, &sheet.StepYMM: own.StepYMM} {
		if from != nil {
			*to = *from
		}
	}
	for to, from := range map[*int]*int{&sheet.Columns: own.Columns, &sheet.Rows: own.Rows} {
		if from != nil {
			*to = *from
		}
	}
	sheet.Outline = own.Outline
	return sheet
}

// JobCard draws the sheet for the bench of a build.
func (r *Room) JobCard(ctx context.Context, build int64) ([]byte, error) {
	b, err := r.Workshop.BuildGet(ctx, build)
	if err != nil {
		return nil, err
	}
	head, set, err := r.nowHead(ctx, b.Number)
	if err != nil {
		return nil, err
	}
	d := paper.JobCardDoc{Head: head, Build: b.Title(), Model: fmt.Sprintf("%s, revision %d", b.ModelName, b.Revision), Due: dueWords(b.DueOn), Timber: strings.ToLower(b.SpeciesName),
		Finish: strings.ToLower(strings.Join(b.OptionNames, ", ")), KerfMM: set.SawKerfMM.InexactFloat64(), Note: b.Notes, Unplaced: b.Short}
	if d.For, err = r.buildFor(ctx, b); err != nil {
		return nil, err
	}
	names, lengths := map[string]string{}, map[string]float64{}
	for _, p := range b.Parts {
		names[p.ID], lengths[p.ID] = p.Name, p.LengthMM.InexactFloat64()
		d.Parts = append(d.Parts, paper.JobPart{Name: p.Name, BoardSize: p.WidthMM.String() + " × " + p.ThicknessMM.String(), LengthMM: lengths[p.ID], Count: p.Count})
	}
	if err := r.cutBoards(ctx, &d, b, names, lengths); err != nil {
		return nil, err
	}
	for _, g := range b.Gauges {
		d.Gauges = append(d.Gauges, paper.Gauge{What: g.Name, SizeMM: g.NominalMM.InexactFloat64(), LowMM: g.LowMM.InexactFloat64(), HighMM: g.HighMM.InexactFloat64()})
	}
	for _, o := range b.Operations {
		d.Operations = append(d.Operations, paper.Operation{Name: o.Name, Needs: strings.Join(o.Needs, ", "), SetupM: float64(o.SetupMin), WorkM: o.PieceMin.InexactFloat64() * float64(b.Quantity), WaitM: float64(o.WaitMin)})
	}
	return paper.JobCard(d)
}

// buildFor names the orders that a build is for, and the shelf.
func (r *Room) buildFor(ctx context.Context, b workshop.Build) ([]string, error) {
	list, err := postgres.Column[string](ctx, r.db, `SELECT s.number || ' ' || coalesce(nullif(p.name::text, ''), 'nameless') || CASE WHEN count(*) > 1 THEN ' (' || count(*) || ')' ELSE '' END
FROM build_output o JOIN order_unit u ON u.id = o.order_unit_id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order s ON s.id = l.order_id JOIN party p ON p.id = s.party_id
WHERE o.build_id = $1 AND o.spoiled_at IS NULL GROUP BY s.id, p.id ORDER BY s.id`, b.ID)
	if err != nil {
		return nil, err
	}
	shelf := 0
	for _, o := range b.Outputs {
		if o.UnitID == nil && o.SpoiledAt == nil {
			shelf++
		}
	}
	if shelf > 0 {
		list = append(list, fmt.Sprintf("shelf (%d)", shelf))
	}
	return list, nil
}

// cutBoards writes the cutting plans of a build board by board.
func (r *Room) cutBoards(ctx context.Context, d *paper.JobCardDoc, b workshop.Build, names map[string]string, lengths map[string]float64) error {
	var ids []int64
	for _, p := range b.Plans {
		for _, l := range p.Answered.Layouts {
			if id, err := strconv.ParseInt(l.Board, 10, 64); err == nil {
				ids = append(ids, id)
			}
		}
	}
	places, err := r.lotPlaces(ctx, ids)
	if err != nil {
		return err
	}
	var notes []string
	for _, p := range b.Plans {
		keep := 0.0
		if p.Asked.KeepOffcutMM != nil {
			keep = *p.Asked.KeepOffcutMM
		}
		for _, l := range p.Answered.Layouts {
			lot := places[l.Board]
			board := paper.CutBoard{Name: fmt.Sprintf("Board %d", len(d.Boards)+1), Place: lot.Place, BoardSize: p.WidthMM.String() + " × " + p.ThicknessMM.String(), LengthMM: float64(lot.LengthMM), Times: l.Times,
				TrimMM: p.Asked.TrimMM, OffcutMM: l.OffcutMM, OffcutKept: l.OffcutMM >= keep && l.OffcutMM > 0, WasAnOffcut: lot.Offcut}
			for _, c := range l.Cuts {
				for range c.Count {
					board.Cuts = append(board.Cuts, paper.Cut{Part: names[c.Part], LengthMM: lengths[c.Part]})
				}
			}
			d.Boards = append(d.Boards, board)
		}
		notes = append(notes, fmt.Sprintf("%s × %s: %s", p.WidthMM, p.ThicknessMM, p.Note()))
	}
	d.PlanNote = strings.Join(notes, " ")
	return nil
}

type lotPlace struct {
	ID       int64  `db:"id"`
	Place    string `db:"place"`
	LengthMM int    `db:"length_mm"`
	Offcut   bool   `db:"offcut"`
}

func (r *Room) lotPlaces(ctx context.Context, ids []int64) (map[string]lotPlace, error) {
	list, err := postgres.List[lotPlace](ctx, r.db, `SELECT id, place, length_mm, offcut FROM board_lot WHERE id = ANY ($1) ORDER BY id`, ids)
	out := map[string]lotPlace{}
	for _, l := range list {
		out[strconv.FormatInt(l.ID, 10)] = l
	}
	return out, err
}
