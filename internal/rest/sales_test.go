package rest

import (
	"net/http"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/house"
)

// newShop is newClient of a workshop that is set up in Brisbane and registered for tax.
func newShop(t testing.TB) *client {
	t.Helper()
	c := newClient(t)
	set := house.Standard()
	set.Name, set.BusinessNumber = "Test workshop", "51 824 753 556" // the example of the Australian Business Register
	_, err := c.server.House.SettingsPut(t.Context(), set)
	require.NoError(t, err)
	require.NoError(t, c.server.House.TaxRegister(t.Context(), c.db.Now().AddDate(-2, 0, 0), true, "GST"))
	return c
}

// at puts a number into a path.
func at(path string, id int64, more ...string) string {
	path += strconv.FormatInt(id, 10)
	for _, m := range more {
		path += m
	}
	return path
}

func (c *client) addParty(name, phone string) api.Party {
	c.t.Helper()
	var p api.Party
	in := api.PartyNew{Name: &name}
	if phone != "" {
		in.Contacts = &[]api.Contact{{Kind: api.ContactKindPhone, Value: phone}}
	}
	c.do("POST", "/api/v1/parties", in).want(http.StatusCreated).into(&p)
	return p
}

func TestPartiesOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	made := c.do("POST", "/api/v1/parties", `{"name":"Ottoline Brandreth","town":"Upper Moor","contacts":[{"kind":"phone","value":"07 5550 0117"}]}`).want(http.StatusCreated)
	var p api.Party
	made.into(&p)
	require.Equal(t, `"1"`, made.Header.Get("ETag"))
	require.Equal(t, "Ottoline Brandreth", p.Called)
	require.Equal(t, []string{"/name"}, c.do("POST", "/api/v1/parties", `{}`).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/colour"}, c.do("POST", "/api/v1/parties", `{"name":"A","colour":"red"}`).want(http.StatusUnprocessableEntity).pointers())

	path := at("/api/v1/parties/", p.ID)
	change := `{"name":"Ottoline Brandreth","town":"Lower Moor","contacts":[{"kind":"email","value":"otti@example.org"}]}`
	c.do("PUT", path, change).want(http.StatusPreconditionRequired)
	c.do("PUT", path, change, header{"If-Match", `"1"`}).want(http.StatusOK).into(&p)
	require.Equal(t, "Lower Moor", p.Town)
	require.Len(t, p.Contacts, 1)
	c.do("PUT", path, change, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("GET", path, nil).want(http.StatusOK)
	c.do("GET", path, nil, header{"If-None-Match", `"` + strconv.Itoa(p.Version) + `"`}).want(http.StatusNotModified)
	c.do("GET", "/api/v1/parties/999999", nil).want(http.StatusNotFound)

	other := c.addParty("Ottilie Brandreth", "07 5550 0117")
	var users api.PartiesByNumber
	c.do("GET", "/api/v1/parties/by-number?number=%2B61%207%205550%200117", nil).want(http.StatusOK).into(&users)
	require.Len(t, users.Items, 1, "the first one's number is put away")
	require.Equal(t, other.ID, users.Items[0].ID)
	c.do("GET", "/api/v1/parties/by-number", nil).want(http.StatusBadRequest)

	var list api.PartyList
	c.do("GET", "/api/v1/parties?limit=1&find=brandreth", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	require.NotNil(t, list.Next)
	c.do("GET", "/api/v1/parties?limit=1&find=brandreth&after="+*list.Next, nil).want(http.StatusOK).into(&list)
	require.Equal(t, p.ID, list.Items[0].ID)
	require.Nil(t, list.Next)
	csv := c.do("GET", "/api/v1/parties?format=csv", nil).want(http.StatusOK)
	require.Contains(t, string(csv.Body), "Ottilie Brandreth")

	c.do("POST", path+"/join", api.PartyJoin{IntoID: p.ID}).want(http.StatusUnprocessableEntity)
	c.do("POST", path+"/join", api.PartyJoin{IntoID: other.ID}).want(http.StatusOK)
	var joined api.Party
	c.do("GET", path, nil).want(http.StatusOK).into(&joined)
	require.Equal(t, other.ID, joined.ID)
	c.do("POST", path+"/join", api.PartyJoin{IntoID: other.ID}).want(http.StatusConflict)
	c.do("POST", at("/api/v1/parties/", other.ID, "/make-nameless"), nil).want(http.StatusNoContent)
	c.do("POST", "/api/v1/parties/999999/make-nameless", nil).want(http.StatusNotFound)
	c.do("GET", at("/api/v1/parties/", other.ID), nil).want(http.StatusOK).into(&joined)
	require.Equal(t, "Nameless", joined.Called)
}

func TestSitesOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p := c.addParty("Ada Quill", "")
	path := at("/api/v1/parties/", p.ID, "/sites")
	var v api.Site
	c.do("POST", path, `{"name":"School garden","latitude":-26.5,"longitude":152.9,"wall":"brick","wall_faces_deg":45,"eave_out_mm":600,"hives_there":2}`).want(http.StatusCreated).into(&v)
	require.Equal(t, "Australia/Brisbane", v.TimeZone)
	require.Equal(t, p.ID, *v.PartyID)
	require.Equal(t, []string{"/latitude"}, c.do("POST", path, `{"latitude":-26.5}`).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/latitude"}, c.do("POST", path, `{"latitude":-126.5,"longitude":1}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/parties/999999/sites", `{}`).want(http.StatusNotFound)
	one := at("/api/v1/sites/", v.ID)
	c.do("PUT", one, `{"name":"Back fence"}`).want(http.StatusPreconditionRequired)
	c.do("PUT", one, `{"name":"Back fence"}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("PUT", one, `{"name":"Back fence"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("GET", one, nil).want(http.StatusOK).into(&v)
	require.Equal(t, "Back fence", v.Name)
	require.Equal(t, p.ID, *v.PartyID, "a change of a site leaves it with its party")
	var list api.SiteList
	c.do("GET", path, nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
}

func TestEnquiriesOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	const path = "/api/v1/enquiries"
	var e api.Enquiry
	c.do("POST", path, `{"number":"07 5550 0117","place":"Upper Moor","wanted":"a box","found_by":"a friend","wish":{"count":2,"with_colony":true}}`).want(http.StatusCreated).into(&e)
	require.Equal(t, 2, *e.Wish.Count)
	require.Equal(t, []string{"/name"}, c.do("POST", path, `{"wanted":"a box"}`).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/ring_again_on"}, c.do("POST", path, `{"name":"A","ring_again_on":"2001-01-01"}`).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/wish/count"}, c.do("POST", path, `{"name":"A","wish":{"count":0}}`).want(http.StatusUnprocessableEntity).pointers())
	one := at(path+"/", e.ID)
	c.do("PUT", one, `{"name":"Ada","number":"07 5550 0117"}`).want(http.StatusPreconditionRequired)
	c.do("PUT", one, `{"name":"Ada","number":"07 5550 0117"}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&e)
	require.Equal(t, 2, *e.Wish.Count, "a wish that is left out stays")
	c.do("PUT", one, `{"name":"Ada"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("GET", one, nil).want(http.StatusOK)
	var p api.Party
	c.do("POST", one+"/party", nil).want(http.StatusOK).into(&p)
	require.Equal(t, "Ada", p.Called)
	c.do("POST", path+"/999999/party", nil).want(http.StatusNotFound)
	c.do("POST", one+"/close", `{"because":""}`).want(http.StatusUnprocessableEntity)
	c.do("POST", one+"/close", `{"because":"bought elsewhere"}`).want(http.StatusOK).into(&e)
	require.NotNil(t, e.ClosedAt)
	var list api.EnquiryList
	c.do("GET", path+"?open=true", nil).want(http.StatusOK).into(&list)
	require.Empty(t, list.Items)
	c.do("GET", path+"?find=0117", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	require.Contains(t, string(c.do("GET", path+"?format=csv", nil).want(http.StatusOK).Body), "bought elsewhere")
	c.do("GET", path+"?after=nonsense", nil).want(http.StatusUnprocessableEntity)
}

func TestPricesOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	c.do("POST", "/api/v1/prices", `{"subject":"model:1","from_on":"2025-01-01","price_minor":28000}`).want(http.StatusCreated)
	require.Equal(t, []string{"/reason"}, c.do("POST", "/api/v1/prices", `{"subject":"model:1","from_on":"2026-01-01","price_minor":30000}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/prices", `{"subject":"model:1","from_on":"2025-01-01","price_minor":30000,"reason":"screws"}`).want(http.StatusConflict)
	c.do("POST", "/api/v1/prices", `{"subject":"model:1","from_on":"2026-01-01","price_minor":-1}`).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/prices", `{"subject":"model:1","from_on":"2026-01-01","price_minor":30000,"reason":"dearer screws"}`).want(http.StatusCreated)
	for on, want := range map[string]int64{"2025-12-31": 28000, "2026-01-01": 30000} {
		var list api.PriceList
		c.do("GET", "/api/v1/prices?on="+on, nil).want(http.StatusOK).into(&list)
		require.Len(t, list.Items, 1)
		require.Equal(t, want, list.Items[0].PriceMinor, on)
	}
	c.do("GET", "/api/v1/prices?on=tomorrow", nil).want(http.StatusBadRequest)
	var history api.PriceList
	c.do("GET", "/api/v1/price-history?subject=model:1", nil).want(http.StatusOK).into(&history)
	require.Len(t, history.Items, 2)

	var b api.BuyerClass
	c.do("POST", "/api/v1/buyer-classes", `{"name":"friend","step_pct":12.5}`).want(http.StatusCreated).into(&b)
	c.do("POST", "/api/v1/buyer-classes", `{"name":"friend","step_pct":1}`).want(http.StatusConflict)
	one := at("/api/v1/buyer-classes/", b.ID)
	c.do("PUT", one, `{"name":"friend","step_pct":10}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&b)
	require.InDelta(t, 10, b.StepPct, 0)
	c.do("PUT", one, `{"name":"friend","step_pct":10}`, header{"If-Match", `"7"`}).want(http.StatusPreconditionFailed)
	var list api.BuyerClassList
	c.do("GET", "/api/v1/buyer-classes", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
}
