package apiary

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

// Housing says into which dwelling a colony moved.
type Housing struct {
	ColonyID    int64
	Dwelling    string // box (when a box is named), log, tree, other
	BoxID       *int64
	Description string
	At          time.Time // zero: now
	InSpite     string    // why it was moved although it is held back
}

// House is [Room.HouseIn] of a colony that nothing holds back.
func (r *Room) House(ctx context.Context, colony int64, dwelling string, box *int64, description string, at time.Time) ([]string, error) {
	return r.HouseIn(ctx, Housing{ColonyID: colony, Dwelling: dwelling, BoxID: box, Description: description, At: at})
}

// HouseIn moves a colony into another dwelling at an instant. It gives warnings for what
// the maker should know but may do all the same: a finish that has not cured. Errors:
// Conflict for a colony that is gone, one that is held back and no reason is given, or a
// box that is gone or lived in.
func (r *Room) HouseIn(ctx context.Context, m Housing) ([]string, error) {
	colony, dwelling, box, at := m.ColonyID, m.Dwelling, m.BoxID, m.At
	var warnings []string
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		warnings = nil
		c, err := r.lockColony(ctx, tx, colony)
		if err != nil {
			return err
		}
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if at.IsZero() {
			at = r.db.Now()
		}
		switch {
		case c.EndedAt != nil:
			return fault.New(fault.Conflict, "This colony is gone; it cannot be moved into a dwelling.")
		case at.After(r.db.Now().Add(time.Hour)):
			return fault.Bad("/happened_at", "Housing is noted when it is done, not before.")
		}
		spite, err := inSpite(ctx, tx, c, at, m.InSpite, "moved")
		if err != nil {
			return err
		}
		if box != nil {
			dwelling = "box"
			var cured *time.Time
			var gone *time.Time
			if err := tx.QueryRow(ctx, `SELECT cured_on, gone_at FROM box WHERE id = $1 FOR UPDATE`, *box).Scan(&cured, &gone); err != nil {
				return err
			}
			if gone != nil {
				return fault.New(fault.Conflict, "This box is gone by the book.")
			}
			if cured != nil && cured.After(house.DateIn(at, set.Location())) {
				warnings = append(warnings, fmt.Sprintf("The finish of this box cures until %s; fumes can harm the bees.", cured.Format("2 January 2006")))
			}
		}
		if dwelling != "box" && dwelling != "log" && dwelling != "tree" && dwelling != "other" || (dwelling == "box") != (box != nil) {
			return fault.Bad("/dwelling", "It lives in a box (say which), log, tree or other place.")
		}
		if _, err := tx.Exec(ctx, `UPDATE housing SET to_at = greatest($2, from_at) WHERE colony_id = $1 AND to_at IS NULL`, colony, at); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `INSERT INTO housing (colony_id, dwelling, box_id, description, from_at) VALUES ($1, $2, $3, $4, $5)`, colony, dwelling, box, m.Description, at); err != nil {
			return err
		}
		return note(ctx, tx, Event{ColonyID: colony, Kind: "moved", HappenedAt: at, Note: sentences("Into another dwelling: "+dwelling+".", m.Description, spite)})
	})
	return warnings, err
}
