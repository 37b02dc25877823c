package rest

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

func TestMovementsOverREST(t *testing.T) {
	t.Parallel()
	c, species := newApiary(t)
	hive := c.addColony(species)
	box := c.addBox("10016")
	c.do("POST", at("/api/v1/colonies/", hive.ID, "/house"), at(`{"box_id":`, box, `}`)).want(http.StatusOK)
	var moved api.Colony
	c.do("POST", at("/api/v1/colonies/", hive.ID, "/place"), `{"place":"under the mango"}`).want(http.StatusOK).into(&moved)
	require.Equal(t, "under the mango", moved.Place)
	c.do("POST", at("/api/v1/colonies/", hive.ID, "/place"), `{}`).want(http.StatusUnprocessableEntity)
	c.do("POST", at("/api/v1/colonies/", hive.ID, "/place"), `{"place":"x","at":"`+time.Now().AddDate(0, 0, 3).UTC().Format(time.RFC3339)+`"}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/colonies/999/place", `{"place":"x"}`).want(http.StatusNotFound)
	var whole api.BoxWhole
	c.do("POST", at("/api/v1/boxes/", box, "/place"), `{"place":"the loft","permit_number":"HB 12"}`).want(http.StatusOK).into(&whole)
	require.Equal(t, "the loft", whole.Box.Place)

	year := time.Now().Year()
	span := fmt.Sprintf("from=%d-01-01&to=%d-12-31", year, year+1)
	var list api.MovementList
	c.do("GET", "/api/v1/movements?"+span, nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 2, "one for each time the bees went")
	require.Equal(t, []string{"under the mango", "the loft", "HB 12"}, []string{list.Items[0].FromPlace, list.Items[0].ToPlace, *list.Items[0].PermitNumber})
	permit := at("/api/v1/movements/", list.Items[1].ID, "/permit")
	c.do("POST", permit, `{"permit_number":""}`).want(http.StatusUnprocessableEntity)
	c.do("POST", permit, `{"permit_number":"HB 13"}`).want(http.StatusNoContent)
	c.do("POST", permit, `{"permit_number":"HB 14"}`).want(http.StatusConflict)
	csv := string(c.do("GET", "/api/v1/movements?format=csv&"+span, nil).want(http.StatusOK).Body)
	require.Len(t, strings.Split(strings.TrimSpace(csv), "\r\n"), 3, csv)
	require.Contains(t, csv, "HB 13")
	pdf := c.do("GET", "/api/v1/movements/record?"+span, nil).want(http.StatusOK)
	require.True(t, strings.HasPrefix(string(pdf.Body), "%PDF"))
	for _, bad := range []string{"from=2027-01-01&to=2026-01-01", "from=1926-01-01&to=2026-01-01"} {
		c.do("GET", "/api/v1/movements?"+bad, nil).want(http.StatusUnprocessableEntity)
		c.do("GET", "/api/v1/movements/record?"+bad, nil).want(http.StatusUnprocessableEntity)
	}
	c.do("GET", "/api/v1/movements?from=yesterday&to=2030-01-01", nil).want(http.StatusBadRequest)
}
