package claims_test

import (
	"context"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/claims"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
)

// now is any moment after what the tests make.
var now = time.Date(2026, 3, 2, 23, 0, 0, 0, time.UTC)

func day(s string) *time.Time {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return &d
}

// world is a small rack and shelf, with units and builds to claim from them.
type world struct {
	t                                *testing.T
	db                               *postgres.DB
	lot, thin, item, bulk, shelfLot  int64 // lot 6 boards, thin 2, item 10, shelf lot 4
	pack, box, othersBox, colony     int64 // pack 30 boards
	unitA, unitB, build, build2      int64
	boxHeld, colonyOthers, colonyEnd int64
}

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{t: t, db: pgtest.DB(t)}
	species := w.id(`INSERT INTO timber_species (code, name) VALUES ('hoop-pine', 'hoop pine') RETURNING id`)
	size := w.id(`INSERT INTO board_size (width_mm, thickness_mm) VALUES (100, 28) RETURNING id`)
	const lotSQL = `INSERT INTO board_lot (species_id, board_size_id, length_mm, thickness_true_mm) VALUES ($1, $2, $3, 27.8) RETURNING id`
	w.lot, w.thin = w.id(lotSQL, species, size, 2400), w.id(lotSQL, species, size, 900)
	w.item = w.id(`INSERT INTO item (code, name, kind) VALUES ('screw-50', 'screw 50 mm', 'fitting') RETURNING id`)
	w.bulk = w.id(`INSERT INTO item (code, name, kind, counted) VALUES ('glue', 'wood glue', 'fitting', false) RETURNING id`)
	model := w.id(`INSERT INTO box_model (code, name) VALUES ('plain', 'Plain box') RETURNING id`)
	rev := w.id(`INSERT INTO model_revision (model_id, revision, body) VALUES ($1, 1, '{}') RETURNING id`, model)
	w.shelfLot = w.id(`INSERT INTO shelf_lot (model_revision_id, makes, piece) VALUES ($1, 'section', 'honey') RETURNING id`, rev)
	w.move("lot_id", w.lot, 6)
	w.move("lot_id", w.thin, 2)
	w.move("item_id", w.item, 10)
	w.move("shelf_lot_id", w.shelfLot, 4)
	w.pack = w.id(`INSERT INTO pack (number, species_id, board_size_id, stacked_on) VALUES ('P1', $1, $2, '2025-11-01') RETURNING id`, species, size)
	w.id(`INSERT INTO pack_content (pack_id, length_mm, count) VALUES ($1, 2400, 30) RETURNING id`, w.pack)

	buyer := w.id(`INSERT INTO party (name) VALUES ('Buyer') RETURNING id`)
	const boxSQL = `INSERT INTO box (serial, model_revision_id, finished_at, held_back_because) VALUES ($1, $2, '2026-01-05 00:00Z', $3) RETURNING id`
	w.box, w.othersBox, w.boxHeld = w.id(boxSQL, "1005", rev, ""), w.id(boxSQL, "1016", rev, ""), w.id(boxSQL, "1027", rev, "a crack to look at")
	const boxOwner = `INSERT INTO box_owner (box_id, party_id, from_at) VALUES ($1, $2, '2026-01-05 00:00Z') RETURNING id`
	w.id(boxOwner, w.box, nil)
	w.id(boxOwner, w.othersBox, buyer)
	w.id(boxOwner, w.boxHeld, nil)
	const colonySQL = `INSERT INTO colony (number) VALUES ($1) RETURNING id`
	w.colony, w.colonyOthers, w.colonyEnd = w.id(colonySQL, "C1"), w.id(colonySQL, "C2"), w.id(`INSERT INTO colony (number, ended_at, ended_how) VALUES ('C3', '2026-01-01 00:00Z', 'lost') RETURNING id`)
	const colonyOwner = `INSERT INTO colony_owner (colony_id, party_id, from_at) VALUES ($1, $2, '2025-01-05 00:00Z') RETURNING id`
	w.id(colonyOwner, w.colony, nil)
	w.id(colonyOwner, w.colonyOthers, buyer)
	w.id(colonyOwner, w.colonyEnd, nil)

	order := w.id(`INSERT INTO sale_order (number, party_id, happened_at) VALUES ('K1', $1, '2026-02-01 00:00Z') RETURNING id`, buyer)
	line := w.id(`INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor)
		VALUES ($1, 1, 'box', 'box', 2, 1, 2, 0, 2) RETURNING id`, order)
	const unitSQL = `INSERT INTO order_unit (order_line_id, n, wants_box) VALUES ($1, $2, true) RETURNING id`
	w.unitA, w.unitB = w.id(unitSQL, line, 1), w.id(unitSQL, line, 2)
	const buildSQL = `INSERT INTO build (number, model_revision_id, quantity) VALUES ($1, $2, 1) RETURNING id`
	w.build, w.build2 = w.id(buildSQL, "B1", rev), w.id(buildSQL, "B2", rev)
	return w
}

func (w *world) id(sql string, args ...any) int64 {
	w.t.Helper()
	var id int64
	require.NoError(w.t, w.db.QueryRow(w.t.Context(), sql, args...).Scan(&id))
	return id
}

// move books quantity of a thing as opening stock.
func (w *world) move(column string, id int64, quantity int) {
	w.t.Helper()
	w.id(`INSERT INTO stock_move (`+column+`, quantity, kind, happened_at) VALUES ($1, $2, 'opening', '2026-01-01 00:00Z') RETURNING id`, id, quantity)
}

// tx runs body in one transaction.
func (w *world) tx(body func(ctx context.Context, tx pgx.Tx) error) error {
	return w.db.WithTx(w.t.Context(), body)
}

// put makes claims and fails the test when it cannot.
func (w *world) put(wants ...claims.Want) []int64 {
	w.t.Helper()
	ids, err := w.tryPut(wants...)
	require.NoError(w.t, err)
	return ids
}

func (w *world) tryPut(wants ...claims.Want) ([]int64, error) {
	var ids []int64
	err := w.tx(func(ctx context.Context, tx pgx.Tx) error {
		var err error
		ids, err = claims.Put(ctx, tx, now, wants)
		return err
	})
	return ids, err
}

func (w *world) stock(t claims.Thing) claims.Stock {
	w.t.Helper()
	all, err := claims.StockOf(w.t.Context(), w.db, []claims.Thing{t})
	require.NoError(w.t, err)
	return all[t]
}
