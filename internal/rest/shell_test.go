package rest

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
)

func TestProgramRoutes(t *testing.T) {
	t.Parallel()
	owner := newClient(t)
	owner.do("GET", "/version", nil).want(http.StatusOK)
	c := owner.as("")
	c.do("GET", "/version", nil).want(http.StatusUnauthorized)
	c.do("GET", "/healthz", nil).want(http.StatusOK)
	a := c.do("GET", "/api/openapi.yaml", nil).want(http.StatusOK)
	require.Equal(t, api.Contract, a.Body)
	require.Contains(t, a.Header.Get("Content-Security-Policy"), "script-src 'self'")
}

func TestHealthWithoutTheDatabase(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	c.db.Close()
	r, w := request("GET", "/healthz", "")
	c.handler.ServeHTTP(w, r)
	require.Equal(t, http.StatusServiceUnavailable, w.Code, w.Body)
	require.NotEmpty(t, w.Header().Get("Retry-After"))
}

func TestSessionsSignInAndOut(t *testing.T) {
	t.Parallel()
	c := newClient(t).as("")
	c.do("POST", "/api/v1/session", api.SignIn{SignIn: "maker", Password: "wrong password"}).want(http.StatusUnauthorized)
	in := c.do("POST", "/api/v1/session", api.SignIn{SignIn: " MAKER", Password: testPassword, KnownPhone: new(true)}).want(http.StatusCreated)
	cookie := in.Header.Get("Set-Cookie")
	require.Contains(t, cookie, "HttpOnly")
	require.Contains(t, cookie, "SameSite=Lax")
	require.Contains(t, cookie, "Max-Age=51839", "60 days are 5184000 s") // less the moment it took
	pair, _, _ := strings.Cut(cookie, ";")
	var p api.Person
	c.do("GET", "/api/v1/session", nil, header{"Cookie", pair}).want(http.StatusOK).into(&p)
	require.Equal(t, "maker", p.SignIn)
	require.Contains(t, p.Areas, "books")
	c.do("DELETE", "/api/v1/session", nil, header{"Cookie", pair}, header{"Sec-Fetch-Site", "cross-site"}).want(http.StatusForbidden)
	c.do("DELETE", "/api/v1/session", nil, header{"Cookie", pair}).want(http.StatusNoContent)
	c.do("GET", "/api/v1/session", nil, header{"Cookie", pair}).want(http.StatusUnauthorized)
}

func TestPasswordChange(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	c.do("POST", "/api/v1/password", api.PasswordChange{OldPassword: "not this one", Password: "a better password"}).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/password", api.PasswordChange{OldPassword: testPassword, Password: "a better password"}).want(http.StatusNoContent)
	c.do("POST", "/api/v1/session", api.SignIn{SignIn: "maker", Password: "a better password"}).want(http.StatusCreated)
}

func TestAccountsAndVersions(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	add := api.AccountNew{SignIn: "hand", Role: api.RoleHelper, Password: testPassword}
	made := c.do("POST", "/api/v1/accounts", add).want(http.StatusCreated)
	var a api.Account
	made.into(&a)
	require.Equal(t, `"1"`, made.Header.Get("ETag"))
	c.do("POST", "/api/v1/accounts", add).want(http.StatusConflict)
	path := "/api/v1/accounts/" + itoa(int(a.ID))
	yes := true
	off := api.AccountChange{Disabled: &yes}
	c.do("PATCH", path, off).want(http.StatusPreconditionRequired)
	c.do("PATCH", path, off, header{"If-Match", `"9"`}).want(http.StatusPreconditionFailed)
	c.do("PATCH", path, off, header{"If-Match", "tuesday"}).want(http.StatusBadRequest)
	now := c.do("PATCH", path, off, header{"If-Match", `W/"1"`}).want(http.StatusOK)
	require.Equal(t, `"2"`, now.Header.Get("ETag"))
	c.do("GET", path, nil).want(http.StatusOK)
	c.do("GET", path, nil, header{"If-None-Match", `"2"`}).want(http.StatusNotModified)
	c.do("GET", "/api/v1/accounts/999999", nil).want(http.StatusNotFound)
	var list api.AccountList
	c.do("GET", "/api/v1/accounts", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 2)
	c.do("PATCH", "/api/v1/accounts/"+itoa(int(list.Items[1].ID)), off, header{"If-Match", "1"}).want(http.StatusConflict)

	var changes api.ChangeList
	c.do("GET", "/api/v1/history?table=account&id="+itoa(int(a.ID)), nil).want(http.StatusOK).into(&changes)
	require.Len(t, changes.Items, 2)
	require.Equal(t, api.ChangeDeedChanged, changes.Items[0].Deed)
	require.Equal(t, "maker", changes.Items[0].Who)
	require.NotContains(t, *changes.Items[1].Became, "password_hash")
}

func TestTokens(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	var made api.TokenMade
	c.do("POST", "/api/v1/tokens", api.TokenNew{Name: "till"}).want(http.StatusCreated).into(&made)
	till := c.as(made.Secret)
	till.do("GET", "/api/v1/session", nil).want(http.StatusOK)
	var list api.TokenList
	c.do("GET", "/api/v1/tokens", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 2)
	require.NotNil(t, list.Items[0].UsedAt)
	c.do("DELETE", "/api/v1/tokens/"+itoa(int(made.Token.ID)), nil).want(http.StatusNoContent)
	till.do("GET", "/api/v1/session", nil).want(http.StatusUnauthorized)
	c.as("kerf_nobody").do("GET", "/api/v1/session", nil).want(http.StatusUnauthorized)
	c.do("GET", "/api/v1/session", nil, header{"Authorization", "Basic bWFrZXI6eA=="}).want(http.StatusUnauthorized)
}

func TestCalculations(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	helper := c.as(c.addAccount("hand", access.Helper))
	var list api.TopicList
	helper.do("GET", "/api/v1/calc", nil).want(http.StatusOK).into(&list)
	require.NotEmpty(t, list.Items)
	for _, topic := range list.Items {
		helper.do("POST", "/api/v1/calc/"+topic.Name, topic.Example).want(http.StatusOK)
	}
	p := c.do("POST", "/api/v1/calc/tax", map[string]any{"amount": "110.00", "tax_pct": 10, "includes_tax": true, "colour": "red"}).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/colour"}, p.pointers())
	c.do("POST", "/api/v1/calc/alchemy", map[string]any{}).want(http.StatusNotFound)
}

// The same key with the same body gets the first answer; with another it is refused.
func TestIdempotencyKey(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	key := header{"Idempotency-Key", "first-try"}
	add := api.AccountNew{SignIn: "hand", Role: api.RoleHelper, Password: testPassword}
	first := c.do("POST", "/api/v1/accounts", add, key).want(http.StatusCreated)
	again := c.do("POST", "/api/v1/accounts", add, key).want(http.StatusCreated)
	require.Equal(t, first.Body, again.Body)
	require.Equal(t, first.Header.Get("ETag"), again.Header.Get("ETag"))
	require.Equal(t, "true", again.Header.Get("Idempotency-Replayed"))
	add.SignIn = "other"
	mismatch := c.do("POST", "/api/v1/accounts", add, key).want(http.StatusUnprocessableEntity)
	require.Contains(t, mismatch.problem().Type, "key-reused")
	c.do("POST", "/api/v1/accounts", add, header{"Idempotency-Key", strings.Repeat("k", 201)}).want(http.StatusBadRequest)

	// A failure keeps nothing: the key serves again.
	add.Password = "maker-password"
	add.SignIn = "maker" // taken
	c.do("POST", "/api/v1/accounts", add, header{"Idempotency-Key", "second"}).want(http.StatusConflict)
	add.SignIn = "third"
	c.do("POST", "/api/v1/accounts", add, header{"Idempotency-Key", "second"}).want(http.StatusCreated)
}

// Bad input of every sort gets a 4xx that names the field and gives nothing away.
func TestBadInput(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	const accounts, calc = "/api/v1/accounts", "/api/v1/calc/tax"
	tests := []struct {
		name, method, path, body string
		headers                  []header
		status                   int
		pointers                 []string
	}{
		{"unknown address", "GET", "/api/v1/nothing", "", nil, 404, []string{}},
		{"unknown method", "PUT", accounts, "{}", nil, 405, []string{}},
		{"unknown parameter", "GET", accounts + "?colour=red", "", nil, 400, []string{"/colour"}},
		{"NUL in a parameter", "GET", "/api/v1/history?table=a%00b&id=1", "", nil, 400, []string{"/table", "/table"}},
		{"parameter twice", "GET", "/api/v1/history?table=party&id=1&id=2", "", nil, 400, []string{"/id"}},
		{"parameter missing", "GET", "/api/v1/history?table=party", "", nil, 400, []string{"/id"}},
		{"parameter too large", "GET", "/api/v1/history?table=party&id=1&limit=9999", "", nil, 400, []string{"/limit"}},
		{"id not a number", "GET", accounts + "/abc", "", nil, 400, []string{"/id"}},
		{"id beyond all bounds", "GET", accounts + "/99999999999999999999999", "", nil, 400, []string{"/id"}},
		{"id negative", "GET", accounts + "/-1", "", nil, 400, []string{"/id"}},
		{"no body", "POST", accounts, "", nil, 400, []string{}},
		{"not JSON", "POST", accounts, "{", nil, 400, []string{}},
		{"text behind", "POST", accounts, "{} {}", nil, 400, []string{}},
		{"not UTF-8", "POST", accounts, "{\"name\":\"\xff\"}", nil, 400, []string{}},
		{"not an object", "POST", accounts, "[]", nil, 422, []string{""}},
		{"other kind", "POST", accounts, "a=b", []header{{"Content-Type", "application/x-www-form-urlencoded"}}, 415, []string{}},
		{"field missing", "POST", accounts, `{"sign_in":"a","role":"helper"}`, nil, 422, []string{"/password"}},
		{"unknown field", "POST", accounts, `{"sign_in":"a","role":"helper","password":"long enough","colour":1}`, nil, 422, []string{"/colour"}},
		{"wrong type", "POST", accounts, `{"sign_in":1,"role":"helper","password":"long enough"}`, nil, 422, []string{"/sign_in"}},
		{"not of the list", "POST", accounts, `{"sign_in":"a","role":"king","password":"long enough"}`, nil, 422, []string{"/role"}},
		{"NUL in a text", "POST", accounts, `{"sign_in":"a\u0000b","role":"helper","password":"long enough"}`, nil, 422, []string{"/sign_in"}},
		{"too long", "POST", accounts, `{"sign_in":"` + strings.Repeat("é", 61) + `","role":"helper","password":"long enough"}`, nil, 422, []string{"/sign_in"}},
		{"ten megabytes", "POST", calc, `{"a":"` + strings.Repeat("x", 10<<20) + `"}`, nil, 413, []string{}},
		{"body on a GET", "GET", accounts, "{}", nil, 400, []string{}},
		{"deep nesting", "POST", calc, strings.Repeat(`{"a":`, 20000) + "1" + strings.Repeat("}", 20000), nil, 400, []string{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := c.do(tt.method, tt.path, tt.body, tt.headers...)
			require.Equal(t, tt.status, a.Status, "%s", a.Body)
			require.Equal(t, tt.pointers, a.pointers(), "%s", a.Body)
			require.Less(t, len(a.Body), 2000)
		})
	}
}

// An instant whose day in UTC has no four-digit year cannot be written again.
func TestInstantsHaveFourDigitYears(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	for at, status := range map[string]int{"9999-12-31T23:59:59-12:00": http.StatusUnprocessableEntity, "0001-01-01T00:00:00+10:00": http.StatusUnprocessableEntity, "2026-03-03T09:00:00+10:00": http.StatusNotFound} {
		c.do("POST", "/api/v1/operations/999/start", map[string]any{"at": at}).want(status)
	}
}
