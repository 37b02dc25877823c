package workshop

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Fit is the sizes at which sections meet; the same fit interchanges for ever.
type Fit struct {
	ID      int64     `db:"id"`
	Version int       `db:"version"`
	Name    string    `db:"name"`
	Notes   string    `db:"notes"`
	InUse   bool      `db:"in_use"` // a model names it: its sizes stay
	Sizes   []FitSize `db:"-"`
}

// FitSize is one gauge size of a fit, mm with its limits.
type FitSize struct {
	Name      string          `db:"name"`
	NominalMM decimal.Decimal `db:"nominal_mm"`
	LowMM     decimal.Decimal `db:"low_mm"`
	HighMM    decimal.Decimal `db:"high_mm"`
}

const selectFit = `SELECT f.id, f.version, f.name, f.notes, EXISTS (SELECT FROM model_revision r WHERE r.fit_id = f.id) AS in_use FROM fit f `

func (f Fit) check() error {
	var l fault.List
	l.Words("/name", f.Name, "a name for the fit")
	l.Check(len(f.Sizes) >= 1 && len(f.Sizes) <= 40, "/sizes", "A fit has 1 to 40 sizes.")
	seen := map[string]bool{}
	for i, s := range f.Sizes {
		at := fmt.Sprintf("/sizes/%d", i)
		l.Words(at+"/name", s.Name, "what is measured")
		l.Check(!seen[s.Name], at+"/name", "This size stands there twice.")
		seen[s.Name] = true
		l.Check(s.LowMM.IsPositive() && s.LowMM.LessThanOrEqual(s.NominalMM) && s.NominalMM.LessThanOrEqual(s.HighMM) && s.HighMM.LessThan(decimal.NewFromInt(10_000)),
			at+"/nominal_mm", "The size must lie between its limits, and the limits above 0 and below 10000 mm.")
		for _, d := range []decimal.Decimal{s.NominalMM, s.LowMM, s.HighMM} {
			l.Check(d.Equal(d.Truncate(1)), at+"/nominal_mm", "Millimetres take one decimal at most.")
		}
	}
	return l.Err()
}

// FitSave makes a fit (ID 0) or changes one. Once a model names the fit, only its name
// and notes may change: what was sold must go on fitting. Errors: Invalid, Stale,
// Conflict.
func (r *Room) FitSave(ctx context.Context, f Fit) (Fit, error) {
	if err := f.check(); err != nil {
		return f, err
	}
	var out Fit
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		id := f.ID
		if id == 0 {
			var err error
			if id, err = postgres.Value[int64](ctx, tx, `INSERT INTO fit (name, notes) VALUES ($1, $2) RETURNING id`, f.Name, f.Notes); err != nil {
				return err
			}
		} else {
			_, err := postgres.Value[int64](ctx, tx, `UPDATE fit SET name = $1, notes = $2 WHERE id = $3 AND version = $4 RETURNING id`, f.Name, f.Notes, f.ID, f.Version)
			if err := postgres.Changed(ctx, tx, err, "fit", f.ID, "this fit"); err != nil {
				return err
			}
		}
		old, err := fitIn(ctx, tx, id)
		if err != nil {
			return err
		}
		if old.InUse && !sameSizes(old.Sizes, f.Sizes) {
			return fault.New(fault.Conflict, "A model names this fit, so its sizes stay: what was sold must go on fitting. Make another fit.")
		}
		if !old.InUse {
			if err := putSizes(ctx, tx, id, f.Sizes); err != nil {
				return err
			}
		}
		out, err = fitIn(ctx, tx, id)
		return err
	})
	return out, err
}

func putSizes(ctx context.Context, tx pgx.Tx, id int64, sizes []FitSize) error {
	if _, err := tx.Exec(ctx, `DELETE FROM fit_size WHERE fit_id = $1`, id); err != nil {
		return postgres.Translate(err)
	}
	for _, s := range sizes {
		if _, err := tx.Exec(ctx, `INSERT INTO fit_size (fit_id, name, nominal_mm, low_mm, high_mm) VALUES ($1, $2, $3, $4, $5)`, id, s.Name, s.NominalMM, s.LowMM, s.HighMM); err != nil {
			return postgres.Translate(err)
		}
	}
	return nil
}

func sameSizes(a, b []FitSize) bool {
	by := map[string]FitSize{}
	for _, s := range a {
		by[s.Name] = s
	}
	for _, s := range b {
		o, ok := by[s.Name]
		if !ok || !o.NominalMM.Equal(s.NominalMM) || !o.LowMM.Equal(s.LowMM) || !o.HighMM.Equal(s.HighMM) {
			return false
		}
	}
	return len(a) == len(b)
}

func fitIn(ctx context.Context, q postgres.Querier, id int64) (Fit, error) {
	f, err := postgres.One[Fit](ctx, q, selectFit+`WHERE f.id = $1`, id)
	if err != nil {
		return f, err
	}
	f.Sizes, err = postgres.List[FitSize](ctx, q, `SELECT name, nominal_mm, low_mm, high_mm FROM fit_size WHERE fit_id = $1 ORDER BY id`, id)
	return f, err
}

// FitGet reads one fit with its sizes.
func (r *Room) FitGet(ctx context.Context, id int64) (Fit, error) { return fitIn(ctx, r.db, id) }

// FitList gives every fit by name, without sizes; one page of at most 200.
func (r *Room) FitList(ctx context.Context) ([]Fit, error) {
	return postgres.List[Fit](ctx, r.db, selectFit+`ORDER BY lower(f.name::text), f.id LIMIT 200`)
}

func init() {
	postgres.Explain("fit_name_once", fault.Conflict, "/name", "There is a fit with this name already.")
}
