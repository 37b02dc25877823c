package books

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Payment is money, or something in its place, that came in or went back.
type Payment struct {
	ID               int64     `db:"id"`
	Number           string    `db:"number"`
	OrderID          int64     `db:"order_id"`
	Kind             string    `db:"kind"`         // deposit, payment, refund
	Method           string    `db:"method"`       // cash, transfer, card, cheque, in kind
	AmountMinor      int64     `db:"amount_minor"` // with tax; a refund goes out
	InKind           string    `db:"in_kind"`
	HappenedAt       time.Time `db:"happened_at"`
	DocumentID       *int64    `db:"document_id"` // the receipt
	Note             string    `db:"note"`
	OtherOrderID     *int64    `db:"other_order_id"` // of a credit: where it comes from or goes to
	OtherOrderNumber *string   `db:"other_order_number"`
	OrderNumber      string    `db:"order_number"`
	PartyName        string    `db:"party_name"`
}

const paymentSelect = `SELECT y.id, y.number, y.order_id, y.kind, y.method, y.amount_minor, y.in_kind, y.happened_at, y.document_id, y.note, y.other_order_id,
	(SELECT x.number FROM sale_order x WHERE x.id = y.other_order_id) AS other_order_number, o.number AS order_number, p.name AS party_name
FROM payment y JOIN sale_order o ON o.id = y.order_id JOIN party p ON p.id = o.party_id `

// Result is what came of a payment: the payment and the order's balance after it.
type Result struct {
	Payment      Payment
	BalanceMinor int64 // still to be paid; negative is credit
}

func (p *Payment) check(now time.Time) error {
	var l fault.List
	l.Check(p.Kind == "deposit" || p.Kind == "payment" || p.Kind == "refund", "/kind", "It is a deposit, a payment or a refund.")
	switch p.Method {
	case "cash", "transfer", "card", "cheque", "in kind":
	default: // credit comes about by CreditUse alone
		l.Add("/method", "It was paid by cash, transfer, card, cheque or in kind.")
	}
	l.Check(p.AmountMinor > 0, "/amount_minor", "An amount is more than nothing.")
	l.Check(p.AmountMinor <= 1e11, "/amount_minor", "This amount is too large.")
	l.Check(p.Method != "in kind" || strings.TrimSpace(p.InKind) != "", "/in_kind", "Say what was given instead of money, such as a log.")
	l.Check(!p.HappenedAt.After(now.Add(time.Hour)), "/happened_at", "A payment is noted when it is made, not before.")
	l.Text("/in_kind", p.InKind, 200)
	l.Text("/note", p.Note, 200)
	return l.Err()
}

// DrawReceipt makes the receipt of a payment that has its number; balance is what is
// still to be paid after it.
type DrawReceipt func(ctx context.Context, p Payment, balanceMinor int64) ([]byte, error)

// PaymentMake notes a payment against an order, with its receipt when draw is given.
// What is paid beyond the price is credit. Errors: Conflict for a refund of more than
// was paid.
func (r *Room) PaymentMake(ctx context.Context, p Payment, draw DrawReceipt) (Result, error) {
	if p.HappenedAt.IsZero() {
		p.HappenedAt = r.db.Now()
	}
	if err := p.check(r.db.Now()); err != nil {
		return Result{}, err
	}
	var out Result
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := lockOrders(ctx, tx, p.OrderID); err != nil {
			return err
		}
		var err error
		out, err = r.pay(ctx, tx, p, draw)
		return err
	})
	return out, err
}

// lockOrders locks orders in the order of their ids. Error: NotFound.
func lockOrders(ctx context.Context, tx pgx.Tx, ids ...int64) error {
	found, err := postgres.Column[int64](ctx, tx, `SELECT id FROM sale_order WHERE id = ANY ($1) ORDER BY id FOR UPDATE`, ids)
	if err == nil && len(found) < len(ids) {
		return fault.New(fault.NotFound, "There is no such order.")
	}
	return err
}

// pay writes one payment down; its order is locked.
func (r *Room) pay(ctx context.Context, tx pgx.Tx, p Payment, draw DrawReceipt) (Result, error) {
	owed, paid, err := owedAndPaid(ctx, tx, p.OrderID)
	if err != nil {
		return Result{}, err
	}
	sign := int64(1)
	if p.Kind == "refund" {
		sign = -1
		if p.AmountMinor > paid {
			return Result{}, fault.New(fault.Conflict, "Only %s was paid on this order; no more than that can go back.", amount(paid))
		}
	}
	balance := owed - paid - sign*p.AmountMinor
	if p.Number, err = house.Number(ctx, tx, "payment", "P"); err != nil {
		return Result{}, err
	}
	if draw != nil {
		pdf, err := draw(ctx, p, balance)
		if err != nil {
			return Result{}, err
		}
		doc, err := house.PaperKeep(ctx, tx, "receipt", p.Number, 1, r.db.Now(), pdf)
		if err != nil {
			return Result{}, err
		}
		p.DocumentID = &doc
	}
	if err := tx.QueryRow(ctx, `INSERT INTO payment (number, order_id, kind, method, amount_minor, in_kind, happened_at, document_id, note, other_order_id) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) RETURNING id`,
		p.Number, p.OrderID, p.Kind, p.Method, p.AmountMinor, strings.TrimSpace(p.InKind), p.HappenedAt, p.DocumentID, p.Note, p.OtherOrderID).Scan(&p.ID); err != nil {
		return Result{}, postgres.Translate(err)
	}
	return Result{Payment: p, BalanceMinor: balance}, nil
}

// CreditUse pays an order from what the same buyer paid beyond the price of another: a
// refund there and a payment here, at once. An amount of 0 takes as much as there is and
// as is owed. Errors: Conflict where the orders are of two buyers, or there is less.
func (r *Room) CreditUse(ctx context.Context, from, to, minor int64) (Result, error) {
	if from == to || minor < 0 {
		return Result{}, fault.Bad("/from_order_id", "Credit comes from another order of the same buyer.")
	}
	var out Result
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := lockOrders(ctx, tx, from, to); err != nil {
			return err
		}
		one, err := postgres.Value[bool](ctx, tx, `SELECT count(DISTINCT coalesce(p.joined_into_id, p.id)) = 1 FROM sale_order o JOIN party p ON p.id = o.party_id WHERE o.id IN ($1, $2)`, from, to)
		if err != nil {
			return err
		}
		if !one {
			return fault.New(fault.Conflict, "These orders are of two buyers. Pay it back to the one, and take a payment from the other.")
		}
		there, paid, err := owedAndPaid(ctx, tx, from)
		if err != nil {
			return err
		}
		here, paidHere, err := owedAndPaid(ctx, tx, to)
		if err != nil {
			return err
		}
		credit, open := max(0, paid-there), max(0, here-paidHere)
		if minor == 0 {
			minor = min(credit, open)
		}
		if minor > credit || minor == 0 {
			return fault.New(fault.Conflict, "There is %s of credit on that order, and %s is still to be paid on this one.", amount(credit), amount(open))
		}
		now := r.db.Now()
		if _, err := r.pay(ctx, tx, Payment{OrderID: from, Kind: "refund", Method: "credit", AmountMinor: minor, HappenedAt: now, OtherOrderID: &to}, nil); err != nil {
			return err
		}
		out, err = r.pay(ctx, tx, Payment{OrderID: to, Kind: "payment", Method: "credit", AmountMinor: minor, HappenedAt: now, OtherOrderID: &from}, nil)
		return err
	})
	return out, err
}

// Credit is what was paid on an order beyond its price.
type Credit struct {
	OrderID     int64  `db:"order_id"`
	OrderNumber string `db:"order_number"`
	AmountMinor int64  `db:"amount_minor"`
}

// CreditsOf gives the orders of a buyer on which more was paid than is owed, oldest
// first.
func (r *Room) CreditsOf(ctx context.Context, party int64) ([]Credit, error) {
	orders, err := postgres.List[Credit](ctx, r.db, `SELECT o.id AS order_id, o.number AS order_number, 0::bigint AS amount_minor FROM sale_order o JOIN party p ON p.id = o.party_id
WHERE coalesce(p.joined_into_id, p.id) = (SELECT coalesce(joined_into_id, id) FROM party WHERE id = $1) AND EXISTS (SELECT 1 FROM payment y WHERE y.order_id = o.id) ORDER BY o.id DESC LIMIT 100`, party)
	if err != nil {
		return nil, err
	}
	list := []Credit{}
	for _, c := range orders {
		owed, paid, err := owedAndPaid(ctx, r.db, c.OrderID)
		if err != nil {
			return nil, err
		}
		if c.AmountMinor = paid - owed; c.AmountMinor > 0 {
			list = append(list, c)
		}
	}
	slices.Reverse(list)
	return list, nil
}

// amount writes minor units with two decimals, for sentences.
func amount(minor int64) string { return fmt.Sprintf("%d.%02d", minor/100, minor%100) }

// standing is what stands of line l of an order, of whose t.units units t.gone are
// cancelled; lowered is what adjustments take off the price of the order that follows it.
const (
	standing = `l.price_minor - CASE WHEN t.gone = 0 THEN 0 ELSE round(l.price_minor::numeric * t.gone / t.units) END`
	lowered  = `SELECT sum(v.price_minor) FROM invoice i JOIN invoice_line v ON v.invoice_id = i.id LEFT JOIN order_unit u ON u.id = v.order_unit_id WHERE NOT i.keeps_price AND u.cancelled_at IS NULL AND i.order_id =`
)

// owedAndPaid are the price of what is not cancelled, less adjustments that lower it, and
// what came in less refunds.
func owedAndPaid(ctx context.Context, q postgres.Querier, order int64) (owed, paid int64, err error) {
	err = q.QueryRow(ctx, `SELECT coalesce((SELECT sum(`+standing+`)
	FROM order_line l JOIN LATERAL (SELECT count(*) AS units, count(cancelled_at) AS gone FROM order_unit WHERE order_line_id = l.id) t ON true WHERE l.order_id = $1), 0)::bigint
	+ coalesce((`+lowered+` $1), 0)::bigint,
	coalesce((SELECT sum(CASE kind WHEN 'refund' THEN -amount_minor ELSE amount_minor END) FROM payment WHERE order_id = $1), 0)::bigint`, order).Scan(&owed, &paid)
	return owed, paid, postgres.Translate(err)
}

// Balance gives the price of an order, what was paid on it, and what is still to be
// paid (negative: credit).
func (r *Room) Balance(ctx context.Context, order int64) (owed, paid, balance int64, err error) {
	owed, paid, err = owedAndPaid(ctx, r.db, order)
	return owed, paid, owed - paid, err
}

// PaymentsOf gives the payments of an order, oldest first.
func (r *Room) PaymentsOf(ctx context.Context, order int64) ([]Payment, error) {
	return postgres.List[Payment](ctx, r.db, paymentSelect+`WHERE y.order_id = $1 ORDER BY y.happened_at, y.id`, order)
}

// PaymentGet reads one payment.
func (r *Room) PaymentGet(ctx context.Context, id int64) (Payment, error) {
	return postgres.One[Payment](ctx, r.db, paymentSelect+`WHERE y.id = $1`, id)
}

// PaymentByNumber reads one payment by its number.
func (r *Room) PaymentByNumber(ctx context.Context, number string) (Payment, error) {
	return postgres.One[Payment](ctx, r.db, paymentSelect+`WHERE y.number = $1`, number)
}

// PaymentList gives payments from the newest, and the mark of the next page.
func (r *Room) PaymentList(ctx context.Context, limit int, after string) ([]Payment, string, error) {
	m, err := postgres.ReadMark(after)
	if err != nil {
		return nil, "", err
	}
	at, id := time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC), int64(1)<<62
	if after != "" {
		if at, err = time.Parse(time.RFC3339Nano, m.Key); err != nil {
			return nil, "", fault.Bad("/after", "This page mark is not one of ours. Start the list again.")
		}
		id = m.ID
	}
	n := postgres.PageSize(limit)
	list, err := postgres.List[Payment](ctx, r.db, paymentSelect+`WHERE (y.happened_at, y.id) < ($1, $2) ORDER BY y.happened_at DESC, y.id DESC LIMIT $3`, at, id, n+1)
	list, next := postgres.CutPage(list, n, func(p Payment) postgres.Mark {
		return postgres.Mark{Key: p.HappenedAt.Format(time.RFC3339Nano), ID: p.ID}
	})
	return list, next, err
}

// Held is a deposit on work that is still owed.
type Held struct {
	OrderID     int64     `db:"order_id"`
	OrderNumber string    `db:"order_number"`
	PartyName   string    `db:"party_name"`
	PaidMinor   int64     `db:"paid_minor"`
	FirstAt     time.Time `db:"first_at"`
}

// DepositsHeld gives what was paid on orders of which nothing is handed over yet,
// oldest first.
func (r *Room) DepositsHeld(ctx context.Context) ([]Held, error) {
	return postgres.List[Held](ctx, r.db, `SELECT o.id AS order_id, o.number AS order_number, p.name AS party_name,
	sum(CASE y.kind WHEN 'refund' THEN -y.amount_minor ELSE y.amount_minor END)::bigint AS paid_minor, min(y.happened_at) AS first_at
FROM sale_order o JOIN party p ON p.id = o.party_id JOIN payment y ON y.order_id = o.id
WHERE EXISTS (SELECT 1 FROM order_line l JOIN order_unit u ON u.order_line_id = l.id WHERE l.order_id = o.id AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL)
	AND NOT EXISTS (SELECT 1 FROM order_line l JOIN order_unit u ON u.order_line_id = l.id WHERE l.order_id = o.id AND u.handed_over_at IS NOT NULL)
GROUP BY o.id, p.name HAVING sum(CASE y.kind WHEN 'refund' THEN -y.amount_minor ELSE y.amount_minor END) > 0 ORDER BY first_at, o.id LIMIT 500`)
}
