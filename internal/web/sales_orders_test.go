package web

import (
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/mail"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// ordered gives an order without a quote.
func (s *shop) ordered(p sales.Party, wish sales.Wish, deposit int64) sales.Order {
	s.t.Helper()
	n := answer.NewOrder{Wishes: []sales.Wish{wish}}
	n.PartyID, n.DepositMinor = p.ID, deposit
	got, err := s.server.Answer.OrderMake(s.t.Context(), n)
	require.NoError(s.t, err)
	return got.Order
}

func TestOrderWithoutAQuote(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	form := "form[action='/orders/new']"
	s.get("/orders/new").submit(form, "count", "2")
	require.Equal(t, http.StatusUnprocessableEntity, s.Status)
	s.has("#f-name-about", "Say who buys it")
	require.Equal(t, "2", s.Find("#f-count").AttrOr("value", ""))
	s.submit(form, "name", "Ada Quill", "deposit_minor", "100")
	s.has("h1", "Order S0001").has(".said", "Ordered: S0001").has(".caution", "Short")
	require.Equal(t, 2, s.Find("td[data-label=Piece]").Length(), "two pieces that go their own way")
	s.has("tfoot", "$660.00")
	require.Equal(t, http.StatusOK, s.get("/orders/1/pdf").Status)
	s.get("/orders").has("td[data-label=For]", "Ada Quill").has("td[data-label=State]", "open")
}

func TestOrderMoney(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	o := s.ordered(s.party("Ada Quill", ""), sales.Wish{ModelID: s.model, Count: 1}, 10000)
	page, pay := hrefOf("order", o.ID), "form:has([name=in_kind])"
	s.get(page)
	require.Equal(t, "100.00", s.Find("#f-pay-amount-minor").AttrOr("value", ""), "the deposit comes first")
	s.submit(pay, "deed", "pay", "amount_minor", "much")
	s.has("#f-pay-amount-minor-about", "Write an amount")
	s.submit(pay, "deed", "pay", "amount_minor", "100", "method", "in kind")
	s.has("#f-pay-in-kind-about", "what was given")
	s.submit(pay, "deed", "pay", "method", "transfer").has(".said", "Still to pay: $230.00").has("dl.facts", "deposit, transfer")
	receipt := s.Find("a.main").AttrOr("href", "")
	require.Equal(t, http.StatusOK, s.get(receipt).Status)
	s.get(page).has("tfoot", "$230.00")
	s.submit(pay, "deed", "pay", "kind", "refund", "amount_minor", "200").has(".wrong-top", "no more than that")
	s.submit("form:has([name=due_days])", "deed", "invoice").has("h1", "Tax invoice I0001")
	require.Equal(t, http.StatusOK, s.get(s.Path+"/pdf").Status)
	s.get(page).submit("form:has([name=due_days])", "deed", "invoice")
	require.Equal(t, http.StatusConflict, s.Status)
	s.get("/books").has("td[data-label=Held]", "$100.00").has("td[data-label=Invoice]", "I0001")
	_, err := s.db.Exec(t.Context(), `ALTER TABLE payment DISABLE TRIGGER USER; UPDATE payment SET happened_at = now() - interval '400 days'`)
	require.NoError(t, err)
	s.get("/books").has("td[data-label=Since]", "Over a year")
	s.get("/books/payments").has("td[data-label=Payment]", "P0001")
	s.get("/books/invoices").has("td[data-label=Amount]", "$330.00")
}

func TestInvoicesAheadAreTakenOffAndCreditIsUsed(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	party := s.party("Ada Quill", "")
	page := hrefOf("order", s.ordered(party, sales.Wish{ModelID: s.model, Count: 1}, 10000).ID)
	invoice, pay := "form:has([name=due_days])", "form:has([name=in_kind])"
	s.get(page).submit(invoice, "deed", "invoice", "kind", "deposit")
	s.has("#f-invoice-amount-minor-about", "how much")
	s.submit(invoice, "deed", "invoice", "kind", "deposit", "amount_minor", "110").has("h1", "Tax invoice (deposit) I0001").has("tfoot", "$10.00")
	s.get(page).submit(invoice, "deed", "invoice").has("h1", "Tax invoice I0002").has("td", "Less deposit invoice I0001").has("tfoot", "$220.00")
	adjust := "form[action$='/adjust']"
	s.submit(adjust, "amount_minor", "9999", "why", "a dent").has("#f-amount-minor-about", "Only 330.00")
	s.submit(adjust, "amount_minor", "33", "why", "A dent in the lid", "lowers_price", "lower").has("h1", "Adjustment note I0003").has("dl.facts", "A dent in the lid").has("tfoot", "-$3.00")
	require.Equal(t, http.StatusOK, s.get(s.Path+"/pdf").Status)
	s.get(page).has("tfoot", "$297.00")
	s.submit(pay, "deed", "pay", "kind", "payment", "amount_minor", "300").has(".said", "kept as credit")
	s.get(page).has("p", "$3.00 of credit")
	s.get("/books/tax?from=2020-01-01&to=2035-01-01&basis=accrual").has("tfoot", "$27.00").has("td[data-label=Paper]", "invoice I0001")
	s.get("/books/tax?from=2020-02-01&to=2020-01-01").has(".wrong-top", "ends before it begins")
	s.get("/books/tax").has("main", "Deposits are part payments")
	s.get("/books/ahead").submit("form[action='/books/ahead']", "name", "Rent", "amount_minor", "much", "next_on", "2026-01-10").has("#f-amount-minor-about", "Write an amount")
	s.submit("form[action='/books/ahead']", "amount_minor", "50").has("td[data-label='What for']", "Rent").has("td[data-label='Goes out']", "$50.00")
	s.get("/books/standing-costs/1").submit("form[action^='/books/standing']", "over", "yes").has("main", "None yet: rent")
	next := hrefOf("order", s.ordered(party, sales.Wish{ModelID: s.model, Count: 1}, 0).ID)
	s.get(next).submit("form:has([value=credit])", "deed", "credit").has("dl.facts", "credit")
	s.get(next).has("tfoot", "$327.00")
}

func TestOrderIsPromisedAnewVariedAndCancelled(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	o := s.ordered(s.party("Ada Quill", ""), sales.Wish{ModelID: s.model, Count: 2}, 10000)
	page := hrefOf("order", o.ID)
	promise := "form:has([name=part])"
	s.get(page).submit(promise, "deed", "promise", "day", "2001-01-01")
	s.has("#f-promise-reason-about", "Say why")
	s.submit(promise, "deed", "promise", "reason", "rain").has("#f-promise-day-about", "past")
	day := s.db.Now().AddDate(0, 3, 0)
	s.submit(promise, "deed", "promise", "day", day.Format(time.DateOnly)).has("td[data-label='Box promised']", show.Date(day))

	s.submit("form:has(button[value=vary])", "deed", "vary", "model_id", idText(s.model), "count", "1", "finish", idText(s.paint))
	s.has("h1", "Draft").has("dl.facts", "Varies").submit("form:has([name=intro])", "deed", "issue").submit("form:has(button[value=accept])", "deed", "accept")
	require.Equal(t, page, s.Path)
	s.has("tfoot", "$358.00") // 325.00 and a tenth, to the whole dollar
	s.submit("form:has([name=in_kind])", "deed", "pay", "amount_minor", "100")
	cancel := "form:has([name=deposit_end])"
	s.get(page).submit(cancel, "deed", "cancel")
	s.has("#f-cancel-because-about", "Say why")
	s.submit(cancel, "deed", "cancel", "because", "moving away").has("#f-cancel-deposit-end-about", "Say whether")
	s.submit(cancel, "deed", "cancel", "deposit_end", "part returned", "deposit_returned_minor", "40", "method", "transfer").has(".said", "Cancelled")
	s.has("dl.facts", "cancelled").has("td[data-label=Amount]", "-$40.00")
	s.get(page).hasNot("button[value=cancel]")
}

func TestOrderIsBuilt(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	o := s.ordered(s.party("Ada Quill", ""), sales.Wish{ModelID: s.model, Count: 2}, 0)
	page := hrefOf("order", o.ID)
	timber, err := s.server.Timber.SpeciesByCode(t.Context(), "hoop-pine")
	require.NoError(t, err)
	s.get(page).submit("form:has(button[value=build])", "deed", "build").has(".wrong-top", "which timber")
	s.submit("form:has(button[value=build])", "deed", "build", "timber_id", idText(timber.ID))
	require.Contains(t, s.Path, "/bench/builds/", s.Find(".wrong-top").Text())
	builds := s.get(page).Find("td[data-label=Which]").Text()
	require.Contains(t, builds, "Build B0001")
	s.hasNot("button[value=build]")
	require.Equal(t, http.StatusUnprocessableEntity, s.get(page).submit("form:has([name=in_kind])", "deed", "burn").Status)
}

func TestSaleFromTheShelf(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	m, err := s.server.Workshop.ModelGet(t.Context(), s.model)
	require.NoError(t, err)
	box, err := s.server.Workshop.BoxRegister(t.Context(), workshop.BoxNew{RevisionID: m.LatestID, FinishedAt: s.db.Now().AddDate(0, -1, 0)})
	require.NoError(t, err)
	form := "form[action='/orders/shelf']"
	s.get("/orders/shelf").has("fieldset", box.Serial).submit(form)
	s.has("#f-other-serial-about", "Say which box").has("#f-name-about", "Say who buys it")
	s.submit(form, "serial", box.Serial, "name", "Ada Quill", "price_minor", "lots")
	_, kept := s.Find("#box-" + box.Serial).Attr("checked")
	require.True(t, kept, "the tick is kept")
	s.submit(form, "price_minor", "310").has("h1", "Payment P0001").has(".said", "Sold and handed over as S0001").has("dl.facts", "$310.00")
	require.Equal(t, http.StatusOK, s.get(s.Find("a.main").AttrOr("href", "")).Status)
	s.get("/orders/1").has("dl.facts", "handed over").has("td[data-label=Which]", box.Serial)
	s.get("/orders/shelf").submit(form, "other_serial", box.Serial, "name", "Zora")
	require.Equal(t, http.StatusConflict, s.Status)
}

func TestOldOrderIsTypedIn(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	form := "form[action='/orders/old']"
	s.get("/orders/old").submit(form, "name", "Ada Quill", "price_minor", "605", "count", "2")
	s.has("#f-happened-on-about", "Say when").has("#f-description-about", "few words")
	s.submit(form, "happened_on", "2025-03-04", "model_id", idText(s.model), "box_on", "2025-06-01", "paid_minor", "100", "method", "cash")
	s.has("h1", "Order S0001").has("td[data-label='State']", "Late:").has("tfoot", "$505.00").has("dl.facts", "4 Mar 2025")
	o, err := s.server.Sales.OrderGet(t.Context(), 1)
	require.NoError(t, err)
	require.Equal(t, int64(5500), o.Lines[0].TaxMinor, "one eleventh of 605.00")
	require.True(t, o.TypedIn)
}

func TestOpenPieceWithoutADaySaysSo(t *testing.T) {
	t.Parallel()
	open := sales.Unit{WantsBox: true}
	require.Equal(t, "no day agreed yet", promised(open, true, nil))
	require.Empty(t, promised(open, false, nil), "a part nobody wants")
	at := time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	require.Equal(t, "Tue 3 Mar 2026", promised(open, true, &at))
	gone := sales.Unit{WantsBox: true, CancelledAt: &at}
	require.Empty(t, promised(gone, true, nil))
}

func TestServicesAreSoldAndDone(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	add := "form[action='/orders/services/new']"
	s.get("/orders/services").submit(add, "name", "", "unit_price_minor", "80").has("#f-new-name-about", "Write what it is")
	s.submit(add, "name", "Splitting a hive", "each", "hive").has("td[data-label=What]", "Splitting a hive")
	sell := "form[action='/orders/services']"
	s.submit(sell, "name", "Ada Quill").has(".wrong-top", "how many")
	s.submit(sell, "quantity.1", "2").has("h1", "Order S0001").has("tfoot", "$176.00").has("td[data-label=State]", "to be done")
	s.submit("form:has(button[name=done])", "done", "1").has(".said", "done").has("td[data-label=State]", "handed over")
	s.get("/orders/services/1").has("dl.facts", "2").submit("form[action='/orders/services/1']", "away", "yes").has("main", "Nothing yet")
}

func TestTablesAreLookedAtAndBroughtIn(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	form := "form[action='/settings/bring-in']"
	s.get("/settings/bring-in").submit(form, "deed", "look").has("#f-file-about", "Choose a file")
	s.submit(form, "deed", "look", "kind", "people", "text", "name,phone\nAda Quill,07 5550 0101\n,x\n").has(".wrong-top", "1 line is to be mended").has("td .late", "phone")
	s.submit(form, "deed", "look", "kind", "people", "text", "name,phone\nAda Quill,07 5550 0101\n").has("caption", "1 line would come in")
	s.submit(form, "deed", "bring").has(".said", "1 line came in")
	s.get("/parties?find=Quill").has("main", "Ada Quill")
	s.get("/settings/bring-in").submit(form, "deed", "look", "kind", "people", "text", "colour\nred\n").has(".wrong-top", "not a column")
}

// takes is a mail server that takes everything.
type takes struct{}

func (takes) Send(context.Context, mail.Mail) (mail.Outcome, string) { return mail.Sent, "" }

func TestPaperGoesOutByMail(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	page := hrefOf("order", s.ordered(s.party("Ada Quill", ""), sales.Wish{ModelID: s.model, Count: 1}, 0).ID)
	s.get(page).has("a[href^='/mail?']", "Mail it")
	s.get("/mail?number=S0001&paper=order").has("a[href^='mailto:']", "words written")
	s.server.Answer.Mail = mail.New(s.db, takes{})
	form := "form[action^='/mail?']"
	s.get("/mail?number=S0001&paper=order").submit(form, "to", "ada").has("#f-to-about", "not an e-mail address")
	s.submit(form, "to", "ada@example.com").has(".said", "goes out now").has("td[data-label='What became of it']", "waits to be sent")
	_, err := s.server.Answer.Mail.SendNext(t.Context())
	require.NoError(t, err)
	s.get(page).has("p", "Mail to ada@example.com: sent")
	require.Equal(t, http.StatusNotFound, s.get("/mail?number=S7777&paper=order").Status)
	require.Equal(t, http.StatusUnprocessableEntity, s.get("/mail?number=S0001&paper=moon").Status)
}
