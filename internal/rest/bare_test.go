package rest

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/postgres"
)

// bareParty is what the bare handler reads and writes: the columns of a party's record.
type bareParty struct {
	ID             int64           `json:"id"`
	Version        int             `json:"version"`
	MadeAt         time.Time       `json:"made_at"`
	Kind           string          `json:"kind"`
	Name           string          `json:"name"`
	Town           string          `json:"town"`
	BusinessNumber string          `json:"business_number"`
	BuyerClassID   *int64          `json:"buyer_class_id"`
	FoundBy        string          `json:"found_by"`
	Notes          string          `json:"notes"`
	JoinedIntoID   *int64          `json:"joined_into_id"`
	PutAwayAt      *time.Time      `json:"put_away_at"`
	Contacts       json.RawMessage `json:"contacts"`
}

// The statements of [sales.Room.PartyGet] and [sales.Room.PartyPut], written out for the
// bare handler so that both ask the same of the database.
const (
	bareRead = `SELECT id, version, made_at, kind, name, town, business_number, buyer_class_id, found_by, notes, joined_into_id, put_away_at,
	(SELECT json_agg(json_build_object('ID', c.id, 'PartyID', c.party_id, 'Kind', c.kind, 'Value', c.value, 'Normal', c.normal, 'Person', c.person) ORDER BY c.id)
		FROM contact c WHERE c.party_id = party.id AND c.put_away_at IS NULL) AS contacts FROM party WHERE id = $1`
	bareWrite = `INSERT INTO party (kind, name, town, business_number, buyer_class_id, found_by, notes)
VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING id, version, made_at`
)

// bare is the yardstick: an echo handler that runs the same statement through pgx and
// encodes the row, with no sign-in, no contract, nobody named for the history (whose
// trigger runs for both) and no transaction but the statement's own.
func bare(db *postgres.DB) http.Handler {
	e := echo.New()
	e.GET("/parties/:id", func(c echo.Context) error {
		id, err := strconv.ParseInt(c.Param("id"), 10, 64)
		if err != nil {
			return err
		}
		var p bareParty
		if err := db.Pool().QueryRow(c.Request().Context(), bareRead, id).Scan(&p.ID, &p.Version, &p.MadeAt, &p.Kind, &p.Name, &p.Town, &p.BusinessNumber,
			&p.BuyerClassID, &p.FoundBy, &p.Notes, &p.JoinedIntoID, &p.PutAwayAt, &p.Contacts); err != nil {
			return err
		}
		return c.JSON(http.StatusOK, p)
	})
	e.POST("/parties", func(c echo.Context) error {
		p := bareParty{Kind: "person"}
		if err := c.Bind(&p); err != nil {
			return err
		}
		if err := db.Pool().QueryRow(c.Request().Context(), bareWrite, p.Kind, p.Name, p.Town, p.BusinessNumber, p.BuyerClassID, p.FoundBy, p.Notes).
			Scan(&p.ID, &p.Version, &p.MadeAt); err != nil {
			return err
		}
		return c.JSON(http.StatusCreated, p)
	})
	return e
}

// BenchmarkReadBesideBare and BenchmarkWriteBesideBare run ours and the bare handler in
// one run, over HTTP on loopback; keep the share (ours may not fall below 0.7 of the
// bare pace), not the times.
//
//	go test ./internal/rest -run '^$' -bench BesideBare
func BenchmarkReadBesideBare(b *testing.B) {
	c := newClient(b, remembering)
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

// remembering looks people up as the program does, where other tests look each time.
func remembering(d *Deps) { d.Access = access.New(d.DB, access.Options{Cost: access.TestCost}) }

func BenchmarkWriteBesideBare(b *testing.B) {
	c := newClient(b, remembering)
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

// besideBare sends one request to each side by turns, so that a busy machine slows both
// alike, and reports how much of the bare handler's pace ours keeps.
func besideBare(b *testing.B, c *client, request func(base string, ours bool) *http.Request) {
	sides := [2]*httptest.Server{httptest.NewServer(bare(c.db)), httptest.NewServer(c.handler)}
	var mu sync.Mutex
	var took [2][]time.Duration
	b.RunParallel(func(pb *testing.PB) {
		var mine [2][]time.Duration
		for pb.Next() {
			for i, srv := range sides {
				r := request(srv.URL, i == 1)
				r.Header.Set("Authorization", "Bearer "+c.token)
				start := time.Now()
				res, err := http.DefaultClient.Do(r)
				if err != nil {
					b.Error(err)
					return
				}
				_, _ = io.Copy(io.Discard, res.Body)
				res.Body.Close()
				mine[i] = append(mine[i], time.Since(start))
				if res.StatusCode >= 300 {
					b.Errorf("status %d", res.StatusCode)
					return
				}
			}
		}
		mu.Lock()
		defer mu.Unlock()
		for i := range took {
			took[i] = append(took[i], mine[i]...)
		}
	})
	for i, srv := range sides {
		srv.Close()
		slices.Sort(took[i])
	}
	if len(took[0]) == 0 {
		return
	}
	middle := func(i int) float64 { return float64(took[i][len(took[i])/2].Nanoseconds()) / 1000 }
	b.ReportMetric(middle(0), "bare-µs")
	b.ReportMetric(middle(1), "ours-µs")
	b.ReportMetric(middle(0)/middle(1), "share")
}
