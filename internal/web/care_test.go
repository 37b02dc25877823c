package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The page behind a sheet's code is public, says how to keep the hive, and names nobody.
func TestCarePageNamesNobody(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	unit := b.readyUnit()
	require.Equal(t, int64(1), unit)
	b.get("/runs/hand-over/1").submit("form[enctype]", "received_by", "Ottoline Brandreth")
	h, err := b.server.Handover.Get(t.Context(), 1)
	require.NoError(t, err)
	b.get("/runs/handovers/1").has("a[href$='/sold-on']", "it was sold on")
	b.get(hrefOf("box", *h.BoxID)).has("main", "handed over with order")
	stranger := b.other()
	stranger.get("/care/" + *h.CareKey)
	require.Equal(t, http.StatusOK, stranger.Status)
	stranger.has("h1", "Keeping the hive").hasNot("nav.contents").hasNot(".wrong-top")
	for _, name := range []string{"Brandreth", "Quill"} {
		require.NotContains(t, stranger.Text(), name)
	}
	for _, guess := range []string{"/care/x", "/care/" + strings.Repeat("a", 28), "/care/"} {
		require.Equal(t, http.StatusNotFound, stranger.get(guess).Status, guess)
	}
	_, err = b.db.Exec(t.Context(), `UPDATE box SET stolen_at = now()`)
	require.NoError(t, err)
	stranger.get("/care/"+*h.CareKey).has(".wrong-top", "reported stolen on ").has(".wrong-top", "please ring")
}
