package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
)

// everyPage are the kinds of pages an owner comes to by links from the Day sheet.
var everyPage = strings.Fields(`/ /ask /find /me /enquiries /enquiries/:id /quotes /quotes/:id /parties /parties/:id /parties/:id/site /sites/:id /prices
/orders /orders/:id /orders/new /orders/old /orders/shelf /orders/services /orders/services/:id /mail /books /books/tax /books/earned /books/ahead /books/standing-costs/:id /books/payments /books/payments/:id /books/invoices /books/invoices/:id
/bench /bench/evening /bench/done /bench/plan /bench/weather /bench/promises /bench/builds/new /bench/builds/:id /bench/cuttings/:id /bench/builds/:id/longer /bench/boxes /bench/boxes/new /bench/boxes/:id /bench/boxes/:id/sold-on /bench/boxes/:id/stolen /bench/boxes/stolen /found /bench/shelf /bench/models /bench/models/:id /bench/revisions/:id /bench/fits/:id /bench/options/:id /bench/things /bench/things/:id
/timber /timber/mill-next /timber/lots /timber/lots/new /timber/lots/:id /timber/count /timber/logs /timber/logs/new /timber/logs/look /timber/logs/:id /timber/logs/:id/sawing /timber/sizes /timber/packs/new /timber/packs/:id /timber/packs/:id/dress /timber/lots/:id/rip /timber/items /timber/items/:id
/timber/species /timber/species/:id /timber/climates /timber/climates/:id /timber/purchases /timber/purchases/new /timber/purchases/:id /timber/suppliers /timber/suppliers/:id
/bees /bees/colonies/new /bees/colonies/:id /bees/colonies/:id/split /bees/keeping /bees/keeping/new /bees/keeping/:id /bees/species/:id /bees/line/:id /bees/trees /bees/trees/new /bees/trees/:id /bees/trees/:id/change /bees/trees/:id/visit /bees/permits /bees/permits/:id /bees/movements
/runs /runs/new /runs/round /runs/:id /runs/hand-over/:id /runs/handovers/:id
/runs/asks /runs/survival /runs/claims /runs/claims/:id /settings/after
/settings /settings/sheets /settings/sheets/:name /settings/stand-in /settings/bring-in /settings/hours /settings/hands/:id /settings/ill /settings/calendars /settings/people /settings/tax /settings/tokens /history/:table/:id /photos/of/:table/:id`)

var (
	aNumber  = regexp.MustCompile(`/\d+(/|$)`)
	aWording = regexp.MustCompile(`/[a-z_]+\.tmpl$`)
	ofRecord = regexp.MustCompile(`^(/history|/photos/of)/[^/]+/`)
)

// kindOf gives the kind of page a path is.
func kindOf(path string) string {
	path, _, _ = strings.Cut(path, "?")
	path = aWording.ReplaceAllString(path, "/:name")
	path = aNumber.ReplaceAllString(path, "/:id$1")
	return ofRecord.ReplaceAllString(path, "$1/:table/")
}

// Every kind of page of the invented workshop, found by its links, is in order at both
// sizes.
func TestEveryPageOfTheDemo(t *testing.T) {
	t.Parallel()
	dir, err := os.MkdirTemp("/dev/shm", "kerfbook-pages-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	url, _ := start(t, nil, "demo", "--listen", "127.0.0.1:0", "--data", dir, "--days", "90")
	var in demoSignIn
	body, err := os.ReadFile(filepath.Join(dir, signInFile))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(body, &in))
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		t.Run(size.Name, func(t *testing.T) {
			t.Parallel()
			m := &maker{Browser: eyes.Open(t, url, size), t: t, size: size}
			m.Go("/sign-in")
			m.send("Sign in", "Name", in.User, "Password", in.Password)
			seen := m.crawl()
			for _, kind := range everyPage {
				require.Contains(t, seen, kind, "no link leads there")
			}
		})
	}
}

// further is how many more records are opened to find a kind of page that the first
// record of each kind does not lead to, such as a site when the first buyer has none.
const further = 60

// crawl sees one page of every kind that links lead to from the Day sheet, and gives the
// kinds. Which record of a kind comes first depends on the day, so where a wanted kind is
// missing it goes on to more records, without looking at those again.
func (m *maker) crawl() map[string]bool {
	m.t.Helper()
	seen, open := map[string]bool{"/": true}, map[string]bool{"/": true}
	var rest []string
	follow := func(href string, look bool) (next []string) {
		m.Go(href)
		if look {
			m.see()
		}
		for _, href := range eyes.Eval[[]string](m.Browser, `[...document.querySelectorAll('a[href^="/"]')].map(a => a.getAttribute('href').split('#')[0])`) {
			kind := kindOf(href)
			switch {
			case open[href] || strings.HasSuffix(kind, ".pdf") || strings.HasSuffix(kind, "/pdf") || strings.HasSuffix(kind, ".ics") || strings.HasPrefix(kind, "/static/") || strings.HasPrefix(kind, "/api/"):
			case !seen[kind]:
				seen[kind], open[href] = true, true
				next = append(next, href)
			case !ofRecord.MatchString(href):
				open[href] = true
				rest = append(rest, href)
			}
		}
		return next
	}
	list := []string{"/"}
	for more := 0; ; {
		switch {
		case len(list) > 0:
			list = append(list[1:], follow(list[0], true)...)
		case more < further && len(rest) > 0 && !allIn(seen, everyPage):
			href := rest[0]
			rest = rest[1:]
			list = append(list, follow(href, false)...)
			more++
		default:
			return seen
		}
	}
}

func allIn(seen map[string]bool, kinds []string) bool {
	for _, k := range kinds {
		if !seen[k] {
			return false
		}
	}
	return true
}
