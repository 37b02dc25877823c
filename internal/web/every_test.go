package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/PuerkitoBio/goquery"
	"github.com/labstack/echo/v4"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
)

// everyRoute gives the registered pages, with value for each part of the path that varies.
func everyRoute(s *Server, method, value string) []string {
	var list []string
	for _, r := range s.echo.Routes() {
		if r.Method != method || r.Path == "" || strings.HasPrefix(r.Path, "/static/") || r.Path == echo.RouteNotFound {
			continue
		}
		parts := strings.Split(r.Path, "/")
		for i, p := range parts {
			switch {
			case p == ":table":
				parts[i] = "party"
			case strings.HasPrefix(p, ":"):
				parts[i] = value
			}
		}
		list = append(list, strings.Join(parts, "/"))
	}
	slices.Sort(list)
	return list
}

// Every page answers, whatever stands in its address, and what it shows is in order: one
// heading, a label for every field, a key in every form that changes something, nothing
// inline.
func TestEveryPage(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.addAccount("jo", access.Helper)
	jo := b.other()
	jo.signIn("jo")
	for _, value := range []string{"1", "999999", "0", "-1", "x", "%00", "99999999999999999999"} {
		for _, path := range everyRoute(b.server, http.MethodGet, value) {
			for _, p := range []*browser{b, jo} {
				p.get(path)
				require.Less(t, p.Status, 500, path)
				if p.Status == http.StatusOK && p.Find("main").Length() > 0 {
					inOrder(t, p, path)
				}
			}
		}
	}
}

// plainForms need no key: sent twice they do no harm, or their answer may not be kept.
var plainForms = []string{"/sign-in", "/sign-out", "/cost"}

func inOrder(t *testing.T, b *browser, path string) {
	t.Helper()
	require.Equal(t, 1, b.Find("h1").Length(), "%s: one heading", path)
	require.NotEmpty(t, b.Find("title").Text(), path)
	for _, inline := range []string{"style", "[style]", "script:not([src])", "[onclick], [onsubmit], [onchange], [onload], [oninput]", "[href^='javascript:']"} {
		require.Zero(t, b.Find(inline).Length(), "%s: %s is forbidden by the content policy", path, inline)
	}
	ids := map[string]bool{}
	b.Find("[id]").Each(func(_ int, e *goquery.Selection) {
		id := e.AttrOr("id", "")
		require.False(t, ids[id], "%s: the id %s stands twice", path, id)
		ids[id] = true
	})
	b.Find("input:not([type=hidden]), select, textarea").Each(func(_ int, e *goquery.Selection) {
		id := e.AttrOr("id", "")
		labelled := e.AttrOr("aria-label", "") != "" || e.Closest("label").Length() > 0 || (id != "" && b.Find("label[for='"+id+"']").Length() > 0)
		require.True(t, labelled, "%s: the field %s has no label", path, e.AttrOr("name", "?"))
	})
	b.Find("form[method=post]").Each(func(_ int, e *goquery.Selection) {
		if !slices.Contains(plainForms, e.AttrOr("action", "")) {
			require.NotEmpty(t, e.Find("input[name=_key]").AttrOr("value", ""), "%s: the form to %s has no key", path, e.AttrOr("action", ""))
		}
	})
	b.Find("a[href], button").Each(func(_ int, e *goquery.Selection) {
		require.NotEmpty(t, strings.TrimSpace(e.Text())+e.AttrOr("aria-label", ""), "%s: a link or button without words", path)
	})
}

// A form with nothing in it, or with rubbish, is never our mistake, and makes nothing.
func TestEveryFormTakesRubbish(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	rubbish := []url.Values{
		{}, {"_key": {"k"}, "_version": {"many"}}, {"_key": {strings.Repeat("k", 300)}},
		{"_key": {"rubbish"}, "_version": {"-1"}, "_form": {"?"}, "deed": {"?"}, "name": {strings.Repeat("å", 5000)}, "quantity": {"1e9"}, "count": {"-3"}, "price": {"NaN"}, "happened_at": {"yesterday"}, "on": {"31/12"}, "party_id": {"0"}, "species_id": {"9e9"}},
	}
	for _, value := range []string{"1", "x"} {
		for _, path := range everyRoute(b.server, http.MethodPost, value) {
			if path == "/sign-out" {
				continue
			}
			for _, values := range rubbish {
				r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.base+path, strings.NewReader(values.Encode()))
				require.NoError(t, err)
				r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				b.do(r)
				require.Less(t, b.Status, 500, "%s %v", path, values)
			}
		}
	}
	require.Equal(t, "/me", b.get("/me").Path, "still signed in")
}

// notYet are pages that are still to come; take a line off with its page.
var notYet = []string{"/orders", "/orders/1"}

// The contents and the find line lead to pages that are there.
func TestPlacesHavePages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	there := append(everyRoute(b.server, http.MethodGet, "1"), notYet...)
	for kind := range places {
		require.Contains(t, there, hrefOf(kind, 1), kind)
	}
	for _, c := range contents {
		require.Contains(t, there, c.href, c.name)
	}
}
