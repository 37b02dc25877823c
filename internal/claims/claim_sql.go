package claims

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// kindSQL says where a kind of thing lives: its row lock, and what the book holds of it.
type kindSQL struct {
	column string // of claim
	lock   string
	// stock gives id, on_hand, put_aside, words, bulk of the ids in $1.
	stock string
}

// bodyStock makes the stock query of a thing that is claimed whole.
func bodyStock(table, column, words, there string) string {
	return fmt.Sprintf(`SELECT t.id, CASE WHEN %[4]s THEN 1 ELSE 0 END AS on_hand,
		(SELECT count(*) FROM claim c WHERE c.%[2]s = t.id AND c.ended_at IS NULL AND c.strength = 'put aside')::int AS put_aside,
		%[3]s AS words, false AS bulk FROM %[1]s t WHERE t.id = ANY ($1) ORDER BY t.id`, table, column, words, there)
}

const boardWords = `s.name || ' ' || trim_scale(z.width_mm) || ' x ' || trim_scale(z.thickness_mm)`

var kinds = map[Kind]kindSQL{
	LotKind: {"lot_id", lockSQL("board_lot"), `SELECT t.id, t.on_hand, t.put_aside, ` + boardWords + ` || ', ' || t.length_mm || ' mm' AS words, false AS bulk
		FROM board_lot t JOIN timber_species s ON s.id = t.species_id JOIN board_size z ON z.id = t.board_size_id
		WHERE t.id = ANY ($1) ORDER BY t.id`},
	ItemKind: {"item_id", lockSQL("item"), `SELECT t.id, t.on_hand, t.put_aside, t.name::text AS words, NOT t.counted AS bulk
		FROM item t WHERE t.id = ANY ($1) ORDER BY t.id`},
	ShelfLotKind: {"shelf_lot_id", lockSQL("shelf_lot"), `SELECT t.id, t.on_hand, t.put_aside, m.name || ' ' || t.makes || ' ' || t.piece AS words, false AS bulk
		FROM shelf_lot t JOIN model_revision r ON r.id = t.model_revision_id JOIN box_model m ON m.id = r.model_id
		WHERE t.id = ANY ($1) ORDER BY t.id`},
	PackKind: {"pack_id", lockSQL("pack"), `SELECT t.id, CASE WHEN t.finished_at IS NULL THEN coalesce((SELECT sum(c.count) FROM pack_content c WHERE c.pack_id = t.id), 0) ELSE 0 END::int AS on_hand,
		0 AS put_aside, 'pack ' || t.number || ', ' || ` + boardWords + ` AS words, false AS bulk
		FROM pack t JOIN timber_species s ON s.id = t.species_id JOIN board_size z ON z.id = t.board_size_id
		WHERE t.id = ANY ($1) ORDER BY t.id`},
	BoxKind:    {"box_id", lockSQL("box"), bodyStock("box", "box_id", `'Box ' || t.serial`, "t.gone_at IS NULL")},
	ColonyKind: {"colony_id", lockSQL("colony"), bodyStock("colony", "colony_id", `'Colony ' || t.number`, "t.ended_at IS NULL")},
}

// lockSQL locks rows of a table by rising id. NO KEY UPDATE is enough: the rows that
// refer to them may go on being written.
func lockSQL(table string) string {
	return `SELECT id FROM ` + table + ` WHERE id = ANY ($1) ORDER BY id FOR NO KEY UPDATE`
}

// Lock locks things in the written order, equal ones once, and gives what the book holds
// of each now. NotFound when one is not there.
//
// Locking and reading are two statements: within one, the rows would be locked as they
// are now but the claims on them read as they were before the wait.
func Lock(ctx context.Context, tx pgx.Tx, things []Thing) (map[Thing]Stock, error) {
	for kind, ids := range byKind(things) {
		if _, err := tx.Exec(ctx, kinds[kind].lock, ids); err != nil {
			return nil, fmt.Errorf("lock %s: %w", kinds[kind].column, err)
		}
	}
	return StockOf(ctx, tx, things)
}

// byKind walks things in the written order.
func byKind(things []Thing) func(yield func(Kind, []int64) bool) {
	sorted := slices.Clone(things)
	slices.SortFunc(sorted, func(a, b Thing) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID)) })
	sorted = slices.Compact(sorted)
	return func(yield func(Kind, []int64) bool) {
		for len(sorted) > 0 {
			kind := sorted[0].Kind
			n := slices.IndexFunc(sorted, func(t Thing) bool { return t.Kind != kind })
			if n < 0 {
				n = len(sorted)
			}
			ids := make([]int64, n)
			for i, t := range sorted[:n] {
				ids[i] = t.ID
			}
			if !yield(kind, ids) {
				return
			}
			sorted = sorted[n:]
		}
	}
}

type stockRow struct {
	ID       int64
	OnHand   int
	PutAside int
	Words    string
	Bulk     bool
}

// StockOf gives what the book holds of things, without locks. NotFound when one is not
// there.
func StockOf(ctx context.Context, q postgres.Querier, things []Thing) (map[Thing]Stock, error) {
	all := make(map[Thing]Stock, len(things))
	for kind, ids := range byKind(things) {
		rows, err := q.Query(ctx, kinds[kind].stock, ids)
		if err != nil {
			return nil, postgres.Translate(err)
		}
		list, err := pgx.CollectRows(rows, pgx.RowToStructByName[stockRow])
		if err != nil {
			return nil, postgres.Translate(err)
		}
		if len(list) < len(ids) {
			return nil, fault.New(fault.NotFound, "Something that was to be put aside is not in the book.")
		}
		meant, err := meantOf(ctx, q, kinds[kind].column, ids)
		if err != nil {
			return nil, err
		}
		for _, r := range list {
			all[Thing{kind, r.ID}] = Stock{OnHand: r.OnHand, PutAside: r.PutAside, Meant: meant[r.ID], Words: r.Words, Bulk: r.Bulk}
		}
	}
	return all, nil
}

// meantOf sums the open meant claims by thing. Served by the partial indexes on claim.
func meantOf(ctx context.Context, q postgres.Querier, column string, ids []int64) (map[int64]int, error) {
	rows, err := q.Query(ctx, `SELECT `+column+`, sum(quantity)::int FROM claim
		WHERE `+column+` = ANY ($1) AND ended_at IS NULL AND strength = 'meant' GROUP BY 1 ORDER BY 1`, ids)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	meant := map[int64]int{}
	var id int64
	var n int
	_, err = pgx.ForEachRow(rows, []any{&id, &n}, func() error {
		meant[id] = n
		return nil
	})
	return meant, postgres.Translate(err)
}

const insertClaim = `INSERT INTO claim (order_unit_id, build_id, lot_id, item_id, shelf_lot_id, pack_id, box_id, colony_id,
	quantity, strength, promised_on, made_at, ended_at, ended_how, ended_because)
	VALUES (nullif($1, 0), nullif($2, 0), $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15) RETURNING id`

// insert writes c, which may have ended already.
func insert(ctx context.Context, tx pgx.Tx, c Claim) (int64, error) {
	var thing [ColonyKind + 1]*int64
	thing[c.Thing.Kind] = &c.Thing.ID
	var how *How
	if c.EndedAt != nil {
		how = &c.EndedHow
	}
	var id int64
	err := tx.QueryRow(ctx, insertClaim, c.For.UnitID, c.For.BuildID, thing[LotKind], thing[ItemKind], thing[ShelfLotKind],
		thing[PackKind], thing[BoxKind], thing[ColonyKind], c.Quantity, c.Strength, c.PromisedOn, c.MadeAt, c.EndedAt, how, c.Because).Scan(&id)
	return id, postgres.Translate(err)
}

const selectClaims = `SELECT c.id, coalesce(c.order_unit_id, 0) AS unit_id, coalesce(c.build_id, 0) AS build_id,
	c.lot_id, c.item_id, c.shelf_lot_id, c.pack_id, c.box_id, c.colony_id, c.quantity, c.strength, c.promised_on, c.made_at,
	c.ended_at, coalesce(c.ended_how, '') AS ended_how, c.ended_because::text AS ended_because FROM claim c `

type claimRow struct {
	ID           int64
	UnitID       int64
	BuildID      int64
	LotID        *int64
	ItemID       *int64
	ShelfLotID   *int64
	PackID       *int64
	BoxID        *int64
	ColonyID     *int64
	Quantity     int
	Strength     Strength
	PromisedOn   *time.Time
	MadeAt       time.Time
	EndedAt      *time.Time
	EndedHow     How
	EndedBecause string
}

func (r claimRow) claim() Claim {
	c := Claim{ID: r.ID, For: Claimant{r.UnitID, r.BuildID}, Quantity: r.Quantity, Strength: r.Strength, PromisedOn: r.PromisedOn,
		MadeAt: r.MadeAt, EndedAt: r.EndedAt, EndedHow: r.EndedHow, Because: r.EndedBecause}
	for i, id := range []*int64{r.LotID, r.ItemID, r.ShelfLotID, r.PackID, r.BoxID, r.ColonyID} {
		if id != nil {
			c.Thing = Thing{LotKind + Kind(i), *id}
		}
	}
	return c
}

// collect runs a query that begins with selectClaims, and adds the words.
func collect(ctx context.Context, q postgres.Querier, sql string, args ...any) ([]Claim, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[claimRow])
	if err != nil {
		return nil, postgres.Translate(err)
	}
	all, things := make([]Claim, len(list)), make([]Thing, len(list))
	for i, r := range list {
		all[i] = r.claim()
		things[i] = all[i].Thing
	}
	stock, err := StockOf(ctx, q, things)
	if err != nil {
		return nil, err
	}
	for i := range all {
		all[i].Words = stock[all[i].Thing].Words
	}
	return all, nil
}
