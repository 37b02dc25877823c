package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// Ill in two taps, then whom to ring.
func TestIllPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.get("/settings/hours").has("main a[href='/settings/ill']", "I am ill")
	b.get("/settings/ill").submit("form[action='/settings/ill']", "to_on", "2001-01-01")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.get("/settings/ill").submit("form[action='/settings/ill']")
	require.Equal(t, "/settings/away/1/ring", b.Path)
	b.has(".said", "You are away until ")
	b.has("main", "Nobody is touched by these days.")
	_, err := b.server.DB.Exec(t.Context(), `INSERT INTO supplier (name, phone) VALUES ('Saw & Screw', '07 5550 0199')`)
	require.NoError(t, err)
	_, err = b.server.DB.Exec(t.Context(), `INSERT INTO purchase (supplier_id, ordered_on, expected_on) SELECT 1, from_on, to_on FROM away`)
	require.NoError(t, err)
	b.get("/settings/away/1/ring")
	require.Equal(t, "tel:0755500199", b.Find("main a[href^='tel:']").AttrOr("href", ""))
	require.Contains(t, b.Find("main a[href^='sms:']").AttrOr("href", ""), "sms:0755500199?body=Hello%20Saw%20%26%20Screw")
	b.submit("main form[action='/settings/away/1/ring']", "told", "yes")
	b.has("main tbody", "Not told after all")
}
