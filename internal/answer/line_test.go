package answer_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// waits makes an order for a colony into a box of the buyer's own, with a deposit of 100.00,
// paid on the day given; "" is not paid yet.
func (w *world) waits(name, region, paid string, change ...func(*sales.NewOrder)) sales.Unit {
	w.t.Helper()
	ctx := w.t.Context()
	p, err := w.Sales.PartyPut(ctx, sales.Party{Name: name})
	require.NoError(w.t, err)
	site, err := w.Sales.SitePut(ctx, sales.Site{PartyID: &p.ID, Town: "Upper Moor", Region: region})
	require.NoError(w.t, err)
	n := sales.NewOrder{PartyID: p.ID, SiteID: &site.ID, DepositMinor: 10000, OwnBox: true, HappenedAt: w.now.AddDate(0, 0, -20),
		Lines: []sales.Line{{Kind: "colony", Description: "Colony", Quantity: d("1"), UnitPriceMinor: 35000, PriceExTaxMinor: 35000, TaxMinor: 3500, PriceMinor: 38500, TaxCode: "standard", TaxPct: d("10"), BeeSpeciesID: &w.bees.ID}}}
	for _, c := range change {
		c(&n)
	}
	o, err := w.Sales.OrderMake(ctx, n)
	require.NoError(w.t, err)
	if paid != "" {
		w.pays(o.ID, "deposit", 10000, paid)
	}
	return o.Lines[0].Units[0]
}

func (w *world) pays(order int64, kind string, minor int64, on string) {
	w.t.Helper()
	_, err := w.Books.PaymentMake(w.t.Context(), books.Payment{OrderID: order, Kind: kind, Method: "transfer", AmountMinor: minor, HappenedAt: day(on).Add(10 * time.Hour)}, nil)
	require.NoError(w.t, err)
}

func (w *world) line() answer.ColonyLine {
	w.t.Helper()
	l, err := w.LineOf(w.t.Context(), w.bees.ID)
	require.NoError(w.t, err)
	return l
}

func who(l answer.ColonyLine) []string {
	out := []string{}
	for i, p := range l.Places {
		if p.Place != i+1 {
			panic("places out of order")
		}
		out = append(out, p.Who)
	}
	return out
}

func TestLineStandsInTheOrderOfTheDeposits(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	require.Empty(t, w.line().Places)
	ada := w.waits("Ada", "QLD", "2026-02-20")
	bert := w.waits("Bert", "QLD", "2026-02-18")
	w.waits("Cleo", "QLD", "")
	w.waits("Dora", "QLD", "", func(o *sales.NewOrder) { o.DepositMinor, o.HappenedAt = 0, day("2026-02-19") })
	half := w.waits("Emil", "QLD", "", func(o *sales.NewOrder) { o.DepositMinor = 20000 })
	emil, err := w.Sales.OrderOfUnit(t.Context(), half.ID)
	require.NoError(t, err)
	w.pays(emil.ID, "deposit", 10000, "2026-02-11")
	l := w.line()
	require.Equal(t, []string{"Bert", "Dora", "Ada"}, who(l), "by the day the deposit was paid, or the day of an order that asks for none")
	require.True(t, l.Places[1].NoDeposit)
	require.Len(t, l.Interested, 2, "Cleo has not paid, Emil only half")
	w.pays(emil.ID, "payment", 10000, "2026-02-17")
	require.Equal(t, []string{"Emil", "Bert", "Dora", "Ada"}, who(w.line()), "the day on which it was paid in full")
	w.pays(emil.ID, "refund", 1, "2026-02-25")
	require.Equal(t, []string{"Bert", "Dora", "Ada"}, who(w.line()), "what went back is not paid")
	w.pays(emil.ID, "payment", 1, "2026-02-26")
	require.Equal(t, []string{"Bert", "Dora", "Ada", "Emil"}, who(w.line()), "paid for good only since then")

	c := w.colony()
	require.NoError(t, w.ColonyPutAside(t.Context(), bert.ID, c.ID))
	require.Equal(t, []string{"Dora", "Ada", "Emil"}, who(w.line()), "who has a colony waits no longer")
	_, err = w.OrderCancel(t.Context(), answer.Cancel{Cancellation: sales.Cancellation{OrderID: emil.ID, Because: "moved away", DepositEnd: "kept"}})
	require.NoError(t, err)
	require.Equal(t, []string{"Dora", "Ada"}, who(w.line()))
	_, err = w.PlaceOf(t.Context(), bert.ID)
	require.True(t, fault.Is(err, fault.NotFound))
	v, err := w.PlaceOf(t.Context(), ada.ID)
	require.NoError(t, err)
	require.Equal(t, 2, v.Place)
}

func TestLineMovesAreKeptAndHold(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	units := map[string]int64{}
	for i, name := range []string{"Ada", "Bert", "Cleo", "Dora"} {
		units[name] = w.waits(name, "QLD", fmt.Sprintf("2026-02-1%d", i)).ID
	}
	move := func(name, before, why string) error {
		var b *int64
		if before != "" {
			b = ptr(units[before])
		}
		return w.LineMove(t.Context(), w.bees.ID, units[name], b, why)
	}
	require.NoError(t, move("Dora", "Bert", "for the school, by agreement with Bert"))
	require.Equal(t, []string{"Ada", "Dora", "Bert", "Cleo"}, who(w.line()))
	require.NoError(t, move("Cleo", "Dora", "x"))
	require.Equal(t, []string{"Ada", "Cleo", "Dora", "Bert"}, who(w.line()))
	require.NoError(t, move("Bert", "Ada", "x"))
	require.Equal(t, []string{"Bert", "Ada", "Cleo", "Dora"}, who(w.line()))
	require.NoError(t, move("Ada", "", "asked to wait for spring"))
	units["Emil"] = w.waits("Emil", "QLD", "2026-02-28").ID
	l := w.line()
	require.Equal(t, []string{"Bert", "Cleo", "Dora", "Ada", "Emil"}, who(l), "behind all who stood there, before those who come later")
	require.Len(t, l.Moves, 4)
	require.Equal(t, "asked to wait for spring", l.Moves[0].Reason)
	require.Equal(t, "asked to wait for spring", l.Places[3].MovedBecause)
	// Those she was put before go, and she stays where she was.
	c := w.colony()
	require.NoError(t, w.ColonyPutAside(t.Context(), units["Bert"], c.ID))
	require.Equal(t, []string{"Cleo", "Dora", "Ada", "Emil"}, who(w.line()))
	// However often two change places, there is room between them.
	for i := range 60 {
		require.NoError(t, move([]string{"Dora", "Cleo"}[i%2], []string{"Cleo", "Dora"}[i%2], "to and fro"))
	}
	require.Equal(t, []string{"Cleo", "Dora", "Ada", "Emil"}, who(w.line()))

	for _, tt := range []struct {
		name string
		err  error
		kind fault.Kind
	}{
		{"no reason", move("Ada", "Cleo", "  "), fault.Invalid},
		{"before herself", move("Ada", "Ada", "x"), fault.Invalid},
		{"where she stands", move("Ada", "Emil", "x"), fault.Conflict},
		{"last, and is", move("Emil", "", "x"), fault.Conflict},
		{"one who waits no longer", move("Bert", "Cleo", "x"), fault.NotFound},
		{"before one who waits no longer", move("Ada", "Bert", "x"), fault.Invalid},
		{"no such kind", w.LineMove(t.Context(), 999, units["Ada"], nil, "x"), fault.NotFound},
	} {
		require.True(t, fault.Is(tt.err, tt.kind), "%s: %v", tt.name, tt.err)
	}
	_, err := w.db.Exec(t.Context(), `UPDATE line_move SET reason = 'x'`)
	require.Error(t, err, "what was moved stays in the book")
}

func TestLineSaysByWhenAndWhatIsLate(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	var units []sales.Unit
	for i := range 4 {
		units = append(units, w.waits(fmt.Sprint("Buyer ", i), "QLD", fmt.Sprintf("2026-02-1%d", i), func(o *sales.NewOrder) { o.Lines[0].ColonyOn = ptr(day("2026-04-01")) }))
	}
	w.colony()
	held := w.colony()
	require.NoError(t, w.Apiary.HoldBack(t.Context(), held.ID, "mites"))
	l := w.line()
	require.Len(t, l.Herd.Ready, 1)
	require.Equal(t, "2026-03-02", iso(l.Places[0].LikelyOn), "one is ready")
	require.Nil(t, l.Places[1].LikelyOn, "nobody is kept to be split, and the one held back is not counted")
	require.True(t, l.Places[1].Late)
	require.Contains(t, fmt.Sprint(l.Reasons()), "None is kept to be split")
	for range 5 {
		c := w.colony()
		require.NoError(t, w.Apiary.KeepToSplit(t.Context(), c.ID, ptr(true)))
	}
	l = w.line()
	require.Equal(t, "2026-03-02", iso(l.Places[0].LikelyOn))
	require.NotNil(t, l.Places[1].LikelyOn)
	require.True(t, l.Places[1].LikelyOn.After(day("2026-04-01")), "a split of March has not settled by then")
	require.True(t, l.Places[1].Late)
	require.False(t, l.Places[0].Late)
	v, err := w.PlaceOf(t.Context(), units[2].ID)
	require.NoError(t, err)
	require.Equal(t, 3, v.Place)
	require.Equal(t, iso(l.Places[2].LikelyOn), iso(v.LikelyOn))
	require.Less(t, *v.PromiseChance, 0.8)
	for i, p := range v.Curve {
		require.False(t, i > 0 && p.Chance < v.Curve[i-1].Chance)
	}
	require.Contains(t, v.Words(func(d time.Time) string { return d.Format(time.DateOnly) }), "third in the line for Tetragonula carbonaria, likely by "+iso(v.LikelyOn))
	// The next who asks stands behind them by the same reckoning; held back or not decides.
	a := w.ask(sales.Wish{BeeSpeciesID: w.bees.ID, OwnBox: true})
	next := w.waits("The next", "QLD", "2026-03-01")
	l = w.line()
	require.Equal(t, next.ID, l.Places[4].UnitID)
	require.Equal(t, iso(l.Places[4].LikelyOn), iso(a.ColonyOn), "%v", reasons(a))
	_, err = w.LineOf(t.Context(), 999)
	require.True(t, fault.Is(err, fault.NotFound))
}

func TestDaySheetSaysThatAPlaceHasMovedPastItsPromise(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := w.colony()
	w.waits("Ada", "QLD", "2026-02-10", func(o *sales.NewOrder) { o.Lines[0].ColonyOn = ptr(day("2026-04-01")) })
	lines := func() (out []answer.DayLine) {
		all, err := w.DaySheet(t.Context(), day("2026-03-02"))
		require.NoError(t, err)
		for _, l := range all {
			if l.Kind == "line" {
				out = append(out, l)
			}
		}
		return out
	}
	require.Empty(t, lines())
	require.NoError(t, w.Apiary.End(t.Context(), c.ID, "flooded", w.now))
	got := lines()
	require.Len(t, got, 1)
	require.Contains(t, got[0].Text, "Ada")
	require.Contains(t, got[0].Text, "1 Apr 2026")
	require.Equal(t, fmt.Sprintf("/bees/line/%d", w.bees.ID), got[0].Href)
}

func TestProposalGivesTheReadyColoniesToTheLine(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	hockingsi, err := w.Apiary.SpeciesPut(ctx, apiary.StandardSpecies()[1]) // QLD and NT
	require.NoError(t, err)
	ada := w.waits("Ada", "VIC", "2026-02-10")
	bert := w.waits("Bert", "NT", "2026-02-11", func(o *sales.NewOrder) { o.Lines[0].BeeSpeciesID = nil })
	cleo := w.waits("Cleo", "QLD", "2026-02-12")
	w.waits("Dora", "QLD", "")
	propose := func(species int64) []answer.Proposed {
		list, err := w.LinePropose(ctx, species)
		require.NoError(t, err)
		return list
	}
	require.Empty(t, propose(w.bees.ID))
	young := w.colony(func(n *apiary.NewColony) { n.SettledOn = ptr(day("2026-02-01")) })
	old := w.colony(func(n *apiary.NewColony) { n.SettledOn = ptr(day("2025-02-01")) })
	held, kept := w.colony(), w.colony()
	require.NoError(t, w.Apiary.HoldBack(ctx, held.ID, "mites"))
	require.NoError(t, w.Apiary.KeepToSplit(ctx, kept.ID, ptr(true)))
	north := w.colony(func(n *apiary.NewColony) { n.SpeciesID = hockingsi.ID })

	got := propose(w.bees.ID)
	require.Len(t, got, 2)
	require.Equal(t, []int64{ada.ID, old.ID, cleo.ID, young.ID}, []int64{got[0].UnitID, got[0].ColonyID, got[1].UnitID, got[1].ColonyID}, "the longest settled to the first; Bert's place is in the north")
	require.Contains(t, got[0].OutOfRange, "does not live in VIC by nature")
	require.Empty(t, got[1].OutOfRange)
	require.Equal(t, []int{1, 3}, []int{got[0].Place, got[1].Place})
	got = propose(hockingsi.ID)
	require.Len(t, got, 1)
	require.Equal(t, []int64{bert.ID, north.ID}, []int64{got[0].UnitID, got[0].ColonyID})

	for _, tt := range []struct {
		name  string
		pairs []answer.LinePair
		kind  fault.Kind
	}{
		{"held back", []answer.LinePair{{UnitID: ada.ID, ColonyID: held.ID}}, fault.Conflict},
		{"kept to be split", []answer.LinePair{{UnitID: ada.ID, ColonyID: kept.ID}}, fault.Conflict},
		{"another kind", []answer.LinePair{{UnitID: ada.ID, ColonyID: north.ID}}, fault.Conflict},
		{"not paid", []answer.LinePair{{UnitID: 999, ColonyID: old.ID}}, fault.Conflict},
		{"a colony twice", []answer.LinePair{{UnitID: ada.ID, ColonyID: old.ID}, {UnitID: cleo.ID, ColonyID: old.ID}}, fault.Invalid},
		{"one good, one bad", []answer.LinePair{{UnitID: ada.ID, ColonyID: old.ID}, {UnitID: cleo.ID, ColonyID: held.ID}}, fault.Conflict},
	} {
		_, err := w.LineAccept(ctx, w.bees.ID, tt.pairs)
		require.True(t, fault.Is(err, tt.kind), "%s: %v", tt.name, err)
	}
	require.Zero(t, w.count(`SELECT count(*)::int FROM claim`), "nothing half-done")
	done, err := w.LineAccept(ctx, w.bees.ID, []answer.LinePair{{UnitID: cleo.ID, ColonyID: old.ID}})
	require.NoError(t, err, "the maker decides otherwise")
	require.Len(t, done, 1)
	done, err = w.LineAccept(ctx, w.bees.ID, nil)
	require.NoError(t, err)
	require.Equal(t, []int64{ada.ID, young.ID}, []int64{done[0].UnitID, done[0].ColonyID}, "what is left")
	_, err = w.LineAccept(ctx, w.bees.ID, nil)
	require.True(t, fault.Is(err, fault.Conflict))
	u, err := w.Sales.UnitGet(ctx, ada.ID)
	require.NoError(t, err)
	require.Equal(t, young.ID, *u.ColonyID)
}

// A box of ours goes along with the bees in it only where it is the one that was ordered.
func TestProposalAndTheBoxOrdered(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	other, err := w.Workshop.ModelSave(ctx, workshop.Model{Code: "tall", Name: "Tall box"})
	require.NoError(t, err)
	rev, err := w.Workshop.RevisionAdd(ctx, workshop.Drawing{ModelID: other.ID, Body: body()})
	require.NoError(t, err)
	tall := w.box(func(b *workshop.BoxNew) { b.RevisionID = &rev.ID })
	inTall := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID, n.SettledOn = "box", &tall.ID, ptr(day("2025-02-01")) })
	asBox := func(o *sales.NewOrder) {
		o.OwnBox = false
		l := &o.Lines[0]
		l.Kind, l.WithColony, l.ModelRevisionID, l.TimberSpeciesID = "box", true, &w.rev.ID, &w.species.ID
	}
	ada := w.waits("Ada", "QLD", "2026-02-10", asBox)
	got, err := w.LinePropose(ctx, w.bees.ID)
	require.NoError(t, err)
	require.Equal(t, "house it in its box once that is there", got[0].HouseFirst)
	plain := w.box()
	inPlain := w.colony(func(n *apiary.NewColony) { n.Dwelling, n.BoxID = "box", &plain.ID })
	got, err = w.LinePropose(ctx, w.bees.ID)
	require.NoError(t, err)
	require.Equal(t, inPlain.ID, got[0].ColonyID, "no move into another box comes before the longest settled")
	require.Empty(t, got[0].HouseFirst)
	done, err := w.LineAccept(ctx, w.bees.ID, []answer.LinePair{{UnitID: ada.ID, ColonyID: inTall.ID}})
	require.NoError(t, err)
	require.NotEmpty(t, done[0].HouseFirst)
	u, err := w.Sales.UnitGet(ctx, ada.ID)
	require.NoError(t, err)
	require.Equal(t, inTall.ID, *u.ColonyID)
	require.Nil(t, u.BoxID, "another box than was ordered does not go along")
	bert := w.waits("Bert", "QLD", "2026-02-11", asBox)
	_, err = w.LineAccept(ctx, w.bees.ID, nil)
	require.NoError(t, err)
	u, err = w.Sales.UnitGet(ctx, bert.ID)
	require.NoError(t, err)
	require.Equal(t, plain.ID, *u.BoxID)
}

// Outside the natural range is pointed out where the answer is given and on the quote itself,
// and nowhere else.
func TestOutOfRangeOnTheAnswerAndTheQuote(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.colony()
	for region, said := range map[string]bool{"VIC": true, "QLD": false} {
		p, err := w.Sales.PartyPut(t.Context(), sales.Party{Name: "Ida " + region})
		require.NoError(t, err)
		_, err = w.Sales.SitePut(t.Context(), sales.Site{PartyID: &p.ID, Town: "Far Moor", Region: region})
		require.NoError(t, err)
		wish := sales.Wish{BeeSpeciesID: w.bees.ID, OwnBox: true}
		a, err := w.Ask(t.Context(), answer.Question{Wish: wish, PartyID: p.ID})
		require.NoError(t, err)
		require.Equal(t, said, strings.Contains(strings.Join(reasons(a), "\n"), "bee inspector"), "by the only place the buyer has")
		q, err := w.DraftFromWishes(t.Context(), answer.Draft{PartyID: p.ID, Wishes: []sales.Wish{wish}})
		require.NoError(t, err)
		list, err := w.QuoteOutOfRange(t.Context(), q)
		require.NoError(t, err)
		require.Equal(t, said, len(list) == 1)
		q, err = w.QuoteIssue(t.Context(), q.ID, q.Version)
		require.NoError(t, err)
		pdf, err := w.Paper(t.Context(), "quote", q.Name())
		require.NoError(t, err)
		text := textOf(t, pdf)
		require.Equal(t, said, strings.Contains(text, "About the bees"), text)
	}
}

// TestLossesAtBuyersPutTheLineOff holds that what buyers tell of their colonies moves the likely days: three of four
// lost within weeks, heard of by a server started afterwards.
func TestLossesAtBuyersPutTheLineOff(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.waits("Ada", "QLD", "2026-02-10")
	w.line()
	for i := range 4 {
		c := w.colony()
		unit := w.waits(fmt.Sprint("Earlier ", i), "QLD", "2025-01-10")
		id, err := postgres.Value[int64](t.Context(), w.db, `INSERT INTO handover (number, order_unit_id, colony_id, happened_at, received_by) VALUES ($3, $1, $2, '2025-06-01', 'x') RETURNING id`, unit.ID, c.ID, fmt.Sprint("H", i))
		require.NoError(t, err)
		answer := "lost"
		if i == 3 {
			answer = "alive"
		}
		_, err = w.db.Exec(t.Context(), `INSERT INTO follow_up (handover_id, due_on, answer, answered_at, why) VALUES ($1, '2025-06-29', $2, '2025-07-01', 'x')`, id, answer)
		require.NoError(t, err)
	}
	kept := w.line().Rates.LossYear // what was heard counts from tomorrow on
	fresh, err := answer.New(w.db, w.Rooms).LineOf(t.Context(), w.bees.ID)
	require.NoError(t, err)
	require.Greater(t, fresh.Rates.LossYear, 2*kept)
}
