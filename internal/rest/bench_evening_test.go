package rest

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

func TestEveningOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	b := c.makeBuild(rev.ID, sp.ID, 2)
	yesterday := day(-1)
	path := "/api/v1/evenings/" + yesterday
	var e api.Evening
	c.do("GET", path, nil).want(http.StatusOK).into(&e)
	require.NotEmpty(t, e.Steps, "open work can be ticked without a plan")
	op := e.Steps[0].OperationID
	require.Equal(t, b.Build.ID, e.Steps[0].BuildID)
	c.do("POST", path, at(`{"minutes":95,"done":[`, op, `]}`)).want(http.StatusOK).into(&e)
	require.InDelta(t, 95, e.TappedMin, 0.01)
	require.Len(t, e.Spells, 1)
	require.Equal(t, []string{"/minutes"}, c.do("POST", path, at(`{"minutes":90,"worked":[`, e.Steps[1].OperationID, `]}`)).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/done"}, c.do("POST", path, `{"minutes":90}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", path, `{"minutes":90,"done":[1],"hours":3}`).want(http.StatusUnprocessableEntity)
	c.do("GET", "/api/v1/evenings/"+day(3), nil).want(http.StatusUnprocessableEntity)
	for _, wrong := range []string{"2026-02-30", "today", "0001-01-01"} {
		require.Less(t, c.do("GET", "/api/v1/evenings/"+wrong, nil).Status, 500, wrong)
	}
	spell := at("/api/v1/spells/", e.Spells[0].ID)
	from := e.Spells[0].StartedAt
	c.do("POST", spell, map[string]any{"started_at": from, "stopped_at": from.Add(time.Hour)}).want(http.StatusOK)
	require.Equal(t, []string{"/stopped_at"}, c.do("POST", spell, map[string]any{"started_at": from, "stopped_at": from}).want(http.StatusUnprocessableEntity).pointers())
	helper := c.as(c.addAccount("odell", "helper"))
	helper.do("POST", spell, map[string]any{"started_at": from, "stopped_at": from.Add(time.Hour)}).want(http.StatusNotFound)
	helper.do("DELETE", spell, nil).want(http.StatusNotFound)
	c.do("DELETE", spell, nil).want(http.StatusNoContent)
	c.do("POST", at("/api/v1/operations/", e.Steps[1].OperationID, "/start"), map[string]any{"at": time.Now().Add(-7 * time.Hour)}).want(http.StatusCreated)
	var f api.ForgottenList
	c.do("GET", "/api/v1/forgotten-time", nil).want(http.StatusOK).into(&f)
	require.Len(t, f.Items, 1)
	require.NotEmpty(t, f.Items[0].Stops)
	lines, err := c.server.Answer.DaySheet(t.Context(), time.Now())
	require.NoError(t, err)
	require.Condition(t, func() bool {
		for _, l := range lines {
			if l.Kind == "time" && l.Late {
				return true
			}
		}
		return false
	}, "the Day sheet asks about it")
	c.do("POST", "/api/v1/clock/stop", map[string]any{"at": f.Items[0].Stops[0].At}).want(http.StatusOK)
}

func TestLearntOverREST(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	model := at("/api/v1/models/", rev.ModelID, "/learnt")
	name := ""
	for i := range 3 {
		b := c.makeBuild(rev.ID, sp.ID, 1)
		o := b.Operations[0]
		name = o.Name
		from := time.Now().Add(-time.Duration(20*(i+2)) * time.Hour)
		c.do("POST", at("/api/v1/operations/", o.ID, "/time"), map[string]any{"started_at": from, "stopped_at": from.Add(11 * time.Hour)}).want(http.StatusCreated)
		_, err := c.db.Exec(t.Context(), `UPDATE build SET finished_at = now() WHERE id = $1`, b.Build.ID)
		require.NoError(t, err)
	}
	var list api.LearntList
	c.do("GET", model, nil).want(http.StatusOK).into(&list)
	require.True(t, list.Items[0].Worth)
	require.Equal(t, 3, list.Items[0].Builds)
	require.Equal(t, []string{"/operations/0"}, c.do("POST", model, `{"operations":["nothing"]}`).want(http.StatusUnprocessableEntity).pointers())
	var next api.Revision
	c.do("POST", model, map[string]any{"operations": []string{name}}).want(http.StatusCreated).into(&next)
	require.Equal(t, rev.Revision+1, next.Revision)
	require.Contains(t, next.Reason, "Learnt: ")
	c.do("GET", "/api/v1/models/999/learnt", nil).want(http.StatusOK)
	c.do("POST", "/api/v1/models/999/learnt", `{"operations":["cut"]}`).want(http.StatusNotFound)
}
