package paper

import (
	"fmt"
	"math"
	"strconv"
)

// SawingDoc is the card for the mill: the small end of a log with the boards in
// it, and the saw heights in the order of cutting, in large type.
type SawingDoc struct {
	Head
	Log         string // number of the log
	Species     string
	SmallEndMM  float64 // diameter under bark
	LargeEndMM  float64
	LengthMM    float64
	KerfMM      float64
	HeartBoxMM  float64
	Boards      []SawnBoard
	SawHeights  []SawHeight
	PithAboveMM float64 // height of the pith above the mill's bed; 0: not known
	Recovery    string  // "46 %"
	Note        string
}

// SawnBoard is a board as it lies in the log: lower left corner from the pith.
type SawnBoard struct {
	Name                 string
	X, Y                 float64 // mm
	WidthMM, ThicknessMM float64 // along x, along y
	LengthMM             float64
	FromButtMM           float64 // more than 0: it stands behind another board
}

// SawHeight is one cut: its height from the pith in mm, below it negative.
type SawHeight struct {
	FromPithMM float64
	Note       string
}

// Sawing draws a sawing card.
func Sawing(d SawingDoc) ([]byte, error) {
	s := newSheet(d.Head, "Sawing card")
	s.body, s.small = 12.5, 10
	s.pairs([]pair{{"Log", d.Log}, {"Species", d.Species},
		{"Ends under bark", fmt.Sprintf("%s mm small, %s mm large, %s mm long", mm(d.SmallEndMM), mm(d.LargeEndMM), mm(d.LengthMM))},
		{"Saw cut", mm(d.KerfMM) + " mm"}, {"Expected recovery", d.Recovery}, {"Note", d.Note}})
	s.gap(2)
	s.logEnd(d)
	s.sawHeights(d)
	s.sawnList(d.Boards)
	s.body = 11
	blocks, err := d.words().blocks("sawing_cautions.tmpl", d)
	if err != nil {
		return nil, err
	}
	s.gap(2)
	s.write(blocks)
	return s.finish()
}

// The largest and the smallest drawing of a log's end, in mm.
const logEndLarge, logEndSmall = 112.0, 50.0

// logEnd draws the small end with the boards; the large end as a thin circle.
func (s *sheet) logEnd(d SawingDoc) {
	across := max(d.SmallEndMM, d.LargeEndMM)
	if !(across > 0) || math.IsInf(across, 0) {
		return
	}
	n := scaleFor(across, across, logEndLarge, logEndLarge)
	// A smaller drawing where it keeps all the saw heights on the first page.
	if left := s.room() - 30 - 10.0*float64(len(d.SawHeights)+1); left >= logEndSmall {
		n = scaleFor(across, across, min(left, logEndLarge), min(left, logEndLarge))
	}
	s.headingWith("The small end, scale 1 : "+mm(n), across/n+6)
	r := across / 2 / n
	cx, cy := s.x+s.w/2, s.y+r+2
	s.line(0.15)
	if d.LargeEndMM > d.SmallEndMM {
		s.pdf.SetDashPattern([]float64{1.5, 1.2}, 0)
		s.pdf.Circle(cx, cy, d.LargeEndMM/2/n, "D")
		s.pdf.SetDashPattern([]float64{}, 0)
	}
	s.line(0.5)
	s.pdf.Circle(cx, cy, d.SmallEndMM/2/n, "D")
	s.line(0.35)
	behind := false
	for _, b := range d.Boards {
		x, y := cx+b.X/n, cy-(b.Y+b.ThicknessMM)/n
		w, h := b.WidthMM/n, b.ThicknessMM/n
		if b.FromButtMM > 0 {
			behind = true
			s.pdf.SetDashPattern([]float64{0.8, 0.8}, 0)
			s.pdf.Rect(x, y, w, h, "D")
			s.pdf.SetDashPattern([]float64{}, 0)
			continue
		}
		s.pdf.Rect(x, y, w, h, "D")
		s.boardName(b, x, y, w, h)
	}
	if d.HeartBoxMM > 0 {
		side := d.HeartBoxMM / n
		s.pdf.SetDashPattern([]float64{0.8, 0.8}, 0)
		s.pdf.Rect(cx-side/2, cy-side/2, side, side, "D")
		s.pdf.SetDashPattern([]float64{}, 0)
	}
	s.line(0.3)
	s.pdf.Line(cx-1.5, cy, cx+1.5, cy)
	s.pdf.Line(cx, cy-1.5, cx, cy+1.5)
	s.y = cy + r + 5
	note := "The cross is the pith."
	if d.LargeEndMM > d.SmallEndMM {
		note += " The broken circle is the large end."
	}
	if behind {
		note += " A broken outline is a board that stands behind the one it lies in."
	}
	if d.HeartBoxMM > 0 {
		note += " No board enters the broken square at the heart."
	}
	s.paraWith(note, false, s.small, 0)
}

// boardName writes a board's name in it where it fits, with its size when there is room.
func (s *sheet) boardName(b SawnBoard, x, y, w, h float64) {
	full := clean(b.Name + "  " + mm(b.WidthMM) + " × " + mm(b.ThicknessMM))
	for _, text := range []string{full, clean(b.Name)} {
		for size := 11.0; size >= 7; size-- {
			if textWidth(text, false, size) < w-1 && size*mmPerPt < h-0.4 {
				s.textMiddle(x+w/2, y+h/2+size*mmPerPt*0.36, text, false, size)
				return
			}
		}
	}
}

func (s *sheet) sawHeights(d SawingDoc) {
	if len(d.SawHeights) == 0 {
		return
	}
	body := s.body
	s.body = 16
	s.headingWith("Saw heights, in the order of cutting", 30)
	cols := []column{{head: "Cut", share: 1, align: right}, {head: "From the pith, mm", share: 2.4, align: right, bold: true}}
	if d.PithAboveMM > 0 {
		cols = append(cols, column{head: "Above the bed, mm", share: 2.4, align: right, bold: true})
	}
	cols = append(cols, column{head: "", share: 4}, column{head: "Done", share: 1, align: middle})
	rows := make([]row, 0, len(d.SawHeights))
	for i, h := range d.SawHeights {
		r := row{cells: []cell{{text: strconv.Itoa(i + 1)}, {text: signed(h.FromPithMM)}}}
		if d.PithAboveMM > 0 {
			r.cells = append(r.cells, cell{text: mm(d.PithAboveMM + h.FromPithMM)})
		}
		r.cells = append(r.cells, cell{text: h.Note}, cell{tick: true})
		rows = append(rows, r)
	}
	s.table(cols, rows, true)
	s.body = body
}

func signed(v float64) string {
	if v > 0 {
		return "+" + mm(v)
	}
	if v < 0 {
		return "−" + mm(-v)
	}
	return "0"
}

// sawnList counts like boards, in the order they first appear.
func (s *sheet) sawnList(boards []SawnBoard) {
	type key struct {
		name    string
		w, t, l float64
	}
	count, order := map[key]int{}, []key{}
	for _, b := range boards {
		k := key{b.Name, max(b.WidthMM, b.ThicknessMM), min(b.WidthMM, b.ThicknessMM), b.LengthMM}
		if count[k] == 0 {
			order = append(order, k)
		}
		count[k]++
	}
	if len(order) == 0 {
		return
	}
	s.headingWith("Boards", 20)
	rows := make([]row, 0, len(order))
	for _, k := range order {
		rows = append(rows, texts(k.name, mm(k.w)+" × "+mm(k.t), mm(k.l), strconv.Itoa(count[k])))
	}
	s.table([]column{{head: "Board", share: 3}, {head: "Sawn, mm", share: 3, align: right},
		{head: "Length, mm", share: 2, align: right}, {head: "Count", share: 1.2, align: right, bold: true}}, rows, false)
}
