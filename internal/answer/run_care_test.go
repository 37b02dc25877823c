package answer_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
)

// beeRun plans a run with a colony in a box that stands at the workshop and goes to site.
func (w *world) beeRun(site sales.Site, forecast *float64) handover.Run {
	w.t.Helper()
	ctx := w.t.Context()
	w.listPrices()
	b := w.box()
	w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID = "box", &b.ID })
	got, err := w.OrderMake(ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &site.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID}}})
	require.NoError(w.t, err)
	u := got.Order.Lines[0].Units[0]
	require.NotNil(w.t, u.ColonyID)
	run, err := w.RunMake(ctx, answer.NewRun{On: day("2026-03-05"), UnitIDs: []int64{u.ID}, ForecastC: forecast})
	require.NoError(w.t, err)
	return run
}

func TestRunCareWarnsOfShortMovesAndHeat(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		lat, lon *float64
		forecast float64
		move     string // in the stop's warning
		heat     bool
	}{
		// One minute of arc of a meridian is about 1847 m there; 0.005 degrees are 554 m
		// (Bowring's series for the meridian on WGS 84, 110.78 km a degree at 27 S).
		{"within flight", ptr(-26.705), ptr(152.90), 39, "Moved only 554 m, and this kind flies 712 m", false},
		{"beyond flight", ptr(-26.707), ptr(152.90), 40, "", false},
		{"hot", ptr(-26.50), ptr(152.80), 40.5, "", true},
		{"unknown", nil, nil, 20, "where they go has no coordinates", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			site, err := w.Sales.SitePut(t.Context(), sales.Site{PartyID: &w.buyer.ID, Address: "9 Near Lane", Town: "Gully Flat", Region: "QLD", Latitude: c.lat, Longitude: c.lon})
			require.NoError(t, err)
			care, err := w.RunCare(t.Context(), w.beeRun(site, &c.forecast))
			require.NoError(t, err)
			if c.move == "" {
				require.Empty(t, last(care.Stops).Warnings)
			} else {
				require.Contains(t, last(care.Stops).Warnings[0], c.move)
			}
			require.Equal(t, c.heat, len(care.Lines) > 0, "%v", care.Lines)
		})
	}
}

func TestRunCareTimesAndMass(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	run := w.beeRun(w.site, ptr(25.0))
	care, err := w.RunCare(t.Context(), run)
	require.NoError(t, err)
	// Brisbane's day of 4 March 2026 ends about 18:10, civil twilight some 23 minutes later (from memory, to a few minutes).
	c := last(care.Stops)
	brisbane := time.FixedZone("Brisbane", 36000)
	require.WithinDuration(t, time.Date(2026, 3, 4, 18, 33, 0, 0, brisbane), *c.CloseAt, 8*time.Minute)
	require.Equal(t, 36*time.Hour, c.OpenBy.Sub(*c.CloseAt))
	drive := time.Duration(*run.KM/50*60)*time.Minute + 20*time.Minute
	require.WithinDuration(t, c.OpenBy.Add(-drive), *care.LeaveBy, 6*time.Minute)
	require.True(t, care.LeaveBy.Before(c.OpenBy.Add(-drive).Add(time.Minute)), "never later")

	w.species.DensityKgM3 = ptr(d("560"))
	w.species, err = w.Timber.SpeciesSave(t.Context(), w.species)
	require.NoError(t, err)
	care, err = w.RunCare(t.Context(), run)
	require.NoError(t, err)
	// Four sides of 300 mm and four of 200 mm, 100 x 28: 5.6 l of wood at 560 kg/m3 are
	// 3.14 kg. Inside are at most 7.1 l, and honey weighs 1.4 kg/l (from memory).
	require.Greater(t, *last(care.Stops).MassKG, 3.14)
	require.Less(t, *last(care.Stops).MassKG, 3.14+7.1*1.4)
	require.Zero(t, care.MassUnknown)
	require.Contains(t, care.MassWords(), "kg")
	to := &run.Stops[len(run.Stops)-1]
	to.UnitID, to.ColonyID = nil, nil
	care, err = w.RunCare(t.Context(), run)
	require.NoError(t, err)
	require.Equal(t, "not known", care.MassWords())
}

// last is the last of a run's stops: the only one to call at, where the closing round
// comes before it.
func last[T any](list []T) T { return list[len(list)-1] }
