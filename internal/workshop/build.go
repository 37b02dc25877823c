package workshop

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
)

// What a build makes.
const (
	MakesBox     = "box"
	MakesSection = "section"
	MakesPart    = "part"
)

// Build is a batch on the bench: it makes Quantity of something of one revision.
type Build struct {
	ID          int64
	Version     int
	Number      string
	RevisionID  int64
	ModelName   string
	Revision    int
	Makes       string // box, section, part
	Piece       string // which section or part, when not whole boxes
	Quantity    int
	SpeciesID   *int64
	SpeciesName string
	OptionIDs   []int64
	OptionNames []string
	Parts       []BuildPart
	Fittings    []hive.Fitting // of the whole batch
	DueOn       *time.Time
	NotBefore   *time.Time
	HeldTo      *time.Time
	MadeAt      time.Time
	StartedAt   *time.Time
	FinishedAt  *time.Time
	CancelledAt *time.Time
	Notes       string
	StandardMin float64          // of all operations
	SpentMin    float64          // of all time spells
	Units       int              // outputs that go to order units
	TrueWallMM  *decimal.Decimal // true thickness that the part lengths are reckoned with; nil: the model's wall
	Finished    int              // pieces that are done

	QuotedPieces int     // boxes that buyers were quoted; BuildGet only
	QuotedElse   float64 // minutes that were quoted for operations which the build has not

	// BuildGet only.
	Outputs    []Output
	Operations []Operation
	Claims     []claims.Claim // open ones
	Plans      []CuttingPlan  // in force, one a board size
	Gauges     []FitSize
	CuttingID  int64    // the cutting it is in; 0: none
	Warnings   []string // what to look at before the saw starts, in plain words
	Short      []string // what is short, in plain words
}

// Open reports whether there is still work on the build.
func (b Build) Open() bool { return b.FinishedAt == nil && b.CancelledAt == nil }

// Title says what the build makes, such as "12 Two-tier 230, hoop pine".
func (b Build) Title() string {
	what := b.ModelName
	if b.Makes != MakesBox {
		what += " " + b.Makes + " " + b.Piece
	}
	if b.SpeciesName != "" {
		what += ", " + b.SpeciesName
	}
	return fmt.Sprintf("%d %s", b.Quantity, what)
}

// BuildPart is a part as worked out when the build was made.
type BuildPart struct {
	ID          string          `json:"id"`
	Name        string          `json:"name"`
	Section     string          `json:"section,omitempty"`
	WidthMM     decimal.Decimal `json:"width_mm"`
	ThicknessMM decimal.Decimal `json:"thickness_mm"`
	LengthMM    decimal.Decimal `json:"length_mm"`
	Each        int             `json:"each"`            // for one piece of the batch
	Count       int             `json:"count"`           // for the whole batch
	Grade       string          `json:"grade,omitempty"` // poorest that may serve; empty: any
	// Strips to a glued part and the width of that part; 0: it is cut whole.
	Strips       int             `json:"strips,omitempty"`
	PanelWidthMM decimal.Decimal `json:"panel_width_mm,omitzero"`
}

// Note says what else the bench must know of a part; "" for most.
func (p BuildPart) Note() string {
	notes := []string{}
	if p.Strips > 0 {
		notes = append(notes, fmt.Sprintf("%d strips glued edge to edge make one, %s mm wide", p.Strips, p.PanelWidthMM))
	}
	if p.Grade != "" {
		notes = append(notes, "of "+p.Grade+" boards or better")
	}
	return strings.Join(notes, "; ")
}

// Output is one piece of a build, and where it goes.
type Output struct {
	N          int        `db:"n"`
	UnitID     *int64     `db:"order_unit_id"` // nil: the shelf
	BoxID      *int64     `db:"box_id"`
	Serial     *string    `db:"serial"`
	SpoiledAt  *time.Time `db:"spoiled_at"`
	FinishedAt *time.Time `db:"finished_at"`
}

// Operation is a step of a build with its standard time and the time spent.
type Operation struct {
	ID        int64           `db:"id"`
	BuildID   int64           `db:"build_id"`
	Position  int             `db:"position"`
	Name      string          `db:"name"`
	SetupMin  int             `db:"setup_min"` // once a batch
	PieceMin  decimal.Decimal `db:"piece_min"` // each
	WaitMin   int             `db:"wait_min"`  // afterwards, without hands
	Needs     []string        `db:"needs"`
	OwnerOnly bool            `db:"owner_only"`
	Dry       bool            `db:"dry"` // needs dry weather
	DoneAt    *time.Time      `db:"done_at"`
	SpentMin  float64         `db:"spent_min"`
	SplitMin  float64         `db:"-"`       // of them, shares of whole days; BuildGet only
	QuotedMin float64         `db:"-"`       // what buyers were quoted for their pieces; BuildGet only
	Running   []string        `db:"running"` // who is at it now
}

// StandardMin is the standard time for n pieces, in minutes.
func (o Operation) StandardMin(n int) float64 {
	return float64(o.SetupMin) + o.PieceMin.InexactFloat64()*float64(n)
}

// BuildNew is a build as it is asked for.
type BuildNew struct {
	RevisionID int64
	Makes      string // empty: box
	Piece      string // the section or part, when not whole boxes
	Quantity   int
	SpeciesID  int64
	OptionIDs  []int64
	Units      []int64 // order units that get the first outputs; the rest goes to the shelf
	DueOn      *time.Time
	NotBefore  *time.Time
	Notes      string
}

func (b *BuildNew) check(today time.Time) error {
	if b.Makes == "" {
		b.Makes = MakesBox
	}
	var l fault.List
	l.Check(b.RevisionID > 0, "/model_revision_id", "Say which model it is.")
	l.Check(b.SpeciesID > 0, "/timber_species_id", "Say which timber it is built of.")
	l.Check(b.Quantity >= 1 && b.Quantity <= 1000, "/quantity", "The quantity must lie between 1 and 1000.")
	l.Check(b.Makes == MakesBox || b.Makes == MakesSection || b.Makes == MakesPart, "/makes", "A build makes boxes, sections or parts.")
	l.Check((b.Makes == MakesBox) == (b.Piece == ""), "/piece", "Name the section or part that is made; for boxes leave it empty.")
	l.Check(len(b.Units) <= b.Quantity, "/units", "%d order units are named for %d pieces.", len(b.Units), b.Quantity)
	seen := map[int64]bool{}
	for i, u := range b.Units {
		l.Check(!seen[u], fmt.Sprintf("/units/%d", i), "This order unit stands there twice.")
		seen[u] = true
	}
	l.Check(b.DueOn == nil || !b.DueOn.Before(today), "/due_on", "This day is past. A due date lies today or later.")
	l.Check(b.NotBefore == nil || b.DueOn == nil || !b.DueOn.Before(*b.NotBefore), "/not_before", "It would be due before it may begin.")
	return l.Err()
}

// buildParts gives the parts and fittings of n pieces of what m makes. Invalid when the
// model has no such section or part.
//
// wallMM is the true thickness of the walls, or the model's.
func buildParts(m hive.Model, wallMM float64, makes, piece string, n int) ([]BuildPart, []hive.Fitting, error) {
	cut, err := hive.Parts(m, wallMM)
	if err != nil {
		return nil, nil, refused(err)
	}
	var parts []BuildPart
	for _, p := range cut {
		each := p.Count
		switch makes {
		case MakesSection:
			s := sectionOf(m, piece)
			if s == nil {
				return nil, nil, fault.Bad("/piece", "The model has no section %q.", piece)
			}
			if p.Section != piece {
				continue
			}
			each = p.Count / s.Count
		case MakesPart:
			if p.ID != piece {
				continue
			}
			each = max(1, p.Strips)
		}
		if each < 1 {
			continue
		}
		parts = append(parts, BuildPart{ID: p.ID, Name: p.Name, Section: p.Section, WidthMM: decimal.NewFromFloat(p.BoardSize.WidthMM),
			ThicknessMM: decimal.NewFromFloat(p.BoardSize.ThicknessMM), LengthMM: decimal.New(p.LengthTenths(), -1), Each: each, Count: each * n, Grade: p.Grade, Strips: p.Strips, PanelWidthMM: decimal.NewFromFloat(p.PanelWidthMM)})
	}
	if len(parts) == 0 {
		return nil, nil, fault.Bad("/piece", "The model has no part %q to make.", piece)
	}
	fittings := []hive.Fitting{}
	if makes == MakesBox { // a section alone gets its fittings with the box it goes into
		for _, f := range m.Fittings {
			fittings = append(fittings, hive.Fitting{ID: f.ID, Count: f.Count * n})
		}
	}
	return parts, fittings, nil
}

// buildOperations gives the operations of a build. A section or a part alone takes its
// share of each operation's time by the length it has of all parts (our estimate).
func buildOperations(m hive.Model, parts []BuildPart, makes string) []Operation {
	share := 1.0
	if makes != MakesBox {
		whole, mine := 0.0, 0.0
		if cut, err := hive.Parts(m, m.WallMM); err == nil {
			for _, p := range cut {
				whole += p.LengthMM * float64(p.Count)
			}
		}
		for _, p := range parts {
			mine += p.LengthMM.InexactFloat64() * float64(p.Each)
		}
		share = min(1, mine/max(whole, 1))
	}
	ops := make([]Operation, len(m.Operations))
	for i, o := range m.Operations {
		ops[i] = Operation{Position: i + 1, Name: o.ID, SetupMin: int(math.Ceil(o.SetupMinutes)), PieceMin: decimal.NewFromFloat(o.PieceMinutes * share).RoundUp(1),
			WaitMin: int(math.Ceil(o.WaitMinutes)), Needs: thingNames(o.Needs), OwnerOnly: o.OwnerOnly}
	}
	return ops
}

// rawJSON encodes what always encodes: lists of the record's own types.
func rawJSON(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return b
}

// shortFittings says which counted fittings that are needed are not claimed.
func shortFittings(need []hive.Fitting, items map[string]timber.Item, open []claims.Claim) []string {
	claimed := map[int64]int{}
	for _, c := range open {
		if c.Thing.Kind == claims.ItemKind {
			claimed[c.Thing.ID] += c.Quantity
		}
	}
	short := []string{}
	for _, f := range need {
		item, ok := items[f.ID]
		switch {
		case !ok:
			short = append(short, fmt.Sprintf("%d %s: not among the fittings yet", f.Count, f.ID))
		case !item.Counted && item.Low:
			short = append(short, item.Name+" runs low")
		case item.Counted && claimed[item.ID] < f.Count:
			short = append(short, fmt.Sprintf("%d %s short", f.Count-claimed[item.ID], item.Name))
		}
	}
	return short
}
