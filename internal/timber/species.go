package timber

import (
	"context"
	"regexp"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/wood"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Species is a kind of timber. Figures may be unknown (nil); Source says where they are
// from.
type Species struct {
	ID                int64            `db:"id"`
	Version           int              `db:"version"`
	Code              string           `db:"code"` // as the calculations name it
	Name              string           `db:"name"`
	Botanical         string           `db:"botanical"`
	DensityKgM3       *decimal.Decimal `db:"density_kg_m3"`       // air-dry at 12 %
	SpecificGravity   *decimal.Decimal `db:"specific_gravity"`    // oven-dry mass on volume at 12 %
	RadialPct         *decimal.Decimal `db:"radial_pct"`          // from green
	TangentialPct     *decimal.Decimal `db:"tangential_pct"`      // from green
	ShrinkageToMCPct  decimal.Decimal  `db:"shrinkage_to_mc_pct"` // moisture the shrinkage runs to
	BorersLikeSapwood bool             `db:"borers_like_sapwood"`
	MetreCostMinor    int64            `db:"metre_cost_minor"` // of a metre of 100 x 28 mm, until a lot has its own
	Source            string           `db:"source"`
	GreenMCPct        *decimal.Decimal `db:"green_mc_pct"` // usual moisture when sawn
	Slowness          *decimal.Decimal `db:"slowness"`     // how many times as long it dries as its density says
	MeterTable        []MeterStep      `db:"meter_table"`  // correction of the meter; empty: none known
	MeterSource       string           `db:"meter_source"` // where that is from
	PutAwayAt         *time.Time       `db:"put_away_at"`
}

const speciesColumns = `id, version, code, name, botanical, density_kg_m3, specific_gravity, radial_pct, tangential_pct,
	shrinkage_to_mc_pct, borers_like_sapwood, metre_cost_minor, source, green_mc_pct, slowness, meter_table, meter_source, put_away_at`

func speciesIn(ctx context.Context, q postgres.Querier, where string, arg any) (Species, error) {
	return postgres.One[Species](ctx, q, `SELECT `+speciesColumns+` FROM timber_species WHERE `+where, arg)
}

var speciesCode = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{1,39}$`)

func (s Species) check() error {
	var l fault.List
	l.Check(speciesCode.MatchString(s.Code), "/code", "A code has 2 to 40 small letters, digits and hyphens, such as hoop-pine.")
	l.Words("/name", s.Name, "the name of the timber")
	l.Short("/botanical", s.Botanical)
	between := func(pointer string, d *decimal.Decimal, low, high string) {
		if d != nil {
			l.Check(d.GreaterThanOrEqual(decimal.RequireFromString(low)) && d.LessThanOrEqual(decimal.RequireFromString(high)),
				pointer, "The figure must lie between %s and %s.", low, high)
		}
	}
	between("/density_kg_m3", s.DensityKgM3, "50", "1500")
	between("/specific_gravity", s.SpecificGravity, "0.05", "1.5")
	between("/radial_pct", s.RadialPct, "0", "30")
	between("/tangential_pct", s.TangentialPct, "0", "30")
	between("/shrinkage_to_mc_pct", &s.ShrinkageToMCPct, "0", "25")
	between("/green_mc_pct", s.GreenMCPct, "20", "250")
	between("/slowness", s.Slowness, "0.3", "5")
	l.Check(s.MetreCostMinor >= 0, "/metre_cost_minor", "A cost cannot be below zero.")
	l.Short("/meter_source", s.MeterSource)
	checkMeter(&l, s.MeterTable)
	return l.Err()
}

// Basis gives the species' density and shrinkage as the calculation of a box takes them:
// kg/m3 and the specific gravity at 12 % moisture; ok is false where neither figure is
// known.
func (s Species) Basis() (densityKgM3, gravity float64, ok bool) {
	switch {
	case s.DensityKgM3 != nil:
		d := s.DensityKgM3.InexactFloat64()
		return d, wood.Gravity(d, 12), true
	case s.SpecificGravity != nil:
		g := s.SpecificGravity.InexactFloat64()
		return wood.DensityKgM3(g, 12), g, true
	}
	return 0, 0, false
}

// SpeciesSeed writes the calculation's own table of species into the book, and leaves
// those that are there already as the maker has them. It gives how many were new.
func (r *Room) SpeciesSeed(ctx context.Context) (int, error) {
	n := 0
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		n = 0
		for _, s := range wood.SpeciesTable() {
			tag, err := tx.Exec(ctx, `INSERT INTO timber_species (code, name, botanical, density_kg_m3, radial_pct, tangential_pct, shrinkage_to_mc_pct, borers_like_sapwood, source, green_mc_pct, slowness)
				VALUES ($1, $2, $3, nullif($4::numeric, 0), $5::numeric, $6::numeric, $7::numeric, $8, $9, nullif($10::numeric, 0), nullif($11::numeric, 0)) ON CONFLICT (code) DO NOTHING`,
				s.ID, s.Name, s.Botanical, decimal.NewFromFloat(s.AirDryKgM3), decimal.NewFromFloat(s.RadialPct), decimal.NewFromFloat(s.TangentialPct),
				decimal.NewFromFloat(s.ShrinkageToMCPct), s.SapwoodBorers, s.Source,
				decimal.NewFromFloat(s.GreenMCPct), decimal.NewFromFloat(s.Slowness))
			if err != nil {
				return err
			}
			n += int(tag.RowsAffected())
		}
		return nil
	})
	return n, err
}

// SpeciesSave makes a species (ID 0) or changes one. Errors: Invalid, Stale, Conflict
// when the code is taken.
func (r *Room) SpeciesSave(ctx context.Context, s Species) (Species, error) {
	s.Code, s.Name = strings.TrimSpace(s.Code), strings.TrimSpace(s.Name)
	if err := s.check(); err != nil {
		return s, err
	}
	meter, err := meterJSON(s.MeterTable)
	if err != nil {
		return s, err
	}
	args := []any{s.Code, s.Name, s.Botanical, s.DensityKgM3, s.SpecificGravity, s.RadialPct, s.TangentialPct, s.ShrinkageToMCPct,
		s.BorersLikeSapwood, s.MetreCostMinor, s.Source, s.PutAwayAt, s.GreenMCPct, s.Slowness, meter, s.MeterSource}
	var out Species
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		if s.ID == 0 {
			out, err = postgres.One[Species](ctx, tx, `INSERT INTO timber_species (code, name, botanical, density_kg_m3, specific_gravity, radial_pct, tangential_pct,
				shrinkage_to_mc_pct, borers_like_sapwood, metre_cost_minor, source, put_away_at, green_mc_pct, slowness, meter_table, meter_source)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16) RETURNING `+speciesColumns, args...)
			return err
		}
		out, err = postgres.One[Species](ctx, tx, `UPDATE timber_species SET code = $1, name = $2, botanical = $3, density_kg_m3 = $4, specific_gravity = $5, radial_pct = $6,
			tangential_pct = $7, shrinkage_to_mc_pct = $8, borers_like_sapwood = $9, metre_cost_minor = $10, source = $11, put_away_at = $12,
			green_mc_pct = $13, slowness = $14, meter_table = $15, meter_source = $16 WHERE id = $17 AND version = $18 RETURNING `+speciesColumns, append(args, s.ID, s.Version)...)
		return postgres.Changed(ctx, tx, err, "timber_species", s.ID, "this timber")
	})
	return out, err
}

// SpeciesGet reads one species.
func (r *Room) SpeciesGet(ctx context.Context, id int64) (Species, error) {
	return speciesIn(ctx, r.db, `id = $1`, id)
}

// SpeciesByCode reads one species by its code.
func (r *Room) SpeciesByCode(ctx context.Context, code string) (Species, error) {
	return speciesIn(ctx, r.db, `code = $1`, code)
}

// SpeciesList gives the species in use by name; all of them when putAway is true. There
// are few: the list has one page of at most 500.
func (r *Room) SpeciesList(ctx context.Context, putAway bool) ([]Species, error) {
	return postgres.List[Species](ctx, r.db, `SELECT `+speciesColumns+` FROM timber_species
		WHERE $1 OR put_away_at IS NULL ORDER BY lower(name::text), id LIMIT 500`, putAway)
}

func init() {
	postgres.Explain("timber_species_code_once", fault.Conflict, "/code", "There is a timber with this code already.")
}
