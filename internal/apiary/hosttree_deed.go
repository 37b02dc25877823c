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

// Visit is what was seen at a host tree.
type Visit struct {
	TreeID      int64      `db:"host_tree_id"`
	HappenedAt  time.Time  `db:"happened_at"`
	Found       string     `db:"found"` // see Findings; "" for other
	Seen        string     `db:"seen"`  // in words; may be empty when Found says it
	NextVisitOn *time.Time `db:"-"`     // nil: reckoned
}

// Findings are what a visit finds, each said with one tap, in the order in which a box
// fills; common practice, no source.
var Findings = []struct{ Found, Words string }{
	{"passing", "Bees go through the box"}, {"wax", "Wax or resin in the box"}, {"brood", "Brood in the box"}, {"ready", "Own queen, brood and pots: settled"},
	{"quiet", "No bees seen"}, {"blocked", "Tube was blocked, cleared"}, {"harm", "Box, tube or tree is damaged"}, {"other", "Something else"},
}

// FoundWords says a finding in words; "" for other.
func FoundWords(found string) string {
	for _, f := range Findings {
		if f.Found == found && found != "other" {
			return f.Words
		}
	}
	return ""
}

// Words says what was found and seen.
func (v Visit) Words() string {
	if w := FoundWords(v.Found); w != "" && v.Seen != "" && v.Seen != w {
		return w + ". " + v.Seen
	} else if w != "" {
		return w
	}
	return v.Seen
}

// HostTreeVisit notes what was seen at a tree, and when to come next. A visit noted late
// does not change what a later one said of the next.
func (r *Room) HostTreeVisit(ctx context.Context, v Visit) error {
	v.Seen = strings.TrimSpace(v.Seen)
	if v.Found == "" {
		v.Found = "other"
	}
	now := r.db.Now()
	if v.HappenedAt.IsZero() {
		v.HappenedAt = now
	}
	var l fault.List
	l.Check(v.Found == "other" || FoundWords(v.Found) != "", "/found", "Choose from the list what you found.")
	l.Check(v.Seen != "" || v.Found != "other", "/seen", "Note what was seen.")
	l.Text("/seen", v.Seen, maxProse)
	l.Check(!v.HappenedAt.After(now.Add(time.Hour)), "/happened_at", "A visit is noted when it is done, not before.")
	l.Check(v.NextVisitOn == nil || !v.NextVisitOn.Before(v.HappenedAt.AddDate(0, 0, -1)), "/next_visit_on", "The next visit comes after this one.")
	if err := l.Err(); err != nil {
		return err
	}
	if v.Seen == "" {
		v.Seen = FoundWords(v.Found)
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM host_tree WHERE id = $1 FOR UPDATE`, v.TreeID); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE host_tree SET next_visit_on = $2 WHERE id = $1 AND NOT EXISTS (SELECT FROM host_tree_visit x WHERE x.host_tree_id = $1 AND x.happened_at > $3)`, v.TreeID, v.NextVisitOn, v.HappenedAt); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `INSERT INTO host_tree_visit (host_tree_id, happened_at, found, seen) VALUES ($1, $2, $3, $4)`, v.TreeID, v.HappenedAt, v.Found, v.Seen)
		return err
	})
}

// TreeSettling says that the box at a tree holds a colony of its own.
type TreeSettling struct {
	TreeID    int64
	Version   int
	On        time.Time // when it was seen; zero: today
	BoxLeaves *bool     // nil: as noted at the tree
	SpeciesID int64     // 0: as noted at the tree
	Sure      bool
	Notes     string
}

// HostTreeSettle makes the settled bees in the box at a tree a colony of record: drawn
// from the tree, with whose word and under which permit. When the box stays at the tree
// the colony is held back, so that nobody is promised it. Errors: Invalid for a day to
// come or an unknown kind of bee; Conflict without a box or when it is settled already.
func (r *Room) HostTreeSettle(ctx context.Context, n TreeSettling) (Colony, error) {
	var out Colony
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		t, today, err := r.lockTree(ctx, tx, n.TreeID, n.Version)
		if err != nil {
			return err
		}
		if n.On.IsZero() {
			n.On = today
		}
		if n.SpeciesID == 0 && t.BeeSpeciesID != nil {
			n.SpeciesID = *t.BeeSpeciesID
		}
		if n.BoxLeaves != nil {
			t.BoxLeaves = *n.BoxLeaves
		}
		switch {
		case t.BoxID == nil:
			return fault.New(fault.Conflict, "No box is fixed to %s by the book. Note first which one.", t.Name)
		case t.SettledOn != nil:
			return fault.New(fault.Conflict, "The box at %s is noted as settled since %s.", t.Name, t.SettledOn.Format("2 January 2006"))
		case n.On.After(today):
			return fault.Bad("/on", "Settled is what was seen; it cannot lie in the future.")
		case t.FixedOn != nil && n.On.Before(*t.FixedOn):
			return fault.Bad("/on", "The box was fixed on %s; it cannot have settled before.", t.FixedOn.Format("2 January 2006"))
		case n.SpeciesID == 0:
			return fault.Bad("/species_id", "Say which kind of bee it is, as far as you know.")
		}
		c := NewColony{BeganOn: &n.On, Origin: t.OriginWords(), SpeciesID: n.SpeciesID, SpeciesSure: n.Sure, FoundBy: "seen at the tree", BoxID: t.BoxID, HousedAt: r.db.Now(), SiteID: t.SiteID, Place: t.Name, SettledOn: &n.On, Notes: n.Notes}
		if t.FixedOn != nil {
			c.BeganAbout = "box fixed on " + t.FixedOn.Format("2 January 2006")
		}
		if out, err = r.ColonyMake(ctx, c); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE colony SET host_tree_id = $2, permit_id = $3 WHERE id = $1`, out.ID, t.ID, t.PermitID); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `INSERT INTO colony_event (colony_id, kind, happened_at, note) VALUES ($1, 'settled', $2, $3)`, out.ID, r.db.Now(), "In the box at "+t.Name); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE host_tree SET settled_on = $2, colony_id = $3, box_leaves = $4, next_visit_on = NULL WHERE id = $1`, t.ID, n.On, out.ID, t.BoxLeaves); err != nil {
			return err
		}
		if !t.BoxLeaves {
			if err := r.HoldBack(ctx, out.ID, clipWords("stays at "+t.Name)); err != nil {
				return err
			}
		}
		out, err = r.ColonyGet(ctx, out.ID)
		return err
	})
	return out, err
}

// OriginWords says where a colony drawn from the tree comes from and with whose word.
func (t HostTree) OriginWords() string {
	text := "Drawn from " + t.Name
	if t.Place != "" {
		text += ", " + t.Place
	}
	if t.Permission != "" {
		text += "; allowed by " + t.Permission
		if t.PermissionOn != nil {
			text += " on " + t.PermissionOn.Format("2 January 2006")
		}
		if t.PermissionUntil != nil {
			text += " until " + t.PermissionUntil.Format("2 January 2006")
		}
	}
	if p, named := t.Permit(); named {
		text += "; permit " + p.Title()
	}
	return text + "."
}

// BoxAway says that the box at a tree was taken down.
type BoxAway struct {
	TreeID  int64
	Version int
	At      time.Time // zero: now
	SiteID  *int64
	Place   string // where it went
	Note    string
}

// HostTreeBoxAway notes that the box was taken from a tree: a settled colony goes with it
// and stands in the movement record, an unsettled one stays in the tree. The tree keeps
// its bees and can take another box. It gives the id of the colony that went, 0 for none.
func (r *Room) HostTreeBoxAway(ctx context.Context, n BoxAway) (int64, error) {
	var went int64
	n.Place = strings.TrimSpace(n.Place)
	var l fault.List
	l.Check(n.Place != "", "/place", "Say where it went.")
	l.Text("/place", n.Place, maxWords)
	l.Text("/note", n.Note, maxWords)
	l.Check(!n.At.After(r.db.Now().Add(time.Hour)), "/happened_at", "This is noted when it is done, not before.")
	if err := l.Err(); err != nil {
		return 0, err
	}
	if n.At.IsZero() {
		n.At = r.db.Now()
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		t, _, err := r.lockTree(ctx, tx, n.TreeID, n.Version)
		if err != nil {
			return err
		}
		if t.BoxID == nil {
			return fault.New(fault.Conflict, "No box is fixed to %s by the book.", t.Name)
		}
		seen := fmt.Sprintf("Box %s taken away, empty", text(t.BoxSerial))
		if t.ColonyID != nil {
			went = *t.ColonyID
			seen = fmt.Sprintf("Box %s taken away with colony %s", text(t.BoxSerial), text(t.ColonyNumber))
			if err := r.releaseFromTree(ctx, tx, t); err != nil {
				return err
			}
			if err := r.Give(ctx, Move{ColonyID: went, SiteID: n.SiteID, Place: n.Place, At: n.At, PermitID: t.PermitID, Note: clipWords("from " + t.Name + ". " + n.Note)}); err != nil {
				return err
			}
		}
		if _, err := tx.Exec(ctx, `UPDATE host_tree SET box_id = NULL, fixed_on = NULL, settled_on = NULL, colony_id = NULL, next_visit_on = NULL WHERE id = $1`, t.ID); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `INSERT INTO host_tree_visit (host_tree_id, happened_at, seen) VALUES ($1, $2, $3)`, t.ID, n.At, strings.TrimSpace(seen+" to "+n.Place+". "+n.Note))
		return err
	})
	return went, err
}

// releaseFromTree ends the holding back of a colony that was to stay at the tree and goes
// after all; one held back for another reason stays so.
func (r *Room) releaseFromTree(ctx context.Context, tx pgx.Tx, t HostTree) error {
	held, err := postgres.Value[string](ctx, tx, `SELECT held_back_because::text FROM colony WHERE id = $1 FOR UPDATE`, *t.ColonyID)
	if err != nil || held != clipWords("stays at "+t.Name) {
		return err
	}
	return r.Release(ctx, *t.ColonyID)
}

// HostTreePutAway takes a tree off the lists, with the reason: felled, sold, the owner's
// word taken back. A box must be taken away first.
func (r *Room) HostTreePutAway(ctx context.Context, id int64, version int, because string) error {
	because = strings.TrimSpace(because)
	if because == "" || len([]rune(because)) > maxWords {
		return fault.Bad("/because", "Say why, in at most %d characters.", maxWords)
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		t, _, err := r.lockTree(ctx, tx, id, version)
		if err != nil {
			return err
		}
		if t.BoxID != nil {
			return fault.New(fault.Conflict, "Box %s is fixed to this tree by the book. Note first that it was taken away.", text(t.BoxSerial))
		}
		_, err = tx.Exec(ctx, `UPDATE host_tree SET put_away_at = $2, put_away_because = $3, next_visit_on = NULL WHERE id = $1`, id, r.db.Now(), because)
		return err
	})
}

// lockTree locks a tree in version version and gives it with the workshop's day.
func (r *Room) lockTree(ctx context.Context, tx pgx.Tx, id int64, version int) (HostTree, time.Time, error) {
	if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM host_tree WHERE id = $1 FOR UPDATE`, id); err != nil {
		return HostTree{}, time.Time{}, err
	}
	t, err := postgres.One[HostTree](ctx, tx, treeSelect+`WHERE t.id = $1`, id)
	if err != nil {
		return t, time.Time{}, err
	}
	switch {
	case t.Version != version:
		return t, time.Time{}, fault.New(fault.Stale, "Somebody has changed this tree since you read it. Read it again.")
	case t.PutAway:
		return t, time.Time{}, fault.New(fault.Conflict, "This tree is put away: %s.", t.PutAwayBecause)
	}
	set, err := house.SettingsIn(ctx, tx)
	return t, set.Today(r.db.Now()), err
}

func text(p *string) string {
	if p == nil {
		return ""
	}
	return *p
}

// clipWords cuts a text to what a line of the book holds.
func clipWords(s string) string {
	s = strings.TrimSpace(s)
	if r := []rune(s); len(r) > maxWords {
		return string(r[:maxWords])
	}
	return s
}
