package hive

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"kerfbook/internal/calc/contract"
)

// Kinds are the kinds of a section. Bees live in brood and honey sections.
var Kinds = []string{"floor", "brood", "honey", "roof", "other"}

// Bounds of a model.
const (
	mostMM       = 10_000 // any size
	mostLengthMM = 20_000 // any part
	mostFactor   = 100
	mostCount    = 1000
	mostItems    = 500 // sections, parts, fittings or operations
	mostID       = 200 // characters of an id or a name
	mostMinutes  = 1e6
)

// Model is one revision of a box. Sections stand in order from the ground up.
type Model struct {
	ID         string      `json:"id"`
	Revision   int         `json:"revision"`
	HeldFrom   string      `json:"held_from" need:"yes"` // outside or inside
	LengthMM   float64     `json:"length_mm" need:"yes"`
	WidthMM    float64     `json:"width_mm" need:"yes"`
	WallMM     float64     `json:"wall_mm" need:"yes"`
	Fit        string      `json:"fit,omitempty"` // sizes at which sections meet; the same fit interchanges
	Sections   []Section   `json:"sections" need:"yes"`
	Parts      []Part      `json:"parts" need:"yes"`
	Fittings   []Fitting   `json:"fittings"`
	Operations []Operation `json:"operations"`
}

// Section is a part of the box that lifts off, count times.
type Section struct {
	ID       string  `json:"id" need:"yes"`
	Kind     string  `json:"kind" need:"yes"`
	HeightMM float64 `json:"height_mm" need:"yes"` // of one
	Count    int     `json:"count" need:"yes"`
}

// Grades of boards, the best first.
var Grades = []string{"clear", "sound", "knotty"}

// Part is cut from a board, count times for the whole box.
type Part struct {
	ID        string    `json:"id" need:"yes"`
	Name      string    `json:"name" need:"yes"`
	Section   string    `json:"section,omitempty"`
	Count     int       `json:"count" need:"yes"`
	BoardSize BoardSize `json:"board_size" need:"yes"`
	Length    Length    `json:"length" need:"yes"`
	// Grade is the poorest grade of board that may serve; empty: any.
	Grade string `json:"grade,omitempty"`
	// Strips glued edge to edge make the part, where it is wider than any board.
	Strips *Strips `json:"strips,omitempty"`
}

// Strips are equal strips, each as wide as the board size, that are glued edge to edge.
type Strips struct {
	Count   int     `json:"count" need:"yes"`    // 2 to 20 to a part
	WidthMM float64 `json:"width_mm" need:"yes"` // of the part, once glued and trimmed
}

// What edge-gluing takes beyond the part itself; our estimates.
const (
	JointMM     = 2.0  // off the width of each strip, to joint both its edges
	GluedTrimMM = 10.0 // more length on each strip, to trim both ends after gluing
	mostStrips  = 20
)

// BoardSize is the width and thickness of a board.
type BoardSize struct {
	WidthMM     float64 `json:"width_mm" need:"yes"`
	ThicknessMM float64 `json:"thickness_mm" need:"yes"`
}

// Length makes a part's length from the model's sizes; factors are multiples of a half.
type Length struct {
	Length float64 `json:"length"`
	Width  float64 `json:"width"`
	Wall   float64 `json:"wall"`
	Height float64 `json:"height"`
	PlusMM float64 `json:"plus_mm"`
}

// Fitting is what is bought: screws, straps, tubes.
type Fitting struct {
	ID    string `json:"id" need:"yes"`
	Count int    `json:"count" need:"yes"`
}

// Operation is one step of the work on a batch.
type Operation struct {
	ID           string   `json:"id" need:"yes"`
	SetupMinutes float64  `json:"setup_minutes"`        // once a batch
	PieceMinutes float64  `json:"piece_minutes"`        // for each box
	WaitMinutes  float64  `json:"wait_minutes"`         // by the clock, for glue or finish
	Needs        []string `json:"needs,omitempty"`      // names of limited things
	OwnerOnly    bool     `json:"owner_only,omitempty"` // nobody but the owner does it
}

// Check refuses a model that cannot be built; at goes before every pointer. Sizes
// lie between 0.01 and 10 000 mm in whole hundredths, counts between 1 and 1000,
// factors between -100 and 100 in halves; ids are not used twice in a list; at least
// one section is for brood or honey. wallMM is the true thickness, or the model's wall.
func (m Model) Check(at string, wallMM float64) error {
	var c contract.Checks
	if m.HeldFrom != "outside" && m.HeldFrom != "inside" {
		c.Add(at+"/held_from", `must be "outside" or "inside"`)
	}
	sizes := size(&c, at+"/length_mm", m.LengthMM)
	sizes = size(&c, at+"/width_mm", m.WidthMM) && sizes
	sizes = size(&c, at+"/wall_mm", m.WallMM) && sizes
	if m.Revision < 0 {
		c.Add(at+"/revision", "must not be below 0")
	}
	if a, b := m.inner(wallMM); sizes && (a <= 0 || b <= 0) {
		c.Add(at+"/wall_mm", "walls of %g mm leave no room inside", wallMM)
	}
	sections := m.checkSections(&c, at)
	m.checkParts(&c, at, sections)
	m.checkWork(&c, at)
	return c.Err()
}

func (m Model) checkSections(c *contract.Checks, at string) map[string]Section {
	ids, roomy, total := newIDs(c, at+"/sections", len(m.Sections)), false, 0
	for i, s := range m.Sections {
		here := ids.next(i, s.ID)
		if !slices.Contains(Kinds, s.Kind) {
			c.Add(here+"/kind", "must be one of %s", strings.Join(Kinds, ", "))
		}
		size(c, here+"/height_mm", s.HeightMM)
		count(c, here+"/count", s.Count)
		roomy = roomy || s.roomy()
		total += max(0, min(s.Count, mostCount))
	}
	if total > mostCount {
		c.Add(at+"/sections", "come to more than %d", mostCount)
	}
	if !roomy {
		c.Add(at+"/sections", "must have a brood or a honey section")
	}
	byID := make(map[string]Section, len(m.Sections))
	for _, s := range m.Sections {
		byID[s.ID] = s
	}
	return byID
}

func (m Model) checkParts(c *contract.Checks, at string, sections map[string]Section) {
	ids := newIDs(c, at+"/parts", len(m.Parts))
	for i, p := range m.Parts {
		here := ids.next(i, p.ID)
		if p.Name == "" || len(p.Name) > mostID {
			c.Add(here+"/name", "must have 1 to %d characters", mostID)
		}
		if _, ok := sections[p.Section]; p.Section != "" && !ok {
			c.Add(here+"/section", "is no section of this model")
		}
		count(c, here+"/count", p.Count)
		size(c, here+"/board_size/width_mm", p.BoardSize.WidthMM)
		size(c, here+"/board_size/thickness_mm", p.BoardSize.ThicknessMM)
		if p.Grade != "" && !slices.Contains(Grades, p.Grade) {
			c.Add(here+"/grade", "must be one of %s, or empty for any", strings.Join(Grades, ", "))
		}
		if p.Strips != nil {
			p.checkStrips(c, here+"/strips")
		}
		for _, f := range []struct {
			name  string
			value float64
		}{{"length", p.Length.Length}, {"width", p.Length.Width}, {"wall", p.Length.Wall}, {"height", p.Length.Height}} {
			if c.Number(here+"/length/"+f.name, f.value, -mostFactor, mostFactor) && f.value*2 != math.Trunc(f.value*2) {
				c.Add(here+"/length/"+f.name, "must be a multiple of a half")
			}
		}
		if c.Number(here+"/length/plus_mm", p.Length.PlusMM, -mostMM, mostMM) {
			hundredths(c, here+"/length/plus_mm", p.Length.PlusMM)
		}
	}
}

// checkStrips refuses strips that cannot be glued to the part's width.
func (p Part) checkStrips(c *contract.Checks, at string) {
	if p.Strips.Count < 2 || p.Strips.Count > mostStrips {
		c.Add(at+"/count", "must lie between 2 and %d strips", mostStrips)
		return
	}
	if p.Count > 0 && p.Count*p.Strips.Count > mostCount {
		c.Add(at+"/count", "comes to more than %d strips a box", mostCount)
	}
	if !size(c, at+"/width_mm", p.Strips.WidthMM) {
		return
	}
	least := float64(p.Strips.Count) * (p.BoardSize.WidthMM - JointMM)
	if p.Strips.WidthMM > least {
		c.Add(at+"/width_mm", "%d strips of %g mm give at most %g mm once their edges are jointed; take more strips or wider boards", p.Strips.Count, p.BoardSize.WidthMM, math.Max(0, least))
	}
}

func (m Model) checkWork(c *contract.Checks, at string) {
	ids := newIDs(c, at+"/fittings", len(m.Fittings))
	for i, f := range m.Fittings {
		count(c, ids.next(i, f.ID)+"/count", f.Count)
	}
	ids = newIDs(c, at+"/operations", len(m.Operations))
	for i, o := range m.Operations {
		here := ids.next(i, o.ID)
		c.Number(here+"/setup_minutes", o.SetupMinutes, 0, mostMinutes)
		c.Number(here+"/piece_minutes", o.PieceMinutes, 0, mostMinutes)
		c.Number(here+"/wait_minutes", o.WaitMinutes, 0, mostMinutes)
		if len(o.Needs) > mostItems {
			c.Add(here+"/needs", "has more than %d entries", mostItems)
		}
	}
}

func (s Section) roomy() bool { return s.Kind == "brood" || s.Kind == "honey" }

func size(c *contract.Checks, pointer string, v float64) bool {
	return c.Number(pointer, v, 0.01, mostMM) && hundredths(c, pointer, v)
}

// hundredths refuses what is finer than a hundredth of a millimetre; the last binary
// digits of a decimal are forgiven.
func hundredths(c *contract.Checks, pointer string, v float64) bool {
	if math.Abs(v*100-math.Round(v*100)) > 1e-6 {
		c.Add(pointer, "must be whole hundredths of a millimetre")
		return false
	}
	return true
}

func count(c *contract.Checks, pointer string, n int) {
	if n < 1 || n > mostCount {
		c.Add(pointer, "must lie between 1 and %d", mostCount)
	}
}

// idList refuses ids that are empty, too long or used twice in one list.
type idList struct {
	c    *contract.Checks
	at   string
	seen map[string]bool
}

func newIDs(c *contract.Checks, at string, n int) idList {
	if n > mostItems {
		c.Add(at, "has more than %d entries", mostItems)
	}
	return idList{c, at, make(map[string]bool, n)}
}

// next notes the i-th id and gives its entry's pointer.
func (l idList) next(i int, id string) string {
	here := fmt.Sprintf("%s/%d", l.at, i)
	switch {
	case id == "" || len(id) > mostID:
		l.c.Add(here+"/id", "must have 1 to %d characters", mostID)
	case l.seen[id]:
		l.c.Add(here+"/id", "%q is used twice", id)
	}
	l.seen[id] = true
	return here
}
