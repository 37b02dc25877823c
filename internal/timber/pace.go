package timber

import (
	"context"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Pace is how many boxes of a model in a timber the maker expects to sell. It stands in
// place of what past orders of that timber say.
type Pace struct {
	ModelID     int64           `db:"model_id"`
	ModelName   string          `db:"model_name"`
	SpeciesID   int64           `db:"species_id"`
	SpeciesName string          `db:"species_name"`
	BoxesAMonth decimal.Decimal `db:"boxes_a_month"` // one decimal, up to 1000
}

// paceMost bounds a pace: no workshop of this kind sells more (our estimate).
var paceMost = decimal.NewFromInt(1000)

// PaceSet notes a pace, changes it, or takes it away when BoxesAMonth is zero. Errors:
// Invalid, also for a model or timber that is not there.
func (r *Room) PaceSet(ctx context.Context, p Pace) error {
	var l fault.List
	l.Check(p.ModelID > 0, "/model_id", "Choose the model.")
	l.Check(p.SpeciesID > 0, "/species_id", "Choose the timber.")
	l.Check(!p.BoxesAMonth.IsNegative() && p.BoxesAMonth.LessThanOrEqual(paceMost) && tenths(p.BoxesAMonth), "/boxes_a_month",
		"Write how many boxes a month, from 0 to 1000 with one decimal at most; 0 takes the pace away.")
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		sql, args := `DELETE FROM milling_pace WHERE model_id = $1 AND species_id = $2`, []any{p.ModelID, p.SpeciesID}
		if p.BoxesAMonth.IsPositive() {
			sql = `INSERT INTO milling_pace (model_id, species_id, boxes_a_month) VALUES ($1, $2, $3)
				ON CONFLICT (species_id, model_id) DO UPDATE SET boxes_a_month = $3`
			args = append(args, p.BoxesAMonth)
		}
		_, err := tx.Exec(ctx, sql, args...)
		return postgres.Translate(err)
	})
}

// PaceList gives every pace that is set, by timber and model; at most 500.
func (r *Room) PaceList(ctx context.Context) ([]Pace, error) {
	return postgres.List[Pace](ctx, r.db, `SELECT p.model_id, m.name AS model_name, p.species_id, s.name AS species_name, trim_scale(p.boxes_a_month) AS boxes_a_month
		FROM milling_pace p JOIN box_model m ON m.id = p.model_id JOIN timber_species s ON s.id = p.species_id
		ORDER BY lower(s.name::text), lower(m.name::text), p.id LIMIT 500`)
}

func init() {
	postgres.Explain("milling_pace_model_id_fkey", fault.Invalid, "/model_id", "There is no such model.")
	postgres.Explain("milling_pace_species_id_fkey", fault.Invalid, "/species_id", "There is no such timber.")
}
