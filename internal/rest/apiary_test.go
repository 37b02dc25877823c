package rest

import (
	"net/http"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/apiary"
	"kerfbook/internal/postgres"
)

// newApiary is newShop with the standard kinds of bees; it gives the first one's id.
func newApiary(t testing.TB) (*client, int64) {
	t.Helper()
	c := newShop(t)
	var id int64
	for i, sp := range apiary.StandardSpecies() {
		sp, err := c.server.Apiary.SpeciesPut(t.Context(), sp)
		require.NoError(t, err)
		if i == 0 {
			id = sp.ID
		}
	}
	return c, id
}

// addBox puts a box of the workshop's own on the shelf.
func (c *client) addBox(serial string) int64 {
	c.t.Helper()
	id, err := postgres.Value[int64](c.t.Context(), c.db, `WITH b AS (INSERT INTO box (serial, finished_at) VALUES ($1, now()) RETURNING id)
INSERT INTO box_owner (box_id, from_at) SELECT id, now() FROM b RETURNING box_id`, serial)
	require.NoError(c.t, err)
	return id
}

func (c *client) addColony(species int64) api.Colony {
	c.t.Helper()
	var x api.Colony
	c.do("POST", "/api/v1/colonies", `{"species_id":`+strconv.FormatInt(species, 10)+`,"species_sure":true,"dwelling":"log","began_on":"2024-01-10","settled_on":"2024-05-01","place":"behind the shed"}`).
		want(http.StatusCreated).into(&x)
	return x
}

func TestBeeSpeciesOverREST(t *testing.T) {
	t.Parallel()
	c, id := newApiary(t)
	var list api.BeeSpeciesList
	c.do("GET", "/api/v1/bee-species", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 3)
	path := at("/api/v1/bee-species/", id)
	var sp api.BeeSpecies
	c.do("GET", path, nil).want(http.StatusOK).into(&sp)
	require.NotEmpty(t, sp.Sources["heat_limit_c"])
	sp = api.BeeSpecies{}
	c.do("PUT", path, `{"code":"carbonaria","name":"Tetragonula carbonaria","heat_limit_c":38.5,"split_months":[10,11],"sources":{"heat_limit_c":"my own yard"}}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&sp)
	require.InDelta(t, 38.5, *sp.HeatLimitC, 1e-6)
	require.Nil(t, sp.FlightMinC)
	c.do("PUT", path, `{"code":"carbonaria","name":"T"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("POST", "/api/v1/bee-species", `{"code":"carbonaria","name":"Twice"}`).want(http.StatusConflict)
	c.do("POST", "/api/v1/bee-species", `{"code":"other","name":"Another","split_months":[13]}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/bee-species", `{"code":"apis","name":"Apis mellifera","common_name":"honey bee"}`).want(http.StatusCreated)
}

func TestColoniesOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	mother := c.addColony(species)
	require.Equal(t, "C0001", mother.Number)
	require.True(t, mother.Ready)
	c.do("POST", "/api/v1/colonies", `{}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/colonies", `{"species_id":99}`).want(http.StatusConflict)
	tomorrow := time.Now().AddDate(0, 0, 3).Format(time.DateOnly)
	require.Equal(t, []string{"/settled_on"}, c.do("POST", "/api/v1/colonies", at(`{"species_id":`, species, `,"settled_on":"`+tomorrow+`"}`)).want(http.StatusUnprocessableEntity).pointers())

	box := c.addBox("10016")
	var child api.Colony
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/split"), at(`{"box_id":`, box, `}`)).want(http.StatusCreated).into(&child)
	require.Equal(t, "10016", *child.BoxSerial)
	require.Equal(t, "settling", child.State)
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/split"), at(`{"box_id":`, box, `}`)).want(http.StatusConflict)

	var whole api.ColonyWhole
	c.do("GET", at("/api/v1/colonies/", child.ID), nil).want(http.StatusOK).into(&whole)
	require.Equal(t, mother.ID, whole.Parents[0].ColonyID)
	c.do("GET", at("/api/v1/colonies/", mother.ID), nil).want(http.StatusOK).into(&whole)
	require.Equal(t, child.ID, whole.Children[0].ColonyID)
	require.Equal(t, "split", whole.Events[0].Kind)

	var e api.ColonyEvent
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/events"), `{"kind":"weighed","mass_kg":8.5}`).want(http.StatusCreated).into(&e)
	require.InDelta(t, 8.5, *e.MassKg, 1e-6)
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/events"), `{"kind":"sung to"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/colonies/999/events", `{"kind":"fed"}`).want(http.StatusNotFound)

	var housed api.Housed
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/house"), at(`{"box_id":`, c.addBox("10024"), `}`)).want(http.StatusOK).into(&housed)
	require.Equal(t, "box", housed.Colony.Dwelling)
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/house"), `{}`).want(http.StatusUnprocessableEntity)

	mark := func(body string) response { return c.do("POST", at("/api/v1/colonies/", child.ID, "/mark"), body) }
	mark(`{"mark":"settled"}`).want(http.StatusOK).into(&child)
	require.Equal(t, "ready", child.State)
	mark(`{"mark":"settled","on":"` + tomorrow + `"}`).want(http.StatusUnprocessableEntity)
	mark(`{"mark":"held back"}`).want(http.StatusUnprocessableEntity)
	mark(`{"mark":"held back","because":"mites"}`).want(http.StatusOK).into(&child)
	require.Equal(t, "held back: mites", child.State)
	mark(`{"mark":"released"}`).want(http.StatusOK)
	mark(`{"mark":"gone","because":"flooded"}`).want(http.StatusOK)
	mark(`{"mark":"gone","because":"flooded"}`).want(http.StatusConflict)

	var list api.ColonyList
	c.do("GET", "/api/v1/colonies?living=true", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/colonies?format=csv", nil).want(http.StatusOK)
}
