package apiary

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Finding is what kind of bee a colony was found to be, on a day, sure or not. The latest
// holds.
type Finding struct {
	ID          int64     `db:"id"`
	ColonyID    int64     `db:"colony_id"`
	SpeciesID   int64     `db:"bee_species_id"`
	SpeciesName string    `db:"species_name"`
	FoundOn     time.Time `db:"found_on"`
	Sure        bool      `db:"sure"`
	FoundBy     string    `db:"found_by"` // who looked, by what sign
}

// FindingsOf gives what kind a colony was found to be, the latest first.
func (r *Room) FindingsOf(ctx context.Context, colony int64) ([]Finding, error) {
	return postgres.List[Finding](ctx, r.db, `SELECT f.id, f.colony_id, f.bee_species_id, s.name::text AS species_name, f.found_on, f.sure, f.found_by FROM colony_species f JOIN bee_species s ON s.id = f.bee_species_id
WHERE f.colony_id = $1 ORDER BY f.found_on DESC, f.id DESC LIMIT 100`, colony)
}

// FindingNote writes down a finding. One that shows another kind than a colony is promised
// as ends that promise, which stands on the Day sheet. Errors: Invalid for the future or
// no kind; NotFound.
func (r *Room) FindingNote(ctx context.Context, f Finding) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		today := set.Today(r.db.Now())
		if f.FoundOn.IsZero() {
			f.FoundOn = today
		}
		var l fault.List
		l.Check(f.SpeciesID > 0, "/species_id", "Say which kind of bee it is, as far as you know.")
		l.Check(!f.FoundOn.After(today), "/found_on", "A finding is noted when it is made, not before.")
		l.Text("/found_by", strings.TrimSpace(f.FoundBy), maxWords)
		if err := l.Err(); err != nil {
			return err
		}
		was, err := r.lockColony(ctx, tx, f.ColonyID)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `INSERT INTO colony_species (colony_id, bee_species_id, found_on, sure, found_by) VALUES ($1, $2, $3, $4, $5)`, f.ColonyID, f.SpeciesID, f.FoundOn, f.Sure, strings.TrimSpace(f.FoundBy)); err != nil {
			return postgres.Translate(err)
		}
		now, err := r.lockColony(ctx, tx, f.ColonyID)
		if err != nil || was.UnitID == nil || now.SpeciesID == nil || was.SpeciesID != nil && *was.SpeciesID == *now.SpeciesID {
			return err
		}
		asked, err := postgres.Value[*int64](ctx, tx, `SELECT l.bee_species_id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id WHERE u.id = $1`, *was.UnitID)
		if err != nil || asked == nil || *asked == *now.SpeciesID {
			return err
		}
		_, err = claims.BreakForFact(ctx, tx, r.db.Now(), claims.Colony(f.ColonyID), 0, clip("found to be "+*now.SpeciesName))
		return err
	})
}

// ColonyFacts is what may be put right about a colony.
type ColonyFacts struct {
	ID         int64
	Version    int
	Name       string
	BeganOn    *time.Time
	BeganAbout string
	Origin     string // where from and with whose permission
	Notes      string
}

// ColonyPut puts right what is known of a colony. Errors: Invalid for a beginning in the
// future, Stale, NotFound.
func (r *Room) ColonyPut(ctx context.Context, f ColonyFacts) (Colony, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		today := set.Today(r.db.Now())
		var l fault.List
		l.Text("/name", strings.TrimSpace(f.Name), maxWords)
		l.Text("/origin", f.Origin, maxProse)
		l.Text("/notes", f.Notes, maxProse)
		l.Check(f.BeganOn == nil || !f.BeganOn.After(today), "/began_on", "A colony cannot have begun in the future.")
		checkAbout(&l, "/began_about", f.BeganAbout, today)
		if err := l.Err(); err != nil {
			return err
		}
		var got int64
		err = tx.QueryRow(ctx, `UPDATE colony SET name = $3, began_on = $4, began_about = $5, origin = $6, notes = $7 WHERE id = $1 AND version = $2 RETURNING id`, f.ID, f.Version, strings.TrimSpace(f.Name), f.BeganOn, strings.TrimSpace(f.BeganAbout), f.Origin, f.Notes).Scan(&got)
		return postgres.StaleOr(ctx, tx, err, "colony", f.ID)
	})
	if err != nil {
		return Colony{}, err
	}
	return r.ColonyGet(ctx, f.ID)
}
