package rest

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/postgres"
)

func TestHeldBackColoniesOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	mother := c.addColony(species)
	path := at("/api/v1/colonies/", mother.ID)
	c.do("POST", path+"/mark", `{"mark":"held back","because":"mites"}`).want(http.StatusOK)
	box := c.addBox("10016")
	for to, body := range map[string]string{
		path + "/split":    at(`"box_id":`, box),
		path + "/house":    `"dwelling":"other"`,
		"/api/v1/colonies": at(`"species_id":`, species, at(`,"dwelling":"log","parents":[{"colony_id":`, mother.ID, `,"kind":"brood given"}]`)),
	} {
		require.Equal(t, []string{"/in_spite"}, c.do("POST", to, "{"+body+"}").want(http.StatusConflict).pointers(), to)
		answered := c.do("POST", to, "{"+body+`,"in_spite":"the inspector told us to"}`)
		require.Less(t, answered.Status, 300, to)
	}
	stop, err := postgres.Value[int64](t.Context(), c.db, `WITH n AS (INSERT INTO run (number, run_on, kind) VALUES ('R0099', now()::date + 2, 'delivery') RETURNING id)
INSERT INTO run_stop (run_id, position, colony_id) SELECT id, 1, $1 FROM n RETURNING id`, mother.ID)
	require.NoError(t, err)
	done := at("/api/v1/run-stops/", stop, "/mark")
	require.Equal(t, []string{"/in_spite"}, c.do("POST", done, `{"mark":"done"}`).want(http.StatusConflict).pointers())
	c.do("POST", done, `{"mark":"done","in_spite":"the inspector took it"}`).want(http.StatusNoContent)
	var list api.ColonyList
	c.do("GET", "/api/v1/colonies", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 3)
	for _, x := range list.Items {
		require.False(t, x.Ready)
		require.NotNil(t, x.HeldBackBecause)
	}
}

func TestDescentOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	mother := c.addColony(species)
	var child api.Colony
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/split"), at(`{"box_id":`, c.addBox("10016"), `}`)).want(http.StatusCreated).into(&child)
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/mark"), `{"mark":"gone","because":"flooded"}`).want(http.StatusOK)
	var d api.ColonyDescent
	c.do("GET", at("/api/v1/colonies/", child.ID, "/descent"), nil).want(http.StatusOK).into(&d)
	require.Len(t, d.Kin, 2)
	require.Equal(t, []any{mother.Number, -1, "gone", "gone: flooded"}, []any{d.Kin[1].Number, d.Kin[1].Step, d.Kin[1].Stands, d.Kin[1].Words})
	require.Equal(t, []any{child.ID, mother.ID, "split"}, []any{d.Ties[0].ColonyID, d.Ties[0].ParentID, d.Ties[0].Kind})
	c.do("GET", "/api/v1/colonies/999/descent", nil).want(http.StatusNotFound)
}
