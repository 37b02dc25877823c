package web

import (
	"net/http"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/workshop"
)

// Every kind of what happens to a colony, by its page, each in one form.
func TestTheLogOfAColonyByPage(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.aColony("")
	b.aColony("")
	at := func(form string) string { return "form[action='/bees/colonies/1/" + form + "']" }
	b.get("/bees/colonies/1").has("a[href='#note']", "Note something").has("input#f-note-happened-at[type=date]", "")
	for _, kind := range []string{"inspected", "fed", "pests", "note"} {
		b.submit(at("note"), "kind", kind, "note", "seen: "+kind)
		b.has(".said", "Noted").has("table", "seen: "+kind)
	}
	b.submit(at("note"), "kind", "weighed")
	b.has(at("note")+" .is-wrong", "Say what it weighs").submit(at("note"), "kind", "weighed", "mass_kg", "9.5", "happened_about", "about 2024")
	b.has("table", "weighed, 9.5 kg").has("table", "about 2024")
	b.submit(at("note"), "kind", "fed", "happened_about", "about 2199")
	b.has(at("note")+" .is-wrong", "lies in the future").submit(at("note"), "happened_about", "one summer")
	b.has(at("note")+" .is-wrong", "about which year")
	b.get("/bees/colonies/1").submit(at("note"), "kind", "fed", "happened_at", "2023-05-05")
	b.has(at("note")+" .is-wrong", "began on 1 February 2024 by the book")
	b.get("/bees/colonies/1").submit(at("place"), "place", "under the mango")
	b.has("dl", "under the mango")
	b.submit(at("house"), "dwelling", "other", "description", "a crate")
	b.has("table", "Into another dwelling")

	b.submit(at("join"), "deed", "brood given", "to_id", "C0009")
	b.has(at("join")+" .is-wrong", "no colony of this number").submit(at("join"), "deed", "brood given", "to_id", "C0001")
	b.has(at("join")+" .is-wrong", "cannot be the same colony").submit(at("join"), "deed", "brood given", "to_id", "c0002", "note", "two fingers")
	b.has(".said", "It gave brood to C0002").has("figure.descent", "C0002").has("figure.descent figcaption", "broken line: brood given").has("table", "two fingers")
	b.get("/bees/colonies/2").submit("form[action='/bees/colonies/2/join']", "deed", "brood given", "to_id", "C0001")
	require.Equal(t, http.StatusConflict, b.Status)
	b.has(".wrong-top", "cannot be its own ancestor")

	b.get("/bees/colonies/1").submit(at("found"), "species_id", "2", "sure", "", "found_by", "a neighbour")
	b.has(".said", "The finding is noted").has("dl", "(not sure)").has("main", "a neighbour")
	b.submit(at("facts"), "name", "Anna", "began_on", "", "began_about", "about 1961", "origin", "An ironbark felled for the road; the council allowed it")
	b.has("dl", "Anna").has("dl", "about 1961").has("dl", "the council allowed it")
	b.submit(at("facts"), "began_about", "about 2161")
	b.has(at("facts")+" .is-wrong", "lies in the future")

	b.get("/bees/colonies/1").submit(at("mark"), "mark", "gone", "because", "ants", "happened_at", "2199-01-01")
	b.has(at("mark")+" .is-wrong", "in the future").submit(at("mark"), "mark", "gone", "happened_at", "")
	b.has(".lead", "gone: ants").hasNot(at("mark")).has("h2#note", "from before it was gone")
	_, err := b.db.Exec(t.Context(), `UPDATE colony SET ended_at = now() - interval '5 days' WHERE id = 1`)
	require.NoError(t, err)
	b.submit(at("note"), "kind", "fed")
	require.Equal(t, http.StatusConflict, b.Status)
	b.has(".wrong-top", "was gone by then: ants")
}

func TestTheSplitPageAsksWhichSectionsWent(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	model, err := b.server.Workshop.ModelSave(t.Context(), workshop.Model{Code: "plain", Name: "Plain box"})
	require.NoError(t, err)
	size := hive.BoardSize{WidthMM: 100, ThicknessMM: 28}
	rev, err := b.server.Workshop.RevisionAdd(t.Context(), workshop.Drawing{ModelID: model.ID, Body: hive.Model{HeldFrom: "outside", LengthMM: 300, WidthMM: 200, WallMM: 28,
		Sections:   []hive.Section{{ID: "brood", Kind: "brood", HeightMM: 100, Count: 1}, {ID: "honey-super", Kind: "honey", HeightMM: 100, Count: 2}},
		Parts:      []hive.Part{{ID: "side", Name: "side", Section: "brood", Count: 4, BoardSize: size, Length: hive.Length{Length: 1}}},
		Operations: []hive.Operation{{ID: "cut", PieceMinutes: 10}}}})
	require.NoError(t, err)
	var ids, serials []string
	for range 2 {
		x, err := b.server.Workshop.BoxRegister(t.Context(), workshop.BoxNew{RevisionID: &rev.ID, FinishedAt: time.Now().AddDate(-3, 0, 0)})
		require.NoError(t, err)
		ids, serials = append(ids, strconv.FormatInt(x.ID, 10)), append(serials, x.Serial)
	}
	b.aColony(serials[0])
	b.has("a[href='/bees/colonies/1/split']", "Split it").get("/bees/colonies/1/split")
	b.has("fieldset", "honey super, place 3 from the bottom").has("fieldset", "The brood at place 1 bears the serial "+serials[0]).hasNot("input[name=section][value='1']").has("select[name=box_id]", serials[1])
	b.submit("main form", "box_id", ids[1], "section", "9")
	b.has(".wrong-top", "nothing sits at place 9")
	b.submit("main form", "box_id", ids[1], "section", "3")
	b.has(".said", "The split is colony C0002").has("table", "Of box "+serials[0]+" into box "+serials[1]+": honey super from place 3 to place 3")
	b.get("/bees/colonies/1").has("table", "Gave C0002").has("figure.descent", "C0002")
	b.get("/bench/boxes/"+ids[1]).has("table", "split of C0001")
}
