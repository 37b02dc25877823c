package workshop

import (
	"context"
	"math"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/postgres"
)

// Learnt from at most so many builds, the last that were finished; older ones tell of
// other saws and other hands (our estimate).
const learntBuilds = 40

// spentOp is an operation of a finished build with its frozen standard and the minutes
// spent on it.
type spentOp struct {
	BuildID    int64   `db:"build_id"`
	RevisionID int64   `db:"revision_id"`
	Name       string  `db:"name"`
	Quantity   int     `db:"quantity"`
	SetupMin   float64 `db:"setup_min"`
	PieceMin   float64 `db:"piece_min"`
	Minutes    float64 `db:"minutes"`
	Split      float64 `db:"split"` // of them, shares of whole days
}

// spentOpsSQL reads the operations of finished builds: builds is a query of id, quantity, model_revision_id, finished_at.
func spentOpsSQL(builds string) string {
	return `SELECT b.id AS build_id, b.model_revision_id AS revision_id, o.name, b.quantity, o.setup_min::float8, o.piece_min::float8, s.minutes, s.split FROM (` + builds + `) b
	JOIN build_operation o ON o.build_id = b.id, LATERAL (SELECT coalesce(extract(epoch FROM sum(t.stopped_at - t.started_at)) / 60, 0)::float8 AS minutes,
		coalesce(extract(epoch FROM sum(t.stopped_at - t.started_at) FILTER (WHERE t.split_on IS NOT NULL)) / 60, 0)::float8 AS split FROM time_spell t WHERE t.build_operation_id = o.id) s
	ORDER BY b.finished_at DESC, b.id DESC, o.position`
}

// byBuild gathers operations build by build, in their order.
func byBuild(ops []spentOp) [][]spentOp {
	var out [][]spentOp
	for i, o := range ops {
		if i == 0 || o.BuildID != ops[i-1].BuildID {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], o)
	}
	return out
}

// figure is the standard of an operation of a revision as it was drawn, and as a later
// revision of the same drawing has it: what was learnt since.
type figure struct {
	RevisionID int64   `db:"revision_id"`
	Name       string  `db:"name"`
	SetupThen  float64 `db:"setup_then"`
	PieceThen  float64 `db:"piece_then"`
	SetupNow   float64 `db:"setup_now"`
	PieceNow   float64 `db:"piece_now"`
}

type figureKey struct {
	revision int64
	name     string
}

// figures are the minutes that have changed since builds froze theirs.
type figures map[figureKey]figure

// LaterFiguresSQL joins to each operation o of a revision r the same one, p, of the latest
// revision that has the same drawing and other operations at most; both are JSON objects in
// a column named value. A revision without such a later one is not in it.
const LaterFiguresSQL = `CROSS JOIN LATERAL (SELECT n.body FROM model_revision n WHERE n.model_id = r.model_id AND n.revision > r.revision
		AND n.body - 'operations' - 'revision' = r.body - 'operations' - 'revision' ORDER BY n.revision DESC LIMIT 1) n
	CROSS JOIN LATERAL jsonb_array_elements(CASE jsonb_typeof(r.body -> 'operations') WHEN 'array' THEN r.body -> 'operations' ELSE '[]' END) o
	JOIN LATERAL jsonb_array_elements(CASE jsonb_typeof(n.body -> 'operations') WHEN 'array' THEN n.body -> 'operations' ELSE '[]' END) p ON p.value ->> 'id' = o.value ->> 'id'`

// figuresOf reads the figures of revisions that have a later one which differs in nothing
// but its operations: another drawing is other work, and says nothing of theirs.
func figuresOf(ctx context.Context, q postgres.Querier, revisions []int64) (figures, error) {
	slices.Sort(revisions)
	list, err := postgres.List[figure](ctx, q, `SELECT r.id AS revision_id, o.value ->> 'id' AS name, coalesce((o.value ->> 'setup_minutes')::float8, 0) AS setup_then, coalesce((o.value ->> 'piece_minutes')::float8, 0) AS piece_then,
		coalesce((p.value ->> 'setup_minutes')::float8, 0) AS setup_now, coalesce((p.value ->> 'piece_minutes')::float8, 0) AS piece_now
	FROM model_revision r `+LaterFiguresSQL+`
	WHERE r.id = ANY ($1) ORDER BY r.id`, slices.Compact(revisions))
	out := figures{}
	for _, f := range list {
		out[figureKey{f.RevisionID, f.Name}] = f
	}
	return out, err
}

// now gives the set-up and piece minutes that an operation of a build has by the figures
// of today. What options add to it stays; a section or a part keeps its share.
func (f figures) now(revision int64, name string, setup, piece float64) (float64, float64) {
	x, ok := f[figureKey{revision, name}]
	if !ok {
		return setup, piece
	}
	setup = max(0, setup+math.Ceil(x.SetupNow)-math.Ceil(x.SetupThen))
	if piece < x.PieceThen { // a part of the box
		return setup, piece * x.PieceNow / x.PieceThen
	}
	return setup, piece + x.PieceNow - x.PieceThen
}

// operation is one of an open build as plans reckon it: with the figures of today, which
// are those that real minutes are compared with. What the build has frozen stays on its page.
func (f figures) operation(revision int64, o Operation) Operation {
	if _, ok := f[figureKey{revision, o.Name}]; ok {
		setup, piece := f.now(revision, o.Name, float64(o.SetupMin), o.PieceMin.InexactFloat64())
		o.SetupMin, o.PieceMin = int(setup), decimal.NewFromFloat(piece).Round(2)
	}
	return o
}

// Proportions gives real to standard minutes of the builds finished last, newest first: of
// those only whose operations all have their time written down. The standard is that of
// today, also where it was learnt from these very builds. Builds whose time is for the most
// part shares of the same whole days count as one: how those days fell to them nobody knows.
func Proportions(ctx context.Context, q postgres.Querier) ([]float64, error) {
	ops, err := postgres.List[spentOp](ctx, q, spentOpsSQL(`SELECT id, quantity, model_revision_id, finished_at FROM build WHERE finished_at IS NOT NULL ORDER BY finished_at DESC, id DESC LIMIT $1`), learntBuilds)
	if err != nil || len(ops) == 0 {
		return nil, err
	}
	var revisions []int64
	split := false
	for _, o := range ops {
		revisions, split = append(revisions, o.RevisionID), split || o.Split > 0
	}
	f, err := figuresOf(ctx, q, revisions)
	if err != nil {
		return nil, err
	}
	var took []tookBuild
	for _, b := range byBuild(ops) {
		if x, whole := f.took(b); whole {
			took = append(took, x)
		}
	}
	var days []dayShare
	if split {
		ids := make([]int64, len(took))
		for i, x := range took {
			ids[i] = x.id
		}
		days, err = postgres.List[dayShare](ctx, q, `SELECT o.build_id, t.account_id, t.split_on, (extract(epoch FROM sum(t.stopped_at - t.started_at)) / 60)::float8 AS minutes
			FROM time_spell t JOIN build_operation o ON o.id = t.build_operation_id WHERE o.build_id = ANY ($1) AND t.split_on IS NOT NULL GROUP BY 1, 2, 3 ORDER BY 1, 2, 3`, ids)
	}
	return proportionsOf(took, days), err
}

// tookBuild is what a build took beside its standard of today, both in minutes.
type tookBuild struct {
	id             int64
	real, standard float64
}

// took adds a build up; whole is false where time is missing.
func (f figures) took(ops []spentOp) (out tookBuild, whole bool) {
	whole = true
	for _, o := range ops {
		setup, piece := f.now(o.RevisionID, o.Name, o.SetupMin, o.PieceMin)
		out.id, out.real, out.standard = o.BuildID, out.real+o.Minutes, out.standard+setup+piece*float64(o.Quantity)
		whole = whole && (o.Minutes > 0 || o.SetupMin+o.PieceMin == 0)
	}
	return out, whole && out.standard > 0
}

// dayShare is what of a person's whole day fell to a build.
type dayShare struct {
	BuildID   int64     `db:"build_id"`
	AccountID int64     `db:"account_id"`
	On        time.Time `db:"split_on"`
	Minutes   float64   `db:"minutes"`
}

// proportionsOf gives the proportions of builds, those that share most of their time in
// whole days added up to one.
func proportionsOf(builds []tookBuild, days []dayShare) []float64 {
	type whose struct {
		account int64
		on      time.Time
	}
	of, at := map[whose][]dayShare{}, map[int64]int{}
	for _, d := range days {
		of[whose{d.AccountID, d.On}] = append(of[whose{d.AccountID, d.On}], d)
	}
	for i, b := range builds {
		at[b.id] = i
	}
	common := map[[2]int]float64{} // minutes of the first in days that it shares with the second
	for _, list := range of {
		for _, a := range list {
			for _, b := range list {
				if a.BuildID != b.BuildID {
					common[[2]int{at[a.BuildID], at[b.BuildID]}] += a.Minutes
				}
			}
		}
	}
	first := make([]int, len(builds)) // of the group
	for i := range first {
		first[i] = i
	}
	for pair, minutes := range common {
		if a, b := first[pair[0]], first[pair[1]]; a != b && minutes > builds[pair[0]].real/2 {
			for i := range first {
				if first[i] == max(a, b) {
					first[i] = min(a, b)
				}
			}
		}
	}
	real, standard := make([]float64, len(builds)), make([]float64, len(builds))
	for i, b := range builds {
		real[first[i]] += b.real
		standard[first[i]] += b.standard
	}
	var out []float64
	for i := range builds {
		if first[i] == i {
			out = append(out, real[i]/standard[i])
		}
	}
	return out
}
