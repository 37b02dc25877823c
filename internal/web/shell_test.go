package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/jba/templatecheck"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/house"
	"kerfbook/internal/workshop"
)

// Every template is type-checked against the struct of its page, in every branch.
func TestTemplatesFitTheirPages(t *testing.T) {
	t.Parallel()
	pages, err := parsePages()
	require.NoError(t, err)
	for name, view := range pageTypes {
		require.NoError(t, templatecheck.CheckHTML(pages[name].Lookup("layout"), view), "page %s", name)
	}
	for name := range pages {
		if name != "sorry" {
			require.Contains(t, pageTypes, name, "templates/pages/%s has no page", name)
		}
	}
}

func TestSetUpOpensAnEmptyBook(t *testing.T) {
	t.Parallel()
	b := emptyBook(t).get("/")
	require.Equal(t, "/set-up", b.Path)
	b.submit("form[action='/set-up']", "name", "", "sign_in", "maker", "password", "short", "password_again", "short", "registered", "no")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".wrong-top", "Not taken").has("#f-name-about", "Give the workshop a name")
	require.Equal(t, "maker", b.Find("#f-sign-in").AttrOr("value", ""), "what was typed is kept")
	require.Empty(t, b.Find("#f-password").AttrOr("value", ""), "but not the password")

	b.submit("form[action='/set-up']", "name", "Gully Boxes", "sign_in", "maker", "password", "short", "password_again", "short")
	b.has("#f-password-about", "at least 10 characters")
	b.submit("form[action='/set-up']", "password", testPassword, "password_again", testPassword, "time_zone", "Australia/Perth", "price", "420", "model", "deep-honey-230")
	require.Equal(t, "/", b.Path)
	b.has(".workshop", "Gully Boxes").has("h1", "Day sheet")
	set, err := b.server.House.SettingsGet(t.Context())
	require.NoError(t, err)
	require.Equal(t, "Australia/Perth", set.TimeZone)
	require.NotNil(t, set.SetUpAt)
	guesses, err := b.server.House.GuessList(t.Context())
	require.NoError(t, err)
	require.True(t, guesses["workshop.hour_cost_minor"])

	require.True(t, guesses["list_price.model:1"])
	require.True(t, guesses["work_week"])
	week, err := b.server.Workshop.WeekAt(t.Context(), set.Today(b.db.Now()))
	require.NoError(t, err)
	require.Len(t, week.Hours, 5)
	require.Equal(t, workshop.Hours{Weekday: 1, StartMinute: 480, EndMinute: 960, Hands: 1}, week.Hours[0])
	models, err := b.server.Workshop.ModelList(t.Context(), false)
	require.NoError(t, err)
	require.Equal(t, "Deep-honey 230", models[0].Name)
	require.Equal(t, 1, models[0].Latest)
	prices, err := b.server.Sales.PricesOn(t.Context(), set.Today(b.db.Now()))
	require.NoError(t, err)
	require.Equal(t, int64(42000), prices["model:1"].PriceMinor)

	stranger := b.other().get("/set-up")
	require.Equal(t, http.StatusConflict, stranger.Status)
}

func TestSignInComesBackToThePage(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	other := b.other().get("/settings/people")
	require.Equal(t, "/sign-in?next=%2Fsettings%2Fpeople", other.Path)
	other.submit("form", "sign_in", "maker", "password", "something else")
	require.Equal(t, http.StatusUnauthorized, other.Status)
	other.has(".wrong-top", "name or the password is not right")
	other.submit("form", "password", testPassword)
	require.Equal(t, "/settings/people", other.Path)
	other.submit("form[action='/sign-out']")
	require.Equal(t, "/sign-in", other.Path)
	require.Equal(t, "/sign-in", other.get("/").Path)
}

func TestNextStaysHere(t *testing.T) {
	t.Parallel()
	for _, href := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`, "javascript:alert(1)", "orders", ""} {
		require.Equal(t, "/", local(href), href)
	}
	require.Equal(t, "/orders?x=1", local("/orders?x=1"))
}

func TestHelpersSeeTheirPagesOnly(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.get("/settings/people").submit("form[action='/settings/people']", "name", "Jo", "sign_in", "jo", "password", testPassword)
	b.has(".said", "Jo can sign in now.")
	jo := b.other()
	jo.signIn("jo")
	var nav []string
	jo.Find("nav.contents a").Each(func(_ int, e *goquery.Selection) { nav = append(nav, e.Text()) })
	require.Equal(t, []string{"Day sheet", "Bench", "Timber", "Runs"}, nav)
	jo.hasNot("a.ask").hasNot("form[action='/cost']")
	require.Equal(t, http.StatusForbidden, jo.get("/settings/people").Status)

	b.submit("form[action^='/settings/people/']", "deed", "disable")
	b.has(".said", "Jo can no longer sign in.")
	require.Equal(t, "/sign-in", jo.get("/").Path)
}

// A form sent twice works once, and the second answer is the first.
func TestFormSentTwice(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/settings/people")
	values := formValues(b.Find("form[action='/settings/people']"))
	require.NotEmpty(t, values.Get("_key"))
	values.Set("sign_in", "jo")
	values.Set("password", testPassword)
	for range 2 {
		r := b.request(b.Find("form[action='/settings/people']"), "/settings/people", values)
		again := *b
		again.do(r)
		require.Equal(t, http.StatusOK, again.Status)
		again.has(".said", "jo can sign in now.")
	}
	list, err := b.server.Access.AccountList(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 2)
	values.Set("sign_in", "other")
	b.do(b.request(b.Find("form[action='/settings/people']"), "/settings/people", values))
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("main", "taken once already")
}

func TestStaleForm(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.addAccount("jo", access.Helper)
	b.get("/settings/people")
	_, err := b.db.Exec(t.Context(), `UPDATE account SET name = 'Jo B' WHERE sign_in = 'jo'`)
	require.NoError(t, err)
	b.submit("form[action^='/settings/people/']", "deed", "disable")
	require.Equal(t, http.StatusPreconditionFailed, b.Status)
	b.has(".wrong-top", "Somebody changed this sign-in")
}

func TestTokenIsShownOnce(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/settings/tokens").submit("form[action='/settings/tokens']", "name", "till")
	secret := b.Find(".secret").Text()
	p, err := b.server.Access.TokenPerson(t.Context(), secret)
	require.NoError(t, err)
	require.Equal(t, "maker", p.SignIn)
	b.get("/settings/tokens").hasNot(".secret")
	b.submit("form[action^='/settings/tokens/']").has(".said", "withdrawn")
	_, err = b.server.Access.TokenPerson(t.Context(), secret)
	require.Error(t, err)
}

func TestPasswordChangeSignsOthersOut(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	other := b.other()
	other.signIn("maker")
	b.get("/me").submit("form[action='/me']", "old_password", "not this one", "password", "a better password", "password_again", "a better password")
	b.has("#f-old-password-about", "not the present password")
	b.submit("form[action='/me']", "old_password", testPassword, "password", "a better password", "password_again", "a better password")
	require.Equal(t, http.StatusOK, b.Status)
	require.Equal(t, "/me", b.get("/me").Path, "this phone stays signed in")
	require.Equal(t, "/sign-in", other.get("/").Path)
}

func TestCostHidesAtOneTap(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/").submit("form[action='/cost']")
	require.Equal(t, "/", b.Path)
	b.has("form[action='/cost']", "Show cost and margin")
	b.submit("form[action='/cost']").has("form[action='/cost']", "Hide cost and margin")
}

func TestDaySheetMarks(t *testing.T) {
	t.Parallel()
	day := house.DateIn(time.Now(), time.UTC)
	sheet := lines{
		{Subject: "quote:1:runs-out", Kind: "quote", Text: "Quote Q1 runs out", Href: "/quotes/1", Area: access.Enquiries, Due: day.AddDate(0, 0, 2)},
		{Subject: "build:2:due", Kind: "build", Text: "Build B2 is due", Href: "/bench/builds/2", Area: access.Bench, Due: day.AddDate(0, 0, -3), Late: true},
	}
	b := newBrowser(t, func(d *Deps) { d.Day = sheet }).get("/")
	require.Equal(t, 2, b.Find("ol.lines > li").Length())
	b.has("ol.lines > li:first-child .late", "Late").has("ol.lines > li:first-child", "Build B2")
	b.addAccount("jo", access.Helper)
	jo := b.other()
	jo.signIn("jo")
	require.Equal(t, 1, jo.Find("ol.lines > li").Length(), "a helper sees what is theirs")
	b.submit("ol.lines > li:first-child form", "deed", "off-1").has(".said", "Put off to")
	require.Equal(t, 1, b.Find("ol.lines > li").Length())
	b.submit("ol.lines > li:first-child form", "deed", "done").has("main", "Nothing asks for you today")
}

func TestErrorPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	require.Equal(t, http.StatusNotFound, b.get("/nowhere").Status)
	b.has("main", "no page at this address").has("nav.contents", "Day sheet")
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.base+"/day", strings.NewReader("deed=done&subject=x"))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	require.Equal(t, http.StatusForbidden, b.do(r).Status)

	b.get("/me").submit("form[action='/me']", "old_password", strings.Repeat("x", 2<<20))
	require.Equal(t, http.StatusRequestEntityTooLarge, b.Status)
	b.get("/settings/people").submit("form[action='/settings/people']", "name", "a\x00b")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
}

func TestWithoutTheDatabase(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/")
	b.db.Close()
	b.get("/settings")
	require.Equal(t, http.StatusServiceUnavailable, b.Status)
	b.has("h1", "Not now")
}

func TestStaticFilesAreKeptForGood(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/")
	href := b.Find("link[rel=stylesheet]").AttrOr("href", "")
	res, err := b.client.Get(b.base + href)
	require.NoError(t, err)
	defer res.Body.Close()
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Equal(t, "text/css; charset=utf-8", res.Header.Get("Content-Type"))
	require.Contains(t, res.Header.Get("Cache-Control"), "immutable")
	require.NotContains(t, res.Header.Get("Content-Security-Policy"), "unsafe")
	for _, bad := range []string{"/static/x/..%2fserver.go", "/static/x/nothing.css"} {
		require.Equal(t, http.StatusNotFound, b.get(bad).Status, bad)
	}
}

// Nothing in the pages needs inline script or style, which the content policy forbids.
func TestNothingInline(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	for _, path := range []string{"/", "/find", "/settings", "/settings/people", "/settings/tokens", "/me"} {
		b.get(path).hasNot("style").hasNot("[style]").hasNot("script:not([src])").hasNot("[onclick], [onsubmit], [onchange], [onload]")
		require.Equal(t, 1, b.Find("h1").Length(), path)
	}
}

func TestFindGoesStraightToASingleRecord(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	ctx := t.Context()
	for _, sql := range []string{
		`INSERT INTO party (name, town) VALUES ('Ada Longmire', 'Gympie'), ('Ada Short', 'Noosa'), ('Bert Hollow', 'Gympie')`,
		`INSERT INTO contact (party_id, kind, value, normal) SELECT id, 'phone', '0412 345 678', '+61412345678' FROM party WHERE name = 'Bert Hollow'`,
		`INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S1042', id, now() FROM party WHERE name = 'Ada Short'`,
		`INSERT INTO box (serial, description, finished_at) VALUES ('10424', 'box of another maker', now())`,
	} {
		_, err := b.db.Exec(ctx, sql)
		require.NoError(t, err)
	}
	b.get("/").submit("nav.reach form.find", "q", "ada")
	require.Equal(t, 2, b.Find("main tbody tr").Length())
	tests := []struct{ typed, lands string }{
		{"longm", "/parties/"}, {"0412 345 678", "/parties/"}, {"+61 412 345 678", "/parties/"}, {"5678", "/parties/"},
		{"s1042", "/orders/"}, {"1042", "/orders/"}, {"10424", "/bench/boxes/"},
	}
	for _, tt := range tests {
		b.get("/find?q=" + url.QueryEscape(tt.typed))
		require.True(t, strings.HasPrefix(b.Path, tt.lands), "%s leads to %s", tt.typed, b.Path)
	}
	b.get("/find?q="+url.QueryEscape("zebra & ' | ! :* %")).has("main", "Nothing is found")
	b.addAccount("jo", access.Helper)
	jo := b.other()
	jo.signIn("jo")
	jo.get("/find?q=ada").has("main", "Nothing is found")
}
