package web

import (
	"net/http"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/workshop"
)

// From an empty book the maker says what he expects to sell, and sees what to saw: drawn,
// in words and in figures. A helper sees it without a price.
func TestMillNextFromAnEmptyBook(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.get("/timber/mill-next").has("main", "No board is needed").has("main", "knows no order")
	species := b.addTimber()
	m, err := b.server.Workshop.ModelSave(t.Context(), workshop.Model{Code: "small", Name: "Small box"})
	require.NoError(t, err)
	_, err = b.server.Workshop.RevisionAdd(t.Context(), workshop.Drawing{ModelID: m.ID, Body: hive.Ready()[0].Model})
	require.NoError(t, err)
	pace := func(boxes string) *browser {
		return b.get("/timber").get("/timber/mill-next").submit("form[action='/timber/mill-next']", "model_id", strconv.FormatInt(m.ID, 10), "species_id", strconv.FormatInt(species, 10), "boxes_a_month", boxes)
	}
	pace("many")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("#f-boxes-a-month-about", "number")
	pace("4").has(".said", "The pace is noted.").has("main", "runs short in").has("main", "should have been sawn by").has("svg.strip", "short in")
	require.Contains(t, b.Find("svg.strip").First().AttrOr("aria-label", ""), "short in")
	require.NotEmpty(t, b.rows(), "the figures stand beside the drawing")
	require.Positive(t, b.get("/timber/mill-next?months=18&figures=open").Find("details[open] table").Length())
	require.Equal(t, http.StatusUnprocessableEntity, b.get("/timber/mill-next?months=many").Status)
	b.addAccount("jo", access.Helper)
	jo := b.other()
	jo.signIn("jo")
	jo.get("/timber/mill-next").has("main", "runs short in").hasNot(".cost")
	require.NotContains(t, jo.Find("main").Text(), "$")
	pace("0").has("main", "No board is needed")
}
