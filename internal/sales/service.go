package sales

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Service is what the workshop does or sells beside boxes and colonies.
type Service struct {
	ID             int64           `db:"id"`
	Version        int             `db:"version"`
	Name           string          `db:"name"`
	Each           string          `db:"each"`             // what one of it is: hive, hour, jar, seat
	UnitPriceMinor int64           `db:"unit_price_minor"` // each, without tax
	TaxCode        string          `db:"tax_code"`
	Seats          *int            `db:"seats"`   // of a course
	HeldOn         *time.Time      `db:"held_on"` // of a course
	Taken          decimal.Decimal `db:"taken"`   // on orders, cancelled ones not counted
	PutAwayAt      *time.Time      `db:"put_away_at"`
}

// SeatsLeft is how many seats of a course are free; false where it has none.
func (s Service) SeatsLeft() (int, bool) {
	if s.Seats == nil {
		return 0, false
	}
	return max(0, *s.Seats-int(s.Taken.Ceil().IntPart())), true
}

const serviceColumns = `s.id, s.version, s.name, s.each, s.unit_price_minor, s.tax_code, s.seats, s.held_on, s.put_away_at,
	coalesce((SELECT sum(l.quantity) FROM order_line l WHERE l.service_id = s.id AND EXISTS (SELECT 1 FROM order_unit u WHERE u.order_line_id = l.id AND u.cancelled_at IS NULL)), 0)::numeric AS taken`

// ServiceSave puts down a service (ID 0) or changes one. Errors: Invalid; Conflict for a
// name that is there; Stale.
func (r *Room) ServiceSave(ctx context.Context, s Service) (Service, error) {
	var l fault.List
	s.Name, s.Each = strings.TrimSpace(s.Name), strings.TrimSpace(s.Each)
	if s.Each == "" {
		s.Each = "piece"
	}
	if s.TaxCode == "" {
		s.TaxCode = "standard"
	}
	l.Check(s.Name != "", "/name", "Write what it is, such as splitting a hive.")
	checkWords(&l, "/name", s.Name)
	checkWords(&l, "/each", s.Each)
	l.Check(s.UnitPriceMinor >= 0 && s.UnitPriceMinor <= 1e11, "/unit_price_minor", "The price cannot be negative.")
	l.Check(s.Seats == nil || *s.Seats >= 1 && *s.Seats <= 1000, "/seats", "A course has 1 to 1000 seats.")
	if err := l.Err(); err != nil {
		return s, err
	}
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, _, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		tax, err := house.TaxIn(ctx, tx, today)
		if err != nil {
			return err
		}
		if _, err := tax.Pct(s.TaxCode); tax.Registered && err != nil {
			return fault.Bad("/tax_code", "There is no tax code %q.", s.TaxCode)
		}
		if s.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO service (name, each, unit_price_minor, tax_code, seats, held_on, put_away_at) VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING id`,
				s.Name, s.Each, s.UnitPriceMinor, s.TaxCode, s.Seats, s.HeldOn, s.PutAwayAt).Scan(&id)
		}
		id, err = postgres.Value[int64](ctx, tx, `UPDATE service SET name = $1, each = $2, unit_price_minor = $3, tax_code = $4, seats = $5, held_on = $6, put_away_at = $7 WHERE id = $8 AND version = $9 RETURNING id`,
			s.Name, s.Each, s.UnitPriceMinor, s.TaxCode, s.Seats, s.HeldOn, s.PutAwayAt, s.ID, s.Version)
		return postgres.Changed(ctx, tx, err, "service", s.ID, "this service")
	})
	if err != nil {
		return s, postgres.Translate(err)
	}
	return r.ServiceGet(ctx, id)
}

// ServiceGet reads one service.
func (r *Room) ServiceGet(ctx context.Context, id int64) (Service, error) {
	return postgres.One[Service](ctx, r.db, `SELECT `+serviceColumns+` FROM service s WHERE s.id = $1`, id)
}

// ServiceList gives the services that are not put away, by name.
func (r *Room) ServiceList(ctx context.Context) ([]Service, error) {
	return postgres.List[Service](ctx, r.db, `SELECT `+serviceColumns+` FROM service s WHERE s.put_away_at IS NULL ORDER BY s.name LIMIT 500`)
}

// serviceSeats locks a course and refuses more seats than are left.
func serviceSeats(ctx context.Context, tx pgx.Tx, at string, id int64, wanted decimal.Decimal) error {
	if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM service WHERE id = $1 FOR UPDATE`, id); err != nil {
		return err
	}
	s, err := postgres.One[Service](ctx, tx, `SELECT `+serviceColumns+` FROM service s WHERE s.id = $1`, id)
	if err != nil {
		return err
	}
	if left, course := s.SeatsLeft(); course && wanted.GreaterThan(decimal.NewFromInt(int64(left))) {
		return fault.Bad(at, "%s has %d seats left.", s.Name, left)
	}
	return nil
}
