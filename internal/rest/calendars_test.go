package rest

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	ics "github.com/arran4/golang-ical"
	goical "github.com/emersion/go-ical"
	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/house"
)

// events reads a feed with two readers that know nothing of each other, and gives the
// start of each entry by its id.
func (c *client) events(f house.Feed) map[string]string {
	c.t.Helper()
	body, err := c.server.Answer.Calendar(c.t.Context(), f)
	require.NoError(c.t, err)
	one, err := ics.ParseCalendar(bytes.NewReader(body))
	require.NoError(c.t, err)
	two, err := goical.NewDecoder(bytes.NewReader(body)).Decode()
	if len(one.Events()) > 0 { // this reader's encoder wants entries, its decoder does not
		require.NoError(c.t, err)
		require.Len(c.t, two.Events(), len(one.Events()))
	}
	out := map[string]string{}
	for _, e := range one.Events() {
		require.NotContains(c.t, out, e.Id(), "an id stands twice")
		out[e.Id()] = e.GetProperty(ics.ComponentPropertyDtStart).Value
		require.NotNil(c.t, e.GetProperty(ics.ComponentPropertyDtstamp))
		require.NotNil(c.t, e.GetProperty(ics.ComponentPropertySequence))
	}
	return out
}

func TestCalendarFeedsOverREST(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	var f, part api.CalendarFeed
	c.do("POST", "/api/v1/calendar-feeds", `{"name":"my phone"}`).want(http.StatusCreated).into(&f)
	c.do("POST", "/api/v1/calendar-feeds", `{"name":"for Odell","shows":["runs","away"],"phones":true}`).want(http.StatusCreated).into(&part)
	require.NotEqual(t, f.Path, part.Path)
	require.Regexp(t, `^/calendar/[A-Za-z0-9_-]{32}\.ics$`, f.Path)
	require.Equal(t, []string{"/name"}, c.do("POST", "/api/v1/calendar-feeds", `{"name":" "}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/calendar-feeds", `{"name":"x","shows":["prices"]}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/calendar-feeds", `{"name":"x","costs":true}`).want(http.StatusUnprocessableEntity)
	var list api.CalendarFeedList
	c.do("GET", "/api/v1/calendar-feeds", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 2)
	c.do("DELETE", at("/api/v1/calendar-feeds/", f.ID), nil).want(http.StatusOK).into(&f)
	require.NotNil(t, f.WithdrawnAt)
	c.do("DELETE", "/api/v1/calendar-feeds/999", nil).want(http.StatusNotFound)
	helper := c.as(c.addAccount("odell", "helper"))
	helper.do("GET", "/api/v1/calendar-feeds", nil).want(http.StatusForbidden)
}

// A new plan moves the entries of a calendar; their ids stay.
func TestCalendarKeepsItsIDs(t *testing.T) {
	t.Parallel()
	c, sp, rev := newBench(t)
	c.do("POST", "/api/v1/work-week", `{"from_on":"2024-01-01","hours":[{"weekday":1,"start_minute":480,"end_minute":720},{"weekday":2,"start_minute":480,"end_minute":720},{"weekday":3,"start_minute":480,"end_minute":720}]}`).want(http.StatusOK)
	c.makeBuild(rev.ID, sp.ID, 2)
	c.do("POST", "/api/v1/away", `{"from_on":"`+day(5)+`","to_on":"`+day(6)+`","why":"market; and, rest"}`).want(http.StatusCreated)
	all := house.Feed{Name: "all"}
	require.Len(t, c.events(all), 1, "days away stand in it before there is a plan")
	lay := func(body string) {
		var p api.BenchPlan
		c.do("POST", "/api/v1/bench-plans", body).want(http.StatusCreated).into(&p)
		c.do("POST", at("/api/v1/bench-plans/", p.ID, "/decision"), `{"accept":true}`).want(http.StatusOK)
	}
	lay(`{}`)
	first := c.events(all)
	steps := 0
	for id := range first {
		if strings.HasPrefix(id, "operation-") {
			steps++
		}
	}
	require.Positive(t, steps)
	require.Len(t, first, 1+1+steps, "days away, the day it is ready, and its steps")
	lay(`{"hold_to":"` + day(60) + `","build_id":1}`)
	second := c.events(all)
	for id, start := range first {
		require.Contains(t, second, id)
		if !strings.HasPrefix(id, "away-") {
			require.NotEqual(t, start, second[id], "%s has moved", id)
		}
	}
	require.Len(t, second, len(first))
	require.Len(t, c.events(house.Feed{Name: "away", Shows: []string{"away"}}), 1)
}

// Phone numbers stand in a feed only where it was made with them; prices never.
func TestCalendarNamesNoNumberUnasked(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p := c.addParty("Ada Quill", "07 5550 0101")
	o := c.order(p.ID, saleLine(2, 12345))
	_, err := c.db.Exec(t.Context(), `UPDATE order_unit SET promised_box_on = $1::date`, day(10))
	require.NoError(t, err)
	read := func(f house.Feed) string {
		body, err := c.server.Answer.Calendar(t.Context(), f)
		require.NoError(t, err)
		return strings.ReplaceAll(string(body), "\r\n ", "")
	}
	plain, with := read(house.Feed{Name: "a"}), read(house.Feed{Name: "b", Phones: true})
	require.Contains(t, plain, "Promised: Ada Quill\\, order "+o.Number)
	require.NotContains(t, plain, "5550")
	require.Contains(t, with, "5550")
	require.NotContains(t, with, "123")
	require.Equal(t, 2, strings.Count(plain, "UID:unit-"))
}
