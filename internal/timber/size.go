package timber

import (
	"context"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Size is a board size: the width x thickness of a board.
type Size struct {
	ID          int64           `db:"id"`
	WidthMM     decimal.Decimal `db:"width_mm"`
	ThicknessMM decimal.Decimal `db:"thickness_mm"`
}

// String is the size as the trade writes it, such as 100 x 28.
func (s Size) String() string { return s.WidthMM.String() + " x " + s.ThicknessMM.String() }

const sizeColumns = `id, trim_scale(width_mm) AS width_mm, trim_scale(thickness_mm) AS thickness_mm`

// SizeTx gives the board size of that width and thickness in mm, and makes it when it is
// new. Invalid for sizes that no board has.
func SizeTx(ctx context.Context, tx pgx.Tx, widthMM, thicknessMM decimal.Decimal) (Size, error) {
	var l fault.List
	mmBetween(&l, "/width_mm", widthMM, 1, 2000)
	mmBetween(&l, "/thickness_mm", thicknessMM, 1, 500)
	l.Check(thicknessMM.LessThanOrEqual(widthMM), "/thickness_mm", "The thickness is the smaller of the two: write %s x %s the other way round.", widthMM, thicknessMM)
	if err := l.Err(); err != nil {
		return Size{}, err
	}
	if _, err := tx.Exec(ctx, `INSERT INTO board_size (width_mm, thickness_mm) VALUES ($1, $2) ON CONFLICT (width_mm, thickness_mm) DO NOTHING`, widthMM, thicknessMM); err != nil {
		return Size{}, postgres.Translate(err)
	}
	return postgres.One[Size](ctx, tx, `SELECT `+sizeColumns+` FROM board_size WHERE width_mm = $1 AND thickness_mm = $2`, widthMM, thicknessMM)
}

// SizeAdd is [SizeTx] in a transaction of its own.
func (r *Room) SizeAdd(ctx context.Context, widthMM, thicknessMM decimal.Decimal) (Size, error) {
	var s Size
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		s, err = SizeTx(ctx, tx, widthMM, thicknessMM)
		return err
	})
	return s, err
}

// SizeList gives every board size, the widest first.
func (r *Room) SizeList(ctx context.Context) ([]Size, error) {
	return postgres.List[Size](ctx, r.db, `SELECT `+sizeColumns+` FROM board_size ORDER BY board_size.width_mm DESC, board_size.thickness_mm DESC LIMIT 500`)
}

// SizeGet reads one board size.
func (r *Room) SizeGet(ctx context.Context, id int64) (Size, error) {
	return postgres.One[Size](ctx, r.db, `SELECT `+sizeColumns+` FROM board_size WHERE id = $1`, id)
}
