package timber

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Month is the usual air of one month at a drying place.
type Month struct {
	TemperatureC float64 `json:"temperature_c"`
	HumidityPct  float64 `json:"humidity_pct"`
}

// Climate is the weather of a drying place: twelve months, January first.
type Climate struct {
	ID      int64
	Version int
	Name    string
	Kind    string // Outdoors, Solar or Heated; empty: Outdoors
	Months  [12]Month
}

// Kinds of drying place.
const (
	Outdoors = "open"
	Solar    = "solar"
	Heated   = "heated"
)

type climateRow struct {
	ID      int64  `db:"id"`
	Version int    `db:"version"`
	Name    string `db:"name"`
	Kind    string `db:"kind"`
	Months  []byte `db:"months"`
}

func (r climateRow) climate() (Climate, error) {
	c := Climate{ID: r.ID, Version: r.Version, Name: r.Name, Kind: r.Kind}
	if err := json.Unmarshal(r.Months, &c.Months); err != nil {
		return c, fmt.Errorf("read climate %d: %w", r.ID, err)
	}
	return c, nil
}

const climateColumns = `id, version, name, kind, months`

// ClimateSave makes a climate (ID 0) or changes one. Errors: Invalid, Stale, Conflict
// when the name is taken.
func (r *Room) ClimateSave(ctx context.Context, c Climate) (Climate, error) {
	var l fault.List
	l.Words("/name", c.Name, "a name for the drying place")
	if c.Kind == "" {
		c.Kind = Outdoors
	}
	l.Check(c.Kind == Outdoors || c.Kind == Solar || c.Kind == Heated, "/kind", "The place is open, solar or heated.")
	for i, m := range c.Months {
		l.Check(m.TemperatureC >= -40 && m.TemperatureC <= 80, fmt.Sprintf("/months/%d/temperature_c", i), "The temperature must lie between -40 and 80 degrees.")
		l.Check(m.HumidityPct >= 1 && m.HumidityPct <= 100, fmt.Sprintf("/months/%d/humidity_pct", i), "The humidity must lie between 1 and 100 percent.")
	}
	if err := l.Err(); err != nil {
		return c, err
	}
	months, err := json.Marshal(c.Months)
	if err != nil {
		return c, fmt.Errorf("write climate: %w", err)
	}
	var row climateRow
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		if c.ID == 0 {
			row, err = postgres.One[climateRow](ctx, tx, `INSERT INTO climate (name, kind, months) VALUES ($1, $2, $3) RETURNING `+climateColumns, c.Name, c.Kind, months)
			return err
		}
		row, err = postgres.One[climateRow](ctx, tx, `UPDATE climate SET name = $1, kind = $2, months = $3 WHERE id = $4 AND version = $5 RETURNING `+climateColumns, c.Name, c.Kind, months, c.ID, c.Version)
		return postgres.Changed(ctx, tx, err, "climate", c.ID, "this climate")
	})
	if err != nil {
		return c, err
	}
	return row.climate()
}

// ClimateList gives every climate by name; one page of at most 200.
func (r *Room) ClimateList(ctx context.Context) ([]Climate, error) {
	rows, err := postgres.List[climateRow](ctx, r.db, `SELECT `+climateColumns+` FROM climate ORDER BY lower(name::text), id LIMIT 200`)
	if err != nil {
		return nil, err
	}
	list := make([]Climate, len(rows))
	for i, row := range rows {
		if list[i], err = row.climate(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

func climateIn(ctx context.Context, q postgres.Querier, id int64) (Climate, error) {
	row, err := postgres.One[climateRow](ctx, q, `SELECT `+climateColumns+` FROM climate WHERE id = $1`, id)
	if err != nil {
		return Climate{}, err
	}
	return row.climate()
}

func init() {
	postgres.Explain("climate_name_once", fault.Conflict, "/name", "There is a climate with this name already.")
}

// ClimateGet reads one climate.
func (r *Room) ClimateGet(ctx context.Context, id int64) (Climate, error) {
	return climateIn(ctx, r.db, id)
}
