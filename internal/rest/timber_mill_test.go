package rest

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
)

// Five boxes a month of 2 m each, 15 % for offcuts: 11.5 m a month, and 30 m on the rack.
func TestMillNextOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	c.do("GET", "/api/v1/mill-next", nil).want(http.StatusOK)
	sp := c.addTimber("hoop-pine")
	model, _ := c.addModel()
	c.addLot(sp.ID, 3000, 10)
	pace := map[string]any{"model_id": model, "species_id": sp.ID, "boxes_a_month": 5}
	var paces api.MillingPaceList
	c.do("POST", "/api/v1/milling-paces", pace).want(http.StatusCreated).into(&paces)
	require.Len(t, paces.Items, 1)
	c.do("GET", "/api/v1/milling-paces", nil).want(http.StatusOK).into(&paces)
	require.InDelta(t, 5, paces.Items[0].BoxesAMonth, 1e-9)
	var next api.MillNext
	c.do("GET", "/api/v1/mill-next?months=18", nil).want(http.StatusOK).into(&next)
	require.Equal(t, 18, next.Months)
	require.NotEmpty(t, next.Sizes)
	require.NotNil(t, next.Sizes[0].Expected)

	for _, path := range []string{"?months=5", "?months=25", "?months=many"} {
		c.do("GET", "/api/v1/mill-next"+path, nil).want(http.StatusBadRequest)
	}
	for field, wrong := range map[string]any{"boxes_a_month": 0.25, "species_id": 999999, "model_id": 999999} {
		in := map[string]any{"model_id": model, "species_id": sp.ID, "boxes_a_month": 5}
		in[field] = wrong
		require.Equal(t, []string{"/" + field}, c.do("POST", "/api/v1/milling-paces", in).want(http.StatusUnprocessableEntity).pointers())
	}
	helper := c.as(c.addAccount("hand", access.Helper))
	require.NotContains(t, string(helper.do("GET", "/api/v1/mill-next", nil).want(http.StatusOK).Body), "minor", "no price for a helper")
	pace["boxes_a_month"] = 0
	c.do("POST", "/api/v1/milling-paces", pace).want(http.StatusCreated).into(&paces)
	require.Empty(t, paces.Items)
}
