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

// Received is how much of a line of a purchase came in.
type Received struct {
	LineID   int64
	Quantity int
}

// PurchaseReceive books a purchase in: all that is still to come when came is empty, else
// the lines and quantities it names. Boards and counted items come in by a move, bulk by
// clearing its low mark; timber that was ordered becomes a lot, a log or a pack, with its
// cost. What an item cost this time becomes its cost; a workshop that is not registered for
// tax bears the tax of timber as cost. Errors: Stale; Conflict when all of it is received
// already; Invalid.
func (r *Room) PurchaseReceive(ctx context.Context, id int64, version int, at time.Time, came ...Received) (Purchase, error) {
	var l fault.List
	l.Past("/received_at", at, r.db.Now())
	if err := l.Err(); err != nil {
		return Purchase{}, err
	}
	var out Purchase
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM purchase WHERE id = $1 FOR NO KEY UPDATE`, id); err != nil {
			return err
		}
		p, err := purchaseIn(ctx, tx, id)
		if err != nil {
			return err
		}
		if p.ReceivedAt != nil {
			return fault.New(fault.Conflict, "This purchase is received already.")
		}
		lines, all, err := p.coming(came)
		if err != nil {
			return err
		}
		var done *time.Time
		if all {
			done = &at
		}
		if _, err = postgres.Value[int64](ctx, tx, `UPDATE purchase SET received_at = $3 WHERE id = $1 AND version = $2 RETURNING id`, id, version, done); err != nil {
			return postgres.Changed(ctx, tx, err, "purchase", id, "this purchase")
		}
		if err := r.receiveLines(ctx, tx, p, lines, at); err != nil {
			return err
		}
		out, err = purchaseIn(ctx, tx, id)
		return err
	})
	return out, err
}

// coming gives the lines that come in now, with how many of each as Received, and whether
// nothing is to come after them.
func (p Purchase) coming(came []Received) ([]PurchaseLine, bool, error) {
	now := map[int64]int{}
	for i, c := range came {
		if _, twice := now[c.LineID]; twice {
			return nil, false, fault.Bad(fmt.Sprintf("/lines/%d/line_id", i), "This line stands there twice.")
		}
		now[c.LineID] = c.Quantity
	}
	var lines []PurchaseLine
	all := true
	for _, line := range p.Lines {
		left := line.Quantity - line.Received
		n, named := now[line.ID]
		delete(now, line.ID)
		if len(came) == 0 {
			n, named = left, left > 0
		}
		if named && (n < 1 || n > left) {
			return nil, false, fault.Bad("/lines", "%d of %q are still to come. Put what came beyond the order down as found.", left, line.words())
		}
		if n < left {
			all = false
		}
		if n > 0 {
			line.Received = n
			lines = append(lines, line)
		}
	}
	if len(now) > 0 {
		return nil, false, fault.Bad("/lines", "A line that was named is not one of this purchase.")
	}
	if len(lines) == 0 {
		return nil, false, fault.Bad("/lines", "Write how many came.")
	}
	return lines, all, nil
}

func (x PurchaseLine) words() string {
	switch {
	case x.Brings == BringsLog:
		return x.SpeciesName + " log"
	case x.Brings != "":
		return fmt.Sprintf("%s %s x %s, %d mm", x.SpeciesName, x.WidthMM, x.ThicknessMM, *x.LengthMM)
	case x.Description != "":
		return x.Description
	}
	return "the line"
}

// receiveLines books lines in; Received of each is what comes now.
func (r *Room) receiveLines(ctx context.Context, tx pgx.Tx, p Purchase, lines []PurchaseLine, at time.Time) error {
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return err
	}
	day := house.DateIn(at, set.Location())
	tax, err := house.TaxIn(ctx, tx, day)
	if err != nil {
		return err
	}
	list := make([]claims.Thing, len(lines))
	for i, line := range lines {
		if list[i], err = r.thingOf(ctx, tx, p, line, set, day, tax.Registered); err != nil {
			return err
		}
	}
	stock, err := claims.Lock(ctx, tx, someThings(list))
	if err != nil {
		return err
	}
	for i, line := range lines {
		if _, err := tx.Exec(ctx, `UPDATE purchase_line SET received = received + $2 WHERE id = $1`, line.ID, line.Received); err != nil {
			return postgres.Translate(err)
		}
		m := Move{Thing: list[i], Quantity: line.Received, Kind: Bought, HappenedAt: at}
		switch list[i].Kind {
		case claims.ItemKind:
			each := decimal.NewFromInt(line.CostExTaxMinor).DivRound(decimal.NewFromInt(int64(line.Quantity)), 0).IntPart()
			if _, err := tx.Exec(ctx, `UPDATE item SET cost_minor = $2, low = false WHERE id = $1`, list[i].ID, each); err != nil {
				return postgres.Translate(err)
			}
		case claims.LotKind:
			length, err := postgres.Value[int64](ctx, tx, `SELECT length_mm FROM board_lot WHERE id = $1`, list[i].ID)
			if err != nil {
				return err
			}
			if total := line.bears(tax.Registered); total > 0 {
				cost := decimal.NewFromInt(total*1000).DivRound(decimal.NewFromInt(length*int64(line.Quantity)), 0).IntPart()
				m.MetreCostMinor = &cost
			}
		}
		if list[i].ID == 0 || stock[list[i]].Bulk {
			continue
		}
		if _, err := MoveTx(ctx, tx, r.db.Now(), m); err != nil {
			return err
		}
	}
	return nil
}

func someThings(list []claims.Thing) []claims.Thing {
	var out []claims.Thing
	for _, t := range list {
		if t.ID > 0 {
			out = append(out, t)
		}
	}
	return out
}

// bears is what the workshop bears of a line, minor units.
func (x PurchaseLine) bears(registered bool) int64 {
	if registered {
		return x.CostExTaxMinor
	}
	return x.CostExTaxMinor + x.TaxMinor
}

// thingOf gives what a line is booked into; the zero thing for words only and for logs
// and packs, which it writes down.
func (r *Room) thingOf(ctx context.Context, tx pgx.Tx, p Purchase, x PurchaseLine, set house.Settings, day time.Time, registered bool) (claims.Thing, error) {
	part := decimal.NewFromInt(x.bears(registered)).Mul(decimal.NewFromInt(int64(x.Received))).DivRound(decimal.NewFromInt(int64(x.Quantity)), 0).IntPart()
	switch {
	case x.LotID != nil:
		return claims.Lot(*x.LotID), nil
	case x.ItemID != nil:
		return claims.Item(*x.ItemID), nil
	case x.Brings == BringsBoards:
		id, err := LotTx(ctx, tx, LotKey{SpeciesID: *x.SpeciesID, WidthMM: *x.WidthMM, ThicknessMM: *x.ThicknessMM, Grade: *x.Grade, LengthMM: *x.LengthMM, Place: x.Place, FirstInOn: day}, set.LengthStepMM)
		return claims.Lot(id), err
	case x.Brings == BringsPack:
		_, err := r.PackStack(ctx, PackNew{SpeciesID: *x.SpeciesID, WidthMM: *x.WidthMM, ThicknessMM: *x.ThicknessMM, Place: x.Place, StackedOn: day, CostMinor: part,
			Notes: "Bought green of " + p.from(), Content: []Content{{LengthMM: *x.LengthMM, Grade: *x.Grade, Count: x.Received}}})
		return claims.Thing{}, err
	case x.Brings == BringsLog:
		each := spread(part, ones(x.Received))
		for i := range x.Received {
			if _, err := r.LogSave(ctx, Log{SpeciesID: *x.SpeciesID, SmallEndMM: *x.SmallEndMM, LargeEndMM: *x.LargeEndMM, LengthMM: decimal.NewFromInt(int64(*x.LengthMM)), FromWhere: p.from(),
				SupplierID: p.SupplierID, CostMinor: each[i]}, true); err != nil {
				return claims.Thing{}, err
			}
		}
	}
	return claims.Thing{}, nil
}

func ones(n int) []int64 {
	out := make([]int64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// from is whom a purchase came from, in words.
func (p Purchase) from() string {
	if p.SupplierName != "" {
		return p.SupplierName
	}
	return "a purchase of " + p.OrderedOn.Format(time.DateOnly)
}

// OnOrder is pieces of an item, or boards of a size, that are ordered and not in yet.
type OnOrder struct {
	PurchaseID int64     `db:"purchase_id"`
	ItemID     int64     `db:"item_id"` // 0: boards
	SizeID     int64     `db:"board_size_id"`
	LengthMM   int       `db:"length_mm"`
	Count      int       `db:"count"`
	ExpectedOn time.Time `db:"expected_on"`
}

// ItemsOnOrder gives what is ordered of items and has a day on which it is expected, the
// soonest first.
func ItemsOnOrder(ctx context.Context, q postgres.Querier, itemIDs []int64) ([]OnOrder, error) {
	return postgres.List[OnOrder](ctx, q, `SELECT p.id AS purchase_id, x.item_id, 0::bigint AS board_size_id, 0 AS length_mm, x.quantity - x.received AS count, p.expected_on
		FROM purchase_line x JOIN purchase p ON p.id = x.purchase_id WHERE x.item_id = ANY ($1) AND x.received < x.quantity AND p.received_at IS NULL AND p.expected_on IS NOT NULL
		ORDER BY p.expected_on, x.id LIMIT 500`, itemIDs)
}

// BoardsOnOrder gives the dressed boards of a species in the board sizes that are ordered
// and have a day on which they are expected, the soonest first.
func BoardsOnOrder(ctx context.Context, q postgres.Querier, speciesID int64, sizeIDs []int64) ([]OnOrder, error) {
	return postgres.List[OnOrder](ctx, q, `SELECT p.id AS purchase_id, 0::bigint AS item_id, z.id AS board_size_id, coalesce(x.length_mm, l.length_mm) AS length_mm, x.quantity - x.received AS count, p.expected_on
		FROM purchase_line x JOIN purchase p ON p.id = x.purchase_id LEFT JOIN board_lot l ON l.id = x.lot_id
		JOIN board_size z ON z.id = l.board_size_id OR (x.brings = 'boards' AND z.width_mm = x.width_mm AND z.thickness_mm = x.thickness_mm)
		WHERE coalesce(x.species_id, l.species_id) = $1 AND z.id = ANY ($2) AND x.received < x.quantity AND p.received_at IS NULL AND p.expected_on IS NOT NULL
		ORDER BY p.expected_on, x.id LIMIT 500`, speciesID, sizeIDs)
}
