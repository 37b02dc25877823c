package answer_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// benchReason is what an answer says of the bench's free time.
func benchReason(a answer.Answer) string {
	for _, text := range reasons(a) {
		if strings.HasPrefix(text, "The bench is free from") {
			return text
		}
	}
	return ""
}

func (w *world) businessDay() time.Time {
	w.t.Helper()
	set, err := w.House.SettingsGet(w.t.Context())
	require.NoError(w.t, err)
	return set.Today(w.now)
}

// A quote that is out holds its hours at the bench to its last day, and frees them the day
// after; one that is dated at acceptance, declined or withdrawn holds none. By hand: 8 to 14
// on weekdays; 20 boxes take 20 + 20 x 60 minutes, which is three days and 140 minutes.
func TestIssuedQuoteHoldsItsHoursUntilItLapses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(4000, 400)
	w.haveScrews(1000)
	wish := sales.Wish{ModelID: w.model.ID}
	free := func() string { return "The bench is free from " + show.Date(w.businessDay()) + "." }
	before := w.ask(wish)
	require.Equal(t, free(), benchReason(before))
	q := w.issued(sales.Wish{ModelID: w.model.ID, Count: 20})
	held := w.ask(wish)
	require.Equal(t, "The bench is free from "+show.Date(w.businessDay().AddDate(0, 0, 3))+" after the hours that unanswered quotes hold.", benchReason(held))
	require.True(t, held.Units[0].BoxOn.After(*before.Units[0].BoxOn), "and the promise is later by it")
	own, err := w.Ask(t.Context(), answer.Question{Wish: wish, QuoteID: q.ID})
	require.NoError(t, err)
	require.Equal(t, free(), benchReason(own), "its own hours do not stand in its way")

	start := w.now
	w.now = start.AddDate(0, 0, int(q.ValidUntil.Sub(w.businessDay()).Hours()/24))
	require.Equal(t, *q.ValidUntil, w.businessDay())
	require.Contains(t, benchReason(w.ask(wish)), "unanswered quotes", "its last day")
	w.now = w.now.AddDate(0, 0, 1)
	require.NotContains(t, benchReason(w.ask(wish)), "unanswered quotes", "it lapsed")
	w.now = start
	require.Contains(t, benchReason(w.ask(wish)), "unanswered quotes")
	require.NoError(t, w.Sales.QuoteEnd(t.Context(), q.ID, "declined", "too dear"))
	require.Equal(t, free(), benchReason(w.ask(wish)), "declined")
	w.issued(sales.Wish{ModelID: w.model.ID, Count: 20}, func(d *answer.Draft) { d.DateAtAcceptance = true })
	require.Equal(t, free(), benchReason(w.ask(wish)), "dated at acceptance")
}

// The words for those who wait name the buyer, the maker, how many boxes, the day that
// was promised and the day that is expected now, and go to nobody whose day still holds.
func TestWordsToBuyersOfWhatSlips(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(4000, 100)
	w.haveScrews(1000)
	got, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID}, Wishes: []sales.Wish{{ModelID: w.model.ID, Count: 3}}})
	require.NoError(t, err)
	units := got.Order.Lines[0].Units
	var ids []int64
	for _, u := range units {
		ids = append(ids, u.ID)
	}
	b, err := w.BuildForUnits(t.Context(), answer.UnitsBuild{UnitIDs: ids})
	require.NoError(t, err)
	p, err := w.Workshop.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = w.Workshop.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	slips, err := w.Slips(t.Context())
	require.NoError(t, err)
	require.Empty(t, slips)
	// One of the three was promised for much later.
	later := w.businessDay().AddDate(1, 0, 0)
	_, err = w.db.Exec(t.Context(), `UPDATE order_unit SET promised_box_on = $2 WHERE id = $1`, ids[2], later)
	require.NoError(t, err)
	_, err = w.Workshop.AwayAdd(t.Context(), workshop.Away{FromOn: w.businessDay(), ToOn: w.businessDay().AddDate(0, 0, 40), Why: "away"})
	require.NoError(t, err)
	slips, err = w.Slips(t.Context())
	require.NoError(t, err)
	require.Len(t, slips, 1)
	s := slips[0]
	require.Equal(t, b.ID, s.BuildID)
	require.NotNil(t, s.NewOn)
	require.True(t, s.NewOn.After(w.businessDay().AddDate(0, 0, 40)))
	require.Equal(t, s.EndsP80.AddDate(0, 0, s.Cure), *s.NewOn, "four in five, and the finish cured")
	require.Len(t, s.Buyers, 1, "nobody is told who need not be")
	buyer := s.Buyers[0]
	require.Equal(t, 2, buyer.Pieces)
	require.Equal(t, units[0].PromisedBoxOn, &buyer.PromisedOn)
	require.Equal(t, fmt.Sprintf("Hello %s, this is %s. Your 2 boxes, which were promised for %s, will be later than I said: I now expect %s. I am sorry. Does that day suit you, or shall we find another way?",
		buyer.Name, "Mara Lind", show.Date(buyer.PromisedOn), show.Date(*s.NewOn)), buyer.Words)
	_, err = w.db.Exec(t.Context(), `UPDATE order_unit SET promised_box_on = $2 WHERE id = $1`, ids[1], later)
	require.NoError(t, err)
	slips, err = w.Slips(t.Context())
	require.NoError(t, err)
	require.Contains(t, slips[0].Buyers[0].Words, "Your box, which was promised for "+show.Date(buyer.PromisedOn)+",")
}
