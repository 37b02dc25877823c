package handover

import (
	"cmp"
	"context"
	"slices"
	"time"

	"kerfbook/internal/calc/survival"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// SurvivalBy are the ways to group colonies that were handed over.
var SurvivalBy = []string{"species", "season", "method"}

// Survival is how the colonies of one group lived after the handover. Nothing heard is
// unknown: it is counted neither as alive nor as lost.
type Survival struct {
	Name    string
	Handed  int // colonies handed over
	Alive   int // alive or weak when they were heard of last
	Lost    int
	Unheard int // nothing was ever heard of them
	At      []survival.Point
}

// lifeRow is what is known of a colony since its handover.
type lifeRow struct {
	SpeciesID  *int64     `db:"species_id"`
	Species    string     `db:"species"`
	Method     string     `db:"method"`
	HandedAt   time.Time  `db:"happened_at"`
	Latitude   *float64   `db:"latitude"`
	SeenAt     *time.Time `db:"seen_at"`
	LostOn     *time.Time `db:"lost_on"`
	LostSaidAt *time.Time `db:"lost_said_at"`
	ReturnedAt *time.Time `db:"returned_at"`
}

// How it came to be is read from its parents, else from where it lived first.
const livesSelect = `SELECT x.bee_species_id AS species_id, coalesce(b.name::text, 'not said') AS species, h.happened_at, coalesce(t.latitude, $2) AS latitude, u.returned_at,
	coalesce((SELECT p.kind FROM colony_parent p WHERE p.colony_id = h.colony_id ORDER BY p.id LIMIT 1),
		(SELECT CASE WHEN g.dwelling IN ('tree', 'log') THEN 'drawn from a tree or log' END FROM housing g WHERE g.colony_id = h.colony_id ORDER BY g.from_at, g.id LIMIT 1), 'not said') AS method,
	(SELECT max(f.answered_at) FROM follow_up f WHERE f.handover_id = h.id AND f.answer IN ('alive', 'weak')) AS seen_at,
	l.lost_on, l.answered_at AS lost_said_at
FROM handover h JOIN order_unit u ON u.id = h.order_unit_id LEFT JOIN site t ON t.id = h.site_id
LEFT JOIN LATERAL (SELECT s.bee_species_id FROM colony_species s WHERE s.colony_id = h.colony_id ORDER BY s.found_on DESC, s.id DESC LIMIT 1) x ON true LEFT JOIN bee_species b ON b.id = x.bee_species_id
LEFT JOIN LATERAL (SELECT coalesce(f.lost_on, (f.answered_at AT TIME ZONE $1)::date) AS lost_on, f.answered_at FROM follow_up f WHERE f.handover_id = h.id AND f.answer = 'lost' ORDER BY f.answered_at LIMIT 1) l ON true
WHERE h.colony_id IS NOT NULL AND h.undone_at IS NULL AND ($3::bigint = 0 OR x.bee_species_id = $3) ORDER BY h.id`

func (r *Room) lives(ctx context.Context, set house.Settings, species int64) ([]lifeRow, error) {
	return postgres.List[lifeRow](ctx, r.db, livesSelect, set.TimeZone, set.Latitude, species)
}

// life is the days from the handover to the loss, or to when it was heard of last. A loss
// that was taken back by later news of life is none.
func (w lifeRow) life(loc *time.Location) survival.Life {
	handed := house.DateIn(w.HandedAt, loc)
	days := func(on time.Time) float64 {
		return min(max(0, on.Sub(handed).Hours()/24), survival.MaxDays)
	}
	if w.LostOn != nil && (w.SeenAt == nil || !w.SeenAt.After(*w.LostSaidAt)) {
		return survival.Life{Days: days(*w.LostOn), Lost: true}
	}
	var seen time.Time
	if w.SeenAt != nil {
		seen = *w.SeenAt
	}
	if w.ReturnedAt != nil && w.ReturnedAt.After(seen) { // it came back: seen, and then not asked after
		seen = *w.ReturnedAt
	}
	if seen.IsZero() {
		return survival.Life{}
	}
	return survival.Life{Days: days(house.DateIn(seen, loc))}
}

// season names the season of the handover by whole months: summer begins in December in
// the south, in June in the north. Source: as of the year on the handover sheet.
func (w lifeRow) season(loc *time.Location) string {
	m := int(w.HandedAt.In(loc).Month())
	if w.Latitude != nil && *w.Latitude > 0 {
		m += 6
	}
	return []string{"summer", "autumn", "winter", "spring"}[m%12/3]
}

func (w lifeRow) group(by string, loc *time.Location) string {
	switch by {
	case "season":
		return w.season(loc)
	case "method":
		return w.Method
	}
	return w.Species
}

// SurvivalOf gives how colonies lived after their handover, all together first and then by
// species, season or method, the largest group first; atDays are the days asked for, those
// of the follow-ups when there are none. Errors: Invalid for another grouping.
func (r *Room) SurvivalOf(ctx context.Context, by string, atDays ...float64) ([]Survival, error) {
	if !slices.Contains(SurvivalBy, by) {
		return nil, fault.Bad("/by", "Group by species, season or method.")
	}
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	rows, err := r.lives(ctx, set, 0)
	if err != nil {
		return nil, err
	}
	if len(atDays) == 0 {
		for _, d := range set.FollowUpDays {
			atDays = append(atDays, float64(d))
		}
	}
	loc := set.Location()
	groups := map[string][]lifeRow{}
	for _, w := range rows {
		groups[w.group(by, loc)] = append(groups[w.group(by, loc)], w)
	}
	all, err := survivalOf(ctx, "all", rows, loc, atDays)
	if err != nil {
		return nil, err
	}
	out := []Survival{}
	for name, list := range groups {
		g, err := survivalOf(ctx, name, list, loc, atDays)
		if err != nil {
			return nil, err
		}
		out = append(out, g)
	}
	slices.SortFunc(out, func(a, b Survival) int { return cmp.Or(b.Handed-a.Handed, cmp.Compare(a.Name, b.Name)) })
	return append([]Survival{all}, out...), nil
}

func survivalOf(ctx context.Context, name string, rows []lifeRow, loc *time.Location, atDays []float64) (Survival, error) {
	g := Survival{Name: name, Handed: len(rows)}
	in := survival.In{AtDays: atDays}
	for _, w := range rows {
		l := w.life(loc)
		switch {
		case l.Lost:
			g.Lost++
		case w.SeenAt == nil && w.ReturnedAt == nil:
			g.Unheard++
		default:
			g.Alive++
		}
		in.Lives = append(in.Lives, l)
	}
	out, err := survival.Survival(ctx, in)
	g.At = out.At
	return g, err
}

// Lived gives how long colonies of a species (0: of any) were seen alive after their handover, in colony-years together,
// and how many of them were lost in that time. What was not heard of counts for nothing.
func (r *Room) Lived(ctx context.Context, species int64) (years float64, lost int, err error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return 0, 0, err
	}
	rows, err := r.lives(ctx, set, species)
	for _, w := range rows {
		l := w.life(set.Location())
		years += l.Days / 365.25
		if l.Lost {
			lost++
		}
	}
	return years, lost, err
}
