package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/postgres/pgtest"
)

// program is a program that talks to one server with a token.
type program struct{ url, token string }

// send makes one request; key may be empty. It gives status, ETag and body.
func (p program) send(t *testing.T, method, path, body, key, version string) (int, string, map[string]any) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, p.url+path, strings.NewReader(body))
	require.NoError(t, err)
	r.Header.Set("Authorization", "Bearer "+p.token)
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if key != "" {
		r.Header.Set("Idempotency-Key", key)
	}
	if version != "" {
		r.Header.Set("If-Match", version)
	}
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	out := map[string]any{}
	if len(bytes.TrimSpace(raw)) > 0 && strings.Contains(res.Header.Get("Content-Type"), "json") {
		require.NoError(t, json.Unmarshal(raw, &out), string(raw))
	}
	return res.StatusCode, res.Header.Get("ETag"), out
}

// Two servers on one database behave as one: they start at once, share tokens, answer a
// repeated request once, refuse a stale change made at the other, and number without gaps.
func TestTwoServersOnOneDatabase(t *testing.T) {
	t.Parallel()
	env := []string{"KERFBOOK_DATABASE_URL=" + pgtest.EmptyURL(t), "KERFBOOK_LISTEN=127.0.0.1:0"}
	var both [2]program
	var up sync.WaitGroup
	for i := range both {
		up.Add(1)
		go func() { // at once, on an empty database: the tables are made once
			defer up.Done()
			both[i].url, _ = start(t, env, "serve")
		}()
	}
	up.Wait()
	require.NotEmpty(t, both[0].url)
	require.NotEmpty(t, both[1].url)

	for _, name := range []string{"maker", "partner"} { // two owners: the last one cannot be kept out
		code, _, errOut := say(t, env, "", "user", "add", name)
		require.Equal(t, exitDone, code, errOut)
	}
	code, out, errOut := say(t, env, "", "user", "token", "maker", "--for", "test")
	require.Equal(t, exitDone, code, errOut)
	token := strings.TrimSpace(out)
	both[0].token, both[1].token = token, token

	status, tag, party := both[0].send(t, "POST", "/api/v1/parties", `{"name":"Ada Quill"}`, "", "")
	require.Equal(t, 201, status, party)
	path := fmt.Sprintf("/api/v1/parties/%.0f", party["id"])
	status, _, seen := both[1].send(t, "GET", path, "", "", "")
	require.Equal(t, 200, status)
	require.Equal(t, "Ada Quill", seen["name"])
	status, _, _ = both[1].send(t, "PUT", path, `{"name":"Ada Moor"}`, "", tag)
	require.Equal(t, 200, status)
	status, _, problem := both[0].send(t, "PUT", path, `{"name":"Ada Strand"}`, "", tag)
	require.Equal(t, 412, status, problem)

	// One key, many times, at both: one record.
	ids := make(chan any, 8)
	for i := range cap(ids) {
		go func() {
			status, _, made := both[i%2].send(t, "POST", "/api/v1/parties", `{"name":"Ben Moor"}`, "shaky-line-1", "")
			if status != 201 {
				made["id"] = fmt.Sprint("status ", status, made)
			}
			ids <- made["id"]
		}()
	}
	first := <-ids
	for range cap(ids) - 1 {
		require.Equal(t, first, <-ids)
	}
	status, _, _ = both[1].send(t, "POST", "/api/v1/parties", `{"name":"Cass Moor"}`, "shaky-line-1", "")
	require.Equal(t, 422, status, "another body under a known key")

	// A withdrawn sign-in is gone at both (within the second that a server trusts what it saw).
	code, _, errOut = say(t, env, "", "user", "disable", "maker")
	require.Equal(t, exitDone, code, errOut)
	require.Eventually(t, func() bool {
		a, _, _ := both[0].send(t, "GET", path, "", "", "")
		b, _, _ := both[1].send(t, "GET", path, "", "", "")
		return a == 401 && b == 401
	}, 60*time.Second, 100*time.Millisecond)
}
