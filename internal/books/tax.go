package books

import (
	"cmp"
	"context"
	"slices"
	"time"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Bases of a tax report.
const (
	Cash    = "cash"    // counted when money comes in or goes out
	Accrual = "accrual" // counted when invoiced, or when money comes in before that
)

// longestReport bounds the days of one report.
const longestReport = 20 * 366

// TaxReport is what was sold and bought in a period, by tax code, with the documents it
// adds up from.
type TaxReport struct {
	From, To  time.Time // both days count
	Basis     string
	Sales     []TaxSum
	Purchases []TaxSum
	Documents []TaxLine // of sales and purchases, by day
	Rounding  string    // which lawful rounding is used
}

// TaxSum is the sum of one tax code.
type TaxSum struct {
	TaxCode         string `db:"tax_code"`
	PriceExTaxMinor int64  `db:"price_ex_tax_minor"`
	TaxMinor        int64  `db:"tax_minor"`
}

// TaxLine is what one document counts for at one tax code.
type TaxLine struct {
	On              time.Time `db:"on_day"`
	Side            string    `db:"side"`        // sale, purchase
	Kind            string    `db:"kind"`        // invoice, payment, purchase
	DocumentID      int64     `db:"document_id"` // of the invoice, payment or purchase
	Number          string    `db:"number"`
	Who             string    `db:"who"`
	TaxCode         string    `db:"tax_code"`
	PriceExTaxMinor int64     `db:"price_ex_tax_minor"`
	TaxMinor        int64     `db:"tax_minor"`
}

// TaxDueMinor is the tax on sales less that on purchases.
func (r TaxReport) TaxDueMinor() int64 {
	var due int64
	for _, s := range r.Sales {
		due += s.TaxMinor
	}
	for _, p := range r.Purchases {
		due -= p.TaxMinor
	}
	return due
}

// roundingUsed is which of the two ways of A New Tax System (Goods and Services Tax) Act
// 1999 s 9-90 is used.
const roundingUsed = "Tax is rounded to the cent on each line, then added (GST Act s 9-90)."

// TaxReport adds up what was sold and bought from one day to another.
//
// Sales by cash count what was received less what was paid back, up to the price. By
// accrual they count what was invoiced, and money that came in before it was invoiced. A
// deposit that is held as security counts when the first piece is handed over, or when it
// is kept. An amount is spread over the tax codes as the order's price is; an invoice has
// its own. Purchases count on the day they were paid by cash, else on the day they came in
// or were paid, whichever was first. Errors: Invalid for a period that ends before it
// begins or is longer than 20 years.
func (r *Room) TaxReport(ctx context.Context, from, to time.Time, basis string) (TaxReport, error) {
	var l fault.List
	l.Check(!to.Before(from), "/to", "The period ends before it begins.")
	l.Check(to.Sub(from) <= longestReport*24*time.Hour, "/from", "The period is longer than twenty years.")
	l.Check(basis == Cash || basis == Accrual, "/basis", "The basis is cash or accrual.")
	if err := l.Err(); err != nil {
		return TaxReport{}, err
	}
	out := TaxReport{From: from, To: to, Basis: basis, Documents: []TaxLine{}, Rounding: roundingUsed}
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return out, err
	}
	deals, err := r.deals(ctx, from, to, set)
	if err != nil {
		return out, err
	}
	for _, d := range deals {
		for _, line := range d.count(basis) {
			if !line.On.Before(from) && !line.On.After(to) {
				out.Documents = append(out.Documents, line)
			}
		}
	}
	bought, err := postgres.List[TaxLine](ctx, r.db, purchasesSelect, from, to, basis == Cash, set.TimeZone)
	if err != nil {
		return out, err
	}
	out.Documents = append(out.Documents, bought...)
	slices.SortStableFunc(out.Documents, func(a, b TaxLine) int {
		return cmp.Or(a.On.Compare(b.On), cmp.Compare(b.Side, a.Side), cmp.Compare(a.Number, b.Number), cmp.Compare(a.TaxCode, b.TaxCode))
	})
	out.Sales, out.Purchases = sumOf(out.Documents, "sale"), sumOf(out.Documents, "purchase")
	return out, nil
}

const purchasesSelect = `SELECT * FROM (SELECT CASE WHEN $3 THEN p.paid_on ELSE least(p.paid_on, (p.received_at AT TIME ZONE $4)::date) END AS on_day, 'purchase' AS side, 'purchase' AS kind, p.id AS document_id,
	coalesce(nullif(p.their_number, ''), p.id::text) AS number, coalesce((SELECT s.name FROM supplier s WHERE s.id = p.supplier_id), '') AS who, l.tax_code,
	sum(l.cost_ex_tax_minor)::bigint AS price_ex_tax_minor, sum(l.tax_minor)::bigint AS tax_minor
FROM purchase p JOIN purchase_line l ON l.purchase_id = p.id GROUP BY p.id, l.tax_code) x WHERE on_day BETWEEN $1 AND $2`

func sumOf(list []TaxLine, side string) []TaxSum {
	out := []TaxSum{}
	for _, line := range list {
		if line.Side != side {
			continue
		}
		i := slices.IndexFunc(out, func(s TaxSum) bool { return s.TaxCode == line.TaxCode })
		if i < 0 {
			i = len(out)
			out = append(out, TaxSum{TaxCode: line.TaxCode})
		}
		out[i].PriceExTaxMinor += line.PriceExTaxMinor
		out[i].TaxMinor += line.TaxMinor
	}
	slices.SortFunc(out, func(a, b TaxSum) int { return cmp.Compare(a.TaxCode, b.TaxCode) })
	return out
}

// deal is an order as the tax sees it.
type deal struct {
	OrderID  int64       `db:"order_id"`
	Number   string      `db:"number"`
	Who      string      `db:"who"`
	Price    int64       `db:"price_minor"` // of what is not cancelled
	Kept     bool        `db:"kept"`        // a deposit was kept at the cancellation
	EndedOn  *time.Time  `db:"ended_on"`    // the first handover, or the last cancellation when nothing was handed over
	security bool        `db:"-"`           // deposits are held until EndedOn
	mix      []ahead     `db:"-"`           // the price by tax code
	events   []dealEvent `db:"-"`
}

// dealEvent is one invoice or payment of an order.
type dealEvent struct {
	OrderID int64     `db:"order_id"`
	On      time.Time `db:"on_day"`
	Kind    string    `db:"kind"` // invoice, payment
	ID      int64     `db:"id"`
	Number  string    `db:"number"`
	Minor   int64     `db:"minor"` // with tax; a refund is below nothing
	Deposit bool      `db:"deposit"`
	lines   []ahead   `db:"-"` // of an invoice, by tax code
}

// deals reads the orders on which something happened in the period, with all that
// happened on them.
func (r *Room) deals(ctx context.Context, from, to time.Time, set house.Settings) ([]deal, error) {
	list, err := postgres.List[deal](ctx, r.db, `WITH touched AS (
	SELECT order_id FROM payment WHERE happened_at >= $1::date - 1 AND happened_at < $2::date + 2
	UNION SELECT order_id FROM invoice WHERE invoice_on BETWEEN $1 AND $2
	UNION SELECT l.order_id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id WHERE u.handed_over_at >= $1::date - 1 AND u.handed_over_at < $2::date + 2 OR u.cancelled_at >= $1::date - 1 AND u.cancelled_at < $2::date + 2)
SELECT o.id AS order_id, o.number, p.name AS who, coalesce(o.deposit_end IN ('kept', 'part returned'), false) AS kept,
	coalesce(sum(`+standing+`), 0)::bigint
		+ coalesce((`+lowered+` o.id), 0)::bigint AS price_minor,
	coalesce(min((t.handed AT TIME ZONE $3)::date), CASE WHEN sum(t.units) = sum(t.gone) THEN max((t.dropped AT TIME ZONE $3)::date) END) AS ended_on
FROM touched JOIN sale_order o ON o.id = touched.order_id JOIN party p ON p.id = o.party_id JOIN order_line l ON l.order_id = o.id
JOIN LATERAL (SELECT count(*) AS units, count(cancelled_at) AS gone, min(handed_over_at) AS handed, max(cancelled_at) AS dropped FROM order_unit WHERE order_line_id = l.id) t ON true
GROUP BY o.id, p.name ORDER BY o.id`, from, to, set.TimeZone)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	ids, byID := make([]int64, len(list)), map[int64]*deal{}
	for i := range list {
		d := &list[i]
		ids[i], byID[d.OrderID] = d.OrderID, d
		d.security = set.DepositIs == "security"
	}
	if err := r.readMix(ctx, ids, byID); err != nil {
		return nil, err
	}
	return list, r.readEvents(ctx, ids, byID, set)
}

type mixRow struct {
	OwnerID int64 `db:"owner_id"`
	TaxSum
}

func (r *Room) readMix(ctx context.Context, ids []int64, byID map[int64]*deal) error {
	rows, err := postgres.List[mixRow](ctx, r.db, `SELECT order_id AS owner_id, tax_code, sum(price_ex_tax_minor)::bigint AS price_ex_tax_minor, sum(tax_minor)::bigint AS tax_minor
FROM order_line WHERE order_id = ANY ($1) GROUP BY order_id, tax_code ORDER BY order_id, tax_code`, ids)
	for _, m := range rows {
		byID[m.OwnerID].mix = append(byID[m.OwnerID].mix, ahead{TaxCode: m.TaxCode, PriceExTax: m.PriceExTaxMinor, Tax: m.TaxMinor})
	}
	return err
}

func (r *Room) readEvents(ctx context.Context, ids []int64, byID map[int64]*deal, set house.Settings) error {
	events, err := postgres.List[dealEvent](ctx, r.db, `SELECT order_id, invoice_on AS on_day, 'invoice' AS kind, id, number, price_minor AS minor, false AS deposit FROM invoice WHERE order_id = ANY ($1)
UNION ALL SELECT order_id, (happened_at AT TIME ZONE $2)::date, 'payment', id, number, CASE kind WHEN 'refund' THEN -amount_minor ELSE amount_minor END, kind = 'deposit' FROM payment WHERE order_id = ANY ($1)
ORDER BY on_day, kind, id`, ids, set.TimeZone)
	if err != nil {
		return err
	}
	lines, err := postgres.List[mixRow](ctx, r.db, `SELECT v.invoice_id AS owner_id, v.tax_code, sum(v.price_ex_tax_minor)::bigint AS price_ex_tax_minor, sum(v.tax_minor)::bigint AS tax_minor
FROM invoice_line v JOIN invoice i ON i.id = v.invoice_id WHERE i.order_id = ANY ($1) GROUP BY v.invoice_id, v.tax_code ORDER BY v.invoice_id, v.tax_code`, ids)
	if err != nil {
		return err
	}
	of := map[int64][]ahead{}
	for _, l := range lines {
		of[l.OwnerID] = append(of[l.OwnerID], ahead{TaxCode: l.TaxCode, PriceExTax: l.PriceExTaxMinor, Tax: l.TaxMinor})
	}
	for _, e := range events {
		if e.Kind == "invoice" {
			e.lines = of[e.ID]
		}
		byID[e.OrderID].events = append(byID[e.OrderID].events, e)
	}
	return nil
}

// count says what each document of the order counts for, in the order of days.
func (d *deal) count(basis string) []TaxLine {
	var out []TaxLine
	var invoiced, received, counted int64
	done := map[string]ahead{} // by tax code
	for _, e := range d.dated() {
		if e.Kind == "invoice" {
			invoiced += e.Minor
		} else {
			received += e.Minor
		}
		most := max(d.Price, invoiced)
		if d.Kept {
			most = max(most, received)
		}
		now := min(received, most)
		if basis == Accrual {
			now = max(invoiced, now)
		}
		step := now - counted
		if step == 0 {
			continue
		}
		counted = now
		parts := e.lines
		if step != e.Minor || parts == nil {
			parts = d.parts(now, done)
		}
		for _, p := range parts {
			if p.PriceExTax == 0 && p.Tax == 0 {
				continue
			}
			was := done[p.TaxCode]
			done[p.TaxCode] = ahead{PriceExTax: was.PriceExTax + p.PriceExTax, Tax: was.Tax + p.Tax}
			out = append(out, TaxLine{On: e.On, Side: "sale", Kind: e.Kind, DocumentID: e.ID, Number: e.Number, Who: d.Who, TaxCode: p.TaxCode, PriceExTaxMinor: p.PriceExTax, TaxMinor: p.Tax})
		}
	}
	return out
}

// dated gives the events by day. Deposits that are held as security, and what is paid
// back of them, move to the day they stopped being that; while they are held they are
// left out.
func (d *deal) dated() []dealEvent {
	var list []dealEvent
	var held int64
	for _, e := range d.events {
		if e.Deposit {
			held += e.Minor
		}
		if d.security && e.Kind == "payment" && (e.Deposit || e.Minor < 0 && held > 0) {
			if e.Minor < 0 {
				held += e.Minor
			}
			if d.EndedOn == nil {
				continue
			}
			if e.On.Before(*d.EndedOn) {
				e.On = *d.EndedOn
			}
		}
		list = append(list, e)
	}
	slices.SortStableFunc(list, func(a, b dealEvent) int { return a.On.Compare(b.On) })
	return list
}

// parts is what is still to be counted at each tax code, so that minor, with tax, is
// counted in all.
func (d *deal) parts(minor int64, done map[string]ahead) []ahead {
	var out []ahead
	for i, part := range spread(minor, d.mix) {
		m := d.mix[i]
		was := done[m.TaxCode]
		tax := int64(0)
		if whole := m.PriceExTax + m.Tax; whole != 0 {
			tax = prorate(m.Tax, part, whole)
		}
		out = append(out, ahead{TaxCode: m.TaxCode, PriceExTax: part - tax - was.PriceExTax, Tax: tax - was.Tax})
	}
	return out
}
