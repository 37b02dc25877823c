package workshop

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
)

// CuttingPlan is the plan of one board size of a build, as it was asked and answered.
type CuttingPlan struct {
	ID          int64
	SizeID      int64
	WidthMM     decimal.Decimal
	ThicknessMM decimal.Decimal
	Asked       cutting.In
	Answered    CutAnswer
	LaidAt      time.Time
	AcceptedAt  *time.Time
}

// CutAnswer is the answer of the calculation, and what lay outside it.
type CutAnswer struct {
	cutting.Out
	// TooLong are parts that no free board is long enough for, or all parts where the rack
	// has no board at all.
	TooLong []cutting.PartCount `json:"too_long"`
	Asked   []cutting.Part      `json:"asked_parts"` // all parts of the board size, the too long ones too
}

// Note says how good the plan is, in plain words.
func (p CuttingPlan) Note() string {
	switch {
	case p.Answered.BoardsUsed == 0:
		return "No board on the rack for this."
	case p.Answered.Proved:
		return "No plan uses less timber: proved."
	}
	gap := p.Answered.LengthUsedMM - p.Answered.Bound.InexactFloat64()
	if p.Answered.BoundUnit != cutting.UnitMM || gap <= 0 {
		return "About: a plan that uses less may exist."
	}
	return fmt.Sprintf("About: at most %.0f mm of board could be saved.", gap)
}

// question makes the input of the cutting calculation for one board size: the parts that
// a free board is long enough for, and aside from it those that none is.
func question(parts []cutting.Part, free []timber.FreeLot, set house.Settings, today time.Time, limitMS int) (cutting.In, []cutting.PartCount) {
	trim := set.TrimMM.InexactFloat64()
	keep := float64(set.KeepOffcutMM)
	in := cutting.In{KerfMM: set.SawKerfMM.InexactFloat64(), TrimMM: trim, KeepOffcutMM: &keep, TimeLimitMS: &limitMS, Boards: []cutting.Board{}, Parts: []cutting.Part{}}
	longest := 0.0
	for _, f := range free {
		if float64(f.LengthMM) <= 2*trim {
			continue
		}
		age := max(0, today.Sub(f.FirstInOn).Hours()/24)
		in.Boards = append(in.Boards, cutting.Board{ID: strconv.FormatInt(f.LotID, 10), LengthMM: float64(f.LengthMM), Count: f.Free, Offcut: f.Offcut, AgeDays: age})
		longest = max(longest, float64(f.LengthMM)-2*trim)
	}
	tooLong := []cutting.PartCount{}
	for _, p := range parts {
		if p.LengthMM > longest {
			tooLong = append(tooLong, cutting.PartCount{Part: p.ID, Count: p.Count})
			continue
		}
		in.Parts = append(in.Parts, p)
	}
	return in, tooLong
}

// sizeKey names a board size by its figures.
func sizeKey(width, thickness decimal.Decimal) string {
	return width.String() + " x " + thickness.String()
}

// partsBySize sorts the parts of a build by board size, in their order.
func partsBySize(parts []BuildPart) ([]string, map[string][]cutting.Part) {
	var keys []string
	by := map[string][]cutting.Part{}
	for _, p := range parts {
		key := sizeKey(p.WidthMM, p.ThicknessMM)
		if _, ok := by[key]; !ok {
			keys = append(keys, key)
		}
		by[key] = append(by[key], cutting.Part{ID: p.ID, LengthMM: p.LengthMM.InexactFloat64(), Count: p.Count})
	}
	return keys, by
}

// lotsUsed sums the boards a plan takes from each lot.
func (p CuttingPlan) lotsUsed() (map[int64]int, error) {
	used := map[int64]int{}
	for _, l := range p.Answered.Layouts {
		id, err := strconv.ParseInt(l.Board, 10, 64)
		if err != nil {
			return nil, fmt.Errorf("cutting plan %d: board %q: %w", p.ID, l.Board, err)
		}
		used[id] += l.Times
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
