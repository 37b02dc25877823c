package web

import (
	"bytes"
	"image"
	"image/png"
	"mime/multipart"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/workshop"
)

func TestSettingsPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/settings")
	require.GreaterOrEqual(t, b.Find("main tbody a").Length(), 7)
	for _, g := range settingGroups {
		b.get("/settings/" + g.path)
		require.Equal(t, http.StatusOK, b.Status, g.path)
		b.submit("main form").has(".said", "Kept.")
	}
	changes, err := b.server.House.HistoryOf(t.Context(), "workshop", 1, 10)
	require.NoError(t, err)
	require.Len(t, changes, 1, "pages kept as they were change nothing")
}

func TestFiguresAreGuessesUntilChanged(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	require.NoError(t, b.server.House.GuessMark(t.Context(), guesses...))
	b.get("/settings/costs").has("#f-hour-cost-minor-about", "A guess").has("#f-overhead-pct-about", "A guess")
	b.submit("main form", "hour_cost_minor", "52.50")
	b.hasNot("#f-hour-cost-minor-about").has("#f-overhead-pct-about", "A guess")
	set, err := b.server.House.SettingsGet(t.Context())
	require.NoError(t, err)
	require.Equal(t, int64(5250), set.HourCostMinor)
	b.submit("main form", "own", "yes").hasNot("#f-overhead-pct-about")
	b.get("/history/workshop/1").has("main", "hour cost minor: 5250").has("main", "maker")
}

func TestFiguresRefuse(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	tests := []struct{ page, field, typed, says string }{
		{"costs", "hour_cost_minor", "a lot", "Write an amount"},
		{"costs", "hour_cost_minor", "-3", "Write an amount"},
		{"costs", "overhead_pct", "1e9", "Write a number"},
		{"costs", "follow_up_days", "1, two", "whole days"},
		{"costs", "quote_valid_days", "0", "from 1 to 365"},
		{"saw", "saw_kerf_mm", "3.25", "Write a number"},
		{"workshop", "latitude", "-91", "degrees between"},
		{"labels", "label_columns", "9", "9 columns do not fit across 210 mm"},
		{"labels", "label_height_mm", "tall", "Write millimetres"},
		{"workshop", "time_zone", "Atlantis", "time zone is not known"},
	}
	for _, tt := range tests {
		b.get("/settings/"+tt.page).submit("main form", tt.field, tt.typed)
		require.Equal(t, http.StatusUnprocessableEntity, b.Status, tt.field)
		b.has(".wrong-top", "Not taken").has("main form .wrong", tt.says)
		require.Equal(t, tt.typed, b.Find("[name="+tt.field+"]").AttrOr("value", ""))
	}
	b.get("/settings/costs").submit("main form", "margin_pct", "120")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".wrong-top", "Not taken")

	b.get("/settings/labels").submit("main form", "label_columns", "3", "label_width_mm", "63.5", "label_gap_across_mm", "2.5", "label_left_mm", "7.2").has(".said", "Kept.")
	require.Equal(t, "2.5", b.Find("[name=label_gap_across_mm]").AttrOr("value", ""), "3 x 63.5 and two gaps of 2.5 are 195.5 of 210 mm")
	require.Equal(t, "3", b.Find("[name=label_columns]").AttrOr("value", ""))

	// Somebody else keeps the same page first.
	b.get("/settings/saw")
	_, err := b.db.Exec(t.Context(), `UPDATE workshop SET town = 'Gympie'`)
	require.NoError(t, err)
	b.submit("main form", "trim_mm", "20")
	require.Equal(t, http.StatusPreconditionFailed, b.Status)
	require.Equal(t, "20", b.Find("[name=trim_mm]").AttrOr("value", ""))
	b.submit("main form").has(".said", "Kept.")
	set, err := b.server.House.SettingsGet(t.Context())
	require.NoError(t, err)
	require.Equal(t, "Gympie", set.Town, "what the other kept is not lost")
	require.Equal(t, "20", set.TrimMM.String())
}

func TestTaxPage(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/settings/tax").submit("main form", "registered", "yes", "from_on", "2026-07-01").has(".said", "Kept.")
	b.has("main tbody", "Wed 1 Jul 2026").has("main tbody", "registered").has("main tbody", "GST")
	b.submit("main form", "registered", "")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("main form", "registered", "no", "from_on", "1 July")
	b.has("main form .wrong", "Write a date")
}

func TestHistoryNeedsItsArea(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.addAccount("jo", "helper")
	jo := b.other()
	jo.signIn("jo")
	require.Equal(t, http.StatusForbidden, jo.get("/history/party/1").Status)
	require.Equal(t, http.StatusOK, jo.get("/history/build/1").Status)
	require.Equal(t, http.StatusNotFound, b.get("/history/idempotency/1").Status)
	require.Equal(t, http.StatusNotFound, b.get("/history/party/zero").Status)
}

func TestHoursAndDaysAway(t *testing.T) {
	t.Parallel()
	b := newBrowser(t).get("/settings/hours")
	b.submit("form[action='/settings/hours']", "from_on", "2026-01-05", "day.1.0.from", "07:00", "day.1.0.to", "12:00", "day.1.1.from", "13:00", "day.1.1.to", "15:30")
	b.has(".said", "Mon 5 Jan 2026")
	week, err := b.server.Workshop.WeekAt(t.Context(), time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	require.Equal(t, []workshop.Hours{{Weekday: 1, StartMinute: 420, EndMinute: 720, Hands: 1}, {Weekday: 1, StartMinute: 780, EndMinute: 930, Hands: 1}}, week.Hours)
	require.Equal(t, "13:00", b.Find("[name='day.1.1.from']").AttrOr("value", ""))
	b.submit("form[action='/settings/hours']", "day.1.0.to", "06:00")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("main .wrong", "later than it begins")
	b.submit("form[action='/settings/hours']", "day.1.0.to", "14:00")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".wrong-top", "overlaps")

	b.get("/settings/hours").submit("form[action='/settings/away']", "from_on", "2030-01-10", "to_on", "2030-01-02")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/settings/away']", "to_on", "2030-01-20", "why", "the coast").has("main", "the coast").has("main", "Sun 20 Jan 2030")
	b.submit("form[action^='/settings/away/']").has(".said", "Taken off").hasNot("form[action^='/settings/away/']")
}

func TestPhotosOfARecord(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	_, err := b.db.Exec(t.Context(), `INSERT INTO party (name) VALUES ('Ada Longmire')`)
	require.NoError(t, err)
	b.get("/parties/1").has("main .beside", "What changed here")
	require.Equal(t, "/history/party/1", b.Find(".beside a").First().AttrOr("href", ""))
	b.get("/").hasNot(".beside")
	b.get("/photos/of/party/1").has("main", "Nothing is kept").submit("main form")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("#f-photo-about", "Choose a photo")

	key := b.Find("main input[name=_key]").AttrOr("value", "")
	for range 2 { // a lost answer: the same form again, with a boundary of its own
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		require.NoError(t, w.WriteField("_key", key))
		require.NoError(t, w.WriteField("name", "the old box"))
		part, err := w.CreateFormFile("photo", "box.png")
		require.NoError(t, err)
		require.NoError(t, png.Encode(part, image.NewRGBA(image.Rect(0, 0, 30, 20))))
		require.NoError(t, w.Close())
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.base+"/photos/of/party/1", &body)
		require.NoError(t, err)
		r.Header.Set("Content-Type", w.FormDataContentType())
		b.do(r).has(".said", "Kept.").has("figcaption", "the old box")
	}
	require.Equal(t, 1, b.Find("figure").Length())
	src := b.Find("figure img").AttrOr("src", "")
	require.Equal(t, http.StatusOK, b.get(src).Status)
	b.addAccount("jo", "helper")
	jo := b.other()
	jo.signIn("jo")
	require.Equal(t, http.StatusForbidden, jo.get(src).Status)
	require.Equal(t, http.StatusForbidden, jo.get("/photos/of/party/1").Status)
}
