package demo

import (
	"fmt"
	"math"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/timber"
)

// logsLying are three logs with their sawing days, so that drawn stands beside real, and
// two that still lie there: one for the mill, one too thick for it.
func (w *world) logsLying() {
	w.at(8, 40)
	size := func(n int64) decimal.Decimal { return decimal.NewFromInt(n) }
	enter := func(ago int, wood string, small, large, length, sweep int64, metal bool) timber.Log {
		return got(w.Timber.LogSave(w.ctx, timber.Log{SpeciesID: w.woods[wood].ID, SmallEndMM: size(small), LargeEndMM: size(large), LengthMM: size(length), SweepMM: size(sweep),
			FelledOn: ptr(w.last.AddDate(0, 0, -ago)), EndsSealed: true, MetalSuspected: metal, FromWhere: "Tin Kettle Creek, fence line", CostMinor: 14000, HaulageMinor: 4500}, false))
	}
	for i, part := range []float64{0.92, 0.78, 0.86} {
		ago := 75 - 25*i
		g := enter(ago+9, "white-cypress", 300+int64(10*i), 345+int64(10*i), 3000, 0, false)
		y := got(w.Answer.LogYield(w.ctx, g.ID))
		s := timber.Sawing{At: time.Date(w.last.Year(), w.last.Month(), w.last.Day()-ago, 11, 20, 0, 0, w.loc), Minutes: 85 + 10*i, Place: "lean-to", ClimateID: &w.climate}
		for _, z := range y.Sizes {
			if n := int(math.Round(float64(z.Boards) * part)); n > 0 {
				s.Boards = append(s.Boards, timber.SawnBoards{WidthMM: z.Green.WidthMM, ThicknessMM: z.Green.ThicknessMM, LengthMM: int(z.TotalMM) / z.Boards / 100 * 100, Count: n})
			}
		}
		if _, _, err := w.Answer.LogSaw(w.ctx, g.ID, g.Version, s); err != nil {
			ok(fmt.Errorf("log %s: %w", g.Number, err))
		}
	}
	enter(12, "hoop-pine", 620, 690, 4200, 40, true)
	enter(6, "white-cypress", 420, 465, 3600, 0, false)
}
