package rest

import (
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

// Issue, bad input: two people taking the last boards at once, over real connections: one
// promise is refused, both facts are kept.
func TestTwoTakeTheLastBoardsOverHTTP(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	one, two := c.makeBuild(rev.ID, sp.ID, 1), c.makeBuild(rev.ID, sp.ID, 1)
	builds := []string{at("/api/v1/builds/", one.Build.ID), at("/api/v1/builds/", two.Build.ID)}
	sizes := map[[2]float64]float64{} // of parts, end to end
	for _, p := range one.Parts {
		sizes[[2]float64{p.WidthMm, p.ThicknessMm}] += p.LengthMm * float64(p.Count)
	}
	var last api.Lot
	for z, mm := range sizes { // one board of each size, enough for one build and not for two
		c.do("POST", "/api/v1/lots", map[string]any{"species_id": sp.ID, "width_mm": z[0], "thickness_mm": z[1], "length_mm": math.Ceil(mm*1.1 + 100), "count": 1}).want(http.StatusCreated).into(&last)
	}

	srv := httptest.NewServer(c.handler)
	defer srv.Close()
	var count sync.WaitGroup
	post := func(path, body string, status *int) {
		count.Go(func() {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, srv.URL+path, strings.NewReader(body))
			if err != nil {
				return
			}
			r.Header.Set("Authorization", "Bearer "+c.token)
			r.Header.Set("Content-Type", "application/json")
			if res, err := http.DefaultClient.Do(r); err == nil {
				*status = res.StatusCode
				_ = res.Body.Close()
			}
		})
	}
	status := make([]int, 2)
	for _, deed := range []string{"/cutting", "/cutting/accept"} {
		for i, path := range builds {
			post(path+deed, "", &status[i])
		}
		count.Wait()
	}
	require.Contains(t, [][]int{{http.StatusOK, http.StatusConflict}, {http.StatusConflict, http.StatusOK}}, status, "one promise holds, one is refused")
	c.do("GET", at("/api/v1/lots/", last.ID), nil).want(http.StatusOK).into(&last)
	require.Equal(t, []int{1, 1}, []int{last.OnHand, last.PutAside})

	for i := range status {
		post("/api/v1/stock-moves", at(`{"lot_id":`, last.ID, `,"quantity":1,"kind":"cut"}`), &status[i])
	}
	count.Wait()
	require.Equal(t, []int{http.StatusCreated, http.StatusCreated}, status, "both facts are kept")
	var moves api.MoveList
	c.do("GET", at("/api/v1/lots/", last.ID, "/moves"), nil).want(http.StatusOK).into(&moves)
	cut := 0
	for _, m := range moves.Items {
		if m.Kind == "cut" {
			cut -= m.Quantity
		}
	}
	require.Equal(t, 2, cut)
}
