package claims

import (
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
)

// Carry takes the claims on from over to the things that became of it, such as the
// lots that a pack was dressed into, when only left pieces of it remain. The soonest
// promise is carried first; each becomes a claim of the same strength and promise.
// What the new things cannot hold is broken as by [BreakForFact], and given back. Call it
// after the moves into to are booked.
func Carry(ctx context.Context, tx pgx.Tx, at time.Time, from Thing, left int, to []Thing, because string) ([]Claim, error) {
	stock, err := Lock(ctx, tx, append([]Thing{from}, to...))
	if err != nil {
		return nil, err
	}
	room := 0
	for _, t := range to {
		room += max(0, stock[t].Free())
	}
	broken, err := BreakForFact(ctx, tx, at, from, max(0, left)+room, because)
	if err != nil {
		return nil, err
	}
	open, err := OpenOn(ctx, tx, from)
	if err != nil {
		return nil, err
	}
	over := -max(0, left)
	for _, c := range open {
		over += c.Quantity
	}
	slices.SortFunc(open, func(a, b Claim) int { return givesWay(b, a) })
	for _, c := range open {
		n := min(over, c.Quantity)
		if n <= 0 {
			break
		}
		over -= n
		if _, err := endPart(ctx, tx, at, c, n, Relaid, because); err != nil {
			return nil, err
		}
		if err := spread(ctx, tx, at, c, n, to, stock); err != nil {
			return nil, err
		}
	}
	return broken, nil
}

// spread puts n pieces for c's claimant on the first of to with room, and takes the
// room from stock.
func spread(ctx context.Context, tx pgx.Tx, at time.Time, c Claim, n int, to []Thing, stock map[Thing]Stock) error {
	for _, t := range to {
		s := stock[t]
		k := min(n, s.Free())
		if k <= 0 {
			continue
		}
		if _, err := insert(ctx, tx, Claim{For: c.For, Thing: t, Quantity: k, Strength: c.Strength, PromisedOn: c.PromisedOn, MadeAt: at}); err != nil {
			return err
		}
		s.Meant += k // enough for Free, whichever the strength
		stock[t] = s
		n -= k
	}
	return nil
}
