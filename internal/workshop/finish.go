package workshop

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/timber"
)

// Finish is a build that is done.
type Finish struct {
	BuildID int64
	Version int
	At      time.Time
	Pieces  int    // how many are done, the first open ones; 0: all that are open
	Spoiled []int  // pieces that are spoiled besides those noted before
	Place   string // where the boxes stand now
	// Boards are the boards that were really cut, where the cutting plan was not followed;
	// nil: as planned.
	Boards []BoardsUsed
	// Offcuts came back to the rack, where the plan was not followed; nil: as planned.
	Offcuts []OffcutIn
}

// BoardsUsed is boards of a lot that were cut up.
type BoardsUsed struct {
	LotID int64
	Count int
}

// OffcutIn is equal offcuts of a lot's boards that are worth keeping.
type OffcutIn struct {
	LotID    int64
	LengthMM int
	Count    int
}

// Finished is what finishing a build did.
type Finished struct {
	Build Build
	Boxes []Box    // the new boxes with their serials
	Notes []string // what the book did not know, in plain words
}

func (f Finish) check(b Build, now time.Time) error {
	var l fault.List
	l.Past("/finished_at", f.At, now)
	l.Check(b.StartedAt == nil || !f.At.Before(*b.StartedAt), "/finished_at", "The build began later than this.")
	l.Short("/place", f.Place)
	l.Check(f.Pieces >= 0 && f.Pieces <= b.Quantity, "/pieces", "The build has %d pieces.", b.Quantity)
	for i, n := range f.Spoiled {
		l.Check(n >= 1 && n <= b.Quantity, fmt.Sprintf("/spoiled/%d", i), "The pieces are numbered 1 to %d.", b.Quantity)
	}
	for i, u := range f.Boards {
		l.Check(u.Count >= 1 && u.Count <= 100_000, fmt.Sprintf("/boards/%d/count", i), "The count must lie between 1 and 100000.")
	}
	for i, o := range f.Offcuts {
		l.Check(o.Count >= 1 && o.Count <= 100_000 && o.LengthMM >= 1 && o.LengthMM <= 20_000, fmt.Sprintf("/offcuts/%d/length_mm", i), "An offcut has a length of 1 to 20000 mm and a count.")
	}
	return l.Err()
}

// BuildFinish finishes pieces of a build, and ends it with the last: what was put aside
// for them is used, the boards that were cut and are not booked yet leave the rack and kept offcuts come back, fittings are used up, and every piece that is
// not spoiled comes into being: a box with its serial for life, or sections and parts on
// the shelf. Pieces for order units are put aside for them.
//
// Boards or fittings that the book does not have are booked as found and noted. Errors:
// Invalid, Stale, Conflict when the build has ended.
func (r *Room) BuildFinish(ctx context.Context, f Finish) (Finished, error) {
	var notes []string
	var boxes []int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		notes, boxes = []string{}, nil
		if err := lockTogether(ctx, tx, []int64{f.BuildID}); err != nil {
			return err
		}
		b, err := buildLock(ctx, tx, f.BuildID, r.db.Now())
		if err != nil {
			return err
		}
		if err := f.check(b, r.db.Now()); err != nil {
			return err
		}
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		p, err := outputsDone(ctx, tx, b, f)
		if err != nil {
			return err
		}
		if notes, err = r.useStock(ctx, tx, b, f, p, set); err != nil {
			return err
		}
		cost, err := r.costOf(ctx, tx, b, p, set)
		if err != nil {
			return err
		}
		if err := r.closeBuild(ctx, tx, f, p.last, cost); err != nil {
			return err
		}
		if boxes, err = r.bringForth(ctx, tx, b, f, set, p.good, cost); err != nil {
			return err
		}
		return r.cuttingAfterFinish(ctx, tx, b.ID, f.Boards != nil, p.last)
	})
	if err != nil {
		return Finished{}, err
	}
	out := Finished{Notes: notes, Boxes: []Box{}}
	if out.Build, err = r.BuildGet(ctx, f.BuildID); err != nil {
		return out, err
	}
	for _, id := range boxes {
		box, err := r.BoxGet(ctx, id)
		if err != nil {
			return out, err
		}
		out.Boxes = append(out.Boxes, box)
	}
	return out, nil
}

// useStock books the boards that were cut with their offcuts, and the fittings, out of
// what was put aside; what is left of it after the last piece is free. It gives notes.
func (r *Room) useStock(ctx context.Context, tx pgx.Tx, b Build, f Finish, p pieces, set house.Settings) ([]string, error) {
	plans, err := plansForFinish(ctx, tx, b)
	if err != nil {
		return nil, err
	}
	done, err := partsCut(ctx, tx, []int64{b.ID})
	if err != nil {
		return nil, err
	}
	out, err := f.boardsOut(b, p, plans, done[b.ID], set)
	if err != nil {
		return nil, err
	}
	fittings, err := r.fittingsOut(ctx, tx, b, f, p)
	if err != nil {
		return nil, err
	}
	open, err := claims.OpenFor(ctx, tx, claims.Build(b.ID))
	if err != nil {
		return nil, err
	}
	things := make([]claims.Thing, 0, len(open))
	for _, c := range open {
		things = append(things, c.Thing)
	}
	w := boardWork{at: f.At, set: set, out: out, more: fittings, things: things}
	if p.last {
		w.ends = b.ID
	}
	return r.takeBoards(ctx, tx, w)
}

// plansForFinish are the plans of a build's cutting, its own first.
func plansForFinish(ctx context.Context, tx pgx.Tx, b Build) ([]CuttingPlan, error) {
	id, err := cuttingIDOf(ctx, tx, b.ID)
	if err != nil {
		return nil, err
	}
	if id == 0 {
		return plansIn(ctx, tx, b.ID)
	}
	plans, err := plansOfCutting(ctx, tx, id)
	slices.SortStableFunc(plans, func(x, y CuttingPlan) int { return boolOrder(x.BuildID == b.ID, y.BuildID == b.ID) })
	return plans, err
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// boardsOut gives the boards that leave the rack when a build is finished: those that f
// names, or those of the plans that hold its parts; for some of the pieces, as many boards
// as their parts still need.
func (f Finish) boardsOut(b Build, p pieces, plans []CuttingPlan, done map[string]int, set house.Settings) ([]outBoards, error) {
	need := map[string]int{}
	for _, part := range b.Parts {
		if n := part.Each*p.through(b) - done[part.ID]; n > 0 {
			need[part.ID] = n
		}
	}
	if f.Boards != nil {
		return f.namedBoards(b, need), nil
	}
	var out []outBoards
	for i := range plans {
		for j := range plans[i].Answered.Layouts {
			n := 0
			for n < plans[i].Left(j) && plans[i].helps(j, b.ID, need, p.last) {
				n++
			}
			if n == 0 {
				continue
			}
			one, err := plans[i].outBoards(j, n, set)
			if err != nil {
				return nil, err
			}
			out = append(out, one)
		}
	}
	return out, nil
}

// helps reports whether a further board of a layout gives a part of a build that is still
// needed, and takes what it gives off the need. With all it is cut for any of its parts.
func (p CuttingPlan) helps(layout int, build int64, need map[string]int, all bool) bool {
	cuts := p.cutsOf(layout, build)
	helps := all && len(cuts) > 0
	for part := range cuts {
		helps = helps || need[part] > 0
	}
	if helps {
		for part, n := range cuts {
			need[part] -= n
		}
	}
	return helps
}

// namedBoards are the boards that were really cut, as f names them. The parts that the
// pieces needed are written down with the first of them.
func (f Finish) namedBoards(b Build, need map[string]int) []outBoards {
	var out []outBoards
	for _, u := range f.Boards {
		out = append(out, outBoards{owner: b.ID, lotID: u.LotID, count: u.Count})
	}
	for _, o := range f.Offcuts {
		i := max(0, slices.IndexFunc(out, func(x outBoards) bool { return x.lotID == o.LotID }))
		if len(out) == 0 {
			out = append(out, outBoards{owner: b.ID, lotID: o.LotID})
		}
		out[i].offcuts = append(out[i].offcuts, o)
	}
	if len(out) == 0 || out[0].count == 0 {
		return out
	}
	for _, part := range b.Parts {
		if n := need[part.ID]; n > 0 {
			out[0].parts = append(out[0].parts, partOut{build: b.ID, part: part.ID, count: n, lengthMM: part.LengthMM})
		}
	}
	return out
}

// pieces are those of a build that a finish is about.
type pieces struct {
	good    []outputTo // come out well now
	spoiled int        // of the whole build, with those noted now
	before  int        // finished earlier
	last    bool       // none is left open
}

// through is for how many pieces parts were cut by now.
func (p pieces) through(b Build) int { return min(b.Quantity, len(p.good)+p.before+p.spoiled) }

// outputsDone notes what is spoiled and chooses the pieces that are finished: the first
// ones that are open, as many as f says.
func outputsDone(ctx context.Context, tx pgx.Tx, b Build, f Finish) (pieces, error) {
	if _, err := tx.Exec(ctx, `UPDATE build_output SET spoiled_at = coalesce(spoiled_at, $3) WHERE build_id = $1 AND n = ANY ($2) AND finished_at IS NULL`, b.ID, f.Spoiled, f.At); err != nil {
		return pieces{}, postgres.Translate(err)
	}
	p := pieces{before: b.Finished}
	var err error
	if p.spoiled, err = postgres.Value[int](ctx, tx, `SELECT count(*)::int FROM build_output WHERE build_id = $1 AND spoiled_at IS NOT NULL`, b.ID); err != nil {
		return p, err
	}
	open, err := postgres.List[outputTo](ctx, tx, `SELECT o.n, o.order_unit_id, u.promised_box_on FROM build_output o LEFT JOIN order_unit u ON u.id = o.order_unit_id
		WHERE o.build_id = $1 AND o.spoiled_at IS NULL AND o.finished_at IS NULL ORDER BY o.n`, b.ID)
	if err != nil {
		return p, err
	}
	n := f.Pieces
	if n == 0 {
		n = len(open)
	}
	if n > len(open) {
		return p, fault.Bad("/pieces", "Only %d pieces are open.", len(open))
	}
	p.good, p.last = open[:n], n == len(open)
	numbers := make([]int, n)
	for i, o := range p.good {
		numbers[i] = o.N
	}
	_, err = tx.Exec(ctx, `UPDATE build_output SET finished_at = $3 WHERE build_id = $1 AND n = ANY ($2)`, b.ID, numbers, f.At)
	return p, postgres.Translate(err)
}

// closeBuild stops the clocks and ends the build with its last piece; before that it only
// notes that the build has begun.
func (r *Room) closeBuild(ctx context.Context, tx pgx.Tx, f Finish, last bool, borneMinor int64) error {
	if !last {
		_, err := postgres.Value[int64](ctx, tx, `UPDATE build SET started_at = coalesce(started_at, $3), borne_minor = borne_minor + $4 WHERE id = $1 AND version = $2 RETURNING id`, f.BuildID, f.Version, f.At, borneMinor)
		return postgres.Changed(ctx, tx, err, "build", f.BuildID, "this build")
	}
	if err := stopSpells(ctx, tx, f.BuildID, f.At); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `UPDATE build_operation SET done_at = $2 WHERE build_id = $1 AND done_at IS NULL`, f.BuildID, f.At); err != nil {
		return postgres.Translate(err)
	}
	_, err := postgres.Value[int64](ctx, tx, `UPDATE build SET finished_at = $3, started_at = coalesce(started_at, $3) WHERE id = $1 AND version = $2 RETURNING id`, f.BuildID, f.Version, f.At)
	return postgres.Changed(ctx, tx, err, "build", f.BuildID, "this build")
}

// outputTo is a piece that came out well.
type outputTo struct {
	N          int        `db:"n"`
	UnitID     *int64     `db:"order_unit_id"`
	PromisedOn *time.Time `db:"promised_box_on"`
}

// bringForth makes boxes, or sections and parts on the shelf, of the pieces that came out
// well, each at its share of the cost.
func (r *Room) bringForth(ctx context.Context, tx pgx.Tx, b Build, f Finish, set house.Settings, good []outputTo, costMinor int64) ([]int64, error) {
	if len(good) == 0 {
		return nil, nil
	}
	if b.Makes != MakesBox {
		return nil, r.ontoShelf(ctx, tx, b, f, good)
	}
	each := decimal.NewFromInt(costMinor).Div(decimal.NewFromInt(int64(len(good)))).Round(0).IntPart()
	return r.intoBoxes(ctx, tx, b, f, set, good, max(0, each))
}

// costOf is what the pieces that are finished now cost together, minor units. With the
// last piece it is all that earlier ones do not bear. Before that, boards count by the
// length of parts in a piece, fittings by the piece, and time evenly over the batch.
func (r *Room) costOf(ctx context.Context, tx pgx.Tx, b Build, p pieces, set house.Settings) (int64, error) {
	boards, err := postgres.Value[float64](ctx, tx, `SELECT coalesce(sum(x.cost_minor * CASE WHEN t.total IS NULL THEN (x.build_id = $1)::int ELSE coalesce(t.mine, 0) / t.total END), 0)::float8
		FROM board_cut x LEFT JOIN LATERAL (SELECT sum(p.count * p.length_mm) AS total, sum(p.count * p.length_mm) FILTER (WHERE p.build_id = $1) AS mine FROM cut_part p WHERE p.board_cut_id = x.id) t ON true
		WHERE x.build_id = $1 OR x.id IN (SELECT board_cut_id FROM cut_part WHERE build_id = $1)`, b.ID)
	if err != nil {
		return 0, err
	}
	spent, err := postgres.Value[float64](ctx, tx, `SELECT `+spentSQL+` FROM time_spell t JOIN build_operation o ON o.id = t.build_operation_id WHERE o.build_id = $2`, r.db.Now(), b.ID)
	if err != nil {
		return 0, err
	}
	items, err := itemsOf(ctx, tx, b)
	if err != nil {
		return 0, err
	}
	used, err := fittingsUsed(ctx, tx, b.ID)
	if err != nil {
		return 0, err
	}
	labour := float64(set.HourCostMinor) * spent / 60
	if p.last {
		fittings := 0.0
		for _, i := range items {
			fittings += float64(i.CostMinor) * float64(used[i.ID])
		}
		borne, err := postgres.Value[int64](ctx, tx, `SELECT borne_minor FROM build WHERE id = $1`, b.ID)
		return int64(math.Round(boards+labour+fittings)) - borne, err
	}
	n, each := float64(len(p.good)), 0.0
	for _, f := range b.Fittings {
		each += float64(items[f.ID].CostMinor) * float64(f.Count/b.Quantity)
	}
	covered, err := r.piecesCut(ctx, tx, b)
	if err != nil {
		return 0, err
	}
	covered = max(covered, float64(p.through(b)))
	return int64(math.Round(n * (boards/covered + labour/float64(b.Quantity) + each))), nil
}

// piecesCut is for how many pieces parts are cut, by their length.
func (r *Room) piecesCut(ctx context.Context, tx pgx.Tx, b Build) (float64, error) {
	mm, err := postgres.Value[float64](ctx, tx, `SELECT coalesce(sum(count * length_mm), 0)::float8 FROM cut_part WHERE build_id = $1`, b.ID)
	each := 0.0
	for _, p := range b.Parts {
		each += p.LengthMM.InexactFloat64() * float64(p.Each)
	}
	return mm / max(each, 1), err
}

func (r *Room) intoBoxes(ctx context.Context, tx pgx.Tx, b Build, f Finish, set house.Settings, good []outputTo, costMinor int64) ([]int64, error) {
	rev, err := revisionIn(ctx, tx, b.RevisionID)
	if err != nil {
		return nil, err
	}
	options, err := OptionsByID(ctx, tx, b.OptionIDs)
	if err != nil {
		return nil, err
	}
	cured := house.DateIn(f.At, set.Location()).AddDate(0, 0, CureDays(options))
	var ids []int64
	var wants []claims.Want
	for _, o := range good {
		id, err := boxInsert(ctx, tx, BoxNew{RevisionID: &b.RevisionID, SpeciesID: b.SpeciesID, OptionIDs: b.OptionIDs, FinishedAt: f.At, CuredOn: &cured,
			CostMinor: &costMinor, Place: f.Place}, &b.ID, r.db.Now())
		if err != nil {
			return nil, err
		}
		if err := sectionsInsert(ctx, tx, id, rev, options, f.At); err != nil {
			return nil, err
		}
		if _, err := tx.Exec(ctx, `UPDATE build_output SET box_id = $3 WHERE build_id = $1 AND n = $2`, b.ID, o.N, id); err != nil {
			return nil, postgres.Translate(err)
		}
		ids = append(ids, id)
		if o.UnitID != nil {
			wants = append(wants, claims.Want{For: claims.Unit(*o.UnitID), Thing: claims.Box(id), Quantity: 1, Strength: claims.PutAside, PromisedOn: o.PromisedOn})
		}
	}
	_, err = claims.Put(ctx, tx, r.db.Now(), wants)
	return ids, err
}

// ontoShelf books sections or parts onto the shelf and puts those for order units aside.
func (r *Room) ontoShelf(ctx context.Context, tx pgx.Tx, b Build, f Finish, good []outputTo) error {
	lot, err := shelfLotTx(ctx, tx, b.RevisionID, b.Makes, b.Piece, b.SpeciesID)
	if err != nil {
		return err
	}
	if _, err := timber.MoveTx(ctx, tx, r.db.Now(), timber.Move{Thing: claims.ShelfLot(lot), Quantity: len(good), Kind: timber.Made, HappenedAt: f.At, BuildID: &b.ID}); err != nil {
		return err
	}
	var wants []claims.Want
	for _, o := range good {
		if o.UnitID != nil {
			wants = append(wants, claims.Want{For: claims.Unit(*o.UnitID), Thing: claims.ShelfLot(lot), Quantity: 1, Strength: claims.PutAside, PromisedOn: o.PromisedOn})
		}
	}
	_, err = claims.Put(ctx, tx, r.db.Now(), wants)
	return err
}
