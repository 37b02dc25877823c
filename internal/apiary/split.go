package apiary

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

// Splitting is a split that was made.
type Splitting struct {
	ParentID int64
	BoxID    int64     // that the split lives in
	At       time.Time // zero: now
	Note     string
	InSpite  string // why it was split although it is held back; the split is held back too
}

// Split makes a new colony from part of another: the child lives in the box from then on
// and settles after the species' settling weeks. Both logs show it. Errors: Conflict for
// a colony that is gone or of no known kind, one that is held back and no reason is
// given, or a box that is lived in.
func (r *Room) Split(ctx context.Context, s Splitting) (Colony, error) {
	var child Colony
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		p, err := r.lockColony(ctx, tx, s.ParentID)
		if err != nil {
			return err
		}
		switch {
		case p.EndedAt != nil && (s.At.IsZero() || s.At.After(*p.EndedAt)):
			return fault.New(fault.Conflict, "This colony is gone; it cannot be split.")
		case p.SpeciesID == nil:
			return fault.New(fault.Conflict, "Note first which kind of bee it is.")
		case s.At.After(r.db.Now().Add(time.Hour)):
			return fault.Bad("/happened_at", "A split is noted when it is done, not before.")
		}
		sp, err := r.SpeciesGet(ctx, *p.SpeciesID)
		if err != nil {
			return err
		}
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if s.At.IsZero() {
			s.At = r.db.Now()
		}
		on := house.DateIn(s.At, set.Location())
		n := NewColony{BeganOn: &on, Origin: "Split from " + p.Number, SpeciesID: *p.SpeciesID, SpeciesSure: p.SpeciesSure != nil && *p.SpeciesSure, FoundBy: "as its parent", OwnerID: p.OwnerID, KeeperID: p.KeeperID,
			BoxID: &s.BoxID, HousedAt: s.At, Place: p.PlaceName, SiteID: p.SiteID, Notes: s.Note, Parents: []Parent{{ParentID: s.ParentID, Kind: "split", HappenedOn: &on}}, InSpite: s.InSpite}
		if sp.SettlingWeeks != nil {
			n.SettlesAbout = ptr(on.AddDate(0, 0, 7**sp.SettlingWeeks))
		}
		if child, err = r.ColonyMake(ctx, n); err != nil {
			return err
		}
		if err := note(ctx, tx, Event{ColonyID: child.ID, Kind: "note", HappenedAt: s.At, Note: sentences("Began as a split from "+p.Number+".", s.Note)}); err != nil {
			return err
		}
		return note(ctx, tx, Event{ColonyID: s.ParentID, Kind: "split", HappenedAt: s.At, Note: sentences("Gave "+child.Number+".", s.Note)})
	})
	return child, err
}

// note writes an event of a colony; what it says was checked by who calls.
func note(ctx context.Context, tx pgx.Tx, e Event) error {
	_, err := tx.Exec(ctx, `INSERT INTO colony_event (colony_id, kind, happened_at, note) VALUES ($1, $2, $3, $4)`, e.ColonyID, e.Kind, e.HappenedAt, e.Note)
	return err
}

// sentences puts what is said behind one another.
func sentences(parts ...string) string {
	var said []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			said = append(said, p)
		}
	}
	return strings.Join(said, " ")
}
