package apiary

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Event is something that happened to a colony.
type Event struct {
	ID            int64     `db:"id"`
	ColonyID      int64     `db:"colony_id"`
	Kind          string    `db:"kind"`
	HappenedAt    time.Time `db:"happened_at"`
	HappenedAbout string    `db:"happened_about"` // such as "about 1961"; HappenedAt is then the middle of it
	MassKG        *float64  `db:"mass_kg"`        // of the whole hive
	Note          string    `db:"note"`
}

// EventsOf gives what happened to a colony, newest first.
func (r *Room) EventsOf(ctx context.Context, id int64) ([]Event, error) {
	return postgres.List[Event](ctx, r.db, `SELECT id, colony_id, kind, happened_at, happened_about, mass_kg::float8 AS mass_kg, note FROM colony_event WHERE colony_id = $1 ORDER BY happened_at DESC, id DESC LIMIT 200`, id)
}

// EventNote notes that something happened to a colony, now, at an instant, or about a
// time. Errors: Invalid for the future, a day before the colony began, or a weighing
// without a mass; Conflict after its end; NotFound.
func (r *Room) EventNote(ctx context.Context, e Event) (Event, error) {
	var l fault.List
	l.Text("/note", e.Note, maxProse)
	l.Check(e.MassKG == nil || (*e.MassKG > 0 && *e.MassKG < 500), "/mass_kg", "A hive weighs more than nothing and less than 500 kg.")
	l.Check(e.MassKG != nil || e.Kind != "weighed", "/mass_kg", "Say what it weighs.")
	if err := l.Err(); err != nil {
		return e, err
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		c, err := r.lockColony(ctx, tx, e.ColonyID)
		if err != nil {
			return err
		}
		if err := r.happened(ctx, tx, c, &e.HappenedAt, e.HappenedAbout); err != nil {
			return err
		}
		return tx.QueryRow(ctx, `INSERT INTO colony_event (colony_id, kind, happened_at, happened_about, mass_kg, note) VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`, e.ColonyID, e.Kind, e.HappenedAt, strings.TrimSpace(e.HappenedAbout), e.MassKG, e.Note).Scan(&e.ID)
	})
	return e, err
}

// happened finds when something happened to a colony, and refuses what cannot be: the
// future, a day before it began, and a time after its end.
func (r *Room) happened(ctx context.Context, tx pgx.Tx, c Colony, at *time.Time, words string) error {
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return err
	}
	now, pointer := r.db.Now(), "/happened_at"
	if strings.TrimSpace(words) != "" {
		pointer = "/happened_about"
		if *at, err = aboutAt(pointer, words, now, set.Location()); err != nil {
			return err
		}
	}
	if at.IsZero() {
		*at = now
	}
	var l fault.List
	l.Check(!at.After(now.Add(time.Hour)), pointer, "This cannot have happened in the future.")
	if c.BeganOn != nil && words == "" {
		l.Check(!house.DateIn(*at, set.Location()).Before(*c.BeganOn), pointer, "Colony %s began on %s by the book. Write a later day.", c.Number, c.BeganOn.Format("2 January 2006"))
	}
	if err := l.Err(); err != nil {
		return err
	}
	if c.EndedAt != nil && at.After(*c.EndedAt) && !(words != "" && aboutSpans(words, *c.EndedAt)) {
		return fault.New(fault.Conflict, "Colony %s was gone by then: %s, on %s.", c.Number, c.EndedHow, house.DateIn(*c.EndedAt, set.Location()).Format("2 January 2006"))
	}
	return nil
}

// aboutSpans reports whether an instant lies within a time in words.
func aboutSpans(words string, at time.Time) bool {
	a, ok := aboutOf(words)
	return ok && !at.Before(a.From.AddDate(0, 0, -1)) && at.Before(a.Until.AddDate(0, 0, 1))
}

// note writes an event of a colony; what it says was checked by who calls.
func note(ctx context.Context, tx pgx.Tx, e Event) error {
	_, err := tx.Exec(ctx, `INSERT INTO colony_event (colony_id, kind, happened_at, happened_about, note) VALUES ($1, $2, $3, $4, $5)`, e.ColonyID, e.Kind, e.HappenedAt, strings.TrimSpace(e.HappenedAbout), e.Note)
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

// Settle notes that a colony was seen settled on day: ready to go.
func (r *Room) Settle(ctx context.Context, colony int64, on time.Time) error {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return err
	}
	var at time.Time // now
	if !on.Equal(set.Today(r.db.Now())) {
		at = time.Date(on.Year(), on.Month(), on.Day(), 12, 0, 0, 0, set.Location())
	}
	return r.changeLiving(ctx, Event{ColonyID: colony, Kind: "settled", HappenedAt: at}, func(ctx context.Context, tx pgx.Tx, _ Colony, _ Event) error {
		_, err := tx.Exec(ctx, `UPDATE colony SET settled_on = $2 WHERE id = $1`, colony, on)
		return err
	})
}

// Ending says what became of a colony, and when.
type Ending struct {
	ColonyID int64
	How      string
	At       time.Time // zero: now
	About    string    // such as "about 1999", instead of At
}

// End is [Room.EndIn] at an instant.
func (r *Room) End(ctx context.Context, colony int64, how string, at time.Time) error {
	return r.EndIn(ctx, Ending{ColonyID: colony, How: how, At: at})
}

// EndIn notes that a colony was lost, united or went away. Its promises end and stand on
// the Day sheet; a fact is never refused. Errors: Invalid for the future, or a time before
// the book says that it lived; Conflict for one that is gone already.
func (r *Room) EndIn(ctx context.Context, e Ending) error {
	how := strings.TrimSpace(e.How)
	if how == "" {
		return fault.Bad("/how", "Say what became of it.")
	}
	return r.changeLiving(ctx, Event{ColonyID: e.ColonyID, Kind: "lost", HappenedAt: e.At, HappenedAbout: e.About, Note: how}, func(ctx context.Context, tx pgx.Tx, c Colony, ev Event) error {
		if err := livedAfter(ctx, tx, c, ev); err != nil {
			return err
		}
		if _, err := claims.BreakForFact(ctx, tx, r.db.Now(), claims.Colony(c.ID), 0, "the colony is gone: "+how); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE housing SET to_at = greatest($2, from_at) WHERE colony_id = $1 AND to_at IS NULL`, c.ID, ev.HappenedAt); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `UPDATE colony SET ended_at = $2, ended_how = $3 WHERE id = $1`, c.ID, ev.HappenedAt, how)
		return err
	})
}

// livedAfter refuses an end before something that only a living colony does or takes. A
// look inside and what was found there are no such thing: so the end is found.
func livedAfter(ctx context.Context, tx pgx.Tx, c Colony, end Event) error {
	list, err := postgres.List[Event](ctx, tx, `SELECT id, colony_id, kind, happened_at, happened_about, NULL::float8 AS mass_kg, note FROM colony_event
WHERE colony_id = $1 AND kind IN ('split', 'brood given', 'united', 'fed', 'settled') AND happened_at > $2 AND happened_about = '' ORDER BY happened_at DESC LIMIT 1`, c.ID, end.HappenedAt)
	if err != nil || len(list) == 0 || end.HappenedAbout != "" && aboutSpans(end.HappenedAbout, list[0].HappenedAt) {
		return err
	}
	return fault.Bad("/happened_at", "By the book colony %s still lived on %s: %s. Write a later day.", c.Number, list[0].HappenedAt.Format("2 January 2006"), list[0].Kind)
}

// changeLiving changes a colony that lives and writes the event into its log.
func (r *Room) changeLiving(ctx context.Context, e Event, change func(context.Context, pgx.Tx, Colony, Event) error) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		c, err := r.lockColony(ctx, tx, e.ColonyID)
		if err != nil {
			return err
		}
		if c.EndedAt != nil {
			return fault.New(fault.Conflict, "This colony is gone already: %s.", c.EndedHow)
		}
		e := e
		if err := r.happened(ctx, tx, c, &e.HappenedAt, e.HappenedAbout); err != nil {
			return err
		}
		if err := change(ctx, tx, c, e); err != nil {
			return err
		}
		return note(ctx, tx, e)
	})
}

// Joining says that one colony gave brood to another, or was united with it.
type Joining struct {
	FromID, ToID int64
	At           time.Time // zero: now
	About        string    // such as "about 1961", instead of At
	Note         string
	InSpite      string // why it was done although one of them is held back
}

// BroodGive notes that a colony gave brood to another, which has it as a parent from then
// on. Both logs show it. Errors: as of [Room.Unite].
func (r *Room) BroodGive(ctx context.Context, j Joining) error {
	return r.join(ctx, j, "brood given", func(context.Context, Colony, Colony, time.Time) error { return nil })
}

// Unite notes that a colony was united into another: it ends, and is a parent of the
// other. Errors: Invalid for itself or a time that cannot be; Conflict for one that is
// gone, a ring of ancestors, or one that is held back and no reason is given; with one,
// the other is held back too.
func (r *Room) Unite(ctx context.Context, j Joining) error {
	return r.join(ctx, j, "united", func(ctx context.Context, from, to Colony, at time.Time) error {
		return r.EndIn(ctx, Ending{ColonyID: from.ID, How: "united with " + to.Number, At: at, About: j.About})
	})
}

func (r *Room) join(ctx context.Context, j Joining, kind string, then func(context.Context, Colony, Colony, time.Time) error) error {
	if j.FromID == j.ToID {
		return fault.Bad("/to_id", "It cannot be the same colony.")
	}
	var l fault.List
	if l.Text("/note", j.Note, maxProse); l.Err() != nil {
		return l.Err()
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		list := map[int64]Colony{}
		for _, id := range []int64{min(j.FromID, j.ToID), max(j.FromID, j.ToID)} { // one order of locks
			c, err := r.lockColony(ctx, tx, id)
			if err != nil {
				return err
			}
			list[id] = c
		}
		from, to, at := list[j.FromID], list[j.ToID], j.At
		for _, c := range []Colony{from, to} {
			at = j.At
			if err := r.happened(ctx, tx, c, &at, j.About); err != nil {
				return err
			}
		}
		spite, err := inSpite(ctx, tx, from, at, j.InSpite, kind)
		if err != nil {
			return err
		}
		if spite == "" && kind == "united" {
			if spite, err = inSpite(ctx, tx, to, at, j.InSpite, kind); err != nil {
				return err
			}
		}
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		var on *time.Time // a day that is known about is no day
		if strings.TrimSpace(j.About) == "" {
			on = ptr(house.DateIn(at, set.Location()))
		}
		if _, err := tx.Exec(ctx, `INSERT INTO colony_parent (colony_id, parent_id, kind, happened_on) VALUES ($1, $2, $3, $4) ON CONFLICT ON CONSTRAINT colony_parent_once DO NOTHING`, to.ID, from.ID, kind, on); err != nil {
			return postgres.Translate(err)
		}
		gave, got := "Gave brood to "+to.Number+".", "Was given brood of "+from.Number+"."
		if kind == "united" {
			gave, got = "United into "+to.Number+".", "Took in "+from.Number+"."
		}
		if err := note(ctx, tx, Event{ColonyID: from.ID, Kind: kind, HappenedAt: at, HappenedAbout: j.About, Note: sentences(gave, j.Note, spite)}); err != nil {
			return err
		}
		if err := note(ctx, tx, Event{ColonyID: to.ID, Kind: "note", HappenedAt: at, HappenedAbout: j.About, Note: sentences(got, j.Note, spite)}); err != nil {
			return err
		}
		if spite != "" && to.HeldBackBecause == "" && to.EndedAt == nil {
			if err := r.HoldBack(ctx, to.ID, clip(fmt.Sprintf("%s from %s: %s", kind, from.Number, from.HeldBackBecause))); err != nil {
				return err
			}
		}
		return then(ctx, from, to, at)
	})
}
