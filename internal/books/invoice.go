package books

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Invoice is an issued invoice; it never changes.
type Invoice struct {
	ID              int64         `db:"id"`
	Number          string        `db:"number"`
	Kind            string        `db:"kind"`       // final, deposit, progress, adjustment
	AdjustsID       *int64        `db:"adjusts_id"` // of an adjustment: the invoice it takes off
	AdjustsNumber   *string       `db:"adjusts_number"`
	Why             string        `db:"why"`          // of an adjustment
	LowersPrice     bool          `db:"lowers_price"` // of an adjustment: the buyer owes less
	SuppliedOn      *time.Time    `db:"supplied_on"`  // where it is another day
	OrderID         int64         `db:"order_id"`
	PartyID         int64         `db:"party_id"`
	InvoiceOn       time.Time     `db:"invoice_on"`
	DueOn           time.Time     `db:"due_on"`
	IssuedAt        time.Time     `db:"issued_at"`
	Registered      bool          `db:"registered"`
	PriceExTaxMinor int64         `db:"price_ex_tax_minor"`
	TaxMinor        int64         `db:"tax_minor"`
	PriceMinor      int64         `db:"price_minor"`
	DocumentID      int64         `db:"document_id"`
	OrderNumber     string        `db:"order_number"`
	PartyName       string        `db:"party_name"`
	Lines           []InvoiceLine `db:"-"`
}

// InvoiceLine is a line of an invoice.
type InvoiceLine struct {
	ID               int64           `db:"id"`
	InvoiceID        int64           `db:"invoice_id"`
	Position         int             `db:"position"`
	UnitID           *int64          `db:"order_unit_id"`
	DeductsID        *int64          `db:"deducts_id"`      // the invoice it takes off
	AdjustsLineID    *int64          `db:"adjusts_line_id"` // of an adjustment
	CreditedMinor    int64           `db:"credited_minor"`  // taken off by adjustments, with tax
	CreditedTaxMinor int64           `db:"credited_tax_minor"`
	Description      string          `db:"description"`
	Quantity         decimal.Decimal `db:"quantity"`
	UnitPriceMinor   int64           `db:"unit_price_minor"`
	TaxCode          string          `db:"tax_code"`
	TaxPct           decimal.Decimal `db:"tax_pct"`
	PriceExTaxMinor  int64           `db:"price_ex_tax_minor"`
	TaxMinor         int64           `db:"tax_minor"`
	PriceMinor       int64           `db:"price_minor"`
}

const invoiceSelect = `SELECT i.id, i.number, i.kind, i.adjusts_id, (SELECT x.number FROM invoice x WHERE x.id = i.adjusts_id) AS adjusts_number, i.why, NOT i.keeps_price AS lowers_price, i.supplied_on, i.order_id, i.party_id, i.invoice_on, i.due_on, i.issued_at, i.registered, i.price_ex_tax_minor, i.tax_minor, i.price_minor,
	i.document_id, o.number AS order_number, p.name AS party_name FROM invoice i JOIN sale_order o ON o.id = i.order_id JOIN party p ON p.id = i.party_id `

// DrawInvoice makes what is frozen and the paper of an invoice that has its number;
// paidMinor is what was paid on the order so far.
type DrawInvoice func(ctx context.Context, inv Invoice, paidMinor int64) (frozen any, pdf []byte, err error)

// InvoiceNew says what to invoice.
type InvoiceNew struct {
	OrderID     int64
	Kind        string     // final (also when empty), deposit, progress
	UnitIDs     []int64    // of a final one; none: all that are neither cancelled nor invoiced yet
	AmountMinor int64      // of a deposit or progress one, with tax
	DueDays     *int       // to pay; nil: as agreed with the buyer, else 14
	InvoiceOn   *time.Time // nil: today; no other day is taken
	SuppliedOn  *time.Time // day of supply where it is another
}

// usualDueDays is how many days to pay a buyer has with whom nothing else was agreed
// (common practice, no source).
const usualDueDays = 14

// InvoiceIssue issues an invoice: final for units of an order, from which deposit and
// progress invoices are taken off; deposit or progress for an amount of what is not
// invoiced yet. The number comes from a locked counter in the same transaction, so
// numbers have no gaps. Errors: Invalid; Conflict where units are invoiced already, the
// amount is more than is left, or a deposit is held as security.
func (r *Room) InvoiceIssue(ctx context.Context, n InvoiceNew, draw DrawInvoice) (Invoice, error) {
	return r.issue(ctx, n.OrderID, draw, func(ctx context.Context, tx pgx.Tx, set house.Settings, inv *Invoice) error {
		if err := n.date(ctx, tx, inv); err != nil {
			return err
		}
		if n.Kind == "" || n.Kind == "final" {
			return final(ctx, tx, n.UnitIDs, inv)
		}
		return advance(ctx, tx, n, set, inv)
	})
}

// date sets the days of an invoice; its own is today's.
func (n InvoiceNew) date(ctx context.Context, tx pgx.Tx, inv *Invoice) error {
	var l fault.List
	l.Check(n.DueDays == nil || *n.DueDays >= 0 && *n.DueDays <= 365, "/due_days", "Days to pay lie between 0 and 365.")
	l.Check(n.InvoiceOn == nil || n.InvoiceOn.Equal(inv.InvoiceOn), "/invoice_on", "An invoice carries the day it is issued, because its numbers run with the days. Write the day of supply instead.")
	l.Check(n.SuppliedOn == nil || !n.SuppliedOn.After(inv.InvoiceOn) && n.SuppliedOn.AddDate(5, 0, 0).After(inv.InvoiceOn), "/supplied_on", "The day of supply is past, within five years.")
	switch n.Kind {
	case "", "final":
		inv.Kind = "final"
		l.Check(n.AmountMinor == 0, "/amount_minor", "The price of the pieces stands on the order; an amount is for a deposit or progress invoice.")
	case "deposit", "progress":
		inv.Kind = n.Kind
		l.Check(n.AmountMinor > 0, "/amount_minor", "Write how much to invoice, with tax.")
		l.Check(len(n.UnitIDs) == 0, "/unit_ids", "A deposit or progress invoice is for an amount, not for pieces.")
	default:
		l.Add("/kind", "An invoice is final, deposit or progress.")
	}
	if err := l.Err(); err != nil {
		return err
	}
	days := usualDueDays
	if agreed, err := postgres.Value[*int](ctx, tx, `SELECT due_days FROM party WHERE id = $1`, inv.PartyID); err != nil {
		return err
	} else if agreed != nil {
		days = *agreed
	}
	if n.DueDays != nil {
		days = *n.DueDays
	}
	inv.DueOn, inv.SuppliedOn = inv.InvoiceOn.AddDate(0, 0, days), n.SuppliedOn
	return nil
}

// issue locks the order, lets fill lay the lines, and writes it all down under the next
// number.
func (r *Room) issue(ctx context.Context, order int64, draw DrawInvoice, fill func(context.Context, pgx.Tx, house.Settings, *Invoice) error) (Invoice, error) {
	inv := Invoice{OrderID: order}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		inv = Invoice{OrderID: order, IssuedAt: r.db.Now()}
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		inv.InvoiceOn = set.Today(inv.IssuedAt)
		inv.DueOn = inv.InvoiceOn
		state, err := house.TaxIn(ctx, tx, inv.InvoiceOn)
		if err != nil {
			return err
		}
		inv.Registered = state.Registered
		if err := tx.QueryRow(ctx, `SELECT o.party_id, o.number, p.name FROM sale_order o JOIN party p ON p.id = o.party_id WHERE o.id = $1 FOR UPDATE OF o`, order).Scan(&inv.PartyID, &inv.OrderNumber, &inv.PartyName); err != nil {
			return postgres.Translate(err)
		}
		if err := fill(ctx, tx, set, &inv); err != nil {
			return err
		}
		inv.sum()
		if err := inv.particulars(set); err != nil {
			return err
		}
		return inv.write(ctx, tx, draw)
	})
	if err != nil {
		return Invoice{}, err
	}
	return r.InvoiceGet(ctx, inv.ID)
}

// namesBuyerFromMinor is from which price on an Australian tax invoice names the buyer or
// the buyer's business number: A$1000 with tax (ATO, Tax invoices).
const namesBuyerFromMinor = 1000_00

// particulars refuses an invoice on which something is missing that the tax office asks
// for.
func (inv *Invoice) particulars(set house.Settings) error {
	if !inv.Registered {
		return nil
	}
	if set.BusinessNumber == "" {
		return fault.New(fault.Conflict, "A tax invoice carries the workshop's business number. Write it into the settings first.")
	}
	if set.Country == "AU" && inv.PriceMinor >= namesBuyerFromMinor && strings.TrimSpace(inv.PartyName) == "" {
		return fault.New(fault.Conflict, "From %s up a tax invoice names the buyer. Write the buyer's name down first.", amount(namesBuyerFromMinor))
	}
	return nil
}

// sum adds the lines up and numbers them.
func (inv *Invoice) sum() {
	inv.PriceExTaxMinor, inv.TaxMinor, inv.PriceMinor = 0, 0, 0
	for i := range inv.Lines {
		l := &inv.Lines[i]
		l.Position, l.PriceMinor = i+1, l.PriceExTaxMinor+l.TaxMinor
		inv.PriceExTaxMinor += l.PriceExTaxMinor
		inv.TaxMinor += l.TaxMinor
		inv.PriceMinor += l.PriceMinor
	}
}

// write takes the next number, draws the paper and writes the invoice.
func (inv *Invoice) write(ctx context.Context, tx pgx.Tx, draw DrawInvoice) error {
	var err error
	if inv.Number, err = house.Number(ctx, tx, "invoice", "I"); err != nil {
		return err
	}
	_, paid, err := owedAndPaid(ctx, tx, inv.OrderID)
	if err != nil {
		return err
	}
	frozen, pdf, err := draw(ctx, *inv, paid)
	if err != nil {
		return err
	}
	body, err := json.Marshal(frozen)
	if err != nil {
		return fmt.Errorf("freeze invoice %s: %w", inv.Number, err)
	}
	if inv.DocumentID, err = house.PaperKeep(ctx, tx, "invoice", inv.Number, 1, inv.IssuedAt, pdf); err != nil {
		return err
	}
	if err := tx.QueryRow(ctx, `INSERT INTO invoice (number, kind, adjusts_id, why, keeps_price, supplied_on, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor,
	frozen, document_id) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16::jsonb, $17) RETURNING id`, inv.Number, inv.Kind, inv.AdjustsID, inv.Why, !inv.LowersPrice, inv.SuppliedOn,
		inv.OrderID, inv.PartyID, inv.InvoiceOn, inv.DueOn, inv.IssuedAt, inv.Registered, inv.PriceExTaxMinor, inv.TaxMinor, inv.PriceMinor, string(body), inv.DocumentID).Scan(&inv.ID); err != nil {
		return postgres.Translate(err)
	}
	for _, l := range inv.Lines {
		if _, err := tx.Exec(ctx, `INSERT INTO invoice_line (invoice_id, position, order_unit_id, deducts_id, adjusts_line_id, description, quantity, unit_price_minor, tax_code, tax_pct, price_ex_tax_minor, tax_minor, price_minor)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`, inv.ID, l.Position, l.UnitID, l.DeductsID, l.AdjustsLineID, l.Description, l.Quantity, l.UnitPriceMinor, l.TaxCode, l.TaxPct,
			l.PriceExTaxMinor, l.TaxMinor, l.PriceMinor); err != nil {
			return postgres.Translate(err)
		}
	}
	return nil
}

// toInvoice is a unit that can be invoiced, with its share of its line.
type toInvoice struct {
	UnitID         int64           `db:"unit_id"`
	N              int64           `db:"n"`
	Units          int64           `db:"units"`
	Description    string          `db:"description"`
	Place          string          `db:"place"` // where it goes; empty: not said
	Quantity       decimal.Decimal `db:"quantity"`
	UnitPriceMinor int64           `db:"unit_price_minor"`
	TaxCode        string          `db:"tax_code"`
	TaxPct         decimal.Decimal `db:"tax_pct"`
	PriceExTax     int64           `db:"price_ex_tax_minor"`
	Tax            int64           `db:"tax_minor"`
	LoweredExTax   int64           `db:"lowered_ex_tax_minor"` // by adjustments of earlier invoices; 0 or less
	LoweredTax     int64           `db:"lowered_tax_minor"`
}

// uninvoiced holds for a unit u that stands on no final invoice, or only on ones from
// which it was taken off whole.
const uninvoiced = `u.cancelled_at IS NULL AND NOT EXISTS (SELECT 1 FROM invoice_line v WHERE v.order_unit_id = u.id AND v.adjusts_line_id IS NULL
	AND (v.price_minor = 0 OR v.price_minor + coalesce((SELECT sum(a.price_minor) FROM invoice_line a WHERE a.adjusts_line_id = v.id), 0) > 0))`

const toInvoiceSelect = `SELECT u.id AS unit_id, u.n, (SELECT count(*) FROM order_unit x WHERE x.order_line_id = l.id) AS units, l.description,
	coalesce((SELECT coalesce(nullif(s.name, ''), nullif(s.address, ''), s.town) FROM site s WHERE s.id = coalesce(u.site_id, o.site_id)), '') AS place,
	l.quantity, l.unit_price_minor, l.tax_code, l.tax_pct, l.price_ex_tax_minor, l.tax_minor, coalesce(d.ex, 0)::bigint AS lowered_ex_tax_minor, coalesce(d.tax, 0)::bigint AS lowered_tax_minor
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id
	LEFT JOIN LATERAL (SELECT sum(v.price_ex_tax_minor) AS ex, sum(v.tax_minor) AS tax FROM invoice_line v JOIN invoice i ON i.id = v.invoice_id WHERE v.order_unit_id = u.id AND NOT i.keeps_price) d ON true
WHERE l.order_id = $1 AND (d.ex IS NULL OR l.price_minor + (d.ex + d.tax) * (SELECT count(*) FROM order_unit x WHERE x.order_line_id = l.id) > 0) AND `

// final lays the lines of units, and takes off what was invoiced ahead.
func final(ctx context.Context, tx pgx.Tx, units []int64, inv *Invoice) error {
	if units == nil {
		units = []int64{}
	}
	list, err := postgres.List[toInvoice](ctx, tx, toInvoiceSelect+uninvoiced+` AND (cardinality($2::bigint[]) = 0 OR u.id = ANY($2)) ORDER BY l.position, u.n`, inv.OrderID, units)
	if err != nil {
		return err
	}
	if len(list) == 0 || (len(units) > 0 && len(list) != len(units)) {
		return fault.New(fault.Conflict, "Some of these pieces are invoiced already, cancelled, or not of this order.")
	}
	inv.lay(list)
	ahead, err := aheadOf(ctx, tx, inv.OrderID)
	if err != nil {
		return err
	}
	inv.deduct(ahead)
	return nil
}

// lay makes a line of each unit; where they go to several places, each says its own.
func (inv *Invoice) lay(list []toInvoice) {
	several := false
	for _, u := range list {
		several = several || u.Place != list[0].Place
	}
	for i, u := range list {
		l := InvoiceLine{UnitID: &list[i].UnitID, Description: u.Description, Quantity: u.Quantity, UnitPriceMinor: u.UnitPriceMinor, TaxCode: u.TaxCode, TaxPct: u.TaxPct,
			PriceExTaxMinor: Share(u.PriceExTax, u.N, u.Units) + u.LoweredExTax, TaxMinor: Share(u.Tax, u.N, u.Units) + u.LoweredTax}
		if u.LoweredExTax != 0 {
			l.Description += ", less what was taken off its price"
		}
		if several && u.Place != "" {
			l.Description += ", for " + u.Place
		}
		if u.Units > 1 {
			l.Quantity = decimal.NewFromInt(1)
		}
		if !inv.Registered { // agreed with tax, invoiced without: the price stays what was agreed ex tax
			l.TaxMinor, l.TaxPct = 0, decimal.Zero
		}
		l.PriceMinor = l.PriceExTaxMinor + l.TaxMinor
		inv.Lines = append(inv.Lines, l)
	}
}

// ahead is what was invoiced ahead at one tax code and is not taken off yet.
type ahead struct {
	InvoiceID  int64           `db:"invoice_id"`
	Number     string          `db:"number"`
	Kind       string          `db:"kind"`
	TaxCode    string          `db:"tax_code"`
	TaxPct     decimal.Decimal `db:"tax_pct"`
	PriceExTax int64           `db:"price_ex_tax_minor"`
	Tax        int64           `db:"tax_minor"`
}

func aheadOf(ctx context.Context, tx pgx.Tx, order int64) ([]ahead, error) {
	return postgres.List[ahead](ctx, tx, `SELECT i.id AS invoice_id, i.number, i.kind, v.tax_code, v.tax_pct, sum(v.price_ex_tax_minor)::bigint AS price_ex_tax_minor, sum(v.tax_minor)::bigint AS tax_minor
FROM invoice i JOIN invoice_line v ON v.invoice_id = i.id OR v.deducts_id = i.id OR v.invoice_id IN (SELECT a.id FROM invoice a WHERE a.adjusts_id = i.id)
WHERE i.order_id = $1 AND i.kind IN ('deposit', 'progress') GROUP BY i.id, v.tax_code, v.tax_pct HAVING sum(v.price_minor) > 0 ORDER BY i.id, v.tax_code`, order)
}

// deduct takes off what was invoiced ahead, the oldest first, at each tax code at most
// what the pieces come to there.
func (inv *Invoice) deduct(list []ahead) {
	left := map[string]int64{}
	for _, l := range inv.Lines {
		left[l.TaxCode] += l.PriceMinor
	}
	for i, a := range list {
		whole := a.PriceExTax + a.Tax
		off := min(whole, left[a.TaxCode])
		if off <= 0 {
			continue
		}
		left[a.TaxCode] -= off
		tax := prorate(a.Tax, off, whole)
		inv.Lines = append(inv.Lines, InvoiceLine{DeductsID: &list[i].InvoiceID, Description: fmt.Sprintf("Less %s invoice %s", a.Kind, a.Number), Quantity: decimal.NewFromInt(1),
			UnitPriceMinor: -(off - tax), TaxCode: a.TaxCode, TaxPct: a.TaxPct, PriceExTaxMinor: -(off - tax), TaxMinor: -tax})
	}
}

// prorate is minor times part over whole, half away from zero.
func prorate(minor, part, whole int64) int64 {
	if part == whole {
		return minor
	}
	return decimal.NewFromInt(minor).Mul(decimal.NewFromInt(part)).DivRound(decimal.NewFromInt(whole), 0).IntPart()
}

// advance lays the lines of a deposit or progress invoice: the amount is spread over the
// tax codes as the order's price is.
func advance(ctx context.Context, tx pgx.Tx, n InvoiceNew, set house.Settings, inv *Invoice) error {
	if n.Kind == "deposit" && set.DepositIs == "security" {
		return fault.New(fault.Conflict, "Deposits are held as security here: take it with a receipt, and invoice it when it is used. The settings say which; ask your bookkeeper before you change it.")
	}
	open, err := postgres.List[toInvoice](ctx, tx, toInvoiceSelect+uninvoiced+` ORDER BY l.position, u.n`, inv.OrderID)
	if err != nil {
		return err
	}
	whole := Invoice{Registered: inv.Registered}
	whole.lay(open)
	before, err := aheadOf(ctx, tx, inv.OrderID)
	if err != nil {
		return err
	}
	whole.deduct(before)
	whole.sum()
	if n.AmountMinor > whole.PriceMinor {
		return fault.Bad("/amount_minor", "Only %s of this order is not invoiced yet.", amount(max(0, whole.PriceMinor)))
	}
	groups := whole.byCode()
	for i, part := range spread(n.AmountMinor, groups) {
		if part == 0 {
			continue
		}
		g := groups[i]
		tax := prorate(g.Tax, part, g.PriceExTax+g.Tax)
		word := map[string]string{"deposit": "Deposit on order ", "progress": "Part payment for work under way on order "}[n.Kind]
		inv.Lines = append(inv.Lines, InvoiceLine{Description: word + inv.OrderNumber, Quantity: decimal.NewFromInt(1), UnitPriceMinor: part - tax, TaxCode: g.TaxCode, TaxPct: g.TaxPct,
			PriceExTaxMinor: part - tax, TaxMinor: tax})
	}
	return nil
}

// byCode adds the lines up by tax code and rate, in the order they stand.
func (inv *Invoice) byCode() []ahead {
	var list []ahead
	for _, l := range inv.Lines {
		i := slices.IndexFunc(list, func(g ahead) bool { return g.TaxCode == l.TaxCode && g.TaxPct.Equal(l.TaxPct) })
		if i < 0 {
			i = len(list)
			list = append(list, ahead{TaxCode: l.TaxCode, TaxPct: l.TaxPct})
		}
		list[i].PriceExTax += l.PriceExTaxMinor
		list[i].Tax += l.TaxMinor
	}
	return list
}

// spread shares minor units out in proportion to the groups' prices, to the unit.
func spread(minor int64, groups []ahead) []int64 {
	var whole, given int64
	for _, g := range groups {
		whole += max(0, g.PriceExTax+g.Tax)
	}
	out := make([]int64, len(groups))
	for i, g := range groups {
		price := max(0, g.PriceExTax+g.Tax)
		if whole > 0 {
			out[i] = prorate(minor-given, price, whole)
		}
		given += out[i]
		whole -= price
	}
	return out
}

// Share is the n-th of of equal parts of minor units, so that all parts add up to the
// whole: the first ones carry the odd units.
func Share(minor, n, of int64) int64 {
	s := minor / of
	if n <= minor%of {
		s++
	}
	return s
}

// InvoiceGet reads an invoice with its lines.
func (r *Room) InvoiceGet(ctx context.Context, id int64) (Invoice, error) {
	inv, err := postgres.One[Invoice](ctx, r.db, invoiceSelect+`WHERE i.id = $1`, id)
	if err != nil {
		return inv, err
	}
	inv.Lines, err = postgres.List[InvoiceLine](ctx, r.db, invoiceLines+`WHERE v.invoice_id = $1 ORDER BY v.position`, id)
	return inv, err
}

// InvoiceFrozen gives all that an issued invoice says, as it was frozen.
func (r *Room) InvoiceFrozen(ctx context.Context, id int64) ([]byte, error) {
	return postgres.Value[[]byte](ctx, r.db, `SELECT frozen FROM invoice WHERE id = $1`, id)
}

const invoiceLines = `SELECT v.id, v.invoice_id, v.position, v.order_unit_id, v.deducts_id, v.adjusts_line_id, v.description, v.quantity, v.unit_price_minor, v.tax_code, v.tax_pct, v.price_ex_tax_minor, v.tax_minor,
	v.price_minor, -coalesce((SELECT sum(a.price_minor) FROM invoice_line a WHERE a.adjusts_line_id = v.id), 0)::bigint AS credited_minor,
	-coalesce((SELECT sum(a.tax_minor) FROM invoice_line a WHERE a.adjusts_line_id = v.id), 0)::bigint AS credited_tax_minor FROM invoice_line v `

// InvoicesOf gives the invoices of an order, oldest first, without lines.
func (r *Room) InvoicesOf(ctx context.Context, order int64) ([]Invoice, error) {
	return postgres.List[Invoice](ctx, r.db, invoiceSelect+`WHERE i.order_id = $1 ORDER BY i.id`, order)
}

// InvoiceList gives invoices from the newest without lines, and the next mark.
func (r *Room) InvoiceList(ctx context.Context, limit int, after string) ([]Invoice, string, error) {
	m, err := postgres.ReadMark(after)
	if err != nil {
		return nil, "", err
	}
	if after == "" {
		m.ID = 1 << 62
	}
	n := postgres.PageSize(limit)
	list, err := postgres.List[Invoice](ctx, r.db, invoiceSelect+`WHERE i.id < $1 ORDER BY i.id DESC LIMIT $2`, m.ID, n+1)
	list, next := postgres.CutPage(list, n, func(i Invoice) postgres.Mark { return postgres.Mark{ID: i.ID} })
	return list, next, err
}

// InvoicesOverdue gives the invoices whose day to pay is past and that are not paid,
// oldest first; what was paid on an order counts for its oldest invoice first.
func (r *Room) InvoicesOverdue(ctx context.Context, today time.Time) ([]Invoice, error) {
	return postgres.List[Invoice](ctx, r.db, invoiceSelect+`WHERE i.due_on < $1 AND i.kind <> 'adjustment' AND i.price_minor + coalesce((SELECT sum(x.price_minor) FROM invoice x WHERE x.adjusts_id = i.id), 0) > 0
	AND (SELECT sum(x.price_minor) FROM invoice x WHERE x.order_id = i.order_id AND coalesce(x.adjusts_id, x.id) <= i.id) > coalesce((SELECT sum(CASE kind WHEN 'refund' THEN -amount_minor ELSE amount_minor END) FROM payment WHERE order_id = i.order_id), 0)
ORDER BY i.due_on, i.id LIMIT 100`, today)
}
