package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/handover"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// readyUnit makes an order of Ada's with a box put aside for it.
func (b *browser) readyUnit() int64 {
	b.t.Helper()
	box := b.newSerial()
	unit, err := postgres.Value[int64](b.t.Context(), b.db, `WITH p AS (INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id),
o AS (INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S0001', id, now() FROM p RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor) SELECT id, 1, 'box', 'Small box', 1, 100, 100, 0, 100 FROM o RETURNING id)
INSERT INTO order_unit (order_line_id, n, wants_box, promised_box_on) SELECT id, 1, true, '2020-05-05' FROM l RETURNING id`)
	require.NoError(b.t, err)
	x, err := b.server.Workshop.BoxBySerial(b.t.Context(), box)
	require.NoError(b.t, err)
	require.NoError(b.t, b.server.Answer.BoxPutAside(b.t.Context(), unit, x.ID))
	return unit
}

func TestRunPages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.get("/runs").has("main", "Nothing is ready to go")
	b.readyUnit()
	_, err := b.db.Exec(t.Context(), `INSERT INTO contact (party_id, kind, value, normal) SELECT id, 'phone', '(02) 5550 0123', '+61255500123' FROM party WHERE name = 'Ada Quill'`)
	require.NoError(t, err)
	b.get("/runs").has("table", "Ada Quill, S0001").has("table", "Late:")
	b.get("/runs/new").submit("main form", "run_on", "2020-01-01", "unit", "1", "kind", "delivery")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".is-wrong", "This day is past").has("input[name=unit][checked]", "")
	tomorrow := show.ISODate(time.Now().AddDate(0, 0, 2))
	b.submit("main form", "run_on", tomorrow, "driver", "Jo", "forecast_c", "36")
	b.has(".said", "Run R0001 is planned").has("main", "Ada Quill").has(".wrong-top", "36 °C is forecast")
	b.has("main", "Load: not known")
	b.submit("form[action='/runs/1']:has(input[name=forecast_c])", "deed", "forecast", "forecast_c", "hot")
	b.has(".is-wrong", "Write a number")
	b.submit("form[action='/runs/1']:has(input[name=forecast_c])", "deed", "forecast", "forecast_c", "38")
	b.has(".wrong-top", "38 °C is forecast")
	b.submit("form[action='/runs/1'][class!=inline]:has(input[name=run_on])", "deed", "later", "run_on", show.ISODate(time.Now().AddDate(0, 0, 4)), "because", "heat")
	b.has("main", "Put off: heat").has("textarea[readonly]", "The reason: heat. It stays put aside").has(".late", "not told yet").has("a[href^='tel:0255']", "Ring").has("a[href*='The%20reason%3A%20heat']", "Message")
	b.submit("form:has(button[value=told])", "mark", "told")
	b.has(".lines", "Ada Quill: told").hasNot("textarea[readonly]")
	b.submit("form[action='/runs/1']:has(input[name=stop])", "mark", "done")
	b.has("main", "All stops are done")
}

func TestHandoverPage(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	unit := b.readyUnit()
	colony, err := postgres.Value[int64](t.Context(), b.db, `INSERT INTO colony (number) VALUES ('C0001') RETURNING id`)
	require.NoError(t, err)
	in, out := 20, 18
	_, err = b.server.Handover.Make(t.Context(), handover.Handover{UnitID: unit, ColonyID: &colony, ReceivedBy: "Ada", HappenedAt: time.Now().AddDate(0, -1, 0), BeesIn: &in, BeesOut: &out}, nil)
	require.NoError(t, err)
	b.get("/runs").has("table", "Ada Quill,").has("table", "H0001")
	b.get("/runs/handovers/1").has("dl", "20 bees in and 18 out in a minute").has(".late", "Late:").has("a[href^='/runs/asks#ask-']", "Ask")
	b.submit("form:has(textarea[name=what])", "what", " ")
	b.has(".is-wrong", "Say what is wrong")
	b.submit("form:has(textarea[name=what])", "what", "no bees fly")
	b.has(".said", "The claim is noted").has(".caution", "consumer law come first").has("dl", "20 bees in")
	require.Equal(t, http.StatusNotFound, b.get("/runs/handovers/1/sheet.pdf").Status)
}

func TestHandOverPage(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	unit := b.readyUnit()
	require.Equal(t, int64(1), unit)
	b.get("/runs").has("a[href='/runs/hand-over/1']", "Hand over")
	b.get("/runs/hand-over/1").has(".lead", "Ada Quill").has(".caution", "asbestos")
	b.submit("form[enctype]", "received_by", "")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".is-wrong", "Say who received it")
	b.submit("form[enctype]", "received_by", "Ada", "fixing", "two coach screws")
	b.has(".said", "Handed over. Give the buyer the sheet.").has("main", "Ada Quill")
	require.Equal(t, "/runs/handovers/1", b.Path)
	require.Equal(t, http.StatusOK, b.get("/runs/handovers/1/sheet.pdf").Status)
	b.get("/runs/hand-over/1").has("dl", "handed over").hasNot("form[enctype]")
}

func TestFetchedAndAskedTheNextMorning(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.readyUnit()
	b.get("/orders/1").has("a[href='/runs/hand-over/1#fetch']", "They fetch it")
	b.get("/runs/hand-over/1").submit("form[action^='/runs/fetch']", "run_on", "2020-01-01")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".is-wrong", "This day is past").submit("form[action^='/runs/fetch']", "run_on", show.ISODate(time.Now().AddDate(0, 0, 1)))
	b.has(".said", "They fetch it: R0001").has(".lead", "collection").has("main", "1. Ada Quill")
	b.get("/runs/hand-over/1").submit("form[enctype]", "received_by", "Ada")
	b.get("/runs/1").has("main", "All stops are done")

	_, err := b.db.Exec(t.Context(), `WITH c AS (INSERT INTO colony (number) VALUES ('C0001') RETURNING id) UPDATE run_stop SET colony_id = c.id, closed_at = now() - interval '40 hours', opened_at = NULL, done_at = now() - interval '1 day' FROM c`)
	require.NoError(t, err)
	b.server.Day = b.server.Answer
	b.get("/").has("main", "Is it open? Ask Ada Quill").has("main", "longer than 36. Open it now")
	b.submit("form:has(button[value=open])", "deed", "open")
	b.has(".said", "it is open").hasNot("button[value=open]")
	b.get("/").hasNot("a[href='/runs/1']")
}

func TestPuttingAsideByHand(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	_, err := postgres.Value[int64](t.Context(), b.db, `WITH p AS (INSERT INTO party (name) VALUES ('Ada Quill') RETURNING id),
o AS (INSERT INTO sale_order (number, party_id, happened_at) SELECT 'S0001', id, now() FROM p RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor, with_colony) SELECT id, 1, 'box', 'Small box', 1, 100, 100, 0, 100, true FROM o RETURNING id)
INSERT INTO order_unit (order_line_id, n, wants_box, wants_colony) SELECT id, 1, true, true FROM l RETURNING id`)
	require.NoError(t, err)
	serial := b.newSerial()
	b.get("/runs/hand-over/1").has("main", "No colony of this kind is ready").submit("form[action^='/runs/put-aside']", "box_id", "")
	b.has(".wrong-top", "serial of a box, or choose a colony")
	b.submit("form[action^='/runs/put-aside']", "box_id", serial)
	b.has(".said", "It is put aside").has("dl", serial)
	b.get("/bees/colonies/new").submit("main form", "species_id", "1", "dwelling", "box", "box_id", serial, "settled_on", "2024-06-01", "began_on", "2024-01-01")
	b.get("/runs/hand-over/1").has("select[name=colony_id]", "C0001").submit("form[action^='/runs/put-aside']", "colony_id", "1")
	b.has("dl", "C0001").has("form[enctype]", "Bees in, in a minute")
}

// A round is planned with one tap and done tree by tree, each visit with one tap.
func TestARoundOfVisitsOnThePages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.get("/runs/round").has("main", "No host tree is in the book")
	for _, name := range []string{"Leaning ironbark", "Hollow gum"} {
		b.get("/bees/trees/new").submit("main form", "name", name, "permission", "Edda Holm", "next_visit_on", "2020-01-01").has(".said", "in the book")
	}
	b.get("/runs/round").submit("main form", "run_on", "2020-01-01", "due_within_days", "0").has(".is-wrong", "This day is past")
	b.get("/runs/round").submit("main form").has(".wrong-top", "Choose at least one tree")
	b.get("/runs/round").has("main", "2 trees due today").submit("main form", "due_within_days", "0")
	b.has(".said", "The round is planned: 2 trees").has("ol.lines", "Leaning ironbark").has("ol.lines", "Is the hollow still lived in?")
	run := b.Path
	b.get("/bees/trees/1/visit?stop=1").submit("main form", "found", "quiet")
	require.Equal(t, run, b.Path, "back on the round")
	b.has(".said", "The visit is noted").has("ol.lines", "done")
	b.get("/bees/permits").submit("main form[action='/bees/permits']", "number", "WA 17", "authority", "Parks office", "ends_on", "2020-03-31")
	b.get(run).submit("form:has(button:contains('Note the permit'))", "permit_stop", "2", "permit_id", "1").has(".said", "noted at the stop").has("ol.lines", "Permit WA 17 of Parks office ended")
	b.get("/bees/trees/2/visit?stop=2").submit("main form", "found", "passing")
	b.has("main", "All stops are done")
}
