package rest

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/calc/hive"
)

// newBench is newShop with a timber, boards of it, and a ready model drawn up.
func newBench(t testing.TB) (*client, api.TimberSpecies, api.Revision) {
	t.Helper()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	ready := hive.Ready()[0]
	var m api.Model
	c.do("POST", "/api/v1/models", `{"code":"`+ready.Model.ID+`","name":"`+ready.Name+`"}`).want(http.StatusCreated).into(&m)
	var rev api.Revision
	c.do("POST", at("/api/v1/models/", m.ID, "/revisions"), map[string]any{"body": ready.Model}).want(http.StatusCreated).into(&rev)
	return c, sp, rev
}

func TestModelsOverREST(t *testing.T) {
	t.Parallel()
	c, _, rev := newBench(t)
	require.Equal(t, 1, rev.Revision)
	model := at("/api/v1/models/", rev.ModelID)
	c.do("GET", model, nil).want(http.StatusOK)
	c.do("GET", "/api/v1/models?all=true", nil).want(http.StatusOK)
	c.do("PUT", model, `{"code":"two-tier","name":"Two tiers"}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("GET", model+"/revisions", nil).want(http.StatusOK)
	c.do("GET", at("/api/v1/model-revisions/", rev.ID), nil).want(http.StatusOK)
	body := rev.Body
	c.do("POST", model+"/revisions", map[string]any{"body": body, "reason": "taller"}).want(http.StatusCreated)
	body["length_mm"] = -230
	require.Contains(t, c.do("POST", model+"/revisions", map[string]any{"body": body, "reason": "x"}).want(http.StatusUnprocessableEntity).pointers(), "/body/length_mm")
	body["length_mm"], body["lenght"] = 230, 1
	require.Equal(t, []string{"/body/lenght"}, c.do("POST", model+"/revisions", map[string]any{"body": body, "reason": "x"}).want(http.StatusUnprocessableEntity).pointers(), "an unknown field is named")

	var fit api.Fit
	c.do("POST", "/api/v1/fits", `{"name":"230 x 230","sizes":[{"name":"length","nominal_mm":230,"low_mm":229.5,"high_mm":230.5}]}`).want(http.StatusCreated).into(&fit)
	c.do("PUT", at("/api/v1/fits/", fit.ID), `{"name":"230 x 230","sizes":[{"name":"length","nominal_mm":230,"low_mm":230.5,"high_mm":230.5}]}`, header{"If-Match", `"1"`}).want(http.StatusUnprocessableEntity)
	c.do("PUT", at("/api/v1/fits/", fit.ID), `{"name":"230 square","sizes":[{"name":"length","nominal_mm":230,"low_mm":229.5,"high_mm":230.5}]}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("GET", at("/api/v1/fits/", fit.ID), nil).want(http.StatusOK)
	c.do("GET", "/api/v1/fits", nil).want(http.StatusOK)

	var o api.Option
	c.do("POST", "/api/v1/box-options", `{"code":"oiled","name":"oiled","kind":"finish","cure_days":7,"operations":[{"id":"oil","piece_minutes":12.5,"owner_only":true}]}`).want(http.StatusCreated).into(&o)
	require.True(t, *o.Operations[0].OwnerOnly)
	c.do("PUT", at("/api/v1/box-options/", o.ID), `{"code":"oiled","name":"oiled twice","kind":"finish","cure_days":9}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("POST", "/api/v1/box-options", `{"code":"x","name":"x","kind":"section"}`).want(http.StatusUnprocessableEntity)
	c.do("GET", at("/api/v1/box-options?model_id=", rev.ModelID), nil).want(http.StatusOK)
}

func (c *client) makeBuild(rev, species int64, n int) api.BuildWhole {
	c.t.Helper()
	var b api.BuildWhole
	c.do("POST", "/api/v1/builds", map[string]any{"model_revision_id": rev, "timber_species_id": species, "quantity": n, "due_on": day(20)}).want(http.StatusCreated).into(&b)
	return b
}

func TestBuildsOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	b := c.makeBuild(rev.ID, sp.ID, 1)
	path := at("/api/v1/builds/", b.Build.ID)
	require.NotEmpty(t, b.Short, "nothing on the rack")
	require.Equal(t, []string{"/due_on"}, c.do("POST", "/api/v1/builds", map[string]any{"model_revision_id": rev.ID, "timber_species_id": sp.ID, "quantity": 1, "due_on": day(-3)}).want(http.StatusUnprocessableEntity).pointers(), "a promise in the past")
	c.do("POST", path+"/cutting/accept", nil).want(http.StatusConflict)
	for _, p := range b.Parts { // boards of every board size that the model takes
		c.do("POST", "/api/v1/lots", map[string]any{"species_id": sp.ID, "width_mm": p.WidthMm, "thickness_mm": p.ThicknessMm, "length_mm": 2400, "count": 3}).want(http.StatusCreated)
	}
	c.do("POST", path+"/cutting", nil).want(http.StatusOK).into(&b)
	require.NotEmpty(t, b.Cutting[0].Layouts)
	var sought api.SearchList
	c.do("POST", path+"/longer", map[string]any{"seconds": 5}).want(http.StatusCreated).into(&sought)
	require.NotEmpty(t, sought.Items)
	about := strings.TrimPrefix(path, "/api/v1/builds/")
	require.Eventually(t, func() bool {
		c.do("GET", "/api/v1/searches?about=build/"+about, nil).want(http.StatusOK).into(&sought)
		return !slices.ContainsFunc(sought.Items, func(s api.Search) bool { return s.State != "ended" })
	}, 60*time.Second, 50*time.Millisecond)
	c.do("POST", path+"/longer/take", nil).want(http.StatusOK).into(&b)
	c.do("POST", path+"/cutting/accept", nil).want(http.StatusOK)
	c.do("POST", path+"/fittings", nil).want(http.StatusOK)
	c.do("GET", path, nil).want(http.StatusOK).into(&b)
	c.do("PUT", path, `{"due_on":"`+day(30)+`","notes":"for the show"}`, header{"If-Match", at(`"`, int64(b.Build.Version), `"`)}).want(http.StatusOK).into(&b)
	c.do("POST", path+"/outputs/1", `{}`).want(http.StatusOK)
	c.do("POST", path+"/outputs/1", `{"spoiled":true,"order_unit_id":1}`).want(http.StatusUnprocessableEntity)
	c.do("POST", path+"/outputs/9", `{"spoiled":true}`).want(http.StatusNotFound)
	c.do("GET", "/api/v1/builds?find=B0", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/builds?format=csv", nil).want(http.StatusOK)
	require.Equal(t, "%PDF", string(c.do("GET", path+"/job-card", nil).want(http.StatusOK).Body[:4]))
	require.Equal(t, "%PDF", string(c.do("GET", path+"/part-labels", nil).want(http.StatusOK).Body[:4]))
	c.do("GET", path+"/labels", nil).want(http.StatusConflict)

	op := at("/api/v1/operations/", b.Operations[0].ID)
	c.do("GET", "/api/v1/clock", nil).want(http.StatusNotFound)
	var next api.NextStep
	c.do("GET", "/api/v1/clock/next", nil).want(http.StatusOK).into(&next)
	require.Equal(t, b.Operations[0].ID, next.OperationID)
	c.do("POST", op+"/start", `{}`).want(http.StatusCreated)
	c.do("GET", "/api/v1/clock/next", nil).want(http.StatusOK).into(&next)
	require.Equal(t, b.Operations[1].ID, next.OperationID, "somebody is at the first")
	c.do("GET", "/api/v1/clock", nil).want(http.StatusOK)
	c.do("POST", "/api/v1/clock/stop", `{}`).want(http.StatusOK)
	c.do("POST", "/api/v1/clock/stop", `{}`).want(http.StatusConflict)
	c.do("POST", op+"/time", map[string]any{"started_at": time.Now().Add(-3 * time.Hour), "stopped_at": time.Now().Add(-2 * time.Hour)}).want(http.StatusCreated)
	c.do("POST", op+"/done", `{"done":true}`).want(http.StatusOK).into(&b)
	require.InDelta(t, 60, b.Operations[0].SpentMin, 1)

	c.do("POST", path+"/finish", `{}`).want(http.StatusPreconditionRequired)
	version := header{"If-Match", at(`"`, int64(b.Build.Version), `"`)}
	require.Equal(t, []string{"/spoiled/0"}, c.do("POST", path+"/finish", `{"spoiled":[2]}`, version).want(http.StatusUnprocessableEntity).pointers())
	var done api.BuildFinished
	c.do("POST", path+"/finish", `{"place":"shelf"}`, version).want(http.StatusOK).into(&done)
	require.Len(t, done.Boxes, 1)
	require.Equal(t, "1007", done.Boxes[0].Serial, "100 with its check digit, by hand in Damm's table")
	require.Equal(t, "%PDF", string(c.do("GET", path+"/labels", nil).want(http.StatusOK).Body[:4]))
	require.Equal(t, "%PDF", string(c.do("GET", at("/api/v1/boxes/", done.Boxes[0].ID, "/label"), nil).want(http.StatusOK).Body[:4]))
	c.do("GET", "/api/v1/builds?done=true", nil).want(http.StatusOK)

	other := c.makeBuild(rev.ID, sp.ID, 2)
	cancel := at("/api/v1/builds/", other.Build.ID, "/cancel")
	c.do("POST", cancel, `{"because":""}`, header{"If-Match", `"1"`}).want(http.StatusUnprocessableEntity)
	c.do("POST", cancel, `{"because":"no longer wanted"}`, header{"If-Match", at(`"`, int64(other.Build.Version), `"`)}).want(http.StatusOK)
	c.do("POST", cancel, `{"because":"again"}`, header{"If-Match", `"9"`}).want(http.StatusConflict)
}

func TestCuttingsOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	a, b := c.makeBuild(rev.ID, sp.ID, 2), c.makeBuild(rev.ID, sp.ID, 1)
	for _, p := range a.Parts {
		c.do("POST", "/api/v1/lots", map[string]any{"species_id": sp.ID, "width_mm": p.WidthMm, "thickness_mm": p.ThicknessMm, "length_mm": 2400, "count": 3}).want(http.StatusCreated)
	}
	require.Equal(t, []string{"/builds/1"}, c.do("POST", "/api/v1/cuttings", map[string]any{"builds": []int64{a.Build.ID, a.Build.ID}}).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/cuttings", `{"builds":[]}`).want(http.StatusUnprocessableEntity)
	var cut api.Cutting
	c.do("POST", "/api/v1/cuttings", map[string]any{"builds": []int64{a.Build.ID, b.Build.ID}}).want(http.StatusCreated).into(&cut)
	path := at("/api/v1/cuttings/", cut.ID)
	require.Len(t, cut.Builds, 2)
	require.NotNil(t, cut.Totals.CostMinor, "the owner sees costs")
	c.do("GET", path, nil).want(http.StatusOK)
	c.do("GET", "/api/v1/cuttings/99999", nil).want(http.StatusNotFound)
	lot := cut.Plans[0].Layouts[0].LotID
	require.Equal(t, []string{"/pinned/0"}, c.do("POST", path+"/lay", `{"pinned":[99999]}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", path+"/lay", `{"pinned":[`+lot+`]}`).want(http.StatusOK).into(&cut)
	require.NotNil(t, cut.Best)
	cut = api.Cutting{}
	c.do("POST", path+"/lay", `{}`).want(http.StatusOK).into(&cut)
	require.Nil(t, cut.Best)
	c.do("POST", path+"/accept", nil).want(http.StatusOK).into(&cut)
	c.do("POST", path+"/accept", nil).want(http.StatusConflict)
	require.Equal(t, "%PDF", string(c.do("GET", path+"/job-card", nil).want(http.StatusOK).Body[:4]))
	plan, layout := -1, 0
	for i, p := range cut.Plans {
		if len(p.Layouts) > 0 {
			plan = i
			break
		}
	}
	require.Equal(t, []string{"/layout"}, c.do("POST", path+"/cut", map[string]any{"plan_id": cut.Plans[plan].ID, "layout": 99}).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", path+"/failed", map[string]any{"plan_id": cut.Plans[plan].ID, "layout": layout, "usable_mm": 1000}).want(http.StatusOK).into(&cut)
	require.NotNil(t, cut.AcceptedAt)
	for i, p := range cut.Plans {
		if len(p.Layouts) > 0 {
			plan = i
			break
		}
	}
	c.do("POST", path+"/cut", map[string]any{"plan_id": cut.Plans[plan].ID, "layout": layout, "times": 1}).want(http.StatusOK).into(&cut)
	require.Len(t, cut.Cut, 1)

	one := at("/api/v1/builds/", a.Build.ID)
	c.do("GET", one, nil).want(http.StatusOK).into(&a)
	require.Equal(t, cut.ID, *a.CuttingID)
	version := header{"If-Match", at(`"`, int64(a.Build.Version), `"`)}
	require.Equal(t, []string{"/pieces"}, c.do("POST", one+"/finish", `{"pieces":3}`, version).want(http.StatusUnprocessableEntity).pointers())
	var done api.BuildFinished
	c.do("POST", one+"/finish", `{"pieces":1}`, version).want(http.StatusOK).into(&done)
	require.Len(t, done.Boxes, 1)
	require.Equal(t, 1, done.Build.PiecesFinished)
	require.Equal(t, "%PDF", string(c.do("GET", one+"/labels?used=13", nil).want(http.StatusOK).Body[:4]))
	require.Equal(t, []string{"/used"}, c.do("GET", one+"/labels?used=14", nil).want(http.StatusUnprocessableEntity).pointers(), "a sheet of 14")
	c.do("GET", one+"/part-labels?used=x", nil).want(http.StatusBadRequest)
}

func TestBoxesAndShelfOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	var box api.BoxWhole
	c.do("POST", "/api/v1/boxes", map[string]any{"model_revision_id": rev.ID, "timber_species_id": sp.ID, "serial": "5724", "finished_at": "2022-03-01T00:00:00Z"}).want(http.StatusCreated).into(&box)
	require.Equal(t, []string{"/serial"}, c.do("POST", "/api/v1/boxes", `{"description":"x","serial":"5725","finished_at":"2022-03-01T00:00:00Z"}`).want(http.StatusUnprocessableEntity).pointers())
	path := at("/api/v1/boxes/", box.Box.ID)
	c.do("GET", path, nil).want(http.StatusOK)
	c.do("GET", "/api/v1/boxes?shelf=true&find=57", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/boxes?format=csv", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/serials/5724", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/serials/5742", nil).want(http.StatusUnprocessableEntity)
	c.do("GET", "/api/v1/serials/1007", nil).want(http.StatusNotFound)
	c.do("POST", path+"/place", `{"place":"by the door"}`).want(http.StatusOK)
	c.do("POST", path+"/sections", `{"place_in_box":1,"section":"","note":"cracked"}`).want(http.StatusOK).into(&box)
	c.do("PUT", path, `{"held_back_because":"a crack"}`, header{"If-Match", at(`"`, int64(box.Box.Version), `"`)}).want(http.StatusOK)
	c.do("PUT", path, `{}`, header{"If-Match", at(`"`, int64(box.Box.Version), `"`)}).want(http.StatusPreconditionFailed)

	section := rev.Body["sections"].([]any)[0].(map[string]any)["id"].(string)
	for _, part := range rev.Body["parts"].([]any) { // a section that has parts
		if s, ok := part.(map[string]any)["section"].(string); ok && s != "" {
			section = s
		}
	}
	c.do("POST", "/api/v1/shelf", map[string]any{"model_revision_id": rev.ID, "makes": "section", "piece": section, "count": 2}).want(http.StatusCreated)
	c.do("POST", "/api/v1/shelf", map[string]any{"model_revision_id": rev.ID, "makes": "section", "piece": "attic", "count": 2}).want(http.StatusUnprocessableEntity)
	var shelf api.Shelf
	c.do("GET", at("/api/v1/shelf?model_id=", rev.ModelID), nil).want(http.StatusOK).into(&shelf)
	require.Equal(t, 2, shelf.Items[0].Free)
}

func TestHoursAndPlanOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	c.do("POST", "/api/v1/bench-plans", `{}`).want(http.StatusConflict)
	c.do("POST", "/api/v1/work-week", `{"from_on":"2024-01-01","hours":[{"weekday":1,"start_minute":480,"end_minute":720},{"weekday":3,"start_minute":480,"end_minute":720,"hands":2}]}`).want(http.StatusOK)
	require.Equal(t, []string{"/hours/0/end_minute"}, c.do("POST", "/api/v1/work-week", `{"from_on":"2024-01-01","hours":[{"weekday":1,"start_minute":720,"end_minute":480}]}`).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/from_on"}, c.do("POST", "/api/v1/work-week", `{"hours":[{"weekday":1,"start_minute":480,"end_minute":720}]}`).want(http.StatusUnprocessableEntity).pointers())
	var w api.Week
	c.do("GET", "/api/v1/work-week?on=2024-06-01", nil).want(http.StatusOK).into(&w)
	require.Len(t, w.Hours, 2)
	var a api.Away
	c.do("POST", "/api/v1/away", `{"from_on":"`+day(5)+`","to_on":"`+day(6)+`","why":"market"}`).want(http.StatusCreated).into(&a)
	c.do("POST", "/api/v1/away", `{"from_on":"`+day(5)+`","to_on":"`+day(4)+`"}`).want(http.StatusUnprocessableEntity)
	c.do("GET", "/api/v1/away", nil).want(http.StatusOK)
	c.do("DELETE", at("/api/v1/away/", a.ID), nil).want(http.StatusNoContent)
	c.do("DELETE", at("/api/v1/away/", a.ID), nil).want(http.StatusNotFound)

	c.makeBuild(rev.ID, sp.ID, 2)
	c.do("GET", "/api/v1/current-bench-plan", nil).want(http.StatusNotFound)
	var p api.BenchPlan
	c.do("POST", "/api/v1/bench-plans", `{"why":"a new week"}`).want(http.StatusCreated).into(&p)
	require.NotEmpty(t, *p.Steps)
	c.do("POST", at("/api/v1/bench-plans/", p.ID, "/decision"), `{"accept":true}`).want(http.StatusOK)
	c.do("POST", at("/api/v1/bench-plans/", p.ID, "/decision"), `{"accept":false}`).want(http.StatusConflict)
	c.do("GET", at("/api/v1/bench-plans/", p.ID), nil).want(http.StatusOK)
	c.do("GET", "/api/v1/bench-plans", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/current-bench-plan", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/promises-kept", nil).want(http.StatusOK)
	c.do("GET", at("/api/v1/bench-plans/", p.ID, "/effects"), nil).want(http.StatusOK)
	c.do("GET", "/api/v1/bench-outlook", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/bench-slips", nil).want(http.StatusOK)
	require.Equal(t, []string{"/build_id"}, c.do("POST", "/api/v1/bench-plans", `{"move":"earlier"}`).want(http.StatusUnprocessableEntity).pointers())
	build := (*p.Steps)[0].BuildID
	c.do("POST", "/api/v1/bench-plans", at(`{"move":"earlier","build_id":`, build, `}`)).want(http.StatusConflict) // none stands before it
	c.do("POST", "/api/v1/bench-plans", at(`{"hold_to":"`+day(60)+`","build_id":`, build, `}`)).want(http.StatusCreated).into(&p)
	c.do("POST", at("/api/v1/bench-plans/", p.ID, "/decision"), `{"accept":true}`).want(http.StatusOK)
}
