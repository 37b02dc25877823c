package paper

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
)

// SawingDoc is the card for the mill: the small end of a log with the boards in
// it, and the saw heights in the order of cutting, in large type, with what lies
// in the row below each.
type SawingDoc struct {
	Head
	Log         string // number of the log
	Species     string
	SmallEndMM  float64 // diameter under bark
	LargeEndMM  float64
	LengthMM    float64
	SweepMM     float64
	KerfMM      float64
	HeartBoxMM  float64
	Boards      []SawnBoard
	SawHeights  []SawHeight
	PithAboveMM float64 // height of the pith above the mill's bed; 0: not known
	Recovery    string  // "46 %"
	From        string
	Felled      string
	MillBy      string
	Warnings    []string // of this log, in bold
	Note        string
}

// SawnBoard is a board as it lies in the log: lower left corner from the pith.
type SawnBoard struct {
	Key                  string  // letter of its size
	Name                 string  // what it dresses to
	X, Y                 float64 // mm
	WidthMM, ThicknessMM float64 // along x, along y
	LengthMM             float64
	FromButtMM           float64 // 0: starts at the large end
}

// SawHeight is one cut: its height from the pith in mm, below it negative.
type SawHeight struct {
	FromPithMM float64
	Note       string
}

// besideSize is the size of type of what stands beside the drawing, in points.
const besideSize = 11.0

// cardFit is one way to set the card: the heights are read from a step away.
type cardFit struct {
	heightPt float64 // of the heights
	logEndMM float64 // largest drawing
}

// cardFits from the largest; the last is for cards that need a second page anyway.
var cardFits = []cardFit{{17, 94}, {15, 84}, {14, 72}, {16, 94}}

// cardFit chooses the largest with which the card has one page.
func (s *sheet) cardFit(d SawingDoc) cardFit {
	const cautions, heads = 34.0, 36.0 // mm below and above the heights
	n, told := float64(len(d.SawHeights)), 0.0
	for _, h := range d.SawHeights {
		if h.Note != "" || len(rowBelow(d, h.FromPithMM).detail) > 0 {
			told++
		}
	}
	for _, f := range cardFits {
		if f.logEndMM+heads+n*(lineHeight(f.heightPt)+2.4)+told*lineHeight(besideSize-1)+cautions < s.room() {
			return f
		}
	}
	return cardFits[len(cardFits)-1]
}

// Sawing draws a sawing card.
func Sawing(d SawingDoc) ([]byte, error) {
	s := newSheet(d.Head, "Sawing card")
	s.body, s.small = besideSize, 9.5
	fit := s.cardFit(d)
	s.beside(d, fit)
	s.sawHeights(d, fit)
	s.body, s.small = 9, 9
	blocks, err := d.words().blocks("sawing_cautions.tmpl", d)
	if err != nil {
		return nil, err
	}
	s.gap(1)
	s.write(blocks)
	return s.finish()
}

// beside sets the drawing and, on its right, what is to be known of the log.
func (s *sheet) beside(d SawingDoc, fit cardFit) {
	page, top, x, w := s.pdf.PageNo(), s.y, s.x, s.w
	bottom, across := s.logEnd(d, fit.logEndMM)
	if across > 0 {
		s.x, s.w, s.y = x+across+besideGap, w-across-besideGap, top+2
	}
	for _, warn := range d.Warnings {
		s.paraWith(warn, true, s.body+1, 0)
	}
	list := []pair{{"Log", strings.TrimSuffix(d.Log+", "+d.Species, ", ")}, {"Ends", fmt.Sprintf("%s mm small, %s mm large", mm(d.SmallEndMM), mm(d.LargeEndMM))}, {"Length", mm(d.LengthMM) + " mm, saw cut " + mm(d.KerfMM) + " mm"}}
	if d.SweepMM > 0 {
		list = append(list, pair{"Sweep", mm(d.SweepMM) + " mm: turn it up or down"})
	}
	s.pairs(append(list, pair{"Gives", d.Recovery}, pair{"From", d.From}, pair{"Felled", d.Felled}, pair{"Mill by", d.MillBy}, pair{"Note", d.Note}))
	s.gap(1)
	s.sawnList(d.Boards)
	if s.pdf.PageNo() == page {
		s.y = max(s.y, bottom)
	}
	s.x, s.w = x, w
}

// besideGap in mm parts the drawing from what stands beside it.
const besideGap = 6.0

// logEnd draws the small end with the boards; the large end as a thin circle. It gives
// where the drawing ends, and how wide it is: 0 when nothing could be drawn.
func (s *sheet) logEnd(d SawingDoc, most float64) (bottom, wide float64) {
	across := max(d.SmallEndMM, d.LargeEndMM)
	if !(across > 0) || math.IsInf(across, 0) {
		return s.y, 0
	}
	n := math.Ceil(across/most*2) / 2
	wide = min(across/n, most)
	r := across / 2 / n
	cx, cy := s.x+wide/2, s.y+r+2
	s.line(0.15)
	if d.LargeEndMM > d.SmallEndMM {
		s.pdf.SetDashPattern([]float64{1.5, 1.2}, 0)
		s.pdf.Circle(cx, cy, d.LargeEndMM/2/n, "D")
		s.pdf.SetDashPattern([]float64{}, 0)
	}
	s.line(0.5)
	s.pdf.Circle(cx, cy, d.SmallEndMM/2/n, "D")
	s.line(0.35)
	for _, b := range d.Boards {
		x, y := cx+b.X/n, cy-(b.Y+b.ThicknessMM)/n
		w, h := b.WidthMM/n, b.ThicknessMM/n
		if b.FromButtMM > 0 { // it lies behind another
			s.pdf.SetDashPattern([]float64{1, 0.8}, 0)
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
	s.y = cy + r + 1
	note := "Small end, 1 : " + mm(n) + ". Cross: pith."
	if d.LargeEndMM > d.SmallEndMM {
		note += " Broken circle: large end."
	}
	if d.HeartBoxMM > 0 {
		note += " Broken square: no board enters."
	}
	if behind(d.Boards) {
		note += " Broken board: behind another, towards the small end."
	}
	for _, l := range wrap(note, false, s.small, wide) {
		s.y += lineHeight(s.small)
		s.text(s.x, s.y-1, l, false, s.small)
	}
	return s.y + 1, wide
}

func behind(boards []SawnBoard) bool {
	for _, b := range boards {
		if b.FromButtMM > 0 {
			return true
		}
	}
	return false
}

// key is how a board is named in the drawing.
func (b SawnBoard) key() string {
	if b.Key != "" {
		return b.Key
	}
	return b.Name
}

// boardName writes a board's name in it where it fits, with its sawn width when there is
// room.
func (s *sheet) boardName(b SawnBoard, x, y, w, h float64) {
	full := clean(b.key() + "  " + mm(b.WidthMM) + " × " + mm(b.ThicknessMM))
	for _, text := range []string{full, clean(b.key() + " " + mm(b.WidthMM)), clean(b.key())} {
		for size := 11.0; size >= 8; size-- {
			if textWidth(text, false, size) < w-1 && size*mmPerPt < h-0.4 {
				s.textMiddle(x+w/2, y+h/2+size*mmPerPt*0.36, text, false, size)
				return
			}
		}
	}
}

func (s *sheet) sawHeights(d SawingDoc, fit cardFit) {
	if len(d.SawHeights) == 0 {
		return
	}
	body, small := s.body, s.small
	s.headingWith("Saw heights, in the order of cutting", 30)
	s.body, s.small = fit.heightPt, besideSize-1
	cols := []column{{head: "Cut", share: 0.9, align: right}}
	if d.PithAboveMM > 0 {
		cols = append(cols, column{head: "Above bed", share: 1.9, align: right, bold: true})
	}
	cols = append(cols, column{head: "From pith", share: 1.9, align: right, bold: d.PithAboveMM == 0}, column{head: "Then edge, from the left; lengths from the butt", share: 6}, column{head: "Done", share: 1, align: middle})
	rows := make([]row, 0, len(d.SawHeights))
	for i, h := range d.SawHeights {
		r := row{cells: []cell{{text: strconv.Itoa(i + 1)}}}
		if d.PithAboveMM > 0 {
			r.cells = append(r.cells, cell{text: mm(d.PithAboveMM + h.FromPithMM)})
		}
		below := rowBelow(d, h.FromPithMM)
		if h.Note != "" {
			if n := len(below.detail); n > 0 {
				below.detail[n-1] += "; " + h.Note
			} else {
				below.detail = []string{h.Note}
			}
		}
		r.cells = append(r.cells, cell{text: signed(h.FromPithMM)}, below, cell{tick: true})
		rows = append(rows, r)
	}
	s.table(cols, rows, true)
	s.body, s.small = body, small
	if d.PithAboveMM > 0 {
		s.paraWith("Heights are the blade's lower side in mm; above bed with the pith at "+mm(d.PithAboveMM)+" mm: measure yours, add what differs.", false, s.small, 0)
	}
}

// rowHairMM forgives rounding where the top of a row meets its cut.
const rowHairMM = 0.15

// rowBelow says what lies in the row whose top a cut at that height frees: the widths to
// edge from the left and, where not all boards are as long as the log, how long they are
// and what lies behind them.
func rowBelow(d SawingDoc, height float64) cell {
	var list []SawnBoard
	for _, b := range d.Boards {
		if math.Abs(b.Y+b.ThicknessMM-height) < rowHairMM {
			list = append(list, b)
		}
	}
	if len(list) == 0 {
		return cell{}
	}
	sort.SliceStable(list, func(i, j int) bool {
		if list[i].X != list[j].X {
			return list[i].X < list[j].X
		}
		return list[i].FromButtMM < list[j].FromButtMM
	})
	var widths, lanes []string
	full := true
	for _, b := range list {
		full = full && b.LengthMM > d.LengthMM-1
		if b.FromButtMM == 0 {
			widths = append(widths, strings.TrimSpace(b.Key+" "+mm(b.WidthMM)))
			lanes = append(lanes, lane(b, list))
		}
	}
	out := cell{text: counted(widths)}
	if !full { // else the list above says all of them
		out.detail = []string{counted(lanes)}
	}
	return out
}

// lane says how a board and those behind it lie, from the butt: lengths in whole mm, "&"
// where two lie side by side.
func lane(front SawnBoard, row []SawnBoard) string {
	named := func(b SawnBoard) string { return strings.TrimSpace(b.Key + " " + mm(math.Floor(b.LengthMM))) }
	text, from := named(front), 0.0
	var rest []SawnBoard
	for _, b := range row {
		if at := b.X + b.WidthMM/2; b.FromButtMM > 0 && at > front.X && at < front.X+front.WidthMM {
			rest = append(rest, b)
		}
	}
	sort.SliceStable(rest, func(i, j int) bool { return rest[i].FromButtMM < rest[j].FromButtMM })
	for _, b := range rest {
		sign := " + "
		if b.FromButtMM == from {
			sign = " & "
		}
		text, from = text+sign+named(b), b.FromButtMM
	}
	return text
}

// counted joins texts, equal neighbours as 3 × A 110.
func counted(list []string) string {
	var out []string
	for i := 0; i < len(list); {
		n := 1
		for i+n < len(list) && list[i+n] == list[i] {
			n++
		}
		if n > 1 {
			out = append(out, strconv.Itoa(n)+" × "+list[i])
		} else {
			out = append(out, list[i])
		}
		i += n
	}
	return strings.Join(out, " | ")
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

// sawnList counts the boards of each size, in the order they first appear: as sawn, and
// what they dress to.
func (s *sheet) sawnList(boards []SawnBoard) {
	type key struct {
		key, name string
		w, t      float64
	}
	type sum struct {
		count int
		mm    float64
	}
	sums, order := map[key]sum{}, []key{}
	for _, b := range boards {
		k := key{b.Key, b.Name, max(b.WidthMM, b.ThicknessMM), min(b.WidthMM, b.ThicknessMM)}
		if sums[k].count == 0 {
			order = append(order, k)
		}
		sums[k] = sum{sums[k].count + 1, sums[k].mm + b.LengthMM}
	}
	if len(order) == 0 {
		return
	}
	rows := make([]row, 0, len(order))
	for _, k := range order {
		rows = append(rows, texts(k.key, mm(k.w)+" × "+mm(k.t), strings.TrimSuffix(k.name, " mm"), strconv.Itoa(sums[k].count), fmt.Sprintf("%.1f m", sums[k].mm/1000)))
	}
	s.table([]column{{head: "", share: 0.7, bold: true}, {head: "Saw", share: 2.6, align: right, bold: true}, {head: "to dress to", share: 2.8, align: right},
		{head: "", share: 1, align: right, bold: true}, {head: "", share: 1.8, align: right}}, rows, false)
}
