package timber

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// MoveKind says why stock moved.
type MoveKind string

// The kinds of move. Those that a person may book by hand are in ByHand.
const (
	Opening  MoveKind = "opening"
	Dressed  MoveKind = "dressed"
	Made     MoveKind = "made"
	Bought   MoveKind = "bought"
	Cut      MoveKind = "cut"
	Offcut   MoveKind = "offcut"
	Used     MoveKind = "used"
	Sold     MoveKind = "sold"
	Found    MoveKind = "found"
	Lost     MoveKind = "lost"
	Docked   MoveKind = "docked"
	Ripped   MoveKind = "ripped"
	Moved    MoveKind = "moved"
	Returned MoveKind = "returned"
	Counted  MoveKind = "counted"
)

// ByHand are the kinds of move that a person books on a page, with the way each goes:
// 1 in, -1 out.
var ByHand = map[MoveKind]int{Opening: 1, Found: 1, Returned: 1, Offcut: 1, Lost: -1, Cut: -1, Used: -1, Docked: -1}

// Move is pieces of one thing that came in or went out.
type Move struct {
	Thing      claims.Thing // a lot, an item or a shelf lot
	Quantity   int          // pieces; negative goes out
	Kind       MoveKind
	HappenedAt time.Time
	BuildID    *int64
	UnitID     *int64
	PackID     *int64
	Reason     string // needed for found and lost
	// MetreCostMinor is what a metre of boards that come in cost; nil: as those that lie there.
	MetreCostMinor *int64
}

// Booked is what a move brought to light: Found pieces the book did not know of, and
// the claims it broke.
type Booked struct {
	Found  int
	Words  string // the thing in plain words
	Broken []claims.Claim
}

// Notes gives in plain words what the maker should know; nothing when the book agreed.
func (b Booked) Notes() []string {
	notes := []string{}
	if b.Found > 0 {
		notes = append(notes, fmt.Sprintf("The book had %d of %s too few; they are booked as found.", b.Found, b.Words))
	}
	for _, c := range b.Broken {
		notes = append(notes, fmt.Sprintf("%d of %s were promised and are no longer there. It stands on the Day sheet.", c.Quantity, c.Words))
	}
	return notes
}

func (m Move) check(now time.Time) error {
	var l fault.List
	kind := m.Thing.Kind
	l.Check(kind == claims.LotKind || kind == claims.ItemKind || kind == claims.ShelfLotKind, "/thing", "Say which lot or item moved.")
	l.Check(m.Quantity != 0 && m.Quantity >= -maxPieces && m.Quantity <= maxPieces, "/quantity", "The quantity must lie between 1 and %d.", maxPieces)
	l.Check((m.Kind != Found && m.Kind != Lost) || len(m.Reason) > 0, "/reason", "Say why: what is found or lost needs a reason.")
	l.Short("/reason", m.Reason)
	l.Past("/happened_at", m.HappenedAt, now)
	return l.Err()
}

// MoveTx books a move. It is a physical fact and is never refused for what the book
// holds: pieces that went out and were not in the book are booked as found first, and
// claims that no longer hold are ended, the latest promise first. now is the DB's clock.
//
// Errors: Invalid for what cannot be a move, such as one of an item that is not counted;
// NotFound.
func MoveTx(ctx context.Context, tx pgx.Tx, now time.Time, m Move) (Booked, error) {
	if err := m.check(now); err != nil {
		return Booked{}, err
	}
	stock, err := claims.Lock(ctx, tx, []claims.Thing{m.Thing})
	if err != nil {
		return Booked{}, err
	}
	s := stock[m.Thing]
	if s.Bulk {
		return Booked{}, fault.New(fault.Invalid, "%s is not counted. Say on its line whether it runs low.", s.Words)
	}
	b := Booked{Words: s.Words, Found: max(0, -(s.OnHand + m.Quantity))}
	if b.Found > 0 {
		why := Move{Thing: m.Thing, Quantity: b.Found, Kind: Found, HappenedAt: m.HappenedAt, BuildID: m.BuildID, UnitID: m.UnitID, PackID: m.PackID,
			Reason: fmt.Sprintf("%s without being in the book", m.Kind)}
		if err := insertMove(ctx, tx, now, why); err != nil {
			return b, err
		}
	}
	if err := blendCost(ctx, tx, m); err != nil {
		return b, err
	}
	left := s.OnHand + b.Found + m.Quantity
	if m.Quantity < 0 {
		reason := m.Reason
		if reason == "" {
			reason = fmt.Sprintf("%d %s", -m.Quantity, m.Kind)
		}
		if b.Broken, err = claims.BreakForFact(ctx, tx, now, m.Thing, left, reason); err != nil {
			return b, err
		}
	}
	return b, insertMove(ctx, tx, now, m)
}

// blendCost gives a lot the mean cost of the boards that lie there and of those that come
// in, by count; an empty lot takes the cost of what comes. What left before keeps the
// cost it had. Whole minor units a metre, half away from zero.
func blendCost(ctx context.Context, tx pgx.Tx, m Move) error {
	if m.MetreCostMinor == nil || m.Quantity <= 0 || m.Thing.Kind != claims.LotKind {
		return nil
	}
	_, err := tx.Exec(ctx, `UPDATE board_lot l SET metre_cost_minor = round((l.on_hand * coalesce(l.metre_cost_minor, round(s.metre_cost_minor * z.width_mm * z.thickness_mm / 2800))
		+ $2::numeric * $3::numeric) / (l.on_hand + $2::numeric))::bigint
		FROM timber_species s, board_size z WHERE l.id = $1 AND s.id = l.species_id AND z.id = l.board_size_id`, m.Thing.ID, m.Quantity, *m.MetreCostMinor)
	return postgres.Translate(err)
}

func insertMove(ctx context.Context, tx pgx.Tx, now time.Time, m Move) error {
	var lot, item, shelf *int64
	switch m.Thing.Kind {
	case claims.LotKind:
		lot = &m.Thing.ID
	case claims.ItemKind:
		item = &m.Thing.ID
	default:
		shelf = &m.Thing.ID
	}
	_, err := tx.Exec(ctx, `INSERT INTO stock_move (lot_id, item_id, shelf_lot_id, quantity, kind, happened_at, recorded_at, build_id, order_unit_id, pack_id, reason)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`, lot, item, shelf, m.Quantity, m.Kind, m.HappenedAt, now, m.BuildID, m.UnitID, m.PackID, m.Reason)
	return postgres.Translate(err)
}

// MoveBook is [MoveTx] for moves that a person books by hand: the quantity is given
// without a sign, the kind says which way it goes. Invalid for other kinds.
func (r *Room) MoveBook(ctx context.Context, m Move) (Booked, error) {
	way, ok := ByHand[m.Kind]
	if !ok {
		return Booked{}, fault.Bad("/kind", "Choose found, lost, cut, used, docked, returned, offcut or opening.")
	}
	if m.Quantity < 1 {
		return Booked{}, fault.Bad("/quantity", "The quantity must lie between 1 and %d.", maxPieces)
	}
	m.Quantity *= way
	var b Booked
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		b, err = MoveTx(ctx, tx, r.db.Now(), m)
		return err
	})
	return b, err
}

// MoveLine is one line of a thing's history of moves.
type MoveLine struct {
	ID         int64     `db:"id"`
	Quantity   int       `db:"quantity"`
	Kind       MoveKind  `db:"kind"`
	HappenedAt time.Time `db:"happened_at"`
	BuildID    *int64    `db:"build_id"`
	UnitID     *int64    `db:"order_unit_id"`
	PackID     *int64    `db:"pack_id"`
	Reason     string    `db:"reason"`
}

// MoveList gives the moves of a lot, an item or a shelf lot, the newest first, and the
// mark of the next page.
func (r *Room) MoveList(ctx context.Context, t claims.Thing, limit int, after string) ([]MoveLine, string, error) {
	column, ok := map[claims.Kind]string{claims.LotKind: "lot_id", claims.ItemKind: "item_id", claims.ShelfLotKind: "shelf_lot_id"}[t.Kind]
	if !ok {
		return nil, "", fault.Bad("/thing", "Only lots, items and shelf lots have moves.")
	}
	mark, err := postgres.ReadMark(after)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(limit)
	list, err := postgres.List[MoveLine](ctx, r.db, `SELECT id, quantity, kind, happened_at, build_id, order_unit_id, pack_id, reason FROM stock_move
		WHERE `+column+` = $1 AND ($2::bigint = 0 OR id < $2) ORDER BY id DESC LIMIT $3`, t.ID, mark.ID, n+1)
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(list, n, func(m MoveLine) postgres.Mark { return postgres.Mark{ID: m.ID} })
	return page, next, nil
}
