package web

import (
	"io"
	"net/http"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"
)

// A calendar is made on its page, read without a sign-in, and dead once withdrawn.
func TestCalendarPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.get("/settings/calendars").submit("form[action='/settings/calendars']", "name", "")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/settings/calendars']", "name", "My phone", "shows.runs", "yes")
	require.Equal(t, "/settings/calendars", b.Path)
	path := ""
	b.Find("main td a").Each(func(_ int, e *goquery.Selection) { path = e.AttrOr("href", "") })
	require.Regexp(t, `^/calendar/[A-Za-z0-9_-]{32}\.ics$`, path)
	read := func(path string) (int, string, http.Header) {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, b.base+path, nil)
		require.NoError(t, err)
		res, err := http.DefaultClient.Do(r) // no cookies: nobody is signed in
		require.NoError(t, err)
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		return res.StatusCode, string(body), res.Header
	}
	status, body, head := read(path)
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, body, "BEGIN:VCALENDAR\r\n")
	require.Equal(t, "private", head.Get("Cache-Control"))
	require.Equal(t, "text/calendar; charset=utf-8", head.Get("Content-Type"))
	for _, wrong := range []string{path + "x", path[:len(path)-4], path[:len(path)-6] + "AA.ics", "/calendar/.ics", "/calendar/%00.ics"} {
		status, _, _ := read(wrong)
		require.Equal(t, http.StatusNotFound, status, wrong)
	}
	b.submit("form[action='/settings/calendars/1']")
	status, _, _ = read(path)
	require.Equal(t, http.StatusNotFound, status)
}
