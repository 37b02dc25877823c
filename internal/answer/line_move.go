package answer

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// LineMove is a move in the line as it was made, with its reason.
type LineMove struct {
	ID           int64     `db:"id"`
	UnitID       int64     `db:"unit_id"`
	Order        string    `db:"number"`
	Who          string    `db:"who"`
	BeforeUnitID *int64    `db:"before_unit_id"` // nil: to the end of the line
	BeforeWho    string    `db:"before_who"`
	Reason       string    `db:"reason"`
	At           time.Time `db:"at"`
}

// LineMoves gives the moves in the line of a kind, the newest first; at most 100.
func (r *Room) LineMoves(ctx context.Context, species int64) ([]LineMove, error) {
	return postgres.List[LineMove](ctx, r.db, `SELECT m.id, m.order_unit_id AS unit_id, o.number, coalesce(nullif(p.name::text, ''), 'Nameless') AS who, m.before_unit_id, coalesce(bp.name::text, '') AS before_who, m.reason, m.at
FROM line_move m JOIN order_unit u ON u.id = m.order_unit_id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
LEFT JOIN order_unit bu ON bu.id = m.before_unit_id LEFT JOIN order_line bl ON bl.id = bu.order_line_id LEFT JOIN sale_order bo ON bo.id = bl.order_id LEFT JOIN party bp ON bp.id = bo.party_id
WHERE l.bee_species_id IS NULL OR l.bee_species_id = $1 ORDER BY m.id DESC LIMIT 100`, species)
}

// LineMove moves a unit in the line of a kind before another, or behind all who stand in it
// now, and keeps the move with its reason. It stays there as others come and go. Errors:
// Invalid without a reason, or for a unit before itself; NotFound for one that does not
// stand in the line; Conflict where it stands there already.
func (r *Room) LineMove(ctx context.Context, species, unit int64, before *int64, reason string) error {
	reason = strings.TrimSpace(reason)
	var l fault.List
	l.Check(reason != "", "/reason", "Say why. The move and its reason stay in the book.")
	l.Text("/reason", reason, fault.ShortText)
	l.Check(before == nil || *before != unit, "/before_unit_id", "Nobody can stand before himself.")
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := r.Apiary.SpeciesGet(ctx, species); err != nil {
			return err
		}
		line, _, err := r.waitingFor(ctx, species)
		if err != nil {
			return err
		}
		from := slices.IndexFunc(line, func(u waitingUnit) bool { return u.UnitID == unit })
		if from < 0 {
			return fault.New(fault.NotFound, "This piece does not stand in the line: it has its colony, or its deposit is not paid.")
		}
		rest := slices.Delete(slices.Clone(line), from, from+1)
		to := len(rest)
		if before != nil {
			if to = slices.IndexFunc(rest, func(u waitingUnit) bool { return u.UnitID == *before }); to < 0 {
				return fault.Bad("/before_unit_id", "The piece to stand before is not in this line.")
			}
		}
		if to == from {
			return fault.New(fault.Conflict, "It stands there already.")
		}
		low, high := "", "" // neighbours
		if to > 0 {
			low = rest[to-1].Stands
		}
		if to < len(rest) {
			high = rest[to].Stands
		}
		_, err = tx.Exec(ctx, `INSERT INTO line_move (order_unit_id, before_unit_id, reason, at, stands) SELECT $1, $2, $3, $4,
	CASE WHEN $5::text = '' THEN $6::text::numeric - 1 WHEN $6::text = '' THEN $5::text::numeric + 1e-10 ELSE ($5::text::numeric + $6::text::numeric) * 0.5 END`, unit, before, reason, r.db.Now(), low, high)
		return err
	})
}
