package rest

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
)

func TestRegisterOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	ada := c.addParty("Ada Quill", "07 5550 0101")
	var box api.BoxWhole
	year := time.Now().AddDate(-1, 0, 0).UTC().Format(time.RFC3339)
	c.do("POST", "/api/v1/boxes", at(`{"serial":"5724","maker":"somebody up the coast","description":"a round log hive","finished_at":"`+year+`","owner_id":`, ada.ID, `}`)).want(http.StatusCreated).into(&box)
	path := func(rest string) string { return at("/api/v1/boxes/", box.Box.ID, rest) }

	var owners api.BoxOwnerList
	c.do("POST", path("/owners"), `{}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path("/owners"), `{"name":"Bram","at":"2001-01-01T00:00:00Z"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path("/owners"), `{"name":"Bram","at":"`+time.Now().AddDate(1, 0, 0).UTC().Format(time.RFC3339)+`"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path("/owners"), `{"party_id":999}`).want(http.StatusNotFound)
	c.do("POST", "/api/v1/boxes/999/owners", `{"name":"Bram"}`).want(http.StatusNotFound)
	c.do("POST", path("/owners"), `{"name":"Bram Oakshott","note":"told by Ada"}`).want(http.StatusOK).into(&owners)
	require.Equal(t, []string{"Bram Oakshott", "Ada Quill"}, []string{owners.Items[0].Name, owners.Items[1].Name})
	c.do("GET", path("/owners"), nil).want(http.StatusOK)

	var reports api.StolenReportList
	c.do("POST", path("/recovered"), `{}`).want(http.StatusConflict)
	c.do("POST", path("/stolen"), `{}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path("/stolen"), `{"reported_by":"Bram Oakshott"}`).want(http.StatusOK).into(&reports)
	require.Len(t, reports.Items, 1)
	c.do("POST", path("/stolen"), `{"reported_by":"Bram Oakshott"}`).want(http.StatusConflict)
	c.do("PUT", at("/api/v1/stolen-reports/", reports.Items[0].ID), `{"police_reference":"QP 7"}`, header{"If-Match", `"1"`}).want(http.StatusNoContent)
	c.do("PUT", at("/api/v1/stolen-reports/", reports.Items[0].ID), `{"police_reference":"QP 8"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("GET", "/api/v1/stolen-boxes", nil).want(http.StatusOK).into(&reports)
	require.Equal(t, "QP 7", reports.Items[0].PoliceReference)

	stranger := c.as("")
	var found api.FoundBox
	answer := stranger.do("GET", "/api/v1/found/5724", nil).want(http.StatusOK)
	answer.into(&found)
	require.Equal(t, api.FoundBoxStateReportedStolen, found.State)
	for _, private := range []string{"Bram", "Ada", "QP 7", "hive"} {
		require.NotContains(t, string(answer.Body), private)
	}
	stranger.do("GET", "/api/v1/found/5723", nil).want(http.StatusUnprocessableEntity)
	stranger.do("GET", "/api/v1/found/1010", nil).want(http.StatusOK).into(&found)
	require.Equal(t, api.FoundBoxStateNotOurs, found.State)
	c.do("GET", path("/reports"), nil).want(http.StatusOK).into(&reports)
	require.NotNil(t, reports.Items[0].AskedAt)
	c.do("POST", path("/recovered"), `{"how":"stood in the creek"}`).want(http.StatusOK).into(&reports)
	require.NotNil(t, reports.Items[0].RecoveredAt)

	var paper api.RegisterPaper
	c.do("POST", path("/register-papers"), nil).want(http.StatusCreated).into(&paper)
	require.Equal(t, "5724-1", paper.Number)
	pdf := c.do("GET", path("/register-papers/1"), nil).want(http.StatusOK)
	require.True(t, strings.HasPrefix(string(pdf.Body), "%PDF"))
	c.do("GET", path("/register-papers/2"), nil).want(http.StatusNotFound)
	c.do("GET", path("/register-papers/x"), nil).want(http.StatusBadRequest)
	var papers api.RegisterPaperList
	c.do("GET", path("/register-papers"), nil).want(http.StatusOK).into(&papers)
	require.Len(t, papers.Items, 1)

	var like api.BoxList
	c.do("GET", "/api/v1/serials/572/like", nil).want(http.StatusOK).into(&like)
	require.Equal(t, "5724", like.Items[0].Serial)
	c.do("GET", "/api/v1/serials/blue/like", nil).want(http.StatusUnprocessableEntity)

	helper := c.as(c.addAccount("hand", access.Helper))
	helper.do("GET", path("/owners"), nil).want(http.StatusForbidden)
	helper.do("GET", path("/register-papers/1"), nil).want(http.StatusForbidden)
}

// A stranger who reads through the serials is stopped.
func TestFoundIsThrottled(t *testing.T) {
	t.Parallel()
	c := newShop(t).as("")
	for range 12 {
		c.do("GET", "/api/v1/found/5724", nil).want(http.StatusOK)
	}
	c.do("GET", "/api/v1/found/5724", nil).want(http.StatusTooManyRequests)
	c.do("GET", "/api/v1/found/xyz", nil).want(http.StatusTooManyRequests)
}
