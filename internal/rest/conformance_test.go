package rest

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/labstack/echo/v4"
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

// called notes each operation that a test of this package has called with success.
var called = struct {
	sync.Mutex
	succeeded map[string]bool
}{succeeded: map[string]bool{}}

// TestMain runs the tests and then holds that every operation of the contract was called
// and answered with success by one of them. With -run only some tests run, and the walk
// would say nothing.
func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	if code == 0 && flag.Lookup("test.run").Value.String() == "" && flag.Lookup("test.list").Value.String() == "" && flag.Lookup("test.fuzz").Value.String() == "" {
		for key := range loadSpec().operations {
			if !called.succeeded[key] {
				fmt.Println("FAIL: no test has called with success:", key)
				code = 1
			}
		}
	}
	os.Exit(code)
}

// client is an in-process client that holds every answer against the contract.
type client struct {
	t       testing.TB
	server  *Server
	handler http.Handler
	db      *postgres.DB
	token   string
}

// newClient gives a server on a database of its own with an owner (sign-in "maker"), and
// a client with the owner's token. Edit may add rooms to the server's Deps.
func newClient(t testing.TB, edit ...func(*Deps)) *client {
	t.Helper()
	db := pgtest.DB(t)
	long := searching(t, db)
	d := Deps{DB: db, Access: access.New(db, access.Options{Cost: access.TestCost, Remember: -1}), House: house.New(db), Sales: sales.New(db), Apiary: apiary.New(db), Timber: timber.New(db, timber.AirDry),
		Workshop: workshop.New(db), Handover: handover.New(db), Books: books.New(db), Searches: long, Answer: answer.New(db, answer.Rooms{Searches: long, Timber: timber.New(db, timber.AirDry)}),
		Answers: idem.New(db), Finder: answer.NewFinder(db), DayBook: answer.NewDayBook(db), Log: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelError})), Version: "test"}
	for _, e := range edit {
		e(&d)
	}
	s := New(d)
	c := &client{t: t, server: s, db: db, handler: door.Wrap(s, door.Options{Log: slog.New(slog.DiscardHandler)})}
	c.token = c.addAccount("maker", access.Owner)
	return c
}

const testPassword = "stringybark and wax"

func (c *client) addAccount(signIn string, role access.Role) string {
	c.t.Helper()
	a, err := c.server.Access.AccountAdd(c.t.Context(), access.NewAccount{SignIn: signIn, Role: role, Password: testPassword})
	require.NoError(c.t, err)
	secret, _, err := c.server.Access.TokenMake(c.t.Context(), a.ID, "test")
	require.NoError(c.t, err)
	return secret
}

// as gives the client with another token; empty for none.
func (c *client) as(token string) *client {
	other := *c
	other.token = token
	return &other
}

// header is one more header of a request.
type header struct{ name, value string }

// response is an answer, already held against the contract.
type response struct {
	t      testing.TB
	Status int
	Header http.Header
	Body   []byte
}

// do sends one request; body is encoded as JSON unless it is a string, []byte or nil.
func (c *client) do(method, path string, body any, headers ...header) response {
	c.t.Helper()
	var raw []byte
	kind := "application/json"
	switch b := body.(type) {
	case nil:
	case string:
		raw = []byte(b)
	case []byte:
		raw = b
	default:
		var err error
		raw, err = json.Marshal(b)
		require.NoError(c.t, err)
	}
	r := httptest.NewRequest(method, path, bytes.NewReader(raw)).WithContext(c.t.Context())
	if len(raw) > 0 {
		r.Header.Set("Content-Type", kind)
	}
	if c.token != "" {
		r.Header.Set("Authorization", "Bearer "+c.token)
	}
	for _, h := range headers {
		r.Header.Set(h.name, h.value)
	}
	w := httptest.NewRecorder()
	c.handler.ServeHTTP(w, r)
	a := response{t: c.t, Status: w.Code, Header: w.Header(), Body: w.Body.Bytes()}
	c.conform(r, a)
	if method == http.MethodGet && a.Status == http.StatusOK && !strings.Contains(path, "format=") {
		c.alsoAsTable(path, a, headers)
	}
	return a
}

// alsoAsTable reads a list that a test has read once more as a table file: as many lines as there were items, or more
// where the list was only its first page, each as wide as the header. What is no list is left alone.
func (c *client) alsoAsTable(path string, a response, headers []header) {
	c.t.Helper()
	var list struct {
		Items *[]json.RawMessage `json:"items"`
		Next  *string            `json:"next"`
	}
	if !strings.HasPrefix(a.Header.Get("Content-Type"), "application/json") || json.Unmarshal(a.Body, &list) != nil || list.Items == nil {
		return
	}
	mark := "?"
	if strings.Contains(path, "?") {
		mark = "&"
	}
	table := c.do(http.MethodGet, path+mark+"format=csv", nil, headers...).want(http.StatusOK)
	require.Equal(c.t, "text/csv; charset=utf-8; header=present", table.Header.Get("Content-Type"), "%s", path)
	rows, err := csv.NewReader(bytes.NewReader(table.Body)).ReadAll()
	require.NoError(c.t, err, "%s: %s", path, table.Body)
	require.NotEmpty(c.t, rows, "%s", path)
	if list.Next == nil {
		require.Len(c.t, rows, 1+len(*list.Items), "%s: %s", path, table.Body)
	} else {
		require.GreaterOrEqual(c.t, len(rows), 1+len(*list.Items), "%s", path)
	}
}

// conform fails the test when an answer is not one the contract promises.
func (c *client) conform(r *http.Request, a response) {
	c.t.Helper()
	require.Less(c.t, a.Status, 500, "%s %s: %s", r.Method, r.URL, a.Body)
	ec := c.server.echo.NewContext(r, httptest.NewRecorder())
	c.server.echo.Router().Find(r.Method, echo.GetPath(r), ec)
	key := operationKey(r.Method, ec.Path())
	op := c.server.spec.operations[key]
	if op == nil {
		require.GreaterOrEqual(c.t, a.Status, 400, "%s is not in the contract, yet answered", key)
		require.Equal(c.t, door.ProblemMedia, a.Header.Get("Content-Type"))
		return
	}
	input := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: &openapi3filter.RequestValidationInput{Request: r, Route: op.route},
		Status:                 a.Status, Header: a.Header, Body: io.NopCloser(bytes.NewReader(a.Body)),
		Options: &openapi3filter.Options{IncludeResponseStatus: true, MultiError: true, SchemaValidationOptions: schemaChecks},
	}
	if err := openapi3filter.ValidateResponse(context.Background(), input); err != nil {
		require.NoError(c.t, err, "%s answered against the contract: %s", key, a.Body)
	}
	if a.Status < 300 {
		called.Lock()
		called.succeeded[key] = true
		called.Unlock()
	}
}

// want fails the test unless the status is this.
func (a response) want(status int) response {
	a.t.Helper()
	require.Equal(a.t, status, a.Status, "%s", a.Body)
	return a
}

// into decodes the body into v.
func (a response) into(v any) {
	a.t.Helper()
	require.NoError(a.t, json.Unmarshal(a.Body, v), "%s", a.Body)
}

// problem gives the problem document.
func (a response) problem() door.Problem {
	a.t.Helper()
	require.Equal(a.t, door.ProblemMedia, a.Header.Get("Content-Type"), "%s", a.Body)
	var p door.Problem
	a.into(&p)
	require.Equal(a.t, a.Status, p.Status)
	require.NotEmpty(a.t, p.Detail)
	return p
}

// pointers gives the fields a problem names.
func (a response) pointers() []string {
	a.t.Helper()
	list := []string{}
	for _, f := range a.problem().Errors {
		list = append(list, f.Pointer)
	}
	return list
}

// Every operation of the contract has a route, and every route is in the contract (the
// second is also checked by New).
func TestContractAndRoutesAgree(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	var routes []string
	for _, r := range c.server.echo.Routes() {
		if r.Method != echo.RouteNotFound {
			routes = append(routes, operationKey(r.Method, r.Path))
		}
	}
	var operations []string
	for key := range c.server.spec.operations {
		operations = append(operations, key)
	}
	slices.Sort(routes)
	slices.Sort(operations)
	require.Equal(t, operations, routes)
}

// Every operation that is not public refuses a stranger with 401, and one outside a
// helper's areas refuses a helper with 403.
func TestEveryOperationNeedsASignIn(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	helper := c.as(c.addAccount("hand", access.Helper))
	stranger := c.as("")
	public := []string{}
	for key, op := range c.server.spec.operations {
		method, path, _ := strings.Cut(key, " ")
		path = strings.NewReplacer(":id", "1", ":topic", "tax", ":number", "1").Replace(path)
		if op.public {
			public = append(public, key)
			continue
		}
		stranger.do(method, path, nil).want(http.StatusUnauthorized)
		if !access.May(access.Helper, op.area) {
			helper.do(method, path, nil).want(http.StatusForbidden)
		}
	}
	slices.Sort(public)
	require.Equal(t, []string{"GET /api/openapi.yaml", "GET /api/v1/found/:serial", "GET /healthz", "POST /api/v1/session"}, public)
}

// searching runs long searches until t ends.
func searching(t testing.TB, db *postgres.DB) *searches.Room {
	room := searches.New(db)
	t.Cleanup(room.Close)
	return room
}
