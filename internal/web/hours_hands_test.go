package web

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
	"kerfbook/internal/workshop"
)

// Second hands are put down, seen, changed and ended on pages.
func TestSecondHandsOnPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	const form = "form[action='/settings/hands/0']"
	b.get("/settings/hours").has("main", "Nobody helps at the bench.")
	b.get("/settings/hands/0")
	require.Equal(t, "08:00", b.Find("input[name='start']").AttrOr("value", ""), "when the day begins")
	b.submit(form)
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("#f-minutes-about", "Write a number")
	b.submit(form, "minutes", "-4", "day_2", "yes")
	b.has("#f-minutes-about", "Write a number")
	b.submit(form, "minutes", "0", "day_2", "yes")
	b.has("#f-minutes-about", "more than nothing")
	b.submit(form, "minutes", "4", "day_2", "", "day_4", "")
	b.has("#f-day_1-about, #f-day-1-about", "Tick the days")
	b.submit(form, "minutes", "4.5", "day_2", "yes", "day_4", "yes", "to_on", "2001-01-01")
	b.has("#f-to_on-about, #f-to-on-about", "before the first")
	b.submit(form, "to_on", "")
	require.Equal(t, "/settings/hands/1", b.Path)
	b.has(".said", "Tuesday and Thursday, 08:00 to 12:30")
	require.Equal(t, "4.5", b.Find("input[name='minutes']").AttrOr("value", ""))
	require.Equal(t, 1, b.Find("form[action='/bench/plan'] button").Length(), "the next step: lay the plan anew")
	b.get("/settings/hours").has("table", "A second pair of hands")
	b.get("/settings/hands/0").submit(form, "minutes", "1", "start", "12:00", "day_4", "yes")
	b.has("#f-start-about", "overlaps")
	b.submit(form, "who", "Ben")
	require.Equal(t, "/settings/hands/2", b.Path)
	b.submit("form[action='/settings/hands/2']", "minutes", "2")
	b.has(".said", "12:00 to 14:00")
	b.submit("form[action='/settings/hands/2/end']")
	b.has(".said", "had not begun")
	b.get("/settings/hands/2")
	require.Equal(t, http.StatusNotFound, b.Status)
}

// A thing that is put away shows first which builds it hurts, and goes after one tick more.
func TestThingPutAwayShowsWhatItHurts(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	species := b.addTimber()
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230")
	b.submit("form[action='/bench/models/1/draw']")
	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "quantity", "2", "species_id", idText(species), "revision_id", "1")
	require.Equal(t, http.StatusOK, b.Status)
	b.get("/bench/things").has("table", "clamps")
	clamps := b.Find("table a:contains('clamps')").AttrOr("href", "")
	b.get(clamps).has("table", "assemble")
	require.Zero(t, b.Find("input[name='sure']").Length())
	b.submit("form[action='"+clamps+"']", "put_away", "yes")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("main", "What this does to the open builds")
	b.has("table", "needs clamps")
	b.submit("form[action='"+clamps+"']", "put_away", "yes", "sure", "yes")
	b.has(".said", "Kept.")
	b.get("/bench/things").has("table", "put away")
	b.get("/bench/plan").has("main", "needs clamps")
}

// Things and hands on a phone and on a desk. KERFBOOK_TEST_PICTURES names a folder to keep
// pictures in.
func TestThingsAndHandsToTheEye(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	ctx := t.Context()
	m, err := s.server.Workshop.ModelGet(ctx, s.model)
	require.NoError(t, err)
	woods, err := s.server.Timber.SpeciesList(ctx, false)
	require.NoError(t, err)
	rev, err := s.server.Workshop.RevisionGet(ctx, *m.LatestID)
	require.NoError(t, err)
	rev.Body.Operations[0].Needs, rev.Body.Operations[0].OwnerOnly = []string{"long clamps"}, true
	rev, err = s.server.Workshop.RevisionAdd(ctx, workshop.Drawing{ModelID: s.model, Body: rev.Body, Reason: "clamps"})
	require.NoError(t, err)
	for range 2 {
		_, err = s.server.Workshop.BuildMake(ctx, workshop.BuildNew{RevisionID: rev.ID, Quantity: 6, SpeciesID: woods[0].ID})
		require.NoError(t, err)
	}
	hands, err := s.server.Workshop.SecondHandsSave(ctx, workshop.SecondHands{FromOn: s.db.Now().Truncate(24 * time.Hour), Weekdays: []int16{1, 6}, StartMinute: 480, Minutes: 300})
	require.NoError(t, err)
	things, err := s.server.Workshop.ThingList(ctx, false)
	require.NoError(t, err)
	paths := []string{"/settings/hands/0", "/settings/hands/" + idText(hands.ID), "/settings/hours", "/bench/things", "/bench/things/0", "/bench/revisions/" + idText(rev.ID)}
	for _, x := range things {
		paths = append(paths, "/bench/things/"+idText(x.ID))
	}
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		b := eyes.Open(t, s.base, size)
		b.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		for _, path := range paths {
			b.Go(path)
			if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
				b.Picture(filepath.Join(dir, size.Name+strings.ReplaceAll(path, "/", "-")+".png"))
			}
			b.Unfold().Look()
		}
	}
}
