package books

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

func (w *world) units(t *testing.T, order int64) []int64 {
	t.Helper()
	ids, err := postgres.Column[int64](t.Context(), w.db, `SELECT u.id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id WHERE l.order_id = $1 ORDER BY l.position, u.n`, order)
	require.NoError(t, err)
	return ids
}

// addFree puts a tax-free line onto an order.
func (w *world) addFree(t *testing.T, order, minor int64) {
	t.Helper()
	_, err := w.db.Exec(t.Context(), `WITH l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, tax_code, tax_pct, price_ex_tax_minor, tax_minor, price_minor)
	VALUES ($1, 2, 'text', 'Honey', 1, $2, 'free', 0, $2, 0, $2) RETURNING id) INSERT INTO order_unit (order_line_id, n) SELECT id, 1 FROM l`, order, minor)
	require.NoError(t, err)
}

func (w *world) issue(t *testing.T, n InvoiceNew) Invoice {
	t.Helper()
	inv, err := w.InvoiceIssue(t.Context(), n, plain)
	require.NoError(t, err)
	return inv
}

func (w *world) adjust(t *testing.T, n AdjustmentNew) Invoice {
	t.Helper()
	n.Why = "came back"
	inv, err := w.InvoiceAdjust(t.Context(), n, plain)
	require.NoError(t, err)
	return inv
}

func TestDepositInvoiceIsTakenOffTheLast(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 2, 100000, 10000)
	w.addFree(t, order, 10000) // 1100.00 taxed, 100.00 free
	deposit := w.issue(t, InvoiceNew{OrderID: order, Kind: "deposit", AmountMinor: 36000})
	// 360.00 is 30 % of each: 330.00 with 30.00 of tax, 30.00 without.
	require.Equal(t, []int64{36000, 3000}, []int64{deposit.PriceMinor, deposit.TaxMinor})
	require.Len(t, deposit.Lines, 2)
	_, err := w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order, Kind: "progress", AmountMinor: 84001}, plain)
	require.True(t, fault.Is(err, fault.Invalid), "more than is left")
	last := w.issue(t, InvoiceNew{OrderID: order})
	require.Equal(t, int64(120000-36000), last.PriceMinor)
	require.Equal(t, int64(10000-3000), last.TaxMinor)
	_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order, Kind: "progress", AmountMinor: 1}, plain)
	require.True(t, fault.Is(err, fault.Invalid))
	_, err = w.InvoiceAdjust(t.Context(), AdjustmentNew{InvoiceID: deposit.ID, AmountMinor: 1, Why: "x"}, plain)
	require.True(t, fault.Is(err, fault.Conflict), "a later invoice took it off: %v", err)
	// The last one taken off whole, the deposit can be, and both can be invoiced anew.
	w.adjust(t, AdjustmentNew{InvoiceID: last.ID})
	off := w.adjust(t, AdjustmentNew{InvoiceID: deposit.ID})
	require.Equal(t, []int64{-36000, -3000}, []int64{off.PriceMinor, off.TaxMinor})
	again := w.issue(t, InvoiceNew{OrderID: order})
	require.Equal(t, int64(120000), again.PriceMinor)
	_, err = w.InvoiceAdjust(t.Context(), AdjustmentNew{InvoiceID: off.ID, Why: "x"}, plain)
	require.True(t, fault.Is(err, fault.Conflict))
}

func TestDepositAsSecurityIsNotInvoiced(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	h := house.New(w.db)
	s, err := h.SettingsGet(t.Context())
	require.NoError(t, err)
	s.DepositIs = "security"
	_, err = h.SettingsPut(t.Context(), s)
	require.NoError(t, err)
	_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: w.order(t, 1, 30000, 3000), Kind: "deposit", AmountMinor: 5000}, plain)
	require.True(t, fault.Is(err, fault.Conflict))
}

func TestAdjustmentLowersThePriceOrTheInvoiceOnly(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 2, 60000, 6000)
	inv := w.issue(t, InvoiceNew{OrderID: order})
	rebate := w.adjust(t, AdjustmentNew{InvoiceID: inv.ID, AmountMinor: 1100, LowersPrice: true})
	require.Equal(t, []int64{-1100, -100}, []int64{rebate.PriceMinor, rebate.TaxMinor})
	owed, _, _, err := w.Balance(t.Context(), order)
	require.NoError(t, err)
	require.Equal(t, int64(64900), owed)
	_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order}, plain)
	require.True(t, fault.Is(err, fault.Conflict), "a rebate leaves the pieces invoiced")
	got, err := w.InvoiceGet(t.Context(), inv.ID)
	require.NoError(t, err)
	require.Equal(t, int64(550), got.Lines[0].CreditedMinor)
	line := w.adjust(t, AdjustmentNew{InvoiceID: inv.ID, LineIDs: []int64{inv.Lines[0].ID}})
	require.Equal(t, int64(-(33000 - 550)), line.PriceMinor, "what is left of the line")
	require.Equal(t, int64(-(3000 - 50)), line.TaxMinor)
	for _, bad := range []AdjustmentNew{
		{InvoiceID: inv.ID, Why: "x", AmountMinor: 33000 - 550 + 1},
		{InvoiceID: inv.ID, Why: "x", LineIDs: []int64{inv.Lines[1].ID, 999}},
		{InvoiceID: inv.ID, Why: " ", AmountMinor: 1},
		{InvoiceID: inv.ID, Why: "x", AmountMinor: -1},
		{InvoiceID: inv.ID, Why: "x", AmountMinor: 1, LineIDs: []int64{inv.Lines[1].ID}},
	} {
		_, err = w.InvoiceAdjust(t.Context(), bad, plain)
		require.True(t, fault.Is(err, fault.Invalid), "%+v: %v", bad, err)
	}
	_, err = w.InvoiceAdjust(t.Context(), AdjustmentNew{InvoiceID: inv.ID, Why: "x", LineIDs: []int64{inv.Lines[0].ID}}, plain)
	require.True(t, fault.Is(err, fault.Conflict), "all of it is off already")
	again := w.issue(t, InvoiceNew{OrderID: order})
	require.Len(t, again.Lines, 1, "the piece that was taken off can be invoiced anew")
	require.Equal(t, int64(33000-550), again.PriceMinor, "at the price that was lowered")
}

func TestInvoicedPieceThatIsCancelledIsShown(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 2, 60000, 6000)
	inv := w.issue(t, InvoiceNew{OrderID: order})
	_, err := w.db.Exec(t.Context(), `UPDATE order_unit SET cancelled_at = now(), cancelled_because = 'changed their mind' WHERE id = $1`, w.units(t, order)[1])
	require.NoError(t, err)
	gone, err := w.InvoicedButGone(t.Context(), order)
	require.NoError(t, err)
	require.Len(t, gone, 1)
	w.adjust(t, AdjustmentNew{InvoiceID: inv.ID, LineIDs: []int64{inv.Lines[1].ID}, LowersPrice: true})
	gone, err = w.InvoicedButGone(t.Context(), order)
	require.NoError(t, err)
	require.Empty(t, gone)
	owed, _, _, err := w.Balance(t.Context(), order)
	require.NoError(t, err)
	require.Equal(t, int64(33000), owed, "the cancelled piece's price went once")
}

func TestCreditIsKeptAndUsedOnTheNextOrder(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	one := w.order(t, 1, 30000, 3000)
	_, err := w.PaymentMake(t.Context(), Payment{OrderID: one, Kind: "payment", Method: "cash", AmountMinor: 35000}, nil)
	require.NoError(t, err)
	stranger := w.order(t, 1, 30000, 3000)
	_, err = w.CreditUse(t.Context(), one, stranger, 0)
	require.True(t, fault.Is(err, fault.Conflict), "of two buyers")
	two := w.order(t, 1, 1000, 100)
	_, err = w.db.Exec(t.Context(), `UPDATE sale_order SET party_id = (SELECT party_id FROM sale_order WHERE id = $1) WHERE id = $2`, one, two)
	require.NoError(t, err)
	party, err := postgres.Value[int64](t.Context(), w.db, `SELECT party_id FROM sale_order WHERE id = $1`, one)
	require.NoError(t, err)
	credits, err := w.CreditsOf(t.Context(), party)
	require.NoError(t, err)
	require.Equal(t, []Credit{{OrderID: one, OrderNumber: fmt.Sprintf("S%d", one), AmountMinor: 2000}}, blankNumbers(credits, one))
	_, err = w.CreditUse(t.Context(), one, two, 2001)
	require.True(t, fault.Is(err, fault.Conflict))
	got, err := w.CreditUse(t.Context(), one, two, 0)
	require.NoError(t, err)
	require.Zero(t, got.BalanceMinor)
	require.Equal(t, int64(1100), got.Payment.AmountMinor)
	_, _, left, err := w.Balance(t.Context(), one)
	require.NoError(t, err)
	require.Equal(t, int64(-900), left)
	_, err = w.CreditUse(t.Context(), one, one, 0)
	require.True(t, fault.Is(err, fault.Invalid))
}

// blankNumbers gives the order its test name, whatever the party's id made of it.
func blankNumbers(list []Credit, order int64) []Credit {
	for i := range list {
		list[i].OrderNumber = fmt.Sprintf("S%d", order)
	}
	return list
}

func TestWhatATaxInvoiceMustCarry(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	// A$1000 with tax is where the buyer's identity is asked for: ATO, Tax invoices.
	for _, c := range []struct {
		ex, tax int64
		ok      bool
	}{{90908, 9091, true}, {90910, 9091, false}} {
		order := w.order(t, 1, c.ex, c.tax)
		_, err := w.db.Exec(t.Context(), `UPDATE party SET name = '' WHERE id = (SELECT party_id FROM sale_order WHERE id = $1)`, order)
		require.NoError(t, err)
		_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order}, plain)
		require.Equal(t, c.ok, err == nil, "%v", err)
	}
	today := noon
	for _, bad := range []InvoiceNew{
		{InvoiceOn: ptr(house.DateIn(today, noon.Location()).AddDate(0, 0, -30))},
		{SuppliedOn: ptr(today.AddDate(0, 0, 2))},
		{DueDays: ptr(-1)},
		{Kind: "gift"},
		{Kind: "deposit"},
		{Kind: "final", AmountMinor: 5},
	} {
		bad.OrderID = w.order(t, 1, 1000, 100)
		_, err := w.InvoiceIssue(t.Context(), bad, plain)
		require.True(t, fault.Is(err, fault.Invalid), "%+v: %v", bad, err)
	}
	h := house.New(w.db)
	s, err := h.SettingsGet(t.Context())
	require.NoError(t, err)
	s.BusinessNumber = ""
	_, err = h.SettingsPut(t.Context(), s)
	require.NoError(t, err)
	_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: w.order(t, 1, 1000, 100)}, plain)
	require.True(t, fault.Is(err, fault.Conflict), "no business number: %v", err)
}

func ptr[T any](v T) *T { return &v }

func TestDueAsAgreedWithTheBuyer(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 2, 60000, 6000)
	_, err := w.db.Exec(t.Context(), `UPDATE party SET due_days = 30`)
	require.NoError(t, err)
	require.Equal(t, "2026-04-01", w.issue(t, InvoiceNew{OrderID: order, UnitIDs: w.units(t, order)[:1]}).DueOn.Format("2006-01-02"))
	require.Equal(t, "2026-03-05", w.issue(t, InvoiceNew{OrderID: order, DueDays: ptr(3)}).DueOn.Format("2006-01-02"))
}

func TestOldestInvoiceIsPaidFirst(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 2, 60000, 6000)
	first := w.issue(t, InvoiceNew{OrderID: order, UnitIDs: w.units(t, order)[:1]})
	second := w.issue(t, InvoiceNew{OrderID: order})
	later := noon.AddDate(0, 1, 0)
	overdue := func() []int64 {
		list, err := w.InvoicesOverdue(t.Context(), later)
		require.NoError(t, err)
		ids := []int64{}
		for _, i := range list {
			ids = append(ids, i.ID)
		}
		return ids
	}
	require.Equal(t, []int64{first.ID, second.ID}, overdue())
	_, err := w.PaymentMake(t.Context(), Payment{OrderID: order, Kind: "payment", Method: "cash", AmountMinor: 33000}, nil)
	require.NoError(t, err)
	require.Equal(t, []int64{second.ID}, overdue())
	w.adjust(t, AdjustmentNew{InvoiceID: second.ID})
	require.Empty(t, overdue())
}

// Whatever is invoiced ahead, taken off and invoiced anew: when every piece is invoiced
// and nothing lowers the price, all invoices and notes together come to the order's price
// and tax, to the cent.
func TestInvoicesAddUpToTheOrder(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	rnd := rand.New(rand.NewPCG(7, 11))
	for range 25 {
		n, ex := rnd.Int64N(4)+1, rnd.Int64N(300000)+1000
		tax := (ex + 5) / 10
		order := w.order(t, int(n), ex, tax)
		free := rnd.Int64N(5000) + 1
		w.addFree(t, order, free)
		for range 3 {
			if inv, err := w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order, Kind: "progress", AmountMinor: rnd.Int64N(ex/3) + 1}, plain); err == nil && rnd.IntN(3) == 0 {
				w.adjust(t, AdjustmentNew{InvoiceID: inv.ID, AmountMinor: rnd.Int64N(inv.PriceMinor) + 1})
			}
		}
		units := w.units(t, order)
		part := w.issue(t, InvoiceNew{OrderID: order, UnitIDs: units[:1]})
		if rnd.IntN(2) == 0 {
			w.adjust(t, AdjustmentNew{InvoiceID: part.ID})
		}
		w.issue(t, InvoiceNew{OrderID: order})
		var price, taxes int64
		require.NoError(t, w.db.QueryRow(t.Context(), `SELECT sum(price_minor), sum(tax_minor) FROM invoice WHERE order_id = $1`, order).Scan(&price, &taxes))
		require.Equal(t, ex+tax+free, price, "order %d", order)
		require.Equal(t, tax, taxes)
	}
}
