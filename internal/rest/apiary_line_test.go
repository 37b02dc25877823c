package rest

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/sales"
)

// waitsForColony makes an order for a colony that asks for no deposit.
func (c *client) waitsForColony(species int64, name string) sales.Unit {
	c.t.Helper()
	ctx := c.t.Context()
	p, err := c.server.Sales.PartyPut(ctx, sales.Party{Name: name})
	require.NoError(c.t, err)
	o, err := c.server.Sales.OrderMake(ctx, sales.NewOrder{PartyID: p.ID, OwnBox: true, Lines: []sales.Line{{Kind: "colony", Description: "Colony", Quantity: dec(1), BeeSpeciesID: &species, TaxCode: "standard"}}})
	require.NoError(c.t, err)
	return o.Lines[0].Units[0]
}

func TestColonyLineOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	path := at("/api/v1/bee-species/", species, "/line")
	first, second := c.waitsForColony(species, "Ada Quill"), c.waitsForColony(species, "Bert Marl")
	ready, mother := c.addColony(species), c.addColony(species)
	var x api.Colony
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/mark"), `{"mark":"kept to be split"}`).want(http.StatusOK).into(&x)
	require.True(t, x.KeptToSplit)

	var l api.ColonyLine
	c.do("GET", path, nil).want(http.StatusOK).into(&l)
	require.Equal(t, []int{1, 0, 1, 2}, []int{l.Ready, l.Settling, l.KeptToSplit, len(l.Places)})
	require.Equal(t, l.AsOf, *l.Places[0].LikelyOn)
	require.NotEmpty(t, l.Reasons)
	var v api.LinePlaceView
	c.do("GET", at("/api/v1/units/", second.ID, "/line"), nil).want(http.StatusOK).into(&v)
	require.Equal(t, 2, v.Place.Place)
	require.Contains(t, v.Words, "second in the line for Tetragonula carbonaria")
	require.Equal(t, l.AsOf, v.Curve[0].On)

	var p api.LineProposal
	c.do("GET", path+"/proposal", nil).want(http.StatusOK).into(&p)
	require.Len(t, p.Items, 1)
	require.Equal(t, []int64{first.ID, ready.ID}, []int64{p.Items[0].UnitID, p.Items[0].ColonyID})
	c.do("POST", path+"/moves", fmt.Sprintf(`{"unit_id":%d,"before_unit_id":%d,"reason":"for the school"}`, second.ID, first.ID)).want(http.StatusNoContent)
	var moves api.LineMoveList
	c.do("GET", path+"/moves", nil).want(http.StatusOK).into(&moves)
	require.Equal(t, "for the school", moves.Items[0].Reason)
	require.Equal(t, "Ada Quill", *moves.Items[0].BeforeWho)
	c.do("GET", path+"/proposal", nil).want(http.StatusOK).into(&p)
	require.Equal(t, second.ID, p.Items[0].UnitID)

	c.do("POST", path+"/accept", fmt.Sprintf(`{"pairs":[{"unit_id":%d,"colony_id":%d}]}`, first.ID, mother.ID)).want(http.StatusConflict)
	c.do("POST", path+"/accept", fmt.Sprintf(`{"pairs":[{"unit_id":%d,"colony_id":%d},{"unit_id":%d,"colony_id":%d}]}`, first.ID, ready.ID, first.ID, mother.ID)).want(http.StatusUnprocessableEntity)
	c.do("POST", path+"/accept", `{}`).want(http.StatusOK).into(&p)
	require.Equal(t, second.ID, p.Items[0].UnitID)
	c.do("POST", path+"/accept", `{}`).want(http.StatusConflict)
	c.do("GET", at("/api/v1/units/", second.ID, "/line"), nil).want(http.StatusNotFound)
	c.do("GET", "/api/v1/units/999/line", nil).want(http.StatusNotFound)
	c.do("GET", "/api/v1/bee-species/999/line", nil).want(http.StatusNotFound)
	c.do("GET", "/api/v1/bee-species/999/line/proposal", nil).want(http.StatusNotFound)

	for _, wrong := range []string{`{}`, fmt.Sprintf(`{"unit_id":%d}`, first.ID), fmt.Sprintf(`{"unit_id":%d,"reason":""}`, first.ID), fmt.Sprintf(`{"unit_id":%d,"reason":"  "}`, first.ID), fmt.Sprintf(`{"unit_id":%d,"before_unit_id":%d,"reason":"x"}`, first.ID, first.ID)} {
		c.do("POST", path+"/moves", wrong).want(http.StatusUnprocessableEntity)
	}
	c.do("POST", path+"/moves", fmt.Sprintf(`{"unit_id":%d,"reason":"x"}`, second.ID)).want(http.StatusNotFound)
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/mark"), `{"mark":"to be given"}`).want(http.StatusOK).into(&x)
	require.False(t, x.KeptToSplit)
	c.do("POST", at("/api/v1/colonies/", mother.ID, "/mark"), `{"mark":"left to the log"}`).want(http.StatusOK)
	c.do("GET", path, nil).want(http.StatusOK).into(&l)
	require.Equal(t, 1, l.Ready, "never split, so it may be given")
}
