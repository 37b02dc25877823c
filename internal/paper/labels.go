package paper

import (
	"errors"
	"fmt"
)

// LabelSheet is the sheet of labels in the printer. All sizes in mm.
type LabelSheet struct {
	PageWidthMM, PageHeightMM   float64
	Columns, Rows               int
	LeftMM, TopMM               float64 // to the first label
	LabelWidthMM, LabelHeightMM float64
	StepXMM, StepYMM            float64 // from one label's edge to the next's; 0: label by label
	Used                        int     // labels already gone from the first sheet
	Outline                     bool    // print the edges, for plain paper to be cut
}

// A4Labels is a common A4 sheet of 2 x 7 labels, 99.1 x 38.1 mm (common
// practice, no source; measure your own sheet).
func A4Labels() LabelSheet {
	return LabelSheet{PageWidthMM: 210, PageHeightMM: 297, Columns: 2, Rows: 7, LeftMM: 4.65, TopMM: 15.15,
		LabelWidthMM: 99.1, LabelHeightMM: 38.1, StepXMM: 101.6, StepYMM: 38.1}
}

// ErrLabelSheet wraps what is wrong with the settings of a label sheet.
var ErrLabelSheet = errors.New("label sheet")

// Check says what to change when labels would not lie on the page.
func (l LabelSheet) Check() error {
	stepX, stepY := l.steps()
	bad := func(text string, args ...any) error {
		return fmt.Errorf("%w: %s", ErrLabelSheet, fmt.Sprintf(text, args...))
	}
	switch {
	case l.Columns < 1 || l.Columns > 20 || l.Rows < 1 || l.Rows > 50:
		return bad("columns must be 1 to 20 and rows 1 to 50, not %d and %d", l.Columns, l.Rows)
	case !(l.LabelWidthMM >= 20) || !(l.LabelHeightMM >= 12):
		return bad("a label must be at least 20 × 12 mm")
	case !(l.PageWidthMM > 0 && l.PageWidthMM <= 2000) || !(l.PageHeightMM > 0 && l.PageHeightMM <= 2000):
		return bad("the page must be up to 2000 mm wide and high")
	case !(l.LeftMM >= 0) || !(l.TopMM >= 0):
		return bad("left and top must not be negative")
	case !(stepX >= l.LabelWidthMM) || !(stepY >= l.LabelHeightMM):
		return bad("the step from label to label must not be smaller than the label")
	case l.LeftMM+stepX*float64(l.Columns-1)+l.LabelWidthMM > l.PageWidthMM+0.05:
		return bad("%d columns do not fit across %s mm", l.Columns, mm(l.PageWidthMM))
	case l.TopMM+stepY*float64(l.Rows-1)+l.LabelHeightMM > l.PageHeightMM+0.05:
		return bad("%d rows do not fit on %s mm", l.Rows, mm(l.PageHeightMM))
	case l.Used < 0 || l.Used >= l.Columns*l.Rows:
		return bad("used labels must be 0 to %d", l.Columns*l.Rows-1)
	}
	return nil
}

func (l LabelSheet) steps() (float64, float64) {
	x, y := l.StepXMM, l.StepYMM
	if x == 0 {
		x = l.LabelWidthMM
	}
	if y == 0 {
		y = l.LabelHeightMM
	}
	return x, y
}

// BoxLabelsDoc prints a label for each box.
type BoxLabelsDoc struct {
	Head
	Sheet  LabelSheet
	Labels []BoxLabel
}

// BoxLabel is what stands on a box for life. Link is the public address with
// this box's own key; empty: no code.
type BoxLabel struct {
	Serial  string
	Model   string
	Timber  string
	Species string // of the colony, empty for an empty box
	Made    string
	Link    string
}

// PartLabelsDoc prints a label for each heap of parts.
type PartLabelsDoc struct {
	Head
	Sheet  LabelSheet
	Labels []PartLabel
}

// PartLabel names a heap of parts on the bench.
type PartLabel struct {
	Part  string
	Size  string // "330 × 190 × 25 mm"
	Count string // "8 pieces"
	Build string
	Model string
	Note  string
}

// BoxLabels draws the box labels of a build or of single boxes.
func BoxLabels(d BoxLabelsDoc) ([]byte, error) {
	return labels(d.Head, "Box labels", d.Sheet, len(d.Labels), func(s *sheet, i int, x, y, w, h float64) {
		l := d.Labels[i]
		side := 0.0
		who := some(join(" · ", d.Workshop.Name, d.Workshop.Phone))
		if l.Link != "" {
			who = some(d.Workshop.Name, d.Workshop.Phone)
			side = min(h, w*0.34)
			s.qr(x+w-side, y+(h-side)/2, side, l.Link)
			side += 3
		}
		s.labelLines(x, y, w-side, h, l.Serial, append(some(l.Model, join(" · ", l.Timber, l.Species), l.Made), who...))
	})
}

// PartLabels draws the labels for heaps of parts.
func PartLabels(d PartLabelsDoc) ([]byte, error) {
	return labels(d.Head, "Part labels", d.Sheet, len(d.Labels), func(s *sheet, i int, x, y, w, h float64) {
		l := d.Labels[i]
		s.labelLines(x, y, w, h, l.Part, some(join(" · ", l.Size, l.Count), join(" · ", l.Build, l.Model), l.Note))
	})
}

// labels lays labels out row by row and calls draw with the room inside each.
func labels(head Head, title string, l LabelSheet, n int, draw func(s *sheet, i int, x, y, w, h float64)) ([]byte, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	const pad = 3.0
	s := bareSheet(head, title, l.PageWidthMM, l.PageHeightMM)
	stepX, stepY := l.steps()
	per := l.Columns * l.Rows
	s.addPage()
	for i := range n {
		at := i + l.Used
		if at%per == 0 && i > 0 {
			s.addPage()
		}
		col, line := at%per%l.Columns, at%per/l.Columns
		x, y := l.LeftMM+float64(col)*stepX, l.TopMM+float64(line)*stepY
		if l.Outline {
			s.line(0.1)
			s.pdf.Rect(x, y, l.LabelWidthMM, l.LabelHeightMM, "D")
		}
		draw(s, i, x+pad, y+pad*0.8, l.LabelWidthMM-2*pad, l.LabelHeightMM-1.6*pad)
	}
	return s.finish()
}

// labelLines sets a large first line and smaller ones, as large as the room allows;
// what does not fit at the smallest size ends with a "…".
func (s *sheet) labelLines(x, y, w, h float64, head string, rest []string) {
	const smallest, tight = 6.5, 0.88
	headSize, size := min(22.0, h*0.42/mmPerPt), 11.0
	for headSize > 9 && textWidth(clean(head), true, headSize) > w {
		headSize -= 0.5
	}
	y += headSize * mmPerPt * 0.86
	s.text(x, y, clip(head, true, headSize, w), true, headSize)
	y += headSize * mmPerPt * 0.25
	room := h - headSize*mmPerPt*1.11
	lines := wrapAll(rest, size, w)
	for size > smallest && float64(len(lines))*lineHeight(size)*tight > room {
		size -= 0.5
		lines = wrapAll(rest, size, w)
	}
	fits := min(len(lines), max(int(room/(lineHeight(size)*tight)), 0))
	for i, l := range lines[:fits] {
		if i == fits-1 && fits < len(lines) {
			l = clip(l+" "+lines[fits]+" …", false, size, w)
		}
		y += lineHeight(size) * tight
		s.text(x, y, l, false, size)
	}
}

func wrapAll(list []string, size, w float64) []string {
	var out []string
	for _, l := range list {
		out = append(out, wrap(l, false, size, w)...)
	}
	return out
}
