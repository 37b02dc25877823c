package paper

import (
	"fmt"
	"strconv"
	"strings"
)

// JobCardDoc is the sheet for the bench: what to cut, how to check it, what to
// do in which order. It carries no prices.
type JobCardDoc struct {
	Head
	Build      string   // "12 two-section boxes, hoop pine"
	Model      string   // with its revision
	For        []string // order units or "shelf"
	Due        string
	Timber     string // timber, thickness, moisture
	Finish     string
	Parts      []JobPart
	KerfMM     float64
	Boards     []CutBoard
	Offcuts    []KeptOffcut
	AlreadyCut int      // boards of the plan that are cut already and not drawn
	Elsewhere  []string // parts that come from boards of other builds
	Warnings   []string // what to look at before the saw starts
	Unplaced   []string // what found no board: "4 × side, 330 mm"
	PlanNote   string   // "shortest plan proved", "about: within 120 mm of the best"
	Gauges     []Gauge
	Checks     []Gauge // diagonals, flatness and the like
	Operations []Operation
	Note       string
}

// JobPart is one line of the parts table.
type JobPart struct {
	Name      string
	BoardSize string // "190 × 25"
	LengthMM  float64
	Count     int
	Note      string
}

// CutBoard is one board of the cutting plan, or Times like ones.
type CutBoard struct {
	Name        string // "board A"
	Place       string // where it lies on the rack
	BoardSize   string
	LengthMM    float64
	Times       int // 0 is read as 1
	TrimMM      float64
	Cuts        []Cut
	OffcutMM    float64
	OffcutName  string // the number it is written down under
	OffcutKept  bool
	WasAnOffcut bool
}

// KeptOffcut is an offcut that goes back to the rack.
type KeptOffcut struct {
	Name      string // as in the drawing
	BoardSize string
	LengthMM  float64 // as it is written down, rounded down to the workshop's step
	Count     int
	Place     string // where to put it
}

// Cut is a piece of a board, in the order of cutting from the squared end.
type Cut struct {
	Part     string
	LengthMM float64
}

// Gauge is a size to check, with its limits.
type Gauge struct {
	What    string
	SizeMM  float64
	LowMM   float64
	HighMM  float64
	Limit   string // in words where there are no two limits: "at most 0.5"
	Measure string // how
}

// Operation is one step of the work.
type Operation struct {
	Name    string
	Needs   string
	SetupM  float64 // minutes
	WorkM   float64 // minutes, all pieces
	WaitM   float64 // minutes of waiting after it
	Caution string
}

// JobCard draws a job card.
func JobCard(d JobCardDoc) ([]byte, error) {
	s := newSheet(d.Head, "Job card")
	if d.Build != "" {
		s.paraWith(d.Build, true, 13, 0)
	}
	s.pairs([]pair{{"Model", d.Model}, {"For", strings.Join(some(d.For...), ", ")}, {"Due", d.Due},
		{"Timber", d.Timber}, {"Finish", d.Finish}, {"Note", d.Note}})
	s.jobParts(d.Parts)
	if len(d.Warnings) > 0 {
		s.caution(d.Warnings)
	}
	s.cuttingPlan(d)
	s.keptOffcuts(d.Offcuts)
	s.gauges("Gauge sizes", d.Gauges)
	s.gauges("Diagonals and flatness", d.Checks)
	s.operations(d.Operations)
	blocks, err := d.words().blocks("jobcard_cautions.tmpl", d)
	if err != nil {
		return nil, err
	}
	s.gap(1.5)
	s.write(blocks)
	return s.finish()
}

func (s *sheet) jobParts(list []JobPart) {
	if len(list) == 0 {
		return
	}
	s.headingWith("Parts", 20)
	rows := make([]row, 0, len(list))
	for _, p := range list {
		rows = append(rows, row{tall: 7.5, cells: []cell{{text: p.Name, detail: some(p.Note)}, {text: p.BoardSize},
			{text: mm(p.LengthMM), bold: true}, {text: strconv.Itoa(p.Count), bold: true}, {tick: true}, {tick: true}}})
	}
	s.table([]column{{head: "Part", share: 5}, {head: "Board size, mm", share: 2.4, align: right},
		{head: "Length, mm", share: 2, align: right}, {head: "Count", share: 1.3, align: right},
		{head: "Cut", share: 1.1, align: middle}, {head: "Checked", share: 1.4, align: middle}}, rows, true)
}

// keptOffcuts says which offcuts come back and where they go.
func (s *sheet) keptOffcuts(list []KeptOffcut) {
	if len(list) == 0 {
		return
	}
	s.headingWith("Offcuts to keep", 20)
	rows := make([]row, 0, len(list))
	for _, o := range list {
		rows = append(rows, row{tall: 7.5, cells: []cell{{text: o.Name, bold: true}, {text: o.BoardSize}, {text: mm(o.LengthMM), bold: true}, {text: strconv.Itoa(o.Count)}, {text: o.Place}, {tick: true}}})
	}
	s.table([]column{{head: "Offcut", share: 1.4}, {head: "Board size, mm", share: 2.4, align: right}, {head: "Write on it, mm", share: 2.2, align: right},
		{head: "Count", share: 1.3, align: right}, {head: "Put it", share: 4}, {head: "Done", share: 1.1, align: middle}}, rows, true)
}

// gauges writes sizes with their limits and a blank for what was measured.
func (s *sheet) gauges(title string, list []Gauge) {
	if len(list) == 0 {
		return
	}
	s.headingWith(title, 20)
	rows := make([]row, 0, len(list))
	for _, g := range list {
		size, limit := "", g.Limit
		if g.SizeMM != 0 {
			size = mm(g.SizeMM)
		}
		if limit == "" && (g.LowMM != 0 || g.HighMM != 0) {
			limit = fmt.Sprintf("%s to %s", oneDecimal(g.LowMM), oneDecimal(g.HighMM))
		}
		rows = append(rows, row{tall: 7.5, cells: []cell{{text: g.What, detail: some(g.Measure)}, {text: size, bold: true}, {text: limit}, {}}})
	}
	s.table([]column{{head: "What", share: 5}, {head: "Size, mm", share: 1.8, align: right},
		{head: "Limits, mm", share: 2.6, align: right}, {head: "Measured", share: 2.2}}, rows, true)
}

func oneDecimal(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

func minutes(v float64) string {
	if v == 0 {
		return ""
	}
	return mm(v)
}

func (s *sheet) operations(list []Operation) {
	if len(list) == 0 {
		return
	}
	s.headingWith("Operations", 32)
	rows, sum := make([]row, 0, len(list)+1), 0.0
	for i, o := range list {
		sum += o.SetupM + o.WorkM
		wait := ""
		if o.WaitM > 0 {
			wait = "then wait " + spell(o.WaitM)
		}
		rows = append(rows, row{tall: 8, cells: []cell{{text: strconv.Itoa(i + 1)},
			{text: o.Name, detail: some(prefixed("needs ", o.Needs), wait, o.Caution)},
			{text: minutes(o.SetupM)}, {text: minutes(o.WorkM)}, {}, {tick: true}}})
	}
	rows = append(rows, row{tall: 8, cells: []cell{{}, {text: "Together", bold: true}, {}, {text: mm(sum), bold: true}, {}, {}}})
	s.table([]column{{head: "", share: 0.7, align: right}, {head: "Step", share: 6}, {head: "Set up, min", share: 1.4, align: right},
		{head: "Work, min", share: 1.4, align: right}, {head: "Real minutes", share: 2}, {head: "Done", share: 1, align: middle}}, rows, true)
}

// spell writes minutes of waiting in the unit that reads best.
func spell(m float64) string {
	switch {
	case m >= 2*24*60:
		return mm(m/60/24) + " days"
	case m >= 120:
		return mm(m/60) + " hours"
	default:
		return mm(m) + " minutes"
	}
}
