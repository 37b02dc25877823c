package books

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

var noon = time.Date(2026, 3, 2, 2, 0, 0, 0, time.UTC)

type world struct {
	*Room
	db *postgres.DB
}

func newWorld(t *testing.T, registered bool) *world {
	t.Helper()
	w := &world{db: pgtest.DB(t, postgres.WithClock(func() time.Time { return noon }))}
	w.Room = New(w.db)
	h := house.New(w.db)
	s := house.Standard()
	s.Name, s.BusinessNumber = "Test joinery", "51 824 753 556" // the example of the Australian Business Register
	_, err := h.SettingsPut(t.Context(), s)
	require.NoError(t, err)
	require.NoError(t, h.TaxRegister(t.Context(), noon.AddDate(-1, 0, 0), registered, "GST"))
	return w
}

// order makes an order of n boxes whose line costs ex plus tax minor units.
func (w *world) order(t *testing.T, n int, ex, tax int64) int64 {
	t.Helper()
	id, err := postgres.Value[int64](t.Context(), w.db, `WITH p AS (INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id),
o AS (INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S' || id, id, now() FROM p RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, tax_pct, price_ex_tax_minor, tax_minor, price_minor)
	SELECT id, 1, 'box', 'Box', $1::int, $2::bigint / $1::int, 10, $2::bigint, $3::bigint, $2::bigint + $3::bigint FROM o RETURNING id, order_id),
u AS (INSERT INTO order_unit (order_line_id, n, wants_box) SELECT id, i, true FROM l, generate_series(1, $1::int) i)
SELECT id FROM o`, n, ex, tax)
	require.NoError(t, err)
	return id
}

func plain(context.Context, Invoice, int64) (any, []byte, error) { return 1, []byte("%PDF"), nil }

func TestPaymentsAndTheBalance(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 1, 30000, 3000)
	pay := func(kind string, minor int64) (Result, error) {
		return w.PaymentMake(t.Context(), Payment{OrderID: order, Kind: kind, Method: "cash", AmountMinor: minor}, func(_ context.Context, p Payment, balance int64) ([]byte, error) {
			return []byte(p.Number), nil
		})
	}
	got, err := pay("deposit", 10000)
	require.NoError(t, err)
	require.Equal(t, int64(23000), got.BalanceMinor)
	require.Equal(t, "P0001", got.Payment.Number)
	_, err = pay("refund", 10001)
	require.True(t, fault.Is(err, fault.Conflict), "more than was paid")
	got, err = pay("payment", 25000)
	require.NoError(t, err)
	require.Equal(t, int64(-2000), got.BalanceMinor, "paid beyond the price is credit")
	got, err = pay("refund", 2000)
	require.NoError(t, err)
	require.Zero(t, got.BalanceMinor)
	for _, bad := range []Payment{
		{OrderID: order, Kind: "deposit", Method: "cash", AmountMinor: 0},
		{OrderID: order, Kind: "deposit", Method: "shells", AmountMinor: 1},
		{OrderID: order, Kind: "deposit", Method: "in kind", AmountMinor: 1},
		{OrderID: order, Kind: "gift", Method: "cash", AmountMinor: 1},
		{OrderID: order, Kind: "deposit", Method: "cash", AmountMinor: 1, HappenedAt: noon.AddDate(0, 0, 2)},
	} {
		_, err := w.PaymentMake(t.Context(), bad, nil)
		require.True(t, fault.Is(err, fault.Invalid), "%+v: %v", bad, err)
	}
	_, err = w.PaymentMake(t.Context(), Payment{OrderID: 99, Kind: "deposit", Method: "cash", AmountMinor: 1}, nil)
	require.True(t, fault.Is(err, fault.NotFound))
	list, err := w.PaymentsOf(t.Context(), order)
	require.NoError(t, err)
	require.Len(t, list, 3)
}

func TestDepositsHeldAreThoseOfWorkStillOwed(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	open, done := w.order(t, 2, 30000, 3000), w.order(t, 1, 30000, 3000)
	for _, o := range []int64{open, done} {
		_, err := w.PaymentMake(t.Context(), Payment{OrderID: o, Kind: "deposit", Method: "transfer", AmountMinor: 5000}, nil)
		require.NoError(t, err)
	}
	_, err := w.db.Exec(t.Context(), `UPDATE order_unit SET handed_over_at = now() WHERE order_line_id IN (SELECT id FROM order_line WHERE order_id = $1)`, done)
	require.NoError(t, err)
	held, err := w.DepositsHeld(t.Context())
	require.NoError(t, err)
	require.Len(t, held, 1)
	require.Equal(t, open, held[0].OrderID)
	require.Equal(t, int64(5000), held[0].PaidMinor)
}

func TestInvoiceAddsUpAndInvoicesAUnitOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 3, 100000, 10001) // neither sum divides by three
	var units []int64
	units, err := postgres.Column[int64](t.Context(), w.db, `SELECT u.id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id WHERE l.order_id = $1 ORDER BY u.n`, order)
	require.NoError(t, err)
	first, err := w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order, UnitIDs: units[:1]}, plain)
	require.NoError(t, err)
	require.Equal(t, "I0001", first.Number)
	require.Equal(t, "2026-03-16", first.DueOn.Format(time.DateOnly))
	_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order, UnitIDs: units[:2]}, plain)
	require.True(t, fault.Is(err, fault.Conflict))
	rest, err := w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order}, plain)
	require.NoError(t, err)
	require.Equal(t, "I0002", rest.Number, "the refused one left no gap")
	require.Equal(t, int64(110001), first.PriceMinor+rest.PriceMinor, "to the cent")
	require.Equal(t, int64(10001), first.TaxMinor+rest.TaxMinor)
	_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order}, plain)
	require.True(t, fault.Is(err, fault.Conflict))
	overdue, err := w.InvoicesOverdue(t.Context(), noon.AddDate(0, 0, 30))
	require.NoError(t, err)
	require.Len(t, overdue, 2)
}

func TestUnregisteredWorkshopChargesNoTax(t *testing.T) {
	t.Parallel()
	w := newWorld(t, false)
	inv, err := w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: w.order(t, 1, 30000, 0)}, plain)
	require.NoError(t, err)
	require.False(t, inv.Registered)
	require.Zero(t, inv.TaxMinor)
}

func TestInvoiceNumbersHaveNoGapsWhenManyAreIssuedAtOnceAndSomeFail(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	const many = 15
	errs := make(chan error, many)
	orders := make([]int64, many)
	for i := range orders {
		orders[i] = w.order(t, 1, 30000, 3000)
	}
	for i, o := range orders {
		go func() {
			_, err := w.InvoiceIssue(context.WithoutCancel(t.Context()), InvoiceNew{OrderID: o}, func(context.Context, Invoice, int64) (any, []byte, error) {
				if i%4 == 1 {
					return nil, nil, errors.New("no ink")
				}
				return 1, []byte("%PDF"), nil
			})
			errs <- err
		}()
	}
	ok := 0
	for range many {
		if <-errs == nil {
			ok++
		}
	}
	numbers, err := postgres.Column[int](t.Context(), w.db, `SELECT substr(number, 2)::int FROM invoice ORDER BY 1`)
	require.NoError(t, err)
	require.Len(t, numbers, ok)
	require.Equal(t, many-4, ok)
	for i, n := range numbers {
		require.Equal(t, i+1, n)
	}
}

func TestSchemaRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	order := w.order(t, 1, 30000, 3000)
	_, err := w.PaymentMake(t.Context(), Payment{OrderID: order, Kind: "deposit", Method: "cash", AmountMinor: 1}, nil)
	require.NoError(t, err)
	_, err = w.InvoiceIssue(t.Context(), InvoiceNew{OrderID: order}, plain)
	require.NoError(t, err)
	for _, c := range []struct{ name, constraint, sql string }{
		{"a payment changed", "payment_written_once", `UPDATE payment SET amount_minor = 2`},
		{"a payment taken away", "payment_written_once", `DELETE FROM payment`},
		{"an invoice changed", "invoice_written_once", `UPDATE invoice SET due_on = due_on + 1`},
		{"an invoice line changed", "invoice_line_written_once", `UPDATE invoice_line SET description = 'x'`},
		{"a second invoice of a number", "invoice_number_once", `INSERT INTO invoice (number, kind, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id)
			SELECT number, kind, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id FROM invoice`},
		{"tax without registration", "invoice_unregistered_no_tax", `INSERT INTO invoice (number, kind, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id)
			SELECT 'I9', kind, order_id, party_id, invoice_on, due_on, issued_at, false, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id FROM invoice`},
		{"an adjustment without a reason", "invoice_adjustment_why", `INSERT INTO invoice (number, kind, adjusts_id, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id)
			SELECT 'I9', 'adjustment', id, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id FROM invoice`},
		{"an invoice that lowers the price", "invoice_keeps_price", `INSERT INTO invoice (number, kind, keeps_price, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id)
			SELECT 'I9', kind, false, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id FROM invoice`},
		{"credit from nowhere", "payment_credit", `INSERT INTO payment (number, order_id, kind, method, amount_minor, happened_at) SELECT 'P9', order_id, 'payment', 'credit', 1, now() FROM payment`},
		{"credit from the order itself", "payment_credit_elsewhere", `INSERT INTO payment (number, order_id, kind, method, amount_minor, happened_at, other_order_id) SELECT 'P9', order_id, 'payment', 'credit', 1, now(), order_id FROM payment`},
		{"in kind without saying what", "payment_in_kind", `INSERT INTO payment (number, order_id, kind, method, amount_minor, happened_at) SELECT 'P9', order_id, 'payment', 'in kind', 1, now() FROM payment`},
	} {
		_, err := w.db.Exec(t.Context(), c.sql)
		var pg *pgconn.PgError
		require.True(t, errors.As(err, &pg), "%s was not refused: %v", c.name, err)
		require.Equal(t, c.constraint, pg.ConstraintName, c.name)
	}
}
