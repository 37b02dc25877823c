package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/show"
)

// The maker starts with one tap, forgets to stop, is asked, mends the time, and writes
// yesterday down without having tapped.
func TestEveningPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	species := b.addTimber()
	b.get("/bench/evening").has("main", "No build was open that day.")
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230")
	b.submit("form[action='/bench/models/1/draw']")
	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "revision_id", "1", "species_id", idText(species), "quantity", "2")
	require.Equal(t, "/bench/builds/1", b.Path)
	b.get("/bench").has(".lead", "Next: ")
	b.submit("main form[action='/bench/operations/1/start']")
	_, err := b.server.DB.Exec(t.Context(), `UPDATE time_spell SET started_at = now() - interval '8 hours'`)
	require.NoError(t, err)
	b.get("/bench/evening").has(".lead", "When did you stop?")
	action := b.Find("main form[action^='/bench/clock/stopped/']").First().AttrOr("action", "")
	b.submit("main form[action='" + action + "']")
	b.has(".said", "Stopped: ")
	b.get("/bench/spells/1").submit("form[action='/bench/spells/1/mend']", "started_at", "yesterday")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.get("/bench/spells/1").submit("form[action='/bench/spells/1/strike']")
	b.has(".said", "That time is out.")
	on := show.ISODate(time.Now().AddDate(0, 0, -2))
	b.get("/bench/evening?on="+on).submit("form[action='/bench/evening']", "hours", "")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/bench/evening']", "hours", "05:30", "done.1", "yes", "worked.2", "yes")
	require.Equal(t, "/bench/evening?on="+on, b.Path)
	b.has(".said", "The day is written down.")
	require.Len(t, b.rows(), 2)
	b.get("/bench/evening?on=9999-01-01")
	require.Less(t, b.Status, 500)
	require.GreaterOrEqual(t, b.Status, 400)
	b.get("/bench/evening?on=x")
	require.Less(t, b.Status, 500)
}
