package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/apiary"
)

func TestMovementPageForTheQuarterInOneTap(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	box, err := b.server.Workshop.BoxBySerial(t.Context(), b.newSerial())
	require.NoError(t, err)
	x, err := b.server.Apiary.ColonyMake(t.Context(), apiary.NewColony{SpeciesID: 1, Place: "behind the shed", BoxID: &box.ID})
	require.NoError(t, err)
	b.get(hrefOf("box", box.ID)).has("main", "Bees that live and lived in it").has("table", x.Number)
	b.get("/bees/movements").has("main", "No bees were moved").has("main", "Local rules come first")
	b.get(hrefOf("colony", x.ID)).submit("form[action$=place]", "place", "")
	b.has(".is-wrong", "Say where it stands now.")
	b.submit("form[action$=place]", "place", "under the mango")
	b.has(".said", "the move is in the movement record")
	b.get("/bees/movements").has("table", "under the mango").has("table", "none noted").has(".lead", "1 colony in 1 move").has("strong[aria-current]", "This quarter")
	b.submit("form[method=post][action^='/bees/movements']", "permit_number", "HB 12")
	b.has(".said", "The permit stands").has("table", "HB 12")
	pdf := b.get("/bees/movements.pdf")
	require.Equal(t, http.StatusOK, pdf.Status)
	require.Equal(t, "application/pdf", pdf.Header.Get("Content-Type"))
	old := time.Now().AddDate(-3, 0, 0).Format(time.DateOnly)
	b.get("/bees/movements?from="+old+"&to="+old).has("main", "No bees were moved")
	for query, says := range map[string]string{"from=2026-03-02&to=2026-03-01": "ends before it begins", "from=1926-01-01&to=2026-01-01": "at most 10 years", "from=&to=2026-01-01": "Write the first day", "from=2026-01-01&to=31/1/26": "Write the last day"} {
		b.get("/bees/movements?"+query).has(".wrong-top", says)
		require.Equal(t, http.StatusUnprocessableEntity, b.get("/bees/movements.pdf?"+query).Status, query)
	}
}
