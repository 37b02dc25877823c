package cutting

import (
	"fmt"

	"github.com/shopspring/decimal"
)

// Check judges a plan on its own, from the input alone: every board exists and
// is there often enough, every layout fits with its kerfs and trim, every offcut
// is right, nothing is cut that was not asked for and nothing is lost, the totals
// add up, and the bound is not above what the plan needs. It shares no code with
// the search but the reading of a length in thousandths of a millimetre.
//
// It returns nil or what is wrong. in must be valid.
func Check(in In, out Out) error {
	j := newJudge(in)
	for i, l := range out.Layouts {
		if err := j.layout(l); err != nil {
			return fmt.Errorf("layout %d: %w", i, err)
		}
	}
	if err := j.account(in, out); err != nil {
		return err
	}
	return j.totals(in, out)
}

// judge gathers what a plan uses, in thousandths of a millimetre.
type judge struct {
	kerf, trim int
	boards     map[string]Board
	lengths    map[string]int // of parts
	boardsUsed map[string]int
	partsCut   map[string]int
	length     int
	longest    int // offcut
	cost       decimal.Decimal
	count      int
}

func newJudge(in In) *judge {
	j := &judge{boards: map[string]Board{}, lengths: map[string]int{}, boardsUsed: map[string]int{}, partsCut: map[string]int{}}
	j.kerf, _ = thousandths(in.KerfMM)
	j.trim, _ = thousandths(in.TrimMM)
	for _, b := range in.Boards {
		j.boards[b.ID] = b
	}
	for _, p := range in.Parts {
		j.lengths[p.ID], _ = thousandths(p.LengthMM)
	}
	return j
}

func (j *judge) layout(l Layout) error {
	b, ok := j.boards[l.Board]
	if !ok {
		return fmt.Errorf("there is no board %q", l.Board)
	}
	if l.Times < 1 || len(l.Cuts) == 0 {
		return fmt.Errorf("%d times %d cuts is no layout", l.Times, len(l.Cuts))
	}
	parts, pieces := 0, 0
	seen := map[string]bool{}
	for _, c := range l.Cuts {
		length, ok := j.lengths[c.Part]
		if !ok || seen[c.Part] || c.Count < 1 {
			return fmt.Errorf("%d of part %q: unknown, repeated or none", c.Count, c.Part)
		}
		seen[c.Part] = true
		parts += length * c.Count
		pieces += c.Count
		j.partsCut[c.Part] += c.Count * l.Times
	}
	whole, _ := thousandths(b.LengthMM)
	usable := whole - 2*j.trim
	left := usable - parts - (pieces-1)*j.kerf
	if left < 0 {
		return fmt.Errorf("board %q is short by %g mm", l.Board, float64(-left)/perMM)
	}
	offcut, exact := thousandths(l.OffcutMM)
	if want := max(0, left-j.kerf); !exact || offcut != want {
		return fmt.Errorf("offcut of board %q is %g mm, not %g", l.Board, float64(want)/perMM, l.OffcutMM)
	}
	j.longest = max(j.longest, offcut)
	j.boardsUsed[l.Board] += l.Times
	j.count += l.Times
	j.length += whole * l.Times
	if b.Cost != nil {
		j.cost = j.cost.Add(b.Cost.Mul(decimal.NewFromInt(int64(l.Times))))
	}
	return nil
}

// account compares boards with the rack, and parts with what was asked for.
func (j *judge) account(in In, out Out) error {
	for _, b := range in.Boards {
		if used := j.boardsUsed[b.ID]; used > b.Count {
			return fmt.Errorf("board %q is used %d times, there are %d", b.ID, used, b.Count)
		}
	}
	missing := map[string]int{}
	for _, u := range out.Unplaced {
		if u.Count < 1 || missing[u.Part] != 0 {
			return fmt.Errorf("unplaced part %q: repeated or none", u.Part)
		}
		missing[u.Part] = u.Count
	}
	for _, p := range in.Parts {
		if got := j.partsCut[p.ID] + missing[p.ID]; got != p.Count {
			return fmt.Errorf("part %q: %d cut and %d unplaced, %d wanted", p.ID, j.partsCut[p.ID], missing[p.ID], p.Count)
		}
		delete(missing, p.ID)
	}
	unplaced := 0
	for _, u := range out.Unplaced {
		unplaced += j.lengths[u.Part] * u.Count
	}
	said, exact := thousandths(out.UnplacedMM)
	least, _ := thousandths(out.LeastUnplacedMM)
	if said != unplaced || !exact || least < 0 || least > unplaced || out.Proved && least != unplaced {
		return fmt.Errorf("%g mm unplaced, at least %g: there are %g", out.UnplacedMM, out.LeastUnplacedMM, float64(unplaced)/perMM)
	}
	for id := range missing {
		return fmt.Errorf("unplaced part %q was never asked for", id)
	}
	return nil
}

func (j *judge) totals(in In, out Out) error {
	length, exact := thousandths(out.LengthUsedMM)
	if out.BoardsUsed != j.count || length != j.length || !exact {
		return fmt.Errorf("%d boards of %g mm in all, not %d of %g", j.count, float64(j.length)/perMM, out.BoardsUsed, out.LengthUsedMM)
	}
	keep := 0
	if in.KeepOffcutMM != nil {
		keep, _ = thousandths(*in.KeepOffcutMM)
	}
	if j.longest < keep {
		j.longest = 0
	}
	if kept, exact := thousandths(out.KeptOffcutMM); kept != j.longest || !exact {
		return fmt.Errorf("the longest kept offcut is %g mm, not %g", float64(j.longest)/perMM, out.KeptOffcutMM)
	}
	unit := UnitBoards
	for _, b := range in.Boards {
		if b.LengthMM != in.Boards[0].LengthMM {
			unit = UnitMM
		}
	}
	if len(in.Boards) > 0 && in.Boards[0].Cost != nil {
		unit = UnitCost
	}
	if (out.Cost != nil) != (unit == UnitCost) || out.Cost != nil && !out.Cost.Decimal.Equal(j.cost) {
		return fmt.Errorf("cost is %s, not %v", j.cost, out.Cost)
	}
	value := map[string]decimal.Decimal{
		UnitBoards: decimal.NewFromInt(int64(j.count)),
		UnitMM:     decimal.New(int64(j.length), -3),
		UnitCost:   j.cost,
	}[unit]
	switch {
	case out.BoundUnit != unit:
		return fmt.Errorf("the bound is in %s, not %s", unit, out.BoundUnit)
	case out.Bound.IsNegative() || out.Bound.GreaterThan(value):
		return fmt.Errorf("the bound %s lies above the plan's %s", out.Bound, value)
	case out.Proved && !out.Bound.Equal(value):
		return fmt.Errorf("proved, but the bound %s is not the plan's %s", out.Bound, value)
	}
	return nil
}
