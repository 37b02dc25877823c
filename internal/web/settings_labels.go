package web

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"kerfbook/internal/answer"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/show"
)

// labelFigure is a measure of the label sheet; the whole sheet is checked by the last.
func labelFigure(name, label string, at func(*paper.LabelSheet) *float64, options ...string) figure {
	return figure{name: name, label: label, kind: "field", options: append(options, "unit=mm", "mode=decimal", "required"),
		fill: func(s house.Settings) string {
			sheet, err := answer.LabelSheet(s)
			if err != nil {
				sheet = paper.A4Labels()
			}
			return figureText(*at(&sheet))
		},
		read: func(f *Form, s *house.Settings) {
			keepLabel(f, s, name, func(sheet *paper.LabelSheet) {
				if v, ok := labelMM(f, name); ok {
					*at(sheet) = v
				}
			})
		}}
}

// labelMM reads a measure of the sheet, mm.
func labelMM(f *Form, name string) (float64, bool) {
	d, ok := show.Decimal(f.Text(name), 2)
	v := d.InexactFloat64()
	if !ok || v < 0 || v > 2000 {
		f.Wrong(name, "Write millimetres, such as 38.1.")
		return 0, false
	}
	return v, true
}

func labelCount(name, label string, most int64, at func(*paper.LabelSheet) *int) figure {
	return figure{name: name, label: label, kind: "field", options: []string{"mode=numeric", "required"},
		fill: func(s house.Settings) string {
			sheet, err := answer.LabelSheet(s)
			if err != nil {
				sheet = paper.A4Labels()
			}
			return strconv.Itoa(*at(&sheet))
		},
		read: func(f *Form, s *house.Settings) {
			keepLabel(f, s, name, func(sheet *paper.LabelSheet) { *at(sheet) = int(f.Int(name, 1, most)) })
		}}
}

// keepLabel changes one measure of the sheet in the settings, unchecked.
func keepLabel(f *Form, s *house.Settings, name string, change func(*paper.LabelSheet)) {
	sheet, err := answer.LabelSheet(*s)
	if err != nil {
		sheet = paper.A4Labels()
	}
	was := sheet
	if change(&sheet); sheet == was {
		return
	}
	raw, err := json.Marshal(sheet)
	if err != nil {
		f.Wrong(name, "Write millimetres, such as 38.1.")
		return
	}
	s.LabelSheet = raw
}

// gapFigure is the gap between labels; the record holds the step from edge to edge.
func gapFigure(name, label string, size, step func(*paper.LabelSheet) *float64) figure {
	d := labelFigure(name, label, step)
	d.fill = func(s house.Settings) string {
		sheet, err := answer.LabelSheet(s)
		if err != nil || *step(&sheet) == 0 {
			return "0"
		}
		return figureText(float64(int((*step(&sheet)-*size(&sheet))*100+0.5)) / 100)
	}
	d.read = func(f *Form, s *house.Settings) {
		keepLabel(f, s, name, func(sheet *paper.LabelSheet) {
			if gap, ok := labelMM(f, name); ok {
				*step(sheet) = math.Round((*size(sheet)+gap)*100) / 100
			}
		})
	}
	return d
}

// outlineFigure comes last: with it the whole sheet is checked.
func outlineFigure() figure {
	const name = "label_outline"
	return figure{name: name, label: "Edges are printed, for plain paper to be cut", kind: "tick",
		fill: func(s house.Settings) string {
			if sheet, err := answer.LabelSheet(s); err == nil && sheet.Outline {
				return "yes"
			}
			return ""
		},
		read: func(f *Form, s *house.Settings) {
			keepLabel(f, s, name, func(sheet *paper.LabelSheet) { sheet.Outline = f.Ticked(name) })
			sheet, err := answer.LabelSheet(*s)
			if err != nil || len(f.wrong) > 0 {
				return
			}
			if err := sheet.Check(); err != nil {
				f.Wrong("label_columns", "These measures do not go together: "+strings.TrimPrefix(err.Error(), paper.ErrLabelSheet.Error()+": ")+".")
			}
		}}
}

// labelFigures are the measures of the sheet of labels in the printer.
func labelFigures() []figure {
	width, height := func(l *paper.LabelSheet) *float64 { return &l.LabelWidthMM }, func(l *paper.LabelSheet) *float64 { return &l.LabelHeightMM }
	return []figure{
		labelCount("label_columns", "Labels side by side", 20, func(l *paper.LabelSheet) *int { return &l.Columns }),
		labelCount("label_rows", "Labels one below the other", 50, func(l *paper.LabelSheet) *int { return &l.Rows }),
		labelFigure("label_width_mm", "Width of a label", width),
		labelFigure("label_height_mm", "Height of a label", height),
		labelFigure("label_left_mm", "From the sheet's left edge to the first label", func(l *paper.LabelSheet) *float64 { return &l.LeftMM }),
		labelFigure("label_top_mm", "From its top edge to the first label", func(l *paper.LabelSheet) *float64 { return &l.TopMM }),
		gapFigure("label_gap_across_mm", "Gap between labels side by side", width, func(l *paper.LabelSheet) *float64 { return &l.StepXMM }),
		gapFigure("label_gap_down_mm", "Gap between labels one below the other", height, func(l *paper.LabelSheet) *float64 { return &l.StepYMM }),
		labelFigure("label_page_width_mm", "Width of the sheet", func(l *paper.LabelSheet) *float64 { return &l.PageWidthMM }),
		labelFigure("label_page_height_mm", "Height of the sheet", func(l *paper.LabelSheet) *float64 { return &l.PageHeightMM }),
		outlineFigure(),
	}
}
