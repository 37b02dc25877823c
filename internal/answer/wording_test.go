package answer_test

import (
	"bytes"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/sales"
)

// readyColony orders a box with a colony that stands ready, to the buyer's site.
func (w *world) readyColony() sales.Unit {
	w.t.Helper()
	b := w.box()
	w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID = "box", &b.ID })
	got, err := w.OrderMake(w.t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, SiteID: &w.site.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, WithColony: true, BeeSpeciesID: w.bees.ID}}})
	require.NoError(w.t, err)
	return got.Order.Lines[0].Units[0]
}

func (w *world) given(u sales.Unit) handover.Handover {
	w.t.Helper()
	given, err := w.HandOver(w.t.Context(), answer.Giving{UnitID: u.ID, ReceivedBy: "Ottoline"})
	require.NoError(w.t, err)
	return given.Handover
}

// sheetText reads a PDF as pdftotext does.
func sheetText(t testing.TB, pdf []byte) string {
	t.Helper()
	cmd := exec.Command("pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	require.NoError(t, err)
	return strings.Join(strings.Fields(string(out)), " ")
}

func (w *world) handedSheet(h handover.Handover) string {
	w.t.Helper()
	pdf, err := w.Paper(w.t.Context(), "handover", h.Number)
	require.NoError(w.t, err)
	return sheetText(w.t, pdf)
}

func (w *world) wordingLines() (out []string) {
	for _, l := range w.left() {
		if l.Kind == "wording" {
			out = append(out, l.Text)
		}
	}
	return out
}

func TestOwnWordingIsPrintedAndGoneBackFrom(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	ctx := t.Context()
	const front = "handover_front.tmpl"
	_, err := w.WordingPut(ctx, front, 0, ptr("# Tonight\n- Set it down.\n- {{.Colour}}\n"))
	require.True(t, fault.Is(err, fault.Invalid))
	require.ErrorContains(t, err, "Line 3: there is no field .Colour on this sheet")
	_, err = w.WordingPut(ctx, front, 0, ptr(" \r\n"))
	require.True(t, fault.Is(err, fault.Invalid))
	_, err = w.WordingPut(ctx, "letter.tmpl", 0, ptr("x"))
	require.True(t, fault.Is(err, fault.NotFound))
	kept, err := w.WordingPut(ctx, front, 0, ptr("# Tonight\r\n- Put it on the old peg. Dusk {{.DuskAt}}.\r\n"))
	require.NoError(t, err)
	require.True(t, kept.Own)
	_, err = w.WordingPut(ctx, front, 0, ptr("late"))
	require.True(t, fault.Is(err, fault.Stale))
	text := w.handedSheet(w.given(w.readyColony()))
	require.Contains(t, text, "Put it on the old peg. Dusk 18:")
	require.NotContains(t, text, "Then open the entrance at once")
	require.Contains(t, text, "Law first", "side two is that of the house")

	look, err := w.WordingTry(ctx, front, "- A thing for {{.Owner}}, {{.Serial}}.")
	require.NoError(t, err)
	require.Equal(t, "handover H0001", look.On)
	require.Contains(t, look.Text[0].Text, "A thing for Ottoline Brandreth")
	require.Contains(t, sheetText(t, look.PDF), "A thing for Ottoline Brandreth")
	look, err = w.WordingTry(ctx, front, "- one\n- {{.Colour}}")
	require.NoError(t, err)
	require.Contains(t, look.Wrong, "Line 2: there is no field .Colour")
	require.Contains(t, sheetText(t, look.PDF), "Then open the entrance at once")
	again, err := w.WordingGet(ctx, front)
	require.NoError(t, err)
	require.Equal(t, kept.Text, again.Text, "looking keeps nothing")

	back, err := w.WordingPut(ctx, front, kept.Version, nil)
	require.NoError(t, err)
	require.False(t, back.Own)
	require.Contains(t, back.Text, "Then open the entrance at once")
	before, err := w.House.WordingHistory(ctx, back.ID, 5)
	require.NoError(t, err)
	require.Len(t, before, 1)
	require.Contains(t, before[0].Body, "old peg")
	require.Contains(t, w.handedSheet(w.given(w.readyColony())), "Then open the entrance at once")
	require.Empty(t, w.wordingLines())
}

// A mistake never stops a handover: one that a later program no longer knows, and one that
// shows on this very paper only.
func TestWordingMistakeNeverStopsAHandover(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	_, err := w.db.Exec(t.Context(), `INSERT INTO wording (name, body) VALUES ('handover_back.tmpl', E'- one\n- {{.Gone}}')`)
	require.NoError(t, err)
	_, err = w.WordingPut(t.Context(), "handover_front.tmpl", 0, ptr("- mine\n{{if gt (len .Guarantee) 1}}{{index .Guarantee 9}}{{end}}"))
	require.NoError(t, err)
	h := w.given(w.readyColony())
	text := w.handedSheet(h)
	require.Contains(t, text, "Then open the entrance at once")
	require.Contains(t, text, "Law first")
	lines := w.wordingLines()
	require.Len(t, lines, 2)
	require.Contains(t, lines[0]+lines[1], "Handover sheet, side two: Line 2: there is no field .Gone")
	require.Contains(t, lines[0]+lines[1], "stood in for yours on "+h.Number+". Handover sheet, side one: Line 2:")
	one, err := w.WordingGet(t.Context(), "handover_front.tmpl")
	require.NoError(t, err)
	_, err = w.WordingPut(t.Context(), "handover_front.tmpl", one.Version, ptr("- mended"))
	require.NoError(t, err)
	require.Len(t, w.wordingLines(), 1)
}

func TestEveryWordingCanBeLookedAt(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	list, err := w.WordingList(t.Context())
	require.NoError(t, err)
	for _, x := range list {
		look, err := w.WordingTry(t.Context(), x.Name, x.House+"\n\n- gum tips")
		require.NoError(t, err, x.Name)
		require.Empty(t, look.Wrong, x.Name)
		require.Equal(t, "a made-up paper", look.On, "an empty book")
		require.Contains(t, sheetText(t, look.PDF), "gum tips", x.Name)
		require.Equal(t, "gum tips", look.Text[len(look.Text)-1].Text)
	}
}
