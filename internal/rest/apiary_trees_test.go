package rest

import (
	"net/http"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

func TestHostTreesOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	var tree api.HostTree
	box := c.addBox("10032")
	require.Equal(t, []string{"/permission"}, c.do("POST", "/api/v1/host-trees", at(`{"name":"Leaning ironbark","box_id":`, box, `}`)).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/host-trees", `{"name":"On the moon","latitude":-91,"longitude":20}`).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/latitude"}, c.do("POST", "/api/v1/host-trees", `{"name":"Half a place","latitude":-26}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/host-trees", `{"name":"Nobody's permit","permit_id":99}`).want(http.StatusConflict)
	var permit api.Permit
	c.do("POST", "/api/v1/permits", `{"number":"WA 17"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/permits", `{"number":"WA 17","authority":"Parks office","kind":"take","covers":"six trees","from_on":"2020-01-01","ends_on":"2020-12-31"}`).want(http.StatusCreated).into(&permit)
	require.Equal(t, "ended", permit.State)
	require.Equal(t, 30, permit.WarnDays)
	c.do("POST", "/api/v1/host-trees", at(`{"name":"Leaning ironbark","permission":"owner, by letter","fixed_on":"2026-01-05","latitude":-26.45,"longitude":152.9,"box_id":`, box, at(`,"species_id":`, species, at(`,"permit_id":`, permit.ID, `}`)))).want(http.StatusCreated).into(&tree)
	require.Equal(t, "10032", *tree.BoxSerial)
	require.Equal(t, []string{"Permit WA 17 of Parks office ended on 31 December 2020."}, tree.Mind)
	require.Equal(t, "2026-02-02", *tree.DueOn, "28 days from a day in January")
	path := at("/api/v1/host-trees/", tree.ID)
	tree = api.HostTree{}
	c.do("POST", path+"/visits", `{"seen":"bees carry wax into the box","next_visit_on":"2031-02-01"}`).want(http.StatusOK).into(&tree)
	require.Equal(t, "2031-02-01", *tree.NextVisitOn)
	c.do("POST", path+"/visits", `{}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path+"/visits", `{"found":"gold"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path+"/visits", `{"found":"wax","run_stop_id":99}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/host-trees/999/visits", `{"seen":"x"}`).want(http.StatusNotFound)
	tree = api.HostTree{}
	c.do("POST", path+"/visits", `{"found":"brood"}`).want(http.StatusOK).into(&tree)
	require.Nil(t, tree.NextVisitOn)
	require.Equal(t, "brood", *tree.LastFound)
	require.Equal(t, "Own queen, brood and pots? Then it is settled.", tree.LookFor)

	var list api.HostTreeList
	c.do("GET", "/api/v1/host-trees?find=iron", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/host-trees?due_by=2025-01-01", nil).want(http.StatusOK).into(&list)
	require.Empty(t, list.Items)
	c.do("GET", "/api/v1/host-trees?format=csv", nil).want(http.StatusOK)
	var whole api.HostTreeWhole
	c.do("GET", path, nil).want(http.StatusOK).into(&whole)
	etag := strconv.Quote(strconv.Itoa(whole.Tree.Version))
	require.Len(t, whole.Visits, 2)
	c.do("PUT", path, at(`{"name":"Leaning ironbark","permission":"owner","box_id":`, box, `,"visit_every_days":14}`), header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	tree = api.HostTree{}
	c.do("PUT", path, at(`{"name":"Leaning ironbark","permission":"owner","visit_every_days":14,"box_id":`, box, at(`,"permit_id":`, permit.ID, `}`)), header{"If-Match", etag}).want(http.StatusOK).into(&tree)
	etag = strconv.Quote(strconv.Itoa(tree.Version))
	require.Equal(t, 14, *tree.VisitEveryDays)

	c.do("POST", path+"/settle", `{}`, header{"If-Match", etag}).want(http.StatusUnprocessableEntity) // kind not known any more
	var colony api.Colony
	c.do("POST", path+"/settle", at(`{"species_sure":true,"species_id":`, species, `}`), header{"If-Match", etag}).want(http.StatusCreated).into(&colony)
	require.True(t, colony.Ready)
	require.Contains(t, colony.Origin, "allowed by owner")
	c.do("GET", path, nil).want(http.StatusOK).into(&whole)
	etag = strconv.Quote(strconv.Itoa(whole.Tree.Version))
	require.Equal(t, "Fetch the box", whole.Tree.Asks)
	tree = api.HostTree{}
	c.do("POST", path+"/box-away", `{"place":"home yard"}`, header{"If-Match", etag}).want(http.StatusOK).into(&tree)
	etag = strconv.Quote(strconv.Itoa(tree.Version))
	require.Nil(t, tree.BoxSerial)
	c.do("POST", path+"/put-away", `{"because":"felled"}`, header{"If-Match", etag}).want(http.StatusOK).into(&tree)
	require.True(t, tree.PutAway)
	c.do("GET", path, nil).want(http.StatusOK).into(&whole)
	require.Equal(t, colony.ID, whole.Drawn[0].ColonyID)
}

func TestPermitsOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	var p api.Permit
	ends := time.Now().AddDate(0, 0, 20).Format(time.DateOnly)
	c.do("POST", "/api/v1/permits", `{"number":"M 4","authority":"Biosecurity","kind":"move","ends_on":"`+ends+`"}`).want(http.StatusCreated).into(&p)
	require.Equal(t, "ends soon", p.State)
	require.Equal(t, []string{"/ends_on"}, c.do("POST", "/api/v1/permits", `{"number":"M 5","authority":"B","from_on":"2026-02-01","ends_on":"2026-01-01"}`).want(http.StatusUnprocessableEntity).pointers())
	colony := c.addColony(species)
	c.do("POST", at("/api/v1/colonies/", colony.ID, "/permit"), at(`{"permit_id":`, p.ID, `}`)).want(http.StatusNoContent)
	c.do("POST", at("/api/v1/colonies/", colony.ID, "/permit"), `{"permit_id":99}`).want(http.StatusConflict)
	c.do("POST", "/api/v1/colonies/999/permit", `{}`).want(http.StatusNotFound)
	var whole api.PermitWhole
	c.do("GET", at("/api/v1/permits/", p.ID), nil).want(http.StatusOK).into(&whole)
	require.Equal(t, colony.Number, whole.Uses[0].Name)
	c.do("PUT", at("/api/v1/permits/", p.ID), `{"number":"M 4","authority":"Biosecurity","kind":"move","warn_days":5,"ends_on":"`+ends+`","put_away":true}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&p)
	require.Equal(t, "put away", p.State)
	c.do("PUT", at("/api/v1/permits/", p.ID), `{"number":"M 4","authority":"Biosecurity"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	var list api.PermitList
	c.do("GET", "/api/v1/permits", nil).want(http.StatusOK).into(&list)
	require.Empty(t, list.Items)
	c.do("GET", "/api/v1/permits?put_away=true", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/permits?format=csv", nil).want(http.StatusOK)
}
