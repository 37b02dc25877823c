package web

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/door"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/idem"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/sales"
	"kerfbook/internal/searches"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// browser is a person with a phone: it keeps cookies, follows redirects and fills in the
// forms it is shown, hidden fields included.
type browser struct {
	t      testing.TB
	server *Server
	db     *postgres.DB
	base   string
	client *http.Client
	*goquery.Document
	Status int
	Header http.Header
	Path   string
}

// lines stands in for what a day asks.
type lines []answer.DayLine

func (l lines) DaySheet(context.Context, time.Time) ([]answer.DayLine, error) { return l, nil }

const testPassword = "stringybark and wax"

// emptyBook gives a browser before a book nobody has opened; edit may change the rooms.
func emptyBook(t testing.TB, edit ...func(*Deps)) *browser {
	t.Helper()
	db := pgtest.DB(t)
	long := searching(t, db)
	d := Deps{DB: db, Access: access.New(db, access.Options{Cost: access.TestCost, Remember: -1}), House: house.New(db), Sales: sales.New(db), Apiary: apiary.New(db), Timber: timber.New(db, timber.AirDry),
		Workshop: workshop.New(db), Handover: handover.New(db), Books: books.New(db), Searches: long, Answer: answer.New(db, answer.Rooms{Searches: long, Timber: timber.New(db, timber.AirDry)}), Answers: idem.New(db),
		Finder: answer.NewFinder(db), DayBook: answer.NewDayBook(db), Day: lines{}, Log: slog.New(slog.DiscardHandler)}
	for _, e := range edit {
		e(&d)
	}
	s, err := New(d)
	require.NoError(t, err)
	srv := httptest.NewServer(door.Wrap(s, door.Options{Log: slog.New(slog.DiscardHandler)}))
	t.Cleanup(srv.Close)
	return newPhone(t, s, srv.URL)
}

func newPhone(t testing.TB, s *Server, base string) *browser {
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return &browser{t: t, server: s, db: s.DB, base: base, client: &http.Client{Jar: jar}}
}

// newBrowser gives a browser signed in as the owner ("maker") of a workshop set up in
// Brisbane.
func newBrowser(t testing.TB, edit ...func(*Deps)) *browser {
	t.Helper()
	b := emptyBook(t, edit...)
	set := house.Standard()
	now := b.db.Now()
	set.Name, set.BusinessNumber, set.SetUpAt = "Test workshop", "51 824 753 556", &now
	_, err := b.server.House.SettingsPut(t.Context(), set)
	require.NoError(t, err)
	b.addAccount("maker", access.Owner)
	b.signIn("maker")
	return b
}

func (b *browser) addAccount(signIn string, role access.Role) {
	b.t.Helper()
	_, err := b.server.Access.AccountAdd(b.t.Context(), access.NewAccount{SignIn: signIn, Role: role, Password: testPassword})
	require.NoError(b.t, err)
}

func (b *browser) signIn(name string) {
	b.t.Helper()
	b.get("/sign-in")
	b.submit("form[action='/sign-in']", "sign_in", name, "password", testPassword)
	require.Equal(b.t, "/", b.Path)
}

// other gives another phone before the same server.
func (b *browser) other() *browser { return newPhone(b.t, b.server, b.base) }

// get loads a page.
func (b *browser) get(path string) *browser {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodGet, b.base+path, nil)
	require.NoError(b.t, err)
	return b.do(r)
}

func (b *browser) do(r *http.Request) *browser {
	b.t.Helper()
	res, err := b.client.Do(r)
	require.NoError(b.t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(b.t, err)
	require.NotEqual(b.t, http.StatusInternalServerError, res.StatusCode, "%s %s: %s", r.Method, r.URL, body)
	b.Document, err = goquery.NewDocumentFromReader(bytes.NewReader(body))
	require.NoError(b.t, err)
	b.Status, b.Header, b.Path = res.StatusCode, res.Header, res.Request.URL.RequestURI()
	return b
}

// submit fills the form that selector finds with names and values in turn and sends it
// with everything else that stands in it..
func (b *browser) submit(selector string, pairs ...string) *browser {
	b.t.Helper()
	form := b.Find(selector)
	require.Equal(b.t, 1, form.Length(), "forms that match %s on %s", selector, b.Path)
	values := formValues(form)
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] == "" {
			values.Del(pairs[i])
		} else {
			values.Set(pairs[i], pairs[i+1])
		}
	}
	action, _ := form.Attr("action")
	r := b.request(form, action, values)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return b.do(r)
}

func (b *browser) request(form *goquery.Selection, action string, values url.Values) *http.Request {
	b.t.Helper()
	var body io.Reader = strings.NewReader(values.Encode())
	kind := "application/x-www-form-urlencoded"
	if form.AttrOr("enctype", "") == "multipart/form-data" {
		var buf bytes.Buffer
		w := multipart.NewWriter(&buf)
		for name, list := range values {
			for _, v := range list {
				require.NoError(b.t, w.WriteField(name, v))
			}
		}
		require.NoError(b.t, w.Close())
		body, kind = &buf, w.FormDataContentType()
	}
	method := strings.ToUpper(form.AttrOr("method", "get"))
	address := b.base + action
	if method == http.MethodGet {
		address, body = address+"?"+values.Encode(), nil
	}
	r, err := http.NewRequestWithContext(b.t.Context(), method, address, body)
	require.NoError(b.t, err)
	if method == http.MethodPost {
		r.Header.Set("Content-Type", kind)
	}
	return r
}

// formValues gives what a browser would send of an untouched form.
func formValues(form *goquery.Selection) url.Values {
	values := url.Values{}
	form.Find("input[name], select[name], textarea[name]").Each(func(_ int, e *goquery.Selection) {
		name := e.AttrOr("name", "")
		_, checked := e.Attr("checked")
		switch kind := e.AttrOr("type", ""); {
		case goquery.NodeName(e) == "select":
			chosen := e.Find("option[selected]")
			if chosen.Length() == 0 {
				chosen = e.Find("option").First()
			}
			values.Add(name, chosen.AttrOr("value", chosen.Text()))
		case goquery.NodeName(e) == "textarea":
			values.Add(name, e.Text())
		case kind == "checkbox" || kind == "radio":
			if checked {
				values.Add(name, e.AttrOr("value", "on"))
			}
		case kind != "file":
			values.Add(name, e.AttrOr("value", ""))
		}
	})
	return values
}

// has fails the test unless the page shows text somewhere selector finds.
func (b *browser) has(selector, text string) *browser {
	b.t.Helper()
	require.Contains(b.t, b.Find(selector).Text(), text, "%s on %s", selector, b.Path)
	return b
}

// hasNot fails the test when selector finds anything.
func (b *browser) hasNot(selector string) *browser {
	b.t.Helper()
	require.Zero(b.t, b.Find(selector).Length(), "%s on %s", selector, b.Path)
	return b
}

// searching runs long searches until t ends.
func searching(t testing.TB, db *postgres.DB) *searches.Room {
	room := searches.New(db)
	t.Cleanup(room.Close)
	return room
}
