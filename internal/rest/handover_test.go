package rest

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/handover"
	"kerfbook/internal/postgres"
)

// addUnit makes an order with one piece that wants a box and, with bees, a colony.
func (c *client) addUnit(bees bool) int64 {
	c.t.Helper()
	id, err := postgres.Value[int64](c.t.Context(), c.db, `WITH p AS (INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id),
o AS (INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S' || lpad(id::text, 4, '0'), id, now() FROM p RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor) SELECT id, 1, 'box', 'Small box', 1, 100, 100, 0, 100 FROM o RETURNING id)
INSERT INTO order_unit (order_line_id, n, wants_box, wants_colony) SELECT id, 1, true, $1 FROM l RETURNING id`, bees)
	require.NoError(c.t, err)
	return id
}

func TestPutAsideOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	unit, other := c.addUnit(true), c.addUnit(true)
	box := c.addBox("10016")
	aside := func(unit int64, body string) response {
		return c.do("POST", at("/api/v1/units/", unit, "/put-aside"), body)
	}
	aside(unit, `{}`).want(http.StatusUnprocessableEntity)
	aside(unit, at(`{"box_id":`, box, `}`)).want(http.StatusNoContent)
	aside(other, at(`{"box_id":`, box, `}`)).want(http.StatusConflict)
	aside(unit, at(`{"box_id":`, c.addBox("10024"), `}`)).want(http.StatusConflict)
	aside(999, at(`{"box_id":`, box, `}`)).want(http.StatusNotFound)

	// A colony that lives in another box of ours cannot join the first; it takes its own box along.
	colony := c.addColony(species)
	c.do("POST", at("/api/v1/colonies/", colony.ID, "/house"), at(`{"box_id":`, c.addBox("10032"), `}`)).want(http.StatusOK)
	aside(unit, at(`{"colony_id":`, colony.ID, `}`)).want(http.StatusConflict)
	aside(other, at(`{"colony_id":`, colony.ID, `}`)).want(http.StatusNoContent)
	u, err := c.server.Sales.UnitGet(t.Context(), other)
	require.NoError(t, err)
	require.Equal(t, "10032", *u.BoxSerial)
	require.True(t, u.Ready())

	free := func(body string) response { return c.do("POST", at("/api/v1/units/", other, "/free"), body) }
	free(`{"colony":true,"because":"weak"}`).want(http.StatusNoContent)
	free(`{"colony":true}`).want(http.StatusConflict)
	free(`{"colony":"yes"}`).want(http.StatusUnprocessableEntity)
}

func TestRunsOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	unit := c.addUnit(false)
	day := time.Now().AddDate(0, 0, 3).Format(time.DateOnly)
	var run api.Run
	c.do("POST", "/api/v1/runs", at(`{"run_on":"`+day+`","unit_ids":[`, unit, `],"driver":"Jo","forecast_c":31.5}`)).want(http.StatusCreated).into(&run)
	require.Equal(t, "Ada Quill", run.Stops[0].Buyer)
	c.do("POST", "/api/v1/runs", at(`{"run_on":"2020-01-01","unit_ids":[`, unit, `]}`)).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/runs", `{"run_on":"`+day+`","unit_ids":[]}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/runs", `{"run_on":"`+day+`","unit_ids":[999]}`).want(http.StatusNotFound)
	path := at("/api/v1/runs/", run.ID)
	c.do("GET", path, nil).want(http.StatusOK)
	later := time.Now().AddDate(0, 0, 5).Format(time.DateOnly)
	c.do("POST", path+"/put-off", `{"run_on":"`+later+`","because":"heat"}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&run)
	require.Equal(t, later, run.RunOn)
	c.do("POST", path+"/put-off", `{"run_on":"`+later+`"}`, header{"If-Match", `"2"`}).want(http.StatusUnprocessableEntity)
	c.do("POST", path+"/put-off", `{"run_on":"`+later+`","because":"rain"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	var told api.RunMessageList
	c.do("GET", path+"/messages", nil).want(http.StatusOK).into(&told)
	require.Len(t, told.Items, 1)
	require.Contains(t, told.Items[0].Text, "The reason: heat")
	c.do("GET", "/api/v1/runs/999/messages", nil).want(http.StatusNotFound)
	c.do("POST", at("/api/v1/run-stops/", told.Items[0].StopID, "/mark"), `{"mark":"told"}`).want(http.StatusNoContent)
	c.do("GET", path+"/messages", nil).want(http.StatusOK).into(&told)
	require.True(t, told.Items[0].Told)
	c.do("PUT", path+"/forecast", `{"forecast_c":99}`, header{"If-Match", `"2"`}).want(http.StatusUnprocessableEntity)
	c.do("PUT", path+"/forecast", `{}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("PUT", path+"/forecast", `{"forecast_c":41.5}`, header{"If-Match", `"2"`}).want(http.StatusOK).into(&run)
	require.InDelta(t, 41.5, *run.ForecastC, 0.01)
	var care api.RunCare
	c.do("GET", path+"/care", nil).want(http.StatusOK).into(&care)
	require.Len(t, care.Stops, 1)
	require.False(t, care.Stops[0].Bees)
	c.do("GET", "/api/v1/runs/999/care", nil).want(http.StatusNotFound)
	stop := at("/api/v1/run-stops/", run.Stops[0].ID, "/mark")
	c.do("POST", stop, `{"mark":"closed"}`).want(http.StatusNoContent)
	c.do("POST", stop, `{"mark":"opened","happened_at":"2020-01-01T00:00:00Z"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", stop, `{"mark":"open"}`).want(http.StatusNoContent)
	c.do("GET", path, nil).want(http.StatusOK).into(&run)
	require.NotNil(t, run.Stops[0].SeenOpenAt)
	require.NotNil(t, run.Stops[0].OpenedAt, "what was closed and is seen open was opened")
	c.do("POST", stop, `{"mark":"lost"}`).want(http.StatusUnprocessableEntity)
	var list api.RunList
	c.do("GET", "/api/v1/runs", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/runs?past=true", nil).want(http.StatusOK)
	c.do("POST", path+"/cancel", nil, header{"If-Match", `"3"`}).want(http.StatusOK).into(&run)
	require.True(t, run.Cancelled)
	c.do("POST", path+"/cancel", nil, header{"If-Match", `"3"`}).want(http.StatusPreconditionFailed)
}

func TestHandoversAndFollowUpsOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	box := c.addBox("10016")
	h, err := c.server.Handover.Make(t.Context(), handover.Handover{UnitID: c.addUnit(false), BoxID: &box, ReceivedBy: "Ada", HappenedAt: time.Now().AddDate(-1, 0, -3)}, nil)
	require.NoError(t, err)
	var list api.HandoverList
	c.do("GET", "/api/v1/handovers?limit=1", nil).want(http.StatusOK).into(&list)
	require.Equal(t, "H0001", list.Items[0].Number)
	var one api.Handover
	c.do("GET", at("/api/v1/handovers/", h.ID), nil).want(http.StatusOK).into(&one)
	require.Len(t, one.FollowUps, 1, "a box without bees is asked after once")
	c.do("GET", "/api/v1/handovers/999", nil).want(http.StatusNotFound)

	var asks api.FollowUpList
	c.do("GET", "/api/v1/follow-ups", nil).want(http.StatusOK).into(&asks)
	require.Len(t, asks.Items, 1)
	answerPath := at("/api/v1/follow-ups/", asks.Items[0].ID, "/answer")
	c.do("POST", answerPath, `{"answer":"lost"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", answerPath, `{"answer":"alive"}`).want(http.StatusOK)
	c.do("POST", answerPath, `{"answer":"alive"}`).want(http.StatusConflict)
	c.do("POST", at("/api/v1/handovers/", h.ID, "/guarantee-claims"), `{"what":"the roof warped"}`).want(http.StatusCreated)
	c.do("POST", at("/api/v1/handovers/", h.ID, "/guarantee-claims"), `{}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/handovers/999/guarantee-claims", `{"what":"x"}`).want(http.StatusNotFound)
}

func TestHandOverOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	unit := c.addUnit(true)
	give := func(body string) response { return c.do("POST", at("/api/v1/units/", unit, "/hand-over"), body) }
	give(`{"received_by":"Ada"}`).want(http.StatusConflict)
	colony := c.addColony(species)
	c.do("POST", at("/api/v1/colonies/", colony.ID, "/house"), at(`{"box_id":`, c.addBox("10016"), `}`)).want(http.StatusOK)
	c.do("POST", at("/api/v1/units/", unit, "/put-aside"), at(`{"colony_id":`, colony.ID, `}`)).want(http.StatusNoContent)
	c.do("POST", "/api/v1/units/999/hand-over", `{"received_by":"Ada"}`).want(http.StatusNotFound)
	give(`{}`).want(http.StatusUnprocessableEntity)
	give(`{"received_by":"Ada","bees_in":-1}`).want(http.StatusUnprocessableEntity)

	day := time.Now().AddDate(0, 0, 2).Format(time.DateOnly)
	var run api.Run
	c.do("POST", "/api/v1/runs", at(`{"run_on":"`+day+`","unit_ids":[`, unit, `]}`)).want(http.StatusCreated).into(&run)
	require.Equal(t, "%PDF", string(c.do("GET", at("/api/v1/runs/", run.ID, "/sheet"), nil).want(http.StatusOK).Body[:4]))
	c.do("GET", "/api/v1/runs/999/sheet", nil).want(http.StatusNotFound)
	o, err := c.server.Sales.OrderOfUnit(t.Context(), unit)
	require.NoError(t, err)
	require.Equal(t, "%PDF", string(c.do("GET", at("/api/v1/orders/", o.ID, "/site-sheet"), nil).want(http.StatusOK).Body[:4]))
	c.do("GET", "/api/v1/orders/999/site-sheet", nil).want(http.StatusNotFound)

	var given api.HandedOver
	give(`{"received_by":"Ada","bees_in":21,"bees_out":19,"fixing":"two coach screws into the post"}`).want(http.StatusCreated).into(&given)
	require.Equal(t, colony.ID, *given.Handover.ColonyID)
	require.Len(t, given.Handover.FollowUps, 4)
	give(`{"received_by":"Ada"}`).want(http.StatusConflict)
	require.Equal(t, "%PDF", string(c.do("GET", at("/api/v1/handovers/", given.Handover.ID, "/sheet"), nil).want(http.StatusOK).Body[:4]))
	c.do("GET", "/api/v1/handovers/999/sheet", nil).want(http.StatusNotFound)
	var gone api.ColonyWhole
	c.do("GET", at("/api/v1/colonies/", colony.ID), nil).want(http.StatusOK).into(&gone)
	require.Equal(t, "Ada Quill", gone.Colony.Owner)
}

func TestRoundsOverREST(t *testing.T) {
	t.Parallel()
	c, _ := newApiary(t)
	var tree api.HostTree
	c.do("POST", "/api/v1/host-trees", `{"name":"Leaning ironbark","permission":"owner","latitude":-26.5,"longitude":152.9,"next_visit_on":"2031-02-01"}`).want(http.StatusCreated).into(&tree)
	on := time.Now().AddDate(0, 0, 3).Format(time.DateOnly)
	many := strings.Repeat("1,", 1999) + "1"
	for _, body := range []string{`{"run_on":"` + on + `","tree_ids":[]}`, `{"run_on":"` + on + `","tree_ids":[` + many + `]}`, `{"run_on":"` + on + `"}`, `{"run_on":"` + on + `","due_within_days":2}`, `{"run_on":"2020-01-01","tree_ids":[1]}`, `{"run_on":"` + on + `","tree_ids":[1],"due_within_days":2}`} {
		c.do("POST", "/api/v1/rounds", body).want(http.StatusUnprocessableEntity)
	}
	for _, ids := range []string{`[]`, `[` + many + `]`} {
		c.do("POST", "/api/v1/runs", `{"run_on":"`+on+`","unit_ids":`+ids+`}`).want(http.StatusUnprocessableEntity)
	}
	c.do("POST", "/api/v1/runs", `{"run_on":"`+on+`","unit_ids":[1],"loads":"noon"}`).want(http.StatusUnprocessableEntity)
	var run api.Run
	c.do("POST", "/api/v1/rounds", at(`{"run_on":"`+on+`","driver":"Wren","tree_ids":[`, tree.ID, `]}`)).want(http.StatusCreated).into(&run)
	require.Equal(t, "visits", run.Kind)
	require.Equal(t, tree.ID, *run.Stops[0].HostTreeID)
	var p api.Permit
	c.do("POST", "/api/v1/permits", `{"number":"WA 17","authority":"Parks office","ends_on":"2020-12-31"}`).want(http.StatusCreated).into(&p)
	c.do("POST", at("/api/v1/run-stops/", run.Stops[0].ID, "/permit"), at(`{"permit_id":`, p.ID, `}`)).want(http.StatusNoContent)
	c.do("POST", "/api/v1/run-stops/999/permit", `{}`).want(http.StatusNotFound)
	var care api.RunCare
	c.do("GET", at("/api/v1/runs/", run.ID, "/care"), nil).want(http.StatusOK).into(&care)
	require.Contains(t, care.Stops[0].Warnings[0], "Permit WA 17 of Parks office ended")
	require.Equal(t, "Is the hollow still lived in?", *care.Stops[0].LookFor)
	c.do("POST", at("/api/v1/host-trees/", tree.ID, "/visits"), at(`{"found":"quiet","run_stop_id":`, run.Stops[0].ID, `}`)).want(http.StatusOK)
	c.do("GET", at("/api/v1/runs/", run.ID), nil).want(http.StatusOK).into(&run)
	require.True(t, run.Done, "the only stop is done by the visit")
	require.NotEmpty(t, c.do("GET", at("/api/v1/runs/", run.ID, "/sheet"), nil).want(http.StatusOK).Body)
}
