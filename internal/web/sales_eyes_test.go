package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// The pages of sales on a phone and on a desk: nothing cut off, targets for a thumb, and
// no rule of axe-core broken, with everything unfolded. KERFBOOK_TEST_PICTURES names a
// folder to keep pictures in.
func TestSalesPagesToTheEye(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	ctx := t.Context()
	p := s.party("Ottoline Brandreth of the Upper Moor Community Garden", "07 5550 0117")
	e := sales.Enquiry{PartyID: &p.ID, Name: p.Name, Number: "07 5550 0117", Place: "Upper Moor", Wanted: "two for the school, one with bees", FoundBy: "a neighbour"}
	e.SetWish(sales.Wish{ModelID: s.model, OptionIDs: []int64{s.paint, s.mount, s.honey}, Count: 2, WithColony: true, BeeSpeciesID: s.bees})
	e, err := s.server.Sales.EnquiryPut(ctx, e)
	require.NoError(t, err)
	draft := s.offered(p, e.Wish(), sales.Wish{ModelID: s.model, Count: 2})
	issued := s.offered(p, e.Wish(), sales.Wish{ModelID: s.model, Count: 2})
	_, err = s.server.Answer.QuoteIssue(ctx, issued.ID, 0)
	require.NoError(t, err)
	o := s.ordered(p, e.Wish(), 20000)
	order := hrefOf("order", o.ID)
	s.get(order).submit("form:has([name=in_kind])", "deed", "pay", "amount_minor", "200")
	s.get(order).submit("form:has([name=due_days])", "deed", "invoice")
	_, err = s.server.Sales.SitePut(ctx, sales.Site{PartyID: &p.ID, Name: "Back fence", Town: "Upper Moor"})
	require.NoError(t, err)
	m, err := s.server.Workshop.ModelGet(ctx, s.model)
	require.NoError(t, err)
	_, err = s.server.Workshop.BoxRegister(ctx, workshop.BoxNew{RevisionID: m.LatestID, FinishedAt: s.db.Now().AddDate(0, -1, 0)})
	require.NoError(t, err)

	paths := []string{"/ask", "/ask?number=0755500117", "/enquiries", hrefOf("enquiry", e.ID), hrefOf("enquiry", e.ID) + "?model_id=" + idText(s.model) + "&count=1", "/quotes", hrefOf("quote", draft.ID), hrefOf("quote", issued.ID),
		"/orders", order, "/orders/shelf", "/orders/new", "/orders/old", "/parties", hrefOf("party", p.ID), hrefOf("party", p.ID) + "/site", "/prices", "/books", "/books/payments", "/books/payments/1", "/books/invoices", "/books/invoices/1"}
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		b := eyes.Open(t, s.base, size)
		b.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		b.Go("/ask").Fill("number", "07 5550 0117", "name", "x")
		require.Eventually(t, func() bool { return strings.Contains(b.Text(), "Who is it?") }, 60*time.Second, 50*time.Millisecond, "the script asks who uses the number")
		for _, path := range paths {
			b.Go(path)
			if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
				name := strings.Trim(strings.NewReplacer("/", "-", "?", "-", "&", "-", "=", "-").Replace(path), "-")
				b.Picture(filepath.Join(dir, size.Name+"-"+name+".png"))
			}
			b.Unfold().Look()
		}
	}
}
