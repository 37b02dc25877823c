package rest

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

// Days away name the buyers whose promises lie in them, and no others.
func TestRingCallsOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	ada, odd := c.addParty("Ada Quill", "07 5550 0101"), c.addParty("Later Buyer", "07 5550 0102")
	in, out := c.order(ada.ID, saleLine(2, 10000)), c.order(odd.ID, saleLine(1, 10000))
	for id, on := range map[int64]string{in.ID: day(2), out.ID: day(9)} {
		_, err := c.db.Exec(t.Context(), `UPDATE order_unit SET promised_box_on = $1::date WHERE order_line_id IN (SELECT id FROM order_line WHERE order_id = $2)`, on, id)
		require.NoError(t, err)
	}
	_, err := c.db.Exec(t.Context(), `INSERT INTO host_tree (name, next_visit_on) VALUES ('the ironbark', $1::date), ('the bloodwood', $2::date)`, day(3), day(8))
	require.NoError(t, err)
	_, err = c.db.Exec(t.Context(), `INSERT INTO purchase (ordered_on, expected_on) VALUES ($1::date, $2::date)`, day(-3), day(1))
	require.NoError(t, err)
	_, err = c.db.Exec(t.Context(), `INSERT INTO run (number, run_on) VALUES ('R7', $1::date)`, day(4))
	require.NoError(t, err)
	var course, later api.Service
	c.do("POST", "/api/v1/services", `{"name":"the hive course","each":"seat","unit_price_minor":5000,"seats":8,"held_on":"`+day(5)+`"}`).want(http.StatusCreated).into(&course)
	c.do("POST", "/api/v1/services", `{"name":"the late course","each":"seat","unit_price_minor":5000,"seats":8,"held_on":"`+day(6)+`"}`).want(http.StatusCreated).into(&later)
	c.do("POST", "/api/v1/service-orders", fmt.Sprintf(`{"party_id":%d,"lines":[{"service_id":%d,"quantity":2},{"service_id":%d,"quantity":1}]}`, odd.ID, course.ID, later.ID)).want(http.StatusCreated)
	var a api.Away
	c.do("POST", "/api/v1/away", `{"from_on":"`+day(0)+`","to_on":"`+day(5)+`","why":"ill"}`).want(http.StatusCreated).into(&a)
	path := at("/api/v1/away/", a.ID, "/calls")
	var list api.RingList
	c.do("GET", path, nil).want(http.StatusOK).into(&list)
	what := []string{}
	for _, x := range list.Items {
		what = append(what, x.What)
	}
	require.Equal(t, []string{"your delivery", "2 of order " + in.Number, "the visit to the ironbark", "run R7", "the hive course"}, what)
	require.Contains(t, list.Items[1].Words, "Hello Ada Quill")
	require.Contains(t, list.Items[1].Words, "I am ill until")
	require.NotEmpty(t, list.Items[1].Phone)
	order := at(`{"subject":"order:`, in.ID, `","told":true}`)
	c.do("POST", path, order).want(http.StatusOK).into(&list)
	require.NotNil(t, list.Items[4].ToldAt, "who was told stands last")
	c.do("POST", path, order).want(http.StatusOK)
	list = api.RingList{}
	c.do("POST", path, at(`{"subject":"order:`, in.ID, `","told":false}`)).want(http.StatusOK).into(&list)
	for _, x := range list.Items {
		require.Nil(t, x.ToldAt, x.Subject)
	}
	c.do("POST", path, `{"subject":"order:999","told":true}`).want(http.StatusNotFound)
	c.do("POST", path, `{"subject":"order:1"}`).want(http.StatusUnprocessableEntity)
	c.do("GET", "/api/v1/away/999/calls", nil).want(http.StatusNotFound)
	c.as(c.addAccount("odell", "helper")).do("GET", path, nil).want(http.StatusForbidden)
	c.do("DELETE", at("/api/v1/away/", a.ID), nil).want(http.StatusNoContent)
}
