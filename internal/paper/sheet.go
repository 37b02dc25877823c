package paper

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"
)

// The page, in mm. A4 upright.
const (
	pageW, pageH   = 210.0, 297.0
	marginL        = 18.0
	marginR        = 18.0
	firstTop       = 14.0
	laterTop       = 13.0
	footBase       = 286.0 // baseline of the foot line
	contentBottom  = 279.0
	bodySize       = 10.5
	smallSize      = 9.0
	headingSize    = 12.5
	titleSize      = 19.0
	thinRule       = 0.15
	fineRule       = 0.25
	heavyRule      = 0.7
	contentW       = pageW - marginL - marginR
	fontFamily     = "go"
	paragraphSpace = 1.8
	bulletIndent   = 5.0
)

// sheet is a document under way: a cursor that moves down the page, the fonts
// and what stands at the head and foot of each page.
type sheet struct {
	pdf   *fpdf.Fpdf
	head  Head
	title string // "Quote", "Job card"
	y     float64
	x, w  float64 // the column in use
	bold  bool
	size  float64
	body  float64 // type size of running text
	small float64
	fine  float64 // type size of the heads and feet of the pages to come
	fines []float64
	pad   float64  // above and below the text of a table's row
	ruled float64  // y just below a heading's rule, where a table needs none
	notes []string // said at the foot of every page
	bare  bool     // no head or foot (label sheets)
}

// noDate stands in the file of a paper without an issue date.
var noDate = time.Date(2000, time.January, 1, 0, 0, 0, 0, time.UTC)

// newSheet starts a paper with its first page and the full heading.
func newSheet(head Head, title string) *sheet {
	s := bareSheet(head, title, pageW, pageH)
	s.bare = false
	s.addPage()
	return s
}

// sizedSheet starts a paper on which nothing is smaller than size.
func sizedSheet(head Head, title string, size float64) *sheet {
	s := bareSheet(head, title, pageW, pageH)
	s.bare = false
	s.body, s.small, s.fine = size, size, size
	s.addPage()
	return s
}

// bareSheet starts a paper of any size without page, head or foot.
func bareSheet(head Head, title string, w, h float64) *sheet {
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: w, Ht: h}})
	fonts := faces()
	pdf.AddUTF8FontFromBytes(fontFamily, "", fonts[0].ttf)
	pdf.AddUTF8FontFromBytes(fontFamily, "B", fonts[1].ttf)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	pdf.SetCatalogSort(true)
	made := head.Issued.UTC()
	if head.Issued.IsZero() {
		made = noDate // the library would take today's
	}
	pdf.SetCreationDate(made)
	pdf.SetModificationDate(made)
	pdf.SetTitle(clean(strings.TrimSpace(title+" "+head.Number)), true)
	pdf.SetAuthor(clean(head.Workshop.Name), true)
	pdf.SetProducer("kerfbook", true)
	return &sheet{pdf: pdf, head: head, title: title, x: marginL, w: contentW, body: bodySize, small: smallSize, fine: smallSize, pad: 1.1, bare: true}
}

// finish writes the running heads and feet, now that the number of pages is
// known, and gives the bytes.
func (s *sheet) finish() ([]byte, error) {
	if !s.bare {
		n := s.pdf.PageCount()
		for i := 1; i <= n; i++ {
			s.pdf.SetPage(i)
			s.runningHead(i)
			s.foot(i, n)
		}
	}
	var out bytes.Buffer
	if err := s.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("draw %s %s: %w", s.title, s.head.Number, err)
	}
	return out.Bytes(), nil
}

// addPage starts a page and puts the cursor under its head.
func (s *sheet) addPage() {
	s.pdf.AddPage()
	s.fines = append(s.fines, s.fine)
	s.ruled = 0
	s.size = 0 // a new page has no font yet
	s.line(fineRule)
	if s.bare {
		return
	}
	if s.pdf.PageCount() == 1 {
		s.y = s.firstHead()
		return
	}
	s.y = laterTop + 8.5
}

// firstHead draws the letterhead and gives the y below it.
func (s *sheet) firstHead() float64 {
	w := s.head.Workshop
	leftW, rightW := contentW*0.56, contentW*0.40
	y := firstTop + 6.5
	for _, l := range wrap(w.Name, true, 16, leftW) {
		s.text(marginL, y, l, true, 16)
		y += lineHeight(16)
	}
	y -= 1.2
	parts := some(append([]string{w.Owner}, w.Address...)...)
	parts = append(some(strings.Join(parts, " · ")), some(strings.Join(some(w.Phone, w.Email), " · "), w.BusinessNumber)...)
	for _, part := range parts {
		for _, l := range wrap(part, false, s.fine, leftW) {
			s.text(marginL, y, l, false, s.fine)
			y += lineHeight(s.fine)
		}
	}
	right := firstTop + 6.5
	size := titleSize
	for size > 12 && textWidth(clean(s.title), true, size) > rightW {
		size--
	}
	for _, l := range wrap(s.title, true, size, rightW) {
		s.textRight(pageW-marginR, right, l, true, size)
		right += lineHeight(size)
	}
	right -= 1
	if s.head.Number != "" {
		s.textRight(pageW-marginR, right, clip("No. "+s.head.Number, true, 12, rightW), true, 12)
		right += lineHeight(12)
	}
	if d := Day(s.head.Issued); d != "" {
		s.textRight(pageW-marginR, right, "Issued "+d, false, max(bodySize, s.fine))
		right += lineHeight(max(bodySize, s.fine))
	}
	y = max(y, right) - 1.5
	s.rule(marginL, y, pageW-marginR, heavyRule)
	s.rule(marginL, y+1.1, pageW-marginR, thinRule)
	return y + 7
}

// runningHead is the short head of the second page and those after it.
func (s *sheet) runningHead(page int) {
	if page == 1 {
		return
	}
	s.size, s.fine = 0, s.fines[page-1]
	y := laterTop + 3
	right := strings.TrimSpace(s.title+" "+s.head.Number) + " · issued " + Day(s.head.Issued)
	right = clip(right, false, s.fine, contentW*0.6)
	s.textRight(pageW-marginR, y, right, false, s.fine)
	s.text(marginL, y, clip(s.head.Workshop.Name, true, s.fine, contentW*0.37), true, s.fine)
	s.rule(marginL, y+1.8, pageW-marginR, fineRule)
}

// foot is the last line of every page.
func (s *sheet) foot(page, pages int) {
	s.size, s.fine = 0, s.fines[page-1]
	s.rule(marginL, footBase-4.2, pageW-marginR, thinRule)
	count := fmt.Sprintf("page %d of %d", page, pages)
	s.textRight(pageW-marginR, footBase, count, false, s.fine)
	w := s.head.Workshop
	left := strings.Join(some(append(s.notes, w.Name, w.Phone)...), " · ")
	s.text(marginL, footBase, clip(left, false, s.fine, contentW-textWidth(count, false, s.fine)-6), false, s.fine)
}

// need starts a new page unless h mm are left on this one.
func (s *sheet) need(h float64) {
	if s.y+h > contentBottom {
		s.addPage()
	}
}

// room is the height left on this page in mm.
func (s *sheet) room() float64 { return contentBottom - s.y }

func lineHeight(size float64) float64 { return size * mmPerPt * leading }

// text writes one line; y is the baseline.
func (s *sheet) text(x, y float64, str string, bold bool, size float64) {
	if str == "" {
		return
	}
	if s.size != size || s.bold != bold {
		style := ""
		if bold {
			style = "B"
		}
		s.pdf.SetFont(fontFamily, style, size)
		s.size, s.bold = size, bold
	}
	s.pdf.Text(x, y, str)
}

func (s *sheet) textRight(x, y float64, str string, bold bool, size float64) {
	str = clean(str)
	s.text(x-textWidth(str, bold, size), y, str, bold, size)
}

func (s *sheet) textMiddle(x, y float64, str string, bold bool, size float64) {
	str = clean(str)
	s.text(x-textWidth(str, bold, size)/2, y, str, bold, size)
}

func (s *sheet) line(width float64) { s.pdf.SetLineWidth(width) }

func (s *sheet) rule(x1, y, x2, width float64) {
	s.line(width)
	s.pdf.Line(x1, y, x2, y)
}

// heading starts a part of the paper; it stays with what follows.
func (s *sheet) heading(text string) {
	s.headingWith(text, 16)
}

// headingWith keeps the heading together with the next h mm.
func (s *sheet) headingWith(text string, h float64) {
	lines := wrap(text, true, headingSize, s.w)
	if len(lines) == 0 {
		return
	}
	s.need(float64(len(lines))*lineHeight(headingSize) + 3 + h)
	s.y += 2.4
	for _, l := range lines {
		s.y += lineHeight(headingSize)
		s.text(s.x, s.y-1.6, l, true, headingSize)
	}
	s.rule(s.x, s.y, s.x+s.w, fineRule)
	s.y += 1.6
	s.ruled = s.y
}

// para writes running text over pages.
func (s *sheet) para(text string) { s.paraWith(text, false, s.body, 0) }

func (s *sheet) paraWith(text string, bold bool, size, indent float64) {
	lines := wrap(text, bold, size, s.w-indent)
	if len(lines) == 0 {
		return
	}
	s.lines(lines, bold, size, indent)
	s.y += paragraphSpace
}

// lines writes wrapped lines; no single line is left behind or sent ahead.
func (s *sheet) lines(lines []string, bold bool, size, indent float64) {
	h := lineHeight(size)
	for i, l := range lines {
		switch {
		case i == 0 && len(lines) > 1, len(lines) > 3 && i == len(lines)-2:
			s.need(2 * h)
		default:
			s.need(h)
		}
		s.y += h
		s.text(s.x+indent, s.y-h*0.27, l, bold, size)
	}
}

// bullets writes a list, each with a dash before it.
func (s *sheet) bullets(items []string) {
	for _, item := range items {
		s.bullet(item, "–")
	}
	if len(items) > 0 {
		s.y += 0.8
	}
}

func (s *sheet) bullet(item, mark string) {
	lines := wrap(item, false, s.body, s.w-bulletIndent)
	if len(lines) == 0 {
		return
	}
	h := lineHeight(s.body)
	s.need(h * float64(min(len(lines), 2)))
	s.text(s.x+0.6, s.y+h*0.73, mark, false, s.body)
	s.lines(lines, false, s.body, bulletIndent)
	s.y += 0.7
}

// gap moves the cursor down.
func (s *sheet) gap(mm float64) { s.y += mm }
