package paper

import (
	"fmt"
	"math"
	"strconv"
)

// BoxDrawing is a box to be drawn to scale: from the front and from above.
// Sizes are outside sizes in mm. Sections stand from the bottom upwards.
type BoxDrawing struct {
	LengthMM   float64 // front to back
	WidthMM    float64 // across the front
	WallMM     float64
	Sections   []DrawnSection
	EntranceMM float64 // hole diameter; 0: not drawn
	EntranceIn int     // index of the section with the hole
	EaveMM     float64 // how far the roof stands out on each side
	Note       string
}

// DrawnSection is one section of the drawing.
type DrawnSection struct {
	Name     string
	HeightMM float64
}

// HeightMM is the height of all sections together.
func (b BoxDrawing) HeightMM() float64 {
	h := 0.0
	for _, s := range b.Sections {
		h += s.HeightMM
	}
	return h
}

func (b BoxDrawing) drawable() bool {
	for _, v := range []float64{b.LengthMM, b.WidthMM, b.HeightMM()} {
		if !(v > 0) || math.IsInf(v, 0) || v > 1e5 {
			return false
		}
	}
	return true
}

// scales that a rule reads easily: 1 to so much.
var scales = []float64{1, 2, 2.5, 4, 5, 7.5, 10, 15, 20, 25, 40, 50, 75, 100, 200, 500, 1000}

// scaleFor picks the largest scale at which w x h mm fit into the room.
func scaleFor(w, h, roomW, roomH float64) float64 {
	for _, n := range scales {
		if w/n <= roomW && h/n <= roomH {
			return n
		}
	}
	return max(w/roomW, h/roomH)
}

// mm writes a size without needless zeros.
func mm(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// Room around the two views, in mm: size lines, section names, gaps.
const (
	viewSide   = 14.0 // left of each view, for the upright size
	viewNames  = 47.0 // right of the front, for the names of the sections
	viewAround = 25.0 // heading, captions and sizes above and below
	viewTall   = 62.0 // tallest drawing
	viewLow    = 36.0 // lowest drawing that still reads well
)

// boxDrawing draws the box as large as a common scale and the rest of the page
// allow; it goes to the next page when too little is left.
func (s *sheet) boxDrawing(b BoxDrawing) {
	if !b.drawable() {
		return
	}
	roomH := viewTall
	note := float64(len(wrap(b.Note, false, s.small, s.w))) * lineHeight(s.small)
	if left := s.room() - viewAround - note; left >= viewLow {
		roomH = min(viewTall, left)
	}
	wide := b.WidthMM + 2*b.EaveMM
	n := scaleFor(wide+b.WidthMM, max(b.HeightMM(), b.LengthMM), s.w-2*viewSide-viewNames, roomH)
	tall := max(b.HeightMM(), b.LengthMM) / n
	s.headingWith("The box, outside sizes in mm", tall+viewAround-9+note)
	top := s.y + 6
	s.text(s.x, s.y+3.4, fmt.Sprintf("from the front, scale 1 : %s", mm(n)), false, s.small)
	s.front(b, s.x+viewSide+b.EaveMM/n, top+tall, n)
	planX := s.x + viewSide + wide/n + viewNames + viewSide
	s.text(planX, s.y+3.4, clip("from above, roof off", false, s.small, s.x+s.w-planX), false, s.small)
	s.plan(b, planX, top, n)
	s.y = top + tall + 8
	if b.Note != "" {
		s.paraWith(b.Note, false, s.small, 0)
	}
	s.gap(1)
}

// front draws the sections as seen from the front; base is the y of the bottom.
func (s *sheet) front(b BoxDrawing, x, base, n float64) {
	w := b.WidthMM / n
	y := base
	labelX := x + w + b.EaveMM/n + 4
	for i, sec := range b.Sections {
		h := sec.HeightMM / n
		s.line(0.35)
		if i == len(b.Sections)-1 && b.EaveMM > 0 {
			s.pdf.Rect(x-b.EaveMM/n, y-h, w+2*b.EaveMM/n, h, "D")
		} else {
			s.pdf.Rect(x, y-h, w, h, "D")
		}
		if i == b.EntranceIn && b.EntranceMM > 0 {
			s.pdf.Circle(x+w/2, y-min(h/2, max(b.EntranceMM, 20)/n), b.EntranceMM/2/n, "D")
		}
		label := clip(sec.Name+", "+mm(sec.HeightMM)+" high", false, s.small, viewNames-6)
		at := y - h/2 + 1
		s.line(thinRule)
		s.pdf.Line(x+w+b.EaveMM/n+0.8, y-h/2, labelX-0.6, y-h/2)
		s.text(labelX, at, label, false, s.small)
		y -= h
	}
	s.sizeAcross(x, base+2.5, w, mm(b.WidthMM))
	s.sizeUp(x-b.EaveMM/n-3.5, y, base, mm(b.HeightMM()))
}

// plan draws the walls from above.
func (s *sheet) plan(b BoxDrawing, x, top, n float64) {
	w, l, t := b.WidthMM/n, b.LengthMM/n, b.WallMM/n
	s.line(0.35)
	s.pdf.Rect(x, top, w, l, "D")
	if b.WallMM > 0 && 2*b.WallMM < min(b.WidthMM, b.LengthMM) {
		s.pdf.Rect(x+t, top+t, w-2*t, l-2*t, "D")
		if size := s.small; textWidth("wall "+mm(b.WallMM), false, size) < w-2*t-1 {
			s.textMiddle(x+w/2, top+l/2+1, "wall "+mm(b.WallMM), false, size)
		}
	}
	s.sizeAcross(x, top+l+2.5, w, mm(b.WidthMM))
	s.sizeUp(x-3.5, top, top+l, mm(b.LengthMM))
}

// sizeAcross draws a dimension line with its number below.
func (s *sheet) sizeAcross(x, y, w float64, text string) {
	s.line(thinRule)
	s.pdf.Line(x, y, x+w, y)
	s.pdf.Line(x, y-1, x, y+1)
	s.pdf.Line(x+w, y-1, x+w, y+1)
	s.textMiddle(x+w/2, y+3.6, text, false, s.small)
}

// sizeUp draws an upright dimension line with its number to the left.
func (s *sheet) sizeUp(x, y1, y2 float64, text string) {
	s.line(thinRule)
	s.pdf.Line(x, y1, x, y2)
	s.pdf.Line(x-1, y1, x+1, y1)
	s.pdf.Line(x-1, y2, x+1, y2)
	s.textRight(x-1.4, (y1+y2)/2+1, text, false, s.small)
}
