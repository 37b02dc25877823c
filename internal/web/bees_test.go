package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/apiary"
	"kerfbook/internal/postgres"
)

// withBees gives a browser with the standard kinds of bees and a box of ours, serial
// as given by addBox.
func withBees(t *testing.T) *browser {
	t.Helper()
	b := newBrowser(t)
	for _, sp := range apiary.StandardSpecies() {
		_, err := b.server.Apiary.SpeciesPut(t.Context(), sp)
		require.NoError(t, err)
	}
	return b
}

func (b *browser) addBox(serial string) {
	b.t.Helper()
	_, err := postgres.Value[int64](b.t.Context(), b.db, `WITH b AS (INSERT INTO box (serial, finished_at) VALUES ($1, now()) RETURNING id)
INSERT INTO box_owner (box_id, from_at) SELECT id, now() FROM b RETURNING box_id`, serial)
	require.NoError(b.t, err)
}

func TestColonyPages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.get("/bees").has("main", "No colony is in the book yet")
	b.get("/bees/colonies/new").submit("main form", "species_id", "1", "dwelling", "log", "began_on", "2199-01-01", "place", "behind the shed")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".is-wrong", "cannot have begun in the future").has("input[name=place][value='behind the shed']", "")
	b.submit("form[action='/bees/colonies/new']", "began_on", "2024-02-01", "settled_on", "2024-06-01", "species_sure", "yes")
	require.Equal(t, "/bees/colonies/1", b.Path)
	b.has(".said", "C0001 is in the book").has(".lead", "ready")

	b.submit("form[action$='/note']", "kind", "weighed", "mass_kg", "7,5x")
	b.has(".is-wrong", "Write a number")
	b.submit("form[action$='/note']", "kind", "weighed", "mass_kg", "7.5", "note", "heavy")
	b.has("table", "weighed, 7.5 kg")

	b.get("/bees/colonies/1/split").submit("form[action$='/split']", "serial", "12345")
	b.has(".is-wrong", "No box bears this serial").submit("form[action$='/split']", "serial", "")
	b.has(".is-wrong", "Choose the box that the split went into")
	serial := b.newSerial()
	b.get("/bees/colonies/1/split").has("select[name=box_id]", serial).submit("form[action$='/split']", "serial", serial, "note", "top half")
	b.has(".said", "The split is colony C0002").has("main", "Began as a split from C0001. top half").get("/bees/colonies/1").has("main", "Gave")
	b.get("/bees/colonies/2").has(".lead", "settling").has("main", "Came from").submit("form[action$='/mark']", "mark", "settled")
	b.has(".lead", "ready")
	b.submit("form[action$='/mark']", "mark", "held back")
	b.has(".wrong-top", "Say why it is held back")
	b.submit("form[action$='/mark']", "mark", "held back", "because", "mites")
	b.has(".lead", "held back: mites")
	b.get("/bees").has("table", "C0002").has("table", "box "+serial)
	require.Equal(t, http.StatusNotFound, b.get("/bees/colonies/99").Status)
	require.Equal(t, http.StatusNotFound, b.get("/bees/colonies/x").Status)
}

// newSerial makes a box with a serial whose check digit is right.
func (b *browser) newSerial() string {
	b.t.Helper()
	for _, serial := range []string{"10010", "10011", "10012", "10013", "10014", "10015", "10016", "10017", "10018", "10019"} {
		if _, err := b.server.Workshop.BoxBySerial(b.t.Context(), serial); err != nil {
			b.addBox(serial)
			if _, err := b.server.Workshop.BoxBySerial(b.t.Context(), serial); err == nil {
				return serial
			}
		}
	}
	b.t.Fatal("no serial from 10010 to 10019 is right")
	return ""
}

func TestHostTreeAndSpeciesPages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.get("/bees/trees/new").submit("main form", "name", "Leaning ironbark", "permission", "owner, by letter", "next_visit_on", "2020-01-01")
	b.has(".said", "The tree is in the book")
	b.get("/bees").has("table", "Late:")
	b.get("/bees/trees/1/visit")
	b.submit("main form", "seen", "", "found", "other").has(".is-wrong", "Note what was seen")
	b.submit("main form", "seen", "by the knot", "found", "wax", "next_visit_on", "2199-01-01")
	b.has(".said", "Next: ").has("table", "Wax or resin in the box. by the knot")

	b.get("/bees/species/1").has(".margin", "keepers' weather page")
	b.submit("main form", "heat_limit_c", "38", "source", "my own yard")
	b.has(".said", "The figures are kept").has("input[name=heat_limit_c][value='38']", "").has(".margin", "put in by the workshop: my own yard")
	b.submit("main form", "split_months", "9 13")
	b.has(".is-wrong", "months as numbers from 1 to 12")
	b.get("/bees/movements?from=2021-01-01&to=2030-01-01").has("main", "No bees were moved")
}

// A tree from its box being fixed to the colony of record that leaves it, on the pages.
func TestDrawingAColonyOnThePages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	serial := b.newSerial()
	b.get("/bees/permits").has("main", "No permit is in the book").submit("main form[action='/bees/permits']", "number", "WA 17", "authority", "Parks office", "kind", "take", "covers", "six trees", "ends_on", "2020-03-31")
	b.has(".said", "in the book").has(".wrong-top", "ended on 31 March 2020")
	b.get("/bees/trees/new").submit("main form", "name", "Leaning ironbark", "place", "second gate", "latitude", "-95", "longitude", "152.9", "permission", "Edda Holm", "owner", "Nobody Known", "box_id", serial)
	b.has(".wrong-top", "Nobody in the book has this name")
	b.submit("main form", "owner", "").has(".is-wrong", "Latitude lies between")
	b.submit("main form", "latitude", "-26.4521", "permission_until", "2020-01-01", "permit_id", "1", "species_id", "1")
	b.has(".said", "The tree is in the book").has(".wrong-top", "held until 1 January 2020").has("main", "Permit WA 17 of Parks office ended").has("main", "-26.4521, 152.9")
	b.get("/bees/permits/1").has("table", "Host tree Leaning ironbark")
	b.get("/bees/trees?q=second").has("table", "Mind the papers")
	b.get("/bees/trees?q=elsewhere").has("main", "No tree fits")
	b.get("/bees/trees/1/change").submit("main form", "visit_every_days", "0").has(".is-wrong", "Between 1 and 730 days")
	b.submit("main form", "visit_every_days", "14", "permission_until", "2199-01-01").has(".said", "kept").has("main", "every 14 days")
	b.get("/bench/boxes/1").has("main", "Leaning ironbark")
	b.get("/bees/trees/1/visit").submit("main form", "found", "ready").has(".said", "make it a colony of record below")
	b.submit("form:has(button:contains('colony of record'))", "species_id", "1", "species_sure", "yes", "box_leaves", "yes")
	b.has(".said", "It is colony C0001 now").has("main", "allowed by Edda Holm until")
	b.has("main", "Leaning ironbark").has("main", "Taken under").has("main", "Permit WA 17 of Parks office ended on 31 March 2020. The colony is of")
	b.submit("form[action$='/permit']", "permit_id", "").has(".said", "The permit is noted").get("/bees/permits/1").has("table", "Host tree")
	b.get("/bees/trees/1").has(".lead", "Fetch the box").submit("form:has(button:contains('left with its colony'))", "place", "")
	b.has(".is-wrong", "Say where it went")
	b.submit("form:has(button:contains('left with its colony'))", "place", "home yard").has(".said", "movement record")
	b.get("/bees/movements").has("table", "home yard")
	b.get("/bees/trees/1").has(".lead", "no box fixed").has("table", "C0001").submit("form:has(button:contains('off the list'))", "because", "felled")
	b.has(".said", "off the list").get("/bees/trees?away=yes").has("table", "Leaning ironbark")
	b.get("/bees/permits/1").submit("main .margin form", "put_away", "yes").has("main", "put away")
	b.get("/bees/permits").has("main", "No permit is in the book")
}
