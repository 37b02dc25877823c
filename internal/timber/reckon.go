package timber

import (
	"context"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/postgres"
)

// WorkList gives the dressings of a pack, the newest first; at most 200.
func (r *Room) WorkList(ctx context.Context, packID int64) ([]Work, error) {
	return postgres.List[Work](ctx, r.db, `SELECT `+workColumns+` FROM dressing WHERE pack_id = $1 ORDER BY id DESC LIMIT 200`, packID)
}

// Came is what came of the timber of a pack or a species, against what went in.
type Came struct {
	Times       int   `db:"times"`
	TakenMM     int64 `db:"taken_mm"`
	CameMM      int64 `db:"came_mm"`
	TakenMM3    int64 `db:"taken_mm3"`
	CameMM3     int64 `db:"came_mm3"`
	Minutes     int64 `db:"minutes"`
	BoardsMinor int64 `db:"boards_minor"`
	DryingMinor int64 `db:"drying_minor"`
	LabourMinor int64 `db:"labour_minor"`
}

// DockedPct is the share of the length that was docked, percent with one decimal.
func (c Came) DockedPct() decimal.Decimal { return lostPct(c.TakenMM, c.CameMM) }

// LossPct is the share of the green volume that planing, docking and saw cuts took.
func (c Came) LossPct() decimal.Decimal { return lostPct(c.TakenMM3, c.CameMM3) }

// CostMinor is all of the cost.
func (c Came) CostMinor() int64 { return c.BoardsMinor + c.DryingMinor + c.LabourMinor }

const sumWork = `count(*)::int AS times, coalesce(sum(d.taken_mm), 0)::bigint AS taken_mm, coalesce(sum(d.came_mm), 0)::bigint AS came_mm,
	coalesce(sum(d.taken_mm3), 0)::bigint AS taken_mm3, coalesce(sum(d.came_mm3), 0)::bigint AS came_mm3, coalesce(sum(d.minutes), 0)::bigint AS minutes,
	coalesce(sum(d.boards_minor), 0)::bigint AS boards_minor, coalesce(sum(d.drying_minor), 0)::bigint AS drying_minor, coalesce(sum(d.labour_minor), 0)::bigint AS labour_minor`

// PackCame sums the dressings of a pack.
func (r *Room) PackCame(ctx context.Context, packID int64) (Came, error) {
	return postgres.One[Came](ctx, r.db, `SELECT `+sumWork+` FROM dressing d WHERE d.pack_id = $1`, packID)
}

// lastWorks is how many dressings the figures of a species look back.
const lastWorks = 50

// SpeciesCame sums the last fifty dressings of packs of a species.
func (r *Room) SpeciesCame(ctx context.Context, speciesID int64) (Came, error) {
	return postgres.One[Came](ctx, r.db, `SELECT `+sumWork+` FROM (SELECT d.* FROM dressing d JOIN pack p ON p.id = d.pack_id
		WHERE p.species_id = $1 ORDER BY d.id DESC LIMIT $2) d`, speciesID, lastWorks)
}

// RealCost is what boards of a species really cost on average.
type RealCost struct {
	Lots           int   `db:"lots"`
	MM             int64 `db:"mm"` // length of their boards
	MetreCostMinor int64 `db:"metre_cost_minor"`
}

// lastLots is how many lots the mean real cost looks at.
const lastLots = 10

// SpeciesRealCost is the mean real cost of a metre of 100 x 28 mm over the last ten lots of
// a species that carry their own cost, offcuts left out, weighed by their volume; Lots is
// 0 where there is none.
func (r *Room) SpeciesRealCost(ctx context.Context, speciesID int64) (RealCost, error) {
	return postgres.One[RealCost](ctx, r.db, `SELECT count(*)::int AS lots, coalesce(sum(mm), 0)::bigint AS mm,
		coalesce(round(2800 * sum(metre_cost_minor * mm) / nullif(sum(mm * section), 0)), 0)::bigint AS metre_cost_minor FROM (
		SELECT l.metre_cost_minor, z.width_mm * z.thickness_mm AS section,
			l.length_mm * (SELECT coalesce(sum(m.quantity), 0) FROM stock_move m WHERE m.lot_id = l.id AND m.kind IN ('dressed', 'bought', 'ripped', 'opening') AND m.quantity > 0) AS mm
		FROM board_lot l JOIN board_size z ON z.id = l.board_size_id WHERE l.species_id = $1 AND l.metre_cost_minor IS NOT NULL AND NOT l.offcut
		ORDER BY l.id DESC LIMIT $2) lots WHERE mm > 0`, speciesID, lastLots)
}

// Reckoning is how the cost of boards of a lot came about: one line for each work that
// gave boards to it, the newest first.
type Reckoning struct {
	Work        int64     `db:"work"`
	PackID      *int64    `db:"pack_id"`
	PackNumber  string    `db:"pack_number"`
	FromLotID   *int64    `db:"from_lot_id"`
	At          time.Time `db:"happened_at"`
	Count       int       `db:"count"`
	MM          int64     `db:"mm"`
	BoardsMinor int64     `db:"boards_minor"`
	DryingMinor int64     `db:"drying_minor"`
	LabourMinor int64     `db:"labour_minor"`
	// Log is what the log of the pack cost altogether; zero where there is none.
	LogID        *int64 `db:"log_id"`
	LogNumber    string `db:"log_number"`
	LogMinor     int64  `db:"log_minor"`
	HaulageMinor int64  `db:"haulage_minor"`
	SawingMinor  int64  `db:"sawing_minor"`
}

// CostMinor is all of the cost of these boards.
func (k Reckoning) CostMinor() int64 { return k.BoardsMinor + k.DryingMinor + k.LabourMinor }

// MetreCostMinor is the cost of a metre of them, whole minor units.
func (k Reckoning) MetreCostMinor() int64 {
	if k.MM <= 0 {
		return 0
	}
	return decimal.NewFromInt(k.CostMinor()*1000).DivRound(decimal.NewFromInt(k.MM), 0).IntPart()
}

// LotReckoning tells how the cost of a lot came about; empty for boards that were bought
// or there before the book. At most 50 works.
func (r *Room) LotReckoning(ctx context.Context, lotID int64) ([]Reckoning, error) {
	return postgres.List[Reckoning](ctx, r.db, `SELECT d.id AS work, d.pack_id, coalesce(p.number, '') AS pack_number, d.lot_id AS from_lot_id, d.happened_at, o.count,
		o.count::bigint * l.length_mm AS mm, o.boards_minor, o.drying_minor, o.labour_minor, g.id AS log_id, coalesce(g.number, '') AS log_number,
		coalesce(g.cost_minor, 0) AS log_minor, coalesce(g.haulage_minor, 0) AS haulage_minor, coalesce(g.sawing_minor, 0) AS sawing_minor
		FROM dressing_lot o JOIN dressing d ON d.id = o.dressing_id JOIN board_lot l ON l.id = o.lot_id LEFT JOIN pack p ON p.id = d.pack_id LEFT JOIN log g ON g.id = p.log_id
		WHERE o.lot_id = $1 ORDER BY o.id DESC LIMIT 50`, lotID)
}
