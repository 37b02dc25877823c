package answer_test

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
)

var (
	streamPart = regexp.MustCompile(`(?s)stream\n(.*?)\nendstream`)
	fontSet    = regexp.MustCompile(`BT /F\S+ ([0-9.]+) Tf ET`)
)

// typeSizes gives the smallest type that each page of a PDF sets, in points.
func typeSizes(t testing.TB, pdf []byte) (out []float64) {
	t.Helper()
	for _, m := range streamPart.FindAllSubmatch(pdf, -1) {
		r, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue
		}
		text, err := io.ReadAll(r)
		if err != nil || !bytes.Contains(text, []byte(" Tf ET")) {
			continue
		}
		least := 1000.0
		for _, m := range fontSet.FindAllSubmatch(text, -1) {
			size, err := strconv.ParseFloat(string(m[1]), 64)
			require.NoError(t, err)
			least = min(least, size)
		}
		out = append(out, least)
	}
	return out
}

// Side one in 12 points and more, side two in 10.5, one leaf, for this buyer and place,
// whatever is known of it. Dusk: 2 March 2026 in Upper Moor, civil dusk by the NOAA solar
// calculator about 18:38 in Brisbane (27.5 south), from memory: only the hour is held.
func TestHandoverSheetOfAPlace(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name      string
		place     func(*sales.Site)
		want, not []string
	}{
		{"all is known", func(*sales.Site) {}, []string{"Dusk here today: 18:", "Midsummer, 21 December: ", "Midwinter, 21 June: ", "March Check mount", "January Hottest weeks"}, []string{"not measured", "at the workshop"}},
		{"northern", func(s *sales.Site) {
			s.Latitude, s.Longitude, s.TimeZone, s.WallFacesDeg = ptr(19.5), ptr(-99.1), "America/Mexico_City", ptr(180.0)
		}, []string{"Midwinter, 21 December: ", "Midsummer, 21 June: ", "March Busiest flight", "January Days without flight"}, []string{"at the workshop"}},
		{"no coordinates", func(s *sales.Site) { s.Latitude, s.Longitude = nil, nil }, []string{"18:", "at the workshop", "How many hours of sun reach the front", "January Hottest weeks"}, []string{"Midsummer"}},
		{"no eave", func(s *sales.Site) { s.EaveOutMM = nil }, []string{"Dusk here today: 18:", "eave were not measured"}, []string{"Midsummer"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.listPrices()
			tt.place(&w.site)
			var err error
			w.site, err = w.Sales.SitePut(t.Context(), w.site)
			require.NoError(t, err)
			given, err := w.HandOver(t.Context(), answer.Giving{UnitID: w.readyColony().ID, ReceivedBy: "Piers Holm", Fixing: "two coach screws into the studs and a locking screw from below", MassKG: ptr(11.5)})
			require.NoError(t, err)
			pdf, err := w.Paper(t.Context(), "handover", given.Handover.Number)
			require.NoError(t, err)
			sizes := typeSizes(t, pdf)
			require.Len(t, sizes, 2, "one leaf")
			require.GreaterOrEqual(t, sizes[0], 12.0)
			require.GreaterOrEqual(t, sizes[1], 10.5)
			text := sheetText(t, pdf)
			for _, want := range append(tt.want, "Ottoline Brandreth", "received by Piers Holm", "Upper Moor", "07 5550 0199", "Box until 1 March 2031, colony until 27 April 2026.", "locking screw from below") {
				require.Contains(t, text, want)
			}
			for _, not := range append(tt.not, "two leaves") {
				require.NotContains(t, text, not)
			}
		})
	}
}

// The site sheet says how the day will look from the run, and what to have ready for this
// wall; it goes out a week ahead.
func TestSiteSheetOfADay(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ wall, want, not string }{
		{"weatherboard", "screws into the studs", "anchors for masonry"},
		{"Brick veneer", "anchors for masonry", "studs"},
		{"fibro, 1962", "may hold asbestos until a test has said otherwise", "studs"},
		{"", "tell us what the wall or post is made of", "studs"},
	} {
		w := newWorld(t)
		w.listPrices()
		ctx := t.Context()
		w.site.Wall = tt.wall
		_, err := w.Sales.SitePut(ctx, w.site)
		require.NoError(t, err)
		u := w.readyColony()
		o, err := w.Sales.OrderOfUnit(ctx, u.ID)
		require.NoError(t, err)
		pdf, err := w.SiteSheet(ctx, o.ID)
		require.NoError(t, err)
		text := sheetText(t, pdf)
		for _, want := range []string{tt.want, "hour is agreed by phone", "a figure, not an approval", "asbestos", "insecticide", "Midsummer, 21 December", "Height: ", "Shade after noon", "kg when full"} {
			require.Contains(t, text, want, tt.wall)
		}
		require.NotContains(t, text, tt.not, tt.wall)
		ahead := func() (out []string) {
			for _, l := range w.left() {
				if l.Kind == "site sheet" {
					out = append(out, l.Text)
				}
			}
			return out
		}
		require.Empty(t, ahead(), "nobody comes yet")
		run, err := w.Handover.RunMake(ctx, handover.Run{RunOn: day("2026-03-12"), Stops: []handover.Stop{{UnitID: &u.ID, SiteID: &w.site.ID}}})
		require.NoError(t, err)
		require.Empty(t, ahead(), "ten days ahead")
		w.now = w.now.Add(3 * 24 * time.Hour)
		require.Equal(t, []string{"Send Ottoline Brandreth the site sheet for order " + o.Number + ": we come on Thu 12 Mar 2026."}, ahead())
		pdf, err = w.SiteSheet(ctx, o.ID)
		require.NoError(t, err)
		text = sheetText(t, pdf)
		require.Contains(t, text, "Thu 12 March 2026")
		require.Contains(t, text, "from then it is about 40 minutes", "24 km straight on the map, by 1.3, at 50 km/h: 38 minutes")
		require.Contains(t, text, "Dusk at your place that day is at 18:")
		_, err = w.MailPaper(ctx, "site", o.Number, answer.Letter{To: "o@example.org"})
		if err == nil {
			require.Empty(t, ahead(), "it was mailed")
		}
		require.NoError(t, w.Handover.RunCancel(ctx, run.ID, run.Version))
	}
}

// Ready but not fetched: reminded on the days of the settings, the last time with the terms.
func TestReadyButNotFetched(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	ctx := t.Context()
	u := w.readyColony()
	o, err := w.Sales.OrderOfUnit(ctx, u.ID)
	require.NoError(t, err)
	run, err := w.RunMake(ctx, answer.NewRun{On: day("2026-03-05"), Kind: "collection", UnitIDs: []int64{u.ID}})
	require.NoError(t, err)
	lines := func() (out []string) {
		for _, l := range w.left() {
			if l.Kind == "not fetched" {
				out = append(out, l.Text)
			}
		}
		return out
	}
	on := func(s string) { w.now = day(s).Add(12 * time.Hour) }
	on("2026-03-07")
	require.Empty(t, lines(), "two days after the day agreed")
	on("2026-03-08")
	require.Equal(t, []string{"Order " + o.Number + " stands ready for Ottoline Brandreth since Thu 5 Mar 2026 and is not fetched. Remind them: the words are ready."}, lines())
	got, err := w.FetchTold(ctx, o.ID)
	require.NoError(t, err)
	require.Equal(t, "2026-03-15", got.Next.Format(time.DateOnly), "ten days after the 5th")
	require.Empty(t, lines())
	on("2026-03-30")
	require.Len(t, lines(), 1)
	require.Contains(t, lines()[0], "The last reminder is due")
	got, err = w.FetchTold(ctx, o.ID)
	require.NoError(t, err)
	require.Len(t, got.Told, 2)
	require.NotContains(t, got.Told[0].Words, "goods left uncollected")
	require.Contains(t, got.Told[1].Words, "goods left uncollected")
	require.Empty(t, lines())
	require.NoError(t, w.Handover.RunCancel(ctx, run.ID, run.Version))
	w.given(u)
	none, err := w.UnfetchedGet(ctx, o.ID)
	require.NoError(t, err)
	require.Nil(t, none)
}

// A colony that is dead, or claimed by somebody else, cannot be handed over.
func TestColonyOfAnotherCannotGo(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	first := w.readyColony()
	living := w.colony()
	got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{{BeeSpeciesID: w.bees.ID, OwnBox: true}}})
	require.NoError(t, err)
	u := got.Order.Lines[0].Units[0]
	_, err = w.HandOver(t.Context(), answer.Giving{UnitID: u.ID, ColonyID: first.ColonyID, ReceivedBy: "Ottoline"})
	require.Error(t, err)
	require.True(t, strings.Contains(err.Error(), "promised") || strings.Contains(err.Error(), "aside"), err.Error())
	require.NoError(t, w.Apiary.End(t.Context(), living.ID, "robbed out", w.now))
	_, err = w.HandOver(t.Context(), answer.Giving{UnitID: u.ID, ColonyID: &living.ID, ReceivedBy: "Ottoline"})
	require.Error(t, err)
	require.Zero(t, w.count(`SELECT count(*)::int FROM handover`))
}
