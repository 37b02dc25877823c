package web

import (
	"net/http"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/show"
)

// Which work needs dry weather is said on the model's page; how wet the months are is a
// guess until typed; a day is marked at one tap and the mark is taken back.
func TestWeatherPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	species := b.addTimber()
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230")
	b.submit("form[action='/bench/models/1/draw']")
	b.get("/bench/weather").has(".lead", "No work that is open needs dry weather.")
	b.has("main", "A guess holds until you type them: 9 days with rain in every month.")
	b.get("/bench/models/1").has("main form[action='/bench/models/1/dry']", "The plan keeps it off wet days")
	b.submit("form[action='/bench/models/1/dry']", "operation.0", "yes")
	b.has(".said", "Kept.")
	require.Len(t, b.Find("form[action='/bench/models/1/dry'] input[checked]").Nodes, 1)
	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "revision_id", "1", "species_id", idText(species), "quantity", "2")
	b.has("main", "dry weather")
	b.get("/bench").has("main", "Needs dry weather")

	months := []string{}
	for m, days := range []string{"12.5", "13", "13", "10", "9.5", "8", "6.5", "6", "7", "9.5", "10.5", "11.5"} {
		months = append(months, "rain_days."+strconv.Itoa(m), days)
	}
	b.get("/bench/weather").submit("form[action='/bench/weather']", append(months[:22:22], "rain_days.11", "31")...)
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has("main", "December has between 0 and 30 days with rain.")
	b.get("/bench/weather").submit("form[action='/bench/weather']", months...)
	b.has(".said", "They are no guess any more.")
	b.has("main", "Dry days in 100 as it is written down: Jan 60,")

	set, err := b.server.House.SettingsGet(t.Context())
	require.NoError(t, err)
	today := set.Today(b.server.DB.Now())
	at := "/bench/weather/" + today.AddDate(0, 0, 1).Format(time.DateOnly)
	b.submit("form[action='" + at + "/wet']")
	b.has(".said", show.Date(today.AddDate(0, 0, 1))+" will be wet.")
	b.has("main", "will be wet")
	b.submit("form[action='" + at + "/unknown']")
	b.has(".said", "Nothing is known of "+show.Date(today.AddDate(0, 0, 1)))
}
