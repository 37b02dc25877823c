package demo

import (
	"context"
	"fmt"
	"math/rand/v2"
	"runtime/debug"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/answer"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Options say where and how the history is written.
type Options struct {
	DB            *postgres.DB // its clock must be Clock
	Clock         *Clock
	Today         time.Time    // the real instant at which the history ends
	Owner, Helper int64        // accounts of the two who work there
	Rooms         answer.Rooms // on DB
	Answer        *answer.Room // on DB
	Progress      func(string) // is told what is being written; nil: nobody
	Days          int          // length of the history; 0: Days
}

// Days is how long the history usually is.
const Days = 730

// gcPercent took a third off the processor time of a filling (our measurement).
const gcPercent = 800

// seed makes the history the same every time.
const seed = 20240229

// trouble carries an error up to Fill; inside this package a deed that fails ends the
// whole filling, so that no step needs to hand errors on.
type trouble struct{ error }

// Fill writes the workshop and its history into an empty book in which the two accounts
// are. It takes some seconds. Errors are those of the rooms, with the day on which it happened; a
// book that was filled in part is of no use.
func Fill(ctx context.Context, o Options) (err error) {
	// The filling makes much that is soon waste; the collector may leave it lying.
	defer debug.SetGCPercent(debug.SetGCPercent(gcPercent))
	w := &world{Options: o, Rooms: o.Rooms, ctx: ctx, rng: rand.New(rand.NewPCG(seed, 1)), later: map[time.Time][]func(){}}
	if w.Days == 0 {
		w.Days = Days
	}
	defer func() {
		if r := recover(); r != nil {
			t, ok := r.(trouble)
			if !ok {
				panic(r)
			}
			err = fmt.Errorf("the invented workshop on %s: %w", w.day.Format(time.DateOnly), t.error)
		}
	}()
	w.open()
	w.live()
	w.finish()
	return nil
}

// world is the workshop as it is being lived.
type world struct {
	Options
	answer.Rooms
	ctx   context.Context
	rng   *rand.Rand
	loc   *time.Location
	first time.Time // business date of the first day
	last  time.Time // business date of today
	day   time.Time // business date being lived
	later map[time.Time][]func()

	ground
	stock
	folk
	bench
	bees
}

// ok ends the filling when err is set.
func ok(err error) {
	if err != nil {
		panic(trouble{err})
	}
}

// got gives v, or ends the filling.
func got[T any](v T, err error) T {
	ok(err)
	return v
}

func ptr[T any](v T) *T { return &v }

// mm, pct and money write figures as the rooms take them.
func mm(v float64) decimal.Decimal { return decimal.NewFromFloat(v) }

// say tells the reader how far it is.
func (w *world) say(format string, args ...any) {
	if w.Progress != nil {
		w.Progress(fmt.Sprintf(format, args...))
	}
}

// at sets the clock to a time of the day being lived and gives it; never later than the
// real present.
func (w *world) at(hour, minute int) time.Time {
	t := time.Date(w.day.Year(), w.day.Month(), w.day.Day(), hour, minute, w.rng.IntN(60), 0, w.loc)
	if t.After(w.Today) {
		t = w.Today
	}
	w.Clock.Set(t)
	return w.DB.Now()
}

// in does something some days from now, on a day that is no Sunday; what would come after
// today does not come.
func (w *world) in(days int, deed func()) {
	on := w.workday(w.day.AddDate(0, 0, max(days, 1)))
	w.later[on] = append(w.later[on], deed)
}

// workday is d, or the Monday after it when d is a Sunday.
func (w *world) workday(d time.Time) time.Time {
	if d.Weekday() == time.Sunday {
		return d.AddDate(0, 0, 1)
	}
	return d
}

// ago says how many days before today the day being lived is.
func (w *world) ago() int { return int(w.last.Sub(w.day).Hours() / 24) }

// chance is true p times in 1.
func (w *world) chance(p float64) bool { return w.rng.Float64() < p }

// between gives a whole number from low to high.
func (w *world) between(low, high int) int { return low + w.rng.IntN(high-low+1) }

// pick takes one of a list.
func pick[T any](w *world, list []T) T { return list[w.rng.IntN(len(list))] }

// open is the workshop as it stood on the first day.
func (w *world) open() {
	set := Settings()
	w.loc = set.Location()
	w.last = house.DateIn(w.Today, w.loc)
	w.first = w.last.AddDate(0, 0, -w.Days)
	w.day = w.first
	set.SetUpAt = ptr(w.at(7, 0))
	w.say("the workshop, its models and prices")
	got(w.House.SettingsPut(w.ctx, set))
	after := got(w.House.AfterCareGet(w.ctx)) // as the words of its guarantee say: two years, six weeks
	after.GuaranteeBoxDays, after.GuaranteeColonyDays = 730, 42
	got(w.House.AfterCarePut(w.ctx, after))
	w.layGround()
	w.openStock()
	w.openBees()
	w.openCosts()
	w.openServices()
}

// live goes through the days.
func (w *world) live() {
	for w.day = w.first; !w.day.After(w.last); w.day = w.day.AddDate(0, 0, 1) {
		if w.day.Day() == 1 {
			w.say("%s", w.day.Format("January 2006"))
		}
		w.at(7, 0)
		w.priceChanges()
		if w.day.Weekday() != time.Sunday {
			w.timberDay()
			w.benchDay()
			w.beesDay()
			w.salesDay()
		}
		w.at(11, 0)
		for i := 0; i < len(w.later[w.day]); i++ { // a deed may add another to the same day
			w.later[w.day][i]()
		}
		delete(w.later, w.day)
		if w.ago() == 1 {
			w.yesterday()
		}
	}
	w.day = w.last
}
