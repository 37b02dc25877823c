package demo_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/demo"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/timber"
)

// today is eleven in the morning of a Wednesday in Brisbane.
var today = time.Date(2026, 11, 25, 1, 0, 0, 0, time.UTC)

// filled gives a book with a history of so many days.
func filled(t *testing.T, days int) *postgres.DB {
	t.Helper()
	clock := &demo.Clock{}
	db := pgtest.DB(t, postgres.WithClock(clock.Now))
	people := access.New(db, access.Options{})
	owner, err := people.AccountAdd(t.Context(), access.NewAccount{SignIn: "maker", Name: demo.MakerName, Role: access.Owner, Password: "a long enough password"})
	require.NoError(t, err)
	helper, err := people.AccountAdd(t.Context(), access.NewAccount{SignIn: "helper", Name: demo.HelperName, Role: access.Helper, Password: "another long password"})
	require.NoError(t, err)
	room := answer.New(db, answer.Rooms{Timber: timber.New(db, timber.AirDry)})
	var said []string
	require.NoError(t, demo.Fill(t.Context(), demo.Options{DB: db, Clock: clock, Today: today, Days: days, Owner: owner.ID, Helper: helper.ID, Rooms: room.Rooms, Answer: room,
		Progress: func(s string) { said = append(said, s) }}))
	require.Contains(t, said, "today")
	return db
}

// count is a query of one number.
func count(t *testing.T, db *postgres.DB, sql string, args ...any) int64 {
	t.Helper()
	n, err := postgres.Value[int64](t.Context(), db, sql, args...)
	require.NoError(t, err, sql)
	return n
}

// What must hold in any book, and does in one that two years of deeds have gone through.
var never = []struct{ name, sql string }{
	{"put aside on a lot is the sum of its open claims", `SELECT count(*) FROM board_lot l WHERE put_aside <> (SELECT coalesce(sum(quantity), 0) FROM claim c WHERE c.lot_id = l.id AND c.ended_at IS NULL AND c.strength = 'put aside')`},
	{"put aside of an item is the sum of its open claims", `SELECT count(*) FROM item l WHERE put_aside <> (SELECT coalesce(sum(quantity), 0) FROM claim c WHERE c.item_id = l.id AND c.ended_at IS NULL AND c.strength = 'put aside')`},
	{"what lies in a lot is the sum of its moves", `SELECT count(*) FROM board_lot l WHERE on_hand <> (SELECT coalesce(sum(quantity), 0) FROM stock_move m WHERE m.lot_id = l.id)`},
	{"what there is of an item is the sum of its moves", `SELECT count(*) FROM item i WHERE counted AND on_hand <> (SELECT coalesce(sum(quantity), 0) FROM stock_move m WHERE m.item_id = i.id)`},
	{"a claim for a unit that is gone is ended", `SELECT count(*) FROM claim c JOIN order_unit u ON u.id = c.order_unit_id WHERE c.ended_at IS NULL AND (u.handed_over_at IS NOT NULL OR u.cancelled_at IS NOT NULL)`},
	{"a claim for a build that is over is ended", `SELECT count(*) FROM claim c JOIN build b ON b.id = c.build_id WHERE c.ended_at IS NULL AND (b.finished_at IS NOT NULL OR b.cancelled_at IS NOT NULL)`},
	{"invoice numbers have no gap", `SELECT abs(count(*) - coalesce(max(substr(number, 2)::int), 0))::bigint FROM invoice`},
	{"payment numbers have no gap", `SELECT abs(count(*) - coalesce(max(substr(number, 2)::int), 0))::bigint FROM payment`},
	{"an invoice is the sum of its lines", `SELECT count(*) FROM invoice i WHERE price_minor <> (SELECT sum(price_minor) FROM invoice_line l WHERE l.invoice_id = i.id)`},
	{"GST of an invoice is an eleventh of it, to a cent a line", `SELECT count(*) FROM invoice i WHERE registered AND abs(tax_minor * 11 - price_minor) > 11 * (SELECT count(*) FROM invoice_line l WHERE l.invoice_id = i.id)`},
	{"an order of a quote costs what the taken alternative said, unless varied or cancelled", `SELECT count(*) FROM sale_order o JOIN quote_event e ON e.quote_id = o.quote_id AND e.kind = 'accepted' JOIN quote_alternative a ON a.id = e.alternative_id
		WHERE e.accepted_lines IS NULL AND a.price_minor <> (SELECT sum(price_minor) FROM order_line l WHERE l.order_id = o.id)`},
	{"nothing happened after today", `SELECT (SELECT count(*) FROM sale_order WHERE happened_at > '2026-11-25 01:00:01+00') + (SELECT count(*) FROM handover WHERE happened_at > '2026-11-25 01:00:01+00') + (SELECT count(*) FROM payment WHERE happened_at > '2026-11-25 01:00:01+00') + (SELECT count(*) FROM stock_move WHERE happened_at > '2026-11-25 01:00:01+00')`},
	{"a handed-over box is its buyer's", `SELECT count(*) FROM handover h JOIN box_owner o ON o.box_id = h.box_id AND o.to_at IS NULL WHERE h.undone_at IS NULL AND o.party_id IS NULL`},
	{"a promise that is past is on a unit that the Day sheet shows as late: few are", `SELECT greatest(0, count(*) - 5) FROM order_unit WHERE handed_over_at IS NULL AND cancelled_at IS NULL AND greatest(promised_box_on, promised_colony_on) < '2026-11-25'`},
}

// What a look at the demo should find, at the least.
var atLeast = []struct {
	name string
	n    int64
	sql  string
}{
	{"orders", 200, `SELECT count(*) FROM sale_order`},
	{"handed over", 200, `SELECT count(*) FROM order_unit WHERE handed_over_at IS NOT NULL`},
	{"open units", 10, `SELECT count(*) FROM order_unit WHERE handed_over_at IS NULL AND cancelled_at IS NULL`},
	{"cancelled units", 1, `SELECT count(*) FROM order_unit WHERE cancelled_at IS NOT NULL`},
	{"drafts", 1, `SELECT count(*) FROM quote WHERE issued_at IS NULL AND thrown_away_at IS NULL`},
	{"quotes that wait for an answer", 3, `SELECT count(*) FROM quote q WHERE issued_at IS NOT NULL AND valid_until >= '2026-11-25' AND NOT EXISTS (SELECT 1 FROM quote_event WHERE quote_id = q.id)`},
	{"lapsed quotes", 5, `SELECT count(*) FROM quote q WHERE issued_at IS NOT NULL AND valid_until < '2026-11-25' AND NOT EXISTS (SELECT 1 FROM quote_event WHERE quote_id = q.id)`},
	{"accepted quotes", 60, `SELECT count(*) FROM quote_event WHERE kind = 'accepted'`},
	{"declined quotes", 5, `SELECT count(*) FROM quote_event WHERE kind = 'declined'`},
	{"withdrawn quotes", 1, `SELECT count(*) FROM quote_event WHERE kind = 'withdrawn'`},
	{"revised quotes", 5, `SELECT count(*) FROM quote_event WHERE kind = 'revised'`},
	{"timbers built in", 4, `SELECT count(DISTINCT timber_species_id) FROM build`},
	{"models built", 3, `SELECT count(DISTINCT r.model_id) FROM build b JOIN model_revision r ON r.id = b.model_revision_id`},
	{"kinds of bees", 3, `SELECT count(DISTINCT bee_species_id) FROM colony_species`},
	{"finished builds", 50, `SELECT count(*) FROM build WHERE finished_at IS NOT NULL`},
	{"open builds", 1, `SELECT count(*) FROM build WHERE finished_at IS NULL AND cancelled_at IS NULL`},
	{"packs that dry", 3, `SELECT count(*) FROM pack WHERE finished_at IS NULL AND ready_on IS NOT NULL`},
	{"dressed packs", 10, `SELECT count(*) FROM pack WHERE finished_at IS NOT NULL`},
	{"readings", 50, `SELECT count(*) FROM pack_reading`},
	{"offcuts", 3, `SELECT count(*) FROM board_lot WHERE offcut`},
	{"items at their low mark", 1, `SELECT count(*) FROM item WHERE counted AND on_hand - put_aside <= low_mark`},
	{"lost colonies", 2, `SELECT count(*) FROM colony WHERE ended_at IS NOT NULL`},
	{"splits", 30, `SELECT count(*) FROM colony_parent WHERE kind = 'split'`},
	{"host trees", 12, `SELECT count(*) FROM host_tree`},
	{"visits to host trees", 10, `SELECT count(*) FROM host_tree_visit`},
	{"colonies drawn from trees", 2, `SELECT count(*) FROM colony WHERE host_tree_id IS NOT NULL`},
	{"a permit about to end", 1, `SELECT count(*) FROM permit WHERE ends_on BETWEEN '2026-11-25' AND '2026-12-25'`},
	{"an evening to close entrances", 1, `SELECT count(*) FROM run_stop WHERE kind = 'close' AND done_at IS NULL`},
	{"a round of trees", 1, `SELECT count(*) FROM run n WHERE kind = 'visits' AND EXISTS (SELECT FROM run_stop s WHERE s.run_id = n.id AND s.host_tree_id IS NOT NULL)`},
	{"runs", 20, `SELECT count(*) FROM run`},
	{"a run today", 1, `SELECT count(*) FROM run WHERE run_on = '2026-11-25' AND done_at IS NULL`},
	{"follow-ups answered lost", 1, `SELECT count(*) FROM follow_up WHERE answer = 'lost'`},
	{"follow-ups that are due", 1, `SELECT count(*) FROM follow_up WHERE answer IS NULL AND due_on <= '2026-11-25'`},
	{"guarantee claims decided", 3, `SELECT count(*) FROM guarantee_claim WHERE decision IS NOT NULL`},
	{"guarantee claims to decide", 1, `SELECT count(*) FROM guarantee_claim WHERE decision IS NULL`},
	{"changed list prices with a reason", 5, `SELECT count(*) FROM list_price WHERE reason <> ''`},
	{"classes of buyers in use", 3, `SELECT count(DISTINCT buyer_class_id) FROM party`},
	{"promises that were moved", 5, `SELECT count(*) FROM promise_change`},
	{"an accepted plan of the bench", 1, `SELECT count(*) FROM bench_plan WHERE accepted_at IS NOT NULL`},
	{"an open closed hive", 1, `SELECT count(*) FROM run_stop WHERE closed_at IS NOT NULL AND opened_at IS NULL`},
	{"claims that a fact broke", 1, `SELECT count(*) FROM claim WHERE ended_how = 'broken by a fact'`},
	{"deposits", 100, `SELECT count(*) FROM payment WHERE kind = 'deposit'`},
	{"days away", 2, `SELECT count(*) FROM away`},
	{"moves in the line for bees", 1, `SELECT count(*) FROM line_move`},
	{"colonies kept to be split by word", 1, `SELECT count(*) FROM colony WHERE kept_to_split`},
	{"pieces that wait for bees", 3, `SELECT count(*) FROM order_unit u WHERE wants_colony AND handed_over_at IS NULL AND cancelled_at IS NULL AND NOT EXISTS (SELECT FROM claim c WHERE c.order_unit_id = u.id AND c.colony_id IS NOT NULL AND c.ended_at IS NULL)`},
	{"calls to make today", 2, `SELECT count(*) FROM enquiry WHERE ring_again_on = '2026-11-25' AND closed_at IS NULL`},
}

func TestFill(t *testing.T) {
	t.Parallel()
	db := filled(t, 0)
	wrong := []string{} // all of them at once: the filling takes a while
	for _, tt := range never {
		if n := count(t, db, tt.sql); n != 0 {
			wrong = append(wrong, fmt.Sprintf("%s: %d times not", tt.name, n))
		}
	}
	for _, tt := range atLeast {
		if n := count(t, db, tt.sql); n < tt.n {
			wrong = append(wrong, fmt.Sprintf("%s: %d, not %d", tt.name, n, tt.n))
		}
	}
	require.Empty(t, wrong)
	for _, number := range []string{"07 5550 %", "07 7010 %", "0491 57%"} { // ACMA, numbers for use in radio, film and television
		require.Positive(t, count(t, db, `SELECT count(*) FROM contact WHERE kind = 'phone' AND value LIKE $1`, number))
	}
	require.Zero(t, count(t, db, `SELECT count(*) FROM contact WHERE kind = 'phone' AND value !~ '^(07 5550|07 7010|0491 57\d) '`))
}

// The same day and the same seed give the same book.
func TestSameHistory(t *testing.T) {
	t.Parallel()
	const print = `SELECT string_agg(x, ';' ORDER BY x) FROM (SELECT p.name || ' ' || o.number || ' ' || (SELECT sum(price_minor) FROM order_line l WHERE l.order_id = o.id) AS x FROM sale_order o JOIN party p ON p.id = o.party_id) y`
	var prints []string
	for range 2 {
		text, err := postgres.Value[string](t.Context(), filled(t, 30), print)
		require.NoError(t, err)
		prints = append(prints, text)
	}
	require.NotEmpty(t, prints[0])
	require.Equal(t, prints[0], prints[1])
}
