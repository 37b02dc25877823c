package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

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
	ExpectedOn   *time.Time     `db:"expected_on"` // nil when ordered: after the supplier's lead days
	ReceivedAt   *time.Time     `db:"received_at"` // when the last of it came in
	PaidOn       *time.Time     `db:"paid_on"`
	TheirNumber  string         `db:"their_number"`
	Notes        string         `db:"notes"`
	Lines        []PurchaseLine `db:"-"`
}

// PurchaseLine is one line of a purchase: an item, boards for a lot, timber that comes
// into the book when it comes in, or words only.
type PurchaseLine struct {
	ID     int64  `db:"id"`
	ItemID *int64 `db:"item_id"`
	LotID  *int64 `db:"lot_id"`
	Brings string `db:"brings"` // boards, log or pack; empty: nothing new
	Timber
	Description    string `db:"description"`
	Quantity       int    `db:"quantity"`          // pieces, boards or logs
	Received       int    `db:"received"`          // of them
	CostExTaxMinor int64  `db:"cost_ex_tax_minor"` // of the line
	TaxMinor       int64  `db:"tax_minor"`         // of the line
	TaxCode        string `db:"tax_code"`
}

// Timber is what is bought of timber: dressed boards of a nominal size, green boards for a
// pack, or logs.
type Timber struct {
	SpeciesID   *int64           `db:"species_id"`
	SpeciesName string           `db:"species_name"`
	WidthMM     *decimal.Decimal `db:"width_mm"`
	ThicknessMM *decimal.Decimal `db:"thickness_mm"`
	LengthMM    *int             `db:"length_mm"`
	Grade       *string          `db:"grade"`
	SmallEndMM  *decimal.Decimal `db:"small_end_mm"` // of a log
	LargeEndMM  *decimal.Decimal `db:"large_end_mm"` // of a log
	Place       string           `db:"place"`
}

// What a line brings.
const (
	BringsBoards = "boards"
	BringsLog    = "log"
	BringsPack   = "pack"
)

// maxLogsBought bounds the logs of one line; each gets its own number.
const maxLogsBought = 50

const selectPurchase = `SELECT p.id, p.version, p.supplier_id, coalesce((SELECT name FROM supplier s WHERE s.id = p.supplier_id), '') AS supplier_name,
	p.ordered_on, p.expected_on, p.received_at, p.paid_on, p.their_number, p.notes FROM purchase p `

func (p Purchase) check() error {
	var l fault.List
	l.Check(!p.OrderedOn.IsZero(), "/ordered_on", "Say on which day it was ordered.")
	l.Check(p.ExpectedOn == nil || !p.ExpectedOn.Before(p.OrderedOn), "/expected_on", "It cannot come before it is ordered.")
	l.Short("/their_number", p.TheirNumber)
	l.Check(len(p.Lines) > 0 && len(p.Lines) <= 200, "/lines", "Write 1 to 200 lines.")
	for i := range p.Lines {
		line := &p.Lines[i]
		at := fmt.Sprintf("/lines/%d", i)
		l.Check(line.Quantity >= 1 && line.Quantity <= maxPieces, at+"/quantity", "The quantity must lie between 1 and %d.", maxPieces)
		l.Check(line.CostExTaxMinor >= 0 && line.TaxMinor >= 0, at+"/cost_ex_tax_minor", "A cost cannot be below zero.")
		l.Check(line.ItemID == nil || line.LotID == nil, at, "A line is an item or boards, not both.")
		l.Check(line.ItemID != nil || line.LotID != nil || line.Brings != "" || len(line.Description) > 0, at+"/description", "Write what it is.")
		l.Short(at+"/description", line.Description)
		line.checkTimber(&l, at)
	}
	return l.Err()
}

func (x *PurchaseLine) checkTimber(l *fault.List, at string) {
	if x.Brings == "" {
		l.Check(x.SpeciesID == nil, at+"/brings", "Say what the timber is: boards, log or pack.")
		return
	}
	l.Check(x.Brings == BringsBoards || x.Brings == BringsLog || x.Brings == BringsPack, at+"/brings", "Timber comes as boards, log or pack.")
	l.Check(x.ItemID == nil && x.LotID == nil, at, "A line is an item or timber, not both.")
	l.Check(x.SpeciesID != nil, at+"/species_id", "Say which timber it is.")
	l.Check(x.LengthMM != nil && *x.LengthMM >= 1 && *x.LengthMM <= 20_000, at+"/length_mm", "The length must lie between 1 and 20000 mm.")
	l.Short(at+"/place", x.Place)
	if x.Brings == BringsLog {
		l.Check(x.Quantity <= maxLogsBought, at+"/quantity", "At most %d logs in one line.", maxLogsBought)
		x.WidthMM, x.ThicknessMM, x.Grade = nil, nil, nil
		if l.Check(x.SmallEndMM != nil && x.LargeEndMM != nil, at+"/small_end_mm", "Write both diameters of the log, under bark.") {
			ok := mmBetween(l, at+"/small_end_mm", *x.SmallEndMM, 20, girthAskMM)
			ok = mmBetween(l, at+"/large_end_mm", *x.LargeEndMM, 20, 5000) && ok
			l.Check(!ok || x.LargeEndMM.GreaterThanOrEqual(*x.SmallEndMM), at+"/large_end_mm", "The large end is smaller than the small end. Are the two swapped?")
		}
		return
	}
	x.SmallEndMM, x.LargeEndMM = nil, nil
	if x.Grade == nil {
		grade := Grades[1]
		x.Grade = &grade
	}
	l.Check(gradeOK(*x.Grade), at+"/grade", "The grade is clear, sound or knotty.")
	if l.Check(x.WidthMM != nil && x.ThicknessMM != nil, at+"/width_mm", "Write width and thickness of the boards.") {
		ok := mmBetween(l, at+"/width_mm", *x.WidthMM, 1, 2000)
		ok = mmBetween(l, at+"/thickness_mm", *x.ThicknessMM, 1, 500) && ok
		l.Check(!ok || x.ThicknessMM.LessThanOrEqual(*x.WidthMM), at+"/thickness_mm", "The thickness is the smaller of the two.")
	}
}

// PurchaseOrder writes an order to a supplier down; without a day on which it is expected,
// that is the supplier's lead days later. Errors: Invalid, Conflict when a supplier, item,
// timber or lot is not there.
func (r *Room) PurchaseOrder(ctx context.Context, p Purchase) (Purchase, error) {
	if err := p.check(); err != nil {
		return p, err
	}
	var out Purchase
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		id, err := postgres.Value[int64](ctx, tx, `INSERT INTO purchase (supplier_id, ordered_on, expected_on, their_number, notes, paid_on)
			VALUES ($1, $2, coalesce($3::date, $2::date + (SELECT lead_days FROM supplier WHERE id = $1)), $4, $5, $6) RETURNING id`,
			p.SupplierID, p.OrderedOn, p.ExpectedOn, p.TheirNumber, p.Notes, p.PaidOn)
		if err != nil {
			return err
		}
		for _, line := range p.Lines {
			code := line.TaxCode
			if code == "" {
				code = "standard"
			}
			if line.Brings == BringsBoards { // so that answers know the size
				if _, err := SizeTx(ctx, tx, *line.WidthMM, *line.ThicknessMM); err != nil {
					return err
				}
			}
			if _, err := tx.Exec(ctx, `INSERT INTO purchase_line (purchase_id, item_id, lot_id, description, quantity, cost_ex_tax_minor, tax_minor, tax_code,
				brings, species_id, width_mm, thickness_mm, length_mm, grade, small_end_mm, large_end_mm, place)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)`, id, line.ItemID, line.LotID, line.Description, line.Quantity, line.CostExTaxMinor, line.TaxMinor, code,
				line.Brings, line.SpeciesID, line.WidthMM, line.ThicknessMM, line.LengthMM, line.Grade, line.SmallEndMM, line.LargeEndMM, line.Place); err != nil {
				return postgres.Translate(err)
			}
		}
		out, err = purchaseIn(ctx, tx, id)
		return err
	})
	return out, err
}

// PurchaseChange sets when a purchase is expected and when it was paid. Errors: Stale,
// Invalid.
func (r *Room) PurchaseChange(ctx context.Context, id int64, version int, expectedOn, paidOn *time.Time) (Purchase, error) {
	var out Purchase
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		p, err := purchaseIn(ctx, tx, id)
		if err != nil {
			return err
		}
		today, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		var l fault.List
		l.Check(expectedOn == nil || !expectedOn.Before(p.OrderedOn), "/expected_on", "It cannot come before it is ordered.")
		l.Check(paidOn == nil || !paidOn.After(today), "/paid_on", "This day is still to come. Write when it was paid.")
		if err := l.Err(); err != nil {
			return err
		}
		_, err = postgres.Value[int64](ctx, tx, `UPDATE purchase SET expected_on = $3, paid_on = $4 WHERE id = $1 AND version = $2 RETURNING id`, id, version, expectedOn, paidOn)
		if err != nil {
			return postgres.Changed(ctx, tx, err, "purchase", id, "this purchase")
		}
		out, err = purchaseIn(ctx, tx, id)
		return err
	})
	return out, err
}

func purchaseIn(ctx context.Context, q postgres.Querier, id int64) (Purchase, error) {
	p, err := postgres.One[Purchase](ctx, q, selectPurchase+`WHERE p.id = $1`, id)
	if err != nil {
		return p, err
	}
	p.Lines, err = postgres.List[PurchaseLine](ctx, q, `SELECT id, item_id, lot_id, brings, species_id, coalesce((SELECT name FROM timber_species s WHERE s.id = species_id), '') AS species_name,
		trim_scale(width_mm) AS width_mm, trim_scale(thickness_mm) AS thickness_mm, length_mm, grade, trim_scale(small_end_mm) AS small_end_mm, trim_scale(large_end_mm) AS large_end_mm, place,
		description, quantity, received, cost_ex_tax_minor, tax_minor, tax_code FROM purchase_line WHERE purchase_id = $1 ORDER BY id`, id)
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
