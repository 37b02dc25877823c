package rest

import (
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/postgres"
)

// bare is the yardstick: an echo handler that runs the same statements through pgx and
// encodes the row, with no sign-in, no contract, no history and no repeats.
func bare(db *postgres.DB) http.Handler {
	e := echo.New()
	type party struct {
		ID   int64  `json:"id" db:"id"`
		Name string `json:"name" db:"name"`
		Town string `json:"town" db:"town"`
	}
	e.GET("/parties/:id", func(c echo.Context) error {
		id, err := strconv.ParseInt(c.Param("id"), 10, 64)
		if err != nil {
			return err
		}
		var p party
		if err := db.Pool().QueryRow(c.Request().Context(), `SELECT id, name, town FROM party WHERE id = $1`, id).Scan(&p.ID, &p.Name, &p.Town); err != nil {
			return err
		}
		return c.JSON(http.StatusOK, p)
	})
	e.POST("/parties", func(c echo.Context) error {
		var p party
		if err := c.Bind(&p); err != nil {
			return err
		}
		if err := db.Pool().QueryRow(c.Request().Context(), `INSERT INTO party (name, town) VALUES ($1, $2) RETURNING id`, p.Name, p.Town).Scan(&p.ID); err != nil {
			return err
		}
		return c.JSON(http.StatusCreated, p)
	})
	return e
}

// BenchmarkReadBesideBare and BenchmarkWriteBesideBare run ours and the bare handler in
// one run, over HTTP on loopback; keep the ratio, not the times.
//
//	go test ./internal/rest -run '^$' -bench BesideBare
func BenchmarkReadBesideBare(b *testing.B) {
	c := newClient(b)
	id, err := postgres.Value[int64](b.Context(), c.db, `INSERT INTO party (name, town) VALUES ('Ada Quill', 'Upper Moor') RETURNING id`)
	require.NoError(b, err)
	besideBare(b, c, func(base string, ours bool) *http.Request {
		path := "/parties/" + strconv.FormatInt(id, 10)
		if ours {
			path = "/api/v1" + path
		}
		r, err := http.NewRequest(http.MethodGet, base+path, nil)
		require.NoError(b, err)
		return r
	})
}

func BenchmarkWriteBesideBare(b *testing.B) {
	c := newClient(b)
	besideBare(b, c, func(base string, ours bool) *http.Request {
		path := "/parties"
		if ours {
			path = "/api/v1" + path
		}
		r, err := http.NewRequest(http.MethodPost, base+path, strings.NewReader(`{"name":"Ada Quill","town":"Upper Moor"}`))
		require.NoError(b, err)
		r.Header.Set("Content-Type", "application/json")
		return r
	})
}

func besideBare(b *testing.B, c *client, request func(base string, ours bool) *http.Request) {
	for _, side := range []struct {
		name    string
		handler http.Handler
		ours    bool
	}{{"bare", bare(c.db), false}, {"kerfbook", c.handler, true}} {
		b.Run(side.name, func(b *testing.B) {
			srv := httptest.NewServer(side.handler)
			defer srv.Close()
			b.ReportAllocs()
			b.RunParallel(func(pb *testing.PB) {
				for pb.Next() {
					r := request(srv.URL, side.ours)
					r.Header.Set("Authorization", "Bearer "+c.token)
					res, err := http.DefaultClient.Do(r)
					if err != nil {
						b.Error(err)
						return
					}
					res.Body.Close()
					if res.StatusCode >= 300 {
						b.Errorf("status %d", res.StatusCode)
						return
					}
				}
			})
		})
	}
}
