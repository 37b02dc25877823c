package workshop

import (
	"cmp"
	"context"
	"fmt"
	"maps"
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

// BuildFinish ends a build: what was put aside for it is used, the boards that were cut
// leave the rack and kept offcuts come back, fittings are used up, and every piece that is
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
		costMinor, found, err := r.useStock(ctx, tx, b, &f, set)
		if err != nil {
			return err
		}
		notes = found
		if err := r.closeBuild(ctx, tx, f); err != nil {
			return err
		}
		boxes, err = r.bringForth(ctx, tx, b, f, set, costMinor)
		return err
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

// useStock ends the build's claims as used and books boards, offcuts and fittings. It
// gives the cost of what was used, minor units, and notes.
func (r *Room) useStock(ctx context.Context, tx pgx.Tx, b Build, f *Finish, set house.Settings) (int64, []string, error) {
	plans, err := plansIn(ctx, tx, b.ID)
	if err != nil {
		return 0, nil, err
	}
	if err := f.fromPlans(plans, set); err != nil {
		return 0, nil, err
	}
	offcuts, lots, err := offcutLots(ctx, tx, *f, set)
	if err != nil {
		return 0, nil, err
	}
	codes := make([]string, len(b.Fittings))
	for i, one := range b.Fittings {
		codes[i] = one.ID
	}
	items, err := timber.ItemsByCode(ctx, tx, codes)
	if err != nil {
		return 0, nil, err
	}
	moves := r.finishMoves(b, *f, offcuts, items)
	things := make([]claims.Thing, len(moves))
	for i, m := range moves {
		things[i] = m.Thing
	}
	open, err := claims.OpenFor(ctx, tx, claims.Build(b.ID))
	if err != nil {
		return 0, nil, err
	}
	for _, c := range open {
		things = append(things, c.Thing)
	}
	if _, err := claims.Lock(ctx, tx, things); err != nil { // all at once, in the written order
		return 0, nil, err
	}
	if _, err := claims.EndFor(ctx, tx, r.db.Now(), claims.Build(b.ID), claims.Used, ""); err != nil {
		return 0, nil, err
	}
	notes := []string{}
	for _, m := range moves {
		booked, err := timber.MoveTx(ctx, tx, r.db.Now(), m)
		if err != nil {
			return 0, nil, err
		}
		notes = append(notes, booked.Notes()...)
	}
	return usedCost(moves, lots, items), notes, nil
}

// fromPlans fills in boards and offcuts from the cutting plans where f names none.
func (f *Finish) fromPlans(plans []CuttingPlan, set house.Settings) error {
	if f.Boards != nil {
		return nil
	}
	total := map[int64]int{}
	for _, p := range plans {
		used, err := p.lotsUsed()
		if err != nil {
			return err
		}
		for id, n := range used {
			total[id] += n
		}
	}
	f.Boards = []BoardsUsed{}
	for _, id := range slices.Sorted(maps.Keys(total)) {
		f.Boards = append(f.Boards, BoardsUsed{id, total[id]})
	}
	if f.Offcuts == nil {
		f.Offcuts = plannedOffcuts(plans, set)
	}
	return nil
}

// plannedOffcuts gives the offcuts of the plans that are long enough to keep.
func plannedOffcuts(plans []CuttingPlan, set house.Settings) []OffcutIn {
	out := []OffcutIn{}
	for _, p := range plans {
		for _, l := range p.Answered.Layouts {
			length := int(math.Floor(l.OffcutMM))
			var id int64
			if _, err := fmt.Sscan(l.Board, &id); err == nil && length >= max(set.KeepOffcutMM, set.LengthStepMM) {
				out = append(out, OffcutIn{LotID: id, LengthMM: length, Count: l.Times})
			}
		}
	}
	return out
}

// offcutLots makes the lots for offcuts, and reads the lots of the boards: thickness,
// timber and cost of an offcut are those of its board.
func offcutLots(ctx context.Context, tx pgx.Tx, f Finish, set house.Settings) ([]keptOffcut, map[int64]lotFacts, error) {
	ids := make([]int64, 0, len(f.Boards)+len(f.Offcuts))
	for _, u := range f.Boards {
		ids = append(ids, u.LotID)
	}
	for _, o := range f.Offcuts {
		ids = append(ids, o.LotID)
	}
	list, err := postgres.List[lotFacts](ctx, tx, `SELECT l.id, l.species_id, z.width_mm, z.thickness_mm, l.grade, l.length_mm, l.thickness_true_mm, l.place, l.pack_id,
		l.metre_cost_minor AS own_cost_minor, coalesce(l.metre_cost_minor, round(s.metre_cost_minor * z.width_mm * z.thickness_mm / 2800))::bigint AS metre_cost_minor
		FROM board_lot l JOIN board_size z ON z.id = l.board_size_id JOIN timber_species s ON s.id = l.species_id WHERE l.id = ANY ($1) ORDER BY l.id`, ids)
	if err != nil {
		return nil, nil, err
	}
	lots := map[int64]lotFacts{}
	for _, l := range list {
		lots[l.ID] = l
	}
	var offcuts []keptOffcut
	for i, o := range f.Offcuts {
		l, ok := lots[o.LotID]
		if !ok {
			return nil, nil, fault.Bad(fmt.Sprintf("/offcuts/%d/lot_id", i), "There is no such lot on the rack.")
		}
		id, err := timber.LotTx(ctx, tx, timber.LotKey{SpeciesID: l.SpeciesID, WidthMM: l.WidthMM, ThicknessMM: l.ThicknessMM, Grade: l.Grade, LengthMM: o.LengthMM,
			ThicknessTrueMM: l.ThicknessTrueMM, Place: l.Place, PackID: l.PackID, Offcut: true, FirstInOn: house.DateIn(f.At, set.Location())}, set.LengthStepMM)
		if err != nil {
			return nil, nil, err
		}
		offcuts = append(offcuts, keptOffcut{id, o.Count, l.OwnCostMinor})
		if _, ok := lots[id]; !ok {
			kept := l
			kept.ID, kept.LengthMM = id, o.LengthMM/max(1, set.LengthStepMM)*max(1, set.LengthStepMM)
			lots[id] = kept
		}
	}
	slices.SortStableFunc(offcuts, func(a, b keptOffcut) int { return cmp.Compare(a.lotID, b.lotID) })
	return offcuts, lots, nil
}

// keptOffcut is offcuts that go back on the rack, at the cost of the lot they came from.
type keptOffcut struct {
	lotID          int64
	count          int
	metreCostMinor *int64 // nil: the standard cost
}

type lotFacts struct {
	ID              int64           `db:"id"`
	SpeciesID       int64           `db:"species_id"`
	WidthMM         decimal.Decimal `db:"width_mm"`
	ThicknessMM     decimal.Decimal `db:"thickness_mm"`
	Grade           string          `db:"grade"`
	LengthMM        int             `db:"length_mm"`
	ThicknessTrueMM decimal.Decimal `db:"thickness_true_mm"`
	Place           string          `db:"place"`
	PackID          *int64          `db:"pack_id"`
	OwnCostMinor    *int64          `db:"own_cost_minor"`
	MetreCostMinor  int64           `db:"metre_cost_minor"`
}

// finishMoves lists the moves of a finished build, in the order of locks: boards out,
// offcuts in, counted fittings out.
func (r *Room) finishMoves(b Build, f Finish, offcuts []keptOffcut, items map[string]timber.Item) []timber.Move {
	var moves []timber.Move
	add := func(t claims.Thing, n int, kind timber.MoveKind) {
		moves = append(moves, timber.Move{Thing: t, Quantity: n, Kind: kind, HappenedAt: f.At, BuildID: &b.ID})
	}
	for _, u := range f.Boards {
		add(claims.Lot(u.LotID), -u.Count, timber.Cut)
	}
	for _, o := range offcuts {
		add(claims.Lot(o.lotID), o.count, timber.Offcut)
		moves[len(moves)-1].MetreCostMinor = o.metreCostMinor
	}
	for _, one := range b.Fittings {
		if item, ok := items[one.ID]; ok && item.Counted {
			add(claims.Item(item.ID), -one.Count, timber.Used)
		}
	}
	return moves
}

// usedCost sums what the moves took, minor units; what came back counts against it.
func usedCost(moves []timber.Move, lots map[int64]lotFacts, items map[string]timber.Item) int64 {
	each := map[int64]int64{}
	for _, i := range items {
		each[i.ID] = i.CostMinor
	}
	total := decimal.Zero
	for _, m := range moves {
		n := decimal.NewFromInt(int64(-m.Quantity))
		if m.Thing.Kind == claims.ItemKind {
			total = total.Add(n.Mul(decimal.NewFromInt(each[m.Thing.ID])))
			continue
		}
		l := lots[m.Thing.ID]
		if m.MetreCostMinor != nil { // offcuts of several lots may lie in one
			l.MetreCostMinor = *m.MetreCostMinor
		}
		total = total.Add(n.Mul(decimal.NewFromInt(l.MetreCostMinor)).Mul(decimal.NewFromInt(int64(l.LengthMM))).Div(decimal.NewFromInt(1000)))
	}
	return total.Round(0).IntPart()
}

// closeBuild notes what is spoiled, stops the clocks and ends the build.
func (r *Room) closeBuild(ctx context.Context, tx pgx.Tx, f Finish) error {
	if _, err := tx.Exec(ctx, `UPDATE build_output SET spoiled_at = coalesce(spoiled_at, $3) WHERE build_id = $1 AND n = ANY ($2)`, f.BuildID, f.Spoiled, f.At); err != nil {
		return postgres.Translate(err)
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
// well. materialMinor is what was used for the whole batch.
func (r *Room) bringForth(ctx context.Context, tx pgx.Tx, b Build, f Finish, set house.Settings, materialMinor int64) ([]int64, error) {
	good, err := postgres.List[outputTo](ctx, tx, `SELECT o.n, o.order_unit_id, u.promised_box_on FROM build_output o LEFT JOIN order_unit u ON u.id = o.order_unit_id
		WHERE o.build_id = $1 AND o.spoiled_at IS NULL ORDER BY o.n`, b.ID)
	if err != nil || len(good) == 0 {
		return nil, err
	}
	spent, err := postgres.Value[float64](ctx, tx, `SELECT `+spentSQL+` FROM time_spell t JOIN build_operation o ON o.id = t.build_operation_id WHERE o.build_id = $2`, r.db.Now(), b.ID)
	if err != nil {
		return nil, err
	}
	labour := decimal.NewFromInt(set.HourCostMinor).Mul(decimal.NewFromFloat(spent)).Div(decimal.NewFromInt(60))
	each := decimal.NewFromInt(materialMinor).Add(labour).Div(decimal.NewFromInt(int64(len(good)))).Round(0).IntPart()
	if b.Makes != MakesBox {
		return nil, r.ontoShelf(ctx, tx, b, f, good)
	}
	return r.intoBoxes(ctx, tx, b, f, set, good, max(0, each))
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
