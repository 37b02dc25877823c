package workshop

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Option is what a buyer can choose on a box: a further section, a mount, a finish.
type Option struct {
	ID         int64
	Version    int
	Code       string
	Name       string
	Kind       string // section, mount, finish, other
	ModelID    *int64 // nil: for every model
	Section    string // for kind section: the id of the model's section it repeats
	Fittings   []hive.Fitting
	Operations []hive.Operation
	CureDays   int // before bees may live in it
	PutAwayAt  *time.Time
}

type optionRow struct {
	ID         int64      `db:"id"`
	Version    int        `db:"version"`
	Code       string     `db:"code"`
	Name       string     `db:"name"`
	Kind       string     `db:"kind"`
	ModelID    *int64     `db:"model_id"`
	Section    string     `db:"section"`
	Fittings   []byte     `db:"fittings"`
	Operations []byte     `db:"operations"`
	CureDays   int        `db:"cure_days"`
	PutAwayAt  *time.Time `db:"put_away_at"`
}

const optionColumns = `id, version, code, name, kind, model_id, section, fittings, operations, cure_days, put_away_at`

func (r optionRow) option() (Option, error) {
	o := Option{ID: r.ID, Version: r.Version, Code: r.Code, Name: r.Name, Kind: r.Kind, ModelID: r.ModelID, Section: r.Section, CureDays: r.CureDays, PutAwayAt: r.PutAwayAt}
	if err := json.Unmarshal(r.Fittings, &o.Fittings); err != nil {
		return o, fmt.Errorf("read option %s: %w", r.Code, err)
	}
	if err := json.Unmarshal(r.Operations, &o.Operations); err != nil {
		return o, fmt.Errorf("read option %s: %w", r.Code, err)
	}
	return o, nil
}

func (o Option) check() error {
	var l fault.List
	l.Check(modelCode.MatchString(o.Code), "/code", "A code has up to 40 small letters, digits and hyphens, such as oiled.")
	l.Words("/name", o.Name, "the name of the option")
	l.Check(slices.Contains([]string{"section", "mount", "finish", "other"}, o.Kind), "/kind", "It is a section, a mount, a finish or other.")
	l.Check((o.Kind == "section") == (o.Section != ""), "/section", "A further section names the section it repeats; nothing else does.")
	l.Check(o.CureDays >= 0 && o.CureDays <= 365, "/cure_days", "The days must lie between 0 and 365.")
	l.Check(len(o.Fittings) <= 50 && len(o.Operations) <= 50, "/fittings", "At most 50 fittings and 50 operations.")
	for i, f := range o.Fittings {
		l.Check(f.ID != "" && f.Count >= 1 && f.Count <= 1000, fmt.Sprintf("/fittings/%d/count", i), "Name the fitting and a count between 1 and 1000.")
	}
	for i, p := range o.Operations {
		ok := p.ID != "" && p.SetupMinutes >= 0 && p.PieceMinutes >= 0 && p.WaitMinutes >= 0 && p.SetupMinutes+p.PieceMinutes+p.WaitMinutes <= 100_000
		l.Check(ok, fmt.Sprintf("/operations/%d/piece_minutes", i), "Name the operation; its minutes lie between 0 and 100000.")
	}
	return l.Err()
}

// OptionSave makes an option (ID 0) or changes one. Errors: Invalid, Stale, Conflict when
// the code is taken.
func (r *Room) OptionSave(ctx context.Context, o Option) (Option, error) {
	if err := o.check(); err != nil {
		return o, err
	}
	fittings, err := json.Marshal(append([]hive.Fitting{}, o.Fittings...))
	if err != nil {
		return o, fmt.Errorf("write option: %w", err)
	}
	var row optionRow
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := sectionThere(ctx, tx, o); err != nil {
			return err
		}
		named, err := keepNeeds(ctx, tx, "/operations", o.Operations)
		if err != nil {
			return err
		}
		operations, err := json.Marshal(named)
		if err != nil {
			return fmt.Errorf("write option: %w", err)
		}
		args := []any{o.Code, o.Name, o.Kind, o.ModelID, o.Section, fittings, operations, o.CureDays, o.PutAwayAt}
		if o.ID == 0 {
			row, err = postgres.One[optionRow](ctx, tx, `INSERT INTO box_option (code, name, kind, model_id, section, fittings, operations, cure_days, put_away_at)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) RETURNING `+optionColumns, args...)
			return err
		}
		row, err = postgres.One[optionRow](ctx, tx, `UPDATE box_option SET code = $1, name = $2, kind = $3, model_id = $4, section = $5, fittings = $6, operations = $7,
			cure_days = $8, put_away_at = $9 WHERE id = $10 AND version = $11 RETURNING `+optionColumns, append(args, o.ID, o.Version)...)
		return postgres.Changed(ctx, tx, err, "box_option", o.ID, "this option")
	})
	if err != nil {
		return o, err
	}
	return row.option()
}

// sectionThere refuses a further section of a model that has no such section.
func sectionThere(ctx context.Context, tx pgx.Tx, o Option) error {
	if o.Section == "" || o.ModelID == nil {
		return nil
	}
	row, err := postgres.One[revisionRow](ctx, tx, selectRevision+`WHERE r.model_id = $1 ORDER BY r.revision DESC LIMIT 1`, *o.ModelID)
	if fault.Is(err, fault.NotFound) {
		return fault.Bad("/model_id", "This model is not drawn up yet.")
	}
	if err != nil {
		return err
	}
	rev, err := row.revision()
	if err == nil && sectionOf(rev.Body, o.Section) == nil {
		return fault.Bad("/section", "The model has no section %q.", o.Section)
	}
	return err
}

// OptionList gives the options in use for a model, by kind and name; modelID 0 gives
// those of every model. One page of at most 500.
func (r *Room) OptionList(ctx context.Context, modelID int64) ([]Option, error) {
	return optionsIn(ctx, r.db, `WHERE put_away_at IS NULL AND ($1::bigint = 0 OR model_id IS NULL OR model_id = $1) ORDER BY kind, lower(name::text), id LIMIT 500`, modelID)
}

// OptionsByID reads options in the order of ids. Invalid when one is not there.
func OptionsByID(ctx context.Context, q postgres.Querier, ids []int64) ([]Option, error) {
	if len(ids) == 0 {
		return []Option{}, nil
	}
	list, err := optionsIn(ctx, q, `WHERE id = ANY ($1) ORDER BY id`, ids)
	if err != nil {
		return nil, err
	}
	out := make([]Option, 0, len(ids))
	for i, id := range ids {
		at := slices.IndexFunc(list, func(o Option) bool { return o.ID == id })
		if at < 0 {
			return nil, fault.Bad(fmt.Sprintf("/options/%d", i), "There is no option %d.", id)
		}
		out = append(out, list[at])
	}
	return out, nil
}

func optionsIn(ctx context.Context, q postgres.Querier, where string, args ...any) ([]Option, error) {
	rows, err := postgres.List[optionRow](ctx, q, `SELECT `+optionColumns+` FROM box_option `+where, args...)
	if err != nil {
		return nil, err
	}
	list := make([]Option, len(rows))
	for i, row := range rows {
		if list[i], err = row.option(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// Compose gives the model with its options built in: a further section adds one of that
// section with its parts, everything else adds fittings and operations. The result is a
// model of the calculations. Invalid when an option is for another model, or twice.
func Compose(rev Revision, options []Option) (hive.Model, error) {
	m := rev.Body
	m.Sections, m.Parts = slices.Clone(m.Sections), slices.Clone(m.Parts)
	m.Fittings, m.Operations = slices.Clone(m.Fittings), slices.Clone(m.Operations)
	seen := map[int64]bool{}
	for i, o := range options {
		at := fmt.Sprintf("/options/%d", i)
		if o.ModelID != nil && *o.ModelID != rev.ModelID {
			return m, fault.Bad(at, "%s is not for this model.", o.Name)
		}
		if seen[o.ID] && o.Kind != "section" {
			return m, fault.Bad(at, "%s is chosen twice.", o.Name)
		}
		seen[o.ID] = true
		if o.Section != "" && !addSection(&m, rev.Body, o.Section) {
			return m, fault.Bad(at, "%s needs a section %q, which this model does not have.", o.Name, o.Section)
		}
		for _, f := range o.Fittings {
			addFitting(&m, f)
		}
		for _, p := range o.Operations {
			addOperation(&m, p)
		}
	}
	addGlueUp(&m)
	return m, refused(m.Check("/model", m.WallMM))
}

// GlueUp is the operation in which strips become panels.
const GlueUp = "edge-glue"

// Minutes of a glue-up that the model does not time itself: once a batch, for each
// panel, and in the clamps until it may be worked (our estimates).
const (
	glueSetupMin = 15
	gluePanelMin = 8
	glueWaitMin  = 720
)

// addGlueUp puts the glue-up after the first operation, which cuts the strips, where
// parts are glued of strips and the model does not name the step.
func addGlueUp(m *hive.Model) {
	panels := 0
	for _, p := range m.Parts {
		if p.Strips != nil {
			panels += p.Count
		}
	}
	named := slices.ContainsFunc(m.Operations, func(o hive.Operation) bool { return o.ID == GlueUp })
	if panels == 0 || named {
		return
	}
	o := hive.Operation{ID: GlueUp, SetupMinutes: glueSetupMin, PieceMinutes: float64(gluePanelMin * panels), WaitMinutes: glueWaitMin, Needs: []string{"clamps"}}
	m.Operations = slices.Insert(m.Operations, min(1, len(m.Operations)), o)
}

// addSection adds one more of a section, with its share of the parts.
func addSection(m *hive.Model, was hive.Model, id string) bool {
	s, old := sectionOf(*m, id), sectionOf(was, id)
	if s == nil || old == nil {
		return false
	}
	s.Count++
	for i, p := range m.Parts {
		if p.Section == id {
			m.Parts[i].Count += was.Parts[i].Count / old.Count
		}
	}
	return true
}

func addFitting(m *hive.Model, f hive.Fitting) {
	if i := slices.IndexFunc(m.Fittings, func(g hive.Fitting) bool { return g.ID == f.ID }); i >= 0 {
		m.Fittings[i].Count += f.Count
		return
	}
	m.Fittings = append(m.Fittings, f)
}

func addOperation(m *hive.Model, p hive.Operation) {
	i := slices.IndexFunc(m.Operations, func(g hive.Operation) bool { return g.ID == p.ID })
	if i < 0 {
		m.Operations = append(m.Operations, p)
		return
	}
	m.Operations[i].SetupMinutes += p.SetupMinutes
	m.Operations[i].PieceMinutes += p.PieceMinutes
	m.Operations[i].WaitMinutes = max(m.Operations[i].WaitMinutes, p.WaitMinutes)
	m.Operations[i].OwnerOnly = m.Operations[i].OwnerOnly || p.OwnerOnly
}

// CureDays is how many days the options need before bees may live in the box.
func CureDays(options []Option) int {
	days := 0
	for _, o := range options {
		days = max(days, o.CureDays)
	}
	return days
}

func init() {
	postgres.Explain("box_option_code_once", fault.Conflict, "/code", "There is an option with this code already.")
}
