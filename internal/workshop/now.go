package workshop

import (
	"context"
	"time"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// NextStep is the operation that comes next at the bench.
type NextStep struct {
	EveningStep
	StartsAt *time.Time `db:"starts_at"` // by the plan in force; nil: not in it
}

// NextStep is the operation that the plan in force has next, or without a plan the first
// one open of the build that is due first; what somebody is at already is passed over.
// NotFound when nothing is open. For a helper nothing that is the owner's alone. On a day
// that is known as wet, what needs dry weather and what stands behind it come last.
func (r *Room) NextStep(ctx context.Context, owner bool) (NextStep, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return NextStep{}, err
	}
	return postgres.One[NextStep](ctx, r.db, `SELECT o.id, o.name, b.id AS build_id, b.number, b.quantity || ' ' || m.name AS what, (o.setup_min + o.piece_min * b.quantity)::float8 AS standard_min, 0::float8 AS tapped_min, s.starts_at IS NOT NULL AS planned, o.done_at, s.starts_at
FROM build_operation o JOIN build b ON b.id = o.build_id JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id
LEFT JOIN bench_plan_step s ON s.build_operation_id = o.id AND s.plan_id = (SELECT p.id FROM bench_plan p WHERE p.accepted_at IS NOT NULL ORDER BY p.number DESC LIMIT 1)
WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL AND o.done_at IS NULL AND ($1 OR NOT o.owner_only) AND NOT EXISTS (SELECT FROM time_spell t WHERE t.build_operation_id = o.id AND t.stopped_at IS NULL)
ORDER BY EXISTS (SELECT FROM weather_day WHERE on_day = $2 AND NOT dry) AND EXISTS (SELECT FROM build_operation e JOIN dry_operation d ON d.model_id = r.model_id AND d.name = e.name WHERE e.build_id = b.id AND e.done_at IS NULL AND e.position <= o.position),
	s.starts_at NULLS LAST, b.due_on NULLS LAST, b.id, o.position LIMIT 1`, owner, set.Today(r.db.Now()))
}

// AtBench is how things stand at the bench for one person now.
type AtBench struct {
	Running   *Spell     // what runs for them; nil: nothing
	Forgotten *Forgotten // the same, when it runs longer than it can be true
	Next      *NextStep  // nil: nothing is open
}

// AtBench tells what runs for a person and what comes next.
func (r *Room) AtBench(ctx context.Context, accountID int64, owner bool) (AtBench, error) {
	var a AtBench
	switch sp, err := r.SpellOpen(ctx, accountID); {
	case err == nil:
		a.Running = &sp
	case !fault.Is(err, fault.NotFound):
		return a, err
	}
	if a.Running != nil {
		list, err := r.SpellsForgotten(ctx, accountID)
		if err != nil {
			return a, err
		}
		if len(list) > 0 {
			a.Forgotten = &list[0]
		}
	}
	switch next, err := r.NextStep(ctx, owner); {
	case err == nil:
		a.Next = &next
	case !fault.Is(err, fault.NotFound):
		return a, err
	}
	return a, nil
}
