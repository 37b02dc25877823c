package workshop

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Thing is something of which the workshop has only so many: clamps, the paint rack. An
// operation that needs it waits until one is free.
type Thing struct {
	ID        int64      `db:"id"`
	Version   int        `db:"version"`
	Name      string     `db:"name"`
	Count     int        `db:"count"` // how many operations can have it at once, 1 to 1000
	Notes     string     `db:"notes"`
	PutAwayAt *time.Time `db:"put_away_at"` // there is none
	Used      bool       `db:"used"`        // a model, an option or an open build names it; ThingGet only
}

// There is how many there are: none when it is put away.
func (t Thing) There() int {
	if t.PutAwayAt != nil {
		return 0
	}
	return t.Count
}

// thingsMost bounds how many there may be; the plan takes up to twice as many.
const thingsMost = 500

const thingColumns = `id, version, name, count, notes, put_away_at`

// usedThing tells whether anything names a thing that could still be built.
const usedThing = `(EXISTS (SELECT FROM build b JOIN build_operation o ON o.build_id = b.id WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL AND o.needs ? name::text)
	OR EXISTS (SELECT FROM box_option o WHERE jsonb_path_exists(o.operations, 'lax $[*].needs[*] ? (@ == $name)', jsonb_build_object('name', name)))
	OR EXISTS (SELECT FROM model_revision m WHERE jsonb_path_exists(m.body, 'lax $.operations[*].needs[*] ? (@ == $name)', jsonb_build_object('name', name)))) AS used`

// thingNamed takes apart a name as older drawings have it: "clamps x3" are three clamps.
func thingNamed(text string) (name string, count int) {
	text = strings.TrimSpace(text)
	if i := strings.LastIndex(text, " x"); i > 0 {
		if n, err := strconv.Atoi(text[i+2:]); err == nil && n >= 1 && n <= 1000 {
			return strings.TrimSpace(text[:i]), n
		}
	}
	return text, 1
}

// ThingName is the name of a limited thing as an operation of a drawing has it.
func ThingName(need string) string {
	name, _ := thingNamed(need)
	return name
}

func thingNames(needs []string) []string {
	out := make([]string, len(needs))
	for i, need := range needs {
		out[i] = ThingName(need)
	}
	return out
}

// thingKey is what two names of one thing have in common.
func thingKey(need string) string { return strings.ToLower(ThingName(need)) }

func (t Thing) check() error {
	var l fault.List
	l.Words("/name", t.Name, "what it is, such as clamps")
	l.Check(strings.ToLower(t.Name) != ownerHands, "/name", "Your own hands are counted without this. Mark the operation as the owner's instead.")
	l.Check(ThingName(t.Name) == t.Name, "/name", "Write the count in its own field.")
	l.Check(t.Count >= 1 && t.Count <= 1000, "/count", "Write how many there are, 1 to 1000. If there is none left, put it away.")
	l.Short("/notes", t.Notes)
	return l.Err()
}

// ThingSave puts down a limited thing (ID 0) or changes one. Errors: Invalid; Stale;
// Conflict when there is one of that name, or when the name of one that work needs would change.
func (r *Room) ThingSave(ctx context.Context, t Thing) (Thing, error) {
	t.Name = strings.TrimSpace(t.Name)
	if err := t.check(); err != nil {
		return t, err
	}
	var out Thing
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if t.ID == 0 {
			if err := roomForThings(ctx, tx, 1); err != nil {
				return err
			}
			id, err := postgres.Value[int64](ctx, tx, `INSERT INTO limited_thing (name, count, notes, put_away_at) VALUES ($1, $2, $3, $4) RETURNING id`, t.Name, t.Count, t.Notes, t.PutAwayAt)
			if err != nil {
				return err
			}
			out, err = thingIn(ctx, tx, id)
			return err
		}
		was, err := thingIn(ctx, tx, t.ID)
		if err != nil {
			return err
		}
		if was.Used && !strings.EqualFold(was.Name, t.Name) {
			return fault.Bad("/name", "Models and builds name it %q. Keep that name, or put down another thing.", was.Name)
		}
		_, err = postgres.Value[int64](ctx, tx, `UPDATE limited_thing SET name = $1, count = $2, notes = $3, put_away_at = $4 WHERE id = $5 AND version = $6 RETURNING id`,
			t.Name, t.Count, t.Notes, t.PutAwayAt, t.ID, t.Version)
		if err := postgres.Changed(ctx, tx, err, "limited_thing", t.ID, "this thing"); err != nil {
			return err
		}
		out, err = thingIn(ctx, tx, t.ID)
		return err
	})
	return out, err
}

func roomForThings(ctx context.Context, tx pgx.Tx, more int) error {
	have, err := postgres.Value[int](ctx, tx, `SELECT count(*)::int FROM limited_thing`)
	if err == nil && have+more > thingsMost {
		return fault.New(fault.Conflict, "There are %d limited things, as many as the plan looks at.", thingsMost)
	}
	return err
}

func thingIn(ctx context.Context, q postgres.Querier, id int64) (Thing, error) {
	return postgres.One[Thing](ctx, q, `SELECT `+thingColumns+`, `+usedThing+` FROM limited_thing WHERE id = $1`, id)
}

// ThingGet reads one limited thing.
func (r *Room) ThingGet(ctx context.Context, id int64) (Thing, error) { return thingIn(ctx, r.db, id) }

// ThingList gives the limited things by name, those put away too when putAway is true; at
// most 500.
func (r *Room) ThingList(ctx context.Context, putAway bool) ([]Thing, error) {
	return postgres.List[Thing](ctx, r.db, `SELECT `+thingColumns+`, false AS used FROM limited_thing WHERE $1 OR put_away_at IS NULL ORDER BY lower(name::text), id LIMIT 500`, putAway)
}

// keepNeeds gives the operations of a drawing with the needs named as the records of the
// limited things are; what is not among those yet is put down. Errors: Invalid at
// at/N/needs/M for a name that is empty, too long or put away.
func keepNeeds(ctx context.Context, tx pgx.Tx, at string, ops []hive.Operation) ([]hive.Operation, error) {
	list, err := postgres.List[Thing](ctx, tx, `SELECT `+thingColumns+`, false AS used FROM limited_thing ORDER BY id`)
	if err != nil {
		return nil, err
	}
	known := map[string]Thing{}
	for _, t := range list {
		known[strings.ToLower(t.Name)] = t
	}
	var l fault.List
	out := make([]hive.Operation, len(ops))
	for i, o := range ops {
		out[i] = o
		out[i].Needs = nil
		for k, need := range o.Needs {
			here := fmt.Sprintf("%s/%d/needs/%d", at, i, k)
			name, count := thingNamed(need)
			t, ok := known[strings.ToLower(name)]
			if !ok {
				t = Thing{Name: name, Count: count}
				if err := t.check(); err != nil {
					l.Check(false, here, "Name a limited thing in up to 200 letters, such as clamps.")
					continue
				}
				if err := addThing(ctx, tx, t); err != nil {
					return nil, err
				}
				known[strings.ToLower(name)] = t
			}
			l.Check(t.PutAwayAt == nil, here, "%s: put away. Take it up again, or choose something else.", t.Name)
			out[i].Needs = append(out[i].Needs, t.Name)
		}
	}
	return out, l.Err()
}

// addThing puts a thing down unless somebody else just did.
func addThing(ctx context.Context, tx pgx.Tx, t Thing) error {
	if err := roomForThings(ctx, tx, 1); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `INSERT INTO limited_thing (name, count) VALUES ($1, $2) ON CONFLICT (lower(name::text)) DO NOTHING`, t.Name, t.Count)
	return postgres.Translate(err)
}

// keepThings puts down what the operations of a build need and is no record yet, such as
// the clamps of a glue-up that no drawing names.
func keepThings(ctx context.Context, tx pgx.Tx, ops []Operation) error {
	for _, o := range ops {
		for _, need := range o.Needs {
			name, count := thingNamed(need)
			there, err := postgres.Value[bool](ctx, tx, `SELECT EXISTS (SELECT FROM limited_thing WHERE lower(name::text) = lower($1))`, name)
			if err != nil {
				return err
			}
			if !there {
				if err := addThing(ctx, tx, Thing{Name: name, Count: count}); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func init() {
	postgres.Explain("limited_thing_once", fault.Conflict, "/name", "There is something of this name already.")
	postgres.Explain("limited_thing_count", fault.Invalid, "/count", "Write how many there are, 1 to 1000. If there is none left, put it away.")
}
