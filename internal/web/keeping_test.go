package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/show"
)

func TestKeepingPages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.get("/bees").has("a[href='/bees/keeping']", "Others' hives here").get("/bees/keeping").has("main", "Nothing of anybody else is here")
	b.get("/bees/keeping/new").submit("main form", "description", "blue log hive", "species_id", "1")
	b.has(".is-wrong", "Say whose it is").submit("main form", "name", "Ada Quill", "number", "07 5550 0117", "back_on", "2020-01-01")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".is-wrong", "cannot lie in the past")
	b.submit("main form", "purpose", "split", "agreed", "one split, half for the workshop", "price_minor", "80", "back_on", show.ISODate(time.Now().AddDate(0, 0, 40)), "place", "the far row")
	b.has(".said", "Colony C0001 is in our keeping").has(".lead", "never promised or sold").has("dl", "one split, half for the workshop").has("dl", "$80.00").has("dl", "Ada Quill")
	b.get("/bees/keeping").has("table", "Ada Quill").has("table", "to be split; one split, half for the workshop; $80.00")
	b.get("/bees/colonies/1").has("dl", "to be split; one split").has("a[href='/bees/keeping/1']", "to be split").has(".lead", "belongs to Ada Quill")

	b.get("/bees/keeping/1").submit("form[action$='/change']", "agreed", "two splits")
	b.has("dl", "two splits")
	_, err := b.db.Exec(t.Context(), `UPDATE keeping SET back_on = now()::date - 3, came_at = now() - interval '10 days'`)
	require.NoError(t, err)
	b.server.Day = b.server.Answer
	b.get("/").has("main", "Colony C0001 is to be back with Ada Quill (07 5550 0117)").get("/bees/keeping").has("table", "Late:")
	b.get("/bees/keeping/1").has("main", "Late:").submit("form[action$='/back']", "note", "her brother", "happened_at", "")
	b.has(".lead", "Not here any more: handed back: her brother").hasNot("form[action$='/back']")
	b.get("/bees/keeping").has("main", "Nothing of anybody else is here").has("table", "handed back: her brother")
	b.get("/bees/colonies/1").has("dl", "Ada Quill").hasNot("a[href='/bees/keeping/1']")

	b.get("/bees/keeping/new").submit("main form", "name", "Ada Quill", "number", "07 5550 0117", "description", "a box with a split wall", "purpose", "repair")
	b.has(".said", "is in our keeping").has("dl", "a box with a split wall").get("/bench/boxes/1").has("dl", "to be repaired").has(".lead", "with its owner")
	b.get("/bees/keeping/2").submit("form[action$='/kept']", "note", "")
	b.has(".is-wrong", "how it became").submit("form[action$='/kept']", "note", "given to us for firewood")
	b.has(".lead", "kept as agreed: given to us for firewood").get("/bench/boxes/1").has(".lead", "on the shelf")
	require.Equal(t, http.StatusNotFound, b.get("/bees/keeping/9").Status)
}
