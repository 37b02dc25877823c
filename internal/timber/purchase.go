package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Purchase is an order to a supplier.
type Purchase struct {
	ID           int64          `db:"id"`
	Version      int            `db:"version"`
	SupplierID   *int64         `db:"supplier_id"`
	SupplierName string         `db:"supplier_name"`
	OrderedOn    time.Time      `db:"ordered_on"`
	ExpectedOn   *time.Time     `db:"expected_on"`
	ReceivedAt   *time.Time     `db:"received_at"`
	TheirNumber  string         `db:"their_number"`
	Notes        string         `db:"notes"`
	Lines        []PurchaseLine `db:"-"`
}

// PurchaseLine is one line of a purchase: an item, boards for a lot, or words only.
type PurchaseLine struct {
	ItemID         *int64 `db:"item_id"`
	LotID          *int64 `db:"lot_id"`
	Description    string `db:"description"`
	Quantity       int    `db:"quantity"`
	CostExTaxMinor int64  `db:"cost_ex_tax_minor"` // of the line
	TaxMinor       int64  `db:"tax_minor"`         // of the line
	TaxCode        string `db:"tax_code"`
}

const selectPurchase = `SELECT p.id, p.version, p.supplier_id, coalesce((SELECT name FROM supplier s WHERE s.id = p.supplier_id), '') AS supplier_name,
	p.ordered_on, p.expected_on, p.received_at, p.their_number, p.notes FROM purchase p `

func (p Purchase) check() error {
	var l fault.List
	l.Check(!p.OrderedOn.IsZero(), "/ordered_on", "Say on which day it was ordered.")
	l.Check(p.ExpectedOn == nil || !p.ExpectedOn.Before(p.OrderedOn), "/expected_on", "It cannot come before it is ordered.")
	l.Short("/their_number", p.TheirNumber)
	l.Check(len(p.Lines) > 0 && len(p.Lines) <= 200, "/lines", "Write 1 to 200 lines.")
	for i, line := range p.Lines {
		at := fmt.Sprintf("/lines/%d", i)
		l.Check(line.Quantity >= 1 && line.Quantity <= maxPieces, at+"/quantity", "The quantity must lie between 1 and %d.", maxPieces)
		l.Check(line.CostExTaxMinor >= 0 && line.TaxMinor >= 0, at+"/cost_ex_tax_minor", "A cost cannot be below zero.")
		l.Check(line.ItemID == nil || line.LotID == nil, at, "A line is an item or boards, not both.")
		l.Check(line.ItemID != nil || line.LotID != nil || len(line.Description) > 0, at+"/description", "Write what it is.")
		l.Short(at+"/description", line.Description)
	}
	return l.Err()
}

// PurchaseOrder writes an order to a supplier down. Errors: Invalid, Conflict when a
// supplier, item or lot is not there.
func (r *Room) PurchaseOrder(ctx context.Context, p Purchase) (Purchase, error) {
	if err := p.check(); err != nil {
		return p, err
	}
	var out Purchase
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		id, err := postgres.Value[int64](ctx, tx, `INSERT INTO purchase (supplier_id, ordered_on, expected_on, their_number, notes) VALUES ($1, $2, $3, $4, $5) RETURNING id`,
			p.SupplierID, p.OrderedOn, p.ExpectedOn, p.TheirNumber, p.Notes)
		if err != nil {
			return err
		}
		for _, line := range p.Lines {
			code := line.TaxCode
			if code == "" {
				code = "standard"
			}
			if _, err := tx.Exec(ctx, `INSERT INTO purchase_line (purchase_id, item_id, lot_id, description, quantity, cost_ex_tax_minor, tax_minor, tax_code)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`, id, line.ItemID, line.LotID, line.Description, line.Quantity, line.CostExTaxMinor, line.TaxMinor, code); err != nil {
				return postgres.Translate(err)
			}
		}
		out, err = purchaseIn(ctx, tx, id)
		return err
	})
	return out, err
}

// PurchaseReceive books the whole of a purchase in: boards and counted items by a move,
// bulk by clearing its low mark. What an item cost this time becomes its cost. Errors:
// Stale; Conflict when it was received already; Invalid.
func (r *Room) PurchaseReceive(ctx context.Context, id int64, version int, at time.Time) (Purchase, error) {
	var l fault.List
	l.Past("/received_at", at, r.db.Now())
	if err := l.Err(); err != nil {
		return Purchase{}, err
	}
	var out Purchase
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		p, err := purchaseIn(ctx, tx, id)
		if err != nil {
			return err
		}
		if p.ReceivedAt != nil {
			return fault.New(fault.Conflict, "This purchase is received already.")
		}
		_, err = postgres.Value[int64](ctx, tx, `UPDATE purchase SET received_at = $3 WHERE id = $1 AND version = $2 AND received_at IS NULL RETURNING id`, id, version, at)
		if err != nil {
			return postgres.Changed(ctx, tx, err, "purchase", id, "this purchase")
		}
		if err := r.receiveLines(ctx, tx, p.Lines, at); err != nil {
			return err
		}
		out, err = purchaseIn(ctx, tx, id)
		return err
	})
	return out, err
}

func (r *Room) receiveLines(ctx context.Context, tx pgx.Tx, lines []PurchaseLine, at time.Time) error {
	var things []claims.Thing
	for _, line := range lines {
		switch {
		case line.LotID != nil:
			things = append(things, claims.Lot(*line.LotID))
		case line.ItemID != nil:
			things = append(things, claims.Item(*line.ItemID))
		}
	}
	stock, err := claims.Lock(ctx, tx, things)
	if err != nil {
		return err
	}
	for _, line := range lines {
		thing := claims.Thing{}
		if line.LotID != nil {
			thing = claims.Lot(*line.LotID)
		} else if line.ItemID != nil {
			thing = claims.Item(*line.ItemID)
			each := decimal.NewFromInt(line.CostExTaxMinor).DivRound(decimal.NewFromInt(int64(line.Quantity)), 0).IntPart()
			if _, err := tx.Exec(ctx, `UPDATE item SET cost_minor = $2, low = false WHERE id = $1`, *line.ItemID, each); err != nil {
				return postgres.Translate(err)
			}
		}
		if thing.ID == 0 || stock[thing].Bulk {
			continue
		}
		if _, err := MoveTx(ctx, tx, r.db.Now(), Move{Thing: thing, Quantity: line.Quantity, Kind: Bought, HappenedAt: at}); err != nil {
			return err
		}
	}
	return nil
}

func purchaseIn(ctx context.Context, q postgres.Querier, id int64) (Purchase, error) {
	p, err := postgres.One[Purchase](ctx, q, selectPurchase+`WHERE p.id = $1`, id)
	if err != nil {
		return p, err
	}
	p.Lines, err = postgres.List[PurchaseLine](ctx, q, `SELECT item_id, lot_id, description, quantity, cost_ex_tax_minor, tax_minor, tax_code
		FROM purchase_line WHERE purchase_id = $1 ORDER BY id`, id)
	return p, err
}

// PurchaseGet reads one purchase with its lines.
func (r *Room) PurchaseGet(ctx context.Context, id int64) (Purchase, error) {
	return purchaseIn(ctx, r.db, id)
}

// PurchaseList gives purchases from the newest, without their lines, and the mark of the
// next page; only those still to come when open is true.
func (r *Room) PurchaseList(ctx context.Context, open bool, limit int, after string) ([]Purchase, string, error) {
	mark, err := postgres.ReadMark(after)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(limit)
	list, err := postgres.List[Purchase](ctx, r.db, selectPurchase+`WHERE ($1::bigint = 0 OR p.id < $1) AND (NOT $2 OR p.received_at IS NULL) ORDER BY p.id DESC LIMIT $3`, mark.ID, open, n+1)
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(list, n, func(p Purchase) postgres.Mark { return postgres.Mark{ID: p.ID} })
	return page, next, nil
}
