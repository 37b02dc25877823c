package sales

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// OrderMake makes an order without a quote: issued and accepted in one step.
func (r *Room) OrderMake(ctx context.Context, o NewOrder) (Order, error) {
	var order Order
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		order, err = r.orderMake(ctx, tx, o)
		return err
	})
	return order, err
}

func (r *Room) orderMake(ctx context.Context, tx pgx.Tx, o NewOrder) (Order, error) {
	today, _, err := r.today(ctx, tx)
	if err != nil {
		return Order{}, err
	}
	if o.HappenedAt.IsZero() {
		o.HappenedAt = r.db.Now()
	}
	if err := o.check(today); err != nil {
		return Order{}, err
	}
	number, err := house.Number(ctx, tx, "order", "S")
	if err != nil {
		return Order{}, err
	}
	var id int64
	if err := tx.QueryRow(ctx, `INSERT INTO sale_order (number, party_id, site_id, quote_id, happened_at, their_number, deposit_minor, typed_in, notes)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) RETURNING id`,
		number, o.PartyID, o.SiteID, o.QuoteID, o.HappenedAt, strings.TrimSpace(o.TheirNumber), o.DepositMinor, o.TypedIn, o.Notes).Scan(&id); err != nil {
		return Order{}, postgres.Translate(err)
	}
	if err := addLines(ctx, tx, id, 0, o.Lines, o.OwnBox); err != nil {
		return Order{}, err
	}
	return orderIn(ctx, tx, id)
}

// addLines appends lines to an order, after position, with their units.
func addLines(ctx context.Context, tx pgx.Tx, order int64, position int, lines []Line, ownBox bool) error {
	for _, l := range lines {
		position++
		var quoteLine *int64
		if l.AlternativeID != 0 {
			quoteLine = &l.ID
		}
		if l.ServiceID != nil {
			if err := serviceSeats(ctx, tx, "/lines", *l.ServiceID, l.Quantity); err != nil {
				return err
			}
		}
		var id int64
		if err := tx.QueryRow(ctx, `INSERT INTO order_line (order_id, position, quote_line_id, kind, description, quantity, unit_price_minor, tax_code, tax_pct, price_ex_tax_minor, tax_minor,
	price_minor, cost_minor, model_revision_id, timber_species_id, bee_species_id, item_id, with_colony, options, needs, service_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19::jsonb, $20::jsonb, $21) RETURNING id`,
			order, position, quoteLine, l.Kind, l.Description, l.Quantity, l.UnitPriceMinor, l.TaxCode, l.TaxPct, l.PriceExTaxMinor, l.TaxMinor, l.PriceMinor, l.CostMinor,
			l.ModelRevisionID, l.TimberSpeciesID, l.BeeSpeciesID, l.ItemID, l.WithColony, string(l.OptionsJSON), string(l.NeedsJSON), l.ServiceID).Scan(&id); err != nil {
			return postgres.Translate(err)
		}
		n, u := unitsOf(l, ownBox)
		if _, err := tx.Exec(ctx, `INSERT INTO order_unit (order_line_id, n, wants_box, wants_colony, own_box, promised_box_on, promised_colony_on)
SELECT $1, i, $3, $4, $5, $6, $7 FROM generate_series(1, $2::int) i`, id, n, u.WantsBox, u.WantsColony, u.OwnBox, u.PromisedBoxOn, u.PromisedColonyOn); err != nil {
			return postgres.Translate(err)
		}
	}
	return nil
}

const orderSelect = `SELECT o.id, o.version, o.number, o.party_id, o.site_id, o.quote_id, o.happened_at, o.their_number, o.deposit_minor, o.typed_in, o.deposit_end,
	o.deposit_returned_minor, o.notes, coalesce(nullif(p.name, ''), (SELECT c.value FROM contact c WHERE c.party_id = p.id AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), 'Nameless') AS party_name,
	(coalesce(s.price, 0) + coalesce((SELECT sum(v.price_minor) FROM invoice i JOIN invoice_line v ON v.invoice_id = i.id LEFT JOIN order_unit w ON w.id = v.order_unit_id
		WHERE i.order_id = o.id AND NOT i.keeps_price AND w.cancelled_at IS NULL), 0))::bigint AS price_minor, coalesce(s.units, 0)::int AS units, coalesce(s.done, 0)::int AS done, coalesce(s.gone, 0)::int AS gone, s.next_on,
	coalesce((SELECT sum(CASE kind WHEN 'refund' THEN -amount_minor ELSE amount_minor END) FROM payment WHERE order_id = o.id), 0)::bigint AS paid_minor
FROM sale_order o JOIN party p ON p.id = o.party_id
LEFT JOIN LATERAL (SELECT sum(t.units) AS units, sum(t.done) AS done, sum(t.gone) AS gone, min(t.next_on) AS next_on,
		sum(CASE WHEN t.gone = 0 THEN t.price_minor ELSE t.price_minor - round(t.price_minor::numeric * t.gone / t.units) END) AS price
	FROM (SELECT l.id, l.price_minor, count(*) AS units, count(u.handed_over_at) AS done, count(u.cancelled_at) AS gone,
			min(greatest(u.promised_box_on, u.promised_colony_on)) FILTER (WHERE u.handed_over_at IS NULL AND u.cancelled_at IS NULL) AS next_on
		FROM order_line l JOIN order_unit u ON u.order_line_id = l.id WHERE l.order_id = o.id GROUP BY l.id) t) s ON true `

// OrderGet reads an order with lines and units.
func (r *Room) OrderGet(ctx context.Context, id int64) (Order, error) { return orderIn(ctx, r.db, id) }

// OrderByNumber reads an order by its number.
func (r *Room) OrderByNumber(ctx context.Context, number string) (Order, error) {
	var id int64
	if err := r.db.QueryRow(ctx, `SELECT id FROM sale_order WHERE number = $1`, number).Scan(&id); err != nil {
		return Order{}, postgres.Translate(err)
	}
	return r.OrderGet(ctx, id)
}

// OrderOfUnit gives the order that a unit belongs to.
func (r *Room) OrderOfUnit(ctx context.Context, unit int64) (Order, error) {
	var id int64
	if err := r.db.QueryRow(ctx, `SELECT l.order_id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id WHERE u.id = $1`, unit).Scan(&id); err != nil {
		return Order{}, postgres.Translate(err)
	}
	return r.OrderGet(ctx, id)
}

func orderIn(ctx context.Context, db postgres.Querier, id int64) (Order, error) {
	o, err := postgres.One[Order](ctx, db, orderSelect+`WHERE o.id = $1`, id)
	if err != nil {
		return o, postgres.Translate(err)
	}
	if o.Lines, err = linesIn(ctx, db, id); err != nil {
		return o, err
	}
	units, err := unitsWhere(ctx, db, `l.order_id = $1`, id)
	for _, u := range units {
		for i := range o.Lines {
			if o.Lines[i].ID == u.OrderLineID {
				o.Lines[i].Units = append(o.Lines[i].Units, u)
			}
		}
	}
	return o, err
}

func linesIn(ctx context.Context, db postgres.Querier, order int64) ([]OrderLine, error) {
	rows, err := db.Query(ctx, `SELECT id, version, order_id, position, kind, description, quantity, unit_price_minor, tax_code, tax_pct, price_ex_tax_minor, tax_minor, price_minor,
	cost_minor, model_revision_id, timber_species_id, bee_species_id, item_id, with_colony, options, needs FROM order_line WHERE order_id = $1 ORDER BY position`, order)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (OrderLine, error) {
		var l OrderLine
		err := row.Scan(&l.ID, &l.Version, &l.OrderID, &l.Position, &l.Kind, &l.Description, &l.Quantity, &l.UnitPriceMinor, &l.TaxCode, &l.TaxPct, &l.PriceExTaxMinor, &l.TaxMinor,
			&l.PriceMinor, &l.CostMinor, &l.ModelRevisionID, &l.TimberSpeciesID, &l.BeeSpeciesID, &l.ItemID, &l.WithColony, &l.OptionsJSON, &l.NeedsJSON)
		return l, err
	})
	return list, postgres.Translate(err)
}

// unitsWhere reads units; where is one of the fixed conditions of this file on u
// (unit) and l (its line).
func unitsWhere(ctx context.Context, db postgres.Querier, where string, args ...any) ([]Unit, error) {
	list, err := postgres.List[Unit](ctx, db, `SELECT u.id, u.version, u.order_line_id, u.n, u.wants_box, u.wants_colony, u.own_box, u.promised_box_on, u.promised_colony_on, u.site_id,
	u.handed_over_at, u.returned_at, u.cancelled_at, u.cancelled_because,
	coalesce(h.box_id, cb.box_id) AS box_id, (SELECT serial FROM box WHERE id = coalesce(h.box_id, cb.box_id)) AS box_serial,
	coalesce(h.colony_id, cc.colony_id) AS colony_id, (SELECT number FROM colony WHERE id = coalesce(h.colony_id, cc.colony_id)) AS colony_number,
	b.id AS build_id, b.number AS build_number
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id
LEFT JOIN handover h ON h.order_unit_id = u.id AND h.undone_at IS NULL
LEFT JOIN claim cb ON cb.order_unit_id = u.id AND cb.ended_at IS NULL AND cb.box_id IS NOT NULL
LEFT JOIN claim cc ON cc.order_unit_id = u.id AND cc.ended_at IS NULL AND cc.colony_id IS NOT NULL
LEFT JOIN LATERAL (SELECT b.id, b.number FROM build_output bo JOIN build b ON b.id = bo.build_id
	WHERE bo.order_unit_id = u.id AND bo.spoiled_at IS NULL AND bo.finished_at IS NULL AND b.finished_at IS NULL AND b.cancelled_at IS NULL ORDER BY b.id LIMIT 1) b ON true
WHERE `+where+` ORDER BY l.position, u.n`, args...)
	return list, postgres.Translate(err)
}

// UnitGet reads one unit.
func (r *Room) UnitGet(ctx context.Context, id int64) (Unit, error) {
	list, err := unitsWhere(ctx, r.db, `u.id = $1`, id)
	if err == nil && len(list) == 0 {
		return Unit{}, fault.New(fault.NotFound, "There is no such piece of an order.")
	}
	if err != nil {
		return Unit{}, err
	}
	return list[0], nil
}

// OrderFilter says which orders a list holds.
type OrderFilter struct {
	Find     string // words of the buyer's name, or an order number
	OpenOnly bool
	PartyID  int64
	Limit    int
	After    string
}

// OrderList gives orders without lines from the newest, and the next cursor.
func (r *Room) OrderList(ctx context.Context, f OrderFilter) ([]Order, string, error) {
	at, id, err := cursorTime(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	var w conditions // sale_order_when, sale_order_party, sale_order_number_once and order_unit_open serve these
	w.and(`(o.happened_at, o.id) < (?, ?)`, at, id)
	if f.PartyID != 0 {
		w.and(`o.party_id = ?`, f.PartyID)
	}
	if f.OpenOnly {
		w.and(`EXISTS (SELECT 1 FROM order_line l JOIN order_unit u ON u.order_line_id = l.id WHERE l.order_id = o.id AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL)`)
	}
	if find := strings.ToUpper(strings.TrimSpace(f.Find)); strings.HasPrefix(find, "S") && digits(find) != "" {
		w.and(`o.number = ?`, find)
	} else if words := findQuery(f.Find); words != "" {
		if err := w.andWords(ctx, r.db, "party", "o.party_id", "p.find", words); err != nil {
			return nil, "", err
		}
	}
	list, err := postgres.List[Order](ctx, r.db, orderSelect+`WHERE `+w.String()+fmt.Sprintf(` ORDER BY o.happened_at DESC, o.id DESC LIMIT %d`, n+1), w.args...)
	list, next := postgres.CutPage(list, n, func(v Order) postgres.Mark { return timeMark(v.HappenedAt, v.ID) })
	return list, next, err
}

// OpenUnit is a unit still to be handed over, with what a reader needs of its order.
type OpenUnit struct {
	Unit        Unit
	OrderID     int64
	OrderNumber string
	PartyID     int64
	PartyName   string
	Line        OrderLine
	OrderedAt   time.Time
	DepositPaid bool
}

// lockUnits locks units of an order for a change, in the order of their ids.
func lockUnits(ctx context.Context, tx pgx.Tx, order int64, ids []int64) ([]Unit, error) {
	if _, err := tx.Exec(ctx, `SELECT u.id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id WHERE l.order_id = $1 ORDER BY u.id FOR UPDATE OF u`, order); err != nil {
		return nil, postgres.Translate(err)
	}
	units, err := unitsWhere(ctx, tx, `l.order_id = $1 AND (cardinality($2::bigint[]) = 0 OR u.id = ANY($2))`, order, ids)
	if err == nil && len(ids) > len(units) {
		return nil, fault.Bad("/unit_ids", "One of the pieces does not belong to this order.")
	}
	return units, err
}

// OrderCancel cancels open units of an order and, when nothing is left, notes what
// becomes of the deposit. It gives the ids of the units that were cancelled: their
// claims are freed by the caller in the same transaction (nest it in WithTx).
func (r *Room) OrderCancel(ctx context.Context, c Cancellation) ([]int64, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	var ended []int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		ended = nil
		units, err := lockUnits(ctx, tx, c.OrderID, orNone(c.UnitIDs))
		if err != nil {
			return err
		}
		for _, u := range units {
			switch {
			case u.Open():
				ended = append(ended, u.ID)
			case len(c.UnitIDs) > 0:
				return fault.New(fault.Conflict, "Piece %d is %s already.", u.N, u.State())
			}
		}
		if len(ended) == 0 {
			return fault.New(fault.Conflict, "Nothing of this order is still open.")
		}
		if _, err := tx.Exec(ctx, `UPDATE order_unit SET cancelled_at = $2, cancelled_because = $3 WHERE id = ANY($1)`, ended, r.db.Now(), c.Because); err != nil {
			return err
		}
		return decideDeposit(ctx, tx, c)
	})
	return ended, err
}

func orNone(ids []int64) []int64 {
	if ids == nil {
		return []int64{}
	}
	return ids
}

func decideDeposit(ctx context.Context, tx pgx.Tx, c Cancellation) error {
	o, err := orderIn(ctx, tx, c.OrderID)
	if err != nil {
		return err
	}
	if o.State() != OrderCancelled {
		if c.DepositEnd != "" {
			return fault.Bad("/deposit_end", "Part of the order goes on, so the deposit stays with it.")
		}
		return nil
	}
	if o.PaidMinor <= 0 {
		return nil
	}
	returned := int64(0)
	switch c.DepositEnd {
	case "":
		return fault.Bad("/deposit_end", "A deposit was paid. Say whether it is returned, kept or part returned.")
	case "returned":
		returned = o.PaidMinor
	case "part returned":
		returned = c.ReturnedMinor
		if returned <= 0 || returned >= o.PaidMinor {
			return fault.Bad("/deposit_returned_minor", "A part of the deposit is more than nothing and less than all that was paid.")
		}
	}
	_, err = tx.Exec(ctx, `UPDATE sale_order SET deposit_end = $2, deposit_returned_minor = $3 WHERE id = $1`, c.OrderID, c.DepositEnd, returned)
	return postgres.Translate(err)
}

// vary changes an order by an accepted quote: what is still open of it ends as
// varied, and the quote's lines are added.
func (r *Room) vary(ctx context.Context, tx pgx.Tx, order int64, lines []Line, q Quote, ownBox bool) (Order, error) {
	units, err := lockUnits(ctx, tx, order, []int64{})
	if err != nil {
		return Order{}, err
	}
	var open []int64
	for _, u := range units {
		if u.Open() {
			open = append(open, u.ID)
		}
	}
	if _, err := tx.Exec(ctx, `UPDATE order_unit SET cancelled_at = $2, cancelled_because = $3 WHERE id = ANY($1)`, orNone(open), r.db.Now(), "Varied by "+q.Name()); err != nil {
		return Order{}, postgres.Translate(err)
	}
	var last int
	if err := tx.QueryRow(ctx, `SELECT coalesce(max(position), 0) FROM order_line WHERE order_id = $1`, order).Scan(&last); err != nil {
		return Order{}, postgres.Translate(err)
	}
	if err := addLines(ctx, tx, order, last, lines, ownBox); err != nil {
		return Order{}, err
	}
	return orderIn(ctx, tx, order)
}

// PromiseChange moves the promised day of a unit's box or colony, with the reason
// that the buyer is told. Errors: Invalid for a day that is past.
func (r *Room) PromiseChange(ctx context.Context, unit int64, part string, day *time.Time, reason string) error {
	column, ok := map[string]string{"box": "promised_box_on", "colony": "promised_colony_on"}[part]
	if !ok {
		return fault.Bad("/part", "Must be box or colony.")
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		today, _, err := r.today(ctx, tx)
		if err != nil {
			return err
		}
		var l fault.List
		notPast(&l, "/day", day, today)
		checkWords(&l, "/reason", reason)
		if err := l.Err(); err != nil {
			return err
		}
		var was *time.Time
		if err := tx.QueryRow(ctx, `SELECT `+column+` FROM order_unit WHERE id = $1 AND handed_over_at IS NULL AND cancelled_at IS NULL FOR UPDATE`, unit).Scan(&was); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE order_unit SET `+column+` = $2 WHERE id = $1`, unit, day); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `INSERT INTO promise_change (order_unit_id, part, was_on, became_on, reason, at) VALUES ($1, $2, $3, $4, $5, $6)`, unit, part, was, day, reason, r.db.Now())
		return err
	})
}

// UnitHandOver marks a unit as handed over at an instant. Conflict when it is handed
// over or cancelled already.
func (r *Room) UnitHandOver(ctx context.Context, unit int64, at time.Time) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE order_unit SET handed_over_at = $2 WHERE id = $1 AND handed_over_at IS NULL AND cancelled_at IS NULL`, unit, at)
		if err == nil && tag.RowsAffected() == 0 {
			return fault.New(fault.Conflict, "This piece has been handed over or cancelled already.")
		}
		return err
	})
}

// UnitPlace says where a unit goes, when that is another place than the order's; nil takes
// the order's again. Errors: NotFound; Invalid for a place of somebody else; Conflict when
// it was handed over or cancelled.
func (r *Room) UnitPlace(ctx context.Context, unit int64, site *int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if site != nil {
			ours, err := postgres.Value[bool](ctx, tx, `SELECT EXISTS (SELECT 1 FROM site s JOIN sale_order o ON o.party_id = s.party_id JOIN order_line l ON l.order_id = o.id JOIN order_unit u ON u.order_line_id = l.id WHERE u.id = $1 AND s.id = $2)`, unit, *site)
			if err != nil {
				return err
			}
			if !ours {
				return fault.Bad("/site_id", "This is no place of the buyer's. Put it down on the buyer's page first.")
			}
		}
		tag, err := tx.Exec(ctx, `UPDATE order_unit SET site_id = $2 WHERE id = $1 AND handed_over_at IS NULL AND cancelled_at IS NULL`, unit, site)
		if err == nil && tag.RowsAffected() == 0 {
			return fault.New(fault.Conflict, "This piece has been handed over or cancelled already.")
		}
		return err
	})
}

// UnitReturn notes that a unit came back.
func (r *Room) UnitReturn(ctx context.Context, unit int64, at time.Time) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE order_unit SET returned_at = $2 WHERE id = $1 AND handed_over_at IS NOT NULL AND returned_at IS NULL`, unit, at)
		if err == nil && tag.RowsAffected() == 0 {
			return fault.New(fault.Conflict, "Only a piece that was handed over can come back, and only once.")
		}
		return err
	})
}

// OpenUnits gives the units still to be handed over, earliest promise first; with
// onlyColony those that go with a colony: something paid first, then by the day ordered. The
// order of the line itself is answer's, see LineOf.
func (r *Room) OpenUnits(ctx context.Context, onlyColony bool, limit int) ([]OpenUnit, error) {
	cond := ``
	order := `ORDER BY least(u.promised_box_on, u.promised_colony_on) NULLS LAST, u.id`
	if onlyColony {
		cond = ` AND u.wants_colony`
		order = `ORDER BY deposit_paid DESC, o.happened_at, u.id`
	}
	rows, err := r.db.Query(ctx, `SELECT u.id, o.id, o.number, o.party_id, coalesce(nullif(p.name, ''), (SELECT c.value FROM contact c WHERE c.party_id = p.id AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), 'Nameless'),
	o.happened_at, l.id, l.kind, l.description, l.model_revision_id, l.timber_species_id, l.bee_species_id, l.item_id, l.with_colony, l.options, l.needs,
	(o.deposit_minor = 0 OR EXISTS (SELECT 1 FROM payment WHERE order_id = o.id AND kind <> 'refund')) AS deposit_paid
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
WHERE u.handed_over_at IS NULL AND u.cancelled_at IS NULL`+cond+` `+order+fmt.Sprintf(` LIMIT %d`, min(max(limit, 1), 2000)))
	if err != nil {
		return nil, postgres.Translate(err)
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (OpenUnit, error) {
		var o OpenUnit
		l := &o.Line
		err := row.Scan(&o.Unit.ID, &o.OrderID, &o.OrderNumber, &o.PartyID, &o.PartyName, &o.OrderedAt, &l.ID, &l.Kind, &l.Description, &l.ModelRevisionID, &l.TimberSpeciesID,
			&l.BeeSpeciesID, &l.ItemID, &l.WithColony, &l.OptionsJSON, &l.NeedsJSON, &o.DepositPaid)
		return o, err
	})
	if err != nil {
		return nil, postgres.Translate(err)
	}
	return list, fillUnits(ctx, r.db, list)
}

func fillUnits(ctx context.Context, db postgres.Querier, list []OpenUnit) error {
	at := map[int64]int{}
	ids := make([]int64, len(list))
	for i, o := range list {
		at[o.Unit.ID], ids[i] = i, o.Unit.ID
	}
	units, err := unitsWhere(ctx, db, `u.id = ANY($1)`, ids)
	for _, u := range units {
		list[at[u.ID]].Unit = u
	}
	return err
}
