package apiary

import (
	"context"
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
	Parts    string // which sections went with it, in words for both logs
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
		if p.SpeciesID == nil {
			return fault.New(fault.Conflict, "Note first which kind of bee it is.")
		}
		if err := r.happened(ctx, tx, p, &s.At, ""); err != nil {
			return err
		}
		sp, err := r.SpeciesGet(ctx, *p.SpeciesID)
		if err != nil {
			return err
		}
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		on := house.DateIn(s.At, set.Location())
		n := NewColony{BeganOn: &on, Origin: "Split from " + p.Number, SpeciesID: *p.SpeciesID, SpeciesSure: p.SpeciesSure != nil && *p.SpeciesSure, FoundBy: "as its parent", OwnerID: p.OwnerID, KeeperID: p.KeeperID,
			BoxID: &s.BoxID, HousedAt: s.At, Place: p.PlaceName, SiteID: p.SiteID, Notes: s.Note, Parents: []Parent{{ParentID: s.ParentID, Kind: "split", HappenedOn: &on}}, InSpite: s.InSpite}
		kept, err := r.KeepingOf(ctx, s.ParentID, 0)
		if err != nil {
			return err
		}
		if kept != nil { // as was agreed of its parent; the price is that one's
			n.Keeping = KeepingTerms{Purpose: kept.Purpose, Agreed: sentences("Split from "+p.Number+".", kept.Agreed)}
			if kept.BackOn != nil && !kept.BackOn.Before(set.Today(r.db.Now())) {
				n.Keeping.BackOn = kept.BackOn
			}
		}
		if sp.SettlingWeeks != nil {
			n.SettlesAbout = ptr(on.AddDate(0, 0, 7**sp.SettlingWeeks))
		}
		if child, err = r.ColonyMake(ctx, n); err != nil {
			return err
		}
		if err := note(ctx, tx, Event{ColonyID: child.ID, Kind: "note", HappenedAt: s.At, Note: sentences("Began as a split from "+p.Number+".", s.Parts, s.Note)}); err != nil {
			return err
		}
		return note(ctx, tx, Event{ColonyID: s.ParentID, Kind: "split", HappenedAt: s.At, Note: sentences("Gave "+child.Number+".", s.Parts, s.Note)})
	})
	return child, err
}
