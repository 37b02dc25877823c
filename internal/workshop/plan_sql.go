package workshop

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/planning"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

func noRoom(err error) error {
	var bad *contract.Error
	if errors.As(err, &bad) {
		return fault.Wrap(err, fault.Conflict, "The bench has no room for this: set longer hours, or look at the days away.")
	}
	return err
}

// openWork reads the open builds with their operations, by id.
func openWork(ctx context.Context, q postgres.Querier, now time.Time) ([]work, error) {
	list, err := postgres.List[work](ctx, q, `SELECT b.id, b.number, b.quantity || ' ' || m.name AS what, m.id AS model_id, b.model_revision_id AS revision_id, b.quantity, b.due_on, b.not_before, b.held_to, b.started_at,
		(SELECT count(*) FROM build_output x WHERE x.build_id = b.id AND x.spoiled_at IS NULL AND x.finished_at IS NULL)::int AS open,
		(SELECT count(*) FROM build_output x WHERE x.build_id = b.id AND x.order_unit_id IS NOT NULL AND x.spoiled_at IS NULL AND x.finished_at IS NULL)::int AS units,
		(SELECT min(u.promised_box_on) FROM build_output x JOIN order_unit u ON u.id = x.order_unit_id WHERE x.build_id = b.id AND x.spoiled_at IS NULL AND x.finished_at IS NULL AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL) AS promised_on,
		CASE WHEN b.options = '[]' THEN 0 ELSE coalesce((SELECT max(o.cure_days) FROM jsonb_array_elements_text(b.options) e(v) JOIN box_option o ON o.id = e.v::bigint), 0) END::int AS cure_days,
		k.timber_on, coalesce(k.never_dry, '') AS never_dry, CASE WHEN b.started_at IS NULL AND b.fittings <> '[]' THEN (SELECT max(coalesce(i.lead_days, (SELECT p.lead_days FROM supplier p WHERE p.id = i.supplier_id), 7)) FROM jsonb_to_recordset(b.fittings) f(id text, count int) JOIN item i ON i.code = f.id AND i.counted
			WHERE f.count > coalesce((SELECT sum(c.quantity) FROM claim c WHERE c.build_id = b.id AND c.item_id = i.id AND c.ended_at IS NULL), 0)) END::int AS coming_days
		FROM build b JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id
		LEFT JOIN LATERAL (SELECT max(p.ready_on_p80) AS timber_on, min(p.number) FILTER (WHERE p.never_dry) AS never_dry FROM claim c JOIN pack p ON p.id = c.pack_id AND p.finished_at IS NULL WHERE c.build_id = b.id AND c.ended_at IS NULL) k ON true
		WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL ORDER BY b.id LIMIT 2000`)
	if err != nil {
		return nil, err
	}
	for i, w := range list {
		if w.ComingDays != nil {
			day := dateOf(now).AddDate(0, 0, *w.ComingDays)
			list[i].FittingsOn = &day
		}
	}
	ops, err := postgres.List[Operation](ctx, q, selectOperations+`JOIN build b ON b.id = o.build_id WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL ORDER BY o.build_id, o.position`, now)
	if err != nil {
		return nil, err
	}
	at, revisions := map[int64]int{}, make([]int64, len(list))
	for i, w := range list {
		at[w.BuildID], revisions[i] = i, w.RevisionID
	}
	f, err := figuresOf(ctx, q, revisions)
	if err != nil {
		return nil, err
	}
	for _, o := range ops {
		if i, ok := at[o.BuildID]; ok {
			list[i].Ops = append(list[i].Ops, f.operation(list[i].RevisionID, o))
		}
	}
	return list, nil
}

const planColumns = `id, number, origin_at, why, proposed_at, accepted_at, turned_down_at,
	coalesce((SELECT sum((j ->> 'tardy_minutes')::bigint) FROM jsonb_array_elements(CASE jsonb_typeof(answered -> 'jobs') WHEN 'array' THEN answered -> 'jobs' ELSE '[]' END) j), 0)::bigint AS late_minutes,
	coalesce((answered ->> 'proved')::boolean, false) AS proved, change, left_out`

// current is what the Bench needs of the plan in force.
type current struct {
	ID       int64     `db:"id"`
	OriginAt time.Time `db:"origin_at"`
	Asked    []byte    `db:"asked"`
	Answered []byte    `db:"answered"`
}

// currentPlan reads the plan in force; ok is false when none was ever accepted.
func currentPlan(ctx context.Context, q postgres.Querier) (planning.In, planning.Out, time.Time, bool, error) {
	var in planning.In
	var out planning.Out
	c, err := postgres.One[current](ctx, q, `SELECT id, origin_at, asked, answered FROM bench_plan WHERE accepted_at IS NOT NULL ORDER BY number DESC LIMIT 1`)
	if fault.Is(err, fault.NotFound) {
		return in, out, time.Time{}, false, nil
	}
	if err == nil {
		err = json.Unmarshal(c.Asked, &in)
	}
	if err == nil {
		err = json.Unmarshal(c.Answered, &out)
	}
	if err != nil {
		return in, out, time.Time{}, false, fmt.Errorf("read the plan of the bench: %w", err)
	}
	return in, out, c.OriginAt, true, nil
}

// PlanLay proposes a new plan of the bench from all open builds, with one change of the
// maker's or none. Work that has started, that the maker holds, and that begins in the next
// two days stays where it is. The plan in force goes on until the new one is accepted. Builds that
// can never begin are left out and named. Errors: Conflict when there is nothing to plan
// or the change cannot be, Invalid.
func (r *Room) PlanLay(ctx context.Context, why string, change PlanChange) (BenchPlan, error) {
	var l fault.List
	l.Short("/why", why)
	if err := l.Err(); err != nil {
		return BenchPlan{}, err
	}
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if err := change.check(set.Today(r.db.Now())); err != nil {
			return err
		}
		l, err := r.laying(ctx, tx, set.Location())
		if err != nil {
			return err
		}
		l.change = change
		in, out, err := l.lay(ctx)
		if err == nil {
			in, out, err = l.awaitDry(in, out)
		}
		if err != nil {
			return noRoom(err)
		}
		id, err = r.planStore(ctx, tx, l, in, out, why)
		return err
	})
	if err != nil {
		return BenchPlan{}, err
	}
	return r.PlanGet(ctx, id)
}

// laying reads what a new plan is made of.
func (r *Room) laying(ctx context.Context, tx pgx.Tx, loc *time.Location) (*laying, error) {
	b, err := r.benchIn(ctx, tx, loc)
	if err != nil {
		return nil, err
	}
	if len(b.works) == 0 {
		return nil, fault.New(fault.Conflict, "There is no open build to plan.")
	}
	l := &laying{origin: r.db.Now().Truncate(time.Minute), loc: loc, works: b.works, limits: b.limits, was: map[string]planning.JobPlan{}}
	open, err := calendarIn(ctx, tx, l.origin, loc, planDays)
	if err != nil {
		return nil, err
	}
	l.calendar = open.spells
	l.limits.keep(open)
	weather, err := weatherIn(ctx, tx, dateOf(l.origin.In(loc)))
	if err != nil {
		return nil, err
	}
	l.sky = weather.sky(l.origin, loc, planDays+1)
	_, _, _, have, err := currentPlan(ctx, tx)
	if err != nil || !have {
		return l, err
	}
	shift := int64(b.origin.Sub(l.origin).Minutes())
	for _, j := range b.out.Jobs {
		j.StartMinute += shift
		j.EndMinute += shift
		l.was[j.ID] = j
	}
	return l, nil
}

// planStore writes a proposed plan with its steps.
func (r *Room) planStore(ctx context.Context, tx pgx.Tx, l *laying, in planning.In, out planning.Out, why string) (int64, error) {
	number, err := house.NextNumber(ctx, tx, "bench plan")
	if err != nil {
		return 0, err
	}
	id, err := postgres.Value[int64](ctx, tx, `INSERT INTO bench_plan (number, origin_at, why, asked, answered, change, left_out, proposed_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id`,
		number, l.origin, why, rawJSON(in), rawJSON(out), rawJSON(l.change), rawJSON(append([]LeftOut{}, l.left...)), r.db.Now())
	if err != nil {
		return 0, err
	}
	ops := map[string][]Operation{}
	builds := map[string]int64{}
	for _, w := range l.works {
		key := strconv.FormatInt(w.BuildID, 10)
		ops[key], builds[key] = w.todo(), w.BuildID
	}
	batch := &pgx.Batch{}
	for _, j := range out.Jobs {
		for i, s := range j.Steps {
			var op *int64
			if i < len(ops[j.ID]) {
				op = &ops[j.ID][i].ID
			}
			batch.Queue(`INSERT INTO bench_plan_step (plan_id, build_id, build_operation_id, starts_at, ends_at) VALUES ($1, $2, $3, $4, $5)`,
				id, builds[j.ID], op, l.origin.Add(time.Duration(s.StartMinute)*time.Minute), l.origin.Add(time.Duration(s.EndMinute)*time.Minute))
		}
	}
	return id, postgres.Translate(tx.SendBatch(ctx, batch).Close())
}

// PlanAccept puts a proposed plan in force. Errors: Conflict when it was decided on
// already, or when a later one is in force.
func (r *Room) PlanAccept(ctx context.Context, id int64) (BenchPlan, error) {
	return r.planDecide(ctx, id, accepted)
}

// PlanTurnDown puts a proposed plan aside; the one in force goes on.
func (r *Room) PlanTurnDown(ctx context.Context, id int64) (BenchPlan, error) {
	return r.planDecide(ctx, id, `turned_down_at`)
}

func (r *Room) planDecide(ctx context.Context, id int64, column string) (BenchPlan, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var number, newest int
		var decided bool
		err := tx.QueryRow(ctx, `SELECT number, accepted_at IS NOT NULL OR turned_down_at IS NOT NULL FROM bench_plan WHERE id = $1 FOR UPDATE`, id).Scan(&number, &decided)
		if err != nil {
			return postgres.Translate(err)
		}
		if decided {
			return fault.New(fault.Conflict, "Plan %d was decided on already.", number)
		}
		if newest, err = postgres.Value[int](ctx, tx, `SELECT coalesce(max(number), 0) FROM bench_plan WHERE accepted_at IS NOT NULL`); err != nil {
			return err
		}
		if newest > number {
			return fault.New(fault.Conflict, "Plan %d is older than plan %d, which is in force. Lay a new one.", number, newest)
		}
		if _, err = tx.Exec(ctx, `UPDATE bench_plan SET `+column+` = $2 WHERE id = $1`, id, r.db.Now()); err != nil || column != accepted {
			return postgres.Translate(err)
		}
		return r.planHold(ctx, tx, id)
	})
	if err != nil {
		return BenchPlan{}, err
	}
	return r.PlanGet(ctx, id)
}

const accepted = `accepted_at`

// planHold keeps what the maker changed in a plan that is accepted: the build is held to
// the day it was put on, or held no longer.
func (r *Room) planHold(ctx context.Context, tx pgx.Tx, id int64) error {
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return err
	}
	raw, err := postgres.Value[[]byte](ctx, tx, `SELECT change FROM bench_plan WHERE id = $1`, id)
	if err != nil {
		return err
	}
	var c PlanChange
	if err := json.Unmarshal(raw, &c); err != nil {
		return fmt.Errorf("read the change of a plan: %w", err)
	}
	if c.BuildID == 0 {
		return nil
	}
	day := c.HoldTo
	if c.Move != 0 {
		starts, err := postgres.Value[time.Time](ctx, tx, `SELECT min(starts_at) FROM bench_plan_step WHERE plan_id = $1 AND build_id = $2 HAVING min(starts_at) IS NOT NULL`, id, c.BuildID)
		if err != nil {
			return err
		}
		on := house.DateIn(starts, set.Location())
		day = &on
	}
	_, err = tx.Exec(ctx, `UPDATE build SET held_to = $2 WHERE id = $1 AND finished_at IS NULL AND cancelled_at IS NULL`, c.BuildID, day)
	return postgres.Translate(err)
}

// PlanGet reads one plan with its steps.
func (r *Room) PlanGet(ctx context.Context, id int64) (BenchPlan, error) {
	p, err := postgres.One[BenchPlan](ctx, r.db, `SELECT `+planColumns+` FROM bench_plan WHERE id = $1`, id)
	if err != nil {
		return p, err
	}
	p.Steps, err = postgres.List[PlanStep](ctx, r.db, `SELECT s.build_id, b.number AS build_number, s.build_operation_id, coalesce(o.name::text, '') AS operation_name, s.starts_at, s.ends_at, b.due_on
		FROM bench_plan_step s JOIN build b ON b.id = s.build_id LEFT JOIN build_operation o ON o.id = s.build_operation_id
		WHERE s.plan_id = $1 ORDER BY s.starts_at, s.id`, id)
	return p, err
}

// PlanCurrent reads the plan in force; NotFound when none is.
func (r *Room) PlanCurrent(ctx context.Context) (BenchPlan, error) {
	id, err := postgres.Value[int64](ctx, r.db, `SELECT id FROM bench_plan WHERE accepted_at IS NOT NULL ORDER BY number DESC LIMIT 1`)
	if err != nil {
		return BenchPlan{}, err
	}
	return r.PlanGet(ctx, id)
}

// PlanList gives plans from the newest, without steps; at most 50.
func (r *Room) PlanList(ctx context.Context) ([]BenchPlan, error) {
	return postgres.List[BenchPlan](ctx, r.db, `SELECT `+planColumns+` FROM bench_plan ORDER BY number DESC LIMIT 50`)
}

// BenchTx gives the free time of the bench at the DB's now: the stored plan in force, and
// behind it, in the order of their due dates, open builds that it does not know. Without
// a plan every open build is placed like that.
func (r *Room) BenchTx(ctx context.Context, q postgres.Querier) (*Bench, error) {
	set, err := house.SettingsIn(ctx, q)
	if err != nil {
		return nil, err
	}
	return r.benchIn(ctx, q, set.Location())
}

func (r *Room) benchIn(ctx context.Context, q postgres.Querier, loc *time.Location) (*Bench, error) {
	return r.benchWere(ctx, q, loc, nil)
}

// benchWere is the bench as it would be if the limits were otherwise; nil: as they are.
func (r *Room) benchWere(ctx context.Context, q postgres.Querier, loc *time.Location, otherwise func(limits)) (*Bench, error) {
	now := r.db.Now().Truncate(time.Minute)
	in, out, origin, have, err := currentPlan(ctx, q)
	if err != nil {
		return nil, err
	}
	if !have {
		origin = now
	}
	proportions, err := Proportions(ctx, q)
	if err != nil {
		return nil, err
	}
	b := NewBench(in, out, origin, now, loc, planning.Learn(proportions))
	// The hours are those of now: days away and other hours may have come after the plan.
	open, err := calendarIn(ctx, q, b.origin, b.loc, planDays+int(b.now/(24*60)))
	if err != nil {
		return nil, err
	}
	b.in.Calendar = open.spells
	list, err := openWork(ctx, q, r.db.Now())
	if err != nil {
		return nil, err
	}
	if b.limits, err = limitsIn(ctx, q); err != nil {
		return nil, err
	}
	if otherwise != nil {
		otherwise(b.limits)
	}
	b.limits.keep(open)
	b.limits.lack(list)
	b.catchUp(list)
	weather, err := weatherIn(ctx, q, dateOf(b.at(b.now).In(loc)))
	if err != nil {
		return nil, err
	}
	b.Under(weather, planDays+int(b.now/(24*60))+1)
	return b, b.awaitDry()
}

// Bench is [Room.BenchTx] on the room's own database, for a caller who knows the
// workshop's zone.
func (r *Room) Bench(ctx context.Context, loc *time.Location) (*Bench, error) {
	return r.benchIn(ctx, r.db, loc)
}
