package rest

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

func TestLimitedThingsOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	b := c.makeBuild(rev.ID, sp.ID, 2)
	var list api.LimitedThingList
	c.do("GET", "/api/v1/limited-things", nil).want(http.StatusOK).into(&list)
	names := map[string]api.LimitedThing{}
	for _, x := range list.Items {
		names[x.Name] = x
	}
	clamps := names["clamps"]
	require.Equal(t, 1, clamps.Count, "the drawing named them")
	path := at("/api/v1/limited-things/", clamps.ID)

	var rack api.LimitedThing
	c.do("POST", "/api/v1/limited-things", `{"name":"paint rack","count":3,"notes":"by the door"}`).want(http.StatusCreated).into(&rack)
	for body, pointer := range map[string]string{`{"name":"","count":1}`: "/name", `{"name":"x","count":0}`: "/count", `{"name":"x","count":-2}`: "/count", `{"name":"x","count":1001}`: "/count", `{"name":"clamps x3","count":1}`: "/name"} {
		require.Equal(t, []string{pointer}, c.do("POST", "/api/v1/limited-things", body).want(http.StatusUnprocessableEntity).pointers(), body)
	}
	c.do("POST", "/api/v1/limited-things", `{"name":"Clamps","count":1}`).want(http.StatusConflict)
	c.do("GET", at("/api/v1/limited-things/", rack.ID), nil).want(http.StatusOK)
	c.do("PUT", at("/api/v1/limited-things/", rack.ID), `{"name":"rack","count":2}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("PUT", at("/api/v1/limited-things/", rack.ID), `{"name":"rack","count":2}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	require.Equal(t, []string{"/name"}, c.do("PUT", path, `{"name":"vices","count":1}`, header{"If-Match", `"1"`}).want(http.StatusUnprocessableEntity).pointers(), "the drawing names them so")

	var uses api.LimitedThingBuildList
	c.do("GET", path+"/builds", nil).want(http.StatusOK).into(&uses)
	require.Len(t, uses.Items, 1)
	require.Equal(t, b.Build.ID, uses.Items[0].BuildID)
	require.False(t, uses.Items[0].Hurt)
	var none api.LimitedThingBuildList
	c.do("GET", path+"/builds?count=0", nil).want(http.StatusOK).into(&none)
	require.True(t, none.Items[0].Hurt)
	require.Nil(t, none.Items[0].ThenOn)
	require.Contains(t, none.Items[0].Why, "needs clamps")
	c.do("GET", path+"/builds?count=-1", nil).want(http.StatusBadRequest)
	c.do("GET", "/api/v1/limited-things/999/builds", nil).want(http.StatusNotFound)
	c.do("PUT", path, `{"name":"clamps","count":1,"put_away":true}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("GET", "/api/v1/limited-things?put_away=true", nil).want(http.StatusOK).into(&list)
	require.Contains(t, list.Items[0].Name, "clamps")
	body := map[string]any{}
	for k, v := range rev.Body {
		body[k] = v
	}
	require.NotEmpty(t, c.do("POST", at("/api/v1/models/", rev.ModelID, "/revisions"), map[string]any{"body": body, "reason": "again"}).want(http.StatusUnprocessableEntity).pointers(), "put away: no drawing can name it")
}
