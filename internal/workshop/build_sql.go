package workshop

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

type buildRow struct {
	ID          int64            `db:"id"`
	Version     int              `db:"version"`
	Number      string           `db:"number"`
	RevisionID  int64            `db:"model_revision_id"`
	ModelName   string           `db:"model_name"`
	Revision    int              `db:"revision"`
	Makes       string           `db:"makes"`
	Piece       string           `db:"piece"`
	Quantity    int              `db:"quantity"`
	SpeciesID   *int64           `db:"timber_species_id"`
	SpeciesName string           `db:"species_name"`
	Options     []byte           `db:"options"`
	OptionNames []string         `db:"option_names"`
	Parts       []byte           `db:"parts"`
	Fittings    []byte           `db:"fittings"`
	DueOn       *time.Time       `db:"due_on"`
	NotBefore   *time.Time       `db:"not_before"`
	HeldTo      *time.Time       `db:"held_to"`
	MadeAt      time.Time        `db:"made_at"`
	StartedAt   *time.Time       `db:"started_at"`
	FinishedAt  *time.Time       `db:"finished_at"`
	CancelledAt *time.Time       `db:"cancelled_at"`
	Notes       string           `db:"notes"`
	StandardMin float64          `db:"standard_min"`
	SpentMin    float64          `db:"spent_min"`
	Units       int              `db:"units"`
	TrueWallMM  *decimal.Decimal `db:"true_wall_mm"`
	Finished    int              `db:"finished"`
}

const spentSQL = `coalesce(extract(epoch FROM sum(coalesce(t.stopped_at, greatest($1::timestamptz, t.started_at)) - t.started_at)) / 60, 0)::float8`

// selectBuild takes the present instant as $1, for spells that still run.
const selectBuild = `SELECT b.id, b.version, b.number, b.model_revision_id, m.name AS model_name, r.revision, b.makes, b.piece, b.quantity, b.timber_species_id,
	coalesce(s.name::text, '') AS species_name, b.options,
	ARRAY(SELECT o.name::text FROM jsonb_array_elements_text(b.options) WITH ORDINALITY e(v, n) JOIN box_option o ON o.id = e.v::bigint ORDER BY e.n) AS option_names,
	b.parts, b.fittings, b.due_on, b.not_before, b.held_to, b.made_at, b.started_at, b.finished_at, b.cancelled_at, b.notes,
	(SELECT coalesce(sum(o.setup_min + o.piece_min * b.quantity), 0) FROM build_operation o WHERE o.build_id = b.id)::float8 AS standard_min,
	(SELECT ` + spentSQL + ` FROM time_spell t JOIN build_operation o ON o.id = t.build_operation_id WHERE o.build_id = b.id) AS spent_min,
	(SELECT count(*) FROM build_output x WHERE x.build_id = b.id AND x.order_unit_id IS NOT NULL AND x.spoiled_at IS NULL)::int AS units,
	trim_scale(b.true_wall_mm) AS true_wall_mm, (SELECT count(*) FROM build_output x WHERE x.build_id = b.id AND x.finished_at IS NOT NULL)::int AS finished
	FROM build b JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id LEFT JOIN timber_species s ON s.id = b.timber_species_id `

func (r buildRow) build() (Build, error) {
	b := Build{ID: r.ID, Version: r.Version, Number: r.Number, RevisionID: r.RevisionID, ModelName: r.ModelName, Revision: r.Revision, Makes: r.Makes, Piece: r.Piece,
		Quantity: r.Quantity, SpeciesID: r.SpeciesID, SpeciesName: r.SpeciesName, OptionNames: r.OptionNames, DueOn: r.DueOn, NotBefore: r.NotBefore, HeldTo: r.HeldTo,
		MadeAt: r.MadeAt, StartedAt: r.StartedAt, FinishedAt: r.FinishedAt, CancelledAt: r.CancelledAt, Notes: r.Notes, StandardMin: r.StandardMin, SpentMin: r.SpentMin, Units: r.Units, TrueWallMM: r.TrueWallMM, Finished: r.Finished}
	for raw, into := range map[*[]byte]any{&r.Options: &b.OptionIDs, &r.Parts: &b.Parts, &r.Fittings: &b.Fittings} {
		if err := json.Unmarshal(*raw, into); err != nil {
			return b, fmt.Errorf("read build %s: %w", r.Number, err)
		}
	}
	return b, nil
}

// BuildMake starts a build: it works out and freezes parts, fittings and operations,
// gives it its number, puts counted fittings aside as far as there are any, and lays a
// first cutting plan whose boards are meant for it. What is short stands in Short; a
// build that lacks timber is made all the same. Errors: Invalid, NotFound, Conflict.
func (r *Room) BuildMake(ctx context.Context, n BuildNew) (Build, error) {
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		id, err = r.BuildMakeTx(ctx, tx, n)
		return err
	})
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, id)
}

// BuildMakeTx is [Room.BuildMake] in a transaction of the caller; it gives the build's
// id. Order units are locked by the caller before, if at all.
func (r *Room) BuildMakeTx(ctx context.Context, tx pgx.Tx, n BuildNew) (int64, error) {
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return 0, err
	}
	if err := n.check(set.Today(r.db.Now())); err != nil {
		return 0, err
	}
	rev, err := revisionIn(ctx, tx, n.RevisionID)
	if err != nil {
		return 0, err
	}
	options, err := OptionsByID(ctx, tx, n.OptionIDs)
	if err != nil {
		return 0, err
	}
	model, err := Compose(rev, options)
	if err != nil {
		return 0, err
	}
	parts, fittings, err := buildParts(model, model.WallMM, n.Makes, n.Piece, n.Quantity)
	if err != nil {
		return 0, err
	}
	id, err := r.buildInsert(ctx, tx, n, parts, fittings, buildOperations(model, parts, n.Makes))
	if err != nil {
		return 0, err
	}
	if _, err := r.cuttingOf(ctx, tx, []int64{id}, firstPlanMS); err != nil {
		return 0, err
	}
	return id, r.claimFittings(ctx, tx, id)
}

func (r *Room) buildInsert(ctx context.Context, tx pgx.Tx, n BuildNew, parts []BuildPart, fittings []hive.Fitting, ops []Operation) (int64, error) {
	number, err := house.Number(ctx, tx, "build", "B")
	if err != nil {
		return 0, err
	}
	id, err := postgres.Value[int64](ctx, tx, `INSERT INTO build (number, model_revision_id, makes, piece, quantity, timber_species_id, options, parts, fittings, due_on, not_before, notes, made_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) RETURNING id`, number, n.RevisionID, n.Makes, n.Piece, n.Quantity, n.SpeciesID,
		rawJSON(append([]int64{}, n.OptionIDs...)), rawJSON(parts), rawJSON(fittings), n.DueOn, n.NotBefore, n.Notes, r.db.Now())
	if err != nil {
		return 0, err
	}
	if _, err := tx.Exec(ctx, `INSERT INTO build_output (build_id, n, order_unit_id) SELECT $1, n, ($3::bigint[])[n] FROM generate_series(1, $2::int) n`,
		id, n.Quantity, append([]int64{}, n.Units...)); err != nil {
		return 0, postgres.Translate(err)
	}
	if err := keepThings(ctx, tx, ops); err != nil {
		return 0, err
	}
	for _, o := range ops {
		if _, err := tx.Exec(ctx, `INSERT INTO build_operation (build_id, position, name, setup_min, piece_min, wait_min, needs, owner_only) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
			id, o.Position, o.Name, o.SetupMin, o.PieceMin, o.WaitMin, rawJSON(o.Needs), o.OwnerOnly); err != nil {
			return 0, postgres.Translate(err)
		}
	}
	return id, nil
}

// claimFittings puts aside what there is of the counted fittings that the build still
// lacks.
func (r *Room) claimFittings(ctx context.Context, tx pgx.Tx, id int64) error {
	b, err := buildIn(ctx, tx, id, r.db.Now())
	if err != nil {
		return err
	}
	items, err := itemsOf(ctx, tx, b)
	if err != nil {
		return err
	}
	left, err := fittingsLeft(ctx, tx, b, items)
	if err != nil {
		return err
	}
	var things []claims.Thing
	need := map[int64]int{}
	for _, f := range left {
		if item, ok := items[f.ID]; ok && item.Counted {
			things = append(things, claims.Item(item.ID))
			need[item.ID] += f.Count
		}
	}
	stock, err := claims.Lock(ctx, tx, things)
	if err != nil {
		return err
	}
	open, err := claims.OpenFor(ctx, tx, claims.Build(id))
	if err != nil {
		return err
	}
	for _, c := range open {
		if c.Thing.Kind == claims.ItemKind {
			need[c.Thing.ID] -= c.Quantity
		}
	}
	var wants []claims.Want
	seen := map[claims.Thing]bool{}
	for _, t := range things {
		n := min(need[t.ID], stock[t].Free())
		if n > 0 && !seen[t] {
			wants = append(wants, claims.Want{For: claims.Build(id), Thing: t, Quantity: n, Strength: claims.PutAside, PromisedOn: b.DueOn})
		}
		seen[t] = true
	}
	_, err = claims.Put(ctx, tx, r.db.Now(), wants)
	return err
}

// BuildClaimFittings puts aside what has come in of the fittings a build still lacks.
func (r *Room) BuildClaimFittings(ctx context.Context, id int64) (Build, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := buildLock(ctx, tx, id, r.db.Now()); err != nil {
			return err
		}
		return r.claimFittings(ctx, tx, id)
	})
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, id)
}

func buildIn(ctx context.Context, q postgres.Querier, id int64, now time.Time) (Build, error) {
	row, err := postgres.One[buildRow](ctx, q, selectBuild+`WHERE b.id = $2`, now, id)
	if err != nil {
		return Build{}, err
	}
	return row.build()
}

// buildLock locks a build that is still open.
func buildLock(ctx context.Context, tx pgx.Tx, id int64, now time.Time) (Build, error) {
	if _, err := tx.Exec(ctx, `SELECT 1 FROM build WHERE id = $1 FOR NO KEY UPDATE`, id); err != nil {
		return Build{}, postgres.Translate(err)
	}
	b, err := buildIn(ctx, tx, id, now)
	switch {
	case err != nil:
		return b, err
	case b.FinishedAt != nil:
		return b, fault.New(fault.Conflict, "Build %s is finished.", b.Number)
	case b.CancelledAt != nil:
		return b, fault.New(fault.Conflict, "Build %s is cancelled.", b.Number)
	}
	return b, nil
}

// BuildGet reads one build whole.
func (r *Room) BuildGet(ctx context.Context, id int64) (Build, error) {
	now := r.db.Now()
	b, err := buildIn(ctx, r.db, id, now)
	if err != nil {
		return b, err
	}
	if b.Outputs, err = postgres.List[Output](ctx, r.db, `SELECT o.n, o.order_unit_id, o.box_id, x.serial, o.spoiled_at, o.finished_at FROM build_output o
		LEFT JOIN box x ON x.id = o.box_id WHERE o.build_id = $1 ORDER BY o.n`, id); err != nil {
		return b, err
	}
	if b.Operations, err = operationsIn(ctx, r.db, id, now); err != nil {
		return b, err
	}
	if err := quoteOperations(ctx, r.db, &b); err != nil {
		return b, err
	}
	if b.Claims, err = claims.OpenFor(ctx, r.db, claims.Build(id)); err != nil {
		return b, err
	}
	if b.Plans, err = plansIn(ctx, r.db, id); err != nil {
		return b, err
	}
	if b.Gauges, err = postgres.List[FitSize](ctx, r.db, `SELECT f.name, f.nominal_mm, f.low_mm, f.high_mm FROM fit_size f
		JOIN model_revision v ON v.fit_id = f.fit_id WHERE v.id = $1 ORDER BY f.id`, b.RevisionID); err != nil {
		return b, err
	}
	if b.CuttingID, err = cuttingIDOf(ctx, r.db, id); err != nil {
		return b, err
	}
	if b.Open() {
		if b.Warnings, err = thicknessWarnings(ctx, r.db, b); err != nil {
			return b, err
		}
		b.Short, err = r.buildShort(ctx, b)
	}
	return b, err
}

func (r *Room) buildShort(ctx context.Context, b Build) ([]string, error) {
	items, err := itemsOf(ctx, r.db, b)
	if err != nil {
		return nil, err
	}
	left, err := fittingsLeft(ctx, r.db, b, items)
	if err != nil {
		return nil, err
	}
	short := []string{}
	for _, s := range planShortages(b) {
		short = append(short, s.String())
	}
	return append(short, shortFittings(left, items, b.Claims)...), nil
}

// BuildFilter says which builds a list holds.
type BuildFilter struct {
	Find  string // beginning of the number
	Done  bool   // finished and cancelled ones, the newest first, in place of open ones
	Limit int
	After string
}

const neverDue = "9999-12-31"

// BuildList gives open builds by due date (the index build_open serves it), or those
// that are done from the newest, and the mark of the next page ("" at the end).
func (r *Room) BuildList(ctx context.Context, f BuildFilter) ([]Build, string, error) {
	mark, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	var rows []buildRow
	if f.Done {
		rows, err = postgres.List[buildRow](ctx, r.db, selectBuild+`WHERE (b.finished_at IS NOT NULL OR b.cancelled_at IS NOT NULL) AND ($2::bigint = 0 OR b.id < $2)
			AND ($3 = '' OR b.number LIKE upper($3) || '%') ORDER BY b.id DESC LIMIT $4`, r.db.Now(), mark.ID, likeLiteral(f.Find), n+1)
	} else {
		if mark.Key == "" {
			mark.Key = "0001-01-01"
		}
		day, err2 := time.Parse(time.DateOnly, mark.Key)
		if err2 != nil {
			return nil, "", fault.Bad("/after", "This page mark is not one of ours. Start the list again.")
		}
		rows, err = postgres.List[buildRow](ctx, r.db, selectBuild+`WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL
			AND (coalesce(b.due_on, '`+neverDue+`'), b.id) > ($2, $3) AND ($4 = '' OR b.number LIKE upper($4) || '%')
			ORDER BY coalesce(b.due_on, '`+neverDue+`'), b.id LIMIT $5`, r.db.Now(), day, mark.ID, likeLiteral(f.Find), n+1)
	}
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(rows, n, func(b buildRow) postgres.Mark {
		key := neverDue
		if b.DueOn != nil {
			key = b.DueOn.Format(time.DateOnly)
		}
		return postgres.Mark{Key: key, ID: b.ID}
	})
	list := make([]Build, len(page))
	for i, row := range page {
		if list[i], err = row.build(); err != nil {
			return nil, "", err
		}
	}
	return list, next, nil
}

// BuildChange is what may change on an open build.
type BuildChange struct {
	ID        int64
	Version   int
	DueOn     *time.Time
	NotBefore *time.Time
	HeldTo    *time.Time
	Notes     string
}

// BuildSave changes dates and notes of an open build. A due date that is already stored
// may lie in the past, a new one may not. Errors: Invalid, Stale, Conflict.
func (r *Room) BuildSave(ctx context.Context, c BuildChange) (Build, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		b, err := buildLock(ctx, tx, c.ID, r.db.Now())
		if err != nil {
			return err
		}
		today := set.Today(r.db.Now())
		var l fault.List
		kept := b.DueOn != nil && c.DueOn != nil && b.DueOn.Equal(*c.DueOn)
		l.Check(c.DueOn == nil || kept || !c.DueOn.Before(today), "/due_on", "This day is past. A due date lies today or later.")
		l.Check(c.NotBefore == nil || c.DueOn == nil || !c.DueOn.Before(*c.NotBefore), "/not_before", "It would be due before it may begin.")
		if err := l.Err(); err != nil {
			return err
		}
		_, err = postgres.Value[int64](ctx, tx, `UPDATE build SET due_on = $3, not_before = $4, held_to = $5, notes = $6 WHERE id = $1 AND version = $2 RETURNING id`,
			c.ID, c.Version, c.DueOn, c.NotBefore, c.HeldTo, c.Notes)
		return postgres.Changed(ctx, tx, err, "build", c.ID, "this build")
	})
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, c.ID)
}

// BuildCancel ends a build that is not finished and frees what was put aside for it.
// Errors: Invalid without a reason, Stale, Conflict.
func (r *Room) BuildCancel(ctx context.Context, id int64, version int, because string) (Build, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error { return r.BuildCancelTx(ctx, tx, id, version, because) })
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, id)
}

// BuildCancelTx is [Room.BuildCancel] in a transaction of the caller.
func (r *Room) BuildCancelTx(ctx context.Context, tx pgx.Tx, id int64, version int, because string) error {
	var l fault.List
	l.Words("/because", because, "why it is cancelled")
	if err := l.Err(); err != nil {
		return err
	}
	now := r.db.Now()
	if err := lockTogether(ctx, tx, []int64{id}); err != nil {
		return err
	}
	b, err := buildLock(ctx, tx, id, now)
	if err != nil {
		return err
	}
	if b.Finished > 0 {
		return fault.New(fault.Conflict, "%d of build %s are finished already. Note the others as spoiled and finish it instead.", b.Finished, b.Number)
	}
	_, err = postgres.Value[int64](ctx, tx, `UPDATE build SET cancelled_at = $3, notes = CASE notes WHEN '' THEN $4 ELSE notes || E'\n' || $4 END
		WHERE id = $1 AND version = $2 RETURNING id`, id, version, now, "Cancelled: "+because)
	if err := postgres.Changed(ctx, tx, err, "build", id, "this build"); err != nil {
		return err
	}
	if err := stopSpells(ctx, tx, id, now); err != nil {
		return err
	}
	if _, err := claims.EndFor(ctx, tx, now, claims.Build(id), claims.Cancelled, because); err != nil {
		return err
	}
	return r.leaveCutting(ctx, tx, id, true)
}

// OutputAssign says where one piece of an open build goes: to an order unit, or to the
// shelf when unit is nil. Errors: NotFound, Conflict when the piece is spoiled.
func (r *Room) OutputAssign(ctx context.Context, buildID int64, n int, unit *int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error { return r.OutputAssignTx(ctx, tx, buildID, n, unit) })
}

// OutputAssignTx is [Room.OutputAssign] in a transaction of the caller.
func (r *Room) OutputAssignTx(ctx context.Context, tx pgx.Tx, buildID int64, n int, unit *int64) error {
	if _, err := buildLock(ctx, tx, buildID, r.db.Now()); err != nil {
		return err
	}
	spoiled, err := postgres.Value[bool](ctx, tx, `UPDATE build_output SET order_unit_id = $3 WHERE build_id = $1 AND n = $2 RETURNING spoiled_at IS NOT NULL OR finished_at IS NOT NULL`, buildID, n, unit)
	if err == nil && spoiled {
		return fault.New(fault.Conflict, "Piece %d is spoiled or finished already. Choose another.", n)
	}
	return err
}

// OutputSpoil notes that a piece of an open build is spoiled.
func (r *Room) OutputSpoil(ctx context.Context, buildID int64, n int, at time.Time) error {
	var l fault.List
	l.Past("/spoiled_at", at, r.db.Now())
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := buildLock(ctx, tx, buildID, r.db.Now()); err != nil {
			return err
		}
		_, err := postgres.Value[int64](ctx, tx, `UPDATE build_output SET spoiled_at = coalesce(spoiled_at, $3) WHERE build_id = $1 AND n = $2 AND finished_at IS NULL RETURNING id`, buildID, n, at)
		if fault.Is(err, fault.NotFound) {
			return fault.New(fault.NotFound, "There is no piece %d of this build that is not finished.", n)
		}
		return err
	})
}

// FreeOutput is a piece of an open build that goes to the shelf so far.
type FreeOutput struct {
	BuildID int64      `db:"build_id"`
	Number  string     `db:"number"`
	N       int        `db:"n"`
	DueOn   *time.Time `db:"due_on"`
	EndsAt  *time.Time `db:"ends_at"` // by the current plan of the bench; nil: not planned yet
}

// OutputsFree gives the pieces of open builds of a model (any revision), timber and set
// of options that no order unit has, the soonest first; at most 200. speciesID 0 takes
// any timber.
func OutputsFree(ctx context.Context, q postgres.Querier, modelID, speciesID int64, optionIDs []int64) ([]FreeOutput, error) {
	return postgres.List[FreeOutput](ctx, q, `SELECT b.id AS build_id, b.number, o.n, b.due_on, p.ends_at FROM build b
		JOIN model_revision r ON r.id = b.model_revision_id JOIN build_output o ON o.build_id = b.id AND o.order_unit_id IS NULL AND o.spoiled_at IS NULL AND o.finished_at IS NULL
		LEFT JOIN LATERAL (SELECT max(s.ends_at) AS ends_at FROM bench_plan_step s WHERE s.build_id = b.id
			AND s.plan_id = (SELECT id FROM bench_plan WHERE accepted_at IS NOT NULL ORDER BY number DESC LIMIT 1)) p ON true
		WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL AND b.makes = 'box' AND r.model_id = $1 AND ($2::bigint = 0 OR b.timber_species_id = $2)
		AND b.options @> $3::jsonb AND b.options <@ $3::jsonb ORDER BY p.ends_at NULLS LAST, b.due_on NULLS LAST, b.id, o.n LIMIT 200`,
		modelID, speciesID, rawJSON(append([]int64{}, optionIDs...)))
}

func init() {
	postgres.Explain("build_piece", fault.Invalid, "/piece", "Name the section or part that is made; for boxes leave it empty.")
	postgres.Explain("build_one_end", fault.Conflict, "", "This build has ended already.")
}
