package answer_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// By hand: the owner, from 8 to 14 on weekdays, is away from Monday to Thursday; a second
// pair of hands comes all the same. Two boxes take 140 minutes, 40 of them cutting.
func TestDateWaitsForTheOwnerAndForThings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(2000, 30)
	w.haveScrews(1000)
	_, err := w.Workshop.AwayAdd(t.Context(), workshop.Away{FromOn: day("2026-03-02"), ToOn: day("2026-03-05")})
	require.NoError(t, err)
	wish := sales.Wish{ModelID: w.model.ID, Count: 2}
	require.Equal(t, "2026-03-06", iso(w.ask(wish).BoxOn), "nobody is there before Friday")
	hands, err := w.Workshop.SecondHandsSave(t.Context(), workshop.SecondHands{FromOn: day("2026-03-02"), Weekdays: []int16{1, 2, 3, 4, 5}, StartMinute: 480, Minutes: 360, WhileAway: true})
	require.NoError(t, err)
	require.Equal(t, "2026-03-02", iso(w.ask(wish).BoxOn), "the second hands do it on Monday")

	drawn := body()
	drawn.Operations[0].OwnerOnly = true
	drawn.Operations[1].Needs = []string{"clamps"}
	_, err = w.Workshop.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: drawn, Reason: "the saw is the owner's"})
	require.NoError(t, err)
	a := w.ask(wish)
	require.Equal(t, "2026-03-06", iso(a.BoxOn), "cutting waits for the owner")
	require.Contains(t, reasons(a), "40 min of that only the owner does.")
	_, err = w.Workshop.SecondHandsEnd(t.Context(), hands.ID, day("2026-03-02"))
	require.NoError(t, err)
	require.NotContains(t, reasons(w.ask(wish)), "40 min of that only the owner does.", "there is nobody else")

	things, err := w.Workshop.ThingList(t.Context(), false)
	require.NoError(t, err)
	require.Len(t, things, 1)
	clamps := things[0]
	clamps.PutAwayAt = ptr(w.now)
	_, err = w.Workshop.ThingSave(t.Context(), clamps)
	require.NoError(t, err)
	a = w.ask(wish)
	require.Nil(t, a.BoxOn, "without clamps there is no date")
	require.Contains(t, reasons(a), "It needs clamps, and there is none: put away.")
}
