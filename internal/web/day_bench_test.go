package web

import (
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
	"kerfbook/internal/workshop"
)

// oneBuild gives a browser before a book with one open build of two boxes.
func oneBuild(t *testing.T) *browser {
	t.Helper()
	b := newBrowser(t)
	species := b.addTimber()
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230")
	b.submit("form[action='/bench/models/1/draw']")
	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "revision_id", "1", "species_id", idText(species), "quantity", "2")
	require.Equal(t, "/bench/builds/1", b.Path)
	return b
}

// The maker never leaves the Day sheet: starts what is next, stops it, goes on, says it is
// done, and is asked about what nobody stopped.
func TestDaySheetStartsAndStops(t *testing.T) {
	t.Parallel()
	b := oneBuild(t)
	const start, stop, done = "section.now form[action$='/start']", "section.now form[action='/bench/clock/stop']", "section.now form[action$='/done']"
	b.get("/").has("section.now .lead", "Next at the bench: dock of B0001, 2 Small box").hasNot(stop)
	require.Equal(t, 1, b.Find("section.now button.main").Length(), "one obvious next step")
	b.submit(start)
	require.Equal(t, "/", b.Path)
	b.has(".said", "Your time runs.").has("section.now .lead", "Your time runs on dock of B0001")
	require.Equal(t, 1, b.Find("section.now button.main").Length())
	require.Equal(t, "Stop", b.Find("section.now button.main").Text())
	require.NotContains(t, b.Find(start).AttrOr("action", ""), "/1/start", "what runs is not what comes next")

	// One open for a person: starting the next one stops the first.
	b.submit(start)
	open := func() (n int) {
		require.NoError(t, b.db.QueryRow(t.Context(), `SELECT count(*) FROM time_spell WHERE stopped_at IS NULL`).Scan(&n))
		return n
	}
	require.Equal(t, 1, open())
	b.submit(stop)
	require.Equal(t, "/", b.Path)
	require.Zero(t, open())
	b.has(".said", "Stopped: ").has("section.now .lead", "Next at the bench: dock of B0001")
	b.submit(start).submit(done)
	require.Equal(t, "/", b.Path)
	require.Zero(t, open())
	b.has(".said", "Done.")
	require.NotContains(t, b.Find("section.now .lead").Text(), "dock of B0001", "it is done")

	// The plan in force says when.
	b.get("/bench/plan")
	_, err := b.server.Workshop.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = b.server.Workshop.PlanAccept(t.Context(), 1)
	require.NoError(t, err)
	for sql, words := range map[string]string{`now()`: "On the plan today: ", `now() - interval '3 days'`: "On the plan since ", `now() + interval '3 days'`: "Next on the plan, for "} {
		_, err = b.db.Exec(t.Context(), `UPDATE bench_plan_step SET starts_at = `+sql+`, ends_at = `+sql+` + interval '1 hour'`)
		require.NoError(t, err)
		b.get("/").has("section.now .lead", words)
	}

	// Forgotten: asked about with answers, and not a second time below.
	b.submit(start)
	_, err = b.db.Exec(t.Context(), `UPDATE time_spell SET started_at = now() - interval '8 hours' WHERE stopped_at IS NULL`)
	require.NoError(t, err)
	b.get("/").has("section.now .late", "Still running:").has("section.now .lead", "When did you stop?").hasNot(stop)
	answer := b.Find("section.now form[action^='/bench/clock/stopped/']").First().AttrOr("action", "")
	b.submit("section.now form[action='" + answer + "']")
	require.Equal(t, "/", b.Path)
	require.Zero(t, open())

	// Pressed when nothing runs any more: said on the Day sheet.
	b.get("/").submit(start)
	_, err = b.db.Exec(t.Context(), `UPDATE time_spell SET stopped_at = now() WHERE stopped_at IS NULL`)
	require.NoError(t, err)
	b.submit(stop)
	require.Equal(t, http.StatusConflict, b.Status)
	b.has("[role=alert]", "No time is running for you.").has("section.now .lead", "n the plan")
}

// The Day sheet with what runs on it, on a phone and on a desk.
func TestDayBenchToTheEye(t *testing.T) {
	t.Parallel()
	b := oneBuild(t)
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		e := eyes.Open(t, b.base, size)
		e.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		look := func(name string) {
			if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
				e.Picture(filepath.Join(dir, size.Name+"-day-"+name+".png"))
			}
			e.Look()
		}
		e.Go("/")
		look("next")
		e.Press("Start dock")
		look("running")
		_, err := b.db.Exec(t.Context(), `UPDATE time_spell SET started_at = now() - interval '8 hours' WHERE stopped_at IS NULL`)
		require.NoError(t, err)
		e.Go("/")
		look("forgotten")
		_, err = b.db.Exec(t.Context(), `DELETE FROM time_spell`)
		require.NoError(t, err)
	}
}
