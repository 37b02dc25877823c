package claims

import (
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// BreakForFact ends the claims on t that no longer hold when only left of it are really
// there (boards, pieces; 0 or 1 for a box or colony), and gives those it broke. Call it
// before the move that books the fact, in the same transaction.
//
// The latest promise gives way first; a claim without a promise before all others; among
// equals what is meant before what is put aside, then the younger. Of a claim that holds
// in part, the broken pieces become an ended claim of their own and the rest stays open.
func BreakForFact(ctx context.Context, tx pgx.Tx, at time.Time, t Thing, left int, because string) ([]Claim, error) {
	if because == "" {
		return nil, fault.Bad("/reason", "Say why the book was wrong.")
	}
	stock, err := Lock(ctx, tx, []Thing{t})
	if err != nil {
		return nil, err
	}
	short := stock[t].PutAside + stock[t].Meant - max(0, left)
	if short <= 0 {
		return nil, nil
	}
	open, err := OpenOn(ctx, tx, t)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(open, givesWay)
	var broken []Claim
	for _, c := range open {
		if short <= 0 {
			break
		}
		c, err := endPart(ctx, tx, at, c, min(short, c.Quantity), Broken, because)
		if err != nil {
			return nil, err
		}
		short -= c.Quantity
		broken = append(broken, c)
	}
	return broken, nil
}

// givesWay orders claims: the one that breaks first comes first.
func givesWay(a, b Claim) int {
	switch {
	case a.PromisedOn == nil && b.PromisedOn != nil:
		return -1
	case a.PromisedOn != nil && b.PromisedOn == nil:
		return 1
	case a.PromisedOn != nil && !a.PromisedOn.Equal(*b.PromisedOn):
		return b.PromisedOn.Compare(*a.PromisedOn)
	case a.Strength != b.Strength && a.Strength == Meant:
		return -1
	case a.Strength != b.Strength:
		return 1
	}
	return int(b.ID - a.ID)
}

// endPart ends n pieces of c and gives the ended claim; the rest stays open.
func endPart(ctx context.Context, tx pgx.Tx, at time.Time, c Claim, n int, how How, because string) (Claim, error) {
	rest := c.Quantity - n
	c.Quantity, c.EndedAt, c.EndedHow, c.Because = n, &at, how, because
	if rest == 0 {
		_, err := tx.Exec(ctx, `UPDATE claim SET ended_at = $2, ended_how = $3, ended_because = $4 WHERE id = $1`, c.ID, at, how, because)
		return c, postgres.Translate(err)
	}
	if _, err := tx.Exec(ctx, `UPDATE claim SET quantity = $2 WHERE id = $1`, c.ID, rest); err != nil {
		return Claim{}, postgres.Translate(err)
	}
	id, err := insert(ctx, tx, c)
	c.ID = id
	return c, err
}

// brokenLimit bounds the list for the Day sheet, which shows twelve lines.
const brokenLimit = 200

const selectBroken = selectClaims + `
	LEFT JOIN order_unit u ON u.id = c.order_unit_id
	LEFT JOIN build b ON b.id = c.build_id
	WHERE c.ended_how = 'broken by a fact' AND c.ended_at >= $1
	  AND (c.order_unit_id IS NULL OR (u.handed_over_at IS NULL AND u.cancelled_at IS NULL))
	  AND (c.build_id IS NULL OR (b.finished_at IS NULL AND b.cancelled_at IS NULL))
	ORDER BY c.promised_on NULLS LAST, c.id LIMIT $2`

// BrokenList gives the claims that facts have broken since a moment and whose unit or
// build is still open, soonest promise first, at most 200. It is what the Day sheet
// shows; the index claim_broken serves it.
func BrokenList(ctx context.Context, q postgres.Querier, since time.Time) ([]Claim, error) {
	return collect(ctx, q, selectBroken, since, brokenLimit)
}
