package rest

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// addModel gives a ready model at 300.00 ex tax, and its latest revision.
func (c *client) addModel() (model, revision int64) {
	c.t.Helper()
	ctx, ready := c.t.Context(), hive.Ready()[0]
	m, err := c.server.Workshop.ModelSave(ctx, workshop.Model{Code: ready.Model.ID, Name: "Garden box"})
	require.NoError(c.t, err)
	rev, err := c.server.Workshop.RevisionAdd(ctx, workshop.Drawing{ModelID: m.ID, Body: ready.Model})
	require.NoError(c.t, err)
	_, err = c.server.Sales.PricePut(ctx, sales.ListPrice{Subject: sales.Subject("model", m.ID), FromOn: c.db.Now().AddDate(-1, 0, 0), PriceMinor: 30000})
	require.NoError(c.t, err)
	return m.ID, rev.ID
}

func TestAnswerOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	model, _ := c.addModel()
	var a api.Answer
	c.do("POST", "/api/v1/answer", fmt.Sprintf(`{"wish":{"model_id":%d,"count":2}}`, model)).want(http.StatusOK).into(&a)
	require.Equal(t, []int64{60000, 6000, 66000}, []int64{a.PriceExTaxMinor, a.TaxMinor, a.PriceMinor})
	require.Len(t, a.Units, 2)
	require.NotEmpty(t, a.Reasons)
	require.Equal(t, a.PriceExTaxMinor-a.CostMinor, a.LeftMinor)
	require.Equal(t, []string{"/wish/own_box"}, c.do("POST", "/api/v1/answer", fmt.Sprintf(`{"wish":{"model_id":%d,"own_box":true}}`, model)).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/answer", `{}`).want(http.StatusUnprocessableEntity)
	helper := c.as(c.addAccount("hand", "helper"))
	helper.do("POST", "/api/v1/answer", `{"wish":{}}`).want(http.StatusForbidden)
}

// A quote goes from a draft through its issue to a yes in part.
func TestQuoteFromDraftToOrderOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	model, _ := c.addModel()
	var e api.Enquiry
	c.do("POST", "/api/v1/enquiries", `{"name":"Ottoline Brandreth"}`).want(http.StatusCreated).into(&e)
	var q api.Quote
	body := fmt.Sprintf(`{"enquiry_id":%d,"wishes":[{"model_id":%d,"count":3}]}`, e.ID, model)
	key := header{"Idempotency-Key", "draft-1"}
	c.do("POST", "/api/v1/quotes", body, key).want(http.StatusCreated).into(&q)
	c.do("POST", "/api/v1/quotes", body, key).want(http.StatusCreated).into(&q)
	require.Equal(t, api.QuoteStateDraft, q.State)
	c.do("POST", "/api/v1/quotes", fmt.Sprintf(`{"wishes":[{"model_id":%d}]}`, model)).want(http.StatusUnprocessableEntity)
	one := at("/api/v1/quotes/", q.ID)
	c.do("POST", one+"/alternatives", fmt.Sprintf(`{"wish":{"model_id":%d,"count":1},"title":"Only one"}`, model)).want(http.StatusCreated).into(&q)
	require.Len(t, q.Alternatives, 2)
	c.do("POST", one+"/alternatives", `{"wish":{"model_id":999999}}`).want(http.StatusUnprocessableEntity)
	tag := func() header { return header{"If-Match", fmt.Sprintf("%q", fmt.Sprint(q.Version))} }
	c.do("PATCH", one, `{"intro":"As we spoke."}`).want(http.StatusPreconditionRequired)
	c.do("PATCH", one, `{"intro":"As we spoke.","deposit_minor":5000}`, tag()).want(http.StatusOK).into(&q)
	require.Equal(t, int64(5000), q.DepositMinor)
	c.do("POST", one+"/issue", nil, header{"If-Match", `"99"`}).want(http.StatusPreconditionFailed)
	c.do("POST", one+"/accept", `{}`).want(http.StatusConflict)
	c.do("POST", one+"/issue", nil, tag()).want(http.StatusOK).into(&q)
	require.Equal(t, "Q0001", q.Name)
	require.True(t, strings.HasPrefix(string(c.do("GET", one+"/pdf", nil).want(http.StatusOK).Body), "%PDF-"))
	text := string(c.do("GET", one+"/text", nil).want(http.StatusOK).Body)
	require.Contains(t, text, "Only one")
	c.do("GET", "/api/v1/quotes/999999/text", nil).want(http.StatusNotFound)

	c.do("POST", one+"/accept", `{}`).want(http.StatusUnprocessableEntity)
	first := q.Alternatives[0]
	var got api.Agreed
	c.do("POST", one+"/accept", api.Acceptance{AlternativeID: &first.ID, Lines: &[]api.AcceptedLine{{LineID: first.Lines[0].ID, Quantity: 2}}}).want(http.StatusCreated).into(&got)
	require.Equal(t, int64(66000), got.Order.PriceMinor)
	require.NotEmpty(t, got.Short, "nothing is on the rack")
	c.do("POST", one+"/accept", api.Acceptance{AlternativeID: &first.ID}).want(http.StatusConflict)
	c.do("POST", one+"/revise", nil).want(http.StatusConflict)
}

func TestQuoteRevisedAndReissuedOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	model, _ := c.addModel()
	p := c.addParty("Ada Quill", "")
	var q, next api.Quote
	c.do("POST", "/api/v1/quotes", fmt.Sprintf(`{"party_id":%d,"wishes":[{"model_id":%d}]}`, p.ID, model)).want(http.StatusCreated).into(&q)
	c.do("POST", at("/api/v1/quotes/", q.ID, "/reissue"), nil).want(http.StatusConflict)
	c.do("POST", at("/api/v1/quotes/", q.ID, "/issue"), nil, header{"If-Match", fmt.Sprint(q.Version)}).want(http.StatusOK)
	c.do("POST", at("/api/v1/quotes/", q.ID, "/reissue"), nil).want(http.StatusCreated).into(&next)
	require.Equal(t, "Q0001 rev 2", next.Name)
	require.Equal(t, api.QuoteStateIssued, next.State)
	c.do("POST", at("/api/v1/quotes/", next.ID, "/revise"), nil).want(http.StatusCreated).into(&q)
	require.Equal(t, api.QuoteStateDraft, q.State)
	require.Equal(t, 3, q.Revision)
}

func TestOrderMoneyAndEndOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	model, _ := c.addModel()
	p := c.addParty("Ada Quill", "")
	var got api.Agreed
	c.do("POST", "/api/v1/orders", fmt.Sprintf(`{"party_id":%d,"wishes":[{"model_id":%d,"count":2}],"deposit_minor":10000}`, p.ID, model)).want(http.StatusCreated).into(&got)
	c.do("POST", "/api/v1/orders", fmt.Sprintf(`{"party_id":%d,"wishes":[]}`, p.ID)).want(http.StatusUnprocessableEntity)
	one := at("/api/v1/orders/", got.Order.ID)
	require.True(t, strings.HasPrefix(string(c.do("GET", one+"/pdf", nil).want(http.StatusOK).Body), "%PDF-"))
	c.do("GET", "/api/v1/orders/999999/pdf", nil).want(http.StatusNotFound)
	var short api.ShortList
	c.do("GET", one+"/short", nil).want(http.StatusOK).into(&short)
	require.Equal(t, got.Short, short.Short, "looking changes nothing")
	c.do("POST", one+"/put-aside", nil).want(http.StatusOK).into(&short)
	require.Equal(t, got.Short, short.Short)
	c.do("GET", "/api/v1/orders/999999/short", nil).want(http.StatusNotFound)
	c.do("POST", "/api/v1/orders/999999/put-aside", nil).want(http.StatusNotFound)

	var paid api.PaymentMade
	c.do("POST", one+"/payments", `{"kind":"deposit","method":"cash","amount_minor":10000}`).want(http.StatusCreated).into(&paid)
	require.Equal(t, int64(56000), paid.BalanceMinor)
	require.True(t, paid.Payment.HasReceipt)
	require.Equal(t, []string{"/in_kind"}, c.do("POST", one+"/payments", `{"kind":"payment","method":"in kind","amount_minor":1}`).want(http.StatusUnprocessableEntity).pointers())
	units := got.Order.Lines[0].Units
	var inv api.Invoice
	c.do("POST", one+"/invoices", fmt.Sprintf(`{"unit_ids":[%d]}`, units[0].ID)).want(http.StatusCreated).into(&inv)
	require.Equal(t, int64(33000), inv.PriceMinor)
	c.do("POST", one+"/invoices", fmt.Sprintf(`{"unit_ids":[%d]}`, units[0].ID)).want(http.StatusConflict)

	c.do("POST", one+"/cancel", `{"because":"moving away"}`).want(http.StatusUnprocessableEntity)
	var end api.OrderCancelled
	c.do("POST", one+"/cancel", `{"because":"moving away","deposit_end":"part returned","deposit_returned_minor":4000,"refund_method":"transfer"}`).want(http.StatusOK).into(&end)
	require.Equal(t, api.OrderStateCancelled, end.Order.State)
	require.Equal(t, int64(4000), end.Refund.AmountMinor)
	c.do("POST", one+"/cancel", `{"because":"again"}`).want(http.StatusConflict)
}

func TestShelfAndOldOrdersOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	model, rev := c.addModel()
	box, err := c.server.Workshop.BoxRegister(t.Context(), workshop.BoxNew{RevisionID: &rev, FinishedAt: c.db.Now().AddDate(0, -1, 0)})
	require.NoError(t, err)
	var sold api.ShelfSold
	body := fmt.Sprintf(`{"serials":[%q],"name":"Ada Quill","method":"cash","price_minor":31000}`, box.Serial)
	c.do("POST", "/api/v1/orders/from-shelf", body).want(http.StatusCreated).into(&sold)
	require.Equal(t, api.OrderStateHandedOver, sold.Order.State)
	require.Equal(t, int64(31000), sold.Payment.AmountMinor)
	require.Len(t, sold.HandoverIds, 1)
	c.do("POST", "/api/v1/orders/from-shelf", body).want(http.StatusConflict)
	c.do("POST", "/api/v1/orders/from-shelf", `{"serials":["10004"],"name":"A","method":"cash"}`).want(http.StatusUnprocessableEntity)

	var got api.Agreed
	old := fmt.Sprintf(`{"party_id":%d,"happened_at":"2025-03-04T02:00:00Z","paid_minor":10000,"lines":[{"kind":"box","model_id":%d,"count":2,"price_minor":60500,"box_on":"2025-06-01"}]}`, sold.Order.PartyID, model)
	c.do("POST", "/api/v1/orders/typed-in", old).want(http.StatusCreated).into(&got)
	require.True(t, got.Order.TypedIn)
	require.Equal(t, []int64{5500, 50500}, []int64{got.Order.Lines[0].TaxMinor, got.Order.BalanceMinor}, "one eleventh of 605.00, and what is left of it")
	c.do("POST", "/api/v1/orders/typed-in", `{"party_id":1,"happened_at":"2025-03-04T02:00:00Z","lines":[{"kind":"box","count":0,"price_minor":1}]}`).want(http.StatusUnprocessableEntity)
}
