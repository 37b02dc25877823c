package timber

import (
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Work is one dressing of boards of a pack, or one ripping of boards of a lot: what went
// in, what came of it and what it cost.
//
// Cost is shared so that nothing is lost. The pack's own cost (log, haulage, sawing) that
// no earlier work took goes to the boards that leave it, by their length; what is left
// goes to later ones, and the last takes the rest, so that a finished pack has given out
// its cost to the minor unit. Space is paid for the boards that leave, from the stacking
// to the dressing; the minutes are those of the work. Each of the three is spread over
// what came by volume, whole minor units, the remainders to the largest parts. A lot's
// cost of a metre is its part over its metres in whole minor units, so that metres times
// cost differs from the part by at most half a minor unit a metre. What left the rack
// keeps the cost it had then.
type Work struct {
	ID          int64     `db:"id"`
	PackID      *int64    `db:"pack_id"` // the pack that was dressed, or
	LotID       *int64    `db:"lot_id"`  // the lot that was ripped
	At          time.Time `db:"happened_at"`
	Taken       int       `db:"taken"`
	TakenMM     int64     `db:"taken_mm"`
	CameMM      int64     `db:"came_mm"` // usable; strips by their width and a kerf
	TakenMM3    int64     `db:"taken_mm3"`
	CameMM3     int64     `db:"came_mm3"`
	Minutes     int       `db:"minutes"`
	By          string    `db:"by_whom"`
	DockedFor   string    `db:"docked_for"`
	BoardsMinor int64     `db:"boards_minor"` // share of log, haulage and sawing; the boards that were ripped
	DryingMinor int64     `db:"drying_minor"`
	LabourMinor int64     `db:"labour_minor"`
}

// CostMinor is what the work and the boards that went into it cost.
func (w Work) CostMinor() int64 { return w.BoardsMinor + w.DryingMinor + w.LabourMinor }

// DockedPct is the share of the length that went in and did not come out, percent with
// one decimal; zero where nothing went in.
func (w Work) DockedPct() decimal.Decimal { return lostPct(w.TakenMM, w.CameMM) }

// LossPct is the share of the green volume that planing, docking and saw cuts took.
func (w Work) LossPct() decimal.Decimal { return lostPct(w.TakenMM3, w.CameMM3) }

func lostPct(in, out int64) decimal.Decimal {
	if in <= 0 || out >= in {
		return decimal.Zero
	}
	return decimal.NewFromInt(in-out).Mul(decimal.NewFromInt(100)).DivRound(decimal.NewFromInt(in), 1)
}

const workColumns = `id, pack_id, lot_id, happened_at, taken, taken_mm, came_mm, taken_mm3, came_mm3, minutes, by_whom, docked_for, boards_minor, drying_minor, labour_minor`

// Stack space beyond the timber itself: stickers of 20 mm between the layers (common
// practice, no source) and a tenth of the width for gaps (our estimate).
const (
	stickerMM = 20
	gapsTenth = 11
)

// monthDays is the mean length of a month, days.
var monthDays = decimal.RequireFromString("30.4375")

func checkWork(l *fault.List, minutes int, by, dockedFor string) {
	l.Check(minutes >= 0 && minutes <= 10_000, "/minutes", "The minutes must lie between 0 and 10000.")
	l.Short("/by", by)
	l.Check(dockedFor == "" || slices.Contains(DockReasons, dockedFor), "/docked_for", "Docked for checks, knots, wane, stain, borers, twist or other.")
}

// came is equal boards that come of a work, and their share of its cost.
type came struct {
	DressedLot
	thing                  claims.Thing
	usableMM               int
	boards, drying, labour int64 // minor units
}

// mm3 is the volume of all the boards of the line as dressed.
func (c came) mm3() int64 {
	return c.WidthMM.Mul(c.ThicknessTrueMM).Mul(decimal.NewFromInt(int64(c.usableMM) * int64(c.Count))).IntPart()
}

// metreCost is the cost of a metre of the line in whole minor units.
func (c came) metreCost() int64 {
	mm := int64(c.usableMM) * int64(c.Count)
	return decimal.NewFromInt((c.boards+c.drying+c.labour)*1000).DivRound(decimal.NewFromInt(mm), 0).IntPart()
}

func things(list []came) []claims.Thing {
	out := make([]claims.Thing, len(list))
	for i, c := range list {
		out[i] = c.thing
	}
	return out
}

// lotsFor makes the lots of what came, all of them before any is locked, and locks them;
// key says what the lines leave open.
func (r *Room) lotsFor(ctx context.Context, tx pgx.Tx, set house.Settings, key LotKey, list []DressedLot) ([]came, error) {
	out := make([]came, len(list))
	for i, b := range list {
		if b.ThicknessTrueMM.IsZero() {
			b.ThicknessTrueMM = b.ThicknessMM
		}
		key.WidthMM, key.ThicknessMM, key.ThicknessTrueMM, key.Grade, key.LengthMM = b.WidthMM, b.ThicknessMM, b.ThicknessTrueMM, b.Grade, b.LengthMM
		id, err := LotTx(ctx, tx, key, set.LengthStepMM)
		if err != nil {
			return nil, err
		}
		out[i] = came{DressedLot: b, thing: claims.Lot(id), usableMM: usable(b.LengthMM, set.LengthStepMM)}
	}
	_, err := claims.Lock(ctx, tx, things(out))
	return out, err
}

// bookIn books what came by m, with its own cost where costed.
func (r *Room) bookIn(ctx context.Context, tx pgx.Tx, list []came, m Move, costed bool) error {
	for _, c := range list {
		m.Thing, m.Quantity, m.MetreCostMinor = c.thing, c.Count, nil
		if costed {
			cost := c.metreCost()
			m.MetreCostMinor = &cost
		}
		if _, err := MoveTx(ctx, tx, r.db.Now(), m); err != nil {
			return err
		}
	}
	return nil
}

func lotsIn(ctx context.Context, q postgres.Querier, list []came) ([]Lot, error) {
	ids := make([]int64, len(list))
	for i, c := range list {
		ids[i] = c.thing.ID
	}
	return postgres.List[Lot](ctx, q, selectLot+`WHERE l.id = ANY ($1) ORDER BY l.id`, ids)
}

// packWork reckons a dressing of a pack that is locked. What is gone when the pack is
// finished costs as what was taken.
func packWork(ctx context.Context, tx pgx.Tx, set house.Settings, p Pack, d Dressing, list []came) (Work, error) {
	w := Work{PackID: &p.ID, At: d.At, Minutes: d.Minutes, By: d.By, DockedFor: d.DockedFor}
	given, err := postgres.Value[int64](ctx, tx, `SELECT coalesce(sum(boards_minor), 0)::bigint FROM dressing WHERE pack_id = $1`, p.ID)
	if err != nil {
		return w, err
	}
	inPack, held := int64(0), map[Content]int{}
	for _, c := range p.Content {
		inPack += int64(c.LengthMM) * int64(c.Count)
		held[Content{LengthMM: c.LengthMM, Grade: c.Grade}] = c.Count
	}
	for _, c := range d.Taken {
		mm := int64(c.LengthMM) * int64(c.Count)
		w.Taken, w.TakenMM = w.Taken+c.Count, w.TakenMM+mm
		inPack += int64(c.LengthMM) * int64(max(0, c.Count-held[Content{LengthMM: c.LengthMM, Grade: c.Grade}])) // found
	}
	leaves := w.TakenMM
	if d.Done {
		leaves = inPack
	}
	full := p.WidthMM.Sub(set.StraightenWidthMM)
	if p.DressesToID != nil {
		if full, err = postgres.Value[decimal.Decimal](ctx, tx, `SELECT width_mm FROM board_size WHERE id = $1`, *p.DressesToID); err != nil {
			return w, err
		}
	}
	w.TakenMM3 = p.WidthMM.Mul(p.ThicknessMM).Mul(decimal.NewFromInt(w.TakenMM)).IntPart()
	w.measure(list, full, set.SawKerfMM)
	w.BoardsMinor = max(0, p.CostMinor-given)
	if leaves < inPack {
		w.BoardsMinor = decimal.NewFromInt(w.BoardsMinor).Mul(decimal.NewFromInt(leaves)).DivRound(decimal.NewFromInt(inPack), 0).IntPart()
	}
	days := max(0, int64(house.DateIn(d.At, set.Location()).Sub(p.StackedOn).Hours()/24))
	w.DryingMinor = StackM3(p, leaves).Mul(decimal.NewFromInt(set.DryingM3MonthMinor)).Mul(decimal.NewFromInt(days)).DivRound(monthDays, 0).IntPart()
	w.LabourMinor = hoursCost(d.Minutes, set)
	return w, nil
}

// measure sums what came. A strip counts with its width and one kerf against the full
// width and one kerf, so that strips that fill a board count as the board.
func (w *Work) measure(list []came, fullMM, kerfMM decimal.Decimal) {
	widest, alike := decimal.Zero, true
	for i, c := range list {
		alike = alike && (i == 0 || c.WidthMM.Equal(widest))
		widest = decimal.Max(widest, c.WidthMM)
	}
	// Boards all of a width of which only one goes into the full width are whole boards.
	if widest.GreaterThan(fullMM) || alike && widest.Add(widest).Add(kerfMM).GreaterThan(fullMM) {
		fullMM = widest
	}
	length := decimal.Zero
	for _, c := range list {
		mm := decimal.NewFromInt(int64(c.usableMM) * int64(c.Count))
		length = length.Add(mm.Mul(c.WidthMM.Add(kerfMM)).Div(fullMM.Add(kerfMM)))
		w.CameMM3 += c.mm3()
	}
	w.CameMM = min(length.Round(0).IntPart(), w.TakenMM)
}

// StackM3 is the room that boards of a pack take in its stack, stickers and gaps
// included, m3: lengthMM is the length of the boards together.
func StackM3(p Pack, lengthMM int64) decimal.Decimal {
	return p.WidthMM.Mul(p.ThicknessMM.Add(decimal.NewFromInt(stickerMM))).Mul(decimal.NewFromInt(lengthMM * gapsTenth)).Div(decimal.New(1, 10))
}

// hoursCost is the cost of minutes of the maker, minor units, half away from zero.
func hoursCost(minutes int, set house.Settings) int64 {
	return decimal.NewFromInt(int64(minutes)*set.HourCostMinor).DivRound(decimal.NewFromInt(60), 0).IntPart()
}

// share gives each line its part of the three costs, by volume.
func (w Work) share(list []came) {
	weights := make([]int64, len(list))
	for i, c := range list {
		weights[i] = c.mm3()
	}
	boards, drying, labour := spread(w.BoardsMinor, weights), spread(w.DryingMinor, weights), spread(w.LabourMinor, weights)
	for i := range list {
		list[i].boards, list[i].drying, list[i].labour = boards[i], drying[i], labour[i]
	}
}

// spread shares total over weights in whole units that add up to it exactly: the largest
// remainders are rounded up, the first of equal ones. Weights are zero or more; where all
// are zero, the first takes all.
func spread(total int64, weights []int64) []int64 {
	out := make([]int64, len(weights))
	sum := int64(0)
	for _, w := range weights {
		sum += w
	}
	if len(weights) == 0 {
		return out
	}
	if sum == 0 {
		out[0] = total
		return out
	}
	left, order := total, make([]int, len(weights))
	remainder := make([]decimal.Decimal, len(weights))
	for i, w := range weights {
		exact := decimal.NewFromInt(total).Mul(decimal.NewFromInt(w))
		out[i] = exact.Div(decimal.NewFromInt(sum)).Floor().IntPart()
		remainder[i] = exact.Sub(decimal.NewFromInt(sum).Mul(decimal.NewFromInt(out[i])))
		left -= out[i]
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return remainder[b].Cmp(remainder[a]) })
	for i := int64(0); i < left; i++ {
		out[order[i%int64(len(order))]]++
	}
	return out
}

func workInsert(ctx context.Context, tx pgx.Tx, now time.Time, w Work, list []came) (int64, error) {
	id, err := postgres.Value[int64](ctx, tx, `INSERT INTO dressing (pack_id, lot_id, happened_at, recorded_at, taken, taken_mm, came_mm, taken_mm3, came_mm3, minutes, by_whom, docked_for,
		boards_minor, drying_minor, labour_minor) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15) RETURNING id`,
		w.PackID, w.LotID, w.At, now, w.Taken, w.TakenMM, w.CameMM, w.TakenMM3, w.CameMM3, w.Minutes, w.By, w.DockedFor, w.BoardsMinor, w.DryingMinor, w.LabourMinor)
	if err != nil {
		return 0, err
	}
	for _, c := range list {
		if _, err := tx.Exec(ctx, `INSERT INTO dressing_lot (dressing_id, lot_id, count, boards_minor, drying_minor, labour_minor) VALUES ($1, $2, $3, $4, $5, $6)`,
			id, c.thing.ID, c.Count, c.boards, c.drying, c.labour); err != nil {
			return 0, postgres.Translate(err)
		}
	}
	return id, nil
}
