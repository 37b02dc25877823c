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

// panelLines is the most lines of a panel: an address that is longer is shortened,
// so that the paper still has room for what it is about.
const panelLines = 25

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
	laid, strong := make([][]string, len(full)), make([]int, len(full))
	h := 0.0
	for i, p := range full {
		for j, l := range some(p.lines...) {
			lines := wrap(l, j == 0, s.body, w)
			if j == 0 {
				strong[i] = len(lines)
			}
			laid[i] = append(laid[i], lines...)
		}
		if len(laid[i]) > panelLines {
			laid[i] = append(laid[i][:panelLines-1], "…")
		}
		h = max(h, float64(len(laid[i]))*lh)
	}
	s.need(min(h+lineHeight(s.small)+3, contentBottom-laterTop-10))
	top := s.y
	for i, p := range full {
		x := s.x + float64(i)*(w+gutter)
		s.text(x, top+lineHeight(s.small)*0.73, clip(p.title, false, s.small, w), false, s.small)
		y := top + lineHeight(s.small) + 0.6
		for j, l := range laid[i] {
			s.text(x, y+lh*0.73, l, j < strong[i], s.body)
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
	cols := []column{{head: "What"}, {head: "Quantity", align: right}}
	if each {
		cols = append(cols, column{head: first(eachHead, "Each"), align: right})
	}
	if tax {
		cols = append(cols, column{head: s.head.Workshop.taxName(), align: right})
	}
	cols = append(cols, column{head: "Amount", align: right})
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
	s.fitNumbers(cols, rows)
	s.table(cols, rows, false)
	s.gap(-1.4)
}

// fitNumbers makes the columns after the first as wide as their texts, so that an
// amount is not broken; the first column keeps at least a third of the table.
func (s *sheet) fitNumbers(cols []column, rows []row) {
	sum := 0.0
	for i := range cols[1:] {
		w := 19.0
		for _, r := range rows {
			w = max(w, textWidth(clean(r.cells[i+1].text), false, s.body)+2*cellPad+1)
		}
		cols[i+1].share = w
		sum += w
	}
	cols[0].share = max(s.w-sum, s.w/3)
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
