package apiary

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// HostTree is a hollow tree that colonies are drawn from: a box is fixed to it, the bees
// go through the box until it holds a colony of its own, and then the box leaves or stays.
type HostTree struct {
	ID              int64      `db:"id"`
	Version         int        `db:"version"`
	Name            string     `db:"name"`
	Place           string     `db:"place"`     // in words
	Latitude        *float64   `db:"latitude"`  // degrees, north positive
	Longitude       *float64   `db:"longitude"` // degrees, east positive
	SiteID          *int64     `db:"site_id"`
	OwnerPartyID    *int64     `db:"owner_party_id"`
	Permission      string     `db:"permission"` // who allowed it
	PermissionOn    *time.Time `db:"permission_on"`
	PermissionUntil *time.Time `db:"permission_until"` // last day; nil: until recalled
	PermitID        *int64     `db:"permit_id"`
	BeeSpeciesID    *int64     `db:"bee_species_id"`
	BoxID           *int64     `db:"box_id"`
	FixedOn         *time.Time `db:"fixed_on"`
	BoxLeaves       bool       `db:"box_leaves"`       // when settled the box leaves and the tree keeps its bees
	VisitEveryDays  *int       `db:"visit_every_days"` // 1 to 730; nil: as the kind of bee
	NextVisitOn     *time.Time `db:"next_visit_on"`    // as typed; nil: reckoned
	SettledOn       *time.Time `db:"settled_on"`
	ColonyID        *int64     `db:"colony_id"` // of record, in the box that is still fixed
	Notes           string     `db:"notes"`
	PutAway         bool       `db:"put_away"`
	PutAwayBecause  string     `db:"put_away_because"`

	BoxSerial    *string    `db:"box_serial"`
	ColonyNumber *string    `db:"colony_number"`
	SpeciesName  string     `db:"species_name"`
	OwnerName    string     `db:"owner_name"`
	AtLatitude   *float64   `db:"at_latitude"` // its own place, else its site's
	AtLongitude  *float64   `db:"at_longitude"`
	DueOn        *time.Time `db:"due_on"` // next visit, typed or reckoned
	LastVisitAt  *time.Time `db:"last_visit_at"`
	LastFound    string     `db:"last_found"`
	LastSeen     string     `db:"last_seen"`
	PermitNumber string     `db:"permit_number"`
	PermitOf     string     `db:"permit_of"`
	PermitFrom   *time.Time `db:"permit_from"`
	PermitEnds   *time.Time `db:"permit_ends"`
	PermitWarn   int        `db:"permit_warn"`
}

// permissionWarnDays is how long before its end an owner's permission is spoken of. Our
// choice, no source.
const permissionWarnDays = 30

// Permit is the permit under which bees are drawn from the tree; false when none is noted.
func (t HostTree) Permit() (Permit, bool) {
	if t.PermitID == nil {
		return Permit{}, false
	}
	return Permit{ID: *t.PermitID, Number: t.PermitNumber, Authority: t.PermitOf, FromOn: t.PermitFrom, EndsOn: t.PermitEnds, WarnDays: t.PermitWarn}, true
}

// State says in a few words how far the tree is.
func (t HostTree) State() string {
	switch {
	case t.PutAway:
		return "put away"
	case t.BoxID == nil:
		return "no box fixed"
	case t.SettledOn == nil:
		return "drawing"
	case t.BoxLeaves:
		return "settled, the box is to leave"
	}
	return "settled, the box stays"
}

// Asks says what is to be done at the tree next; "" for nothing.
func (t HostTree) Asks() string {
	switch {
	case t.PutAway:
		return ""
	case t.BoxID != nil && t.SettledOn != nil && t.BoxLeaves:
		return "Fetch the box"
	case t.DueOn != nil:
		return "Visit"
	}
	return ""
}

// LookFor is what to look at on the next visit, from what was seen on the last. Common
// practice of drawing colonies, no source.
func (t HostTree) LookFor() string {
	switch {
	case t.BoxID == nil:
		return "Is the hollow still lived in?"
	case t.SettledOn != nil && t.BoxLeaves:
		return "Close the tube side after dusk, take the box off, leave the tree its own entrance."
	case t.SettledOn != nil:
		return "Is the box sound, the entrance free, the bees flying?"
	}
	return map[string]string{
		"passing": "Is there wax or resin in the box yet?", "wax": "Is there brood in the box yet?", "brood": "Own queen, brood and pots? Then it is settled.", "ready": "Is it still strong? Then note it settled.",
		"quiet": "Do bees go through the box at all? Tube tight, tree alive?", "blocked": "Is the tube still free?", "harm": "Does the mend hold?",
	}[t.LastFound] + map[bool]string{true: "Do bees go through the box, and is the tube tight?"}[t.LastFound == "" || t.LastFound == "other"]
}

// Mind is what is wrong with the papers of a tree on day: nobody allowed it, the
// permission or the permit has ended or is about to. A fact is noted all the same.
func (t HostTree) Mind(day time.Time) []string {
	var out []string
	if strings.TrimSpace(t.Permission) == "" && !t.PutAway {
		out = append(out, "Nobody is noted who allowed it. Ask the owner of the land first.")
	}
	if u := t.PermissionUntil; u != nil {
		switch {
		case u.Before(day):
			out = append(out, fmt.Sprintf("The owner's word held until %s. Ask again before you go.", u.Format("2 January 2006")))
		case !u.After(day.AddDate(0, 0, permissionWarnDays)):
			out = append(out, fmt.Sprintf("The owner's word holds until %s.", u.Format("2 January 2006")))
		}
	}
	if p, named := t.Permit(); named {
		if trouble := p.Trouble(day); trouble != "" {
			out = append(out, trouble)
		} else if p.EndsSoon(day) {
			out = append(out, fmt.Sprintf("Permit %s ends on %s.", p.Title(), p.EndsOn.Format("2 January 2006")))
		}
	}
	return out
}

// check looks at what was typed; onEarth at the place.
func (t *HostTree) check() error {
	var l fault.List
	t.Name, t.Place, t.Permission = strings.TrimSpace(t.Name), strings.TrimSpace(t.Place), strings.TrimSpace(t.Permission)
	l.Check(t.Name != "", "/name", "Give the tree a name by which you find it again.")
	for pointer, v := range map[string]string{"/name": t.Name, "/place": t.Place, "/permission": t.Permission} {
		l.Text(pointer, v, maxWords)
	}
	l.Text("/notes", t.Notes, maxProse)
	l.Check(t.BoxID == nil || t.Permission != "", "/permission", "Note who allowed it before a box is fixed to the tree.")
	l.Check(t.FixedOn == nil || t.BoxID != nil, "/fixed_on", "Say which box was fixed to it.")
	l.Check(t.PermissionOn == nil || t.PermissionUntil == nil || !t.PermissionUntil.Before(*t.PermissionOn), "/permission_until", "It cannot end before it was given.")
	l.Check((t.Latitude == nil) == (t.Longitude == nil), "/latitude", "Give both latitude and longitude, or neither.")
	l.Check(t.Latitude == nil || *t.Latitude >= -90 && *t.Latitude <= 90, "/latitude", "Latitude lies between -90 and 90; south is negative.")
	l.Check(t.Longitude == nil || *t.Longitude >= -180 && *t.Longitude <= 180, "/longitude", "Longitude lies between -180 and 180; west is negative.")
	l.Check(t.VisitEveryDays == nil || *t.VisitEveryDays >= 1 && *t.VisitEveryDays <= 730, "/visit_every_days", "Between 1 and 730 days.")
	return l.Err()
}

// HostTreePut stores t: new when t.ID is 0, else a change of version t.Version. A box
// without a day is fixed today. Errors: Invalid; Conflict for a box that is fixed to
// another tree; Stale.
func (r *Room) HostTreePut(ctx context.Context, t HostTree) (HostTree, error) {
	if err := t.check(); err != nil {
		return t, err
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := r.boxToTree(ctx, tx, &t); err != nil {
			return err
		}
		args := []any{t.Name, t.Place, t.Latitude, t.Longitude, t.SiteID, t.OwnerPartyID, t.Permission, t.PermissionOn, t.PermissionUntil, t.PermitID, t.BeeSpeciesID, t.BoxID, t.FixedOn, t.BoxLeaves, t.VisitEveryDays, t.NextVisitOn, t.Notes}
		if t.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO host_tree (name, place, latitude, longitude, site_id, owner_party_id, permission, permission_on, permission_until, permit_id, bee_species_id, box_id, fixed_on, box_leaves, visit_every_days, next_visit_on, notes)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) RETURNING id, version`, args...).Scan(&t.ID, &t.Version)
		}
		err := tx.QueryRow(ctx, `UPDATE host_tree SET name = $1, place = $2, latitude = $3, longitude = $4, site_id = $5, owner_party_id = $6, permission = $7, permission_on = $8, permission_until = $9, permit_id = $10, bee_species_id = $11,
	box_id = $12, fixed_on = $13, box_leaves = $14, visit_every_days = $15, next_visit_on = $16, notes = $17 WHERE id = $18 AND version = $19 RETURNING version`, append(args, t.ID, t.Version)...).Scan(&t.Version)
		return postgres.StaleOr(ctx, tx, err, "host_tree", t.ID)
	})
	return t, err
}

// boxToTree checks the box that t is to hold, and fills in since when. A settled colony's
// box is not changed here: it goes by HostTreeBoxAway.
func (r *Room) boxToTree(ctx context.Context, tx pgx.Tx, t *HostTree) error {
	if t.ID != 0 {
		was, err := postgres.List[struct {
			BoxID    *int64 `db:"box_id"`
			ColonyID *int64 `db:"colony_id"`
		}](ctx, tx, `SELECT box_id, colony_id FROM host_tree WHERE id = $1 FOR UPDATE`, t.ID)
		if err != nil {
			return err
		}
		if len(was) == 1 && was[0].ColonyID != nil && (t.BoxID == nil || *t.BoxID != *was[0].BoxID) {
			return fault.Bad("/box_id", "A settled colony lives in the box at this tree. Note first that the box is taken away.")
		}
	}
	if t.BoxID == nil {
		return nil
	}
	if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM box WHERE id = $1 FOR UPDATE`, *t.BoxID); err != nil {
		if fault.Is(err, fault.NotFound) {
			return fault.Bad("/box_id", "There is no such box.")
		}
		return err
	}
	other, err := postgres.Value[string](ctx, tx, `SELECT coalesce((SELECT name::text FROM host_tree WHERE box_id = $1 AND id <> $2 AND put_away_at IS NULL ORDER BY id LIMIT 1), '')`, *t.BoxID, t.ID)
	if err != nil {
		return err
	}
	if other != "" {
		return fault.New(fault.Conflict, "This box is fixed to %s by the book. Note first that it was taken away there.", other)
	}
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return err
	}
	today := set.Today(r.db.Now())
	if t.FixedOn == nil {
		t.FixedOn = &today
	}
	if t.FixedOn.After(today) {
		return fault.Bad("/fixed_on", "This is noted when the box is fixed, not before.")
	}
	return nil
}
