package answer

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// Figures of what to mill next; our estimates where no other source stands.
const (
	millMonths     = 12 // months ahead, where the maker does not choose
	millMonthsMin  = 6
	millMonthsMost = 24
	millPastMonths = 36     // months of past orders that are looked at
	seasonWeight   = 2      // so many months of the overall mean are added to each month of the year
	dressDays      = 7      // from dry to dressed and on the rack
	sawDays        = 3      // from the mill to the stack
	coverMonths    = 6      // what is sawn lasts so many months from the month it runs short
	usualYield     = 0.9    // dressed length of stacked length, where no pack was dressed yet
	cautiousYield  = 0.9    // of the mean yield, where few packs were dressed yet
	yieldPacks     = 5      // so many dressed packs show their own spread
	usualBoardMM   = 2400   // length of a board, where no pack was stacked yet
	fourInFive     = 0.8416 // of the spread lies above the mean with one-in-five odds: the normal table
	thumbDaysMM    = 365.0 / 25
)

// MillMethod says how what to mill next is reckoned, for the page and the paper.
const MillMethod = "Each month begins with the boards left from the last; dressed boards that nobody has claimed are the start. " +
	"Packs come in a week after the day they are dry (with even odds; with four-in-five odds for the careful line), less what dressing took of past packs meant for the same size. " +
	"Off goes what orders and builds under way still lack, in the month they are promised; what issued quotes ask, times how often quotes became orders; and the pace of orders to come. " +
	"The pace of a month of the year is the mean of what was ordered in that month in the last three years together with two months at the mean of all of them, so that one good May does not make every May; " +
	"what quotes and pieces under way for the shelf already answer is taken off it. The shelf is taken to stay as full as it is. " +
	"The careful line adds what one month in five asks beyond the mean. Parts are reckoned with 15 % for offcuts and trim."

// MillNext is what the rack will hold month by month, and what to saw so that it lasts.
type MillNext struct {
	AsOf          time.Time
	Months        []time.Time // first day of each, the running month first
	PastMonths    int         // whole past months the pace is learnt from
	AcceptedPct   float64     // of quotes, how many are taken to become orders
	QuotesDecided int         // past quotes that says it
	Sizes         []MillSize  // the most urgent first
	Paces         []timber.Pace
	Notes         []string // what is missing, in plain words
}

// MillSize is one board size of one timber. Lengths in mm of dressed board.
type MillSize struct {
	SpeciesID            int64
	Species              string
	WidthMM, ThicknessMM float64
	FreeMM, ClaimedMM    float64 // on the rack
	DryingMM             float64 // in packs with a dry date, as stacked, not claimed
	UndatedMM            float64 // in packs without a dry date, or that never get dry: not counted
	YieldPct             float64 // dressed of stacked length
	YieldPacks           int     // dressed packs that say so; 0: an estimate
	Months               []MillMonth
	Expected, Careful    *MillShort // nil: does not run short in these months
	GreenWidthMM         float64
	GreenThicknessMM     float64
	DryOn                *time.Time // dressed and on the rack, four in five, were it sawn today; nil: cannot be said
	Logs                 []MillLog
	LookFor              string // which log to look for, where those that lie there do not give it
	Notes                []string

	key millKey
}

// MillMonth is one month of a board size, mm.
type MillMonth struct {
	On                    time.Time
	InMM, CarefulInMM     float64
	OrdersMM, BuildsMM    float64
	QuotesMM, PaceMM      float64
	LeftMM, CarefulLeftMM float64 // at the end of the month; below zero: missing
	spread2               float64 // of need, mm2
}

// NeedMM is all that is expected to be needed in the month.
func (m MillMonth) NeedMM() float64 { return m.OrdersMM + m.BuildsMM + m.QuotesMM + m.PaceMM }

// MillShort is a month in which a board size runs short and what to saw against it.
type MillShort struct {
	On      time.Time  // first day of the month
	Until   time.Time  // first day of the last month that what is sawn lasts for
	ShortMM float64    // dressed, missing by then
	SawMM   float64    // green
	Boards  int        // of BoardMM
	BoardMM int        // length
	SawBy   *time.Time // nil: cannot be said
	Late    bool       // that day is past
}

// Name is timber and board size, such as "Hoop pine 100 x 28".
func (s MillSize) Name() string { return s.Species + " " + s.Size() }

// Size is the dressed board size.
func (s MillSize) Size() string {
	return show.BoardSize(decimal.NewFromFloat(s.WidthMM), decimal.NewFromFloat(s.ThicknessMM))
}

// Green is the green board size to saw.
func (s MillSize) Green() string {
	return show.BoardSize(decimal.NewFromFloat(s.GreenWidthMM), decimal.NewFromFloat(s.GreenThicknessMM))
}

// First is the shortage to act on: the expected one, else the careful one; nil: none.
func (s MillSize) First() *MillShort {
	if s.Expected != nil {
		return s.Expected
	}
	return s.Careful
}

// Sentence says what to saw by when, such as "Saw 45 boards 110 x 32 by 12 Mar 2026:
// Hoop pine 100 x 28 runs short in November 2026."
func (s MillSize) Sentence() string {
	short := s.First()
	if short == nil {
		return fmt.Sprintf("%s lasts.", s.Name())
	}
	runs := "runs short"
	if s.Expected == nil {
		runs = "may run short"
	}
	what := fmt.Sprintf("%s %s", show.Count(int64(short.Boards), "board", "boards"), s.Green())
	month := short.On.Format("January 2006")
	switch {
	case short.SawBy == nil:
		return fmt.Sprintf("Saw %s: %s %s in %s.", what, s.Name(), runs, month)
	case short.Late:
		return fmt.Sprintf("%s should have been sawn by %s: %s %s in %s.", what, show.Date(*short.SawBy), s.Name(), runs, month)
	}
	return fmt.Sprintf("Saw %s by %s: %s %s in %s.", what, show.Date(*short.SawBy), s.Name(), runs, month)
}

// MillNext works out what the rack will hold in the next months (0: twelve) and what to
// saw. Nothing is kept. Errors: Invalid for months outside 6 to 24.
func (r *Room) MillNext(ctx context.Context, months int) (MillNext, error) {
	out, set, err := r.millSizes(ctx, months)
	if err != nil {
		return out, err
	}
	return out, r.millLogs(ctx, set, out.Sizes)
}

// millSizes is MillNext without the logs, which take longest.
func (r *Room) millSizes(ctx context.Context, months int) (MillNext, house.Settings, error) {
	if months == 0 {
		months = millMonths
	}
	if months < millMonthsMin || months > millMonthsMost {
		return MillNext{}, house.Settings{}, fault.Bad("/months", "Choose from %d to %d months.", millMonthsMin, millMonthsMost)
	}
	set, today, err := r.settings(ctx)
	if fault.Is(err, fault.NotFound) {
		return MillNext{AsOf: r.db.Now(), Notes: []string{"The workshop is not set up yet."}}, set, nil
	}
	if err != nil {
		return MillNext{}, set, err
	}
	b, err := r.readMill(ctx, set, today, months)
	if err != nil {
		return MillNext{}, set, err
	}
	out := b.reckon()
	for i := range out.Sizes {
		if err := r.millDeadline(ctx, set, b, &out.Sizes[i]); err != nil {
			return out, set, err
		}
	}
	slices.SortStableFunc(out.Sizes, moreUrgent)
	return out, set, nil
}

// moreUrgent sorts by the day to saw, then the month it runs short, then by name.
func moreUrgent(a, b MillSize) int {
	rank := func(s MillSize) time.Time {
		switch short := s.First(); {
		case short == nil:
			return time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
		case short.SawBy != nil:
			return *short.SawBy
		default:
			return short.On
		}
	}
	certain := func(s MillSize) int {
		switch {
		case s.Expected != nil:
			return 0
		case s.Careful != nil:
			return 1
		}
		return 2
	}
	return cmp.Or(cmp.Compare(certain(a), certain(b)), rank(a).Compare(rank(b)), cmp.Compare(a.Species, b.Species), cmp.Compare(b.WidthMM, a.WidthMM), cmp.Compare(b.ThicknessMM, a.ThicknessMM))
}
