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

func TestColonyLogOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	mother, other := c.addColony(species), c.addColony(species)
	path := at("/api/v1/colonies/", mother.ID)
	for _, kind := range []string{"fed", "inspected", "pests", "moved", "note"} {
		c.do("POST", path+"/events", `{"kind":"`+kind+`","happened_about":"about 2024"}`).want(http.StatusCreated)
	}
	require.Equal(t, []string{"/happened_about"}, c.do("POST", path+"/events", `{"kind":"fed","happened_about":"about 2199"}`).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/mass_kg"}, c.do("POST", path+"/events", `{"kind":"weighed"}`).want(http.StatusUnprocessableEntity).pointers())

	c.do("POST", path+"/brood", at(`{"to_id":`, other.ID, `,"note":"two fingers"}`)).want(http.StatusOK)
	c.do("POST", path+"/brood", at(`{"to_id":`, mother.ID, `}`)).want(http.StatusUnprocessableEntity)
	c.do("POST", at("/api/v1/colonies/", other.ID, "/brood"), at(`{"to_id":`, mother.ID, `}`)).want(http.StatusConflict)

	c.do("POST", path+"/findings", at(`{"species_id":`, species+1, `,"sure":false,"found_by":"a neighbour"}`)).want(http.StatusOK)
	c.do("POST", path+"/findings", at(`{"species_id":`, species, `,"found_on":"2199-01-01"}`)).want(http.StatusUnprocessableEntity)
	var whole api.ColonyWhole
	version := c.do("GET", path, nil).want(http.StatusOK)
	version.into(&whole)
	require.Len(t, *whole.Findings, 2)
	require.False(t, whole.Colony.SpeciesSure)
	require.Equal(t, "about 2024", *whole.Events[len(whole.Events)-1].HappenedAbout)

	var x api.Colony
	c.do("PUT", path, `{"name":"Anna","began_about":"about 1961","origin":"an ironbark; Mrs Quill allowed it"}`, header{"If-Match", version.Header.Get("ETag")}).want(http.StatusOK).into(&x)
	require.Equal(t, "about 1961", *x.BeganAbout)
	c.do("PUT", path, `{"name":"Anna"}`, header{"If-Match", version.Header.Get("ETag")}).want(http.StatusPreconditionFailed)

	c.do("POST", path+"/mark", `{"mark":"gone","because":"ants","on":"2199-01-01"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path+"/unite", at(`{"to_id":`, other.ID, `}`)).want(http.StatusOK).into(&x)
	require.Equal(t, "gone: united with "+other.Number, x.State)
	c.do("POST", path+"/unite", at(`{"to_id":`, other.ID, `}`)).want(http.StatusConflict)
	require.Equal(t, http.StatusCreated, c.do("POST", path+"/events", `{"kind":"fed","happened_at":"2024-06-01T00:00:00Z"}`).Status, "forgotten until now")
	c.do("POST", at("/api/v1/colonies/", other.ID, "/events"), `{"kind":"fed"}`).want(http.StatusCreated)
	c.do("POST", at("/api/v1/colonies/", other.ID, "/mark"), `{"mark":"gone","because":"ants","on":"2024-12-31"}`).want(http.StatusUnprocessableEntity)
}

func TestSectionsOfASplitOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	box := c.addBox("10016")
	_, err := c.db.Exec(t.Context(), `INSERT INTO box_section (box_id, section, place_in_box, from_at) SELECT $1, 'honey', n, now() - interval '1 year' FROM generate_series(1, 3) n`, box)
	require.NoError(t, err)
	_, err = c.db.Exec(t.Context(), `UPDATE box SET finished_at = now() - interval '1 year'`)
	require.NoError(t, err)
	var mother, child api.Colony
	c.do("POST", "/api/v1/colonies", at(`{"species_id":`, species, at(`,"box_id":`, box, `}`))).want(http.StatusCreated).into(&mother)
	into := c.addBox("10024")
	path := at("/api/v1/colonies/", mother.ID, "/split")
	c.do("POST", path, at(`{"box_id":`, into, `,"sections":[{"place":9}]}`)).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/sections/0/place"}, c.do("POST", path, at(`{"box_id":`, into, `,"sections":[{"place":4}]}`)).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", path, at(`{"box_id":`, into, `,"sections":[{"place":3,"to_place":1}],"exchange":false}`)).want(http.StatusCreated).into(&child)
	var whole api.BoxWhole
	c.do("GET", at("/api/v1/boxes/", into), nil).want(http.StatusOK).into(&whole)
	require.Equal(t, []any{"honey", 1, box, "10016", 3}, []any{whole.Sections[0].Section, whole.Sections[0].PlaceInBox, *whole.Sections[0].CameFromBoxID, *whole.Sections[0].CameFromSerial, *whole.Sections[0].CameFromPlace})
}
