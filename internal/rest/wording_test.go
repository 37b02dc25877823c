package rest

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
)

func TestWordingOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	var list api.WordingList
	c.do("GET", "/api/v1/wordings", nil).want(http.StatusOK).into(&list)
	require.GreaterOrEqual(t, len(list.Items), 11)
	const at = "/api/v1/wordings/site_sheet.tmpl"
	var w api.Wording
	c.do("GET", at, nil).want(http.StatusOK).into(&w)
	require.False(t, w.Own)
	require.Contains(t, w.Fields, "LoadKG")
	c.do("GET", "/api/v1/wordings/letter.tmpl", nil).want(http.StatusNotFound)
	c.do("PUT", at, `{"text":"- mine"}`).want(http.StatusPreconditionRequired)
	bad := c.do("PUT", at, `{"text":"- mine\n{{.Weight}}"}`, header{"If-Match", `"0"`}).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/text"}, bad.pointers())
	require.Contains(t, bad.problem().Errors[0].Detail, "Line 2: there is no field .Weight")
	c.do("PUT", at, `{"text":"- mine"}`, header{"If-Match", `"0"`}).want(http.StatusOK).into(&w)
	require.True(t, w.Own)
	c.do("PUT", at, `{"text":"- other"}`, header{"If-Match", `"0"`}).want(http.StatusPreconditionFailed)
	var look api.WordingLook
	c.do("POST", at+"/look", `{"text":"| a | b\n! mind {{.LoadKG}}"}`).want(http.StatusOK).into(&look)
	require.Len(t, look.Passages, 2)
	require.Equal(t, []string{"a", "b"}, *look.Passages[0].Cells)
	c.do("POST", at+"/look", `{"text":"{{.Weight}}"}`).want(http.StatusOK).into(&look)
	require.Contains(t, *look.Wrong, "Line 1: there is no field .Weight")
	require.Equal(t, "%PDF", string(c.do("POST", at+"/look/pdf", `{"text":"- mine"}`).want(http.StatusOK).Body[:4]))
	c.do("DELETE", at, nil).want(http.StatusPreconditionRequired)
	w = api.Wording{}
	c.do("DELETE", at, nil, header{"If-Match", `"1"`}).want(http.StatusOK).into(&w)
	require.False(t, w.Own)
	require.Equal(t, "- mine", w.Before[0].Text)
	c.as(c.addAccount("jo", access.Helper)).do("GET", "/api/v1/wordings", nil).want(http.StatusForbidden)
}
