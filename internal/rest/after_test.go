package rest

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/handover"
	"kerfbook/internal/postgres"
)

// handedColony hands a colony over so many days ago.
func (c *client) handedColony(days int) handover.Handover {
	c.t.Helper()
	unit := c.addUnit(true)
	colony, err := postgres.Value[int64](c.t.Context(), c.db, `INSERT INTO colony (number) SELECT 'C' || 1000 + count(*) FROM colony RETURNING id`)
	require.NoError(c.t, err)
	h, err := c.server.Handover.Make(c.t.Context(), handover.Handover{UnitID: unit, ColonyID: &colony, ReceivedBy: "Ada", HappenedAt: time.Now().AddDate(0, 0, -days)}, nil)
	require.NoError(c.t, err)
	return h
}

func TestWhatComesAfterOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	h := c.handedColony(20)
	old := c.handedColony(90)
	var asks api.FollowUpList
	c.do("GET", "/api/v1/follow-ups", nil).want(http.StatusOK).into(&asks)
	require.Len(t, asks.Items, 5, "1, 14 of the one, 1, 14, 60 days of the other")
	require.Contains(t, *asks.Items[0].Words, "How is the colony")
	answer := func(i int, body string) response {
		return c.do("POST", at("/api/v1/follow-ups/", asks.Items[i].ID, "/answer"), body)
	}
	answer(0, `{"answer":"dead"}`).want(http.StatusUnprocessableEntity)
	answer(0, `{"answer":"alive","lost_on":"2020-01-01"}`).want(http.StatusUnprocessableEntity)
	answer(0, `{"answer":"alive"}`).want(http.StatusOK)
	answer(0, `{"answer":"lost","why":"ants"}`).want(http.StatusConflict)
	require.Equal(t, []string{"/why"}, c.do("POST", at("/api/v1/handovers/", h.ID, "/follow-ups"), `{"answer":"lost"}`).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/lost_on"}, c.do("POST", at("/api/v1/handovers/", h.ID, "/follow-ups"), `{"answer":"lost","why":"ants","lost_on":"2019-01-01"}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/handovers/999/follow-ups", `{"answer":"alive"}`).want(http.StatusNotFound)
	day := time.Now().AddDate(0, 0, -5).Format(time.DateOnly)
	var heard api.FollowUpHeard
	c.do("POST", at("/api/v1/handovers/", h.ID, "/follow-ups"), `{"answer":"lost","why":"ants","lost_on":"`+day+`"}`).want(http.StatusCreated).into(&heard)
	require.NotNil(t, heard.ClaimID, "within eight weeks")
	c.do("GET", "/api/v1/follow-ups", nil).want(http.StatusOK).into(&asks)
	for _, f := range asks.Items {
		require.Equal(t, old.ID, *f.HandoverID, "what is lost is asked after no more")
	}
	heard = api.FollowUpHeard{}
	c.do("POST", at("/api/v1/handovers/", old.ID, "/follow-ups"), `{"answer":"lost","why":"heat"}`).want(http.StatusCreated).into(&heard)
	require.Nil(t, heard.ClaimID, "after its end")

	c.do("POST", at("/api/v1/handovers/", old.ID, "/guarantee-claims"), `{"what":"dead","about":"tree"}`).want(http.StatusUnprocessableEntity)
	var late api.GuaranteeClaim
	c.do("POST", at("/api/v1/handovers/", old.ID, "/guarantee-claims"), `{"what":"they are dead","about":"colony"}`).want(http.StatusCreated).into(&late)
	require.Equal(t, 34, *late.DaysLate, "90 days less the 56 of the guarantee")
	var list api.GuaranteeClaimList
	c.do("GET", "/api/v1/guarantee-claims", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 2)
	path := at("/api/v1/guarantee-claims/", late.ID)
	var file api.GuaranteeFile
	c.do("GET", path, nil).want(http.StatusOK).into(&file)
	require.Contains(t, file.ConsumerLaw, "consumer law come first")
	require.Contains(t, file.Terms[1], "first eight weeks")
	require.Contains(t, file.Terms[2], "Colony until ")
	c.do("POST", path+"/decide", `{"decision":"declined","reason":"out of time"}`).want(http.StatusPreconditionRequired)
	c.do("POST", path+"/decide", `{"decision":"declined","reason":" "}`, header{"If-Match", `"1"`}).want(http.StatusUnprocessableEntity)
	helper := c.as(c.addAccount("jo", access.Helper))
	helper.do("POST", path+"/decide", `{"decision":"declined","reason":"out of time"}`, header{"If-Match", `"1"`}).want(http.StatusForbidden)
	c.do("POST", path+"/decide", `{"decision":"repaired","reason":"as a kindness","cost_minor":4500}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&file)
	require.Equal(t, int64(4500), *file.Claim.CostMinor)
	require.Equal(t, "as a kindness", *file.Claim.Reason)
	c.do("POST", path+"/decide", `{"decision":"declined","reason":"no"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	var seen api.GuaranteeFile
	helper.do("GET", path, nil).want(http.StatusOK).into(&seen)
	require.Nil(t, seen.Claim.CostMinor, "a helper sees no cost")
	c.do("GET", "/api/v1/guarantee-claims?decided=true", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("GET", "/api/v1/guarantee-claims/999", nil).want(http.StatusNotFound)

	var lives api.SurvivalList
	c.do("GET", "/api/v1/survival?by=method&days=30", nil).want(http.StatusOK).into(&lives)
	require.Equal(t, "all", lives.Items[0].Name)
	require.Equal(t, []int{2, 2}, []int{lives.Items[0].HandedOver, lives.Items[0].Lost})
	require.Equal(t, float32(0.5), lives.Items[0].After[0].Alive, "one lost after 15 days, the other after 90")
	c.do("GET", "/api/v1/survival?by=moon", nil).want(http.StatusBadRequest)
}

func TestAfterCareAndRemindersOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	var a api.AfterCare
	c.do("GET", "/api/v1/after-care", nil).want(http.StatusOK).into(&a)
	require.Equal(t, 56, a.GuaranteeColonyDays)
	a.FetchDays = []int32{0, 5}
	c.do("PUT", "/api/v1/after-care", a, header{"If-Match", `"0"`}).want(http.StatusOK).into(&a)
	c.do("PUT", "/api/v1/after-care", a, header{"If-Match", `"0"`}).want(http.StatusPreconditionFailed)
	a.FetchDays = []int32{4000}
	c.do("PUT", "/api/v1/after-care", a, header{"If-Match", `"1"`}).want(http.StatusUnprocessableEntity)

	unit := c.addUnit(false)
	c.do("POST", "/api/v1/orders/1/fetch-reminders", nil).want(http.StatusNotFound)
	c.do("POST", at("/api/v1/units/", unit, "/put-aside"), at(`{"box_id":`, c.addBox("10016"), `}`)).want(http.StatusNoContent)
	var list api.UnfetchedList
	c.do("GET", "/api/v1/unfetched-orders", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	require.Equal(t, 0, *list.Items[0].DueAfterDays)
	require.False(t, list.Items[0].Last)
	path := at("/api/v1/orders/", list.Items[0].OrderID, "/fetch-reminders")
	var u api.Unfetched
	c.do("POST", path, nil).want(http.StatusCreated).into(&u)
	require.Nil(t, u.DueAfterDays)
	require.Len(t, u.RemindedAt, 1)
	c.do("POST", path, nil).want(http.StatusConflict)
	day := time.Now().AddDate(0, 0, 3).Format(time.DateOnly)
	c.do("POST", "/api/v1/runs", at(`{"run_on":"`+day+`","unit_ids":[`, unit, `]}`)).want(http.StatusCreated)
	c.do("GET", "/api/v1/unfetched-orders", nil).want(http.StatusOK).into(&list)
	require.Empty(t, list.Items, "we bring it")
}
