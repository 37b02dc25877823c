package answer_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// issued makes and issues a quote for a wish.
func (w *world) issued(wish sales.Wish, change ...func(*answer.Draft)) sales.Quote {
	w.t.Helper()
	in := answer.Draft{PartyID: w.buyer.ID, SiteID: &w.site.ID, Wishes: []sales.Wish{wish}}
	for _, c := range change {
		c(&in)
	}
	q, err := w.DraftFromWishes(w.t.Context(), in)
	require.NoError(w.t, err)
	q, err = w.QuoteIssue(w.t.Context(), q.ID, q.Version)
	require.NoError(w.t, err)
	return q
}

func TestQuoteIsDraftedIssuedAndAcceptedWithItsClaims(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(2000, 3)
	w.haveScrews(100)
	shelf := w.box()
	q := w.issued(sales.Wish{ModelID: w.model.ID, Count: 2})
	require.Equal(t, int64(66000), q.PriceMinor)
	require.Equal(t, int64(19800), q.DepositMinor, "30 % of 660.00")
	text, err := w.QuoteText(t.Context(), q.ID)
	require.NoError(t, err)
	require.Contains(t, text, "$660.00")
	require.Contains(t, text, "Deposit: $198.00")
	kept, err := w.Paper(t.Context(), "quote", *q.Number)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(string(kept), "%PDF"))

	got, err := w.QuoteAccept(t.Context(), sales.Acceptance{QuoteID: q.ID})
	require.NoError(t, err)
	require.Empty(t, got.Short)
	units := got.Order.Lines[0].Units
	require.Equal(t, shelf.ID, *units[0].BoxID)
	require.Nil(t, units[1].BoxID)
	// Source: by hand. One box is built: a board of 2000 mm and 16 screws.
	require.Equal(t, 1, w.count(`SELECT put_aside FROM board_lot`))
	require.Equal(t, 16, w.count(`SELECT put_aside FROM item`))
	_, err = w.QuoteAccept(t.Context(), sales.Acceptance{QuoteID: q.ID})
	require.True(t, fault.Is(err, fault.Conflict), "a second yes: %v", err)

	b, err := w.BuildForUnits(t.Context(), answer.UnitsBuild{UnitIDs: []int64{units[1].ID}})
	require.NoError(t, err)
	require.Empty(t, b.Short)
	require.Zero(t, w.count(`SELECT count(*)::int FROM claim WHERE order_unit_id = $1 AND ended_at IS NULL`, units[1].ID), "the build has them now")
	_, err = w.BuildForUnits(t.Context(), answer.UnitsBuild{UnitIDs: []int64{units[1].ID}})
	require.True(t, fault.Is(err, fault.Conflict), "it is on the bench")
}

func TestIssuedQuoteHoldsItsPlaceUntilItLapses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(2000, 2)
	w.haveScrews(100)
	b := w.box()
	q := w.issued(sales.Wish{ModelID: w.model.ID, Count: 2})
	a := w.ask(sales.Wish{ModelID: w.model.ID})
	require.Equal(t, answer.FromNew, a.Units[0].From)
	require.Contains(t, reasons(a), "Box "+b.Serial+" is kept for quote "+*q.Number+" until it is answered or lapses.")
	require.Contains(t, reasons(a), "Hoop pine 100 x 28: 2.0 m free, 2.0 m needed.")
	own, err := w.Ask(t.Context(), answer.Question{Wish: sales.Wish{ModelID: w.model.ID}, QuoteID: q.ID})
	require.NoError(t, err)
	require.Equal(t, answer.FromShelf, own.Units[0].From, "its own hold does not count")
	w.now = w.now.AddDate(0, 0, 31)
	require.Equal(t, answer.FromShelf, w.ask(sales.Wish{ModelID: w.model.ID}).Units[0].From, "it lapsed")
	free := w.issued(sales.Wish{ModelID: w.model.ID}, func(d *answer.Draft) { d.DateAtAcceptance = true })
	require.Equal(t, answer.FromShelf, w.ask(sales.Wish{ModelID: w.model.ID}).Units[0].From, "dated at acceptance: holds nothing")
	got, err := w.QuoteAccept(t.Context(), sales.Acceptance{QuoteID: free.ID})
	require.NoError(t, err)
	require.Equal(t, "2026-04-02", iso(got.Order.Lines[0].Units[0].PromisedBoxOn))
}

func TestLateYesIsReissuedWithDatesWorkedOutAnew(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.box()
	q := w.issued(sales.Wish{ModelID: w.model.ID})
	w.now = w.now.AddDate(0, 2, 0)
	_, err := w.QuoteAccept(t.Context(), sales.Acceptance{QuoteID: q.ID})
	require.True(t, fault.Is(err, fault.Conflict))
	next, err := w.QuoteReissue(t.Context(), q.ID)
	require.NoError(t, err)
	require.Equal(t, 2, next.Revision)
	require.Equal(t, "2026-05-02", iso(next.Alternatives[0].BoxOn))
	require.Equal(t, q.PriceMinor, next.PriceMinor)
	_, err = w.QuoteAccept(t.Context(), sales.Acceptance{QuoteID: next.ID})
	require.NoError(t, err)
}

func TestShortTimberIsSaidAndNeverClaimedBeyondTheBook(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(1000, 1)
	w.haveScrews(10)
	got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID}}})
	require.NoError(t, err)
	require.Equal(t, []string{"1.0 m of 100 x 28 Hoop pine short.", "6 of Screw 50 mm short."}, got.Short)
	require.Equal(t, 1, w.count(`SELECT put_aside FROM board_lot`))
	require.Equal(t, 10, w.count(`SELECT put_aside FROM item`))
}

// A piece that has its bees already still says what its box lacks, takes what came in
// later, and keeps its colony.
func TestShortTimberIsSaidBesideAColonyThatIsThere(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	x := w.colony()
	w.haveScrews(20)
	got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, TimberID: w.species.ID, WithColony: true, BeeSpeciesID: w.bees.ID}}})
	require.NoError(t, err)
	require.Equal(t, x.ID, *got.Order.Lines[0].Units[0].ColonyID)
	short, err := w.OrderShort(t.Context(), got.Order.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"2.0 m of 100 x 28 Hoop pine short."}, short, "one box takes 2 m, see body")
	lot := w.rack(1200, 2)
	short, err = w.OrderPutAside(t.Context(), got.Order.ID)
	require.NoError(t, err)
	require.Empty(t, short)
	o, err := w.Sales.OrderGet(t.Context(), got.Order.ID)
	require.NoError(t, err)
	require.Equal(t, x.ID, *o.Lines[0].Units[0].ColonyID)
	require.Equal(t, 2, w.count(`SELECT put_aside FROM board_lot WHERE id = $1`, lot.ID))
}

func TestBoxIsSoldFromTheShelfInOneStep(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	b, other := w.box(), w.box()
	sold, err := w.SellFromShelf(t.Context(), answer.ShelfSale{Serials: []string{b.Serial, other.Serial}, Name: "Piers Holm", PriceMinor: 50001, Method: "cash"})
	require.NoError(t, err)
	require.Equal(t, sales.OrderHandedOver, sold.Order.State())
	require.Zero(t, sold.Order.BalanceMinor())
	require.Equal(t, int64(50001), sold.Payment.AmountMinor, "to the cent over two boxes")
	require.Len(t, sold.Handovers, 2)
	receipt, err := w.Paper(t.Context(), "receipt", sold.Payment.Number)
	require.NoError(t, err)
	require.NotEmpty(t, receipt)
	_, err = w.SellFromShelf(t.Context(), answer.ShelfSale{Serials: []string{b.Serial}, Name: "Somebody", Method: "cash"})
	require.True(t, fault.Is(err, fault.Conflict), "it is gone: %v", err)
	require.Equal(t, 1, w.count(`SELECT count(*)::int FROM sale_order`))

	third := w.box()
	_, err = w.SellFromShelf(t.Context(), answer.ShelfSale{Serials: []string{third.Serial}, Name: "Somebody", Method: "shells"})
	require.True(t, fault.Is(err, fault.Invalid))
	require.Equal(t, 1, w.count(`SELECT count(*)::int FROM sale_order`), "nothing half-done")
	require.Zero(t, w.count(`SELECT count(*)::int FROM party WHERE name = 'Somebody'`))
}

func TestCancellingFreesTheClaimsAndPaysBack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	b := w.box()
	got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, DepositMinor: 9000}, Wishes: []sales.Wish{{ModelID: w.model.ID}}})
	require.NoError(t, err)
	_, err = w.PaymentTake(t.Context(), books.Payment{OrderID: got.Order.ID, Kind: "deposit", Method: "transfer", AmountMinor: 9000})
	require.NoError(t, err)
	_, err = w.OrderCancel(t.Context(), answer.Cancel{Cancellation: sales.Cancellation{OrderID: got.Order.ID, Because: "moving"}})
	require.True(t, fault.Is(err, fault.Invalid), "what becomes of the deposit")
	require.Equal(t, 1, w.count(`SELECT count(*)::int FROM claim WHERE ended_at IS NULL`))
	out, err := w.OrderCancel(t.Context(), answer.Cancel{Cancellation: sales.Cancellation{OrderID: got.Order.ID, Because: "moving", DepositEnd: "part returned", ReturnedMinor: 4000}})
	require.NoError(t, err)
	require.Equal(t, int64(4000), out.Refund.AmountMinor)
	require.Equal(t, int64(5000), out.Order.PaidMinor)
	require.Equal(t, []string{"Box " + b.Serial + " is free again."}, out.Freed)
	require.Zero(t, w.count(`SELECT count(*)::int FROM claim WHERE ended_at IS NULL`))
}

func TestVariedOrderFreesWhatTheOldUnitsHad(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.box()
	got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID}}})
	require.NoError(t, err)
	q, err := w.DraftFromWishes(t.Context(), answer.Draft{PartyID: w.buyer.ID, VariesOrderID: &got.Order.ID, Wishes: []sales.Wish{{ModelID: w.model.ID, Count: 2}}})
	require.NoError(t, err)
	_, err = w.QuoteIssue(t.Context(), q.ID, 0)
	require.NoError(t, err)
	varied, err := w.QuoteAccept(t.Context(), sales.Acceptance{QuoteID: q.ID})
	require.NoError(t, err)
	require.Equal(t, got.Order.ID, varied.Order.ID)
	require.Equal(t, "cancelled", varied.Order.Lines[0].Units[0].State())
	require.NotNil(t, varied.Order.Lines[1].Units[0].BoxID, "the box goes to the new line")
}

func TestUnitWithAColonyIsHandedOver(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	b := w.box()
	c := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID = "box", &b.ID })
	got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &w.site.ID},
		Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID, Deliver: true}}})
	require.NoError(t, err)
	u := got.Order.Lines[0].Units[0]
	require.Equal(t, c.ID, *u.ColonyID, "the box on the shelf with its colony")
	_, err = w.HandOver(t.Context(), answer.Giving{UnitID: u.ID, ReceivedBy: " "})
	require.True(t, fault.Is(err, fault.Invalid))
	in, out := 21, 19
	given, err := w.HandOver(t.Context(), answer.Giving{UnitID: u.ID, ReceivedBy: "Ottoline", BeesIn: &in, BeesOut: &out})
	require.NoError(t, err)
	require.Empty(t, given.Warnings)
	require.NotNil(t, given.Handover.DocumentID)
	colony, err := w.Apiary.ColonyGet(t.Context(), c.ID)
	require.NoError(t, err)
	require.Equal(t, w.buyer.ID, *colony.OwnerID)
	box, err := w.Workshop.BoxGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, w.buyer.ID, *box.OwnerPartyID)
	require.Equal(t, w.site.ID, *box.SiteID)
	require.Equal(t, 1, w.count(`SELECT count(*)::int FROM movement WHERE colony_id = $1`, c.ID))
	require.Equal(t, 4, w.count(`SELECT count(*)::int FROM follow_up`), "1, 14, 60 and 365 days")
	require.Equal(t, 2, w.count(`SELECT count(*)::int FROM claim WHERE ended_how = 'handed over'`))
	order, err := w.Sales.OrderGet(t.Context(), got.Order.ID)
	require.NoError(t, err)
	require.Equal(t, sales.OrderHandedOver, order.State(), "the delivery counts as done")
	_, err = w.HandOver(t.Context(), answer.Giving{UnitID: u.ID, ReceivedBy: "Ottoline"})
	require.True(t, fault.Is(err, fault.Conflict), "twice")
	inv, err := w.InvoiceIssue(t.Context(), books.InvoiceNew{OrderID: order.ID})
	require.NoError(t, err)
	xml, number, err := w.EInvoice(t.Context(), inv.ID)
	require.NoError(t, err)
	require.Equal(t, inv.Number, number)
	_, err = w.db.Exec(t.Context(), `UPDATE party SET name = 'Somebody else'`)
	require.NoError(t, err)
	later, _, err := w.EInvoice(t.Context(), inv.ID)
	require.NoError(t, err)
	require.Equal(t, string(xml), string(later), "an issued invoice never changes")
	require.Contains(t, string(xml), "<cbc:CompanyID schemeID=\"0151\">51824753556</cbc:CompanyID>")
}

func TestWhatCannotGoIsRefused(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	promised, lived := w.box(), w.box(func(b *workshop.BoxNew) { b.OptionIDs = []int64{w.oiled.ID} })
	dead := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID = "box", &lived.ID })
	order := func(wish sales.Wish) sales.Unit {
		got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{wish}})
		require.NoError(t, err)
		return got.Order.Lines[0].Units[0]
	}
	first := order(sales.Wish{ModelID: w.model.ID})
	require.Equal(t, promised.ID, *first.BoxID)
	second := order(sales.Wish{ModelID: w.model.ID})
	third := order(sales.Wish{BeeSpeciesID: w.bees.ID, OwnBox: true})
	require.True(t, third.OwnBox)
	require.NoError(t, w.Apiary.End(t.Context(), dead.ID, "robbed out", w.now.Add(-time.Hour)))
	for _, c := range []struct {
		name string
		g    answer.Giving
	}{
		{"no box is there", answer.Giving{UnitID: second.ID}},
		{"a box that is promised to another", answer.Giving{UnitID: second.ID, BoxID: &promised.ID}},
		{"a colony that is dead", answer.Giving{UnitID: third.ID, ColonyID: &dead.ID}},
	} {
		c.g.ReceivedBy = "Ottoline"
		_, err := w.HandOver(t.Context(), c.g)
		require.True(t, fault.Is(err, fault.Conflict), "%s: %v", c.name, err)
	}
	require.Zero(t, w.count(`SELECT count(*)::int FROM handover`))
	require.Zero(t, w.count(`SELECT count(*)::int FROM order_unit WHERE handed_over_at IS NOT NULL`), "nothing half-done")
	living := w.colony()
	given, err := w.HandOver(t.Context(), answer.Giving{UnitID: third.ID, ColonyID: &living.ID, ReceivedBy: "Ottoline"})
	require.NoError(t, err)
	require.Nil(t, given.Handover.BoxID)
}
