package apiary

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// inSpite says whether a deed done to a colony at an instant may stand in the book. A
// colony that was held back by then is not moved, split or given; when it was done all the
// same, a reason lets the fact stand, and the words for the log come back. Errors:
// Conflict without a reason, pointing at /in_spite.
func inSpite(ctx context.Context, tx pgx.Tx, c Colony, at time.Time, reason, not string) (string, error) {
	if c.HeldBackBecause == "" {
		return "", nil
	}
	since, err := postgres.Value[*time.Time](ctx, tx, `SELECT max(happened_at) FROM colony_event WHERE colony_id = $1 AND kind = 'held back'`, c.ID)
	if err != nil {
		return "", err
	}
	if since != nil && at.Before(*since) {
		return "", nil
	}
	reason = strings.TrimSpace(reason)
	if reason == "" {
		detail := fmt.Sprintf("Colony %s is held back (%s) and is not %s until it is released. If it was done all the same, say why.", c.Number, c.HeldBackBecause, not)
		return "", &fault.Error{Kind: fault.Conflict, Detail: detail, Fields: []fault.Field{{Pointer: "/in_spite", Detail: detail}}}
	}
	var l fault.List
	if l.Short("/in_spite", reason); l.Err() != nil {
		return "", l.Err()
	}
	return fmt.Sprintf("In spite of being held back (%s): %s", c.HeldBackBecause, reason), nil
}

// heldParents asks inSpite for each parent of a new colony, at the day it had part in it,
// and writes the words into the parent's log. It gives why the child is held back from the
// first: what its parent may have, it may have.
func (r *Room) heldParents(ctx context.Context, tx pgx.Tx, n NewColony, loc *time.Location) (string, error) {
	because := ""
	for _, p := range n.Parents {
		c, err := r.lockColony(ctx, tx, p.ParentID)
		if err != nil {
			return "", err
		}
		at := n.HousedAt
		for _, on := range []*time.Time{n.BeganOn, p.HappenedOn} {
			if on != nil && on.Before(house.DateIn(n.HousedAt, loc)) {
				at = time.Date(on.Year(), on.Month(), on.Day(), 23, 59, 59, 0, loc)
			}
		}
		words, err := inSpite(ctx, tx, c, at, n.InSpite, p.Kind)
		if err != nil {
			return "", err
		}
		if words == "" {
			continue
		}
		if because == "" {
			because = clip("as its parent " + c.Number + ": " + c.HeldBackBecause)
		}
		if err := note(ctx, tx, Event{ColonyID: c.ID, Kind: "note", HappenedAt: at, Note: words}); err != nil {
			return "", err
		}
	}
	return because, nil
}

// HoldBack keeps a colony from being promised, moved or split; what was promised of it,
// and of the box it lives in, ends and stands on the Day sheet.
func (r *Room) HoldBack(ctx context.Context, colony int64, because string) error {
	because = strings.TrimSpace(because)
	if because == "" {
		return fault.Bad("/because", "Say why it is held back.")
	}
	return r.changeLiving(ctx, Event{ColonyID: colony, Kind: "held back", Note: because}, func(ctx context.Context, tx pgx.Tx, c Colony, _ Event) error {
		if _, err := claims.BreakForFact(ctx, tx, r.db.Now(), claims.Colony(colony), 0, "held back: "+because); err != nil {
			return err
		}
		if c.BoxID != nil {
			if _, err := claims.BreakForFact(ctx, tx, r.db.Now(), claims.Box(*c.BoxID), 0, clip("colony "+c.Number+" in it is held back: "+because)); err != nil {
				return err
			}
		}
		_, err := tx.Exec(ctx, `UPDATE colony SET held_back_because = $2 WHERE id = $1`, colony, because)
		return err
	})
}

// Release ends HoldBack.
func (r *Room) Release(ctx context.Context, colony int64) error {
	return r.changeLiving(ctx, Event{ColonyID: colony, Kind: "released"}, func(ctx context.Context, tx pgx.Tx, _ Colony, _ Event) error {
		_, err := tx.Exec(ctx, `UPDATE colony SET held_back_because = '' WHERE id = $1`, colony)
		return err
	})
}

// clip cuts a one-line text to what the book holds.
func clip(s string) string {
	if runes := []rune(s); len(runes) > maxWords {
		return string(runes[:maxWords])
	}
	return s
}
