package timber

import (
	"fmt"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
)

// Pack is a stickered stack of boards, drying.
type Pack struct {
	ID          int64            `db:"id"`
	Version     int              `db:"version"`
	Number      string           `db:"number"`
	SpeciesID   int64            `db:"species_id"`
	SpeciesName string           `db:"species_name"`
	WidthMM     decimal.Decimal  `db:"width_mm"` // green
	ThicknessMM decimal.Decimal  `db:"thickness_mm"`
	LogID       *int64           `db:"log_id"`
	Place       string           `db:"place"`
	ClimateID   *int64           `db:"climate_id"`
	StackedOn   time.Time        `db:"stacked_on"`
	StartMCPct  *decimal.Decimal `db:"start_mc_pct"`
	TargetMCPct decimal.Decimal  `db:"target_mc_pct"`
	DressesToID *int64           `db:"dresses_to_id"` // board size
	ReadyOn     *time.Time       `db:"ready_on"`
	ReadyOnP80  *time.Time       `db:"ready_on_p80"`
	NeverDry    bool             `db:"never_dry"`
	CostMinor   int64            `db:"cost_minor"` // log, haulage and sawing
	FinishedAt  *time.Time       `db:"finished_at"`
	Notes       string           `db:"notes"`
	Boards      int              `db:"boards"`
	MeantBoards int              `db:"meant_boards"`
	LatestMCPct *decimal.Decimal `db:"latest_mc_pct"`
	Content     []Content        `db:"-"` // PackGet only
	Readings    []Reading        `db:"-"` // PackGet only, newest first
	Places      []PackPlace      `db:"-"` // PackGet only, in order of date: where it was moved to
}

// Content is what lies in a pack, by length and grade.
type Content struct {
	LengthMM int    `db:"length_mm"`
	Grade    string `db:"grade"`
	Count    int    `db:"count"`
}

// Reading is a moisture reading of a sample board, with the dates that followed from it.
type Reading struct {
	ReadOn     time.Time       `db:"read_on"`
	Board      string          `db:"board"` // which sample board
	MeterPct   decimal.Decimal `db:"meter_pct"`
	MCPct      decimal.Decimal `db:"mc_pct"` // corrected for the species
	Correction string          `db:"correction"`
	Source     string          `db:"correction_source"` // where the correction was from
	ReadyOn    *time.Time      `db:"ready_on"`
	ReadyOnP80 *time.Time      `db:"ready_on_p80"`
	NeverDry   bool            `db:"never_dry"`
	Late       bool            `db:"-"` // written down after later ones
}

// How the moisture of a reading follows from what the meter showed.
const (
	Uncorrected     = "none"  // taken as the meter shows
	CorrectedByList = "table" // by the correction of the timber
	CorrectedByHand = "hand"  // typed by the maker
)

// Grades of boards, the best first.
var Grades = []string{"clear", "sound", "knotty"}

func gradeOK(g string) bool { return g == Grades[0] || g == Grades[1] || g == Grades[2] }

// PackNew is a stack as it is laid up.
type PackNew struct {
	SpeciesID            int64
	WidthMM, ThicknessMM decimal.Decimal // green
	LogID                *int64
	Place                string
	ClimateID            *int64
	StackedOn            time.Time
	StartMCPct           *decimal.Decimal // percent of oven-dry mass
	TargetMCPct          decimal.Decimal  // zero: 12
	DressesTo            *Size            // by width and thickness; nil: not known yet
	CostMinor            int64
	Notes                string
	Content              []Content
}

// targetUsualPct is the moisture of boards that dry under a roof in the open; common
// practice, no source.
var targetUsualPct = decimal.NewFromInt(12)

func (p *PackNew) check(today time.Time) error {
	var l fault.List
	if p.TargetMCPct.IsZero() {
		p.TargetMCPct = targetUsualPct
	}
	l.Check(p.SpeciesID > 0, "/species_id", "Say which timber it is.")
	l.Check(!p.StackedOn.IsZero(), "/stacked_on", "Say on which day it was stacked.")
	l.Check(!p.StackedOn.After(today), "/stacked_on", "This day is still to come. Write when it was stacked.")
	pctBetween(&l, "/target_mc_pct", p.TargetMCPct, 3, 30)
	if p.StartMCPct != nil {
		pctBetween(&l, "/start_mc_pct", *p.StartMCPct, 5, 250)
	}
	l.Check(p.CostMinor >= 0, "/cost_minor", "A cost cannot be below zero.")
	l.Short("/place", p.Place)
	checkContent(&l, p.Content)
	return l.Err()
}

func checkContent(l *fault.List, content []Content) {
	l.Check(len(content) > 0 && len(content) <= 200, "/content", "Write what lies in the pack: 1 to 200 lines of length and count.")
	seen := map[Content]bool{}
	for i, c := range content {
		at := fmt.Sprintf("/content/%d", i)
		l.Check(c.LengthMM >= 1 && c.LengthMM <= 20_000, at+"/length_mm", "The length must lie between 1 and 20000 mm.")
		l.Check(c.Count >= 1 && c.Count <= maxPieces, at+"/count", "The count must lie between 1 and %d.", maxPieces)
		l.Check(gradeOK(c.Grade), at+"/grade", "The grade is clear, sound or knotty.")
		key := Content{LengthMM: c.LengthMM, Grade: c.Grade}
		l.Check(!seen[key], at+"/length_mm", "This length and grade stands there twice. Add the counts up.")
		seen[key] = true
	}
}

// maxPieces bounds one count; no workshop holds more of one thing (our estimate).
const maxPieces = 100_000

func pctBetween(l *fault.List, pointer string, d decimal.Decimal, low, high int64) {
	l.Check(d.GreaterThanOrEqual(decimal.NewFromInt(low)) && d.LessThanOrEqual(decimal.NewFromInt(high)) && tenths(d),
		pointer, "The moisture must lie between %d and %d percent, with one decimal at most.", low, high)
}
