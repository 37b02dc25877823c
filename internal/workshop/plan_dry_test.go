package workshop_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// dry says that an operation of the model needs dry weather.
func (w *world) dry(names ...string) {
	w.t.Helper()
	_, err := w.room.DryOperationsSet(w.t.Context(), w.model.ID, names)
	require.NoError(w.t, err)
}

// weather marks days from a day on: w is wet, d is dry, - is not known.
func (w *world) weather(from string, marks string) {
	w.t.Helper()
	for n, m := range marks {
		known := map[rune]*bool{'w': ptr(false), 'd': ptr(true)}[m]
		require.NoError(w.t, w.room.WeatherMark(w.t.Context(), day(from).AddDate(0, 0, n), known))
	}
}

// begins gives when an operation of a build begins as the bench stands.
func (w *world) begins(build int64, operation string) time.Time {
	w.t.Helper()
	b, err := w.room.Bench(w.t.Context(), time.FixedZone("Brisbane", 10*60*60))
	require.NoError(w.t, err)
	jobs, err := b.Jobs()
	require.NoError(w.t, err)
	for _, j := range jobs {
		for _, s := range j.Spans {
			if j.BuildID == build && s.Operation == operation {
				return s.StartsAt.UTC()
			}
		}
	}
	require.Fail(w.t, "not on the bench")
	return time.Time{}
}

func TestRainDaysAreAGuessUntilTyped(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	sky, err := w.room.WeatherGet(t.Context())
	require.NoError(t, err)
	require.True(t, sky.Guess)
	var rain [12]float64
	for m := range rain {
		rain[m] = float64(m)
	}
	require.NoError(t, w.room.RainDaysSet(t.Context(), rain))
	sky, err = w.room.WeatherGet(t.Context())
	require.NoError(t, err)
	require.False(t, sky.Guess)
	require.Equal(t, rain, sky.RainDays)
	require.InDelta(t, 1-3/30.0, sky.DryChance(4), 1e-9, "three of April's thirty days are wet")
	require.InDelta(t, 1-1/28.2425, sky.DryChance(2), 1e-9)
	rain[1] = 28
	requireField(t, w.room.RainDaysSet(t.Context(), rain), fault.Invalid, "/rain_days/1")
	for _, on := range []string{"2026-03-01", "2026-03-16"} {
		requireField(t, w.room.WeatherMark(t.Context(), day(on), ptr(true)), fault.Invalid, "/on")
	}
	w.weather("2026-03-02", "dw")
	w.weather("2026-03-02", "-d")
	sky, err = w.room.WeatherGet(t.Context())
	require.NoError(t, err)
	require.Equal(t, []workshop.WeatherDay{{day("2026-03-03"), true}}, sky.Marked)
}

func TestWhichOperationsNeedDryWeather(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	list, err := w.room.DryOperations(t.Context(), w.model.ID)
	require.NoError(t, err)
	require.Equal(t, []workshop.DryOperation{{"cut", false}, {"glue", false}, {"oil", false}}, list, "those of the drawing, then those of options")
	w.haveScrews(1000)
	b := w.build(1)
	w.dry("glue", "oil")
	b, err = w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.Equal(t, []bool{false, true}, []bool{b.Operations[0].Dry, b.Operations[1].Dry}, "open builds follow")
	w.dry("oil")
	b, err = w.room.BuildGet(t.Context(), b.ID)
	require.NoError(t, err)
	require.False(t, b.Operations[1].Dry)
	_, err = w.room.DryOperationsSet(t.Context(), w.model.ID, []string{"oil", "weld"})
	requireField(t, err, fault.Invalid, "/operations/1")
	_, err = w.room.DryOperationsSet(t.Context(), 999, nil)
	require.True(t, fault.Is(err, fault.NotFound))
}

// By hand, 8 to 12 on weekdays. Build of two: 20 + 2 x 10 minutes of cutting, 60 of gluing
// with a night behind it.
func TestDryWorkKeepsOffWetDays(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, marks string
		cut, glue   time.Time
	}{
		{"all dry", "ddddd", brisbane("2026-03-02", 8, 0), brisbane("2026-03-02", 8, 40)},
		{"today is wet", "wdddd", brisbane("2026-03-02", 8, 0), brisbane("2026-03-03", 8, 0)},
		{"wet to the weekend", "wwwwwwwd", brisbane("2026-03-02", 8, 0), brisbane("2026-03-09", 8, 0)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.hours()
			w.haveScrews(1000)
			w.dry("glue")
			w.weather("2026-03-02", tt.marks)
			b := w.build(2)
			require.Equal(t, tt.cut, w.begins(b.ID, "cut"))
			require.Equal(t, tt.glue, w.begins(b.ID, "glue"), "as the bench stands")
			p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
			require.NoError(t, err)
			require.Len(t, p.Steps, 2)
			require.Equal(t, tt.glue, p.Steps[1].StartsAt.UTC(), "as a plan is laid")
			_, err = w.room.PlanAccept(t.Context(), p.ID)
			require.NoError(t, err)
			require.Equal(t, tt.glue, w.begins(b.ID, "glue"), "as the plan in force stands")
			effects, err := w.room.PlanEffects(t.Context(), p.ID)
			require.NoError(t, err)
			require.Equal(t, tt.glue.Add(time.Hour), effects[0].EndsAt.UTC())
			require.NotNil(t, effects[0].EndsP80)
		})
	}
}

// The weather turns after the plan was laid: its dry work moves, other work goes first.
func TestTheWeatherTurnsUnderThePlan(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	w.dry("cut")
	w.weather("2026-03-02", "dddd")
	first := w.build(8, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-02")) })  // 100 and 240 minutes
	second := w.build(1, func(n *workshop.BuildNew) { n.DueOn = ptr(day("2026-03-20")) }) // 30 and 30
	_, err := w.room.OperationDone(t.Context(), second.Operations[0].ID, true, w.now)
	require.NoError(t, err)
	p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	require.Equal(t, brisbane("2026-03-02", 8, 0), w.begins(first.ID, "cut"))
	next, err := w.room.NextStep(t.Context(), true)
	require.NoError(t, err)
	require.Equal(t, first.Operations[0].ID, next.OperationID)
	w.weather("2026-03-02", "wd")
	next, err = w.room.NextStep(t.Context(), true)
	require.NoError(t, err)
	require.Equal(t, second.Operations[1].ID, next.OperationID, "nobody is sent into the rain")
	require.Equal(t, brisbane("2026-03-03", 8, 0), w.begins(first.ID, "cut"))
	require.Equal(t, brisbane("2026-03-02", 8, 0), w.begins(second.ID, "glue"), "indoors meanwhile")
	again, err := w.room.PlanLay(t.Context(), "it rains", workshop.PlanChange{})
	require.NoError(t, err)
	i := slices.IndexFunc(again.Steps, func(s workshop.PlanStep) bool { return s.BuildID == first.ID })
	require.Equal(t, brisbane("2026-03-03", 8, 0), again.Steps[i].StartsAt.UTC(), "the next days stay as they are, but not in the rain")

	// What the maker holds to a day stays there.
	held := day("2026-03-03")
	p, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{BuildID: first.ID, HoldTo: &held})
	require.NoError(t, err)
	_, err = w.room.PlanAccept(t.Context(), p.ID)
	require.NoError(t, err)
	w.weather("2026-03-03", "wwwd")
	require.Equal(t, brisbane("2026-03-03", 8, 0), w.begins(first.ID, "cut"))
}

// Without a forecast the wait is the mean of the place: with half of the days wet a
// minute of dry work waits (1-p)/(p(1-r)) = 0.5/(0.5 x 0.7) = 1.43 working days where days
// follow one another; weekends let the weather forget, so a little less.
func TestDryWorkWaitsAsLongAsThePlaceIsWet(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	require.NoError(t, w.room.RainDaysSet(t.Context(), [12]float64{15.5, 14, 15.5, 15, 15.5, 15, 15.5, 15.5, 15, 15.5, 15, 15.5}))
	b := w.build(2)
	require.Equal(t, brisbane("2026-03-02", 8, 40), w.begins(b.ID, "glue"))
	zone := time.FixedZone("Brisbane", 10*60*60)
	draws := func(a workshop.Ask) (sum float64) {
		bench, err := w.room.Bench(t.Context(), zone)
		require.NoError(t, err)
		all := make([]int, 200)
		for i := range all {
			all[i] = i
		}
		days, err := bench.FitDraws(a, []workshop.Start{{On: day("2026-03-02"), Draws: all}}, len(all))
		require.NoError(t, err)
		for _, d := range days {
			sum += d.Sub(day("2026-03-02")).Hours() / 24 / float64(len(days))
		}
		return sum
	}
	plain, dry := draws(workshop.Ask{Minutes: 60}), draws(workshop.Ask{Minutes: 60, DryMinutes: 60})
	require.InDelta(t, 2.0, dry-plain, 0.5, "1.43 working days of five in seven")
	w.dry("glue")
	at := w.begins(b.ID, "glue")
	require.True(t, at.After(brisbane("2026-03-03", 8, 0)) && at.Before(brisbane("2026-03-03", 12, 0)), "%v: 1.2 to 1.43 days of four hours after 8:40 on Monday", at)
}
