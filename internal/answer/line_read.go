package answer

import (
	"context"
	"sync"
	"time"

	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/postgres"
)

// waitingUnit is a piece that waits for a colony and has none yet.
type waitingUnit struct {
	UnitID       int64      `db:"unit_id"`
	N            int        `db:"n"`
	OrderID      int64      `db:"order_id"`
	Number       string     `db:"number"`
	PartyID      int64      `db:"party_id"`
	Who          string     `db:"who"`
	OrderedAt    time.Time  `db:"ordered_at"`
	DepositMinor int64      `db:"deposit_minor"`
	JoinedAt     *time.Time `db:"joined_at"` // the deposit was paid, or ordered where none was asked; nil: it is not paid
	SpeciesID    *int64     `db:"species_id"`
	WantsBox     bool       `db:"wants_box"`
	BoxID        *int64     `db:"box_id"` // put aside for it
	BoxSerial    *string    `db:"box_serial"`
	ModelID      *int64     `db:"model_id"`
	TimberID     *int64     `db:"timber_id"`
	Options      []byte     `db:"options"`
	PromisedOn   *time.Time `db:"promised_on"`
	Region       string     `db:"region"`
	Town         string     `db:"town"`
	Stands       string     `db:"stands"` // in the order of the line
	MovedBecause string     `db:"moved_because"`
}

// waitingSQL gives the pieces that wait, those who have paid first and in the order of the
// line. A deposit is paid from the payment on with which what was received less refunds
// reached it for good. Where no place is said for the piece or its order, the only place of the
// buyer counts. A piece stands by its deposit, then by its id, unless it was moved.
const waitingSQL = `SELECT u.id AS unit_id, u.n, o.id AS order_id, o.number, o.party_id, coalesce(nullif(p.name::text, ''), nullif(` + firstPhone + `, ''), 'Nameless') AS who, o.happened_at AS ordered_at, o.deposit_minor,
	j.joined_at, l.bee_species_id AS species_id, u.wants_box AND NOT u.own_box AS wants_box, cb.box_id, b.serial AS box_serial, mr.model_id, l.timber_species_id AS timber_id, l.options, u.promised_colony_on AS promised_on,
	coalesce(s.region::text, '') AS region, coalesce(nullif(s.town::text, ''), p.town::text, '') AS town,
	coalesce(m.stands, extract(epoch FROM coalesce(j.joined_at, o.happened_at)) + u.id * 1e-16)::text AS stands, coalesce(m.reason::text, '') AS moved_because
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
LEFT JOIN site s ON s.id = coalesce(u.site_id, o.site_id, (SELECT min(z.id) FROM site z WHERE z.party_id = o.party_id AND z.put_away_at IS NULL HAVING count(*) = 1)) LEFT JOIN model_revision mr ON mr.id = l.model_revision_id
LEFT JOIN claim cb ON cb.order_unit_id = u.id AND cb.box_id IS NOT NULL AND cb.ended_at IS NULL LEFT JOIN box b ON b.id = cb.box_id
LEFT JOIN LATERAL (SELECT v.stands, v.reason FROM line_move v WHERE v.order_unit_id = u.id ORDER BY v.id DESC LIMIT 1) m ON true
LEFT JOIN LATERAL (SELECT CASE WHEN o.deposit_minor = 0 THEN o.happened_at ELSE (SELECT min(y.happened_at) FROM (
	SELECT x.happened_at, min(x.run) OVER (ORDER BY x.happened_at DESC, x.id DESC) AS least FROM (
		SELECT t.id, t.happened_at, sum(CASE t.kind WHEN 'refund' THEN -t.amount_minor ELSE t.amount_minor END) OVER (ORDER BY t.happened_at, t.id) AS run
		FROM payment t WHERE t.order_id = o.id) x) y WHERE y.least >= o.deposit_minor) END AS joined_at) j ON true
WHERE u.wants_colony AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL
	AND NOT EXISTS (SELECT FROM claim c WHERE c.order_unit_id = u.id AND c.colony_id IS NOT NULL AND c.ended_at IS NULL)
	AND ($1::bigint = 0 OR l.bee_species_id IS NULL OR l.bee_species_id = $1)
ORDER BY j.joined_at IS NULL, coalesce(m.stands, extract(epoch FROM coalesce(j.joined_at, o.happened_at)) + u.id * 1e-16), u.id LIMIT $2`

// lineMost bounds how many pieces of a line are read.
const lineMost = 1000

// waitingFor gives the line for a kind, 0 for all kinds in one: first those who have paid
// their deposit, in the order of the line, then those who have not. A piece for which
// no kind was named stands in every line.
func (r *Room) waitingFor(ctx context.Context, species int64) (line, unpaid []waitingUnit, err error) {
	all, err := postgres.List[waitingUnit](ctx, r.db, waitingSQL, species, lineMost)
	for i, u := range all {
		if u.JoinedAt == nil {
			return all[:i], all[i:], err
		}
	}
	return all, nil, err
}

// ahead is how many stand before a new place of a line.
type ahead struct {
	Paid, Unpaid, Quoted int
}

// all is how many colonies must be there before the next is free for certain.
func (a ahead) all() int { return a.Paid + a.Unpaid + a.Quoted }

// before gives the chance of each of them to stay.
func (a ahead) before(b buyers) waiting.Before {
	var list waiting.Before
	for _, g := range []struct {
		n      int
		chance float64
	}{{a.Paid, b.Stay}, {a.Unpaid, b.Pay * b.Stay}, {a.Quoted, b.Take * b.Stay}} {
		for range g.n {
			list = append(list, g.chance)
		}
	}
	return list
}

// aheadOf counts those who stand before a new buyer of a kind; quoted is how many places
// unanswered quotes hold.
func (r *Room) aheadOf(ctx context.Context, species int64) (ahead, error) {
	return postgres.One[ahead](ctx, r.db, `SELECT count(*) FILTER (WHERE d.paid)::int AS paid, count(*) FILTER (WHERE NOT d.paid)::int AS unpaid, 0 AS quoted
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id
JOIN LATERAL (SELECT o.deposit_minor = 0 OR coalesce((SELECT sum(CASE kind WHEN 'refund' THEN -amount_minor ELSE amount_minor END) FROM payment WHERE order_id = o.id), 0) >= o.deposit_minor AS paid) d ON true
WHERE u.wants_colony AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL AND (l.bee_species_id IS NULL OR l.bee_species_id = $1)
	AND NOT EXISTS (SELECT 1 FROM claim c WHERE c.order_unit_id = u.id AND c.colony_id IS NOT NULL AND c.ended_at IS NULL)`, species)
}

// buyers are the rates of the buyers of colonies, as the book teaches them.
type buyers struct {
	Stay float64 // of those whose deposit was paid: not cancelled before their colony came
	Pay  float64 // of orders that ask for a deposit: it comes
	Take float64 // of quotes with colonies: accepted

	Served, Paid, Answered int // how many each was learnt from
}

// What is taken for the buyers while the book says little, and how many cases that is
// worth; our estimates.
const (
	stayPrior, stayWeight = 0.94, 15
	payPrior, payWeight   = 0.85, 10
	takePrior, takeWeight = 0.4, 10
	buyerYears            = 5
)

// buyersMemo keeps the rates of the buyers for one business day.
type buyersMemo struct {
	mu     sync.Mutex
	day    time.Time
	buyers buyers
}

// buyersOn learns how many stay, pay and accept, from the last years up to day.
func (r *Room) buyersOn(ctx context.Context, day time.Time) (buyers, error) {
	r.lined.mu.Lock()
	had, of := r.lined.buyers, r.lined.day
	r.lined.mu.Unlock()
	if of.Equal(day) {
		return had, nil
	}
	n, err := postgres.One[struct {
		Stayed   int `db:"stayed"`
		Left     int `db:"gone"`
		Came     int `db:"came"`
		Never    int `db:"never"`
		Accepted int `db:"accepted"`
		Refused  int `db:"refused"`
	}](ctx, r.db, `WITH lines AS MATERIALIZED (
	SELECT o.id, o.deposit_minor, EXISTS (SELECT FROM payment t WHERE t.order_id = o.id AND t.kind <> 'refund') AS paid, count(u.handed_over_at) AS given, count(u.cancelled_at) AS cancelled
	FROM sale_order o JOIN order_line l ON l.order_id = o.id JOIN order_unit u ON u.order_line_id = l.id AND u.wants_colony
	WHERE o.happened_at >= $1 AND NOT o.typed_in GROUP BY o.id)
SELECT coalesce(sum(given) FILTER (WHERE deposit_minor = 0 OR paid), 0)::int AS stayed, coalesce(sum(cancelled) FILTER (WHERE deposit_minor = 0 OR paid), 0)::int AS gone,
	count(*) FILTER (WHERE deposit_minor > 0 AND paid)::int AS came, count(*) FILTER (WHERE deposit_minor > 0 AND NOT paid AND cancelled > 0)::int AS never,
	(SELECT count(*) FROM quote q JOIN quote_event e ON e.quote_id = q.id AND e.kind = 'accepted' WHERE q.issued_at >= $1 AND `+quotesBees+`)::int AS accepted,
	(SELECT count(*) FROM quote q WHERE q.issued_at >= $1 AND `+quotesBees+` AND NOT EXISTS (SELECT FROM quote_event e WHERE e.quote_id = q.id AND e.kind IN ('accepted', 'revised'))
		AND (q.valid_until < $2 OR EXISTS (SELECT FROM quote_event e WHERE e.quote_id = q.id)))::int AS refused
FROM lines`, day.AddDate(-buyerYears, 0, 0), day)
	if err != nil {
		return buyers{}, err
	}
	b := buyers{Served: n.Stayed + n.Left, Paid: n.Came + n.Never, Answered: n.Accepted + n.Refused}
	b.Stay = waiting.Share(stayPrior, stayWeight, n.Stayed, b.Served)
	b.Pay = waiting.Share(payPrior, payWeight, n.Came, b.Paid)
	b.Take = waiting.Share(takePrior, takeWeight, n.Accepted, b.Answered)
	r.lined.mu.Lock()
	r.lined.buyers, r.lined.day = b, day
	r.lined.mu.Unlock()
	return b, nil
}

const quotesBees = `EXISTS (SELECT FROM quote_alternative a JOIN quote_line l ON l.alternative_id = a.id WHERE a.quote_id = q.id AND (l.with_colony OR l.kind = 'colony'))`

// standBefore is how many pieces of other orders stand before the first one of an order in
// the line of a kind; those who have not paid their deposit stand behind all who have.
func (r *Room) standBefore(ctx context.Context, species, order int64) (int, error) {
	line, unpaid, err := r.waitingFor(ctx, species)
	if err != nil {
		return 0, err
	}
	for i, u := range append(line, unpaid...) {
		if u.OrderID == order {
			return i, nil
		}
	}
	return len(line) + len(unpaid), nil
}
