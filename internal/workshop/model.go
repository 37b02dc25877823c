package workshop

import (
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Model is a box model; what it is made of stands in its revisions.
type Model struct {
	ID        int64      `db:"id"`
	Version   int        `db:"version"`
	Code      string     `db:"code"`
	Name      string     `db:"name"`
	PutAwayAt *time.Time `db:"put_away_at"`
	LatestID  *int64     `db:"latest_id"` // its latest revision; nil: none drawn up yet
	Latest    int        `db:"latest"`    // number of that revision, 0 for none
}

const selectModel = `SELECT m.id, m.version, m.code, m.name, m.put_away_at, r.id AS latest_id, coalesce(r.revision, 0) AS latest FROM box_model m
	LEFT JOIN LATERAL (SELECT id, revision FROM model_revision WHERE model_id = m.id ORDER BY revision DESC LIMIT 1) r ON true `

// Revision is one immutable revision of a model.
type Revision struct {
	ID            int64
	ModelID       int64
	ModelCode     string
	ModelName     string
	Revision      int
	Body          hive.Model
	FitID         *int64
	SerialSection string // the section that bears the serial
	Reason        string
	MadeAt        time.Time
}

type revisionRow struct {
	ID            int64     `db:"id"`
	ModelID       int64     `db:"model_id"`
	ModelCode     string    `db:"code"`
	ModelName     string    `db:"name"`
	Revision      int       `db:"revision"`
	Body          []byte    `db:"body"`
	FitID         *int64    `db:"fit_id"`
	SerialSection string    `db:"serial_section"`
	Reason        string    `db:"reason"`
	MadeAt        time.Time `db:"made_at"`
}

const selectRevision = `SELECT r.id, r.model_id, m.code, m.name, r.revision, r.body, r.fit_id, r.serial_section, r.reason, r.made_at
	FROM model_revision r JOIN box_model m ON m.id = r.model_id `

func (r revisionRow) revision() (Revision, error) {
	v := Revision{ID: r.ID, ModelID: r.ModelID, ModelCode: r.ModelCode, ModelName: r.ModelName, Revision: r.Revision, FitID: r.FitID,
		SerialSection: r.SerialSection, Reason: r.Reason, MadeAt: r.MadeAt}
	if err := json.Unmarshal(r.Body, &v.Body); err != nil {
		return v, fmt.Errorf("read model revision %d: %w", r.ID, err)
	}
	return v, nil
}

var modelCode = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// ModelSave makes a model (ID 0) or changes its name, code or whether it is put away.
// Errors: Invalid, Stale, Conflict when the code is taken.
func (r *Room) ModelSave(ctx context.Context, m Model) (Model, error) {
	var l fault.List
	l.Check(modelCode.MatchString(m.Code), "/code", "A code has up to 40 small letters, digits and hyphens, such as two-tier.")
	l.Words("/name", m.Name, "the name of the model")
	if err := l.Err(); err != nil {
		return m, err
	}
	var out Model
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		id := m.ID
		var err error
		if id == 0 {
			id, err = postgres.Value[int64](ctx, tx, `INSERT INTO box_model (code, name) VALUES ($1, $2) RETURNING id`, m.Code, m.Name)
		} else {
			id, err = postgres.Value[int64](ctx, tx, `UPDATE box_model SET code = $1, name = $2, put_away_at = $3 WHERE id = $4 AND version = $5 RETURNING id`,
				m.Code, m.Name, m.PutAwayAt, m.ID, m.Version)
			err = postgres.Changed(ctx, tx, err, "box_model", m.ID, "this model")
		}
		if err != nil {
			return err
		}
		out, err = postgres.One[Model](ctx, tx, selectModel+`WHERE m.id = $1`, id)
		return err
	})
	return out, err
}

// Drawing is a new revision of a model as it is drawn up.
type Drawing struct {
	ModelID       int64
	Body          hive.Model // id and revision are set from the record
	FitID         *int64
	SerialSection string // empty: the lowest brood section
	Reason        string // why it changed; needed from the second revision on
}

// RevisionAdd stores a new revision of a model. It is worked out once before, so that
// only what can be built is kept. Errors: Invalid with the pointers of the calculation
// under /body; NotFound.
func (r *Room) RevisionAdd(ctx context.Context, d Drawing) (Revision, error) {
	var out Revision
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var code string
		if err := tx.QueryRow(ctx, `SELECT code FROM box_model WHERE id = $1 FOR NO KEY UPDATE`, d.ModelID).Scan(&code); err != nil {
			return postgres.Translate(err)
		}
		last, err := postgres.Value[int](ctx, tx, `SELECT coalesce(max(revision), 0) FROM model_revision WHERE model_id = $1`, d.ModelID)
		if err != nil {
			return err
		}
		d.Body.ID, d.Body.Revision = code, last+1
		if err := d.check(last > 0); err != nil {
			return err
		}
		if d.Body.Operations, err = keepNeeds(ctx, tx, "/body/operations", d.Body.Operations); err != nil {
			return err
		}
		body, err := json.Marshal(d.Body)
		if err != nil {
			return fmt.Errorf("write model %s: %w", code, err)
		}
		id, err := postgres.Value[int64](ctx, tx, `INSERT INTO model_revision (model_id, revision, body, fit_id, serial_section, reason, made_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING id`, d.ModelID, last+1, body, d.FitID, d.SerialSection, d.Reason, r.db.Now())
		if err != nil {
			return err
		}
		out, err = revisionIn(ctx, tx, id)
		return err
	})
	return out, err
}

func (d *Drawing) check(further bool) error {
	if err := d.Body.Check("/body", d.Body.WallMM); err != nil {
		return refused(err)
	}
	if _, err := hive.Parts(d.Body, d.Body.WallMM); err != nil {
		return refused(err)
	}
	if d.SerialSection == "" {
		d.SerialSection = entranceSection(d.Body)
	}
	var l fault.List
	l.Check(sectionOf(d.Body, d.SerialSection) != nil, "/serial_section", "The model has no section %q.", d.SerialSection)
	l.Check(!further || d.Reason != "", "/reason", "Say why the model changes.")
	l.Short("/reason", d.Reason)
	return l.Err()
}

// entranceSection is the lowest section for brood: stingless bees enter there (common
// practice, no source).
func entranceSection(m hive.Model) string {
	for _, s := range m.Sections {
		if s.Kind == "brood" {
			return s.ID
		}
	}
	return m.Sections[0].ID
}

func sectionOf(m hive.Model, id string) *hive.Section {
	for i := range m.Sections {
		if m.Sections[i].ID == id {
			return &m.Sections[i]
		}
	}
	return nil
}

func revisionIn(ctx context.Context, q postgres.Querier, id int64) (Revision, error) {
	row, err := postgres.One[revisionRow](ctx, q, selectRevision+`WHERE r.id = $1`, id)
	if err != nil {
		return Revision{}, err
	}
	return row.revision()
}

// RevisionGet reads one revision of a model.
func (r *Room) RevisionGet(ctx context.Context, id int64) (Revision, error) {
	return revisionIn(ctx, r.db, id)
}

// RevisionList gives the revisions of a model, the latest first; at most 200.
func (r *Room) RevisionList(ctx context.Context, modelID int64) ([]Revision, error) {
	rows, err := postgres.List[revisionRow](ctx, r.db, selectRevision+`WHERE r.model_id = $1 ORDER BY r.revision DESC LIMIT 200`, modelID)
	if err != nil {
		return nil, err
	}
	list := make([]Revision, len(rows))
	for i, row := range rows {
		if list[i], err = row.revision(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// ModelGet reads one model.
func (r *Room) ModelGet(ctx context.Context, id int64) (Model, error) {
	return postgres.One[Model](ctx, r.db, selectModel+`WHERE m.id = $1`, id)
}

// ModelList gives the models in use by name, all of them when putAway is true; one page
// of at most 500.
func (r *Room) ModelList(ctx context.Context, putAway bool) ([]Model, error) {
	return postgres.List[Model](ctx, r.db, selectModel+`WHERE $1 OR m.put_away_at IS NULL ORDER BY lower(m.name::text), m.id LIMIT 500`, putAway)
}

func init() {
	postgres.Explain("box_model_code_once", fault.Conflict, "/code", "There is a model with this code already.")
	postgres.Explain("model_revision_written_once", fault.Conflict, "", "A revision never changes. Make the next one.")
}
