package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/topics"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/postgres/pgtest/quick"
)

// say runs one command and gives its exit code and what it wrote.
func say(t *testing.T, env []string, in string, args ...string) (int, string, string) {
	t.Helper()
	var out, errOut bytes.Buffer
	code := run(t.Context(), args, env, strings.NewReader(in), &out, &errOut)
	return code, out.String(), errOut.String()
}

func TestHelp(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{}, {"--help"}} {
		code, out, _ := say(t, nil, "", args...)
		require.Equal(t, exitDone, code)
		for _, word := range []string{"demo", "serve", "migrate", "user", "print", "calc", "backup", "restore", "version", "Begin with: kerfbook demo"} {
			require.Contains(t, out, word)
		}
	}
	code, _, errOut := say(t, nil, "", "dance")
	require.Equal(t, exitBadInput, code)
	require.Contains(t, errOut, "dance")
	code, out, _ := say(t, nil, "", "version")
	require.Equal(t, exitDone, code)
	require.Contains(t, out, "kerfbook")
}

// The help lists every variable the configuration reads, and no other.
func TestHelpListsEverySetting(t *testing.T) {
	t.Parallel()
	source, err := os.ReadFile("config.go")
	require.NoError(t, err)
	for _, line := range strings.Split(string(source), "\n") {
		if name, ok := strings.CutPrefix(strings.TrimSpace(line), `case "KERFBOOK_`); ok {
			require.Contains(t, description, "KERFBOOK_"+strings.TrimSuffix(name, `":`))
		}
	}
}

func TestConfig(t *testing.T) {
	t.Parallel()
	cfg, err := readConfig([]string{"KERFBOOK_LISTEN=0.0.0.0:80", "KERFBOOK_TRUST_PROXY=yes", "KERFBOOK_STOP_SECONDS=5", "HOME=/root",
		"KERFBOOK_DATABASE_URL=postgres://maker:s3cret@db/kerfbook", "KERFBOOK_DATA="})
	require.NoError(t, err)
	require.Equal(t, "0.0.0.0:80", cfg.Listen)
	require.True(t, cfg.TrustProxy)
	require.Equal(t, 5*time.Second, cfg.StopLimit)
	require.Equal(t, "data", cfg.Data)
	for _, v := range cfg.describe() {
		if s, ok := v.(string); ok {
			require.NotContains(t, s, "s3cret", "the start-up line shows no password")
		}
	}
	for _, bad := range []string{"KERFBOOK_LISTEN=8080", "KERFBOOK_LISTEN=host:http", "KERFBOOK_LISTEN=h:70000", "KERFBOOK_TRUST_PROXY=maybe",
		"KERFBOOK_LOG=xml", "KERFBOOK_LOG_LEVEL=loud", "KERFBOOK_STOP_SECONDS=0", "KERFBOOK_DATABASE_URL=mysql://x", "KERFBOOK_DATABASE=x"} {
		name, _, _ := strings.Cut(bad, "=")
		code, _, errOut := say(t, []string{bad}, "", "version")
		require.Equal(t, exitBadInput, code, bad)
		require.Contains(t, errOut, name+" ", bad)
	}
}

func TestLoopback(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]bool{"127.0.0.1:1": true, "localhost:1": true, "[::1]:1": true, ":8080": false, "0.0.0.0:1": false, "192.168.1.4:1": false, "nonsense": false} {
		require.Equal(t, want, loopback(address), address)
	}
}

// Every topic's example works through the command, to the shape of the contract.
func TestCalcExamples(t *testing.T) {
	t.Parallel()
	code, list, _ := say(t, nil, "", "calc")
	require.Equal(t, exitDone, code)
	for _, topic := range topics.All() {
		require.Contains(t, list, topic.Name)
		code, example, _ := say(t, nil, "", "calc", topic.Name, "--example")
		require.Equal(t, exitDone, code)
		code, out, errOut := say(t, nil, example, "calc", topic.Name)
		require.Equal(t, exitDone, code, "%s: %s", topic.Name, errOut)
		require.True(t, json.Valid([]byte(out)), topic.Name)
		require.Empty(t, errOut)
	}
}

func TestCalcRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, topic, in, pointer string }{
		{"unknown field", "tax", `{"amount":"110.00","tax_pct":10,"includes_tax":true,"colour":"red"}`, "/colour"},
		{"not JSON", "tax", `{`, ""},
		{"nothing", "tax", ``, ""},
		{"unknown topic", "alchemy", `{}`, ""},
	}
	for _, tt := range tests {
		code, out, errOut := say(t, nil, tt.in, "calc", tt.topic)
		require.Equal(t, exitBadInput, code, tt.name)
		require.Empty(t, out, tt.name)
		var p struct {
			Type, Title, Detail string
			Status              int
			Errors              []struct{ Pointer, Detail string }
		}
		require.NoError(t, json.Unmarshal([]byte(errOut), &p), tt.name)
		require.NotEmpty(t, p.Detail, tt.name)
		if tt.pointer != "" {
			require.Equal(t, tt.pointer, p.Errors[0].Pointer, tt.name)
		}
	}
}

func TestUsersByCommand(t *testing.T) {
	t.Parallel()
	env := []string{"KERFBOOK_DATABASE_URL=" + pgtest.EmptyURL(t)}
	code, out, errOut := say(t, env, "", "migrate")
	require.Equal(t, exitDone, code, errOut)
	require.Contains(t, out, "version")
	code, out, errOut = say(t, env, "", "user", "add", "Maker")
	require.Equal(t, exitDone, code, errOut)
	require.Regexp(t, `maker \(owner\) can sign in with the password [a-z0-9]{5}(-[a-z0-9]{5}){3} `, out)
	code, _, errOut = say(t, env, "short\n", "user", "add", "jo", "--role", "helper", "--password-file", "-")
	require.Equal(t, exitBadInput, code)
	require.Contains(t, errOut, "at least 10 characters")
	code, out, _ = say(t, env, "a long enough one\n", "user", "add", "jo", "--role", "helper", "--password-file", "-")
	require.Equal(t, exitDone, code)
	require.NotContains(t, out, "a long enough one")
	code, out, _ = say(t, env, "", "user", "token", "maker", "--for", "till")
	require.Equal(t, exitDone, code)
	require.Regexp(t, `^kerf_\S+\n$`, out)
	code, _, errOut = say(t, env, "", "user", "disable", "maker")
	require.Equal(t, exitBadInput, code)
	require.Contains(t, errOut, "only owner")
	code, out, _ = say(t, env, "", "user", "disable", "jo")
	require.Equal(t, exitDone, code)
	require.Contains(t, out, "no longer")
	code, out, _ = say(t, env, "", "user", "list")
	require.Equal(t, exitDone, code)
	require.Contains(t, out, "kept out")
	code, _, errOut = say(t, env, "", "user", "password", "nobody")
	require.Equal(t, exitBadInput, code)
	require.Contains(t, errOut, "Nobody signs in as nobody")
}

func TestBackupAndRestoreByCommand(t *testing.T) {
	t.Parallel()
	from, to := []string{"KERFBOOK_DATABASE_URL=" + pgtest.URL(t)}, []string{"KERFBOOK_DATABASE_URL=" + pgtest.EmptyURL(t)}
	code, _, errOut := say(t, from, "", "user", "add", "maker")
	require.Equal(t, exitDone, code, errOut)
	file := filepath.Join(t.TempDir(), "book.kerf")
	code, out, errOut := say(t, from, "", "backup", file)
	require.Equal(t, exitDone, code, errOut)
	require.Contains(t, out, "tables")
	require.Contains(t, errOut, " of ", "progress is shown")
	code, _, errOut = say(t, to, "", "restore", file)
	require.Equal(t, exitDone, code, errOut)
	_, out, _ = say(t, to, "", "user", "list")
	require.Contains(t, out, "maker")
	code, _, errOut = say(t, from, "", "print", "quote", "Q1", "-o", filepath.Join(t.TempDir(), "q.pdf"))
	require.Equal(t, exitBadInput, code, errOut)
}

// watched is a buffer that tells when a line has come.
type watched struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (w *watched) Write(b []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.Write(b)
}

func (w *watched) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.String()
}

// start runs a server command until the test ends it, and gives its address.
func start(t *testing.T, env []string, args ...string) (url string, stop func() int) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	var out, errOut watched
	done := make(chan int, 1)
	go func() { done <- run(ctx, args, env, strings.NewReader(""), &out, &errOut) }()
	stop = func() int { cancel(); code := <-done; done <- code; return code }
	t.Cleanup(func() { stop() })
	require.Eventually(t, func() bool {
		_, rest, ok := strings.Cut(out.String(), "kerfbook is at ")
		url, _, _ = strings.Cut(rest, "\n")
		return ok && strings.HasPrefix(url, "http") || len(done) > 0
	}, 5*time.Minute, 10*time.Millisecond)
	require.NotEmpty(t, url, "%s", errOut.String())
	return url, stop
}

func fetch(t *testing.T, url string) (int, string) {
	t.Helper()
	res, err := http.Get(url) //nolint:noctx // a test
	require.NoError(t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(body)
}

func TestServeBothFacesAndStop(t *testing.T) {
	t.Parallel()
	env := []string{"KERFBOOK_DATABASE_URL=" + pgtest.EmptyURL(t), "KERFBOOK_LISTEN=127.0.0.1:0"}
	url, stop := start(t, env, "serve")
	status, body := fetch(t, url+"/healthz")
	require.Equal(t, 200, status, body)
	status, body = fetch(t, url+"/")
	require.Equal(t, 200, status)
	require.Contains(t, body, "Open the book")
	status, body = fetch(t, url+"/api/v1/nothing")
	require.Equal(t, 404, status)
	require.Contains(t, body, "urn:kerfbook:problem:not-found")
	require.Equal(t, exitDone, stop())

	code, _, errOut := say(t, append(env, "KERFBOOK_LISTEN=0.0.0.0:0"), "", "serve")
	require.Equal(t, exitBadInput, code)
	require.Contains(t, errOut, "user add")
}

// The demo serves a book of its own; other commands reach it while it runs.
func TestDemoAndCommandsBesideIt(t *testing.T) {
	t.Parallel()
	dir, err := os.MkdirTemp(quick.Parent(), "kerfbook-cmd-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	url, stop := start(t, nil, "demo", "--listen", "127.0.0.1:0", "--data", dir, "--days", "90")
	var in demoSignIn
	body, err := os.ReadFile(filepath.Join(dir, "demo.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(body, &in))
	require.Equal(t, url, in.URL)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url+"/api/v1/session", nil)
	require.NoError(t, err)
	r.Header.Set("Authorization", "Bearer "+in.Token)
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	res.Body.Close()
	require.Equal(t, http.StatusOK, res.StatusCode)

	env := []string{"KERFBOOK_DATA=" + dir}
	code, out, errOut := say(t, env, "", "user", "list")
	require.Equal(t, exitDone, code, errOut)
	require.Contains(t, out, in.User)
	code, _, errOut = say(t, env, "", "serve", "--listen", "127.0.0.1:0")
	require.Equal(t, exitFailed, code)
	require.Contains(t, errOut, "serving this folder already")
	require.Equal(t, exitDone, stop())
	_, err = os.Stat(filepath.Join(dir, addressFile))
	require.ErrorIs(t, err, os.ErrNotExist)
}
