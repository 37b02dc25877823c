package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Dressing is boards of a pack that went through the planer.
type Dressing struct {
	PackID int64
	At     time.Time
	Taken  []Content    // what left the pack
	Boards []DressedLot // what came of it; may be fewer or shorter, never none unless all was lost
	Place  string       // on the rack
	Done   bool         // the pack is finished; what is still in it is gone
}

// DressedLot is equal boards that came from the planer.
type DressedLot struct {
	WidthMM, ThicknessMM decimal.Decimal // nominal
	ThicknessTrueMM      decimal.Decimal // as measured; zero: nominal
	LengthMM             int             // as measured
	Grade                string          // empty: sound
	Count                int
}

// DressedOut is what a dressing did to the book.
type DressedOut struct {
	Lots   []Lot
	Notes  []string // where the pack did not hold what the book said
	Broken []claims.Claim
}

func (d Dressing) check(now time.Time) error {
	var l fault.List
	l.Past("/happened_at", d.At, now)
	l.Check(len(d.Taken) > 0 || d.Done, "/taken", "Write which boards left the pack.")
	if len(d.Taken) > 0 {
		checkContent(&l, d.Taken)
	}
	l.Check(len(d.Boards) <= 200, "/boards", "At most 200 lines at a time.")
	for i, b := range d.Boards {
		l.Check(b.Count >= 1 && b.Count <= maxPieces, fmt.Sprintf("/boards/%d/count", i), "The count must lie between 1 and %d.", maxPieces)
	}
	l.Short("/place", d.Place)
	return l.Err()
}

// PackDress takes boards out of a pack and puts what came of them on the rack. Claims
// that meant boards of the pack go with them; what no longer holds is broken. Boards the
// pack did not have by the book are taken all the same and noted. Errors: Invalid;
// Conflict when the pack is finished.
func (r *Room) PackDress(ctx context.Context, d Dressing) (DressedOut, error) {
	var out DressedOut
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		out = DressedOut{Lots: []Lot{}, Notes: []string{}}
		if err := d.check(r.db.Now()); err != nil {
			return err
		}
		p, err := packIn(ctx, tx, d.PackID)
		if err != nil {
			return err
		}
		if p.FinishedAt != nil {
			return fault.New(fault.Conflict, "Pack %s is finished: all of it is dressed or gone.", p.Number)
		}
		lots, err := r.dressLots(ctx, tx, d, p)
		if err != nil {
			return err
		}
		// Lots are locked before packs; only now the pack's row.
		if _, err := packLock(ctx, tx, d.PackID); err != nil {
			return err
		}
		left, notes, err := takeContent(ctx, tx, d)
		if err != nil {
			return err
		}
		out.Notes = notes
		out.Broken, err = claims.Carry(ctx, tx, r.db.Now(), claims.Pack(p.ID), left, lots, "pack "+p.Number+" dressed")
		if err != nil {
			return err
		}
		if left == 0 {
			if _, err := tx.Exec(ctx, `UPDATE pack SET finished_at = $2 WHERE id = $1`, p.ID, d.At); err != nil {
				return postgres.Translate(err)
			}
		}
		ids := make([]int64, len(lots))
		for i, t := range lots {
			ids[i] = t.ID
		}
		out.Lots, err = postgres.List[Lot](ctx, tx, selectLot+`WHERE l.id = ANY ($1) ORDER BY l.id`, ids)
		return err
	})
	return out, err
}

// dressLots makes the lots, all of them before any is locked, and books the boards in.
func (r *Room) dressLots(ctx context.Context, tx pgx.Tx, d Dressing, p Pack) ([]claims.Thing, error) {
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return nil, err
	}
	cost, err := packMetreCost(ctx, tx, p)
	if err != nil {
		return nil, err
	}
	lots := make([]claims.Thing, len(d.Boards))
	for i, b := range d.Boards {
		id, err := LotTx(ctx, tx, LotKey{SpeciesID: p.SpeciesID, WidthMM: b.WidthMM, ThicknessMM: b.ThicknessMM, ThicknessTrueMM: b.ThicknessTrueMM,
			Grade: b.Grade, LengthMM: b.LengthMM, Place: d.Place, PackID: &p.ID, MetreCostMinor: cost, FirstInOn: house.DateIn(d.At, set.Location())}, set.LengthStepMM)
		if err != nil {
			return nil, err
		}
		lots[i] = claims.Lot(id)
	}
	if _, err := claims.Lock(ctx, tx, lots); err != nil {
		return nil, err
	}
	for i, b := range d.Boards {
		if _, err := MoveTx(ctx, tx, r.db.Now(), Move{Thing: lots[i], Quantity: b.Count, Kind: Dressed, HappenedAt: d.At, PackID: &p.ID}); err != nil {
			return nil, err
		}
	}
	return lots, nil
}

// packMetreCost shares the cost of a pack over the metres that are in it and those that
// were dressed from it before: minor units for a metre; nil, the standard cost, when the
// pack has no cost or no metres by the book.
func packMetreCost(ctx context.Context, tx pgx.Tx, p Pack) (*int64, error) {
	if p.CostMinor == 0 {
		return nil, nil
	}
	mm, err := postgres.Value[int64](ctx, tx, `SELECT (SELECT coalesce(sum(c.length_mm::bigint * c.count), 0) FROM pack_content c WHERE c.pack_id = $1)::bigint +
		(SELECT coalesce(sum(l.length_mm::bigint * m.quantity), 0) FROM board_lot l JOIN stock_move m ON m.lot_id = l.id AND m.kind = 'dressed'
		 WHERE l.pack_id = $1)::bigint`, p.ID)
	if err != nil || mm == 0 {
		return nil, err
	}
	cost := decimal.NewFromInt(p.CostMinor).Mul(decimal.NewFromInt(1000)).DivRound(decimal.NewFromInt(mm), 0).IntPart()
	return &cost, nil
}

// takeContent lowers the pack's content and gives how many boards are left in it.
func takeContent(ctx context.Context, tx pgx.Tx, d Dressing) (int, []string, error) {
	notes := []string{}
	for _, c := range d.Taken {
		var had int
		err := tx.QueryRow(ctx, `SELECT count FROM pack_content WHERE pack_id = $1 AND length_mm = $2 AND grade = $3`, d.PackID, c.LengthMM, c.Grade).Scan(&had)
		if err != nil && !fault.Is(postgres.Translate(err), fault.NotFound) {
			return 0, nil, postgres.Translate(err)
		}
		if had < c.Count {
			notes = append(notes, fmt.Sprintf("The book had %d boards of %d mm %s in the pack, %d were taken.", had, c.LengthMM, c.Grade, c.Count))
		}
		if _, err := tx.Exec(ctx, `UPDATE pack_content SET count = greatest(0, count - $4) WHERE pack_id = $1 AND length_mm = $2 AND grade = $3`,
			d.PackID, c.LengthMM, c.Grade, c.Count); err != nil {
			return 0, nil, postgres.Translate(err)
		}
	}
	left, err := postgres.Value[int](ctx, tx, `SELECT coalesce(sum(count), 0)::int FROM pack_content WHERE pack_id = $1`, d.PackID)
	if err != nil || !d.Done || left == 0 {
		return left, notes, err
	}
	notes = append(notes, fmt.Sprintf("%d boards were still in the pack by the book; it is finished now.", left))
	_, err = tx.Exec(ctx, `UPDATE pack_content SET count = 0 WHERE pack_id = $1 AND count > 0`, d.PackID)
	return 0, notes, postgres.Translate(err)
}
