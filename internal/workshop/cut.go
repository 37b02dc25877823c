package workshop

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/timber"
)

// CuttingPlan is the plan of one board size and grade of a build: the boards that are its
// own. Where builds are cut together, a board belongs to the build that has the greatest
// length in it, and its layouts name the parts of other builds too (see [CuttingPlan.PartOf]).
type CuttingPlan struct {
	ID          int64
	CuttingID   int64 // 0: laid before builds could be cut together
	BuildID     int64
	SizeID      int64
	WidthMM     decimal.Decimal
	ThicknessMM decimal.Decimal
	Grade       string // poorest that its parts allow
	Asked       cutting.In
	Answered    CutAnswer
	LaidAt      time.Time
	AcceptedAt  *time.Time
	Cut         []int // boards of each layout that are cut already
}

// CutAnswer is the answer of the calculation, and what lay outside it.
type CutAnswer struct {
	cutting.Out
	// TooLong are parts that no free board is long enough for, or all parts where the rack
	// has no board at all.
	TooLong []cutting.PartCount `json:"too_long"`
	Asked   []cutting.Part      `json:"asked_parts"` // all parts of the board size, the too long ones too
	// Joint says that layouts name parts as BUILD/PART, for several builds are cut together.
	Joint bool `json:"joint,omitempty"`
	// Whole is the plan of all builds together, of which this is a share.
	Whole *WholePlan `json:"whole,omitempty"`
}

// WholePlan sums what the plan of one board size and grade takes for all its builds.
type WholePlan struct {
	Boards     int     `json:"boards"`
	LengthMM   float64 `json:"length_mm"`
	PinnedMM   float64 `json:"pinned_mm,omitempty"` // of it, boards that the maker wanted used
	Chosen     bool    `json:"chosen,omitempty"`    // the maker chose or left out boards
	MissingAny bool    `json:"missing,omitempty"`
}

// PartOf reads a part as a layout names it: for which build it is, and its id.
func (p CuttingPlan) PartOf(id string) (int64, string) {
	if !p.Answered.Joint {
		return p.BuildID, id
	}
	before, after, _ := strings.Cut(id, "/")
	build, err := strconv.ParseInt(before, 10, 64)
	if err != nil {
		return p.BuildID, id
	}
	return build, after
}

func jointID(build int64, part string) string { return fmt.Sprintf("%d/%s", build, part) }

// Note says how good the plan is, in plain words.
func (p CuttingPlan) Note() string {
	w := p.Answered.Whole
	if w == nil {
		w = &WholePlan{Boards: p.Answered.BoardsUsed, LengthMM: p.Answered.LengthUsedMM, MissingAny: len(p.Missing()) > 0}
	}
	if w.Boards == 0 {
		return "No board on the rack for this."
	}
	boards := fmt.Sprintf("%d boards", w.Boards)
	if w.Boards == 1 {
		boards = "1 board"
	}
	switch {
	case p.Answered.Proved:
		return boards + w.proof(p.Answered.BoundUnit)
	case w.MissingAny:
		return boards + "; about: a plan that places more parts may exist."
	}
	return boards + "; about: at most " + p.gap(w) + " more than needed."
}

// proof says what is proved.
func (w WholePlan) proof(unit string) string {
	switch {
	case w.MissingAny:
		return "; no plan places more of the parts."
	case w.PinnedMM > 0:
		return "; with those you chose, no plan takes less of the others."
	case w.Chosen && unit == cutting.UnitBoards:
		return "; without those you left out, no plan needs fewer."
	case w.Chosen:
		return fmt.Sprintf(", %s m; without those you left out, no plan takes less timber.", metresText(w.LengthMM))
	case unit == cutting.UnitBoards:
		return "; no plan needs fewer."
	}
	return fmt.Sprintf(", %s m; no plan takes less timber.", metresText(w.LengthMM))
}

// gap says by how much the plan may lie above the bound, percent rounded up to a tenth.
func (p CuttingPlan) gap(w *WholePlan) string {
	used := w.LengthMM
	switch p.Answered.BoundUnit {
	case cutting.UnitBoards:
		used = float64(w.Boards)
	case cutting.UnitCost:
		used = w.LengthMM - w.PinnedMM
	}
	bound := p.Answered.Bound.InexactFloat64()
	if bound <= 0 || used <= bound {
		return "a little"
	}
	return strconv.FormatFloat(math.Ceil((used/bound-1)*1000-1e-9)/10, 'f', 1, 64) + " %"
}

func metresText(mm float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(mm/1000, 'f', 1, 64), ".0")
}

// Left gives how many boards of a layout are not cut yet.
func (p CuttingPlan) Left(layout int) int {
	if layout >= len(p.Cut) {
		return p.Answered.Layouts[layout].Times
	}
	return p.Answered.Layouts[layout].Times - p.Cut[layout]
}

// Lot gives the lot of a layout's boards.
func (p CuttingPlan) Lot(layout int) (int64, error) {
	id, err := strconv.ParseInt(p.Answered.Layouts[layout].Board, 10, 64)
	if err != nil {
		return 0, fmt.Errorf("cutting plan %d: board %q: %w", p.ID, p.Answered.Layouts[layout].Board, err)
	}
	return id, nil
}

// lotsLeft sums the boards a plan still takes from each lot.
func (p CuttingPlan) lotsLeft() (map[int64]int, error) {
	used := map[int64]int{}
	for i := range p.Answered.Layouts {
		id, err := p.Lot(i)
		if err != nil {
			return nil, err
		}
		if n := p.Left(i); n > 0 {
			used[id] += n
		}
	}
	return used, nil
}

// Missing gives the parts that found no board.
func (p CuttingPlan) Missing() []cutting.PartCount {
	return append(slices.Clone(p.Answered.Unplaced), p.Answered.TooLong...)
}

// missingMM sums the lengths of the parts that found no board, end to end, and gives the
// longest of them.
func (p CuttingPlan) missingMM() (total, longest int64) {
	for _, m := range p.Missing() {
		i := slices.IndexFunc(p.Answered.Asked, func(q cutting.Part) bool { return q.ID == m.Part })
		if i < 0 {
			continue
		}
		length := int64(math.Ceil(p.Answered.Asked[i].LengthMM))
		total += length * int64(m.Count)
		longest = max(longest, length)
	}
	return total, longest
}

// planShortages says for each board size of an open build how much timber is short:
// what its plans could not place.
func planShortages(b Build) []timber.Shortage {
	var out []timber.Shortage
	for _, p := range b.Plans {
		if missing, longest := p.missingMM(); missing > 0 {
			out = append(out, timber.Shortage{SpeciesName: b.SpeciesName, WidthMM: p.WidthMM, ThicknessMM: p.ThicknessMM, MissingMM: missing, LongestMM: longest})
		}
	}
	return out
}

// Choices are the maker's own wishes for a cutting.
type Choices struct {
	Pinned  []int64      `json:"pinned"`   // lots to use before all others
	LeftOut []LotLeftOut `json:"left_out"` // boards not to use
}

// LotLeftOut is boards of a lot that are not to be used.
type LotLeftOut struct {
	LotID int64 `json:"lot_id"`
	Count int   `json:"count"` // 0: all of the lot
}

// any reports whether the maker chose at all.
func (c Choices) any() bool { return len(c.Pinned)+len(c.LeftOut) > 0 }

// of gives how many boards of a lot are left out when it has n.
func (c Choices) of(lot int64, n int) int {
	out := 0
	for _, o := range c.LeftOut {
		if o.LotID != lot {
			continue
		}
		if o.Count == 0 {
			return n
		}
		out += o.Count
	}
	return min(out, n)
}

// Totals are what a plan takes.
type Totals struct {
	Boards    int   `json:"boards"`
	LengthMM  int64 `json:"length_mm"` // of whole boards
	CostMinor int64 `json:"cost_minor"`
	MissingMM int64 `json:"missing_mm"` // parts that found no board, end to end
}

// group is what one call of the calculation plans: parts of one timber, board size and
// poorest grade, of one build or several.
type group struct {
	speciesID        int64
	width, thickness decimal.Decimal
	grade            string
	builds           []int64
	parts            []cutting.Part
	of               map[string]int64  // build by part
	plain            map[string]string // id of the part in its build
	lengths          map[string]float64
	asked            map[int64][]cutting.Part // by build, with its own ids
	joint            bool
	pinnedMM         float64
	chosen           bool
}

// groups sorts what builds still lack of their parts by timber, board size and grade. The
// better grades come first, for their parts can come from no other boards; otherwise the
// order is that of the parts.
func groups(builds []Build, done map[int64]map[string]int) []*group {
	var list []*group
	at := map[string]*group{}
	joint := len(builds) > 1
	for _, b := range builds {
		for _, p := range b.Parts {
			grade := p.Grade
			if grade == "" {
				grade = hive.Grades[len(hive.Grades)-1]
			}
			species := int64(0)
			if b.SpeciesID != nil {
				species = *b.SpeciesID
			}
			key := fmt.Sprintf("%d %s x %s %s", species, p.WidthMM, p.ThicknessMM, grade)
			g := at[key]
			if g == nil {
				g = &group{speciesID: species, width: p.WidthMM, thickness: p.ThicknessMM, grade: grade, joint: joint, of: map[string]int64{}, plain: map[string]string{},
					lengths: map[string]float64{}, asked: map[int64][]cutting.Part{}}
				at[key], list = g, append(list, g)
			}
			g.add(b.ID, p, p.Count-done[b.ID][p.ID])
		}
	}
	list = slices.DeleteFunc(list, func(g *group) bool { return len(g.parts) == 0 })
	slices.SortStableFunc(list, func(a, b *group) int { return gradeRank(a.grade) - gradeRank(b.grade) })
	return list
}

func (g *group) add(build int64, p BuildPart, n int) {
	if n <= 0 {
		return
	}
	id := p.ID
	if g.joint {
		id = jointID(build, p.ID)
	}
	length := p.LengthMM.InexactFloat64()
	g.parts = append(g.parts, cutting.Part{ID: id, LengthMM: length, Count: n})
	g.of[id], g.plain[id], g.lengths[id] = build, p.ID, length
	if g.asked[build] == nil {
		g.builds = append(g.builds, build)
	}
	g.asked[build] = append(g.asked[build], cutting.Part{ID: p.ID, LengthMM: length, Count: n})
}

func gradeRank(grade string) int { return slices.Index(hive.Grades, grade) }

// serves reports whether a board of a grade may serve where poorest is the poorest.
func serves(grade, poorest string) bool { return gradeRank(grade) <= gradeRank(poorest) }

// share splits the answer for a group into the plans of its builds: each board belongs to
// the build that has the greatest length in it.
func (g *group) share(in cutting.In, out cutting.Out, tooLong []cutting.PartCount) []CuttingPlan {
	plans := make([]CuttingPlan, len(g.builds))
	whole := &WholePlan{Boards: out.BoardsUsed, LengthMM: out.LengthUsedMM, PinnedMM: g.pinnedMM, Chosen: g.chosen, MissingAny: len(out.Unplaced)+len(tooLong) > 0}
	for i, b := range g.builds {
		mine := out
		mine.BoardsUsed, mine.LengthUsedMM, mine.Layouts, mine.Unplaced = 0, 0, []cutting.Layout{}, g.ownOf(b, out.Unplaced)
		plans[i] = CuttingPlan{BuildID: b, WidthMM: g.width, ThicknessMM: g.thickness, Grade: g.grade, Asked: in,
			Answered: CutAnswer{Out: mine, TooLong: g.ownOf(b, tooLong), Asked: g.asked[b], Joint: g.joint, Whole: whole}}
	}
	lengths := map[string]float64{}
	for _, b := range in.Boards {
		lengths[b.ID] = b.LengthMM
	}
	for _, l := range out.Layouts {
		a := &plans[slices.Index(g.builds, g.owner(l))].Answered
		a.BoardsUsed += l.Times
		a.LengthUsedMM += lengths[l.Board] * float64(l.Times)
		a.Layouts = append(a.Layouts, l)
	}
	return plans
}

func (g *group) ownOf(build int64, list []cutting.PartCount) []cutting.PartCount {
	own := []cutting.PartCount{}
	for _, p := range list {
		if g.of[p.Part] == build {
			own = append(own, cutting.PartCount{Part: g.plain[p.Part], Count: p.Count})
		}
	}
	return own
}

// owner is the build with the greatest length in a layout; of equal ones the first.
func (g *group) owner(l cutting.Layout) int64 {
	length := map[int64]float64{}
	for _, c := range l.Cuts {
		length[g.of[c.Part]] += g.lengths[c.Part] * float64(c.Count)
	}
	best := g.builds[0]
	for _, b := range g.builds {
		if length[b] > length[best]+1e-9 {
			best = b
		}
	}
	return best
}
