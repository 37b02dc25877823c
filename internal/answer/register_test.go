package answer_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// handedOver is a box of ours with a colony of ours, handed over to the buyer today.
func (w *world) handedOver() (workshop.Box, apiary.Colony, string) {
	w.t.Helper()
	w.listPrices()
	b := w.box()
	c := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.HousedAt = "box", &b.ID, w.now.AddDate(0, -1, 0) })
	got, err := w.OrderMake(w.t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &w.site.ID},
		Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID, Deliver: true}}})
	require.NoError(w.t, err)
	given, err := w.HandOver(w.t.Context(), answer.Giving{UnitID: got.Order.Lines[0].Units[0].ID, ReceivedBy: "Ottoline"})
	require.NoError(w.t, err)
	return b, c, given.Handover.Number
}

func (w *world) pdfText(pdf []byte) string {
	w.t.Helper()
	cmd := exec.CommandContext(w.t.Context(), "pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	require.NoError(w.t, err)
	return strings.Join(strings.Fields(string(out)), " ")
}

func TestBoxIsSoldOnWithItsBees(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	b, c, handover := w.handedOver()
	w.now = w.now.AddDate(0, 2, 0)
	before := w.count(`SELECT count(*)::int FROM movement`)
	due := w.count(`SELECT count(*)::int FROM follow_up WHERE answered_at IS NULL`)
	for name, bad := range map[string]answer.SoldOn{
		"nobody":             {BoxID: b.ID, Name: "  "},
		"before it was made": {BoxID: b.ID, Name: "Bram", At: w.now.AddDate(-3, 0, 0)},
		"tomorrow":           {BoxID: b.ID, Name: "Bram", At: w.now.AddDate(0, 0, 1)},
		"whose it is":        {BoxID: b.ID, PartyID: &w.buyer.ID},
	} {
		_, _, err := w.SellOn(ctx, bad)
		require.True(t, fault.Is(err, fault.Invalid), "%s: %v", name, err)
	}
	require.Zero(t, w.count(`SELECT count(*)::int FROM party WHERE name = 'Bram'`), "what is refused puts nobody into the book")
	got, said, err := w.SellOn(ctx, answer.SoldOn{BoxID: b.ID, Name: "Bram Oakshott", Phone: "07 5550 0142", WithBees: true, Place: "9 Ferny Road", PermitNumber: "HB 3", Note: "told by Ottoline"})
	require.NoError(t, err)
	require.Equal(t, "Bram Oakshott", got.Owners[0].PartyName)
	require.Equal(t, "9 Ferny Road", got.Place)
	words := strings.Join(said, " ")
	require.Contains(t, words, "Colony "+c.Number+" goes along.")
	require.Contains(t, words, "The guarantee counts on from handover "+handover+" to Ottoline Brandreth")
	require.Contains(t, words, "still to be asked of Ottoline Brandreth, the next on")
	require.Equal(t, due, w.count(`SELECT count(*)::int FROM follow_up WHERE answered_at IS NULL`), "the questions stay")
	colony, err := w.Apiary.ColonyGet(ctx, c.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"Bram Oakshott", "Bram Oakshott", "9 Ferny Road"}, []string{colony.OwnerName, colony.KeeperName, colony.PlaceName})
	require.Equal(t, before+1, w.count(`SELECT count(*)::int FROM movement`))

	// And on again, without being told where it stands: no move.
	w.now = w.now.AddDate(0, 1, 0)
	_, _, err = w.SellOn(ctx, answer.SoldOn{BoxID: b.ID, Name: "Cleo Marsh", WithBees: true})
	require.NoError(t, err)
	require.Equal(t, before+1, w.count(`SELECT count(*)::int FROM movement`))
	// Somebody who had it in between, as it comes out later, moves nothing and takes no bees.
	got, said, err = w.SellOn(ctx, answer.SoldOn{BoxID: b.ID, Name: "Dora Finch", At: w.now.AddDate(0, 0, -10), WithBees: true, Place: "the moon"})
	require.NoError(t, err)
	require.Equal(t, []string{"Cleo Marsh", "Dora Finch", "Bram Oakshott", "Ottoline Brandreth", ""}, []string{got.Owners[0].PartyName, got.Owners[1].PartyName, got.Owners[2].PartyName, got.Owners[3].PartyName, got.Owners[4].PartyName})
	require.Equal(t, "9 Ferny Road", got.Place)
	require.NotContains(t, strings.Join(said, " "), "goes along")

	// Its own colony in a box that is another's stays whose it is.
	other := w.box(func(n *workshop.BoxNew) { n.OwnerID, n.Maker = &w.buyer.ID, "somebody up the coast" })
	w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID = "box", &other.ID })
	_, _, err = w.SellOn(ctx, answer.SoldOn{BoxID: other.ID, Name: "Bram", WithBees: true})
	require.True(t, fault.Is(err, fault.Invalid), "%v", err)
	_, said, err = w.SellOn(ctx, answer.SoldOn{BoxID: other.ID, Name: "Bram"})
	require.NoError(t, err)
	require.Len(t, said, 1, "no sale of ours: no guarantee")
	got, _, err = w.SellOn(ctx, answer.SoldOn{BoxID: other.ID, BackToUs: true, At: w.now.Add(time.Minute)})
	require.NoError(t, err)
	require.True(t, got.Ours)
}

func TestStolenBoxHoldsItsBeesBack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	w.listPrices()
	b := w.box()
	c := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.HousedAt = "box", &b.ID, w.now.AddDate(0, -1, 0) })
	_, err := w.OrderMake(ctx, answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &w.site.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID}}})
	require.NoError(t, err)
	_, err = w.BoxRecovered(ctx, b.ID, time.Time{}, "")
	require.True(t, fault.Is(err, fault.Conflict))
	_, err = w.BoxStolen(ctx, workshop.StolenReport{BoxID: b.ID, ReportedBy: "Mara Lind"})
	require.NoError(t, err)
	require.Zero(t, w.count(`SELECT count(*)::int FROM claim WHERE ended_at IS NULL AND (box_id IS NOT NULL OR colony_id IS NOT NULL)`))
	colony, err := w.Apiary.ColonyGet(ctx, c.ID)
	require.NoError(t, err)
	require.Equal(t, "stolen with box "+b.Serial, colony.HeldBackBecause)
	_, err = w.SellFromShelf(ctx, answer.ShelfSale{Serials: []string{b.Serial}, Name: "x"})
	require.Error(t, err, "not sold from the shelf")
	a := w.ask(sales.Wish{ModelID: w.model.ID})
	require.NotEqual(t, answer.FromShelf, a.Units[0].From, "not promised")

	// The Day sheet says it, quietly; and loud once somebody types its serial.
	say := func() []answer.DayLine {
		lines, err := w.DaySheet(ctx, day("2026-03-02"))
		require.NoError(t, err)
		var out []answer.DayLine
		for _, l := range lines {
			if l.Kind == "stolen" {
				out = append(out, l)
			}
		}
		return out
	}
	require.Len(t, say(), 1)
	require.Contains(t, say()[0].Text, "has no police reference yet")
	require.False(t, say()[0].Late)
	state, _, err := w.Workshop.Found(ctx, b.Serial)
	require.NoError(t, err)
	require.Equal(t, workshop.FoundStolen, state)
	require.Contains(t, say()[0].Text, "Somebody typed the serial of stolen box "+b.Serial)
	require.True(t, say()[0].Late)
	w.now = w.now.AddDate(0, 0, 120)
	lines, err := w.DaySheet(ctx, day("2026-06-30"))
	require.NoError(t, err)
	for _, l := range lines {
		require.NotEqual(t, "stolen", l.Kind, "after three months the sheet is silent")
	}

	_, err = w.BoxRecovered(ctx, b.ID, time.Time{}, "it stood in the creek")
	require.NoError(t, err)
	colony, err = w.Apiary.ColonyGet(ctx, c.ID)
	require.NoError(t, err)
	require.Empty(t, colony.HeldBackBecause)
	// Bees that were held back for another reason stay so.
	require.NoError(t, w.Apiary.HoldBack(ctx, c.ID, "chalk in the brood"))
	_, err = w.BoxStolen(ctx, workshop.StolenReport{BoxID: b.ID, ReportedBy: "Mara Lind"})
	require.NoError(t, err)
	_, err = w.BoxRecovered(ctx, b.ID, time.Time{}, "")
	require.NoError(t, err)
	colony, err = w.Apiary.ColonyGet(ctx, c.ID)
	require.NoError(t, err)
	require.Equal(t, "chalk in the brood", colony.HeldBackBecause)
}

func TestRegisterPaperProvesWhoseBoxItIs(t *testing.T) {
	t.Parallel()
	w := newWorld(t, func(s *house.Settings) { s.Address = "14 Slab Hut Road" })
	ctx := t.Context()
	b, c, _ := w.handedOver()
	var photo bytes.Buffer
	require.NoError(t, jpeg.Encode(&photo, image.NewGray(image.Rect(0, 0, 60, 90)), nil))
	_, err := w.House.PhotoAdd(ctx, "box", b.ID, "front", photo.Bytes())
	require.NoError(t, err)
	w.now = w.now.AddDate(0, 0, 10)
	_, _, err = w.SellOn(ctx, answer.SoldOn{BoxID: b.ID, Name: "Bram Oakshott", Phone: "07 5550 0142", WithBees: true, Note: "told by Ottoline"})
	require.NoError(t, err)
	first, err := w.RegisterPaper(ctx, b.ID)
	require.NoError(t, err)
	text := w.pdfText(first.Bytes)
	for _, want := range []string{"No. " + b.Serial + "-1", "Issued Thu 12 March 2026", "Creek Workshop", "Whose Bram Oakshott", "Since Thu 12 March 2026", "Plain box, Hoop pine, revision 1", "into the section brood",
		"handed over with order", "told by Ottoline", "brood, honey", c.Number, "no legal title"} {
		require.Contains(t, text, want)
	}
	for _, private := range []string{"5550 0142", "5550 0117", "3 Ridge Road", "$"} {
		require.NotContains(t, text, private)
	}
	require.Contains(t, string(first.Bytes), "/DCTDecode", "the photo")

	_, err = w.BoxStolen(ctx, workshop.StolenReport{BoxID: b.ID, ReportedBy: "Bram Oakshott", PoliceReference: "QP 77"})
	require.NoError(t, err)
	second, err := w.RegisterPaper(ctx, b.ID)
	require.NoError(t, err)
	text = w.pdfText(second.Bytes)
	require.Contains(t, text, "No. "+b.Serial+"-2")
	require.Contains(t, text, "Reported stolen Thu 12 March 2026. Whoever has seen it: please ring Creek Workshop, 07 5550 0199.")
	again, err := w.House.PaperRevision(ctx, "register", b.Serial, 1)
	require.NoError(t, err)
	require.Equal(t, first.Bytes, again.Bytes, "what was issued stays as it was")
	newest, err := w.Paper(ctx, "register", b.Serial)
	require.NoError(t, err)
	require.Equal(t, second.Bytes, newest)

	other, err := w.Workshop.BoxRegister(ctx, workshop.BoxNew{Serial: "5724", Maker: "somebody up the coast", Description: "a round log hive", FinishedAt: w.now.AddDate(-2, 0, 0), OwnerID: &w.buyer.ID})
	require.NoError(t, err)
	p, err := w.RegisterPaper(ctx, other.ID)
	require.NoError(t, err)
	text = w.pdfText(p.Bytes)
	require.Contains(t, text, "Made by somebody up the coast")
	_, err = w.RegisterPaper(ctx, 999)
	require.True(t, fault.Is(err, fault.NotFound), "%v", err)
}
