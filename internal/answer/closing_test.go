package answer_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
)

// near fails unless at is within two minutes of the time of day in Brisbane.
func near(t *testing.T, day, clock string, at *time.Time) {
	t.Helper()
	require.NotNil(t, at)
	want, err := time.Parse("2006-01-02 15:04 -0700", day+" "+clock+" +1000")
	require.NoError(t, err)
	require.WithinDuration(t, want, *at, 2*time.Minute)
}

// Civil dusk at 26.7 S 152.9 E on 4 March 2026, worked by hand: declination -6.4 degrees, so
// the sun is 6 degrees down at the hour angle arccos((sin -6 - sin -26.7 sin -6.4) /
// (cos -26.7 cos -6.4)) = 100.0 degrees = 6 h 40 min; noon is at 12:00 + 11.9 min (equation
// of time) - 11.6 min (2.9 degrees east of the zone's meridian): 18:40.
func TestTheClosingRoundIsAStopOfItsOwn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	site, err := w.Sales.SitePut(ctx, sales.Site{PartyID: &w.buyer.ID, Address: "9 Near Lane", Town: "Gully Flat", Region: "QLD", Latitude: ptr(-26.5), Longitude: ptr(152.8)})
	require.NoError(t, err)
	run := w.beeRun(site, nil)
	require.Len(t, run.Stops, 2)
	closing, call := run.Stops[0], run.Stops[1]
	require.True(t, closing.Closes())
	require.Equal(t, "Close 1 entrance (C0001) at the workshop", closing.What)
	require.Equal(t, closing.ID, *call.ClosedByID)
	care, err := w.RunCare(ctx, run)
	require.NoError(t, err)
	near(t, "2026-03-04", "18:40", care.Stops[0].CloseAt)
	near(t, "2026-03-04", "18:40", care.Stops[1].CloseAt)
	require.Equal(t, care.Stops[1].CloseAt.Add(36*time.Hour), *care.Stops[1].OpenBy)
	require.Nil(t, care.Stops[0].LegKM)
	require.NotNil(t, care.Stops[1].LegKM, "the way is that of the day")

	says := func(kind string) *answer.DayLine {
		for _, l := range w.left() {
			if l.Kind == kind {
				return &l
			}
		}
		return nil
	}
	at := func(s string) {
		got, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		w.now = got
	}
	at("2026-03-03T09:00:00+10:00")
	require.Nil(t, says("closing"))
	at("2026-03-04T09:00:00+10:00")
	require.Contains(t, says("closing").Text, "This evening after 18:40")
	require.False(t, says("closing").Late)
	at("2026-03-05T04:00:00+10:00")
	require.True(t, says("closing").Late)
	require.Contains(t, says("closing").Text, "close before first light")

	require.True(t, fault.Is(w.StopMark(ctx, closing.ID, "opened", w.now), fault.Invalid))
	require.NoError(t, w.StopMark(ctx, closing.ID, "done", w.now))
	require.Nil(t, says("closing"))
	run, err = w.Handover.RunGet(ctx, run.ID)
	require.NoError(t, err)
	require.NotNil(t, run.Stops[0].DoneAt)
	require.Nil(t, run.Stops[0].ClosedAt, "no hive stands at the closing stop itself")
	require.WithinDuration(t, w.now, *run.Stops[1].ClosedAt, 0)
	care, err = w.RunCare(ctx, run)
	require.NoError(t, err)
	require.WithinDuration(t, w.now.Add(36*time.Hour), *care.Stops[1].OpenBy, 0, "counted from when it was closed")

	// Put off while it was near its time; what is longer closed than the kind bears is said
	// all the same, first of all, and again on the next day.
	line := says("closed")
	require.False(t, line.Late)
	book := answer.NewDayBook(w.db)
	require.NoError(t, book.MarkDone(ctx, line.Subject))
	require.Nil(t, says("closed"))
	at("2026-03-06T17:00:00+10:00")
	require.Equal(t, "closed", w.left()[0].Kind)
	require.True(t, w.left()[0].Late)
	require.NoError(t, book.MarkDone(ctx, w.left()[0].Subject))
	require.Nil(t, says("closed"))
	at("2026-03-07T06:00:00+10:00")
	require.Equal(t, "closed", w.left()[0].Kind)
	require.NoError(t, w.StopMark(ctx, call.ID, "opened", w.now))
	require.Nil(t, says("closed"))
}

func TestHivesAreClosedWhereTheyStandOnTheEveningTheyAreLoaded(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	w.listPrices()
	var sites []sales.Site
	for _, lat := range []float64{-27.1, -26.9} { // the nearer one second
		s, err := w.Sales.SitePut(ctx, sales.Site{Name: "Stand", Address: "1 Back Road", Town: "Moran", Latitude: ptr(lat), Longitude: ptr(152.9)})
		require.NoError(t, err)
		sites = append(sites, s)
	}
	to, err := w.Sales.SitePut(ctx, sales.Site{PartyID: &w.buyer.ID, Address: "9 Near Lane", Town: "Gully Flat", Region: "QLD", Latitude: ptr(-26.5), Longitude: ptr(152.8)})
	require.NoError(t, err)
	var units []int64
	for _, at := range []*int64{&sites[0].ID, &sites[1].ID, &sites[0].ID} {
		b := w.box()
		w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.SiteID, n.Place = "box", &b.ID, at, "" })
		got, err := w.OrderMake(ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &to.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID}}})
		require.NoError(t, err)
		units = append(units, got.Order.Lines[0].Units[0].ID)
	}
	run, err := w.RunMake(ctx, answer.NewRun{On: day("2026-03-05"), UnitIDs: units, Loads: "dusk"})
	require.NoError(t, err)
	require.Len(t, run.Stops, 5)
	require.True(t, run.Stops[0].Closes())
	require.True(t, run.Stops[1].Closes())
	require.False(t, run.Stops[2].Closes())
	waits := map[int64]int{}
	for _, s := range run.Stops[2:] {
		waits[*s.ClosedByID]++
	}
	for _, s := range run.Stops[:2] {
		require.Equal(t, map[int64]int{sites[0].ID: 2, sites[1].ID: 1}[*s.SiteID], waits[s.ID])
	}
	care, err := w.RunCare(ctx, run)
	require.NoError(t, err)
	require.Equal(t, 5, care.Stops[0].CloseAt.In(w.zone(t)).Day(), "loaded in the evening: closed the same evening")
	// The last hive closed at its own stop ends the closing stop of its stand.
	for _, s := range run.Stops[2:] {
		require.NoError(t, w.StopMark(ctx, s.ID, "closed", w.now))
	}
	run, err = w.Handover.RunGet(ctx, run.ID)
	require.NoError(t, err)
	require.NotNil(t, run.Stops[0].DoneAt)
	require.NotNil(t, run.Stops[1].DoneAt)
	_, err = w.RunMake(ctx, answer.NewRun{On: day("2026-03-05"), UnitIDs: units, Loads: "noon"})
	require.True(t, fault.Is(err, fault.Invalid))
}

func (w *world) zone(t *testing.T) *time.Location {
	t.Helper()
	return time.FixedZone("Brisbane", 36000)
}

// A hive that stands beyond the polar circle has no dusk in June (and a site at the pole
// none ever): it is said, nothing is refused.
func TestNoDuskAtAStop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	w.listPrices()
	for _, lat := range []float64{78.2, 90, -90} {
		s, err := w.Sales.SitePut(ctx, sales.Site{Name: "Far", Address: "1 Ice Road", Town: "Far", Latitude: &lat, Longitude: ptr(15.6), TimeZone: "Arctic/Longyearbyen"})
		require.NoError(t, err)
		b := w.box()
		w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.SiteID, n.Place = "box", &b.ID, &s.ID, "" })
		got, err := w.OrderMake(ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &s.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID}}})
		require.NoError(t, err)
		run, err := w.RunMake(ctx, answer.NewRun{On: day("2026-06-21"), UnitIDs: []int64{got.Order.Lines[0].Units[0].ID}})
		require.NoError(t, err)
		care, err := w.RunCare(ctx, run)
		require.NoError(t, err)
		require.Nil(t, care.Stops[0].CloseAt)
		require.Contains(t, care.Stops[0].Warnings[0], "no dusk there")
		_, err = w.RunSheet(ctx, run.ID)
		require.NoError(t, err)
		w.now = time.Date(2026, 6, 20, 3, 0, 0, 0, time.UTC)
		lines, err := w.DaySheet(ctx, day("2026-06-20"))
		require.NoError(t, err)
		require.NotEmpty(t, lines)
		w.now = time.Date(2026, 3, 2, 3, 0, 0, 0, time.UTC)
		_, err = w.Sales.UnitGet(ctx, *last(run.Stops).UnitID)
		require.NoError(t, err)
		require.NoError(t, w.Handover.RunCancel(ctx, run.ID, run.Version))
	}
}

func TestAnExpiredPermitIsPointedOutAtAStop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	p, err := w.Apiary.PermitPut(ctx, apiary.Permit{Number: "M 4", Authority: "Biosecurity", Kind: "move", EndsOn: ptr(day("2026-03-04")), WarnDays: 30})
	require.NoError(t, err)
	c := w.colony(func(*apiary.NewColony) {})
	run, err := w.Handover.RunMake(ctx, handover.Run{RunOn: day("2026-03-05"), Stops: []handover.Stop{{ColonyID: &c.ID, What: "the colony", PermitID: &p.ID}}})
	require.NoError(t, err, "a plan under it is warned of, not refused")
	care, err := w.RunCare(ctx, run)
	require.NoError(t, err)
	require.Contains(t, strings.Join(care.Stops[0].Warnings, " "), "Permit M 4 of Biosecurity ended on 4 March 2026.")
	kinds := map[string]string{}
	for _, l := range w.left() {
		kinds[l.Kind] = l.Text
	}
	require.Equal(t, "Permit M 4 of Biosecurity ends on Wed 4 Mar 2026. Ask for the next one.", kinds["permit"])
	w.now = w.now.AddDate(0, 0, 3)
	for _, l := range w.left() {
		kinds[l.Kind] = l.Text
	}
	require.Contains(t, kinds["permit"], "and 1 thing stands under it")
	require.NoError(t, w.Handover.StopPermit(ctx, run.Stops[0].ID, nil))
	require.True(t, fault.Is(w.Handover.StopPermit(ctx, 999, nil), fault.NotFound))
	care, err = w.RunCare(ctx, must(w.Handover.RunGet(ctx, run.ID)))
	require.NoError(t, err)
	require.NotContains(t, strings.Join(care.Stops[0].Warnings, " "), "Permit M 4")
}

func TestAHandoverUnderAnEndedPermitIsWarnedOf(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	site, err := w.Sales.SitePut(ctx, sales.Site{PartyID: &w.buyer.ID, Address: "9 Near Lane", Town: "Gully Flat", Region: "QLD", Latitude: ptr(-26.5), Longitude: ptr(152.8)})
	require.NoError(t, err)
	run := w.beeRun(site, nil)
	p, err := w.Apiary.PermitPut(ctx, apiary.Permit{Number: "M 4", Authority: "Biosecurity", Kind: "move", EndsOn: ptr(day("2026-03-01"))})
	require.NoError(t, err)
	stop := last(run.Stops)
	require.NoError(t, w.Handover.StopPermit(ctx, stop.ID, &p.ID))
	given, err := w.HandOver(ctx, answer.Giving{UnitID: *stop.UnitID, RunStopID: &stop.ID, ReceivedBy: "Ottoline Brandreth"})
	require.NoError(t, err, "a fact is not refused")
	require.Contains(t, given.Warnings, "Permit M 4 of Biosecurity ended on 1 March 2026. The bees travelled under it all the same.")
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
