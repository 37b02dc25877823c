package rest

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

// TestEveryListIsATableFile holds that each list of the contract can be had as RFC 4180 text: the list's answer has
// "items", so it offers the parameter Format and text/csv.
func TestEveryListIsATableFile(t *testing.T) {
	t.Parallel()
	lists := 0
	for key, op := range loadSpec().operations {
		answer := op.route.Operation.Responses.Status(http.StatusOK)
		if op.route.Method != http.MethodGet || answer == nil || answer.Value == nil {
			continue
		}
		plain := answer.Value.Content["application/json"]
		if plain == nil || plain.Schema.Value.Properties["items"] == nil {
			continue
		}
		lists++
		require.NotNil(t, answer.Value.Content["text/csv"], "%s: a list answers with text/csv too", key)
		require.NotNil(t, op.route.Operation.Parameters.GetByInAndName("query", "format"), "%s: a list takes the parameter Format", key)
	}
	require.Greater(t, lists, 60)
}

func TestTableOfAList(t *testing.T) {
	t.Parallel()
	type inner struct {
		Town *string `json:"town,omitempty"`
		Big  bool    `json:"big"`
	}
	type line struct {
		Made  time.Time      `json:"made"`
		Name  string         `json:"name"`
		Place *inner         `json:"place,omitempty"`
		Sizes []float64      `json:"sizes"`
		Parts *[]inner       `json:"parts,omitempty"`
		More  map[string]any `json:"more"`
		Skip  int            `json:"-"`
		Raw   json.Number    `json:"raw"`
	}
	town := "Elmsford, east"
	header, rows, ok := tableOf(struct{ Items []line }{[]line{
		{Made: time.Date(2026, 2, 28, 6, 0, 0, 0, time.UTC), Name: "=1+1", Place: &inner{Town: &town, Big: true}, Sizes: []float64{12.5, 40000000}, Parts: &[]inner{{&town, false}, {nil, true}}, More: map[string]any{"b": 2, "a": nil}, Raw: "3.10"},
		{},
	}})
	require.True(t, ok)
	require.Equal(t, []string{"name", "made", "place_town", "place_big", "sizes", "parts", "more", "raw"}, header)
	require.Equal(t, []string{"=1+1", "2026-02-28T06:00:00Z", town, "true", "12.5; 40000000", "town=Elmsford, east big=false; big=true", "a= b=2", "3.10"}, rows[0])
	require.Equal(t, []string{"", "0001-01-01T00:00:00Z", "", "", "", "", "", ""}, rows[1])
	_, _, ok = tableOf(api.Account{})
	require.False(t, ok)
	_, _, ok = tableOf(3)
	require.False(t, ok)
	header, rows, ok = tableOf(api.AccountList{})
	require.True(t, ok)
	require.Contains(t, header, "sign_in")
	require.Empty(t, rows)
	require.Equal(t, "moves", listName("/api/v1/items/:id/moves"))
}
