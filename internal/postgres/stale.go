package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
)

// StaleOr reads what "no row" means after an update that named the version it read:
// Stale when the record of table with this id is there, NotFound when it is not.
// Other errors, and nil, come back through [Translate].
func StaleOr(ctx context.Context, q Querier, err error, table string, id int64) error {
	err = Translate(err)
	if !fault.Is(err, fault.NotFound) {
		return err
	}
	there, e := Value[bool](ctx, q, `SELECT EXISTS (SELECT 1 FROM `+pgx.Identifier{table}.Sanitize()+` WHERE id = $1)`, id)
	if e != nil {
		return e
	}
	if there {
		return fault.New(fault.Stale, "Somebody changed this record in the meantime. Look at it again, then store your change.")
	}
	return err
}
