package house_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/house"
	"kerfbook/internal/postgres/pgtest"
)

func TestAChangedFigureIsNoGuess(t *testing.T) {
	t.Parallel()
	r := house.New(pgtest.DB(t))
	ctx := t.Context()
	set := house.Standard()
	set.Name = "Gully Boxes"
	set, err := r.SettingsPut(ctx, set)
	require.NoError(t, err)
	require.NoError(t, r.GuessMark(ctx, "workshop.hour_cost_minor", "workshop.margin_pct", "workshop.trim_mm", "list_price.model:1"))
	set.HourCostMinor = 5200
	_, err = r.SettingsChange(ctx, set, "trim_mm")
	require.NoError(t, err)
	left, err := r.GuessList(ctx)
	require.NoError(t, err)
	require.Equal(t, map[string]bool{"workshop.margin_pct": true, "list_price.model:1": true}, left)
}
