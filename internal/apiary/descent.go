package apiary

import (
	"context"
	"time"

	"kerfbook/internal/postgres"
)

// Kin is a colony in a descent: one that another came from, or that came from it.
type Kin struct {
	ColonyID   int64      `db:"id"`
	Number     string     `db:"number"`
	Name       string     `db:"name"`
	Step       int        `db:"step"` // generations down from the colony looked at; below 0 an ancestor
	BeganOn    *time.Time `db:"began_on"`
	BeganAbout string     `db:"began_about"`
	EndedHow   string     `db:"ended_how"`
	Held       string     `db:"held"`
	Owner      string     `db:"owner"` // "" is the workshop
	WasOurs    bool       `db:"was_ours"`
}

// How a colony stands in a descent.
const (
	StandsHere       = "here"        // lives, the workshop's
	StandsHeldBack   = "held back"   // the same, and is held back
	StandsHandedOver = "handed over" // was the workshop's
	StandsAnothers   = "another's"
	StandsGone       = "gone" // lost, united
)

// Stands says how it stands, one of the Stands constants.
func (k Kin) Stands() string {
	switch {
	case k.EndedHow != "":
		return StandsGone
	case k.Owner != "" && k.WasOurs:
		return StandsHandedOver
	case k.Owner != "":
		return StandsAnothers
	case k.Held != "":
		return StandsHeldBack
	}
	return StandsHere
}

// Words says the same with why or to whom.
func (k Kin) Words() string {
	switch k.Stands() {
	case StandsGone:
		return "gone: " + k.EndedHow
	case StandsHandedOver:
		return "handed over to " + k.Owner
	case StandsAnothers:
		return "of " + k.Owner
	case StandsHeldBack:
		return "held back: " + k.Held
	}
	return ""
}

// Descent is a colony with its ancestors and its offspring, and who came from whom.
type Descent struct {
	ColonyID int64
	Kin      []Kin    // nearest first, itself among them
	Ties     []Parent // ColonyID, ParentID, Kind, HappenedOn, of those in Kin alone
	LeftOut  int      // further kin that is not shown
}

// How far a descent goes: generations up and down, and colonies in all. Our limits, so
// that a drawing stays one.
const (
	descentSteps = 6
	descentMost  = 60
)

// DescentOf gives the ancestors and offspring of a colony, the nearest where there are
// more than 60. The primary key of colony_parent's pairs and colony_parent_of serve it.
// Errors: NotFound.
func (r *Room) DescentOf(ctx context.Context, colony int64) (Descent, error) {
	d := Descent{ColonyID: colony}
	if _, err := postgres.Value[int64](ctx, r.db, `SELECT id FROM colony WHERE id = $1`, colony); err != nil {
		return d, err
	}
	list, err := postgres.List[Kin](ctx, r.db, `WITH RECURSIVE up (id, step) AS (
		SELECT $1::bigint, 0 UNION SELECT p.parent_id, u.step - 1 FROM up u JOIN colony_parent p ON p.colony_id = u.id WHERE u.step > -$2::int),
	down (id, step) AS (
		SELECT $1::bigint, 0 UNION SELECT p.colony_id, d.step + 1 FROM down d JOIN colony_parent p ON p.parent_id = d.id WHERE d.step < $2::int),
	kin AS (SELECT DISTINCT ON (id) id, step FROM (SELECT id, step FROM up UNION ALL SELECT id, step FROM down) k ORDER BY id, abs(step) DESC)
SELECT c.id, c.number, c.name, k.step, c.began_on, c.began_about, c.ended_how, c.held_back_because AS held, coalesce(p.name::text, CASE WHEN o.party_id IS NOT NULL THEN 'somebody' END, '') AS owner,
	EXISTS (SELECT FROM colony_owner w WHERE w.colony_id = c.id AND w.party_id IS NULL) AS was_ours
FROM kin k JOIN colony c ON c.id = k.id LEFT JOIN colony_owner o ON o.colony_id = c.id AND o.to_at IS NULL LEFT JOIN party p ON p.id = o.party_id
ORDER BY abs(k.step), c.id LIMIT 1000`, colony, descentSteps)
	if err != nil {
		return d, err
	}
	d.Kin = list
	if len(list) > descentMost {
		d.Kin, d.LeftOut = list[:descentMost], len(list)-descentMost
	}
	ids := make([]int64, len(d.Kin))
	for i, k := range d.Kin {
		ids[i] = k.ColonyID
	}
	d.Ties, err = postgres.List[Parent](ctx, r.db, `SELECT p.colony_id, p.parent_id, c.number, c.name, p.kind, p.happened_on FROM colony_parent p JOIN colony c ON c.id = p.parent_id
WHERE p.colony_id = ANY ($1) AND p.parent_id = ANY ($1) ORDER BY p.id`, ids)
	return d, err
}
