package paper

import "strings"

// align says where a cell's text stands.
type align int

const (
	left align = iota
	right
	middle
)

// column of a table; its width is a share of the table's width.
type column struct {
	head  string
	share float64
	align align
	bold  bool
}

// cell is one field of a row: a text, smaller lines below it, or a tick box.
type cell struct {
	text   string
	detail []string
	tick   bool
	bold   bool
}

// row of a table; tall adds blank height in mm for writing by hand.
type row struct {
	cells []cell
	tall  float64
}

func texts(list ...string) row {
	r := row{cells: make([]cell, len(list))}
	for i, t := range list {
		r.cells[i].text = t
	}
	return r
}

// table draws ruled rows. A row is never cut in two and the head is repeated on
// every page; only a row taller than a whole page goes on over the page.
type table struct {
	s      *sheet
	cols   []column
	x      []float64 // left edge of each column
	w      []float64
	size   float64
	grid   bool // upright rules as well
	pad    float64
	headed bool
}

// laidCell is a cell broken into lines.
type laidCell struct {
	lines  []string
	strong int // this many lines in full size, the rest are detail
}

const cellPad = 1.5

func (s *sheet) table(cols []column, rows []row, grid bool) {
	if len(rows) == 0 {
		return
	}
	t := newTable(s, cols, grid)
	for _, r := range rows {
		t.row(r)
	}
	s.gap(2)
}

func newTable(s *sheet, cols []column, grid bool) *table {
	t := &table{s: s, cols: cols, size: max(s.body-0.5, s.small), grid: grid, pad: s.pad}
	sum := 0.0
	for _, c := range cols {
		sum += c.share
	}
	x := s.x
	for _, c := range cols {
		t.x = append(t.x, x)
		t.w = append(t.w, s.w*c.share/sum)
		x += s.w * c.share / sum
	}
	return t
}

func (t *table) headHeight() float64 {
	n := 0
	for i, c := range t.cols {
		n = max(n, len(wrap(c.head, true, t.s.small, t.w[i]-2*cellPad)))
	}
	if n == 0 {
		return 0
	}
	return float64(n)*lineHeight(t.s.small) + 2*t.pad
}

func (t *table) drawHead() {
	s, h := t.s, t.headHeight()
	t.headed = true
	if s.ruled == s.y {
		s.y -= 1.6 // the heading's rule is the table's
	} else {
		s.rule(s.x, s.y, s.x+s.w, fineRule)
	}
	if h == 0 {
		return
	}
	lh := lineHeight(s.small)
	for i, c := range t.cols {
		for j, l := range wrap(c.head, true, s.small, t.w[i]-2*cellPad) {
			t.put(i, s.y+t.pad+lh*(float64(j)+0.73), l, true, s.small)
		}
	}
	t.uprights(s.y, h)
	s.y += h
	s.rule(s.x, s.y, s.x+s.w, fineRule)
}

// hanging marks a line that goes on under an item's text, not under its dash.
const (
	dash    = "– "
	hanging = "\t"
)

func (t *table) put(i int, y float64, text string, bold bool, size float64) {
	if rest, ok := strings.CutPrefix(text, hanging); ok {
		t.s.text(t.x[i]+cellPad+textWidth(dash, bold, size), y, rest, bold, size)
		return
	}
	switch t.cols[i].align {
	case right:
		t.s.textRight(t.x[i]+t.w[i]-cellPad, y, text, bold, size)
	case middle:
		t.s.textMiddle(t.x[i]+t.w[i]/2, y, text, bold, size)
	default:
		t.s.text(t.x[i]+cellPad, y, text, bold, size)
	}
}

func (t *table) uprights(y, h float64) {
	if !t.grid {
		return
	}
	t.s.line(thinRule)
	for i := range t.x {
		t.s.pdf.Line(t.x[i], y, t.x[i], y+h)
	}
	t.s.pdf.Line(t.s.x+t.s.w, y, t.s.x+t.s.w, y+h)
}

func (t *table) lay(r row) []laidCell {
	out := make([]laidCell, len(t.cols))
	for i := range t.cols {
		if i >= len(r.cells) {
			break
		}
		c := r.cells[i]
		lines := wrapItems(c.text, c.bold || t.cols[i].bold, t.size, t.w[i]-2*cellPad)
		out[i].strong = len(lines)
		for _, d := range c.detail {
			lines = append(lines, wrap(d, false, t.s.small, t.w[i]-2*cellPad)...)
		}
		out[i].lines = lines
	}
	return out
}

// wrapItems wraps a text of which some lines are items with a dash.
func wrapItems(text string, bold bool, size, width float64) []string {
	if !strings.Contains(text, dash) {
		return wrap(text, bold, size, width)
	}
	var out []string
	for _, line := range strings.Split(text, "\n") {
		item, ok := strings.CutPrefix(line, dash)
		if !ok {
			out = append(out, wrap(line, bold, size, width)...)
			continue
		}
		for i, l := range wrap(item, bold, size, width-textWidth(dash, bold, size)) {
			if i == 0 {
				out = append(out, dash+l)
			} else {
				out = append(out, hanging+l)
			}
		}
	}
	return out
}

func (t *table) height(laid []laidCell, tall float64) float64 {
	h := lineHeight(t.size)
	for _, c := range laid {
		h = max(h, float64(c.strong)*lineHeight(t.size)+float64(len(c.lines)-c.strong)*lineHeight(t.s.small))
	}
	return max(h+2*t.pad, tall)
}

// row draws one row, on a new page when it does not fit whole.
func (t *table) row(r row) {
	laid := t.lay(r)
	h := t.height(laid, r.tall)
	headH := t.headHeight()
	if !t.headed {
		t.s.need(headH + min(h, 60))
	}
	pageRoom := contentBottom - laterTop - 12 - headH
	if h > pageRoom {
		t.longRow(r, laid, pageRoom)
		return
	}
	if t.s.y+h > contentBottom {
		t.s.addPage()
		t.headed = false
	}
	if !t.headed {
		t.drawHead()
	}
	t.draw(r, laid, h)
}

// longRow deals with a row that no page can hold: as many lines as fit, then on.
func (t *table) longRow(r row, laid []laidCell, pageRoom float64) {
	per := int((pageRoom - 2*t.pad) / lineHeight(t.size))
	for {
		piece, rest, more := splitLaid(laid, per)
		if t.s.y+t.height(piece, 0) > contentBottom {
			t.s.addPage()
			t.headed = false
		}
		if !t.headed {
			t.drawHead()
		}
		t.draw(r, piece, t.height(piece, 0))
		if !more {
			return
		}
		laid = rest
	}
}

func splitLaid(laid []laidCell, per int) ([]laidCell, []laidCell, bool) {
	head, rest := make([]laidCell, len(laid)), make([]laidCell, len(laid))
	more := false
	for i, c := range laid {
		n := min(per, len(c.lines))
		head[i] = laidCell{lines: c.lines[:n], strong: min(c.strong, n)}
		rest[i] = laidCell{lines: c.lines[n:], strong: max(c.strong-n, 0)}
		more = more || len(rest[i].lines) > 0
	}
	return head, rest, more
}

func (t *table) draw(r row, laid []laidCell, h float64) {
	s := t.s
	for i, c := range laid {
		y := s.y + t.pad
		if len(c.lines) == 1 && r.tall > 0 && c.strong == 1 {
			y = max(y, s.y+(min(h, r.tall)-lineHeight(t.size))/2) // on the writing line of the row
		}
		for j, l := range c.lines {
			size, bold := t.size, t.cols[i].bold || r.cells[i].bold
			if j >= c.strong {
				size, bold = s.small, false
			}
			t.put(i, y+lineHeight(size)*0.73, l, bold, size)
			y += lineHeight(size)
		}
		if i < len(r.cells) && r.cells[i].tick {
			const side = 4.2
			s.line(fineRule)
			s.pdf.Rect(t.x[i]+(t.w[i]-side)/2, s.y+(h-side)/2, side, side, "D")
		}
	}
	t.uprights(s.y, h)
	s.y += h
	s.rule(s.x, s.y, s.x+s.w, thinRule)
}

// totals writes the sums under a price table, amounts in its last column.
func (s *sheet) totals(list []Total) {
	h := lineHeight(s.body) + 1
	s.need(float64(len(list)) * h)
	for _, t := range list {
		amount := clean(t.Amount)
		edge := s.x + s.w - cellPad
		labelW := s.w - textWidth(amount, t.Strong, s.body) - 6
		if t.Strong {
			s.rule(s.x+s.w*0.5, s.y+0.3, s.x+s.w, fineRule)
		}
		lines := wrap(t.Label, t.Strong, s.body, labelW)
		s.need(float64(max(len(lines), 1)) * h)
		for i, l := range lines {
			end := edge - max(textWidth(amount, t.Strong, s.body)+6, 34)
			s.textRight(max(end, s.x+textWidth(l, t.Strong, s.body)), s.y+h*0.78, l, t.Strong, s.body)
			if i < len(lines)-1 {
				s.y += h
			}
		}
		s.textRight(edge, s.y+h*0.78, amount, t.Strong, s.body)
		s.y += h
	}
	s.gap(2)
}
