package rest

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/mail"
)

func TestServicesOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p := c.addParty("Ada Quill", "")
	var split, course, honey api.Service
	c.do("POST", "/api/v1/services", `{"name":"Splitting a hive","each":"hive","unit_price_minor":8000}`).want(http.StatusCreated).into(&split)
	c.do("POST", "/api/v1/services", `{"name":"Splitting a hive","unit_price_minor":1}`).want(http.StatusConflict)
	c.do("POST", "/api/v1/services", `{"name":"Course","each":"seat","unit_price_minor":5005,"seats":3,"held_on":"2027-03-06"}`).want(http.StatusCreated).into(&course)
	c.do("POST", "/api/v1/services", `{"name":"Honey","each":"jar","unit_price_minor":1500,"tax_code":"free"}`).want(http.StatusCreated).into(&honey)
	require.Equal(t, []string{"/tax_code"}, c.do("POST", "/api/v1/services", `{"name":"x","unit_price_minor":1,"tax_code":"moon"}`).want(http.StatusUnprocessableEntity).pointers())
	order := func(quantity float64, service int64) response {
		return c.do("POST", "/api/v1/service-orders", fmt.Sprintf(`{"party_id":%d,"lines":[{"service_id":%d,"quantity":%g}]}`, p.ID, service, quantity))
	}
	var got api.Agreed
	c.do("POST", "/api/v1/service-orders", fmt.Sprintf(`{"party_id":%d,"lines":[{"service_id":%d,"quantity":1.5},{"service_id":%d,"quantity":2},{"service_id":%d,"quantity":4}]}`, p.ID, split.ID, course.ID, honey.ID)).want(http.StatusCreated).into(&got)
	// 1.5 x 80.00 and 2 x 50.05 taxed at 10 %, tax once a line; 4 x 15.00 free: 132.00 + 110.11 + 60.00.
	require.Equal(t, int64(13200+11011+6000), got.Order.PriceMinor)
	order(2, course.ID).want(http.StatusUnprocessableEntity)
	order(1, course.ID).want(http.StatusCreated)
	order(0, split.ID).want(http.StatusUnprocessableEntity)
	order(1, 999999).want(http.StatusUnprocessableEntity)
	c.do("GET", at("/api/v1/services/", course.ID), nil).want(http.StatusOK).into(&course)
	require.InDelta(t, 3, course.Taken, 1e-9)
	c.do("PUT", at("/api/v1/services/", honey.ID), `{"name":"Honey","each":"jar","unit_price_minor":1600,"tax_code":"free","put_away":true}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	var list api.ServiceList
	c.do("GET", "/api/v1/services", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 2)
	for i, l := range got.Order.Lines {
		require.Len(t, l.Units, 1)
		var o api.Order
		c.do("POST", at("/api/v1/order-units/", l.Units[0].ID, "/done"), nil).want(http.StatusOK).into(&o)
		require.Equal(t, i == 2, o.State == "handed over", o.State)
	}
	c.do("POST", at("/api/v1/order-units/", got.Order.Lines[0].Units[0].ID, "/done"), nil).want(http.StatusConflict)
	box := c.order(p.ID, saleLine(1, 10000))
	c.do("POST", at("/api/v1/order-units/", box.Lines[0].Units[0].ID, "/done"), nil).want(http.StatusConflict)
}

func TestStandInOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p := c.addParty("Ada Quill", "07 5550 0101")
	c.order(p.ID, saleLine(1, 10000))
	c.do("GET", "/api/v1/stand-in", nil).want(http.StatusOK)
	c.do("PUT", "/api/v1/stand-in", `{"first_to_do":"Open what is closed"}`).want(http.StatusPreconditionRequired)
	c.do("PUT", "/api/v1/stand-in", `{"first_to_do":"Open what is closed"}`, header{"If-Match", `"0"`}).want(http.StatusOK)
	c.do("PUT", "/api/v1/stand-in", `{"first_to_do":"Something else"}`, header{"If-Match", `"0"`}).want(http.StatusPreconditionFailed)
	c.do("PUT", "/api/v1/stand-in", `{"backups":"In the tin"}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	require.Equal(t, "%PDF", string(c.do("GET", "/api/v1/stand-in/pdf", nil).want(http.StatusOK).Body[:4]))
	var a api.Account
	c.do("POST", "/api/v1/accounts", `{"sign_in":"odell","name":"Odell","role":"helper","password":"a long enough one"}`).want(http.StatusCreated).into(&a)
	path := at("/api/v1/accounts/", a.ID)
	c.do("PATCH", path, `{"role":"owner"}`, header{"If-Match", fmt.Sprintf(`"%d"`, a.Version)}).want(http.StatusOK).into(&a)
	require.Equal(t, "owner", string(a.Role))
	c.do("PATCH", path, `{"role":"owner","disabled":true}`, header{"If-Match", fmt.Sprintf(`"%d"`, a.Version)}).want(http.StatusUnprocessableEntity)
	c.do("PATCH", path, `{}`, header{"If-Match", fmt.Sprintf(`"%d"`, a.Version)}).want(http.StatusUnprocessableEntity)
}

func TestTablesComeInOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	var got api.Brought
	c.do("POST", "/api/v1/tables/people", `{"csv":"name,phone\nAda Quill,07 5550 0101\n","look":true}`).want(http.StatusOK).into(&got)
	require.False(t, got.Done)
	c.do("POST", "/api/v1/tables/people", `{"csv":"name,phone\nAda Quill,07 5550 0101\n"}`).want(http.StatusOK).into(&got)
	require.True(t, got.Done)
	c.do("POST", "/api/v1/tables/people", `{"csv":"name,phone\nAda Quill,07 5550 0101\n,1\n"}`).want(http.StatusOK).into(&got)
	require.Equal(t, []int{1, 1}, []int{got.Already, got.Wrong})
	require.Equal(t, "phone", got.Lines[1].Wrong[0].Column)
	require.Equal(t, []string{"/file"}, c.do("POST", "/api/v1/tables/people", `{"csv":"colour\nred\n"}`).want(http.StatusUnprocessableEntity).pointers())
	// A table file is the whole list, a page only where one is asked for.
	var many strings.Builder
	for i := range 260 {
		fmt.Fprintf(&many, "Buyer %d\\n", i)
	}
	c.do("POST", "/api/v1/tables/people", `{"csv":"name\n`+many.String()+`"}`).want(http.StatusOK).into(&got)
	require.Equal(t, 260, got.New)
	lines := func(path string) int {
		return strings.Count(string(c.do("GET", path, nil).want(http.StatusOK).Body), "\r\n")
	}
	require.Equal(t, 1+261, lines("/api/v1/parties?format=csv"))
	require.Equal(t, 1+7, lines("/api/v1/parties?format=csv&limit=7"))
	require.Equal(t, 1, lines("/api/v1/quotes?format=csv"))
	require.Contains(t, string(c.do("GET", "/api/v1/suppliers?format=csv", nil).want(http.StatusOK).Body), "name")
	var people api.PartyList
	c.do("GET", "/api/v1/parties?limit=1", nil).want(http.StatusOK).into(&people)
	for range 2 {
		c.do("POST", at("/api/v1/parties/", people.Items[0].ID, "/sites"), `{"name":"Yard","town":"Corrabin"}`).want(http.StatusCreated)
	}
	require.Equal(t, 1+1, lines("/api/v1/sites?format=csv&limit=1"))
	require.Equal(t, 1+2, lines("/api/v1/sites?format=csv"))
	var page api.SitePage
	c.do("GET", "/api/v1/sites?limit=1", nil).want(http.StatusOK).into(&page)
	require.Len(t, page.Items, 1)
	c.do("POST", "/api/v1/tables/moons", `{"csv":"name\nA\n"}`).want(http.StatusBadRequest)
}

// refuser is a mail server that will never take anything.
type refuser struct{}

func (refuser) Send(context.Context, mail.Mail) (mail.Outcome, string) {
	return mail.Refused, "550 no such person"
}

func TestMailOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p := c.addParty("Ada Quill", "")
	o := c.order(p.ID, saleLine(1, 10000))
	send := fmt.Sprintf(`{"paper":"order","number":"%s","to":"ada@example.com"}`, o.Number)
	c.do("POST", "/api/v1/mails", send).want(http.StatusConflict)
	c.server.Answer.Mail = mail.New(c.db, refuser{})
	require.Equal(t, []string{"/to"}, c.do("POST", "/api/v1/mails", fmt.Sprintf(`{"paper":"order","number":"%s"}`, o.Number)).want(http.StatusUnprocessableEntity).pointers(), "the buyer has no address")
	c.do("POST", "/api/v1/mails", `{"paper":"order","number":"S9999"}`).want(http.StatusNotFound)
	var m api.Mail
	c.do("POST", "/api/v1/mails", send).want(http.StatusCreated).into(&m)
	require.Equal(t, "waiting", string(m.State))
	c.do("POST", at("/api/v1/mails/", m.ID, "/again"), nil).want(http.StatusConflict)
	did, err := c.server.Answer.Mail.SendNext(t.Context())
	require.NoError(t, err)
	require.True(t, did)
	var list api.MailList
	c.do("GET", "/api/v1/mails?paper=order&number="+o.Number, nil).want(http.StatusOK).into(&list)
	require.Equal(t, "550 no such person", list.Items[0].Said)
	c.do("POST", at("/api/v1/mails/", m.ID, "/again"), nil).want(http.StatusOK)
}

func TestPiecesGoToSeveralPlaces(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	p, other := c.addParty("Corrabin School", ""), c.addParty("Somebody else", "")
	place := func(party int64, name string) api.Site {
		var s api.Site
		c.do("POST", at("/api/v1/parties/", party, "/sites"), `{"name":"`+name+`","town":"Corrabin"}`).want(http.StatusCreated).into(&s)
		return s
	}
	garden, yard, foreign := place(p.ID, "Kitchen garden"), place(p.ID, "Upper yard"), place(other.ID, "Elsewhere")
	o := c.order(p.ID, saleLine(2, 10000))
	for i, s := range []api.Site{garden, yard} {
		c.do("POST", at("/api/v1/order-units/", o.Lines[0].Units[i].ID, "/site"), fmt.Sprintf(`{"site_id":%d}`, s.ID)).want(http.StatusOK)
	}
	require.Equal(t, []string{"/site_id"}, c.do("POST", at("/api/v1/order-units/", o.Lines[0].Units[0].ID, "/site"), fmt.Sprintf(`{"site_id":%d}`, foreign.ID)).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/order-units/999999/site", `{}`).want(http.StatusNotFound)
	var inv api.Invoice
	c.do("POST", at("/api/v1/orders/", o.ID, "/invoices"), `{}`).want(http.StatusCreated).into(&inv)
	require.Equal(t, []string{"A box, for Kitchen garden", "A box, for Upper yard"}, []string{inv.Lines[0].Description, inv.Lines[1].Description})
	// A payment sent twice by a shaky connection is one payment.
	pay := `{"kind":"payment","method":"transfer","amount_minor":30000}`
	var first, second api.PaymentMade
	c.do("POST", at("/api/v1/orders/", o.ID, "/payments"), pay, header{"Idempotency-Key", "shaky"}).want(http.StatusCreated).into(&first)
	c.do("POST", at("/api/v1/orders/", o.ID, "/payments"), pay, header{"Idempotency-Key", "shaky"}).want(http.StatusCreated).into(&second)
	require.Equal(t, first, second)
	require.Equal(t, int64(22000-30000), second.BalanceMinor, "what is beyond the price is credit")
	var payments api.OrderPayments
	c.do("GET", at("/api/v1/orders/", o.ID, "/payments"), nil).want(http.StatusOK).into(&payments)
	require.Len(t, payments.Items, 1)
}

// TestServicesStandOnAQuote sells a box, a course and an extra in words by one quote: 10 % is GST's rate (A New Tax
// System (Goods and Services Tax) Act 1999, s 9-70), each line taxed and rounded for itself, then added.
func TestServicesStandOnAQuote(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	model, _ := c.addModel()
	p := c.addParty("Ada Quill", "")
	var course api.Service
	c.do("POST", "/api/v1/services", `{"name":"Course","each":"seat","unit_price_minor":5005,"seats":3,"held_on":"2029-03-06"}`).want(http.StatusCreated).into(&course)
	var q api.Quote
	c.do("POST", "/api/v1/quotes", fmt.Sprintf(`{"party_id":%d,"wishes":[{"model_id":%d},{"model_id":%d,"count":2}]}`, p.ID, model, model)).want(http.StatusCreated).into(&q)
	before := []int64{q.Alternatives[0].PriceMinor, q.Alternatives[1].PriceMinor}
	lines := at("/api/v1/quotes/", q.ID, "/lines")
	c.do("POST", lines, fmt.Sprintf(`{"service_id":%d,"quantity":2}`, course.ID)).want(http.StatusCreated).into(&q)
	require.Equal(t, []int64{before[0] + 11011, before[1] + 11011}, []int64{q.Alternatives[0].PriceMinor, q.Alternatives[1].PriceMinor}, "2 x 50.05 and a tenth")
	c.do("POST", lines, fmt.Sprintf(`{"alternative_id":%d,"description":"Carting the old stand away","quantity":0.5,"unit_price_minor":3333,"tax_code":"free"}`, q.Alternatives[0].ID)).want(http.StatusCreated).into(&q)
	require.Equal(t, before[0]+11011+1667, q.Alternatives[0].PriceMinor)
	require.Equal(t, before[1]+11011, q.Alternatives[1].PriceMinor)
	added := q.Alternatives[0].Lines[len(q.Alternatives[0].Lines)-1]
	require.True(t, *added.Added)

	require.Contains(t, c.do("POST", lines, `{"quantity":1}`).want(http.StatusUnprocessableEntity).pointers(), "/description")
	c.do("POST", lines, `{"quantity":1,"service_id":999999}`).want(http.StatusUnprocessableEntity)
	c.do("POST", lines, `{"quantity":1,"description":"x","unit_price_minor":1,"alternative_id":999999}`).want(http.StatusUnprocessableEntity)
	c.do("POST", lines, `{"quantity":-1,"description":"x","unit_price_minor":1}`).want(http.StatusUnprocessableEntity)
	c.do("DELETE", at("/api/v1/quotes/", q.ID, "/lines/")+fmt.Sprint(q.Alternatives[0].Lines[0].ID), nil).want(http.StatusConflict)
	c.do("DELETE", at("/api/v1/quotes/", q.ID, "/lines/")+"999999", nil).want(http.StatusNotFound)
	c.do("DELETE", at("/api/v1/quotes/", q.ID, "/lines/")+fmt.Sprint(added.ID), nil).want(http.StatusOK).into(&q)
	require.Equal(t, before[0]+11011, q.Alternatives[0].PriceMinor)

	c.do("POST", at("/api/v1/quotes/", q.ID, "/issue"), nil, header{"If-Match", fmt.Sprintf(`"%d"`, q.Version)}).want(http.StatusOK).into(&q)
	c.do("POST", lines, `{"quantity":1,"description":"x","unit_price_minor":1}`).want(http.StatusConflict)
	first := q.Alternatives[0].ID
	var got api.Agreed
	c.do("POST", at("/api/v1/quotes/", q.ID, "/accept"), api.Acceptance{AlternativeID: &first}).want(http.StatusCreated).into(&got)
	require.Equal(t, before[0]+11011, got.Order.PriceMinor)
	var list api.ServiceList
	c.do("GET", "/api/v1/services", nil).want(http.StatusOK).into(&list)
	require.Equal(t, 2.0, list.Items[0].Taken)
}
