package apiary

import (
	"strings"
	"time"

	"kerfbook/internal/fault"
)

// Colony is a colony of bees with what holds of it now.
type Colony struct {
	ID              int64      `db:"id"`
	Version         int        `db:"version"`
	Number          string     `db:"number"`
	Name            string     `db:"name"`
	BeganOn         *time.Time `db:"began_on"`
	BeganAbout      string     `db:"began_about"` // such as "about 1961"
	Origin          string     `db:"origin"`
	SettledOn       *time.Time `db:"settled_on"`    // ready to go from this day, as seen
	SettlesAbout    *time.Time `db:"settles_about"` // expected
	HeldBackBecause string     `db:"held_back_because"`
	KeptToSplit     *bool      `db:"kept_to_split"` // as it was said; nil: the log tells
	Kept            bool       `db:"kept"`          // to be split, not to be given away
	EndedAt         *time.Time `db:"ended_at"`
	EndedHow        string     `db:"ended_how"`
	Notes           string     `db:"notes"`

	SpeciesID   *int64     `db:"species_id"` // the latest finding
	SpeciesName *string    `db:"species_name"`
	SpeciesSure *bool      `db:"species_sure"`
	Dwelling    *string    `db:"dwelling"` // box, log, tree, other
	BoxID       *int64     `db:"box_id"`
	BoxSerial   *string    `db:"box_serial"`
	HousedAt    *time.Time `db:"housed_at"`
	OwnerID     *int64     `db:"owner_id"` // nil: the workshop
	OwnerName   string     `db:"owner_name"`
	KeeperID    *int64     `db:"keeper_id"`
	KeeperName  string     `db:"keeper_name"`
	PlaceName   string     `db:"place_name"`
	SiteID      *int64     `db:"site_id"`
	UnitID      *int64     `db:"unit_id"` // the order unit it is claimed for
}

// Ours reports whether the workshop owns it.
func (c Colony) Ours() bool { return c.OwnerID == nil }

// Ready reports whether it can be handed over on day: ours, settled, alive and not
// held back.
func (c Colony) Ready(day time.Time) bool {
	return c.Ours() && c.EndedAt == nil && c.HeldBackBecause == "" && c.SettledOn != nil && !c.SettledOn.After(day)
}

// State says in a few words how it is.
func (c Colony) State(day time.Time) string {
	switch {
	case c.EndedAt != nil:
		return "gone: " + c.EndedHow
	case c.HeldBackBecause != "":
		return "held back: " + c.HeldBackBecause
	case !c.Ours():
		return "belongs to " + c.OwnerName
	case c.UnitID != nil:
		return "promised"
	case c.Ready(day):
		return "ready"
	}
	return "settling"
}

// Parent is a colony that another came from.
type Parent struct {
	ColonyID   int64      `db:"colony_id"`
	ParentID   int64      `db:"parent_id"`
	Number     string     `db:"number"`
	Name       string     `db:"name"`
	Kind       string     `db:"kind"` // split, brood given, united
	HappenedOn *time.Time `db:"happened_on"`
}

// NewColony is a colony to be entered: a split, one drawn from a tree, one bought, or
// one kept since long ago.
type NewColony struct {
	Name         string
	BeganOn      *time.Time
	BeganAbout   string
	Origin       string
	SpeciesID    int64
	SpeciesSure  bool
	FoundBy      string
	OwnerID      *int64       // nil: the workshop
	KeeperID     *int64       // nil: the workshop
	Agreed       string       // what was agreed with the owner, when it is another's
	Keeping      KeepingTerms // the same with price and day, when another's is kept here; Agreed goes before its words
	Dwelling     string       // box, log, tree, other
	BoxID        *int64
	HostTreeID   *int64
	Description  string
	HousedAt     time.Time // zero: now
	HousedAbout  string
	SiteID       *int64
	Place        string
	SettledOn    *time.Time
	SettlesAbout *time.Time
	Parents      []Parent // ParentID, Kind, HappenedOn
	Notes        string
	InSpite      string // why a parent that is held back had part in it
}

func (n *NewColony) check(today time.Time) error {
	var l fault.List
	if n.Dwelling == "" {
		n.Dwelling = "other"
		if n.BoxID != nil {
			n.Dwelling = "box"
		}
	}
	l.Check(n.SpeciesID != 0, "/species_id", "Say which kind of bee it is, as far as you know.")
	l.Check(n.Dwelling == "box" || n.Dwelling == "log" || n.Dwelling == "tree" || n.Dwelling == "other", "/dwelling", "It lives in a box, log, tree or other place.")
	l.Check((n.Dwelling == "box") == (n.BoxID != nil), "/box_id", "Say which box it lives in.")
	for p, v := range map[string]string{"/name": n.Name, "/description": n.Description, "/place": n.Place, "/found_by": n.FoundBy} {
		l.Text(p, strings.TrimSpace(v), maxWords)
	}
	checkAbout(&l, "/began_about", n.BeganAbout, today)
	checkAbout(&l, "/housed_about", n.HousedAbout, today)
	l.Text("/origin", n.Origin, maxProse)
	l.Text("/notes", n.Notes, maxProse)
	l.Text("/agreed", n.Agreed, maxProse)
	tomorrow := today.AddDate(0, 0, 1)
	l.Check(n.BeganOn == nil || n.BeganOn.Before(tomorrow), "/began_on", "A colony cannot have begun in the future.")
	l.Check(n.SettledOn == nil || n.SettledOn.Before(tomorrow), "/settled_on", "Settled is what was seen; for a day to come fill in when it is expected to settle.")
	for _, p := range n.Parents {
		l.Check(p.Kind == "split" || p.Kind == "brood given" || p.Kind == "united", "/parents", "A parent is of the kind split, brood given or united.")
	}
	return l.Err()
}
