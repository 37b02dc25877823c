package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Lot is dressed boards on the rack, alike in all that matters.
type Lot struct {
	ID              int64           `db:"id"`
	SpeciesID       int64           `db:"species_id"`
	SpeciesName     string          `db:"species_name"`
	SizeID          int64           `db:"board_size_id"`
	WidthMM         decimal.Decimal `db:"width_mm"`
	ThicknessMM     decimal.Decimal `db:"thickness_mm"`
	Grade           string          `db:"grade"`
	LengthMM        int             `db:"length_mm"` // usable, rounded down to the workshop's step
	ThicknessTrueMM decimal.Decimal `db:"thickness_true_mm"`
	Place           string          `db:"place"`
	PackID          *int64          `db:"pack_id"`
	Offcut          bool            `db:"offcut"`
	MetreCostMinor  int64           `db:"metre_cost_minor"` // its own, else the species' standard for this board size
	OwnCost         bool            `db:"own_cost"`
	OnHand          int             `db:"on_hand"`
	PutAside        int             `db:"put_aside"`
	Meant           int             `db:"meant"`
	FirstInOn       time.Time       `db:"first_in_on"`
}

// Free is how many boards of the lot nobody has claimed.
func (l Lot) Free() int { return l.OnHand - l.PutAside - l.Meant }

// The standard cost of a species is for 100 x 28 mm, 2800 mm2; other board sizes go by
// their section.
const selectLot = `SELECT l.id, l.species_id, s.name AS species_name, l.board_size_id, trim_scale(z.width_mm) AS width_mm,
	trim_scale(z.thickness_mm) AS thickness_mm, l.grade, l.length_mm, trim_scale(l.thickness_true_mm) AS thickness_true_mm, l.place, l.pack_id, l.offcut,
	coalesce(l.metre_cost_minor, round(s.metre_cost_minor * z.width_mm * z.thickness_mm / 2800))::bigint AS metre_cost_minor,
	l.metre_cost_minor IS NOT NULL AS own_cost, l.on_hand, l.put_aside,
	(SELECT coalesce(sum(c.quantity), 0) FROM claim c WHERE c.lot_id = l.id AND c.ended_at IS NULL AND c.strength = 'meant')::int AS meant, l.first_in_on
	FROM board_lot l JOIN timber_species s ON s.id = l.species_id JOIN board_size z ON z.id = l.board_size_id `

// LotKey is what makes boards one lot.
type LotKey struct {
	SpeciesID            int64
	WidthMM, ThicknessMM decimal.Decimal // nominal
	Grade                string          // empty: sound
	LengthMM             int             // as measured; stored rounded down to the step
	ThicknessTrueMM      decimal.Decimal // as measured; zero: the nominal thickness
	Place                string
	PackID               *int64
	Offcut               bool
	MetreCostMinor       *int64 // nil: the standard cost
	FirstInOn            time.Time
}

// usable rounds a length down to the step, both in mm; 0 when nothing usable is left.
func usable(lengthMM, stepMM int) int {
	if stepMM < 1 {
		stepMM = 1
	}
	return lengthMM / stepMM * stepMM
}

func (k *LotKey) check(stepMM int) error {
	if k.Grade == "" {
		k.Grade = "sound"
	}
	if k.ThicknessTrueMM.IsZero() {
		k.ThicknessTrueMM = k.ThicknessMM
	}
	var l fault.List
	l.Check(k.SpeciesID > 0, "/species_id", "Say which timber it is.")
	l.Check(gradeOK(k.Grade), "/grade", "The grade is clear, sound or knotty.")
	if l.Check(k.LengthMM >= 1 && k.LengthMM <= 20_000, "/length_mm", "The length must lie between 1 and 20000 mm.") {
		l.Check(usable(k.LengthMM, stepMM) > 0, "/length_mm", "A board below %d mm counts as waste: lengths are rounded down to steps of %d mm.", stepMM, stepMM)
	}
	mmBetween(&l, "/thickness_true_mm", k.ThicknessTrueMM, 1, 500)
	l.Short("/place", k.Place)
	l.Check(k.MetreCostMinor == nil || *k.MetreCostMinor >= 0, "/metre_cost_minor", "A cost cannot be below zero.")
	return l.Err()
}

// LotTx gives the id of the lot that k describes, and makes the lot, empty, when it is
// new. stepMM is the workshop's length step. Invalid for a board that cannot be.
func LotTx(ctx context.Context, tx pgx.Tx, k LotKey, stepMM int) (int64, error) {
	if err := k.check(stepMM); err != nil {
		return 0, err
	}
	size, err := SizeTx(ctx, tx, k.WidthMM, k.ThicknessMM)
	if err != nil {
		return 0, err
	}
	args := []any{k.SpeciesID, size.ID, k.Grade, usable(k.LengthMM, stepMM), k.ThicknessTrueMM, k.Place, k.PackID, k.Offcut}
	if _, err := tx.Exec(ctx, `INSERT INTO board_lot (species_id, board_size_id, grade, length_mm, thickness_true_mm, place, pack_id, offcut, metre_cost_minor, first_in_on)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT ON CONSTRAINT board_lot_once DO NOTHING`, append(args, k.MetreCostMinor, k.FirstInOn)...); err != nil {
		return 0, postgres.Translate(err)
	}
	return postgres.Value[int64](ctx, tx, `SELECT id FROM board_lot WHERE species_id = $1 AND board_size_id = $2 AND grade = $3 AND length_mm = $4
		AND thickness_true_mm = $5 AND place = $6 AND pack_id IS NOT DISTINCT FROM $7 AND offcut = $8`, args...)
}

// LotGet reads one lot.
func (r *Room) LotGet(ctx context.Context, id int64) (Lot, error) { return lotIn(ctx, r.db, id) }

func lotIn(ctx context.Context, q postgres.Querier, id int64) (Lot, error) {
	return postgres.One[Lot](ctx, q, selectLot+`WHERE l.id = $1`, id)
}

// LotFilter says which lots a list holds.
type LotFilter struct {
	SpeciesID int64 // 0: any
	SizeID    int64 // 0: any
	Empty     bool  // lots without boards too
	Limit     int
	After     string
}

// LotList gives lots by species, board size and length, and the mark of the next page
// ("" at the end). The index board_lot_rack serves it.
func (r *Room) LotList(ctx context.Context, f LotFilter) ([]Lot, string, error) {
	mark, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	var species, size int64
	var length int32
	if mark.Key != "" {
		if _, err := fmt.Sscanf(mark.Key, "%d/%d/%d", &species, &size, &length); err != nil {
			return nil, "", fault.Bad("/after", "This page mark is not one of ours. Start the list again.")
		}
	}
	n := postgres.PageSize(f.Limit)
	list, err := postgres.List[Lot](ctx, r.db, selectLot+`WHERE (l.species_id, l.board_size_id, l.length_mm, l.id) > ($1, $2, $3, $4)
		AND ($5 OR l.on_hand > 0) AND ($6::bigint = 0 OR l.species_id = $6) AND ($7::bigint = 0 OR l.board_size_id = $7)
		ORDER BY l.species_id, l.board_size_id, l.length_mm, l.id LIMIT $8`, species, size, length, mark.ID, f.Empty, f.SpeciesID, f.SizeID, n+1)
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(list, n, func(l Lot) postgres.Mark {
		return postgres.Mark{Key: fmt.Sprintf("%d/%d/%d", l.SpeciesID, l.SizeID, l.LengthMM), ID: l.ID}
	})
	return page, next, nil
}

// RackLine is what lies on the rack of one species and board size.
type RackLine struct {
	SpeciesID   int64           `db:"species_id"`
	SpeciesName string          `db:"species_name"`
	SizeID      int64           `db:"board_size_id"`
	WidthMM     decimal.Decimal `db:"width_mm"`
	ThicknessMM decimal.Decimal `db:"thickness_mm"`
	Boards      int             `db:"boards"`
	TotalMM     int64           `db:"total_mm"` // length of all boards
	FreeMM      int64           `db:"free_mm"`  // length of those nobody has claimed
}

// Rack sums the rack by species and board size, by name and the widest first; one page
// of at most 500 lines.
func (r *Room) Rack(ctx context.Context) ([]RackLine, error) {
	return postgres.List[RackLine](ctx, r.db, `SELECT s.id AS species_id, s.name AS species_name, z.id AS board_size_id,
		trim_scale(z.width_mm) AS width_mm, trim_scale(z.thickness_mm) AS thickness_mm, sum(l.on_hand)::int AS boards,
		sum(l.on_hand::bigint * l.length_mm)::bigint AS total_mm,
		sum((l.on_hand - l.put_aside - coalesce(m.meant, 0))::bigint * l.length_mm)::bigint AS free_mm
		FROM board_lot l JOIN timber_species s ON s.id = l.species_id JOIN board_size z ON z.id = l.board_size_id
		LEFT JOIN (SELECT lot_id, sum(quantity) AS meant FROM claim WHERE lot_id IS NOT NULL AND ended_at IS NULL AND strength = 'meant' GROUP BY lot_id) m ON m.lot_id = l.id
		WHERE l.on_hand > 0 GROUP BY s.id, z.id ORDER BY lower(s.name::text), z.width_mm DESC, z.thickness_mm DESC LIMIT 500`)
}

// LotsByID reads lots, by rising id.
func LotsByID(ctx context.Context, q postgres.Querier, ids []int64) ([]Lot, error) {
	return postgres.List[Lot](ctx, q, selectLot+`WHERE l.id = ANY ($1) ORDER BY l.id`, ids)
}
