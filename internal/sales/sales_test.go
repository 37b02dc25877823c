package sales

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

// noon is the invented present of these tests, in Brisbane the evening of 2 March 2026.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

type world struct {
	*Room
	db  *postgres.DB
	now time.Time
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{now: noon}
	w.db = pgtest.DB(t, postgres.WithClock(func() time.Time { return w.now }))
	w.Room = New(w.db)
	s := house.Standard()
	s.Name = "Test joinery"
	_, err := house.New(w.db).SettingsPut(t.Context(), s)
	require.NoError(t, err)
	return w
}

func (w *world) party(t *testing.T, name, phone string) Party {
	t.Helper()
	p := Party{Name: name}
	if phone != "" {
		p.Contacts = []Contact{{Kind: "phone", Value: phone}}
	}
	p, err := w.PartyPut(t.Context(), p)
	require.NoError(t, err)
	return p
}

func day(s string) *time.Time {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return &d
}

func line(kind string, n int64, unit int64) Line {
	net := n * unit
	tax := (net + 5) / 10
	return Line{Kind: kind, Description: "A " + kind, Quantity: decimal.NewFromInt(n), UnitPriceMinor: unit, TaxPct: decimal.NewFromInt(10), PriceExTaxMinor: net, TaxMinor: tax, PriceMinor: net + tax}
}

func (w *world) issued(t *testing.T, alternatives ...Alternative) Quote {
	t.Helper()
	p := w.party(t, "Ottoline Brandreth", "07 5550 0117")
	q, err := w.QuotePut(t.Context(), Quote{PartyID: p.ID, DepositMinor: 1000, Alternatives: alternatives})
	require.NoError(t, err)
	q, err = w.QuoteIssue(t.Context(), q.ID, q.Version, plainPaper)
	require.NoError(t, err)
	return q
}

func plainPaper(_ context.Context, q Quote, _ time.Time) (any, []byte, error) {
	return map[string]any{"number": *q.Number}, []byte("%PDF " + *q.Number), nil
}

func TestPhoneNormal(t *testing.T) {
	t.Parallel()
	// Source: ITU-T E.164 form; numbers from the ranges that the Australian numbering
	// plan keeps for fiction (from memory: 5550 and 7010 blocks).
	for _, c := range []struct{ typed, country, want string }{
		{"07 5550 0117", "AU", "+61755500117"},
		{"(07) 5550-0117", "AU", "+61755500117"},
		{"+61 7 5550 0117", "NZ", "+61755500117"},
		{"0491 570 006", "AU", "+61491570006"},
		{"12", "AU", "12"},
		{"", "AU", ""},
	} {
		require.Equal(t, c.want, PhoneNormal(c.typed, c.country), c.typed)
	}
	require.Equal(t, "(07) 5550 0117", PhonePretty("+61755500117", "AU"))
}

func TestKnownNumberOffersEverybodyWhoUsesIt(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a, b := w.party(t, "Ottoline Brandreth", "07 5550 0117"), w.party(t, "Piers Brandreth", "+61 7 5550 0117")
	w.party(t, "Somebody Else", "07 5550 0118")
	list, err := w.PartiesByNumber(t.Context(), "(07) 55500117")
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.ElementsMatch(t, []int64{a.ID, b.ID}, []int64{list[0].ID, list[1].ID})

	require.NoError(t, w.PartyJoin(t.Context(), b.ID, a.ID))
	got, err := w.PartyGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, a.ID, got.ID)
	require.Len(t, got.Contacts, 2)
	require.Error(t, w.PartyJoin(t.Context(), b.ID, a.ID))
}

func TestPartyListFindsByWordsAndByTheTailOfANumber(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, n := range []string{"Ada Quill", "Ben Quillon", "Cass Moor"} {
		w.party(t, n, "")
	}
	w.party(t, "Dee Strand", "0491 570 006")
	for _, c := range []struct {
		find string
		want []string
	}{{"quil", []string{"Ada Quill", "Ben Quillon"}}, {"ada quill", []string{"Ada Quill"}}, {"0491570006", []string{"Dee Strand"}}, {"570 006", []string{"Dee Strand"}}, {"nobody", nil}, {"'; --", []string{"Ada Quill", "Ben Quillon", "Cass Moor", "Dee Strand"}}} {
		list, _, err := w.PartyList(t.Context(), PartyFilter{Find: c.find})
		require.NoError(t, err, c.find)
		var names []string
		for _, p := range list {
			names = append(names, p.Name)
		}
		require.Equal(t, c.want, names, c.find)
	}
	first, next, err := w.PartyList(t.Context(), PartyFilter{Limit: 3})
	require.NoError(t, err)
	require.Len(t, first, 3)
	rest, end, err := w.PartyList(t.Context(), PartyFilter{Limit: 3, After: next})
	require.NoError(t, err)
	require.Equal(t, "Dee Strand", rest[0].Name)
	require.Empty(t, end)
}

func TestEnquiryNeedsANameOrANumber(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.EnquiryPut(t.Context(), Enquiry{Wanted: "a box"})
	require.True(t, fault.Is(err, fault.Invalid))
	_, err = w.EnquiryPut(t.Context(), Enquiry{Name: "Ada", RingAgainOn: day("2026-03-01")})
	require.True(t, fault.Is(err, fault.Invalid), "a day that is past")
	_, err = w.EnquiryPut(t.Context(), Enquiry{Name: strings.Repeat("x", 10<<20)})
	require.True(t, fault.Is(err, fault.Invalid), "10 MB of text")
	_, err = w.EnquiryPut(t.Context(), Enquiry{Name: "Ada\x00"})
	require.True(t, fault.Is(err, fault.Invalid), "a NUL byte")

	e, err := w.EnquiryPut(t.Context(), Enquiry{Number: "07 5550 0117", Place: "Gully Flat", RingAgainOn: day("2026-03-05")})
	require.NoError(t, err)
	p, err := w.EnquiryParty(t.Context(), e.ID)
	require.NoError(t, err)
	again, err := w.EnquiryParty(t.Context(), e.ID)
	require.NoError(t, err)
	require.Equal(t, p.ID, again.ID)
	require.Equal(t, "07 5550 0117", p.Called())

	e.Wanted = "two boxes"
	_, err = w.EnquiryPut(t.Context(), e)
	require.True(t, fault.Is(err, fault.Stale), "the party was noted on it meanwhile")
}

func TestIssuedQuoteNeverChangesAndTheSecondYesIsRefused(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	q := w.issued(t, Alternative{Lines: []Line{line("box", 2, 30000)}}, Alternative{Lines: []Line{line("box", 2, 35000), line("service", 1, 8000)}})
	require.Equal(t, "Q0001", *q.Number)
	require.Equal(t, Issued, q.State(*day("2026-03-02")))
	require.Equal(t, Lapsed, q.State(*day("2026-04-02")))
	_, err := w.QuotePut(t.Context(), q)
	require.True(t, fault.Is(err, fault.Conflict))
	_, err = w.QuoteIssue(t.Context(), q.ID, q.Version, plainPaper)
	require.True(t, fault.Is(err, fault.Conflict))

	_, err = w.QuoteAccept(t.Context(), Acceptance{QuoteID: q.ID})
	require.True(t, fault.Is(err, fault.Invalid), "which of two")
	yes := Acceptance{QuoteID: q.ID, AlternativeID: q.Alternatives[1].ID}
	results := make(chan error, 2)
	var start sync.WaitGroup
	start.Add(1)
	for range 2 {
		go func() {
			start.Wait()
			_, err := w.QuoteAccept(context.WithoutCancel(t.Context()), yes)
			results <- err
		}()
	}
	start.Done()
	one, two := <-results, <-results
	if one != nil {
		one, two = two, one
	}
	require.NoError(t, one)
	require.True(t, fault.Is(two, fault.Conflict), two)

	got, err := w.QuoteGet(t.Context(), q.ID)
	require.NoError(t, err)
	require.Equal(t, Accepted, got.State(*day("2026-06-01")))
	order, err := w.OrderGet(t.Context(), *got.OrderID)
	require.NoError(t, err)
	require.Equal(t, int64(2*35000*11/10+8800), order.PriceMinor)
	require.Len(t, order.Lines[0].Units, 2)
	require.Len(t, order.Lines[1].Units, 1)
	require.Equal(t, OrderOpen, order.State())
	require.True(t, fault.Is(w.QuoteEnd(t.Context(), q.ID, Declined, ""), fault.Conflict))
}

func TestLateYesIsReissued(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a := Alternative{BoxOn: day("2026-03-20"), Lines: []Line{line("box", 1, 30000)}}
	a.Lines[0].BoxOn = day("2026-03-20")
	q := w.issued(t, a)
	w.now = noon.AddDate(0, 2, 0)
	_, err := w.QuoteAccept(t.Context(), Acceptance{QuoteID: q.ID})
	require.True(t, fault.Is(err, fault.Conflict))
	require.ErrorContains(t, err, "ran out on 1 April 2026")

	next, err := w.QuoteRevise(t.Context(), q.ID)
	require.NoError(t, err)
	require.Nil(t, next.Alternatives[0].Lines[0].BoxOn, "a promise that is past is left open")
	_, err = w.QuoteRevise(t.Context(), q.ID)
	require.True(t, fault.Is(err, fault.Conflict))
	next, err = w.QuoteIssue(t.Context(), next.ID, next.Version, plainPaper)
	require.NoError(t, err)
	require.Equal(t, "Q0001 rev 2", next.Name())
	old, err := w.QuoteGet(t.Context(), q.ID)
	require.NoError(t, err)
	require.Equal(t, Withdrawn, old.State(*day("2026-05-02")))
	_, err = w.QuoteAccept(t.Context(), Acceptance{QuoteID: next.ID})
	require.NoError(t, err)
}

func TestPartOfAQuoteIsAccepted(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	q := w.issued(t, Alternative{Lines: []Line{line("box", 3, 33333), line("service", 1, 5000)}})
	boxes := q.Alternatives[0].Lines[0].ID
	_, err := w.QuoteAccept(t.Context(), Acceptance{QuoteID: q.ID, Lines: map[int64]decimal.Decimal{boxes: decimal.NewFromInt(4)}})
	require.True(t, fault.Is(err, fault.Invalid))
	order, err := w.QuoteAccept(t.Context(), Acceptance{QuoteID: q.ID, Lines: map[int64]decimal.Decimal{boxes: decimal.NewFromInt(2)}})
	require.NoError(t, err)
	require.Len(t, order.Lines, 1)
	require.Len(t, order.Lines[0].Units, 2)
	require.Equal(t, int64(66666), order.Lines[0].PriceExTaxMinor)
}

func TestOrderStateIsComputedFromItsUnits(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.party(t, "Council of Upper Moor", "")
	order, err := w.OrderMake(t.Context(), NewOrder{PartyID: p.ID, Lines: []Line{line("box", 3, 30000)}})
	require.NoError(t, err)
	units := order.Lines[0].Units
	require.NoError(t, w.UnitHandOver(t.Context(), units[0].ID, noon))
	require.True(t, fault.Is(w.UnitHandOver(t.Context(), units[0].ID, noon), fault.Conflict))
	state := func() string {
		o, err := w.OrderGet(t.Context(), order.ID)
		require.NoError(t, err)
		return o.State()
	}
	require.Equal(t, OrderPartly, state())
	ended, err := w.OrderCancel(t.Context(), Cancellation{OrderID: order.ID, UnitIDs: []int64{units[1].ID}, Because: "too many"})
	require.NoError(t, err)
	require.Equal(t, []int64{units[1].ID}, ended)
	o, err := w.OrderGet(t.Context(), order.ID)
	require.NoError(t, err)
	require.Equal(t, int64(66000), o.PriceMinor, "a cancelled third is not owed")
	require.NoError(t, w.UnitHandOver(t.Context(), units[2].ID, noon))
	require.Equal(t, OrderHandedOver, state())
	_, err = w.OrderCancel(t.Context(), Cancellation{OrderID: order.ID, Because: "changed mind"})
	require.True(t, fault.Is(err, fault.Conflict))
}

func TestCancellingAWholeOrderDecidesTheDeposit(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.party(t, "Ada Quill", "")
	order, err := w.OrderMake(t.Context(), NewOrder{PartyID: p.ID, DepositMinor: 9000, Lines: []Line{line("box", 1, 30000)}})
	require.NoError(t, err)
	_, err = w.db.Exec(t.Context(), `INSERT INTO payment (number, order_id, kind, method, amount_minor, happened_at) VALUES ('P1', $1, 'deposit', 'cash', 9000, now())`, order.ID)
	require.NoError(t, err)
	c := Cancellation{OrderID: order.ID, Because: "moving away"}
	_, err = w.OrderCancel(t.Context(), c)
	require.True(t, fault.Is(err, fault.Invalid), "what becomes of the deposit")
	o, err := w.OrderGet(t.Context(), order.ID)
	require.NoError(t, err)
	require.Equal(t, OrderOpen, o.State(), "nothing half-done")
	c.DepositEnd, c.ReturnedMinor = "part returned", 9000
	_, err = w.OrderCancel(t.Context(), c)
	require.True(t, fault.Is(err, fault.Invalid))
	c.ReturnedMinor = 4000
	_, err = w.OrderCancel(t.Context(), c)
	require.NoError(t, err)
}

func TestAcceptedRevisionVariesAnOrder(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.party(t, "Ada Quill", "")
	order, err := w.OrderMake(t.Context(), NewOrder{PartyID: p.ID, Lines: []Line{line("box", 2, 30000)}})
	require.NoError(t, err)
	require.NoError(t, w.UnitHandOver(t.Context(), order.Lines[0].Units[0].ID, noon))
	q, err := w.QuotePut(t.Context(), Quote{PartyID: p.ID, VariesOrderID: &order.ID, Alternatives: []Alternative{{Lines: []Line{line("box", 1, 45000)}}}})
	require.NoError(t, err)
	_, err = w.QuoteIssue(t.Context(), q.ID, 0, plainPaper)
	require.NoError(t, err)
	varied, err := w.QuoteAccept(t.Context(), Acceptance{QuoteID: q.ID})
	require.NoError(t, err)
	require.Equal(t, order.ID, varied.ID)
	require.Len(t, varied.Lines, 2)
	require.Equal(t, "cancelled", varied.Lines[0].Units[1].State())
	require.Equal(t, int64(33000+49500), varied.PriceMinor)
}

func TestPromisesAreNotMadeIntoThePast(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.party(t, "Ada Quill", "")
	l := line("box", 1, 30000)
	l.BoxOn = day("2026-03-01")
	_, err := w.OrderMake(t.Context(), NewOrder{PartyID: p.ID, Lines: []Line{l}})
	require.True(t, fault.Is(err, fault.Invalid))
	old, err := w.OrderMake(t.Context(), NewOrder{PartyID: p.ID, TypedIn: true, HappenedAt: noon.AddDate(-1, 0, 0), Lines: []Line{l}})
	require.NoError(t, err, "an old order is typed in as it was given")
	unit := old.Lines[0].Units[0].ID
	require.True(t, fault.Is(w.PromiseChange(t.Context(), unit, "box", day("2026-03-01"), "rain"), fault.Invalid))
	require.NoError(t, w.PromiseChange(t.Context(), unit, "box", day("2026-03-09"), "rain"))
	u, err := w.UnitGet(t.Context(), unit)
	require.NoError(t, err)
	require.Equal(t, "2026-03-09", u.PromisedBoxOn.Format(time.DateOnly))
}

func TestChangedPriceKeepsAReason(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.PricePut(t.Context(), ListPrice{Subject: "model:1", FromOn: *day("2025-01-01"), PriceMinor: 28000})
	require.NoError(t, err)
	_, err = w.PricePut(t.Context(), ListPrice{Subject: "model:1", FromOn: *day("2026-01-01"), PriceMinor: 30000})
	require.True(t, fault.Is(err, fault.Invalid))
	_, err = w.PricePut(t.Context(), ListPrice{Subject: "model:1", FromOn: *day("2026-01-01"), PriceMinor: 30000, Reason: "dearer screws"})
	require.NoError(t, err)
	for on, want := range map[string]int64{"2025-12-31": 28000, "2026-01-01": 30000} {
		got, err := w.PricesOn(t.Context(), *day(on), "model:1")
		require.NoError(t, err)
		require.Equal(t, want, got["model:1"].PriceMinor)
	}
	got, err := w.PricesOn(t.Context(), *day("2024-12-31"))
	require.NoError(t, err)
	require.Empty(t, got)
}

func TestNamelessPersonLeavesNoTrace(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	p := w.party(t, "Ottoline Brandreth", "07 5550 0117")
	e, err := w.EnquiryPut(t.Context(), Enquiry{PartyID: &p.ID, Name: "Ottoline Brandreth", Number: "07 5550 0117"})
	require.NoError(t, err)
	require.NotZero(t, e.ID)
	require.NoError(t, w.PartyMakeNameless(t.Context(), p.ID))
	for _, table := range []string{"party", "contact", "enquiry", "history"} {
		var n int
		require.NoError(t, w.db.QueryRow(t.Context(), `SELECT count(*) FROM `+table+` x WHERE x::text ILIKE '%brandreth%' OR x::text LIKE '%55500117%' OR x::text LIKE '%5550 0117%'`).Scan(&n))
		require.Zero(t, n, table)
	}
}

func TestDepositGoesWithTheAlternative(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	dear, cheap := line("box", 1, 66636), line("box", 1, 31636)
	dear.Kind, cheap.Kind = "service", "service"
	p := w.party(t, "Ada Quill", "")
	q, err := w.QuotePut(t.Context(), Quote{PartyID: p.ID, DepositMinor: 22000, Alternatives: []Alternative{{Lines: []Line{dear}}, {Lines: []Line{cheap}}}})
	require.NoError(t, err)
	require.Equal(t, int64(22000), q.DepositFor(q.Alternatives[0].PriceMinor))
	require.Equal(t, int64(10400), q.DepositFor(q.Alternatives[1].PriceMinor), "220.00 x 348.00 / 733.00 is 104.45, in whole units 104")
	q.DepositMinor = 22050
	require.Equal(t, int64(10468), q.DepositFor(q.Alternatives[1].PriceMinor), "220.50 x 348.00 / 733.00 is 104.68")
	q.DepositMinor = 90000
	require.Equal(t, q.Alternatives[0].PriceMinor, q.DepositFor(q.Alternatives[0].PriceMinor), "never more than the price")
}
