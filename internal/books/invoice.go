package books

import (
	"context"
	"encoding/json"
	"fmt"
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
	Kind            string        `db:"kind"` // final (others come later)
	AdjustsID       *int64        `db:"adjusts_id"`
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
	ID              int64           `db:"id"`
	InvoiceID       int64           `db:"invoice_id"`
	Position        int             `db:"position"`
	UnitID          *int64          `db:"order_unit_id"`
	Description     string          `db:"description"`
	Quantity        decimal.Decimal `db:"quantity"`
	UnitPriceMinor  int64           `db:"unit_price_minor"`
	TaxCode         string          `db:"tax_code"`
	TaxPct          decimal.Decimal `db:"tax_pct"`
	PriceExTaxMinor int64           `db:"price_ex_tax_minor"`
	TaxMinor        int64           `db:"tax_minor"`
	PriceMinor      int64           `db:"price_minor"`
}

const invoiceSelect = `SELECT i.id, i.number, i.kind, i.adjusts_id, i.order_id, i.party_id, i.invoice_on, i.due_on, i.issued_at, i.registered, i.price_ex_tax_minor, i.tax_minor, i.price_minor,
	i.document_id, o.number AS order_number, p.name AS party_name FROM invoice i JOIN sale_order o ON o.id = i.order_id JOIN party p ON p.id = i.party_id `

// DrawInvoice makes what is frozen and the paper of an invoice that has its number;
// paidMinor is what was paid on the order so far.
type DrawInvoice func(ctx context.Context, inv Invoice, paidMinor int64) (frozen any, pdf []byte, err error)

// InvoiceIssue issues the invoice for units of an order that are not cancelled and not
// invoiced yet; none named means all of those. dueDays is the days to pay. The number
// comes from a locked counter in the same transaction, so numbers have no gaps.
func (r *Room) InvoiceIssue(ctx context.Context, order int64, units []int64, dueDays int, draw DrawInvoice) (Invoice, error) {
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		inv, err := r.draft(ctx, tx, order, units, dueDays)
		if err != nil {
			return err
		}
		if inv.Number, err = house.Number(ctx, tx, "invoice", "I"); err != nil {
			return err
		}
		_, paid, err := owedAndPaid(ctx, tx, order)
		if err != nil {
			return err
		}
		frozen, pdf, err := draw(ctx, inv, paid)
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
		if err := tx.QueryRow(ctx, `INSERT INTO invoice (number, kind, order_id, party_id, invoice_on, due_on, issued_at, registered, price_ex_tax_minor, tax_minor, price_minor, frozen, document_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12::jsonb, $13) RETURNING id`, inv.Number, inv.Kind, inv.OrderID, inv.PartyID, inv.InvoiceOn, inv.DueOn, inv.IssuedAt, inv.Registered,
			inv.PriceExTaxMinor, inv.TaxMinor, inv.PriceMinor, string(body), inv.DocumentID).Scan(&id); err != nil {
			return err
		}
		for _, l := range inv.Lines {
			if _, err := tx.Exec(ctx, `INSERT INTO invoice_line (invoice_id, position, order_unit_id, description, quantity, unit_price_minor, tax_code, tax_pct, price_ex_tax_minor, tax_minor, price_minor)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`, id, l.Position, l.UnitID, l.Description, l.Quantity, l.UnitPriceMinor, l.TaxCode, l.TaxPct, l.PriceExTaxMinor, l.TaxMinor, l.PriceMinor); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Invoice{}, err
	}
	return r.InvoiceGet(ctx, id)
}

// toInvoice is a unit that can be invoiced, with its share of its line.
type toInvoice struct {
	UnitID         int64           `db:"unit_id"`
	N              int64           `db:"n"`
	Units          int64           `db:"units"`
	Kind           string          `db:"kind"`
	Description    string          `db:"description"`
	Quantity       decimal.Decimal `db:"quantity"`
	UnitPriceMinor int64           `db:"unit_price_minor"`
	TaxCode        string          `db:"tax_code"`
	TaxPct         decimal.Decimal `db:"tax_pct"`
	PriceExTax     int64           `db:"price_ex_tax_minor"`
	Tax            int64           `db:"tax_minor"`
}

// draft gathers the lines; the order's row is locked, so that no unit is invoiced twice.
func (r *Room) draft(ctx context.Context, tx pgx.Tx, order int64, units []int64, dueDays int) (Invoice, error) {
	inv := Invoice{Kind: "final", OrderID: order, IssuedAt: r.db.Now()}
	if dueDays < 0 || dueDays > 365 {
		return inv, fault.Bad("/due_days", "Days to pay lie between 0 and 365.")
	}
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return inv, err
	}
	inv.InvoiceOn = set.Today(inv.IssuedAt)
	inv.DueOn = inv.InvoiceOn.AddDate(0, 0, dueDays)
	state, err := house.TaxIn(ctx, tx, inv.InvoiceOn)
	if err != nil {
		return inv, err
	}
	inv.Registered = state.Registered
	if err := tx.QueryRow(ctx, `SELECT o.party_id, o.number, p.name FROM sale_order o JOIN party p ON p.id = o.party_id WHERE o.id = $1 FOR UPDATE OF o`, order).Scan(&inv.PartyID, &inv.OrderNumber, &inv.PartyName); err != nil {
		return inv, postgres.Translate(err)
	}
	if units == nil {
		units = []int64{}
	}
	list, err := postgres.List[toInvoice](ctx, tx, `SELECT u.id AS unit_id, u.n, (SELECT count(*) FROM order_unit x WHERE x.order_line_id = l.id) AS units, l.kind, l.description, l.quantity, l.unit_price_minor, l.tax_code, l.tax_pct, l.price_ex_tax_minor, l.tax_minor
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id
WHERE l.order_id = $1 AND u.cancelled_at IS NULL AND (cardinality($2::bigint[]) = 0 OR u.id = ANY($2)) AND NOT EXISTS (SELECT 1 FROM invoice_line v WHERE v.order_unit_id = u.id)
ORDER BY l.position, u.n`, order, units)
	if err != nil {
		return inv, err
	}
	if len(list) == 0 || (len(units) > 0 && len(list) != len(units)) {
		return inv, fault.New(fault.Conflict, "Some of these pieces are invoiced already, cancelled, or not of this order.")
	}
	for i, u := range list {
		l := InvoiceLine{Position: i + 1, UnitID: &list[i].UnitID, Description: u.Description, Quantity: u.Quantity, UnitPriceMinor: u.UnitPriceMinor, TaxCode: u.TaxCode, TaxPct: u.TaxPct,
			PriceExTaxMinor: share(u.PriceExTax, u.N, u.Units), TaxMinor: share(u.Tax, u.N, u.Units)}
		if u.Units > 1 {
			l.Quantity = decimal.NewFromInt(1)
		}
		if !inv.Registered { // agreed with tax, invoiced without: the price stays what was agreed ex tax
			l.TaxMinor, l.TaxPct = 0, decimal.Zero
		}
		l.PriceMinor = l.PriceExTaxMinor + l.TaxMinor
		inv.Lines = append(inv.Lines, l)
		inv.PriceExTaxMinor += l.PriceExTaxMinor
		inv.TaxMinor += l.TaxMinor
		inv.PriceMinor += l.PriceMinor
	}
	return inv, nil
}

// share is the n-th of of equal parts of minor units, so that all parts add up to the
// whole: the first ones carry the odd units.
func share(minor, n, of int64) int64 {
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
	inv.Lines, err = postgres.List[InvoiceLine](ctx, r.db, `SELECT id, invoice_id, position, order_unit_id, description, quantity, unit_price_minor, tax_code, tax_pct, price_ex_tax_minor, tax_minor, price_minor
FROM invoice_line WHERE invoice_id = $1 ORDER BY position`, id)
	return inv, err
}

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

// InvoicesOverdue gives the invoices whose day to pay is past and whose order still has
// a balance, oldest first.
func (r *Room) InvoicesOverdue(ctx context.Context, today time.Time) ([]Invoice, error) {
	return postgres.List[Invoice](ctx, r.db, invoiceSelect+`WHERE i.due_on < $1
	AND (SELECT sum(x.price_minor) FROM invoice x WHERE x.order_id = i.order_id) > coalesce((SELECT sum(CASE kind WHEN 'refund' THEN -amount_minor ELSE amount_minor END) FROM payment WHERE order_id = i.order_id), 0)
ORDER BY i.due_on, i.id LIMIT 100`, today)
}
