package timber

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// PackPlace is where a pack was moved to, such as a solar chamber or back into the yard, and its
// air from that day on.
type PackPlace struct {
	ID          int64     `db:"id"`
	FromOn      time.Time `db:"from_on"`
	ClimateID   int64     `db:"climate_id"`
	ClimateName string    `db:"climate_name"`
	Kind        string    `db:"kind"` // of the climate
	Place       string    `db:"place"`
}

const selectPackPlace = `SELECT m.id, m.from_on, m.climate_id, c.name AS climate_name, c.kind, m.place
	FROM pack_place m JOIN climate c ON c.id = m.climate_id WHERE m.pack_id = $1 ORDER BY m.from_on LIMIT 100`

// aheadDays is how far ahead a move may be planned.
const aheadDays = 366

// PackMove writes down that a pack was moved, or will be within a year, and works its dry dates out anew.
// Errors: Invalid; Conflict when the pack is finished or was moved on that day already.
func (r *Room) PackMove(ctx context.Context, packID int64, m PackPlace) (Pack, error) {
	return r.packChange(ctx, packID, func(ctx context.Context, tx pgx.Tx, p Pack, today time.Time) error {
		var l fault.List
		l.Check(m.ClimateID > 0, "/climate_id", "Say which drying place it goes to.")
		l.Check(!m.FromOn.IsZero(), "/from_on", "Say on which day it is moved.")
		l.Check(!m.FromOn.Before(p.StackedOn), "/from_on", "The pack was stacked later, on %s.", p.StackedOn.Format(time.DateOnly))
		l.Check(!m.FromOn.After(today.AddDate(0, 0, aheadDays)), "/from_on", "Plan a move a year ahead at most.")
		l.Check(len(p.Places) < 100, "/from_on", "A pack is moved 100 times at most.")
		l.Short("/place", m.Place)
		if err := l.Err(); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `INSERT INTO pack_place (pack_id, from_on, climate_id, place, recorded_at) VALUES ($1, $2, $3, $4, $5)`,
			packID, m.FromOn, m.ClimateID, m.Place, r.db.Now()); err != nil {
			return postgres.Translate(err)
		}
		return nil
	})
}

// PackMoveBack takes a move back that was written down wrongly or did not come about; the
// history keeps it. Errors: NotFound; Conflict when the pack is finished.
func (r *Room) PackMoveBack(ctx context.Context, packID, moveID int64) (Pack, error) {
	return r.packChange(ctx, packID, func(ctx context.Context, tx pgx.Tx, _ Pack, _ time.Time) error {
		tag, err := tx.Exec(ctx, `DELETE FROM pack_place WHERE id = $1 AND pack_id = $2`, moveID, packID)
		if err != nil {
			return postgres.Translate(err)
		}
		if tag.RowsAffected() == 0 {
			return fault.New(fault.NotFound, "This move is not written down for the pack.")
		}
		return nil
	})
}

// PackReckon works the dry dates out anew, from the figures of timber and weather as they
// are now. Errors: Conflict when the pack is finished.
func (r *Room) PackReckon(ctx context.Context, packID int64) (Pack, error) {
	return r.packChange(ctx, packID, func(context.Context, pgx.Tx, Pack, time.Time) error { return nil })
}

// PackTargetSet changes at which moisture a pack is dry enough, and works its dates out anew.
// Errors: Invalid, Stale; Conflict when the pack is finished.
func (r *Room) PackTargetSet(ctx context.Context, id int64, version int, target decimal.Decimal) (Pack, error) {
	var l fault.List
	pctBetween(&l, "/target_mc_pct", target, 3, 30)
	if err := l.Err(); err != nil {
		return Pack{}, err
	}
	return r.packChange(ctx, id, func(ctx context.Context, tx pgx.Tx, _ Pack, _ time.Time) error {
		_, err := postgres.Value[int64](ctx, tx, `UPDATE pack SET target_mc_pct = $3 WHERE id = $1 AND version = $2 RETURNING id`, id, version, target)
		return postgres.Changed(ctx, tx, err, "pack", id, "this pack")
	})
}

// packChange runs a change of a pack that still stands, and works its dry dates out anew.
func (r *Room) packChange(ctx context.Context, packID int64, change func(context.Context, pgx.Tx, Pack, time.Time) error) (Pack, error) {
	var out Pack
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		p, err := packLock(ctx, tx, packID)
		if err != nil {
			return err
		}
		if err := change(ctx, tx, p, today); err != nil {
			return err
		}
		if err := r.packReckon(ctx, tx, packID); err != nil {
			return err
		}
		out, err = packIn(ctx, tx, packID)
		return err
	})
	return out, err
}

// PlaceOn gives the place of a pack on a day: the last one it was moved to by then, or
// nothing while it stands where it was stacked.
func (p Pack) PlaceOn(on time.Time) *PackPlace {
	var at *PackPlace
	for i := range p.Places {
		if !p.Places[i].FromOn.After(on) {
			at = &p.Places[i]
		}
	}
	return at
}

func init() {
	postgres.Explain("pack_place_once", fault.Conflict, "/from_on", "The pack was moved on that day already. Take that move back first.")
}
