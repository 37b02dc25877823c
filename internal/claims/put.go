package claims

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Put makes one claim for each want, all or none, and gives their ids in order. at is
// when (the DB's clock). Equal things in several wants are added up before they are held
// against the book.
//
// What others mean counts as theirs: a claimant who turns what he meant into put aside
// uses [Firm], or ends it first in the same transaction.
//
// Errors: Invalid for a want no book could hold; NotFound; Conflict when the book does
// not have it, with a *[ShortError] as cause, or when a box or colony cannot be promised.
func Put(ctx context.Context, tx pgx.Tx, at time.Time, wants []Want) ([]int64, error) {
	var l fault.List
	things, asked := make([]Thing, len(wants)), map[Thing]int{}
	for i, w := range wants {
		w.check(&l, fmt.Sprintf("/wants/%d", i))
		things[i] = w.Thing
		asked[w.Thing] += w.Quantity
	}
	if err := l.Err(); err != nil {
		return nil, err
	}
	stock, err := Lock(ctx, tx, things)
	if err != nil {
		return nil, err
	}
	if err := within(things, asked, stock); err != nil {
		return nil, err
	}
	ids := make([]int64, len(wants))
	for i, w := range wants {
		ids[i], err = insert(ctx, tx, Claim{For: w.For, Thing: w.Thing, Quantity: w.Quantity, Strength: w.Strength, PromisedOn: w.PromisedOn, MadeAt: at})
		if err != nil {
			return nil, err
		}
	}
	return ids, nil
}

// within refuses what goes beyond the book, naming everything that is short.
func within(things []Thing, asked map[Thing]int, stock map[Thing]Stock) error {
	var shorts []Short
	seen := map[Thing]bool{}
	for _, t := range things {
		s := stock[t]
		if seen[t] {
			continue
		}
		seen[t] = true
		if s.Bulk {
			return fault.New(fault.Invalid, "%s is not counted, so none of it can be put aside. Look at its low mark instead.", s.Words)
		}
		if asked[t] > s.Free() {
			shorts = append(shorts, Short{Thing: t, Words: s.Words, Asked: asked[t], Free: max(0, s.Free())})
		}
	}
	if len(shorts) == 0 {
		return nil
	}
	short := &ShortError{Shorts: shorts}
	return fault.Wrap(short, fault.Conflict, "%s", short.Error())
}

// Firm turns open meant claims into put aside. Conflict when the boards are not there
// (a pack's never are) or when one has ended.
func Firm(ctx context.Context, tx pgx.Tx, ids []int64) error {
	list, err := lockClaims(ctx, tx, ids)
	if err != nil {
		return err
	}
	for _, c := range list {
		if c.EndedAt != nil || c.Thing.Kind == PackKind {
			return fault.New(fault.Conflict, "%s cannot be put aside from this claim. Lay the claims again.", c.Words)
		}
	}
	_, err = tx.Exec(ctx, `UPDATE claim SET strength = 'put aside' WHERE id = ANY ($1) AND strength = 'meant'`, ids)
	return postgres.Translate(err)
}

// lockClaims locks the things of claims, then the claims, and reads them.
func lockClaims(ctx context.Context, tx pgx.Tx, ids []int64) ([]Claim, error) {
	list, err := collect(ctx, tx, selectClaims+`WHERE c.id = ANY ($1) ORDER BY c.id`, ids)
	if err != nil {
		return nil, err
	}
	things := make([]Thing, len(list)) // a claim never changes its thing
	for i, c := range list {
		things[i] = c.Thing
	}
	if _, err := Lock(ctx, tx, things); err != nil {
		return nil, err
	}
	return collect(ctx, tx, selectClaims+`WHERE c.id = ANY ($1) ORDER BY c.id FOR NO KEY UPDATE OF c`, ids)
}

// End ends open claims by id; those that have ended stay as they are. It gives how many
// it ended.
func End(ctx context.Context, tx pgx.Tx, at time.Time, ids []int64, how How, because string) (int, error) {
	if how == Broken {
		return 0, fmt.Errorf("claims: only BreakForFact breaks a claim")
	}
	list, err := lockClaims(ctx, tx, ids)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, c := range list {
		if c.EndedAt == nil {
			n++
		}
	}
	_, err = tx.Exec(ctx, `UPDATE claim SET ended_at = $2, ended_how = $3, ended_because = $4 WHERE id = ANY ($1) AND ended_at IS NULL`, ids, at, how, because)
	return n, postgres.Translate(err)
}

// EndFor ends every open claim of an order unit or a build, and gives them as they were.
func EndFor(ctx context.Context, tx pgx.Tx, at time.Time, who Claimant, how How, because string) ([]Claim, error) {
	open, err := OpenFor(ctx, tx, who)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(open))
	for i, c := range open {
		ids[i] = c.ID
	}
	if _, err := End(ctx, tx, at, ids, how, because); err != nil {
		return nil, err
	}
	return open, nil
}

// OpenFor lists the open claims of a claimant, by id.
func OpenFor(ctx context.Context, q postgres.Querier, who Claimant) ([]Claim, error) {
	if who.BuildID > 0 {
		return collect(ctx, q, selectClaims+`WHERE c.build_id = $1 AND c.ended_at IS NULL ORDER BY c.id`, who.BuildID)
	}
	return collect(ctx, q, selectClaims+`WHERE c.order_unit_id = $1 AND c.ended_at IS NULL ORDER BY c.id`, who.UnitID)
}

// OpenOn lists the open claims on a thing, soonest promise first.
func OpenOn(ctx context.Context, q postgres.Querier, t Thing) ([]Claim, error) {
	k, ok := kinds[t.Kind]
	if !ok {
		return nil, fault.New(fault.Invalid, "Say what the claims are on.")
	}
	return collect(ctx, q, selectClaims+`WHERE c.`+k.column+` = $1 AND c.ended_at IS NULL ORDER BY c.promised_on NULLS LAST, c.id`, t.ID)
}

// Use ends up to n pieces of a claimant's open claims on a thing as used, and gives how
// many it ended; the rest of a claim stays open.
func Use(ctx context.Context, tx pgx.Tx, at time.Time, who Claimant, t Thing, n int) (int, error) {
	if _, err := Lock(ctx, tx, []Thing{t}); err != nil {
		return 0, err
	}
	open, err := OpenFor(ctx, tx, who)
	if err != nil {
		return 0, err
	}
	used := 0
	for _, c := range open {
		k := min(n-used, c.Quantity)
		if c.Thing != t || k <= 0 {
			continue
		}
		if _, err := endPart(ctx, tx, at, c, k, Used, ""); err != nil {
			return used, err
		}
		used += k
	}
	return used, nil
}
