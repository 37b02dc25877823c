package timber

import (
	"encoding/json"
	"fmt"

	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
)

// MeterStep says what is true when the meter shows something, for one timber.
type MeterStep struct {
	ShowsPct decimal.Decimal `json:"shows_pct"`
	TruePct  decimal.Decimal `json:"true_pct"`
}

// mostMeterSteps is as many lines as a meter's booklet needs.
const mostMeterSteps = 12

// checkMeter checks that a meter's table rises in both columns.
func checkMeter(l *fault.List, steps []MeterStep) {
	l.Check(len(steps) <= mostMeterSteps, "/meter_table", "A meter's table has %d lines at most.", mostMeterSteps)
	for i, s := range steps {
		at := fmt.Sprintf("/meter_table/%d", i)
		pctBetween(l, at+"/shows_pct", s.ShowsPct, 1, 250)
		pctBetween(l, at+"/true_pct", s.TruePct, 1, 250)
		if i > 0 {
			l.Check(s.ShowsPct.GreaterThan(steps[i-1].ShowsPct), at+"/shows_pct", "Write the lines from the driest to the wettest, each reading once.")
			l.Check(s.TruePct.GreaterThanOrEqual(steps[i-1].TruePct), at+"/true_pct", "A higher reading cannot mean drier wood. Look at this line and the one above it.")
		}
	}
}

// CorrectMeter gives the true moisture, with one decimal, of a reading by a meter's table:
// straight lines between its lines, and beyond its ends the difference of the end. ok is
// false where the table is empty. The result lies between 1 and 250 %.
func CorrectMeter(steps []MeterStep, shows decimal.Decimal) (truePct decimal.Decimal, ok bool) {
	if len(steps) == 0 {
		return shows, false
	}
	last := steps[len(steps)-1]
	got := shows.Add(last.TruePct).Sub(last.ShowsPct)
	for i, s := range steps {
		if shows.GreaterThan(s.ShowsPct) {
			continue
		}
		if i == 0 {
			got = shows.Add(s.TruePct).Sub(s.ShowsPct)
			break
		}
		low := steps[i-1]
		got = low.TruePct.Add(shows.Sub(low.ShowsPct).Mul(s.TruePct.Sub(low.TruePct)).Div(s.ShowsPct.Sub(low.ShowsPct)))
		break
	}
	return decimal.Min(decimal.Max(got.Round(1), decimal.NewFromInt(1)), decimal.NewFromInt(250)), true
}

// meterJSON writes a meter's table for the database.
func meterJSON(steps []MeterStep) ([]byte, error) {
	if steps == nil {
		steps = []MeterStep{}
	}
	return json.Marshal(steps)
}
