package paper

import (
	"strings"
	"time"
)

// HandoverDoc is the sheet that goes with a box: side one for tonight and the
// first weeks, side two for the year and for whoever looks after the box later.
type HandoverDoc struct {
	Head
	Owner     string // whose box it is
	Receiver  string // who took it, when not the owner
	Serial    string
	Model     string
	Timber    string
	Finish    string
	Size      string // "200 × 280 × 330 mm outside"
	EmptyMass string // "6.2 kg"
	FullMass  string // "about 14 kg"
	OwnBox    bool   // the colony came into a box the buyer had
	Colony    *HandedColony
	Site      Place
	HandedOn  time.Time // zero: the issue date
	DuskAt    string    // civil dusk at the site that day, "18:42"
	// Hemisphere is "southern" (also when empty) or "northern".
	Hemisphere string
	Country    string   // ISO 3166 code; empty: AU
	Sun        []string // "21 December: no sun on the front", from the eave calculation
	Mount      string   // what it hangs on or stands on
	Fixing     string   // how it is fixed so that it is not easily carried off
	RingName   string   // empty: the workshop
	RingPhone  string
	RingHours  string
	Emergency  string   // number to ring for help; empty: 000 in Australia, else 112
	Law        []string // rules of this very place, as the maker wrote them down
	Guarantee  []string
}

// HandedColony is the colony that is handed over with the box.
type HandedColony struct {
	Number  string
	Species SpeciesFacts
	Sure    bool // the species is a sure finding
	Origin  string
	Housed  string // since when it lives in the box
	NoSplit string // earliest time to split, where the maker names one
}

// HasColony tells whether bees are handed over.
func (d HandoverDoc) HasColony() bool { return d.Colony != nil }

// Australia tells whether the rules of Australia are the ones to name.
func (d HandoverDoc) Australia() bool { return d.Country == "" || strings.EqualFold(d.Country, "AU") }

// Southern tells on which half of the earth the box stands.
func (d HandoverDoc) Southern() bool { return !strings.EqualFold(d.Hemisphere, "northern") }

// Month is one month of the year to come and its place in the seasons.
type Month struct {
	Name  string
	Place string // "early summer", "midsummer", …
}

var seasonPlaces = [12]string{"early summer", "midsummer", "late summer", "early autumn", "mid-autumn", "late autumn",
	"early winter", "midwinter", "late winter", "early spring", "mid-spring", "late spring"}

// Year gives twelve months from the month of the handover on. Seasons are by
// whole months: summer begins in December in the south, in June in the north.
func (d HandoverDoc) Year() []Month {
	start := d.HandedOn
	if start.IsZero() {
		start = d.Issued
	}
	firstSummer := time.December
	if !d.Southern() {
		firstSummer = time.June
	}
	out := make([]Month, 12)
	for i := range out {
		m := (int(start.Month())-1+i)%12 + 1
		out[i] = Month{Name: time.Month(m).String(), Place: seasonPlaces[(m-int(firstSummer)+12)%12]}
	}
	return out
}

// HelpNumber is the number to ring in an emergency.
func (d HandoverDoc) HelpNumber() string {
	if d.Emergency != "" {
		return d.Emergency
	}
	if d.Australia() {
		return "000"
	}
	return "112"
}

// Type sizes of the handover sheet: read at dusk and by old eyes.
const (
	sideOneSize = 12.0
	sideTwoSize = 10.5
	ringSize    = 15.0
)

// Handover draws the handover sheet. Where the wording does not fit on two sides
// it takes a second leaf and every page says so.
func Handover(d HandoverDoc) ([]byte, error) {
	front, err := d.words().blocks("handover_front.tmpl", d)
	if err != nil {
		return nil, err
	}
	back, err := d.words().blocks("handover_back.tmpl", d)
	if err != nil {
		return nil, err
	}
	s := sizedSheet(d.Head, "Handover sheet", sideOneSize)
	s.pad = 0.5
	s.whose(d)
	s.write(front)
	s.ring(d)
	s.body, s.small, s.fine = sideTwoSize, sideTwoSize, sideTwoSize
	s.pad = 0.45
	s.addPage()
	s.facts(d)
	s.write(back)
	if n := s.pdf.PageCount(); n > 2 {
		s.notes = append(s.notes, "this sheet has "+leaves(n)+": keep them together")
	}
	return s.finish()
}

func leaves(pages int) string {
	return [...]string{"no leaf", "one leaf", "two leaves", "three leaves", "four leaves"}[min((pages+1)/2, 4)]
}

// whose says at the top of side one what was handed to whom.
func (s *sheet) whose(d HandoverDoc) {
	what := "Box " + d.Serial
	if d.Serial == "" {
		what = "The box"
	}
	if d.HasColony() {
		what += " with a colony of " + first(d.Colony.Species.Common, d.Colony.Species.Name, "stingless bees")
		if d.Colony.Species.Common != "" && d.Colony.Species.Name != "" {
			what += " (" + d.Colony.Species.Name + ")"
		}
	}
	if d.Owner != "" {
		what += ", belonging to " + d.Owner
	}
	s.paraWith(what, true, s.body+1, 0)
}

// ring says whom to ring, with the serial in words and a code where there is an address.
func (s *sheet) ring(d HandoverDoc) {
	side := 0.0
	if d.Link != "" {
		side = 25
	}
	name := first(d.RingName, d.Workshop.Owner, d.Workshop.Name)
	phone := first(d.RingPhone, d.Workshop.Phone)
	lh := lineHeight(s.body)
	words := join("\n", join(". ", d.RingHours, prefixed("Say the serial: ", d.Serial)), prefixed("Guarantee: ", strings.Join(some(d.Guarantee...), " ")))
	lines := wrap(words, false, s.body, s.w-side-8)
	heads := wrap("Whom to ring: "+join(", ", name, phone), true, ringSize, s.w-side-8)
	h := max(float64(len(heads))*lineHeight(ringSize)+float64(len(lines))*lh+4, side+3)
	s.need(h + 2)
	s.gap(1.5)
	s.line(0.45)
	s.pdf.Rect(s.x, s.y, s.w, h, "D")
	y := s.y + 0.8
	for _, l := range heads {
		y += lineHeight(ringSize)
		s.text(s.x+3, y-0.8, l, true, ringSize)
	}
	for _, l := range lines {
		y += lh
		s.text(s.x+3, y, l, false, s.body)
	}
	s.qr(s.x+s.w-side-1.5, s.y+1.5, side, d.Link)
	s.y += h + 2
}

// facts is the record of the box at the top of side two.
func (s *sheet) facts(d HandoverDoc) {
	box := join(", ", d.Model, d.Timber, d.Finish, d.Size, prefixed("empty ", d.EmptyMass), prefixed("full ", d.FullMass))
	if d.OwnBox {
		box = join(", ", "the buyer's own box", box)
	}
	list := []pair{{"Serial", join(", ", d.Serial, prefixed("box of ", d.Owner), prefixed("received by ", d.Receiver), prefixed("handed over ", Day(d.HandedOn)))}, {"Box", box}}
	if c := d.Colony; c != nil {
		species := join(", ", c.Species.Name, c.Species.Common)
		if species != "" && !c.Sure {
			species += " (not certain: only an expert's look or a test settles it)"
		}
		list = append(list, pair{"Species", species},
			pair{"Colony", join(", ", c.Number, c.Origin, prefixed("in this box since ", c.Housed))})
	}
	list = append(list, pair{"Stands at", strings.Join(d.Site.lines(), ", ")})
	s.pairs(list)
	s.gap(1)
}
