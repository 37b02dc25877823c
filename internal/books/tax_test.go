package books

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

func on(text string) time.Time {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return t
}

func taxed(ex, tax int64) []ahead { return []ahead{{TaxCode: "standard", PriceExTax: ex, Tax: tax}} }

func money(day string, minor int64, deposit bool) dealEvent {
	return dealEvent{On: on(day), Kind: "payment", Number: day, Minor: minor, Deposit: deposit}
}

func bill(day string, ex, tax int64) dealEvent {
	return dealEvent{On: on(day), Kind: "invoice", Number: day, Minor: ex + tax, lines: taxed(ex, tax)}
}

// What an order counts for and when, worked by hand. When tax falls due: GST Act ss 29-5
// and 29-10 (from memory), deposits as security s 99-5 (from memory).
func TestWhatAnOrderCountsForAndWhen(t *testing.T) {
	t.Parallel()
	type counted struct {
		day     string
		ex, tax int64
	}
	ended := on("2026-05-01")
	for _, c := range []struct {
		name          string
		d             deal
		cash, accrual []counted
	}{
		{"deposit, invoice, rest", deal{Price: 110000, mix: taxed(100000, 10000), events: []dealEvent{money("2026-03-01", 33000, true), bill("2026-04-01", 100000, 10000), money("2026-04-10", 77000, false)}},
			[]counted{{"2026-03-01", 30000, 3000}, {"2026-04-10", 70000, 7000}},
			[]counted{{"2026-03-01", 30000, 3000}, {"2026-04-01", 70000, 7000}}},
		{"invoice first, then credited and paid in part", deal{Price: 110000, mix: taxed(100000, 10000), events: []dealEvent{bill("2026-03-01", 100000, 10000), bill("2026-03-05", -10000, -1000), money("2026-04-10", 99000, false)}},
			[]counted{{"2026-04-10", 90000, 9000}},
			[]counted{{"2026-03-01", 100000, 10000}, {"2026-03-05", -10000, -1000}}},
		{"paid beyond the price", deal{Price: 110000, mix: taxed(100000, 10000), events: []dealEvent{money("2026-03-01", 120000, false), money("2026-03-02", -10000, false)}},
			[]counted{{"2026-03-01", 100000, 10000}}, []counted{{"2026-03-01", 100000, 10000}}},
		{"cancelled and paid back", deal{Price: 0, EndedOn: &ended, mix: taxed(100000, 10000), events: []dealEvent{money("2026-03-01", 33000, true), money("2026-05-01", -33000, false)}}, nil, nil},
		{"cancelled and the deposit kept", deal{Price: 0, Kept: true, EndedOn: &ended, mix: taxed(100000, 10000), events: []dealEvent{money("2026-03-01", 33000, true)}},
			[]counted{{"2026-03-01", 30000, 3000}}, []counted{{"2026-03-01", 30000, 3000}}},
		{"security, handed over in May", deal{Price: 110000, security: true, EndedOn: &ended, mix: taxed(100000, 10000), events: []dealEvent{money("2026-03-01", 33000, true), money("2026-05-01", 77000, false)}},
			[]counted{{"2026-05-01", 30000, 3000}, {"2026-05-01", 70000, 7000}}, []counted{{"2026-05-01", 30000, 3000}, {"2026-05-01", 70000, 7000}}},
		{"security, still held", deal{Price: 110000, security: true, mix: taxed(100000, 10000), events: []dealEvent{money("2026-03-01", 33000, true)}}, nil, nil},
		{"security, part of it paid back while held", deal{Price: 110000, security: true, mix: taxed(100000, 10000), events: []dealEvent{money("2026-03-01", 33000, true), money("2026-03-02", -11000, false)}}, nil, nil},
	} {
		for basis, want := range map[string][]counted{Cash: c.cash, Accrual: c.accrual} {
			var got []counted
			d := c.d
			for _, l := range d.count(basis) {
				got = append(got, counted{l.On.Format(time.DateOnly), l.PriceExTaxMinor, l.TaxMinor})
			}
			require.Equal(t, want, got, "%s, by %s", c.name, basis)
		}
	}
}

// GST in a price that holds it is one eleventh, to the cent: ATO; the amounts are rows of
// testdata/gst_inclusive.csv of package costing, computed there from that rule.
func TestTaxInAPriceIsOneEleventh(t *testing.T) {
	t.Parallel()
	for price, tax := range map[int64]int64{499: 45, 1100: 100, 7500: 682, 11000: 1000, 99999: 9091, 100000: 9091} {
		d := deal{Price: price, mix: taxed(price-tax, tax), events: []dealEvent{money("2026-03-01", price, false)}}
		got := d.count(Cash)
		require.Len(t, got, 1)
		require.Equal(t, tax, got[0].TaxMinor)
		require.Equal(t, (price*2+11)/22, tax, "a row of the table: a price over eleven, half up")
	}
}

// Once an order is invoiced and paid, both bases have counted its price and tax, to the
// cent, however it was split; and periods that meet end to end count what the whole does.
func TestBothBasesCountTheWholePrice(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(3, 5))
	for range 3000 {
		ex, free := rnd.Int64N(100000)+1, rnd.Int64N(20000)
		tax := (ex + 5) / 10
		d := deal{Price: ex + tax + free, mix: []ahead{{TaxCode: "free", PriceExTax: free}, {TaxCode: "standard", PriceExTax: ex, Tax: tax}}}
		left := d.Price
		for left > 0 {
			part := min(left, rnd.Int64N(d.Price)+1)
			left -= part
			d.events = append(d.events, dealEvent{On: on("2026-01-01").AddDate(0, 0, rnd.IntN(300)), Kind: "payment", Minor: part, Deposit: rnd.IntN(2) == 0})
		}
		whole := dealEvent{On: on("2026-01-01").AddDate(0, 0, rnd.IntN(300)), Kind: "invoice", Minor: d.Price, lines: d.mix}
		d.events = append(d.events, whole)
		for _, basis := range []string{Cash, Accrual} {
			var gotEx, gotTax int64
			for _, l := range d.count(basis) {
				gotEx += l.PriceExTaxMinor
				gotTax += l.TaxMinor
			}
			require.Equal(t, []int64{ex + free, tax}, []int64{gotEx, gotTax}, "%+v by %s", d, basis)
		}
	}
}

func TestTaxReport(t *testing.T) {
	t.Parallel()
	w := newWorld(t, true)
	today := house.DateIn(noon, time.UTC)
	order := w.order(t, 1, 100000, 10000)
	_, err := w.PaymentMake(t.Context(), Payment{OrderID: order, Kind: "deposit", Method: "transfer", AmountMinor: 33000, HappenedAt: noon.AddDate(0, -1, 0)}, nil)
	require.NoError(t, err)
	inv := w.issue(t, InvoiceNew{OrderID: order})
	_, err = w.db.Exec(t.Context(), `WITH s AS (INSERT INTO supplier (name) VALUES ('Fastener shed') RETURNING id),
p AS (INSERT INTO purchase (supplier_id, ordered_on, received_at, paid_on, their_number) SELECT id, '2026-02-20', '2026-02-25 01:00Z', '2026-03-01', 'F-1' FROM s RETURNING id)
INSERT INTO purchase_line (purchase_id, description, quantity, cost_ex_tax_minor, tax_minor) SELECT id, 'Screws', 1, 2000, 200 FROM p`)
	require.NoError(t, err)
	report := func(from, to, basis string) TaxReport {
		got, err := w.TaxReport(t.Context(), on(from), on(to), basis)
		require.NoError(t, err)
		return got
	}
	feb, mar := report("2026-02-01", "2026-02-28", Accrual), report("2026-03-01", "2026-03-31", Accrual)
	require.Equal(t, []TaxSum{{"standard", 30000, 3000}}, feb.Sales)
	require.Equal(t, []TaxSum{{"standard", 2000, 200}}, feb.Purchases, "it came in in February")
	require.Equal(t, int64(2800), feb.TaxDueMinor())
	require.Equal(t, []TaxSum{{"standard", 70000, 7000}}, mar.Sales)
	require.Equal(t, inv.ID, mar.Documents[0].DocumentID)
	require.Equal(t, today, mar.Documents[0].On)
	require.Empty(t, mar.Purchases)
	require.Equal(t, []TaxSum{{"standard", 2000, 200}}, report("2026-03-01", "2026-03-31", Cash).Purchases, "it was paid in March")
	require.Empty(t, report("2026-03-01", "2026-03-31", Cash).Sales)
	both := report("2026-02-01", "2026-03-31", Accrual)
	require.Equal(t, feb.TaxDueMinor()+mar.TaxDueMinor(), both.TaxDueMinor())
	journal, err := w.Journal(t.Context(), on("2026-02-01"), on("2026-03-31"))
	require.NoError(t, err)
	sums, entries := map[string]int64{}, map[string]int64{}
	for _, l := range journal {
		sums[l.Account] += l.DebitMinor - l.CreditMinor
		entries[l.Entry] += l.DebitMinor - l.CreditMinor
		require.True(t, (l.DebitMinor == 0) != (l.CreditMinor == 0), "%+v", l)
	}
	for entry, left := range entries {
		require.Zero(t, left, entry)
	}
	require.Equal(t, map[string]int64{"Sales": -100000, "Tax on sales": -10000, "Customers": 77000, "Bank": 33000 - 2200, "Purchases": 2000, "Tax on purchases": 200, "Suppliers": 0}, sums)
	for _, bad := range [][3]string{{"2026-03-01", "2026-02-01", Cash}, {"2000-01-01", "2026-02-01", Cash}, {"2026-01-01", "2026-02-01", "guess"}} {
		_, err := w.TaxReport(t.Context(), on(bad[0]), on(bad[1]), bad[2])
		require.True(t, fault.Is(err, fault.Invalid), "%v", bad)
	}
}
