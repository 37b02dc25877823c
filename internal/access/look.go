package access

import (
	"context"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// The brake on reading through the serials on the public page: so many within the window,
// by address and from everywhere together (our estimate of what finders need).
const (
	looksByAddress = 12
	looksTogether  = 240
)

// Look counts one serial that a stranger types into the public page, before it is answered.
// address is where it comes from, without port. Errors: TooMany after too many.
func (r *Room) Look(ctx context.Context, address string) error {
	now := r.db.Now()
	var here, together int
	err := r.db.QueryRow(ctx, `SELECT
		(SELECT count(*) FROM sign_in_failure WHERE subject = $1 AND at > $2),
		(SELECT count(*) FROM sign_in_failure WHERE subject = 'look:' AND at > $2)`, "look:"+address, now.Add(-failWindow)).Scan(&here, &together)
	if err != nil {
		return postgres.Translate(err)
	}
	if address != "" && here >= looksByAddress || together >= looksTogether {
		return fault.New(fault.TooMany, "Too many numbers were typed. Wait a quarter of an hour, or ring the workshop.")
	}
	_, err = r.db.Exec(ctx, `INSERT INTO sign_in_failure (subject, at) SELECT DISTINCT s, $2::timestamptz FROM unnest(ARRAY[$1, 'look:']) s`, "look:"+address, now)
	if err == nil {
		_, err = r.db.Exec(ctx, `DELETE FROM sign_in_failure WHERE at < $1`, now.Add(-failsKept))
	}
	return postgres.Translate(err)
}
