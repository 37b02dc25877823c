package books

import (
	"cmp"
	"context"
	"slices"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Accounts of the journal, in plain words; a bookkeeper maps them to his own.
const (
	accountSales     = "Sales"
	accountTaxSales  = "Tax on sales"
	accountCustomers = "Customers"
	accountPurchases = "Purchases"
	accountTaxBought = "Tax on purchases"
	accountSuppliers = "Suppliers"
	accountBank      = "Bank"
)

// methodAccounts is where the money of a payment lies.
var methodAccounts = map[string]string{"cash": "Cash", "transfer": accountBank, "cheque": accountBank, "card": "Card payments", "in kind": "Taken in kind", "credit": "Credit moved between orders"}

// JournalLine is one line of an entry; debits and credits of an entry are equal.
type JournalLine struct {
	On                      time.Time
	Entry                   string // such as "invoice I0001"
	Account                 string
	DebitMinor, CreditMinor int64
	TaxCode                 string
	Text                    string // who it was with
}

// Journal gives the entries of a period in double entry, oldest first: sales as they are
// counted by accrual, payments and refunds, purchases, and what was paid for them. Errors:
// as of TaxReport.
func (r *Room) Journal(ctx context.Context, from, to time.Time) ([]JournalLine, error) {
	report, err := r.TaxReport(ctx, from, to, Accrual)
	if err != nil {
		return nil, err
	}
	out := []JournalLine{}
	for _, d := range report.Documents {
		out = append(out, d.entry()...)
	}
	moved, err := r.moneyMoved(ctx, from, to)
	if err != nil {
		return nil, err
	}
	out = append(out, moved...)
	slices.SortStableFunc(out, func(a, b JournalLine) int { return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.Entry, b.Entry)) })
	return out, nil
}

// line puts an amount on the debit side, one below nothing on the credit side.
func line(d TaxLine, entry, account string, minor int64) JournalLine {
	l := JournalLine{On: d.On, Entry: entry, Account: account, TaxCode: d.TaxCode, Text: d.Who}
	if minor >= 0 {
		l.DebitMinor = minor
	} else {
		l.CreditMinor = -minor
	}
	return l
}

// entry books what a document counts for.
func (d TaxLine) entry() []JournalLine {
	entry := d.Kind + " " + d.Number
	with, net, tax, sign := accountCustomers, accountSales, accountTaxSales, int64(1)
	switch {
	case d.Side == "purchase":
		with, net, tax, sign = accountSuppliers, accountPurchases, accountTaxBought, -1
	case d.Kind == "payment":
		entry = "sale counted with " + entry
	}
	list := []JournalLine{line(d, entry, with, sign*(d.PriceExTaxMinor+d.TaxMinor)), line(d, entry, net, -sign*d.PriceExTaxMinor), line(d, entry, tax, -sign*d.TaxMinor)}
	return slices.DeleteFunc(list, func(l JournalLine) bool { return l.DebitMinor == 0 && l.CreditMinor == 0 })
}

type moneyRow struct {
	On     time.Time `db:"on_day"`
	Kind   string    `db:"kind"`
	Number string    `db:"number"`
	Who    string    `db:"who"`
	Method string    `db:"method"`
	Minor  int64     `db:"minor"` // came in; below nothing: went out
}

func (r *Room) moneyMoved(ctx context.Context, from, to time.Time) ([]JournalLine, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	rows, err := postgres.List[moneyRow](ctx, r.db, `SELECT * FROM (SELECT (y.happened_at AT TIME ZONE $3)::date AS on_day, y.kind, y.number, p.name AS who, y.method, CASE y.kind WHEN 'refund' THEN -y.amount_minor ELSE y.amount_minor END AS minor
	FROM payment y JOIN sale_order o ON o.id = y.order_id JOIN party p ON p.id = o.party_id
UNION ALL SELECT p.paid_on, 'purchase', coalesce(nullif(p.their_number, ''), p.id::text), coalesce((SELECT s.name FROM supplier s WHERE s.id = p.supplier_id), ''), 'transfer',
	-(SELECT sum(l.cost_ex_tax_minor + l.tax_minor) FROM purchase_line l WHERE l.purchase_id = p.id)::bigint FROM purchase p WHERE p.paid_on IS NOT NULL) x WHERE on_day BETWEEN $1 AND $2 AND minor <> 0`, from, to, set.TimeZone)
	if err != nil {
		return nil, err
	}
	var out []JournalLine
	for _, m := range rows {
		entry, with := m.Kind+" "+m.Number, accountCustomers
		if m.Kind == "purchase" {
			entry, with = "paid for purchase "+m.Number, accountSuppliers
		}
		d := TaxLine{On: m.On, Who: m.Who}
		out = append(out, line(d, entry, methodAccounts[m.Method], m.Minor), line(d, entry, with, -m.Minor))
	}
	return out, nil
}
