package rest

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
)

// A long cutting is started, watched, stopped and fetched; only its owner sees it.
func TestSearches(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	boards, parts := []map[string]any{}, []map[string]any{}
	for i := range 12 {
		boards = append(boards, map[string]any{"id": fmt.Sprint("b", i), "length_mm": float64(2400125+133333*i) / 1000, "count": 10})
	}
	for i := range 60 {
		parts = append(parts, map[string]any{"id": fmt.Sprint("p", i), "length_mm": float64(100001+7770*i) / 1000, "count": 4})
	}
	ask := map[string]any{"topic": "cutting", "input": map[string]any{"kerf_mm": 3.175, "boards": boards, "parts": parts}}
	key := header{"Idempotency-Key", "search-1"}
	var started, again, s api.Search
	c.do("POST", "/api/v1/searches", ask, key).want(http.StatusCreated).into(&started)
	c.do("POST", "/api/v1/searches", ask, key).want(http.StatusCreated).into(&again)
	require.Equal(t, started.ID, again.ID, "one search for one key")
	at := fmt.Sprint("/api/v1/searches/", started.ID)
	require.Eventually(t, func() bool {
		c.do("GET", at, nil).want(http.StatusOK).into(&s)
		return s.Progress != nil && s.Progress.Best != nil
	}, 30*time.Second, 50*time.Millisecond)
	require.Equal(t, api.SearchState("running"), s.State)
	require.Nil(t, s.Output)

	helper := c.as(c.addAccount("hand", access.Helper))
	helper.do("GET", at, nil).want(http.StatusNotFound)
	helper.do("POST", at+"/stop", nil).want(http.StatusNotFound)

	c.do("POST", at+"/stop", nil).want(http.StatusOK).into(&s)
	require.True(t, s.Stopping)
	require.Eventually(t, func() bool {
		c.do("GET", at, nil).want(http.StatusOK).into(&s)
		return s.State == "ended"
	}, 30*time.Second, 50*time.Millisecond)
	require.Equal(t, false, (*s.Output)["proved"])
	require.NotEmpty(t, (*s.Output)["layouts"])

	var list api.SearchList
	c.do("GET", "/api/v1/searches", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	require.Nil(t, list.Items[0].Output, "left out of the list")
	helper.do("GET", "/api/v1/searches", nil).want(http.StatusOK).into(&list)
	require.Empty(t, list.Items)

	for pointer, wrong := range map[string]map[string]any{
		"/topic":                   {"topic": "tax", "input": map[string]any{}},
		"/input/time_limit_ms":     {"topic": "cutting", "input": map[string]any{"kerf_mm": 3, "boards": boards, "parts": parts, "time_limit_ms": 600001}},
		"/input/parts/0/length_mm": {"topic": "cutting", "input": map[string]any{"kerf_mm": 3, "boards": boards[:1], "parts": []any{map[string]any{"id": "p", "length_mm": 5000, "count": 1}}}},
		"/input":                   {"topic": "cutting"},
	} {
		require.Equal(t, []string{pointer}, c.do("POST", "/api/v1/searches", wrong).want(http.StatusUnprocessableEntity).pointers())
	}
	odd := `{"topic":"cutting","input":{"kerf_mm":3,"boards":[{"id":"b","length_mm":900,"count":1}],"parts":[{"id":"\ud800","length_mm":50,"count":1}]}}`
	require.Less(t, c.do("POST", "/api/v1/searches", odd).Status, 500, "half a character")
	c.do("GET", "/api/v1/searches/999999", nil).want(http.StatusNotFound)
}
