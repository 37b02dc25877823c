package answer

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// heldStop is a stop of a run whose colony is held back.
type heldStop struct {
	StopID   int64     `db:"stop_id"`
	RunID    int64     `db:"run_id"`
	Run      string    `db:"run"`
	On       time.Time `db:"run_on"`
	ColonyID int64     `db:"colony_id"`
	Number   string    `db:"number"`
	Because  string    `db:"because"`
}

// selectHeldStops reads the stops that are to move bees which are held back: those put
// aside for the piece now, else those the run was planned with. Visits move none.
const selectHeldStops = `SELECT x.id AS stop_id, n.id AS run_id, n.number AS run, n.run_on, c.id AS colony_id, c.number, c.held_back_because AS because
FROM run_stop x JOIN run n ON n.id = x.run_id LEFT JOIN claim k ON k.order_unit_id = x.order_unit_id AND k.colony_id IS NOT NULL AND k.ended_at IS NULL
JOIN colony c ON c.id = coalesce(k.colony_id, x.colony_id) WHERE c.held_back_because <> '' AND n.kind <> 'visits' AND x.done_at IS NULL AND n.cancelled_at IS NULL AND `

// heldAt gives the colony of a stop that is held back, nil when none is, and refuses it
// without the owner's reason.
func (r *Room) heldAt(ctx context.Context, tx pgx.Tx, stop int64, inSpite string) (*heldStop, error) {
	list, err := postgres.List[heldStop](ctx, tx, selectHeldStops+`x.id = $1 ORDER BY x.id FOR SHARE OF c`, stop)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	h := &list[0]
	if strings.TrimSpace(inSpite) == "" {
		detail := fmt.Sprintf("Colony %s is held back (%s): it stays where it is. If it went all the same, the owner says why.", h.Number, h.Because)
		return nil, &fault.Error{Kind: fault.Conflict, Detail: detail, Fields: []fault.Field{{Pointer: "/in_spite", Detail: detail}}}
	}
	if p := access.PersonFrom(ctx); p.Known() && p.Role != access.Owner {
		return nil, fault.New(fault.Forbidden, "Colony %s is held back (%s). Only the owner can say that it went all the same.", h.Number, h.Because)
	}
	return h, nil
}

// went is what the log says of a held-back colony that went on a run.
func (h heldStop) went(inSpite string) string {
	return fmt.Sprintf("With run %s, in spite of being held back (%s): %s", h.Run, h.Because, strings.TrimSpace(inSpite))
}

// heldOn says of the stops of a run which colony is held back, and why.
func (r *Room) heldOn(ctx context.Context, run int64) (map[int64]heldStop, error) {
	list, err := postgres.List[heldStop](ctx, r.db, selectHeldStops+`n.id = $1 ORDER BY x.id`, run)
	out := map[int64]heldStop{}
	for _, h := range list {
		out[h.StopID] = h
	}
	return out, err
}

// words is what a run says of it.
func (h heldStop) words() string {
	return fmt.Sprintf("Colony %s is held back (%s). Leave it where it is; put another aside, or put this stop off.", h.Number, h.Because)
}

// held: runs that are to take colonies which are held back.
func (s *sheet) held(ctx context.Context) error {
	list, err := postgres.List[heldStop](ctx, s.db, selectHeldStops+`n.run_on >= $1::date - 14 ORDER BY n.run_on, x.id LIMIT $2`, s.day, dayLinesOfSort)
	for _, h := range list {
		s.add("held", access.Runs, fmt.Sprintf("stop:%d:held:%d", h.StopID, h.ColonyID), s.path("/runs/", h.RunID), fmt.Sprintf("Run %s on %s is to take colony %s, which is held back: %s.", h.Run, show.Date(h.On), h.Number, h.Because), h.On, h.On.Before(s.day))
	}
	return err
}

// beesInside refuses to promise a box with bees in it that may not go with it: such as are
// held back, or somebody's who is not the one it is promised to.
func (r *Room) beesInside(ctx context.Context, box, party int64) error {
	b, err := r.Workshop.BoxGet(ctx, box)
	if err != nil || b.ColonyID == nil {
		return err
	}
	c, err := r.Apiary.ColonyGet(ctx, *b.ColonyID)
	switch {
	case err != nil:
		return err
	case c.HeldBackBecause != "":
		return fault.New(fault.Conflict, "In box %s lives colony %s, which is held back (%s). Choose another box, or release the colony.", b.Serial, c.Number, c.HeldBackBecause)
	case !c.Ours() && *c.OwnerID != party:
		return fault.New(fault.Conflict, "In box %s lives colony %s of %s. Choose another box, or house the colony elsewhere.", b.Serial, c.Number, c.OwnerName)
	}
	return nil
}
