package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
)

// NewRound asks for a round of visits to host trees.
type NewRound struct {
	On         time.Time
	TreeIDs    []int64
	WithinDays *int // all trees due within so many days from today, 0 to 365, instead of TreeIDs
	Driver     string
	Notes      string
}

// roundMost is how many trees one round holds, as a run holds stops.
const roundMost = 200

// RoundMake plans a round of visits as a run: each tree a stop, in the shortest order from
// the workshop and back; those whose place has no coordinates come last, the one due first
// on top. Errors: Invalid for no trees, more than 200, or a tree that is put away.
func (r *Room) RoundMake(ctx context.Context, n NewRound) (handover.Run, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return handover.Run{}, err
	}
	trees, err := r.roundTrees(ctx, set.Today(r.db.Now()), n)
	if err != nil {
		return handover.Run{}, err
	}
	run := handover.Run{RunOn: n.On, Kind: "visits", Driver: n.Driver, Notes: n.Notes}
	var known, unknown []apiary.HostTree
	var sites []*sales.Site
	for _, t := range trees {
		if t.AtLatitude == nil || t.AtLongitude == nil || set.Latitude == nil {
			unknown = append(unknown, t)
			continue
		}
		known, sites = append(known, t), append(sites, &sales.Site{Latitude: t.AtLatitude, Longitude: t.AtLongitude})
	}
	order, km, err := shortest(ctx, set, sites)
	if err != nil {
		return run, err
	}
	for _, at := range order {
		run.Stops = append(run.Stops, treeStop(known[at]))
	}
	for _, t := range unknown {
		run.Stops = append(run.Stops, treeStop(t))
	}
	if len(known) > 0 {
		run.KM = &km
	}
	return r.Handover.RunMake(ctx, run)
}

func treeStop(t apiary.HostTree) handover.Stop {
	return handover.Stop{HostTreeID: &t.ID, PermitID: t.PermitID, What: clip(t.Name, fault.ShortText)}
}

// roundTrees reads the trees that are meant, the one due first on top.
func (r *Room) roundTrees(ctx context.Context, today time.Time, n NewRound) ([]apiary.HostTree, error) {
	if n.WithinDays != nil {
		if *n.WithinDays < 0 || *n.WithinDays > 365 {
			return nil, fault.Bad("/due_within_days", "Between 0 and 365 days.")
		}
		by := today.AddDate(0, 0, *n.WithinDays)
		list, err := r.Apiary.HostTreeList(ctx, apiary.TreeFilter{DueBy: &by})
		switch {
		case err != nil:
			return nil, err
		case len(list) == 0:
			return nil, fault.Bad("/due_within_days", "No tree is due by then.")
		case len(list) > roundMost:
			return list[:roundMost], nil
		}
		return list, nil
	}
	if len(n.TreeIDs) == 0 || len(n.TreeIDs) > roundMost {
		return nil, fault.Bad("/tree_ids", "Choose at least one tree, and at most %d.", roundMost)
	}
	found, err := r.Apiary.HostTreesOf(ctx, n.TreeIDs)
	if err != nil {
		return nil, err
	}
	var out []apiary.HostTree
	named := map[int64]bool{}
	for _, id := range n.TreeIDs {
		if named[id] {
			continue // named twice, it is called on once
		}
		named[id] = true
		t, ok := found[id]
		switch {
		case !ok:
			return nil, fault.Bad("/tree_ids", "There is no tree of number %d.", id)
		case t.PutAway:
			return nil, fault.Bad("/tree_ids", "%s is put away: %s.", t.Name, t.PutAwayBecause)
		}
		out = append(out, t)
	}
	return out, nil
}

// treesOf reads the host trees of a run.
func (r *Room) treesOf(ctx context.Context, n handover.Run) (map[int64]apiary.HostTree, error) {
	var ids []int64
	for _, st := range n.Stops {
		if st.HostTreeID != nil {
			ids = append(ids, *st.HostTreeID)
		}
	}
	if len(ids) == 0 {
		return nil, nil
	}
	return r.Apiary.HostTreesOf(ctx, ids)
}

// mindPapers says at a stop what to look at there, and which permit or word of an owner
// does not hold on the day of the run. The run is planned all the same.
func (r *Room) mindPapers(ctx context.Context, n handover.Run, st handover.Stop, trees map[int64]apiary.HostTree, c *StopCare) error {
	named := st.PermitID
	if st.HostTreeID != nil {
		t, ok := trees[*st.HostTreeID]
		if !ok {
			return nil
		}
		c.To, c.LookFor, c.DueOn = placeAt(t.AtLatitude, t.AtLongitude), t.LookFor(), t.DueOn
		c.Warnings = append(c.Warnings, t.Mind(n.RunOn)...)
		if c.Who == "" {
			c.Who = t.Name
		}
		if named != nil && t.PermitID != nil && *named == *t.PermitID {
			named = nil // said above
		}
	}
	if st.DoneAt != nil {
		return nil
	}
	trouble, err := r.Apiary.PermitTrouble(ctx, named, n.RunOn)
	if err == nil && trouble != "" {
		c.Warnings = append(c.Warnings, fmt.Sprintf("%s Bees do not travel under it on the day of the run.", trouble))
	}
	return err
}

// minded adds to the warnings of a handover that the permit of its stop did not hold on
// the day; the bees have gone, so nothing is refused.
func (r *Room) minded(ctx context.Context, d giving) ([]string, error) {
	if d.colony == nil {
		return d.warnings, nil
	}
	permit, err := r.stopPermit(ctx, d.RunStopID)
	if err != nil {
		return nil, err
	}
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	trouble, err := r.Apiary.PermitTrouble(ctx, permit, house.DateIn(d.at, set.Location()))
	if err != nil || trouble == "" {
		return d.warnings, err
	}
	return append(d.warnings, trouble+" The bees travelled under it all the same."), nil
}
