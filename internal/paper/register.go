package paper

import (
	"bytes"
	"image"
	_ "image/jpeg" // photos are kept so

	"github.com/go-pdf/fpdf"
)

// RegisterDoc is an extract of the maker's register: whose box it is, through which hands
// it came, and how it is known again.
type RegisterDoc struct {
	Head
	Serial   string
	What     string // "Two-tier 230, hoop pine"
	Maker    string // empty: this workshop
	Made     string // day
	Finish   string
	Punched  string // how the serial stands on the box, and where
	Sections string // from the ground up
	Colony   string // that lives in it
	Owner    string
	Since    string
	Owners   []OwnedBy // oldest first
	Stolen   []Report  // oldest first
	Photo    []byte    // JPEG; empty or broken: none is drawn
	PhotoSay string    // "Photo of Thu 12 March 2026"
}

// OwnedBy is one hand the box came through. The last has no To.
type OwnedBy struct{ Name, From, To, How string }

// Report is a report that the box was stolen; without Found it is still missing.
type Report struct{ StolenOn, By, Police, Found, How string }

// Missing tells whether the box is reported stolen now.
func (d RegisterDoc) Missing() bool {
	return len(d.Stolen) > 0 && d.Stolen[len(d.Stolen)-1].Found == ""
}

// The photo's room at the right, in mm: its longest side, the least room for what stands
// below it, and the gap beside it.
const photoMost, photoLeast, photoGap = 58.0, 32.0, 6.0

// Register draws an extract of the register.
func Register(d RegisterDoc) ([]byte, error) {
	blocks, err := d.words().blocks("register_words.tmpl", d)
	if err != nil {
		return nil, err
	}
	s := newSheet(d.Head, "Register of boxes")
	x, w, page := s.x, s.w, s.pdf.PageNo()
	wide, bottom := s.photo(d)
	if wide > 0 {
		s.w = w - wide - photoGap
	}
	s.paraWith("Box "+d.Serial, true, titleSize, 0)
	if d.Missing() {
		s.caution([]string{join(" ", "Reported stolen "+d.Stolen[len(d.Stolen)-1].StolenOn+".", "Whoever has seen it: please ring "+join(", ", d.Workshop.Name, d.Workshop.Phone)+".")})
	}
	s.pairs([]pair{{"Whose", d.Owner}, {"Since", d.Since}, {"What", d.What}, {"Made by", first(d.Maker, d.Workshop.Name)}, {"Made or came here", d.Made}, {"Finish", d.Finish},
		{"Serial", d.Punched}, {"Sections", d.Sections}, {"Bees", d.Colony}})
	if s.pdf.PageNo() == page {
		s.y = max(s.y, bottom)
	}
	s.x, s.w = x, w
	s.owners(d)
	s.reports(d)
	s.gap(1)
	s.write(blocks)
	s.signature("For the register of " + first(d.Workshop.Name, "the workshop"))
	return s.finish()
}

// photo sets the picture at the right of the page; it gives how wide it is and where it
// ends, nothing when there is none to draw.
func (s *sheet) photo(d RegisterDoc) (wide, bottom float64) {
	cfg, kind, err := image.DecodeConfig(bytes.NewReader(d.Photo))
	if err != nil || kind != "jpeg" || cfg.Width < 1 || cfg.Height < 1 {
		return 0, s.y
	}
	how := fpdf.ImageOptions{ImageType: "JPG"}
	s.pdf.RegisterImageOptionsReader("photo", how, bytes.NewReader(d.Photo))
	if s.pdf.Err() {
		s.pdf.ClearError()
		return 0, s.y
	}
	scale := photoMost / float64(max(cfg.Width, cfg.Height))
	across, high := float64(cfg.Width)*scale, float64(cfg.Height)*scale
	wide = max(across, photoLeast)
	left, top := s.x+s.w-wide, s.y+1
	s.pdf.ImageOptions("photo", left+wide-across, top, across, high, false, how, 0, "")
	s.line(fineRule)
	s.pdf.Rect(left+wide-across, top, across, high, "D")
	bottom = top + high + 1
	for _, l := range wrap(d.PhotoSay, false, s.small, wide) {
		bottom += lineHeight(s.small)
		s.text(left, bottom-1, l, false, s.small)
	}
	return wide, bottom + 2
}

func (s *sheet) owners(d RegisterDoc) {
	if len(d.Owners) == 0 {
		return
	}
	s.headingWith("Through whose hands it came", 24)
	rows := make([]row, 0, len(d.Owners))
	for i, o := range d.Owners {
		to := o.To
		if to == "" && i == len(d.Owners)-1 {
			to = "now"
		}
		rows = append(rows, row{cells: []cell{{text: o.Name, bold: i == len(d.Owners)-1, detail: some(o.How)}, {text: o.From}, {text: to}}})
	}
	s.table([]column{{head: "Owner", share: 5}, {head: "From", share: 2.4}, {head: "Until", share: 2.4}}, rows, true)
}

func (s *sheet) reports(d RegisterDoc) {
	if len(d.Stolen) == 0 {
		return
	}
	s.headingWith("Reported stolen", 24)
	rows := make([]row, 0, len(d.Stolen))
	for _, r := range d.Stolen {
		rows = append(rows, row{cells: []cell{{text: r.StolenOn}, {text: r.By, detail: some(prefixed("police: ", r.Police))}, {text: first(r.Found, "not found"), detail: some(r.How)}}})
	}
	s.table([]column{{head: "Missed on", share: 2.4}, {head: "Reported by", share: 4}, {head: "Found again", share: 3.4}}, rows, true)
}
