package cutting

import (
	"fmt"
	"math"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/contract"
)

// Limits of the input; what lies outside is a slip of the finger or no workshop.
const (
	maxLengthMM   = 1e6    // a kilometre
	maxKerfMM     = 100    // twenty times a coarse saw
	maxPieces     = 100000 // parts in one plan, all counts together
	maxLines      = 2000   // lines of boards, and of parts
	maxBoardCount = 1000000
	maxTimeMS     = 600000
	maxCost       = 1e9
	maxDecimals   = 4   // of a cost
	maxIDBytes    = 200 // of an id
	perMM         = 1000
)

// thousandths gives a length in whole thousandths of a millimetre, and whether
// it is one: more than three decimals are not, float noise below 1e-6 mm is.
func thousandths(mm float64) (int, bool) {
	v := math.Round(mm * perMM)
	return int(v), math.Abs(mm*perMM-v) <= 1e-3
}

func validate(in In) error {
	var c contract.Checks
	checkLength(&c, "/kerf_mm", in.KerfMM, 0, maxKerfMM)
	checkLength(&c, "/trim_mm", in.TrimMM, 0, maxLengthMM)
	if in.KeepOffcutMM != nil {
		checkLength(&c, "/keep_offcut_mm", *in.KeepOffcutMM, 0, maxLengthMM)
	}
	if t := in.TimeLimitMS; t != nil && (*t < 1 || *t > maxTimeMS) {
		c.Add("/time_limit_ms", "must lie between 1 and %d", maxTimeMS)
	}
	if w := in.WorkLimit; w != nil && *w < 1 {
		c.Add("/work_limit", "must be at least 1")
	}
	if len(in.Boards) > maxLines {
		c.Add("/boards", "has %d lines; at most %d in one plan", len(in.Boards), maxLines)
	}
	switch {
	case len(in.Parts) == 0:
		c.Add("/parts", "name at least one part to cut")
	case len(in.Parts) > maxLines:
		c.Add("/parts", "has %d lines; at most %d in one plan", len(in.Parts), maxLines)
	}
	if err := c.Err(); err != nil {
		return err
	}
	checkBoards(&c, in.Boards)
	checkParts(&c, in.Parts)
	if err := c.Err(); err != nil {
		return err
	}
	checkTogether(&c, in)
	return c.Err()
}

func checkLength(c *contract.Checks, pointer string, v, low, high float64) bool {
	if !c.Number(pointer, v, low, high) {
		return false
	}
	if _, ok := thousandths(v); !ok {
		c.Add(pointer, "has more than three decimals; a thousandth of a millimetre is the finest step")
		return false
	}
	return true
}

func checkSize(c *contract.Checks, pointer string, v float64) {
	if checkLength(c, pointer, v, 0, maxLengthMM) && v <= 0 {
		c.Add(pointer, "must be above 0")
	}
}

func checkID(c *contract.Checks, pointer, id string, seen map[string]bool) {
	switch {
	case id == "":
		c.Add(pointer, "must not be empty")
	case len(id) > maxIDBytes:
		c.Add(pointer, "is longer than %d bytes", maxIDBytes)
	case seen[id]:
		c.Add(pointer, "%q stands twice in this list", id)
	}
	seen[id] = true
}

func checkBoards(c *contract.Checks, boards []Board) {
	seen := make(map[string]bool, len(boards))
	for i, b := range boards {
		at := fmt.Sprintf("/boards/%d", i)
		checkID(c, at+"/id", b.ID, seen)
		checkSize(c, at+"/length_mm", b.LengthMM)
		if b.Count < 1 || b.Count > maxBoardCount {
			c.Add(at+"/count", "must lie between 1 and %d", maxBoardCount)
		}
		c.Number(at+"/age_days", b.AgeDays, 0, 1e6)
		if b.Cost != nil {
			checkCost(c, at+"/cost", *b.Cost)
		}
		if (b.Cost == nil) != (boards[0].Cost == nil) {
			c.Add(at+"/cost", "must stand on every board or on none")
		}
	}
}

// checkCost looks at the exponent first, so that "1e999999999" costs nothing.
func checkCost(c *contract.Checks, pointer string, v Cost) {
	switch {
	case v.fault != "":
		c.Add(pointer, "%s", v.fault)
	case v.Exponent() < -40 || v.Exponent() > 10 || v.NumDigits() > 60:
		c.Add(pointer, "must be an amount between 0 and %.0f", float64(maxCost))
	case v.IsNegative() || v.GreaterThan(decimal.NewFromFloat(maxCost)):
		c.Add(pointer, "must be an amount between 0 and %.0f", float64(maxCost))
	case !v.Equal(v.Truncate(maxDecimals)):
		c.Add(pointer, "has more than %d decimals", maxDecimals)
	}
}

func checkParts(c *contract.Checks, parts []Part) {
	seen := make(map[string]bool, len(parts))
	pieces := 0
	for i, p := range parts {
		at := fmt.Sprintf("/parts/%d", i)
		checkID(c, at+"/id", p.ID, seen)
		checkSize(c, at+"/length_mm", p.LengthMM)
		if p.Count < 1 || p.Count > maxPieces {
			c.Add(at+"/count", "must lie between 1 and %d", maxPieces)
			continue
		}
		pieces += p.Count
	}
	if pieces > maxPieces {
		c.Add("/parts", "%d pieces in all; at most %d in one plan", pieces, maxPieces)
	}
}

// checkTogether refuses what only shows when fields meet: a kerf wider than a
// part, a trim that eats the boards, a part longer than every board.
func checkTogether(c *contract.Checks, in In) {
	longest, where := 0.0, -1
	for i, b := range in.Boards {
		if where < 0 || b.LengthMM > longest {
			longest, where = b.LengthMM, i
		}
	}
	usable := 0
	if where >= 0 {
		whole, _ := thousandths(longest)
		trim, _ := thousandths(in.TrimMM)
		if usable = whole - 2*trim; usable <= 0 {
			c.Add("/trim_mm", "twice %g mm leaves nothing of the longest board (%q, %g mm)", in.TrimMM, in.Boards[where].ID, longest)
			return
		}
	}
	for i, p := range in.Parts {
		length, _ := thousandths(p.LengthMM)
		if in.KerfMM > p.LengthMM {
			c.Add("/kerf_mm", "a kerf of %g mm is wider than part %q is long (%g mm)", in.KerfMM, p.ID, p.LengthMM)
		}
		if where >= 0 && length > usable {
			c.Add(fmt.Sprintf("/parts/%d/length_mm", i), "part %q is %g mm long; the longest board, %q, gives %g mm",
				p.ID, p.LengthMM, in.Boards[where].ID, float64(usable)/perMM)
		}
	}
}
