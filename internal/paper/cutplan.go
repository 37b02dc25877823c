package paper

import (
	"fmt"
	"strconv"
	"strings"
)

// cuttingPlan draws every board to one scale: pieces in the order of cutting,
// with names and lengths, and the offcut.
func (s *sheet) cuttingPlan(d JobCardDoc) {
	if len(d.Boards)+len(d.Unplaced)+len(d.Elsewhere) == 0 {
		return
	}
	s.headingWith("Cutting plan", 34)
	longest := 0.0
	for _, b := range d.Boards {
		longest = max(longest, b.LengthMM)
	}
	intro := "Square the left end first, then cut from left to right in the order of the numbers."
	if d.KerfMM > 0 {
		intro += " Each cut takes " + mm(d.KerfMM) + " mm."
	}
	s.para(strings.TrimSpace(intro + " " + d.PlanNote))
	if d.AlreadyCut > 0 {
		s.para(fmt.Sprintf("Cut already and not drawn: %d.", d.AlreadyCut))
	}
	for _, e := range d.Elsewhere {
		s.para(e + ".")
	}
	for i, b := range d.Boards {
		if b.LengthMM > 0 {
			s.cutBoard(d, i, b, s.w/longest)
		}
	}
	if len(d.Unplaced) > 0 {
		s.caution([]string{"No board was found for: " + strings.Join(d.Unplaced, "; ") + "."})
	}
}

// piece is what is drawn of a board.
type piece struct {
	from, to float64 // mm on the board
	number   int     // in the order of cutting; 0: an offcut or waste
	name     string
	length   string
	waste    bool
}

func (b CutBoard) pieces(kerf float64) []piece {
	at := b.TrimMM
	var out []piece
	for i, c := range b.Cuts {
		if i > 0 {
			at += kerf
		}
		out = append(out, piece{from: at, to: at + c.LengthMM, number: i + 1, name: c.Part, length: mm(c.LengthMM)})
		at += c.LengthMM
	}
	if b.OffcutMM > 0 {
		name := "waste"
		if b.OffcutKept {
			name = strings.TrimSpace("keep " + b.OffcutName)
		}
		to := b.LengthMM - b.TrimMM
		out = append(out, piece{from: to - b.OffcutMM, to: to, name: name, length: mm(b.OffcutMM), waste: !b.OffcutKept})
	}
	return out
}

// cutBoard draws one board. Pieces too narrow for their words are told below.
func (s *sheet) cutBoard(d JobCardDoc, i int, b CutBoard, scale float64) {
	const h = 11.0
	pieces := b.pieces(d.KerfMM)
	note := wrap(strings.Join(s.told(pieces, scale), ";  "), false, s.small, s.w)
	lh := lineHeight(s.small)
	s.need(lh + h + 3.5 + float64(len(note))*lh)
	head := first(b.Name, "board "+strconv.Itoa(i+1))
	if b.Times > 1 {
		head = fmt.Sprintf("%d × %s", b.Times, head)
	}
	kind := ""
	if b.WasAnOffcut {
		kind = "an offcut"
	}
	more := strings.Join(some(prefixed("", b.BoardSize), mm(b.LengthMM)+" mm long", kind, b.Place, trimmed(b.TrimMM)), ", ")
	headW := textWidth(clean(head), true, s.small)
	headW = min(headW, s.w*0.4)
	s.text(s.x, s.y+lh*0.73, clip(head, true, s.small, headW), true, s.small)
	s.text(s.x+headW+2.5, s.y+lh*0.73, clip(more, false, s.small, s.w-headW-2.5), false, s.small)
	top := s.y + lh
	for _, p := range pieces {
		s.drawPiece(p, top, h, scale)
	}
	s.line(0.4)
	s.pdf.Rect(s.x, top, b.LengthMM*scale, h, "D")
	s.y = top + h + 0.8
	for _, l := range note {
		s.y += lh
		s.text(s.x, s.y-lh*0.27, l, false, s.small)
	}
	s.y += 2.7
}

func trimmed(v float64) string {
	if v <= 0 {
		return ""
	}
	return "trim " + mm(v) + " mm off each end"
}

// label is the piece's name with its number before it.
func (p piece) label() string {
	if p.number == 0 {
		return clean(p.name)
	}
	return clean(strconv.Itoa(p.number) + "  " + p.name)
}

func (s *sheet) fitsPiece(p piece, scale float64) bool {
	w := (p.to-p.from)*scale - 1.2
	return textWidth(p.label(), false, s.small) <= w && textWidth(p.length, true, s.small) <= w
}

// told lists in words the pieces that are drawn too narrow for theirs, like
// neighbours together: "1 to 8  side, 280 mm".
func (s *sheet) told(pieces []piece, scale float64) []string {
	var out []string
	for i := 0; i < len(pieces); {
		p := pieces[i]
		n := 1
		for i+n < len(pieces) && p.number > 0 && pieces[i+n].number > 0 && pieces[i+n].name == p.name && pieces[i+n].length == p.length {
			n++
		}
		i += n
		if s.fitsPiece(p, scale) {
			continue
		}
		switch {
		case p.number == 0:
			out = append(out, p.name+" "+p.length+" mm")
		case n == 1:
			out = append(out, fmt.Sprintf("%d  %s, %s mm", p.number, p.name, p.length))
		default:
			out = append(out, fmt.Sprintf("%d to %d  %s, each %s mm", p.number, p.number+n-1, p.name, p.length))
		}
	}
	return out
}

func (s *sheet) drawPiece(p piece, top, h, scale float64) {
	x, w := s.x+p.from*scale, (p.to-p.from)*scale
	if w <= 0 {
		return
	}
	s.line(0.25)
	s.pdf.Rect(x, top, w, h, "D")
	if p.waste {
		s.hatch(x, top, w, h)
	}
	fits, label := s.fitsPiece(p, scale), p.label()
	if !fits && p.number > 0 {
		label = strconv.Itoa(p.number)
	}
	lengthFits := textWidth(p.length, true, s.small) < w-0.8
	switch {
	case textWidth(label, false, s.small) >= w-0.6:
		return
	case fits, p.number > 0 && lengthFits:
		if p.waste {
			s.pdf.SetFillColor(255, 255, 255)
			tw := max(textWidth(label, false, s.small), textWidth(p.length, true, s.small)) + 1
			s.pdf.Rect(x+w/2-tw/2, top+1, tw, h-2, "F")
		}
		s.textMiddle(x+w/2, top+4.4, label, false, s.small)
		s.textMiddle(x+w/2, top+8.9, p.length, true, s.small)
	case p.number > 0:
		s.textMiddle(x+w/2, top+6.6, label, false, s.small)
	}
}

// hatch rules a field with slanting lines: this falls away.
func (s *sheet) hatch(x, y, w, h float64) {
	s.line(0.1)
	for d := 2.5; d < w+h; d += 2.5 {
		x1, y1 := x+d, y
		if d > w {
			x1, y1 = x+w, y+d-w
		}
		x2, y2 := x, y+d
		if d > h {
			x2, y2 = x+d-h, y+h
		}
		s.pdf.Line(x1, y1, x2, y2)
	}
}
