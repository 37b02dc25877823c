package planning

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// skyOf is a sky of so many days of 1440 minutes with one chance.
func skyOf(days int, dry float64) Sky {
	var s Sky
	for d := range days {
		s.Days = append(s.Days, SkyDay{ToMinute: int64(d+1) * 1440, Dry: dry})
	}
	return s
}

// weekOf opens 8 to 15 on so many days of each week.
func weekOf(weeks, days int) []Spell {
	one := 1
	var list []Spell
	for d := range 7 * weeks {
		if d%7 < days {
			list = append(list, Spell{int64(d)*1440 + 480, int64(d)*1440 + 900, &one})
		}
	}
	return list
}

// waitedDays lives through wet and dry days from the first morning on, and gives the open
// minutes that pass before so many dry minutes begin, and before they are done.
func waitedDays(rng *rand.Rand, p, stays float64, days int, minutes float64) (begin, done float64) {
	dry, begun := false, false
	for d := 0; ; d++ {
		chance := p
		if d > 0 {
			if chance = p * (1 - stays); dry {
				chance = p + stays*(1-p)
			}
		}
		dry = rng.Float64() < chance
		switch {
		case d%7 >= days:
		case !dry:
			done += 420
			if !begun {
				begin += 420
			}
		case minutes > 420:
			begun, minutes, done = true, minutes-420, done+420
		default:
			return begin, done + minutes
		}
	}
}

// The wait for dry weather is the mean of a chain of wet and dry days: by its closed form
// (1-p)/(p(1-r)) days where every day is a working day, and by living through it.
// Source: Gabriel and Neumann, Q. J. R. Meteorol. Soc. 88 (1962) 90-95, mean length of
// wet spells; from memory, checked by the simulation.
func TestDryStartIsTheMeanWait(t *testing.T) {
	t.Parallel()
	for _, p := range []float64{0.25, 0.5, 0.7, 0.9} {
		for _, days := range []int{5, 7} {
			cal, sky := weekOf(60, days), skyOf(420, p)
			begin := sky.DryStart(cal, 0, 60)
			got := float64(openOfDay(cal, 0, begin))
			if days == 7 {
				require.InDelta(t, 420*(1-p)/(p*(1-skyStays)), got, 4, "p %g, chances below surelyBegun are cut off", p)
			}
			rng := rand.New(rand.NewPCG(3, uint64(100*p)))
			const lives = 40000
			sum := 0.0
			for range lives {
				b, _ := waitedDays(rng, p, skyStays, days, 60)
				sum += b
			}
			require.InDelta(t, sum/lives, got, 420*0.02/p, "p %g, %d days", p, days)
		}
	}
}

// Long work takes its minutes over the chance of a dry day, and the wait for its first.
func TestLongDryWorkTakesItsMinutesOverTheChance(t *testing.T) {
	t.Parallel()
	cal, sky := weekOf(60, 7), skyOf(420, 0.6)
	const minutes = 8400 // twenty days
	begin := sky.DryStart(cal, 0, minutes)
	got := float64(openOfDay(cal, 0, begin)) + minutes
	rng := rand.New(rand.NewPCG(5, 5))
	const lives = 20000
	sum := 0.0
	for range lives {
		_, d := waitedDays(rng, 0.6, skyStays, 7, minutes)
		sum += d
	}
	require.InEpsilon(t, sum/lives, got, 0.03)
	require.InEpsilon(t, minutes/0.6, got, 0.05, "minutes over chance")
}

// By hand, 8 to 15 on each of seven days.
func TestDryStartKnowsDays(t *testing.T) {
	t.Parallel()
	cal := weekOf(4, 7)
	sky := func(marks ...float64) Sky {
		s := skyOf(28, 0.9999)
		for k, m := range marks {
			if m >= 0 {
				s.Days[k].Known, s.Days[k].Dry = true, m
			}
		}
		return s
	}
	tests := []struct {
		name                string
		sky                 Sky
		from, minutes, want int64
	}{
		{"no weather", Sky{}, 600, 60, 600},
		{"dry today", sky(1), 600, 60, 600},
		{"wet today, dry tomorrow", sky(0, 1), 600, 60, 1440 + 480},
		{"two wet days", sky(0, 0, 1), 600, 60, 2*1440 + 480},
		{"too long for the dry day before a wet one", sky(1, 0, 1, 1, 1), 480, 421, 2*1440 + 480},
		{"fits the dry day before a wet one", sky(1, 0, 1), 480, 420, 480},
		{"before the hours of a dry day", sky(0, 1), 0, 60, 1440 + 480},
		{"beyond the calendar", sky(), 28 * 1440, 60, math.MaxInt64},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, tt.want, tt.sky.DryStart(cal, tt.from, tt.minutes))
		})
	}
	wet := sky(1, 0, 1)
	require.True(t, wet.OnWetDay(cal, 1440+480, 1440+500))
	require.True(t, wet.OnWetDay(cal, 800, 2*1440+490), "over a wet day")
	require.False(t, wet.OnWetDay(cal, 480, 900))
	require.False(t, wet.OnWetDay(cal, 900, 1440+480), "closed time of a wet day")
}

// dryCourse is a plan of jobs one behind the other with its dry steps named "dry...".
func dryCourse(t *testing.T, sky Sky, raw string) *Course {
	t.Helper()
	in := luckyIn(t, raw)
	in.Calendar = weekOf(60, 7)
	out := mustPlan(t, in)
	c, err := NewCourse(in, out, 0)
	require.NoError(t, err)
	var steps []DryStep
	for _, j := range in.Jobs {
		if strings.HasPrefix(j.ID, "dry") {
			steps = append(steps, DryStep{Job: j.ID})
		}
	}
	c.NeedsDry(sky, steps)
	return c
}

// A step that needs dry weather, alone: how often it is done on the first, second, third
// day must follow the chain, its season drawn anew each time. Against living through it.
func TestCourseUnderTheSky(t *testing.T) {
	t.Parallel()
	const p, draws = 0.6, 6000
	c := dryCourse(t, skyOf(420, p), `{"jobs": [{"id": "dry", "due_minute": 0, "weight": 1, "minutes": 60}]}`)
	ends := c.Ends(NewLaw(Luck{}, draws), []int{0}, allOf(draws))[0]
	rng := rand.New(rand.NewPCG(9, 9))
	var want, got [6]float64
	for range 20 * draws {
		season := math.Exp(skySeasons * rng.NormFloat64())
		begin, _ := waitedDays(rng, p*season/(1-p+p*season), skyStays, 7, 60)
		want[min(5, int(begin/420))] += 1.0 / (20 * draws)
	}
	for _, e := range ends {
		got[min(5, int(e/1440))] += 1.0 / draws
	}
	for d := range got {
		require.InDelta(t, want[d], got[d], 0.02, "day %d", d+1)
	}
	require.Equal(t, ends, c.Ends(NewLaw(Luck{}, draws), []int{0}, allOf(draws))[0], "same question, same answer")
}

// By hand: while dry work waits, the next goes first, and what waits for it goes behind.
func TestWetDaysLetOthersGoFirst(t *testing.T) {
	t.Parallel()
	sky := skyOf(420, 0.5)
	for k, dry := range []float64{0, 0, 1, 0, 1, 1} {
		sky.Days[k].Known, sky.Days[k].Dry = true, dry
	}
	const raw = `{"jobs": [{"id": "dry a", "due_minute": 0, "weight": 9, "minutes": 60}, {"id": "b", "due_minute": 0, "weight": 5, "minutes": 300, "predecessors": ["dry a"]},
	  {"id": "c", "due_minute": 0, "weight": 0.1, "minutes": 420}, {"id": "dry d", "due_minute": 9000, "weight": 0.01, "minutes": 420}]}`
	c := dryCourse(t, sky, raw)
	ends := c.Ends(NewLaw(Luck{}, 1), allOf(4), []int{0})
	require.EqualValues(t, 900, ends[2][0], "c on the first, wet day")
	require.EqualValues(t, 2*1440+540, ends[0][0], "a on the third, the first dry one")
	require.EqualValues(t, 2*1440+840, ends[1][0], "b behind it")
	// d takes the last hour of the third day, and the rest of it on the fifth.
	require.EqualValues(t, 4*1440+480+360, ends[3][0])
}

// Under an ever dry sky a course is what it is without one.
func TestAnEverDrySkyChangesNothing(t *testing.T) {
	t.Parallel()
	in := workshopIn(4, 12, 5, 2)
	one, last := 1, in.Calendar[len(in.Calendar)-1].ToMinute/1440+1
	for d := range int64(300) {
		in.Calendar = append(in.Calendar, Spell{(last+d)*1440 + 480, (last+d)*1440 + 900, &one})
	}
	out := mustPlan(t, in)
	sky := skyOf(600, 1)
	for k := range sky.Days {
		sky.Days[k].Known = true
	}
	plain, err := NewCourse(in, out, 0)
	require.NoError(t, err)
	under, err := NewCourse(in, out, 0)
	require.NoError(t, err)
	under.NeedsDry(sky, []DryStep{{Job: "b2", Step: 1}, {Job: "b5"}, {Job: "b7", Step: 4}})
	law := NewLaw(Learn([]float64{1.2, 0.8, 1}), 30)
	want, got := plain.Ends(law, allOf(12), allOf(30)), under.Ends(law, allOf(12), allOf(30))
	for j := range want {
		for d := range want[j] {
			require.LessOrEqual(t, math.Abs(float64(want[j][d]-got[j][d])), 1.0, "rounding alone")
		}
	}
	// The same steps under a real sky are never sooner, and are all done.
	wet, err := NewCourse(in, out, 0)
	require.NoError(t, err)
	wet.NeedsDry(skyOf(600, 0.5), []DryStep{{Job: "b2", Step: 1}, {Job: "b5"}, {Job: "b7", Step: 4}})
	late := wet.Ends(law, allOf(12), allOf(30))
	for _, j := range []int{2, 5, 7} {
		require.Less(t, slices.Max(late[j]), int64(math.MaxInt64))
		sum := int64(0)
		for d := range late[j] {
			sum += late[j][d] - want[j][d]
		}
		require.Positive(t, sum)
	}
}
