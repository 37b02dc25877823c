package apiary

import (
	"context"
	"slices"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Coming is a colony that will be, or is, ready, with the chance of it.
type Coming struct {
	Label    string // C0012, or "split of C0007"
	ColonyID int64  // 0 for a split to come
	BoxID    *int64 // the box it lives in
	ReadyOn  time.Time
	Chance   float64 // 0 to 1
}

// Chances of a colony that was not lost so far to be there on its day. Our estimates;
// the maker's own log will replace them.
const (
	readyChance    = 0.98 // settled and looked at
	settlingChance = 0.85 // split already, settling
	// BadSeasonChance and BadSeasonFactor say how often a season is bad for all
	// colonies at once, and what is left of each chance then. Our estimates.
	BadSeasonChance = 0.15
	BadSeasonFactor = 0.5
)

// ComingOf gives the colonies of a species that nobody has claimed, ready or to come
// until horizon: settled ones, those settling, and splits that the season and the
// interval since the last split allow. Sorted by day; loc is the workshop's zone.
func (r *Room) ComingOf(ctx context.Context, sp Species, loc *time.Location, today, horizon time.Time) ([]Coming, error) {
	list, err := r.livingOf(ctx, sp.ID)
	if err != nil {
		return nil, err
	}
	var out []Coming
	for _, c := range list {
		if !c.Claimed {
			switch {
			case c.SettledOn != nil:
				out = append(out, Coming{Label: c.Number, ColonyID: c.ID, BoxID: c.BoxID, ReadyOn: later(*c.SettledOn, today), Chance: readyChance})
			case c.SettlesAbout != nil:
				out = append(out, Coming{Label: c.Number, ColonyID: c.ID, BoxID: c.BoxID, ReadyOn: later(*c.SettlesAbout, today), Chance: settlingChance})
			}
		}
		if c.SettledOn != nil {
			out = append(out, splitsToCome(sp, c, loc, today, horizon)...)
		}
	}
	slices.SortStableFunc(out, func(a, b Coming) int { return a.ReadyOn.Compare(b.ReadyOn) })
	return out, nil
}

// livingColony is what the supply needs to know of a colony.
type livingColony struct {
	ID           int64      `db:"id"`
	Number       string     `db:"number"`
	BoxID        *int64     `db:"box_id"`
	BeganOn      *time.Time `db:"began_on"`
	SettledOn    *time.Time `db:"settled_on"`
	SettlesAbout *time.Time `db:"settles_about"`
	Claimed      bool       `db:"claimed"`
	LastSplitAt  *time.Time `db:"last_split_at"`
}

// livingOf reads the living colonies that may be promised. The kind is chosen last: a
// planner that guesses few of a kind would join them one by one.
func (r *Room) livingOf(ctx context.Context, species int64) ([]livingColony, error) {
	return postgres.List[livingColony](ctx, r.db, `WITH ours AS MATERIALIZED (
	SELECT DISTINCT ON (c.id) c.id, c.number, h.box_id, c.began_on, c.settled_on, c.settles_about, x.bee_species_id
	FROM colony c LEFT JOIN colony_owner o ON o.colony_id = c.id AND o.to_at IS NULL LEFT JOIN housing h ON h.colony_id = c.id AND h.to_at IS NULL
		LEFT JOIN colony_species x ON x.colony_id = c.id
	WHERE c.ended_at IS NULL AND c.held_back_because = '' AND o.party_id IS NULL ORDER BY c.id, x.found_on DESC, x.id DESC)
SELECT c.id, c.number, c.box_id, c.began_on, c.settled_on, c.settles_about,
	EXISTS (SELECT FROM claim l WHERE l.colony_id = c.id AND l.ended_at IS NULL) AS claimed,
	(SELECT max(e.happened_at) FROM colony_event e WHERE e.colony_id = c.id AND e.kind = 'split') AS last_split_at
FROM ours c WHERE c.bee_species_id = $1 ORDER BY c.id LIMIT 1000`, species)
}

func splitsToCome(sp Species, c livingColony, loc *time.Location, today, horizon time.Time) []Coming {
	if sp.SplitIntervalMonths == nil || sp.SettlingWeeks == nil || len(sp.SplitMonths) == 0 {
		return nil
	}
	next := today
	switch {
	case c.LastSplitAt != nil:
		next = later(house.DateIn(*c.LastSplitAt, loc).AddDate(0, *sp.SplitIntervalMonths, 0), today)
	case c.BeganOn != nil:
		next = later(c.BeganOn.AddDate(0, *sp.SplitIntervalMonths, 0), today)
	}
	var out []Coming
	for len(out) < 4 {
		next = nextSeason(next, sp.SplitMonths)
		ready := next.AddDate(0, 0, 7**sp.SettlingWeeks)
		if ready.After(horizon) {
			break
		}
		out = append(out, Coming{Label: "split of " + c.Number, ReadyOn: ready, Chance: sp.SplitChancePct / 100})
		next = next.AddDate(0, *sp.SplitIntervalMonths, 0)
	}
	return out
}

// nextSeason is day, or the first of the next month in which splits are made.
func nextSeason(day time.Time, months []int32) time.Time {
	for range 13 {
		if slices.Contains(months, int32(day.Month())) {
			return day
		}
		day = time.Date(day.Year(), day.Month()+1, 1, 0, 0, 0, 0, time.UTC)
	}
	return day
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
