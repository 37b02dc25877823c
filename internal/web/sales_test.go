package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// shop is a browser before a workshop that offers one box with a finish, a mount and
// further honey sections, in some timber, with one kind of bee.
type shop struct {
	*browser
	model, paint, mount, honey, bees int64
}

func newShop(t testing.TB) *shop {
	t.Helper()
	s := &shop{browser: newBrowser(t)}
	ctx, d := t.Context(), s.server.Deps
	ready := hive.Ready()[0]
	m, err := d.Workshop.ModelSave(ctx, workshop.Model{Code: ready.Model.ID, Name: "Garden box"})
	require.NoError(t, err)
	s.model = m.ID
	_, err = d.Workshop.RevisionAdd(ctx, workshop.Drawing{ModelID: m.ID, Body: ready.Model})
	require.NoError(t, err)
	honey := ""
	for _, p := range ready.Model.Sections {
		if p.Kind == "honey" {
			honey = p.ID
		}
	}
	for _, o := range []struct {
		id   *int64
		with workshop.Option
	}{
		{&s.paint, workshop.Option{Code: "painted", Name: "Painted stone grey", Kind: "finish", CureDays: 10}},
		{&s.mount, workshop.Option{Code: "mount", Name: "Hardwood mount", Kind: "mount"}},
		{&s.honey, workshop.Option{Code: "honey", Name: "Honey section", Kind: "section", ModelID: &m.ID, Section: honey}},
	} {
		got, err := d.Workshop.OptionSave(ctx, o.with)
		require.NoError(t, err)
		*o.id = got.ID
	}
	_, err = d.Timber.SpeciesSeed(ctx)
	require.NoError(t, err)
	bees, err := d.Apiary.SpeciesPut(ctx, apiary.Species{Code: "t_carbonaria", Name: "Tetragonula carbonaria", SplitChancePct: 80, SplitMonths: []int32{9, 10, 11}})
	require.NoError(t, err)
	s.bees = bees.ID
	require.NoError(t, d.House.TaxRegister(ctx, s.db.Now().AddDate(-2, 0, 0), true, "GST"))
	for subject, minor := range map[string]int64{sales.Subject("model", s.model): 30000, sales.Subject("option", s.paint): 2500, sales.Subject("option", s.mount): 4400, sales.Subject("colony", s.bees): 36000} {
		_, err := d.Sales.PricePut(ctx, sales.ListPrice{Subject: subject, FromOn: s.db.Now().AddDate(-1, 0, 0), PriceMinor: minor})
		require.NoError(t, err)
	}
	return s
}

func (s *shop) party(name, phone string) sales.Party {
	s.t.Helper()
	p := sales.Party{Name: name, Town: "Upper Moor"}
	if phone != "" {
		p.Contacts = []sales.Contact{{Kind: "phone", Value: phone}}
	}
	p, err := s.server.Sales.PartyPut(s.t.Context(), p)
	require.NoError(s.t, err)
	return p
}

func TestABuyerIsAsking(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.get("/").submit("nav.reach form.find", "q", "x")
	s.get("/ask").has("h1", "A buyer is asking").has("select[name=model_id]", "Garden box").has("select[name=bee_species_id]", "Tetragonula carbonaria")
	ask := "form[action='/ask']"
	s.submit(ask, "place", "Upper Moor")
	require.Equal(t, http.StatusUnprocessableEntity, s.Status)
	s.has("#f-name-about", "Give a name or a phone number")
	require.Equal(t, "Upper Moor", s.Find("#f-place").AttrOr("value", ""), "what was typed is kept")
	s.submit(ask, "name", "Ottoline Brandreth", "count", "0", "ring_again_on", "2001-01-01")
	s.has("#f-count-about", "whole number from 1")
	s.submit(ask, "count", "2", "bee_species_id", idText(s.bees), "finish", idText(s.paint), optionField(s.honey), "1", "ring_again_on", "2001-01-01")
	s.has("#f-ring-again-on-about", "past")
	s.submit(ask, "ring_again_on", "", "wanted", "two for the school", "number", "07 5550 0117")
	require.Equal(t, http.StatusOK, s.Status)
	s.has("h1", "Ottoline Brandreth").has(".said", "Noted").has("dl.facts", "two for the school")
	list, _, err := s.server.Sales.EnquiryList(t.Context(), sales.EnquiryFilter{})
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, sales.Wish{ModelID: s.model, OptionIDs: []int64{s.paint, s.honey}, Count: 2, WithColony: true, BeeSpeciesID: s.bees}, sorted(list[0].Wish()))
	s.get("/enquiries").has("td[data-label=Wanted]", "2 × Garden box")
}

// sorted gives a wish whose options stand by id.
func sorted(w sales.Wish) sales.Wish {
	for i := range w.OptionIDs {
		for j := i + 1; j < len(w.OptionIDs); j++ {
			if w.OptionIDs[j] < w.OptionIDs[i] {
				w.OptionIDs[i], w.OptionIDs[j] = w.OptionIDs[j], w.OptionIDs[i]
			}
		}
	}
	return w
}

// A number that is known offers the people who use it, without script in a second step.
func TestAKnownNumberOffersItsPeople(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	p := s.party("Ottoline Brandreth", "07 5550 0117")
	other := s.party("Ebenezer Brandreth", "+61 7 5550 0117")
	s.get("/ask/who?number=0755500117").has("legend", "Who is it?").has("label", "Ebenezer Brandreth, Upper Moor")
	s.get("/ask?number=0755500117&place=Upper+Moor").has("label", "Ottoline")
	require.Equal(t, "Upper Moor", s.Find("#f-place").AttrOr("value", ""))
	s.get("/ask").submit("form[action='/ask']", "number", "(07) 5550 0117")
	require.Equal(t, http.StatusUnprocessableEntity, s.Status)
	s.has(".wrong", "Choose who is asking")
	s.submit("form[action='/ask']", "who", idText(p.ID))
	s.has("h1", "Ottoline Brandreth")
	list, _, err := s.server.Sales.EnquiryList(t.Context(), sales.EnquiryFilter{PartyID: p.ID})
	require.NoError(t, err)
	require.Len(t, list, 1)
	s.get("/ask?who="+idText(other.ID)).has("label", "Ebenezer")
	s.submit("form[action='/ask']").has("h1", "Ebenezer Brandreth")
	s.get("/ask").submit("form[action='/ask']", "number", "07 5550 0117", "who", somebodyElse, "name", "Zora")
	s.has("h1", "Zora")
	s.get("/ask/who?number=1").hasNot("legend")
}

func TestEnquiryIsRungAgainClosedAndOpened(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	e, err := s.server.Sales.EnquiryPut(t.Context(), sales.Enquiry{Name: "Zora", Number: "07 5550 0118"})
	require.NoError(t, err)
	page := hrefOf("enquiry", e.ID)
	form := "form[action='" + page + "']"
	s.get(page).submit(form+":has([name=because])", "deed", "close")
	require.Equal(t, http.StatusUnprocessableEntity, s.Status)
	s.has("#f-close-because-about", "Say in a few words why")
	s.submit(form+":has([name=ring_again_on])", "deed", "ring", "ring_again_on", "2199-01-05").has("dl.facts", "Sat 5 Jan 2199")
	s.submit(form+":has([name=because])", "deed", "close", "because", "too dear").has(".lead", "too dear")
	s.get("/enquiries").hasNot("tbody tr")
	s.get("/enquiries?all=yes").has("td[data-label=State]", "closed: too dear")
	s.get(page).submit(form+":has(button[value=open])", "deed", "open").has(".said", "Open again")
	require.Equal(t, http.StatusNotFound, s.get("/enquiries/999999").Status)
	require.Equal(t, http.StatusNotFound, s.get("/enquiries/x").Status)
}

func TestPartyPages(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.get("/parties").submit("form[action='/parties'][method=post]", "town", "Upper Moor")
	s.has(".wrong-top", "Give a name or a phone number")
	s.submit("form[action='/parties'][method=post]", "name", "Ada Quill", "phone", "07 5550 0119", "email", "ada@example.org", "notes", "rings on Sundays")
	s.has("h1", "Ada Quill").has(".more", "Ring 07 5550 0119")
	page := s.Path
	s.submit("form[action='"+page+"']", "email", "", "phone_2", "0491 570 110", "kind", "organisation")
	s.has(".said", "Kept")
	require.Equal(t, "0491 570 110", s.Find("#f-phone-2").AttrOr("value", ""))
	require.Empty(t, s.Find("#f-email").AttrOr("value", ""))
	_, err := s.db.Exec(t.Context(), `UPDATE party SET town = 'Elsewhere'`)
	require.NoError(t, err)
	s.submit("form[action='"+page+"']", "notes", "rings on Mondays")
	require.Equal(t, http.StatusPreconditionFailed, s.Status)
	s.has("textarea[name=notes]", "rings on Mondays")

	s.get(page+"/site").submit("form[action='"+page+"/site']", "name", "Back fence", "latitude", "-26.5")
	s.has("#f-latitude-about", "or neither")
	s.submit("form[action='"+page+"/site']", "longitude", "152.9", "wall", "brick", "wall_faces_deg", "45", "hives_there", "two")
	s.has("#f-hives-there-about", "whole number")
	s.submit("form[action='"+page+"/site']", "hives_there", "2")
	require.Equal(t, page, s.Path)
	href := s.Find("td[data-label=Site] a").AttrOr("href", "")
	s.get(href).submit("form[action='"+href+"']", "wall", "timber").has(".said", "The site is kept")
	s.get(href)
	require.Equal(t, "-26.5", s.Find("#f-latitude").AttrOr("value", ""))

	double := s.party("Ada Quill-Moss", "07 5550 0120")
	s.get(page).submit("form[action='"+page+"/join']", "into", "nobody at all")
	s.has("#f-join-into-about", "Nobody else is found")
	s.submit("form[action='"+page+"/join']", "into", "5550 0120").has("h1", "Ada Quill-Moss").has(".said", "one now").has("td[data-label=Site]", "Back fence")
	require.Equal(t, hrefOf("party", double.ID), s.get(page).Path)
	away := "form[action$='/nameless']"
	s.submit(away).has(".wrong-top", "Tick this first")
	s.submit(away, "sure", "yes").has(".said", "are gone")
	s.get(hrefOf("party", double.ID)).has("h1", "Nameless")
}

func TestPricePages(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.get("/prices").has("td[data-label=What]", "Box: Garden box").has("td.amount", "$300.00")
	post := "form[action='/prices']"
	s.submit(post, "subject", sales.Subject("model", s.model), "price_minor", "325.50")
	s.has("#f-reason-about", "keeps a reason")
	require.Equal(t, "325.50", s.Find("#f-price-minor").AttrOr("value", ""))
	s.submit(post, "reason", "dearer screws").has(".said", "kept").has("td.amount", "$325.50")
	s.get("/prices?of="+sales.Subject("model", s.model)).has("main", "over time")
	s.submit("form[action='/prices/classes']", "name", "friend", "step_pct", "ten")
	s.has("#f-class-step-pct-about", "Write a number")
	s.submit("form[action='/prices/classes']", "step_pct", "10").has("td.number", "10 %")
}

// A helper sees no prices, no buyers and no books, and the pages refuse.
func TestSalesPagesAreNotForAHelper(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.addAccount("jo", access.Helper)
	jo := s.other()
	jo.signIn("jo")
	for _, path := range []string{"/ask", "/enquiries", "/parties", "/prices"} {
		require.Equal(t, http.StatusForbidden, jo.get(path).Status, path)
	}
}

// The answer stands on the enquiry's page, changes with the options, and becomes a quote.
func TestEnquiryIsAnswered(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	e := sales.Enquiry{Name: "Zora", Number: "07 5550 0118"}
	e.SetWish(sales.Wish{ModelID: s.model, Count: 1})
	e, err := s.server.Sales.EnquiryPut(t.Context(), e)
	require.NoError(t, err)
	page := hrefOf("enquiry", e.ID)
	s.get(page)
	s.has(".price", "$330.00") // 300.00 list and a tenth
	require.NotZero(t, s.Find("ul.reasons li").Length(), "the reasons stand line by line")
	s.has("details.cost", "What is left")
	require.NotZero(t, s.Find("dl.dates dd").Length())

	s.submit("form[method=get][action='"+page+"']", "count", "2", "finish", idText(s.paint), "bee_species_id", idText(s.bees))
	s.has(".price", "$1,507.00") // 2 x (300.00 + 25.00 + 360.00) and a tenth
	s.has("dl.dates", "All colonies")
	keep := "form[method=post]:has([value=keep])"
	s.submit(keep, "deed", "keep").has(".said", "kept with the enquiry").has(".price", "$1,507.00")
	s.submit("form[method=get][action='"+page+"']", "model_id", noBox, "bee_species_id", "").hasNot(".price")

	quote := "form[method=post]:has([value=quote])"
	s.get(page).submit(quote, "deed", "quote")
	require.Contains(t, s.Path, "/quotes/")
	drafts, _, err := s.server.Sales.QuoteList(t.Context(), sales.QuoteFilter{State: sales.Draft})
	require.NoError(t, err)
	require.Len(t, drafts, 1)
	require.Equal(t, int64(150700), drafts[0].PriceMinor)
	s.get(page+"?model_id="+idText(s.model)+"&count=1").submit(quote, "deed", "quote", "quote_id", idText(drafts[0].ID))
	q, err := s.server.Sales.QuoteGet(t.Context(), drafts[0].ID)
	require.NoError(t, err)
	require.Len(t, q.Alternatives, 2)
	require.Equal(t, int64(33000), q.Alternatives[1].PriceMinor)
	s.get(page).submit(quote, "deed", "quote", "wish", "{").has(".wrong-top", "cannot be read")
}

// offered gives the draft that the answer to a wish becomes.
func (s *shop) offered(p sales.Party, wishes ...sales.Wish) sales.Quote {
	s.t.Helper()
	q, err := s.server.Answer.DraftFromWishes(s.t.Context(), answer.Draft{PartyID: p.ID, Wishes: wishes})
	require.NoError(s.t, err)
	return q
}

func TestQuoteIsIssuedAndTakenInPart(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	p := s.party("Ottoline Brandreth", "07 5550 0117")
	q := s.offered(p, sales.Wish{ModelID: s.model, Count: 3}, sales.Wish{ModelID: s.model, OptionIDs: []int64{s.paint}, Count: 3}, sales.Wish{ModelID: s.model, Count: 1})
	page := hrefOf("quote", q.ID)
	s.get(page).has("h1", "Draft quote for Ottoline").has("details.cost", "What is left")
	require.Equal(t, http.StatusConflict, s.get(page+"/pdf").Status)
	s.get(page).submit("form:has(button:contains('Take alternative C out'))", "deed", "remove").has(".said", "taken out")
	require.Equal(t, 2, s.Find("main table").Length()-s.Find("details.cost table").Length())
	extra := "form:has([name=service_id])"
	s.submit(extra, "deed", "add", "description", "A stand of recycled posts").has(".wrong-top", "price").has("[name=description]", "")
	s.submit(extra, "deed", "add", "description", "A stand of recycled posts", "unit_price_minor", "10").has(".said", "on the draft").has("main table", "A stand of recycled posts")
	for range 2 {
		line := s.Find("[name=line_id]").First().AttrOr("value", "")
		s.submit("form:has([name=line_id][value='"+line+"'])", "deed", "off").has(".said", "off the draft")
	}
	s.hasNot("button[value=off]")
	draft := "form:has([name=intro])"
	s.submit(draft, "deed", "issue", "valid_until", "2001-01-01", "intro", "As we spoke.")
	require.Equal(t, http.StatusUnprocessableEntity, s.Status)
	s.has("#f-draft-valid-until-about", "past").has("textarea[name=intro]", "As we spoke.")
	s.submit(draft, "deed", "issue", "valid_until", "", "title-B", "The painted ones")
	s.has("h1", "Quote Q0001").has(".said", "Issued as Q0001").has("#quote-text", "The painted ones")
	require.NotContains(t, s.Find("#quote-text").Text(), "ost and margin")
	s.hasNot(draft)
	require.Equal(t, http.StatusOK, s.get(page+"/pdf").Status)

	s.get("/quotes?all=issued").has("td[data-label=Quote]", "Q0001")
	take := "form:has([name=alternative_id][value='" + s.get(page).Find("[name=alternative_id]").Last().AttrOr("value", "") + "'])"
	field := s.Find(take+" details input").First().AttrOr("name", "")
	s.submit(take, "deed", "accept", field, "7")
	require.Equal(t, http.StatusUnprocessableEntity, s.Status)
	s.has(".wrong-top", "at most 3")
	s.submit(take, "deed", "accept", field, "2")
	require.Contains(t, s.Path, "/orders/")
	s.has(".said", "It is an order now: S0001")
	orders, _, err := s.server.Sales.OrderList(t.Context(), sales.OrderFilter{PartyID: p.ID})
	require.NoError(t, err)
	require.Equal(t, int64(71533), orders[0].PriceMinor, "3 x 325.00 and a tenth goes to the whole dollar, 1073.00; two thirds of that are taken")
	s.get(page).has("dl.facts", "accepted").hasNot("button[value=accept]")
}

func TestQuoteIsDeclinedRevisedAndReissued(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	p := s.party("Ada Quill", "")
	q := s.offered(p, sales.Wish{ModelID: s.model, Count: 1})
	page := hrefOf("quote", q.ID)
	_, err := s.server.Answer.QuoteIssue(t.Context(), q.ID, 0)
	require.NoError(t, err)
	s.get(page).submit("form:has(button[value=revise])", "deed", "revise")
	require.NotEqual(t, page, s.Path)
	s.has("h1", "Draft").submit("form:has([name=intro])", "deed", "issue").has("h1", "Q0001 rev 2")
	s.get(page).has(".lead", "later revision")
	second := hrefOf("quote", q.ID+1)
	s.get(second).submit("form:has([name=note])", "deed", "decline", "note", "too dear").has("dl.facts", "declined").has("dl.facts", "too dear")
	s.submit("form:has(button[value=revise])", "deed", "revise").submit("form:has(button[value=throw])", "deed", "throw")
	require.Equal(t, "/quotes", s.Path)
	require.Equal(t, http.StatusUnprocessableEntity, s.get(second).submit("form:has(button[value=revise])", "deed", "burn").Status)
}

// A late yes: the lapsed quote is re-issued at one tap, with its dates worked out anew.
func TestLateYes(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	q := s.offered(s.party("Ada Quill", ""), sales.Wish{ModelID: s.model, Count: 1})
	_, err := s.server.Answer.QuoteIssue(t.Context(), q.ID, 0)
	require.NoError(t, err)
	_, err = s.db.Exec(t.Context(), `ALTER TABLE quote DISABLE TRIGGER USER`)
	require.NoError(t, err)
	_, err = s.db.Exec(t.Context(), `UPDATE quote SET valid_until = current_date - 10, issued_at = now() - interval '40 days'`)
	require.NoError(t, err)
	_, err = s.db.Exec(t.Context(), `ALTER TABLE quote ENABLE TRIGGER USER`)
	require.NoError(t, err)
	s.get(hrefOf("quote", q.ID)).has(".late", "Lapsed").hasNot("button[value=accept]")
	s.submit("form:has(button[value=reissue])", "deed", "reissue").has("h1", "Q0001 rev 2").has("button[value=accept]", "They say yes")
	s.submit("form:has(button[value=accept])", "deed", "accept")
	require.Contains(t, s.Path, "/orders/")
}
