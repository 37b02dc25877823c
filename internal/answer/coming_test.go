package answer_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
)

// Issue point 6: purchases with lead days; what is on order is dated by the day on which it
// is expected.
func TestWhatIsOnOrderIsDated(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	wish := sales.Wish{ModelID: w.model.ID, Count: 1}
	before := strings.Join(reasons(w.ask(wish)), "\n")
	require.Contains(t, before, "It must be milled or bought first.")
	require.Contains(t, before, "they take 14 days to come.")
	line := timber.PurchaseLine{Brings: timber.BringsBoards, Quantity: 3, CostExTaxMinor: 9000}
	line.SpeciesID, line.WidthMM, line.ThicknessMM, line.LengthMM = &w.species.ID, ptr(d("100")), ptr(d("28")), ptr(2400)
	today := w.now
	expected, soon := day(today.AddDate(0, 0, 20).Format("2006-01-02")), day(today.AddDate(0, 0, 3).Format("2006-01-02"))
	_, err := w.Timber.PurchaseOrder(t.Context(), timber.Purchase{OrderedOn: day(today.Format("2006-01-02")), ExpectedOn: &expected,
		Lines: []timber.PurchaseLine{line}})
	require.NoError(t, err)
	_, err = w.Timber.PurchaseOrder(t.Context(), timber.Purchase{OrderedOn: day(today.Format("2006-01-02")), ExpectedOn: &soon, Lines: []timber.PurchaseLine{{ItemID: &w.screws.ID, Quantity: 500, CostExTaxMinor: 1000}}})
	require.NoError(t, err)
	a := w.ask(wish)
	after := strings.Join(reasons(a), "\n")
	require.Contains(t, after, "boards on order give the rest")
	require.Contains(t, after, "more is on order, expected on")
	require.NotNil(t, a.BoxOn)
	require.False(t, a.BoxOn.Before(expected), "not before the boards are here: %s", a.BoxOn)
	for _, c := range a.Cost {
		if c.Kind == "timber" {
			require.Contains(t, c.What, "at the standard cost")
		}
	}
}

// Issue point 6: the answer takes the cost of the lots the parts are laid on.
func TestAnswerTakesTheCostOfTheLots(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	timberCost := func() int64 {
		for _, c := range w.ask(sales.Wish{ModelID: w.model.ID, Count: 1}).Cost {
			if c.Kind == "timber" {
				require.Contains(t, c.What, "at the cost of the boards on the rack")
				return c.CostMinor
			}
		}
		return 0
	}
	w.rack(2400, 3)
	standard := timberCost()
	double := 2 * w.species.MetreCostMinor
	_, err := w.Timber.LotIn(t.Context(), timber.LotKey{SpeciesID: w.species.ID, WidthMM: d("100"), ThicknessMM: d("28"), LengthMM: 2400, MetreCostMinor: &double}, 3, timber.Bought, w.now, "")
	require.NoError(t, err)
	require.InDelta(t, 1.5*float64(standard), float64(timberCost()), 1, "three boards at the standard cost and three at twice that, mixed in one lot")
}
