package timber

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Supplier is whom timber, fittings and finish are bought from.
type Supplier struct {
	ID        int64      `db:"id"`
	Version   int        `db:"version"`
	Name      string     `db:"name"`
	Phone     string     `db:"phone"`
	LeadDays  int        `db:"lead_days"` // from order to delivery
	Notes     string     `db:"notes"`
	PutAwayAt *time.Time `db:"put_away_at"`
}

const supplierColumns = `id, version, name, phone, lead_days, notes, put_away_at`

// SupplierSave makes a supplier (ID 0) or changes one. Errors: Invalid, Stale.
func (r *Room) SupplierSave(ctx context.Context, s Supplier) (Supplier, error) {
	var l fault.List
	l.Words("/name", s.Name, "the supplier's name")
	l.Short("/phone", s.Phone)
	l.Check(s.LeadDays >= 0 && s.LeadDays <= 1000, "/lead_days", "The days must lie between 0 and 1000.")
	if err := l.Err(); err != nil {
		return s, err
	}
	var out Supplier
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		if s.ID == 0 {
			out, err = postgres.One[Supplier](ctx, tx, `INSERT INTO supplier (name, phone, lead_days, notes, put_away_at) VALUES ($1, $2, $3, $4, $5)
				RETURNING `+supplierColumns, s.Name, s.Phone, s.LeadDays, s.Notes, s.PutAwayAt)
			return err
		}
		out, err = postgres.One[Supplier](ctx, tx, `UPDATE supplier SET name = $1, phone = $2, lead_days = $3, notes = $4, put_away_at = $5
			WHERE id = $6 AND version = $7 RETURNING `+supplierColumns, s.Name, s.Phone, s.LeadDays, s.Notes, s.PutAwayAt, s.ID, s.Version)
		return postgres.Changed(ctx, tx, err, "supplier", s.ID, "this supplier")
	})
	return out, err
}

// SupplierList gives the suppliers in use by name; one page of at most 500.
func (r *Room) SupplierList(ctx context.Context) ([]Supplier, error) {
	return postgres.List[Supplier](ctx, r.db, `SELECT `+supplierColumns+` FROM supplier WHERE put_away_at IS NULL ORDER BY lower(name::text), id LIMIT 500`)
}

// SupplierGet reads one supplier.
func (r *Room) SupplierGet(ctx context.Context, id int64) (Supplier, error) {
	return postgres.One[Supplier](ctx, r.db, `SELECT `+supplierColumns+` FROM supplier WHERE id = $1`, id)
}
