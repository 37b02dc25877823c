package paper

import (
	"strings"

	"github.com/skip2/go-qrcode"
)

// pair is a word and what stands beside it.
type pair struct{ label, value string }

// pairs writes a list of facts in two columns, the empty ones left out.
func (s *sheet) pairs(list []pair) {
	labelW := 0.0
	for _, p := range list {
		if strings.TrimSpace(p.value) != "" {
			labelW = max(labelW, textWidth(clean(p.label), false, s.small)+4)
		}
	}
	labelW = min(labelW, s.w*0.4)
	h := lineHeight(s.body)
	for _, p := range list {
		lines := wrap(p.value, false, s.body, s.w-labelW)
		if len(lines) == 0 {
			continue
		}
		s.need(h * float64(min(len(lines), 2)))
		s.text(s.x, s.y+h*0.73, clip(p.label, false, s.small, labelW-1), false, s.small)
		s.lines(lines, false, s.body, labelW)
		s.y += 0.5
	}
}

// panel is a titled block of short lines.
type panel struct {
	title string
	lines []string
}

// panels writes up to three blocks side by side; empty ones leave no gap.
func (s *sheet) panels(list ...panel) {
	var full []panel
	for _, p := range list {
		if len(some(p.lines...)) > 0 {
			full = append(full, p)
		}
	}
	if len(full) == 0 {
		return
	}
	const gutter = 8.0
	w := (s.w - gutter*float64(len(full)-1)) / float64(len(full))
	lh := lineHeight(s.body)
	laid := make([][]string, len(full))
	h := 0.0
	for i, p := range full {
		for _, l := range some(p.lines...) {
			laid[i] = append(laid[i], wrap(l, false, s.body, w)...)
		}
		laid[i] = laid[i][:min(len(laid[i]), 14)]
		h = max(h, float64(len(laid[i]))*lh)
	}
	s.need(h + lineHeight(s.small) + 3)
	top := s.y
	for i, p := range full {
		x := s.x + float64(i)*(w+gutter)
		s.text(x, top+lineHeight(s.small)*0.73, clip(p.title, false, s.small, w), false, s.small)
		y := top + lineHeight(s.small) + 0.6
		for j, l := range laid[i] {
			s.text(x, y+lh*0.73, l, j == 0, s.body)
			y += lh
		}
	}
	s.y = top + h + lineHeight(s.small) + 3
}

// dates writes the promised dates as a small table.
func (s *sheet) dates(list []Promise) {
	rows := make([]row, 0, len(list))
	for _, p := range list {
		r := texts(p.What, p.When)
		r.cells[1].bold = true
		r.cells[0].detail = some(p.Note)
		rows = append(rows, r)
	}
	s.table([]column{{head: "What", share: 3}, {head: "Promised", share: 2}}, rows, false)
}

// prices writes price lines; a tax column appears when any line has a mark.
func (s *sheet) prices(list []Line, eachHead string) {
	tax, each := false, false
	for _, l := range list {
		tax = tax || l.Tax != ""
		each = each || l.Each != ""
	}
	cols := []column{{head: "What", share: 8.6}, {head: "Quantity", share: 1.9, align: right}}
	if each {
		cols = append(cols, column{head: first(eachHead, "Each"), share: 2.3, align: right})
	}
	if tax {
		cols = append(cols, column{head: s.head.Workshop.taxName(), share: 2.0, align: right})
	}
	cols = append(cols, column{head: "Amount", share: 2.5, align: right})
	rows := make([]row, 0, len(list))
	for _, l := range list {
		r := row{cells: []cell{{text: l.What, detail: some(l.Detail...)}, {text: l.Quantity}}}
		if each {
			r.cells = append(r.cells, cell{text: l.Each})
		}
		if tax {
			r.cells = append(r.cells, cell{text: l.Tax})
		}
		rows = append(rows, row{cells: append(r.cells, cell{text: l.Amount})})
	}
	s.table(cols, rows, false)
	s.gap(-1.4)
}

// pay writes the ways to pay.
func (s *sheet) pay(list []PayWay) {
	if len(list) == 0 {
		return
	}
	s.headingWith("Ways to pay", 8)
	ways := make([]pair, 0, len(list))
	for _, p := range list {
		ways = append(ways, pair{p.Name, p.Detail})
	}
	s.pairs(ways)
	s.gap(1.5)
}

// qr draws a code of the text as squares, side mm wide. Nothing for no text.
func (s *sheet) qr(x, y, side float64, text string) {
	if text == "" {
		return
	}
	code, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		s.pdf.SetError(err)
		return
	}
	code.DisableBorder = true
	bits := code.Bitmap()
	unit := side / float64(len(bits))
	s.pdf.SetFillColor(0, 0, 0)
	for r, line := range bits {
		for c := 0; c < len(line); c++ {
			n := 0
			for c+n < len(line) && line[c+n] {
				n++
			}
			if n > 0 {
				// A hair taller than the row, so that no white lines show between rows.
				s.pdf.Rect(x+float64(c)*unit, y+float64(r)*unit, float64(n)*unit, unit*1.02, "F")
				c += n
			}
		}
	}
}
