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

// outBoards is boards of a lot that are cut, and what comes of them.
type outBoards struct {
	owner   int64  // the build they are put aside for
	planID  *int64 // nil: not by a plan
	layout  *int
	lotID   int64
	count   int
	offcuts []OffcutIn
	parts   []partOut
}

// partOut is parts that came from boards.
type partOut struct {
	build    int64
	part     string
	count    int
	lengthMM decimal.Decimal
}

// outBoards gives n boards of a layout with their parts and the offcut that is kept.
func (p CuttingPlan) outBoards(layout, n int, set house.Settings) (outBoards, error) {
	l := p.Answered.Layouts[layout]
	lot, err := p.Lot(layout)
	if err != nil {
		return outBoards{}, err
	}
	out := outBoards{owner: p.BuildID, planID: &p.ID, layout: &layout, lotID: lot, count: n}
	if length := int(math.Floor(l.OffcutMM + 1e-6)); keepsOffcut(set, l.OffcutMM) {
		out.offcuts = []OffcutIn{{LotID: lot, LengthMM: length, Count: n}}
	}
	lengths := map[string]float64{}
	for _, q := range p.Asked.Parts {
		lengths[q.ID] = q.LengthMM
	}
	for _, c := range l.Cuts {
		build, part := p.PartOf(c.Part)
		out.parts = append(out.parts, partOut{build, part, c.Count * n, decimal.NewFromFloat(lengths[c.Part])})
	}
	return out, nil
}

// keepsOffcut reports whether an offcut is long enough to go back to the rack.
func keepsOffcut(set house.Settings, mm float64) bool {
	return int(math.Floor(mm+1e-6)) >= max(set.KeepOffcutMM, set.LengthStepMM, 1)
}

// KeepsOffcut reports whether an offcut of a plan goes back to the rack, by the workshop's
// settings, and how long it is there: lengths are rounded down to the workshop's step.
func KeepsOffcut(set house.Settings, mm float64) (int, bool) {
	step := max(1, set.LengthStepMM)
	return int(math.Floor(mm+1e-6)) / step * step, keepsOffcut(set, mm)
}

// boardWork is boards that leave the rack at one time.
type boardWork struct {
	at     time.Time
	set    house.Settings
	out    []outBoards
	more   []timber.Move  // fittings that go with them
	things []claims.Thing // to lock besides
	ends   int64          // the build whose claims all end as used; 0: none
}

// takeBoards books boards out and offcuts in, ends the claims they stood under as used,
// and writes down what came of them. It gives notes on what the book did not have.
func (r *Room) takeBoards(ctx context.Context, tx pgx.Tx, w boardWork) ([]string, error) {
	offcuts, lots, err := offcutLots(ctx, tx, w.out, w.at, w.set)
	if err != nil {
		return nil, err
	}
	moves := w.moves(offcuts, lots)
	things := slices.Clone(w.things)
	for _, m := range moves {
		things = append(things, m.Thing)
	}
	if _, err := claims.Lock(ctx, tx, things); err != nil { // all at once, in the written order
		return nil, err
	}
	if err := r.endUsed(ctx, tx, w); err != nil {
		return nil, err
	}
	notes := []string{}
	for _, m := range moves {
		booked, err := timber.MoveTx(ctx, tx, r.db.Now(), m)
		if err != nil {
			return nil, err
		}
		notes = append(notes, booked.Notes()...)
	}
	for _, o := range w.out {
		if err := r.noteCut(ctx, tx, o, lots, w); err != nil {
			return nil, err
		}
	}
	return notes, nil
}

// endUsed ends the claims under which boards and fittings stood.
func (r *Room) endUsed(ctx context.Context, tx pgx.Tx, w boardWork) error {
	if w.ends > 0 {
		if _, err := claims.EndFor(ctx, tx, r.db.Now(), claims.Build(w.ends), claims.Used, ""); err != nil {
			return err
		}
	}
	for _, o := range w.out {
		if o.owner == w.ends || o.count == 0 {
			continue
		}
		if _, err := claims.Use(ctx, tx, r.db.Now(), claims.Build(o.owner), claims.Lot(o.lotID), o.count); err != nil {
			return err
		}
	}
	for _, m := range w.more {
		if *m.BuildID == w.ends {
			continue
		}
		if _, err := claims.Use(ctx, tx, r.db.Now(), claims.Build(*m.BuildID), m.Thing, -m.Quantity); err != nil {
			return err
		}
	}
	return nil
}

// moves lists boards out, offcuts in at the cost of the lot they come from, fittings out,
// in the order of locks.
func (w boardWork) moves(offcuts map[offcutKey]int64, lots map[int64]lotFacts) []timber.Move {
	var moves []timber.Move
	type key struct{ owner, lot, from int64 }
	gone, back := map[key]int{}, map[key]int{}
	for _, o := range w.out {
		gone[key{o.owner, o.lotID, 0}] += o.count
		for _, c := range o.offcuts {
			back[key{o.owner, offcuts[offcutKey{c.LotID, c.LengthMM}], c.LotID}] += c.Count
		}
	}
	order := func(m map[key]int) []key {
		return slices.SortedFunc(maps.Keys(m), func(a, b key) int {
			return cmp.Or(cmp.Compare(a.lot, b.lot), cmp.Compare(a.owner, b.owner), cmp.Compare(a.from, b.from))
		})
	}
	for _, k := range order(gone) {
		if gone[k] > 0 {
			moves = append(moves, timber.Move{Thing: claims.Lot(k.lot), Quantity: -gone[k], Kind: timber.Cut, HappenedAt: w.at, BuildID: &k.owner})
		}
	}
	for _, k := range order(back) {
		moves = append(moves, timber.Move{Thing: claims.Lot(k.lot), Quantity: back[k], Kind: timber.Offcut, HappenedAt: w.at, BuildID: &k.owner, MetreCostMinor: lots[k.from].OwnCostMinor})
	}
	return append(moves, w.more...)
}

// noteCut writes down boards that were cut with their cost and parts.
func (r *Room) noteCut(ctx context.Context, tx pgx.Tx, o outBoards, lots map[int64]lotFacts, w boardWork) error {
	if o.count == 0 {
		return nil
	}
	lot := lots[o.lotID]
	mm := lot.LengthMM * o.count
	for _, c := range o.offcuts {
		step := max(1, w.set.LengthStepMM)
		mm -= c.LengthMM / step * step * c.Count
	}
	cost := decimal.NewFromInt(lot.MetreCostMinor).Mul(decimal.NewFromInt(int64(max(0, mm)))).Div(decimal.NewFromInt(1000)).Round(0).IntPart()
	id, err := postgres.Value[int64](ctx, tx, `INSERT INTO board_cut (build_id, plan_id, layout, lot_id, boards, cost_minor, cut_at, recorded_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id`,
		o.owner, o.planID, o.layout, o.lotID, o.count, cost, w.at, r.db.Now())
	if err != nil {
		return err
	}
	for _, p := range o.parts {
		if _, err := tx.Exec(ctx, `INSERT INTO cut_part (board_cut_id, build_id, part, count, length_mm) VALUES ($1, $2, $3, $4, $5)`, id, p.build, p.part, p.count, p.lengthMM); err != nil {
			return postgres.Translate(err)
		}
	}
	return nil
}

// offcutKey is an offcut by the lot of its board and its length.
type offcutKey struct {
	lotID    int64
	lengthMM int
}

// offcutLots makes the lots for offcuts, and reads the lots of the boards: thickness,
// timber, place and cost of an offcut are those of its board.
func offcutLots(ctx context.Context, tx pgx.Tx, out []outBoards, at time.Time, set house.Settings) (map[offcutKey]int64, map[int64]lotFacts, error) {
	var ids []int64
	for _, o := range out {
		ids = append(ids, o.lotID)
		for _, c := range o.offcuts {
			ids = append(ids, c.LotID)
		}
	}
	list, err := postgres.List[lotFacts](ctx, tx, `SELECT l.id, l.species_id, z.width_mm, z.thickness_mm, l.grade, l.length_mm, l.thickness_true_mm, l.place, l.pack_id, l.offcut,
		l.metre_cost_minor AS own_cost_minor, coalesce(l.metre_cost_minor, round(s.metre_cost_minor * z.width_mm * z.thickness_mm / 2800))::bigint AS metre_cost_minor
		FROM board_lot l JOIN board_size z ON z.id = l.board_size_id JOIN timber_species s ON s.id = l.species_id WHERE l.id = ANY ($1) ORDER BY l.id`, ids)
	if err != nil {
		return nil, nil, err
	}
	lots := map[int64]lotFacts{}
	for _, l := range list {
		lots[l.ID] = l
	}
	offcuts, n := map[offcutKey]int64{}, 0
	for _, o := range out {
		for _, c := range o.offcuts {
			l, ok := lots[c.LotID]
			if !ok {
				return nil, nil, fault.Bad(fmt.Sprintf("/offcuts/%d/lot_id", n), "There is no such lot on the rack.")
			}
			n++
			key := offcutKey{c.LotID, c.LengthMM}
			if _, ok := offcuts[key]; ok {
				continue
			}
			if offcuts[key], err = timber.LotTx(ctx, tx, l.shorter(c.LengthMM, true, house.DateIn(at, set.Location())), set.LengthStepMM); err != nil {
				return nil, nil, err
			}
		}
	}
	return offcuts, lots, nil
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
	Offcut          bool            `db:"offcut"`
	OwnCostMinor    *int64          `db:"own_cost_minor"`
	MetreCostMinor  int64           `db:"metre_cost_minor"`
}

// shorter is the lot of a shorter piece of a lot's boards.
func (l lotFacts) shorter(lengthMM int, offcut bool, on time.Time) timber.LotKey {
	return timber.LotKey{SpeciesID: l.SpeciesID, WidthMM: l.WidthMM, ThicknessMM: l.ThicknessMM, Grade: l.Grade, LengthMM: lengthMM,
		ThicknessTrueMM: l.ThicknessTrueMM, Place: l.Place, PackID: l.PackID, Offcut: offcut || l.Offcut, FirstInOn: on}
}

// CuttingDone books boards of a layout as cut: they leave the rack, a kept offcut comes
// back, and their parts are done; a plan that is laid anew keeps them. times 0 is all that
// are left. Errors: NotFound, Invalid, Conflict when the plan was laid anew meanwhile.
func (r *Room) CuttingDone(ctx context.Context, id, planID int64, layout, times int, at time.Time) (Cutting, error) {
	return r.changeCutting(ctx, id, func(ctx context.Context, tx pgx.Tx, c cuttingRow) error {
		p, err := planInForce(ctx, tx, id, planID)
		if err != nil {
			return err
		}
		var l fault.List
		l.Past("/cut_at", at, r.db.Now())
		if l.Check(layout >= 0 && layout < len(p.Answered.Layouts), "/layout", "The plan has no such board.") {
			l.Check(times >= 0 && times <= p.Answered.Layouts[layout].Times, "/times", "The plan has %d such boards.", p.Answered.Layouts[layout].Times)
		}
		if err := l.Err(); err != nil {
			return err
		}
		left := p.Left(layout)
		if times == 0 {
			times = left
		}
		if left == 0 || times > left {
			return fault.New(fault.Conflict, "Only %d of these boards are not cut yet.", left)
		}
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		out, err := p.outBoards(layout, times, set)
		if err != nil {
			return err
		}
		if _, err := r.takeBoards(ctx, tx, boardWork{at: at, set: set, out: []outBoards{out}}); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `UPDATE build SET started_at = $2 WHERE id = $1 AND started_at IS NULL`, p.BuildID, at)
		return postgres.Translate(err)
	})
}

// planInForce gives a plan of a cutting that is in force.
func planInForce(ctx context.Context, q postgres.Querier, cuttingID, planID int64) (CuttingPlan, error) {
	plans, err := plansOfCutting(ctx, q, cuttingID)
	if err != nil {
		return CuttingPlan{}, err
	}
	i := slices.IndexFunc(plans, func(p CuttingPlan) bool { return p.ID == planID })
	if i < 0 {
		return CuttingPlan{}, fault.New(fault.Conflict, "This plan was laid anew in the meantime. Look at the new one.")
	}
	return plans[i], nil
}

// Failed is a board that failed at the saw.
type Failed struct {
	PlanID int64
	Layout int
	// UsableMM is what is still good of it, mm: the board becomes a shorter one. Nil: the
	// board is only left out of the plan.
	UsableMM *int
	At       time.Time
}

// CuttingFailed takes one board of a layout out of a cutting: docked to a shorter board,
// or left out. The rest is laid anew, with what is cut already kept; boards that were put
// aside stay so, with others in place of the failed one. Errors: NotFound, Invalid, Conflict.
func (r *Room) CuttingFailed(ctx context.Context, id int64, f Failed) (Cutting, error) {
	return r.changeCutting(ctx, id, func(ctx context.Context, tx pgx.Tx, c cuttingRow) error {
		p, err := planInForce(ctx, tx, id, f.PlanID)
		if err != nil {
			return err
		}
		if f.Layout < 0 || f.Layout >= len(p.Answered.Layouts) {
			return fault.Bad("/layout", "The plan has no such board.")
		}
		if p.Left(f.Layout) == 0 {
			return fault.New(fault.Conflict, "These boards are cut already.")
		}
		lot, err := p.Lot(f.Layout)
		if err != nil {
			return err
		}
		if f.UsableMM != nil {
			if err := r.dock(ctx, tx, p.BuildID, lot, f); err != nil {
				return err
			}
		} else {
			ch := c.choices.leaveOut(lot)
			if _, err := tx.Exec(ctx, `UPDATE cutting SET pinned = $2, left_out = $3 WHERE id = $1`, id, rawJSON(append([]int64{}, ch.Pinned...)), rawJSON(ch.LeftOut)); err != nil {
				return postgres.Translate(err)
			}
		}
		return r.layCutting(ctx, tx, id, relayMS)
	})
}

// leaveOut leaves one board more of a lot out.
func (c Choices) leaveOut(lot int64) Choices {
	c.LeftOut = slices.Clone(c.LeftOut)
	for i, o := range c.LeftOut {
		if o.LotID == lot {
			c.LeftOut[i].Count = o.Count + 1
			return c
		}
	}
	c.LeftOut = append(c.LeftOut, LotLeftOut{lot, 1})
	return c
}

// dock makes one board of a lot a shorter one; what is too short to keep is gone.
func (r *Room) dock(ctx context.Context, tx pgx.Tx, build, lot int64, f Failed) error {
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return err
	}
	_, lots, err := offcutLots(ctx, tx, []outBoards{{lotID: lot}}, f.At, set)
	if err != nil {
		return err
	}
	was := lots[lot]
	var l fault.List
	l.Past("/at", f.At, r.db.Now())
	l.Check(*f.UsableMM >= 0 && *f.UsableMM < was.LengthMM, "/usable_mm", "What is still good is shorter than the board: less than %d mm.", was.LengthMM)
	if err := l.Err(); err != nil {
		return err
	}
	things := []claims.Thing{claims.Lot(lot)}
	moves := []timber.Move{{Thing: claims.Lot(lot), Quantity: -1, Kind: timber.Docked, HappenedAt: f.At, BuildID: &build, Reason: fmt.Sprintf("failed at the saw, %d mm good", *f.UsableMM)}}
	if *f.UsableMM >= max(1, set.LengthStepMM) {
		short, err := timber.LotTx(ctx, tx, was.shorter(*f.UsableMM, false, house.DateIn(f.At, set.Location())), set.LengthStepMM)
		if err != nil {
			return err
		}
		things = append(things, claims.Lot(short))
		moves = append(moves, timber.Move{Thing: claims.Lot(short), Quantity: 1, Kind: timber.Docked, HappenedAt: f.At, BuildID: &build, MetreCostMinor: was.OwnCostMinor, Reason: fmt.Sprintf("docked from %d mm", was.LengthMM)})
	}
	if _, err := claims.Lock(ctx, tx, things); err != nil {
		return err
	}
	if _, err := claims.Use(ctx, tx, r.db.Now(), claims.Build(build), claims.Lot(lot), 1); err != nil {
		return err
	}
	for _, m := range moves {
		if _, err := timber.MoveTx(ctx, tx, r.db.Now(), m); err != nil {
			return err
		}
	}
	return nil
}

// cuttingAfterFinish takes a finished build out of its cutting. Where other boards than
// planned were cut, what is left of the plan is laid anew.
func (r *Room) cuttingAfterFinish(ctx context.Context, tx pgx.Tx, build int64, other, last bool) error {
	if last {
		return r.leaveCutting(ctx, tx, build, other)
	}
	if !other {
		return nil
	}
	id, err := cuttingIDOf(ctx, tx, build)
	if err != nil || id == 0 {
		return err
	}
	return r.layCutting(ctx, tx, id, firstPlanMS)
}
