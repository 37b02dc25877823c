package door_test

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
)

// Every kind has a status of its own thought; a new kind must not fall to 500 unseen.
// Source of the statuses: RFC 9110 sections 15.5 and 15.6, RFC 6585 section 4.
func TestEveryKindHasAStatus(t *testing.T) {
	t.Parallel()
	want := map[fault.Kind]int{fault.Internal: 500, fault.NotFound: 404, fault.Invalid: 422, fault.Conflict: 409, fault.Stale: 412,
		fault.Forbidden: 403, fault.Signin: 401, fault.TooMany: 429, fault.TooLarge: 413, fault.Mismatch: 422, fault.Unavailable: 503}
	types := map[string]bool{}
	for _, kind := range fault.Kinds {
		status, known := want[kind]
		require.True(t, known, "kind %d", kind)
		p := door.ProblemOf(fmt.Errorf("confirm order 42: %w", fault.New(kind, "The sentence.")))
		require.Equal(t, status, p.Status)
		require.NotEmpty(t, p.Title)
		require.False(t, types[p.Type], "two kinds share the type %s", p.Type)
		types[p.Type] = true
		if kind != fault.Internal {
			require.Equal(t, "The sentence.", p.Detail)
		}
	}
	require.Len(t, want, len(fault.Kinds))
}

func TestInnerCausesAreNotShown(t *testing.T) {
	t.Parallel()
	secret := errors.New(`relation "account" at 10.0.0.7`)
	for _, err := range []error{secret, fault.Wrap(secret, fault.Conflict, "Not now."), fault.Wrap(secret, fault.Internal, "%v", secret)} {
		w := httptest.NewRecorder()
		door.Refuse(w, httptest.NewRequest("GET", "/", nil), err)
		require.NotContains(t, w.Body.String(), "10.0.0.7")
		require.Equal(t, door.ProblemMedia, w.Header().Get("Content-Type"))
	}
}

func TestProblemsOfCalculations(t *testing.T) {
	t.Parallel()
	p := door.ProblemOf(fmt.Errorf("calc: %w", contract.Bad("/lines/0/quantity", "must be a number")))
	require.Equal(t, 422, p.Status)
	require.Equal(t, []fault.Field{{Pointer: "/lines/0/quantity", Detail: "must be a number"}}, p.Errors)
	require.Contains(t, p.Detail, "/lines/0/quantity")
}

func TestRefuseTellsWhenToComeBack(t *testing.T) {
	t.Parallel()
	for kind, header := range map[fault.Kind]string{fault.Unavailable: "5", fault.TooMany: "900", fault.Conflict: ""} {
		w := httptest.NewRecorder()
		door.Refuse(w, httptest.NewRequest("GET", "/", nil), fault.New(kind, "Wait."))
		require.Equal(t, header, w.Header().Get("Retry-After"))
	}
	w := httptest.NewRecorder()
	door.Refuse(w, httptest.NewRequest("HEAD", "/", nil), fault.New(fault.Signin, "Sign in."))
	require.NotEmpty(t, w.Header().Get("WWW-Authenticate"))
	require.Zero(t, w.Body.Len())
}

func TestWrap(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	reached := 0
	h := door.Wrap(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		reached++
		if r.URL.Path == "/panic" {
			panic("a board too short")
		}
		_, hasLimit := r.Context().Deadline()
		fmt.Fprint(w, door.RequestID(r.Context()), hasLimit)
	}), door.Options{Log: slog.New(slog.NewTextHandler(&log, nil))})
	send := func(method, path string, headers ...string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, strings.NewReader(""))
		for i := 0; i < len(headers); i += 2 {
			r.Header.Set(headers[i], headers[i+1])
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	w := send("GET", "/", "X-Request-Id", "order-42-first")
	require.Equal(t, "order-42-firsttrue", w.Body.String())
	require.Equal(t, "order-42-first", w.Header().Get("X-Request-Id"))
	require.Contains(t, log.String(), "order-42-first")
	require.NotContains(t, w.Header().Get("Content-Security-Policy"), "unsafe")
	w = send("GET", "/", "X-Request-Id", "bad id\nwith a line")
	require.Regexp(t, `^[A-Z0-9]{16}$`, w.Header().Get("X-Request-Id"))

	w = send("POST", "/panic")
	require.Equal(t, 500, w.Code)
	require.NotContains(t, w.Body.String(), "board")
	require.Contains(t, log.String(), "a board too short")

	reached = 0
	require.Equal(t, 403, send("POST", "/", "Sec-Fetch-Site", "cross-site").Code)
	require.Equal(t, 403, send("POST", "/", "Origin", "https://elsewhere.example").Code)
	require.Zero(t, reached)
	require.Equal(t, 200, send("POST", "/", "Sec-Fetch-Site", "same-origin").Code)
	require.Equal(t, 200, send("POST", "/").Code, "a program sends neither")
}

func TestAddressBehindAProxy(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name    string
		trust   bool
		headers http.Header
		address string
		tls     bool
	}{
		{"direct", false, nil, "192.0.2.1", false},
		{"a client that claims", false, http.Header{"X-Forwarded-For": {"203.0.113.9"}, "X-Forwarded-Proto": {"https"}}, "192.0.2.1", false},
		{"a proxy", true, http.Header{"X-Forwarded-For": {"198.51.100.1, 203.0.113.9"}, "X-Forwarded-Proto": {"https"}}, "203.0.113.9", true},
		{"a proxy without", true, nil, "192.0.2.1", false},
	}
	for _, tt := range tests {
		h := door.Wrap(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			require.Equal(t, tt.address, door.Address(r), tt.name)
			require.Equal(t, tt.tls, door.Encrypted(r), tt.name)
		}), door.Options{TrustProxy: tt.trust, Log: slog.New(slog.DiscardHandler)})
		r := httptest.NewRequest("GET", "/", nil) // from 192.0.2.1, see httptest
		for name, values := range tt.headers {
			r.Header[name] = values
		}
		h.ServeHTTP(httptest.NewRecorder(), r)
	}
}

// Lines and quotes as RFC 4180 section 2 has them.
func TestCSV(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	require.NoError(t, door.WriteCSV(&b, []string{"name", "owed"}, [][]string{
		{`Ada "Bee" Longmire, Gympie`, "-42.50"}, {"=1+2", "+61 412"}, {"@cmd", "-"}, {"-x", "3"}, {"two\nlines", ""}}))
	require.Equal(t, "name,owed\r\n\"Ada \"\"Bee\"\" Longmire, Gympie\",-42.50\r\n'=1+2,'+61 412\r\n'@cmd,'-\r\n'-x,3\r\n\"two\r\nlines\",\r\n", b.String())
}

func TestMissing(t *testing.T) {
	t.Parallel()
	type deps struct {
		A, B *int
		Log  *slog.Logger
	}
	n := 1
	require.Equal(t, []string{"B"}, door.Missing(deps{A: &n}, "Log"))
	require.Empty(t, door.Missing(deps{A: &n, B: &n}, "Log"))
}
