package answer_test

import (
	"context"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

func (w *world) millNext() answer.MillNext {
	w.t.Helper()
	m, err := w.MillNext(w.t.Context(), 0)
	require.NoError(w.t, err)
	return m
}

// board gives 100 x 28 of the world's timber.
func (w *world) board() answer.MillSize {
	w.t.Helper()
	for _, s := range w.millNext().Sizes {
		if s.SpeciesID == w.species.ID && s.WidthMM == 100 {
			return s
		}
	}
	w.t.Fatal("no 100 x 28")
	return answer.MillSize{}
}

func (w *world) pace(boxes string) {
	w.t.Helper()
	require.NoError(w.t, w.Timber.PaceSet(w.t.Context(), timber.Pace{ModelID: w.model.ID, SpeciesID: w.species.ID, BoxesAMonth: d(boxes)}))
}

func sumOf(s answer.MillSize, of func(answer.MillMonth) float64) (total float64) {
	for _, m := range s.Months {
		total += of(m)
	}
	return total
}

// A box takes 2 m, with 15 % for offcuts 2.3 m. On 2 March 30 of the month's 31 days are
// left. Five boxes a month are 11.5 m, 11.13 m in March: 40 m free are 5.87 m at the end
// of May and 5.63 m short in June.
func TestMillNextOfASmallBook(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	m := w.millNext()
	require.Contains(t, m.Notes[0], "knows no order")
	w.pace("5")
	w.rack(2000, 20)
	w.rack(150, 30) // shorter than the shortest part: no use
	s := w.board()
	require.InDelta(t, 40_000, s.FreeMM, 1e-6)
	require.InDelta(t, 11_500*30.0/31, s.Months[0].PaceMM, 1e-6)
	require.Equal(t, "2026-06-01", iso(&s.Expected.On))
	require.InDelta(t, 40_000-11_500*(30.0/31+2), s.Months[2].LeftMM, 1e-6)
	require.InDelta(t, -(40_000 - 11_500*(30.0/31+8)), s.Expected.ShortMM, 1e-6, "six months from June to November")
	require.True(t, s.Expected.Late, "without weather it is a year for each 25 mm, which is past")
	require.Contains(t, s.Sentence(), "should have been sawn by")
	require.Len(t, s.Notes, 1)
	require.Contains(t, s.LookFor, "Look for", "no log lies there")

	_, err := w.MillNext(t.Context(), 25)
	require.True(t, fault.Is(err, fault.Invalid))
	w.pace("0")
	require.Nil(t, w.board().First())
}

// An order of four boxes puts boards aside; what stands aside is neither free nor needed
// again. What the rack lacks is needed in the month it is promised.
func TestMillNextCountsNothingTwice(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(2000, 2)
	a := w.ask(sales.Wish{ModelID: w.model.ID, TimberID: w.species.ID, Count: 4})
	o, err := w.OrderMake(t.Context(), answer.NewOrder{NewOrder: sales.NewOrder{PartyID: w.buyer.ID, Lines: a.Lines}})
	require.NoError(t, err)
	s := w.board()
	require.Zero(t, s.FreeMM)
	require.InDelta(t, 4000, s.ClaimedMM, 1e-6)
	require.InDelta(t, 4*2300-4000, sumOf(s, func(m answer.MillMonth) float64 { return m.OrdersMM }), 1e-6)

	// The build takes boards and need over from the order.
	var units []int64
	for _, l := range o.Order.Lines {
		for _, u := range l.Units {
			units = append(units, u.ID)
		}
	}
	_, err = w.Workshop.BuildMake(t.Context(), workshop.BuildNew{RevisionID: w.rev.ID, Quantity: 4, SpeciesID: w.species.ID, Units: units})
	require.NoError(t, err)
	s = w.board()
	require.Zero(t, sumOf(s, func(m answer.MillMonth) float64 { return m.OrdersMM }))
	require.Positive(t, sumOf(s, func(m answer.MillMonth) float64 { return m.BuildsMM }))
	require.Zero(t, s.FreeMM)
}

// A quote that is out counts at even odds while none was decided; once it has lapsed it
// counts nothing, and as one of one that came to nothing it leaves a chance of a third.
func TestMillNextQuotes(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.listPrices()
	w.rack(2000, 20)
	w.issued(sales.Wish{ModelID: w.model.ID, TimberID: w.species.ID, Count: 2})
	quotes := func(s answer.MillSize) float64 {
		return sumOf(s, func(m answer.MillMonth) float64 { return m.QuotesMM })
	}
	require.InDelta(t, 2*2300*0.5, quotes(w.board()), 1e-6)
	w.now = w.now.AddDate(0, 2, 0)
	m := w.millNext()
	require.InDelta(t, 100.0/3, m.AcceptedPct, 1e-6)
	require.Equal(t, 1, m.QuotesDecided)
	require.Zero(t, quotes(w.board()))
}

// A pack of 30 m that air of the tropics dries comes in; the same pack in air that never
// dries it does not. Sawn in time, the deadline counts back what drying takes.
func TestMillNextPacksAndLogs(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.Room = answer.New(w.db, answer.Rooms{Timber: timber.New(w.db, timber.AirDry)})
	ctx := t.Context()
	sg := d("0.45")
	w.species.SpecificGravity = &sg
	var err error
	w.species, err = w.Timber.SpeciesSave(ctx, w.species)
	require.NoError(t, err)
	air := func(name string, humidity float64) timber.Climate {
		c := timber.Climate{Name: name}
		for i := range c.Months {
			c.Months[i] = timber.Month{TemperatureC: 25, HumidityPct: humidity}
		}
		c, err := w.Timber.ClimateSave(ctx, c)
		require.NoError(t, err)
		return c
	}
	stack := func(climate timber.Climate) {
		_, err := w.Timber.PackStack(ctx, timber.PackNew{SpeciesID: w.species.ID, WidthMM: d("110"), ThicknessMM: d("32"), ClimateID: &climate.ID, StackedOn: day("2026-02-01"), TargetMCPct: d("13"),
			DressesTo: &timber.Size{WidthMM: d("100"), ThicknessMM: d("28")}, Content: []timber.Content{{LengthMM: 3000, Grade: "sound", Count: 10}}})
		require.NoError(t, err)
	}
	w.pace("5")
	w.rack(2000, 40)
	stack(air("wet shed", 95))
	s := w.board()
	require.InDelta(t, 30_000, s.UndatedMM, 1e-6)
	require.Zero(t, sumOf(s, func(m answer.MillMonth) float64 { return m.InMM }), "a pack that never dries does not count")
	short := s.Expected.On
	stack(air("dry shed", 50))
	s = w.board()
	require.InDelta(t, 30_000, s.DryingMM, 1e-6)
	require.InDelta(t, 27_000, sumOf(s, func(m answer.MillMonth) float64 { return m.InMM }), 1e-6)
	require.True(t, s.Expected.On.After(short), "the pack carries it further")
	require.NotNil(t, s.Expected.SawBy)
	require.True(t, s.Expected.SawBy.Before(s.Expected.On.AddDate(0, -1, 0)))
	require.NotNil(t, s.DryOn)

	log := func(small int64, change ...func(*timber.Log)) timber.Log {
		g := timber.Log{SpeciesID: w.species.ID, SmallEndMM: decimal.NewFromInt(small), LargeEndMM: decimal.NewFromInt(small + 20), LengthMM: d("3000")}
		for _, c := range change {
			c(&g)
		}
		g, err := w.Timber.LogSave(ctx, g, true)
		require.NoError(t, err)
		return g
	}
	thin := log(200)
	s = w.board()
	require.Len(t, s.Logs, 1)
	require.NotEmpty(t, s.LookFor, "the thin one is not enough")
	thick := log(520)
	s = w.board()
	require.Len(t, s.Logs, 1)
	require.Equal(t, thick.Number, s.Logs[0].Number, "one thick log instead of two")
	require.Empty(t, s.LookFor)
	require.GreaterOrEqual(t, s.Logs[0].GivesMM, s.First().SawMM)
	_, err = w.Timber.LogSawn(ctx, thick.ID, thick.Version, w.now, 60)
	require.NoError(t, err)
	require.Equal(t, thin.Number, w.board().Logs[0].Number, "a sawn log gives nothing more")
}

// The board size to saw first stands on the Day sheet when its day is past or near, under
// the same subject every day.
func TestMillNextOnTheDaySheet(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	lines := func() (list []answer.DayLine) {
		all, err := w.DaySheet(t.Context(), time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC))
		require.NoError(t, err)
		for _, l := range all {
			if l.Kind == "mill" {
				list = append(list, l)
			}
		}
		return list
	}
	require.Empty(t, lines())
	w.rack(2000, 20)
	w.pace("5")
	list := lines()
	require.Len(t, list, 1)
	require.True(t, list[0].Late)
	require.Equal(t, "/timber/mill-next", list[0].Href)
	subject := list[0].Subject
	w.now = w.now.Add(24 * time.Hour)
	require.Equal(t, subject, lines()[0].Subject)
	require.NoError(t, answer.NewDayBook(w.db).MarkDone(context.Background(), subject))
}
