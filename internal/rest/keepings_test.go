package rest

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/postgres"
)

func TestKeepingsOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	party, err := postgres.Value[int64](t.Context(), c.db, `INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id`)
	require.NoError(t, err)
	day := func(n int) string { return time.Now().AddDate(0, 0, n).Format(time.DateOnly) }
	var k api.Keeping
	c.do("POST", "/api/v1/keepings", at(`{"party_id":`, party, at(`,"species_id":`, species, `,"description":"blue log hive","purpose":"split","agreed":"one split","price_minor":8000,"back_on":"`+day(30)+`","place":"the far row","came_at":"2026-01-05T00:00:00Z"}`))).want(http.StatusCreated).into(&k)
	require.Equal(t, []any{"Colony C0001", "Ada Quill", "the far row", int64(8000), false}, []any{k.Called, k.Owner, k.Place, *k.PriceMinor, k.Due})
	c.do("POST", "/api/v1/keepings", at(`{"party_id":`, party, `}`)).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/keepings", `{"party_id":999,"description":"x"}`).want(http.StatusNotFound)
	require.Equal(t, []string{"/back_on"}, c.do("POST", "/api/v1/keepings", at(`{"party_id":`, party, `,"description":"x","back_on":"2020-01-01"}`)).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/keepings", at(`{"party_id":`, party, at(`,"colony_id":`, *k.ColonyID, `}`))).want(http.StatusConflict)
	path := at("/api/v1/keepings/", k.ID)
	c.do("GET", path, nil).want(http.StatusOK).into(&k)
	c.do("PUT", path, `{"purpose":"minding","agreed":"two splits","back_on":"`+day(40)+`"}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&k)
	require.Equal(t, "two splits", k.Agreed)
	c.do("PUT", path, `{"agreed":"x"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("POST", at("/api/v1/colonies/", *k.ColonyID, "/mark"), `{"mark":"held back","because":"mites"}`).want(http.StatusOK)
	require.Equal(t, []string{"/in_spite"}, c.do("POST", path+"/end", `{"how":"back"}`).want(http.StatusConflict).pointers())
	c.do("POST", path+"/end", `{"how":"back","in_spite":"she wants it home","note":"fetched"}`).want(http.StatusOK).into(&k)
	require.Equal(t, "back", *k.EndedHow)
	c.do("POST", path+"/end", `{"how":"back"}`).want(http.StatusConflict)
	c.do("GET", "/api/v1/keepings/999", nil).want(http.StatusNotFound)
	var list api.KeepingList
	c.do("GET", "/api/v1/keepings", nil).want(http.StatusOK).into(&list)
	require.Empty(t, list.Items)
	c.do("GET", "/api/v1/keepings?ended=true", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/keepings?ended=true&format=csv", nil).want(http.StatusOK)
}
