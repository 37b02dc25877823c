package timber

import (
	"context"
	"regexp"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Item is a fitting, a finish or goods: counted, or bulk with a low mark only.
type Item struct {
	ID         int64      `db:"id"`
	Version    int        `db:"version"`
	Code       string     `db:"code"` // as models name it
	Name       string     `db:"name"`
	Kind       string     `db:"kind"` // fitting, finish, goods
	Counted    bool       `db:"counted"`
	Unit       string     `db:"unit"`
	CostMinor  int64      `db:"cost_minor"` // each
	SupplierID *int64     `db:"supplier_id"`
	LeadDays   *int       `db:"lead_days"` // nil: the supplier's
	LowMark    int        `db:"low_mark"`
	Low        bool       `db:"low"` // for bulk: somebody saw that it runs low
	OnHand     int        `db:"on_hand"`
	PutAside   int        `db:"put_aside"`
	Meant      int        `db:"meant"`
	ComingDays int        `db:"coming_days"` // days from an order to the shelf
	PutAwayAt  *time.Time `db:"put_away_at"`
}

// Free is how many nobody has claimed.
func (i Item) Free() int { return i.OnHand - i.PutAside - i.Meant }

// RunsLow reports whether it is time to buy.
func (i Item) RunsLow() bool {
	if !i.Counted {
		return i.Low
	}
	return i.LowMark > 0 && i.Free() <= i.LowMark
}

const selectItem = `SELECT i.id, i.version, i.code, i.name, i.kind, i.counted, i.unit, i.cost_minor, i.supplier_id, i.lead_days, i.low_mark, i.low,
	i.on_hand, i.put_aside, (SELECT coalesce(sum(c.quantity), 0) FROM claim c WHERE c.item_id = i.id AND c.ended_at IS NULL AND c.strength = 'meant')::int AS meant,
	coalesce(i.lead_days, (SELECT lead_days FROM supplier s WHERE s.id = i.supplier_id), 7) AS coming_days, i.put_away_at FROM item i `

var itemCode = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

func (i Item) check() error {
	var l fault.List
	l.Check(itemCode.MatchString(i.Code), "/code", "A code has up to 40 small letters, digits and hyphens, such as screw-50.")
	l.Words("/name", i.Name, "a name")
	l.Check(i.Kind == "fitting" || i.Kind == "finish" || i.Kind == "goods", "/kind", "It is a fitting, a finish or goods.")
	l.Words("/unit", i.Unit, "the unit, such as each")
	l.Check(i.CostMinor >= 0, "/cost_minor", "A cost cannot be below zero.")
	l.Check(i.LowMark >= 0 && i.LowMark <= maxPieces, "/low_mark", "The low mark must lie between 0 and %d.", maxPieces)
	l.Check(i.LeadDays == nil || (*i.LeadDays >= 0 && *i.LeadDays <= 1000), "/lead_days", "The days must lie between 0 and 1000.")
	l.Check(i.Counted || i.OnHand == 0, "/counted", "There are still some on hand. Count them down to 0 first.")
	return l.Err()
}

// ItemSave makes an item (ID 0) or changes one; counts change only with moves. Errors:
// Invalid, Stale, Conflict when the code is taken or a counted item with stock would
// become bulk.
func (r *Room) ItemSave(ctx context.Context, i Item) (Item, error) {
	i.Code, i.Name = strings.TrimSpace(i.Code), strings.TrimSpace(i.Name)
	if i.Unit == "" {
		i.Unit = "each"
	}
	if err := i.check(); err != nil {
		return i, err
	}
	args := []any{i.Code, i.Name, i.Kind, i.Counted, i.Unit, i.CostMinor, i.SupplierID, i.LeadDays, i.LowMark, i.Low && !i.Counted, i.PutAwayAt}
	var out Item
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		id := i.ID
		var err error
		if id == 0 {
			id, err = postgres.Value[int64](ctx, tx, `INSERT INTO item (code, name, kind, counted, unit, cost_minor, supplier_id, lead_days, low_mark, low, put_away_at)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) RETURNING id`, args...)
		} else {
			id, err = postgres.Value[int64](ctx, tx, `UPDATE item SET code = $1, name = $2, kind = $3, counted = $4, unit = $5, cost_minor = $6, supplier_id = $7,
				lead_days = $8, low_mark = $9, low = $10, put_away_at = $11 WHERE id = $12 AND version = $13 RETURNING id`, append(args, i.ID, i.Version)...)
			err = postgres.Changed(ctx, tx, err, "item", i.ID, "this item")
		}
		if err != nil {
			return err
		}
		out, err = postgres.One[Item](ctx, tx, selectItem+`WHERE i.id = $1`, id)
		return err
	})
	return out, err
}

// ItemLow notes that a bulk item runs low, or no longer does. Invalid for a counted one.
func (r *Room) ItemLow(ctx context.Context, id int64, low bool) (Item, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		counted, err := postgres.Value[bool](ctx, tx, `UPDATE item SET low = $2 WHERE id = $1 RETURNING counted`, id, low)
		if err == nil && counted {
			return fault.New(fault.Invalid, "This item is counted: its count says when it runs low.")
		}
		return err
	})
	if err != nil {
		return Item{}, err
	}
	return r.ItemGet(ctx, id)
}

// ItemGet reads one item.
func (r *Room) ItemGet(ctx context.Context, id int64) (Item, error) {
	return postgres.One[Item](ctx, r.db, selectItem+`WHERE i.id = $1`, id)
}

// ItemsByCode reads items by their codes, as models name them; a code without an item
// has no entry.
func ItemsByCode(ctx context.Context, q postgres.Querier, codes []string) (map[string]Item, error) {
	list, err := postgres.List[Item](ctx, q, selectItem+`WHERE i.code = ANY ($1) ORDER BY i.id`, codes)
	byCode := make(map[string]Item, len(list))
	for _, i := range list {
		byCode[i.Code] = i
	}
	return byCode, err
}

// ItemFilter says which items a list holds.
type ItemFilter struct {
	Find  string // beginning of the code, or part of the name
	Kind  string // "": any
	Limit int
	After string
}

// ItemList gives the items in use by code, and the mark of the next page.
func (r *Room) ItemList(ctx context.Context, f ItemFilter) ([]Item, string, error) {
	mark, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	list, err := postgres.List[Item](ctx, r.db, selectItem+`WHERE i.put_away_at IS NULL AND i.code > $1 AND ($2 = '' OR i.kind = $2)
		AND ($3 = '' OR i.code LIKE lower($3) || '%' OR i.name ILIKE '%' || $3 || '%') ORDER BY i.code LIMIT $4`, mark.Key, f.Kind, likeLiteral(f.Find), n+1)
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(list, n, func(i Item) postgres.Mark { return postgres.Mark{Key: i.Code} })
	return page, next, nil
}

// ItemsLow lists what is at or below its low mark, by code; at most 200.
func (r *Room) ItemsLow(ctx context.Context) ([]Item, error) {
	list, err := postgres.List[Item](ctx, r.db, selectItem+`WHERE i.put_away_at IS NULL AND ((NOT i.counted AND i.low) OR (i.counted AND i.low_mark > 0))
		ORDER BY i.code LIMIT 500`)
	low := make([]Item, 0, len(list))
	for _, i := range list {
		if i.RunsLow() {
			low = append(low, i)
		}
	}
	return low, err
}

func init() {
	postgres.Explain("item_code_once", fault.Conflict, "/code", "There is an item with this code already.")
	postgres.Explain("item_bulk_uncounted", fault.Conflict, "/counted", "There are still some on hand. Count them down to 0 first.")
}
