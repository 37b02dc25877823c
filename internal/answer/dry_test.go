package answer_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/sales"
)

// The promise leaves room for wet days where an operation needs dry weather, the more the
// wetter the place; an option's operation counts where the option is chosen.
func TestPromiseLeavesRoomForWetDays(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(4000, 100)
	w.haveScrews(1000)
	plain, oiled := sales.Wish{ModelID: w.model.ID, Count: 4}, sales.Wish{ModelID: w.model.ID, Count: 4, OptionIDs: []int64{w.oiled.ID}}
	before, beforeOiled := w.ask(plain), w.ask(oiled)
	_, err := w.Workshop.DryOperationsSet(t.Context(), w.model.ID, []string{"oil"})
	require.NoError(t, err)
	require.Equal(t, before.Units[0].BoxOn, w.ask(plain).Units[0].BoxOn)
	wet := w.ask(oiled)
	require.Contains(t, reasons(wet), "30 min of that needs dry weather; the date leaves room for wet days.", "by hand: 10 + 4 x 5")
	require.True(t, wet.Units[0].BoxOn.After(*beforeOiled.Units[0].BoxOn))
	var rain [12]float64
	for m := range rain {
		rain[m] = 24
	}
	require.NoError(t, w.Workshop.RainDaysSet(t.Context(), rain))
	require.True(t, w.ask(oiled).Units[0].BoxOn.After(*wet.Units[0].BoxOn), "wetter, later")
	_, err = w.Workshop.DryOperationsSet(t.Context(), w.model.ID, nil)
	require.NoError(t, err)
	require.Equal(t, beforeOiled.Units[0].BoxOn, w.ask(oiled).Units[0].BoxOn)
}
