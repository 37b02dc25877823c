package web

import (
	"bytes"
	"image"
	"image/png"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// handedColony hands Ada a colony so many days ago.
func (b *browser) handedColony(days int) handover.Handover {
	b.t.Helper()
	unit := b.readyUnit()
	colony, err := postgres.Value[int64](b.t.Context(), b.db, `WITH c AS (INSERT INTO colony (number) VALUES ('C0001') RETURNING id), o AS (INSERT INTO colony_owner (colony_id, party_id, from_at) SELECT c.id, p.id, now() - interval '100 days' FROM c, party p WHERE p.name = 'Ada Quill') SELECT id FROM c`)
	require.NoError(b.t, err)
	_, err = b.db.Exec(b.t.Context(), `INSERT INTO contact (party_id, kind, value, normal) SELECT id, 'phone', '(02) 5550 0123', '+61255500123' FROM party WHERE name = 'Ada Quill'`)
	require.NoError(b.t, err)
	in, out, kg := 20, 18, 9.4
	h, err := b.server.Handover.Make(b.t.Context(), handover.Handover{UnitID: unit, ColonyID: &colony, ReceivedBy: "Ada", HappenedAt: time.Now().AddDate(0, 0, -days), BeesIn: &in, BeesOut: &out, MassKG: &kg}, nil)
	require.NoError(b.t, err)
	return h
}

func TestAskedInTwoTaps(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	h := b.handedColony(20)
	b.get("/runs").has("a[href^='/runs/asks#ask-']", "Ada Quill")
	b.get("/runs/asks").has("main", "Ada Quill").has("main", "alive, weak or lost").has("a[href^='tel:0255500123']", "Ring").has("a[href*='sms:']", "Message")
	require.Equal(t, 2, b.Find("ol.lines > li").Length(), "1 and 14 days are over")
	b.submit("li:first-child form:not(:has(input[type=date]))", "answer", "alive").has(".said", "Noted.")
	require.Equal(t, 1, b.Find("ol.lines > li").Length())
	b.submit("form:has(input[type=date])", "why", "").has(".wrong-top", "Say how it was lost").has("li details[open]", "Lost")
	b.submit("form:has(input[type=date])", "reason", answer.LossReasons[0], "lost_on", "2999-01-01").has(".wrong-top", "Not taken")
	b.submit("form:has(input[type=date])", "reason", answer.LossReasons[0], "lost_on", "").has(".said", "a claim is open")
	require.Equal(t, "/runs/claims/1", b.Path)
	b.has(".lead", "The colony is lost: heat or full sun").has("dl", "9.4 kg").has("dl", "20 bees in and 18 out").has("main", "fails in its first eight weeks").has(".caution", "consumer law come first").hasNot(".wrong-top")
	b.get("/runs/asks").has("main", "Nobody is to be asked")
	b.get("/bees/colonies/1").has("main", "lost at the buyer's: heat or full sun")
	b.get("/runs/survival").has("main", "All together: 1 handed over, 0 alive when last heard of, 1 lost, 0 never heard of")
	for _, by := range []string{"season", "method"} {
		require.Equal(t, http.StatusOK, b.get("/runs/survival?by="+by).Status)
	}
	require.Equal(t, http.StatusUnprocessableEntity, b.get("/runs/survival?by=moon").Status)

	var picture bytes.Buffer
	require.NoError(t, png.Encode(&picture, image.NewRGBA(image.Rect(0, 0, 20, 10))))
	_, err := b.server.House.PhotoAdd(t.Context(), "handover", h.ID, "front", picture.Bytes())
	require.NoError(t, err)
	_, err = b.server.House.PhotoAdd(t.Context(), "guarantee_claim", 1, "dead bees", picture.Bytes())
	require.NoError(t, err)
	_, err = b.server.House.PhotoAdd(t.Context(), "guarantee_claim", 1, "no photo", []byte("words"))
	require.Error(t, err)
	b.get("/runs/claims/1").has("figcaption", "front").has("figcaption", "dead bees")
	b.submit("form:has(textarea[name=note])", "decision", "replaced").has(".is-wrong", "Say why")
	b.submit("form:has(textarea[name=note])", "decision", "replaced", "note", "it was settled too early", "cost_minor", "180.00").has(".said", "Decided").has("dl", "$180.00").has("textarea[readonly]", "It will be replaced. The reason: it was settled too early.")
	b.get("/runs/claims").has("table", "replaced: it was settled too early")
	_, err = b.db.Exec(t.Context(), `WITH l AS (UPDATE order_line SET cost_minor = 50 RETURNING id) UPDATE order_unit SET handed_over_at = now() - interval '20 days'`)
	require.NoError(t, err)
	b.get("/books/earned").has("main", "180.00")

	b.addAccount("jo", access.Helper)
	jo := b.other()
	jo.signIn("jo")
	jo.get("/runs/claims/1").has("main", "The owner of the workshop decides").hasNot("form:has(textarea[name=note])")
	require.NotContains(t, jo.Find("main").Text(), "180.00")
}

func TestClaimAfterItsEndIsKept(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.handedColony(80)
	b.get("/runs/handovers/1").submit("form:has(textarea[name=what])", "what", "no bees fly")
	b.has(".said", "The claim is noted").has(".wrong-top", "the guarantee ended on").has(".wrong-top", "24 days before. It is kept as asked.")
	b.get("/runs/handovers/1").submit("form:has(select[name=answer])", "answer", "lost", "why", "ants").has(".said", "Noted.")
	require.Equal(t, "/runs/handovers/1", b.Path, "lost after the guarantee: no claim of itself")
	b.has("main", "lost, ants").submit("form:has(select[name=answer])", "answer", "alive")
	require.Equal(t, http.StatusConflict, b.Status)
	b.has(".wrong-top", "answered already: lost")
}

func TestNotFetchedPages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.server.Day = b.server.Answer
	b.readyUnit()
	b.get("/orders/1").has("main", "Reminders").get("/orders/1/fetch").has(".lead", "0 days").has("main", "The next reminder is due on").hasNot("form:has(button.main)")
	_, err := b.db.Exec(t.Context(), `UPDATE claim SET made_at = now() - interval '12 days'`)
	require.NoError(t, err)
	b.get("/").has("main", "Remind them: the words are ready.")
	b.get("/orders/1").has(".late", "Not fetched:").get("/orders/1/fetch").has("textarea", "stands ready to be fetched since")
	b.submit("form:has(button.main)").has(".said", "they are reminded").has("ol", "The words").has("main", "The next reminder is due on")
	_, err = b.db.Exec(t.Context(), `UPDATE claim SET made_at = now() - interval '30 days'; DELETE FROM fetch_reminder`)
	require.NoError(t, err)
	b.get("/orders/1/fetch").has(".wrong-top", "The last reminder").has("textarea", "the law on goods left uncollected applies")
	b.submit("form:has(button.main)").has("main", "No further reminder is set.")
	b.get("/").hasNot("a[href='/orders/1/fetch']")
}

func TestAfterCarePage(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.get("/settings/after").submit("main form", "fetch_days", "3, soon").has(".is-wrong", "whole days")
	b.submit("main form", "fetch_days", "14; 7 7", "guarantee_colony_days", "42").has(".said", "Kept.")
	a, err := b.server.House.AfterCareGet(t.Context())
	require.NoError(t, err)
	require.Equal(t, []int32{7, 14}, a.FetchDays)
	require.Equal(t, 42, a.GuaranteeColonyDays)
	_, err = b.server.House.AfterCarePut(t.Context(), house.AfterCare{Version: 7})
	require.Error(t, err)
}
