package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// Second hands are put down, seen, changed and ended on pages.
func TestSecondHandsOnPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	const form = "form[action='/settings/hands/0']"
	b.get("/settings/hours").has("main", "Nobody helps at the bench.")
	b.get("/settings/hands/0")
	require.Equal(t, "08:00", b.Find("input[name='start']").AttrOr("value", ""), "when the day begins")
	b.submit(form)
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("#f-minutes-about", "Write a number")
	b.submit(form, "minutes", "-4", "day_2", "yes")
	b.has("#f-minutes-about", "Write a number")
	b.submit(form, "minutes", "0", "day_2", "yes")
	b.has("#f-minutes-about", "more than nothing")
	b.submit(form, "minutes", "4", "day_2", "", "day_4", "")
	b.has("#f-day_1-about, #f-day-1-about", "Tick the days")
	b.submit(form, "minutes", "4.5", "day_2", "yes", "day_4", "yes", "to_on", "2001-01-01")
	b.has("#f-to_on-about, #f-to-on-about", "before the first")
	b.submit(form, "to_on", "")
	require.Equal(t, "/settings/hands/1", b.Path)
	b.has(".said", "Tuesday and Thursday, 08:00 to 12:30")
	require.Equal(t, "4.5", b.Find("input[name='minutes']").AttrOr("value", ""))
	require.Equal(t, 1, b.Find("form[action='/bench/plan'] button").Length(), "the next step: lay the plan anew")
	b.get("/settings/hours").has("table", "A second pair of hands")
	b.get("/settings/hands/0").submit(form, "minutes", "1", "start", "12:00", "day_4", "yes")
	b.has("#f-start-about", "overlaps")
	b.submit(form, "who", "Ben")
	require.Equal(t, "/settings/hands/2", b.Path)
	b.submit("form[action='/settings/hands/2']", "minutes", "2")
	b.has(".said", "12:00 to 14:00")
	b.submit("form[action='/settings/hands/2/end']")
	b.has(".said", "had not begun")
	b.get("/settings/hands/2")
	require.Equal(t, http.StatusNotFound, b.Status)
}
