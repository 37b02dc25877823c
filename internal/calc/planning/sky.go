package planning

import (
	"math"
	"math/rand/v2"
	"sort"
)

// skyStays is how far the weather of a day is that of the day before: the correlation of
// dry and wet from one day to the next, as in a chain of two states. Our estimate; K. R.
// Gabriel and J. Neumann, Q. J. R. Meteorol. Soc. 88 (1962) 90-95, found 0.41 in Tel Aviv
// (from memory).
const skyStays = 0.3

// skySeasons is how much wetter or drier than the mean one stretch of months is, as the
// standard deviation of the log of the odds of a dry day; our estimate.
const skySeasons = 0.35

// surelyBegun is the chance of still waiting below which a wait is looked at no further.
const surelyBegun = 1e-4

// Sky is how dry the days of a plan are, for work that needs dry weather. Days follow one
// another without a gap from before the plan's origin on; what lies beyond the last is
// like it. The zero Sky is always dry.
type Sky struct {
	Days []SkyDay
}

// SkyDay is a day of the clock.
type SkyDay struct {
	ToMinute int64   // the first minute after it
	Dry      float64 // chance that it is dry, above 0; of a known day 0 or 1
	Known    bool
}

func (s Sky) day(minute int64) int {
	k := sort.Search(len(s.Days), func(k int) bool { return s.Days[k].ToMinute > minute })
	return min(k, len(s.Days)-1)
}

// given is the chance that day k is dry when an earlier day was, or was not.
func (s Sky) given(k, earlier int, dry bool) float64 {
	d := s.Days[k]
	if d.Known {
		return d.Dry
	}
	stays := math.Pow(skyStays, float64(k-earlier))
	if dry {
		return d.Dry + stays*(1-d.Dry)
	}
	return d.Dry * (1 - stays)
}

// chance is that day k is dry, as far as the day before it is known.
func (s Sky) chance(k int) float64 {
	if k > 0 && s.Days[k-1].Known {
		return s.given(k, k-1, s.Days[k-1].Dry > 0)
	}
	return s.Days[k].Dry
}

// skyLooks bounds how many working days a wait for dry weather is followed.
const skyLooks = 120

// DryStart gives the minute at which work of so many minutes that needs dry weather is
// expected to begin when it is ready at minute from. It waits through wet working days,
// each of which passes with all its open time, in which the hands do other work; work that
// runs on beyond the day it begins on waits again in the measure of its chance. It lies on
// no day that is known as wet. math.MaxInt64 where the calendar ends before.
//
// With p the chance of a dry day, r the correlation of neighbouring days and days of H open
// minutes the wait is (1-p) / (p (1-r)) x H from the beginning of a day, and of the
// minutes m beyond the first day m (1-p) / p: a step of long work takes m / p.
// Source: mean of a geometric law, with the chain of Gabriel and Neumann; by hand.
func (s Sky) DryStart(calendar []Spell, from, minutes int64) int64 {
	if len(s.Days) == 0 {
		return from
	}
	begin := after(calendar, from, s.dryWait(calendar, from))
	if begin == math.MaxInt64 {
		return begin
	}
	if more := minutes - openOfDay(calendar, begin, s.Days[s.day(begin)].ToMinute); more > 0 && !s.Days[s.day(begin)].Known {
		p := s.Days[s.day(begin)].Dry
		begin = after(calendar, begin, float64(more)*(1-p)/p)
	}
	return s.clear(calendar, begin, minutes)
}

// dryWait is the open time that is expected to pass from minute from to the beginning of
// the first dry working day, 0 where that is the day of from.
func (s Sky) dryWait(calendar []Spell, from int64) float64 {
	wait, left, last, looked := 0.0, 1.0, -1, 0
	first := sort.Search(len(calendar), func(k int) bool { return calendar[k].ToMinute > from })
	for _, spell := range calendar[first:] {
		start := max(from, spell.FromMinute)
		if k := s.day(start); k != last {
			if looked++; left < surelyBegun || looked > skyLooks {
				return wait
			}
			p := 0.0
			if last < 0 {
				p = s.chance(k)
			} else {
				p = s.given(k, last, false)
			}
			left *= 1 - p
			last = k
		}
		wait += left * float64(spell.ToMinute-start)
	}
	return wait
}

// clear moves work from begin on off the days that are known as wet.
func (s Sky) clear(calendar []Spell, begin, minutes int64) int64 {
	for range len(s.Days) {
		end := after(calendar, begin, float64(minutes))
		if end == math.MaxInt64 {
			return end
		}
		wet := int64(-1)
		for k := s.day(begin); k < len(s.Days) && (k == 0 || s.Days[k-1].ToMinute < end); k++ {
			d, start := s.Days[k], begin
			if k > 0 {
				start = max(begin, s.Days[k-1].ToMinute)
			}
			if d.Known && d.Dry == 0 && openOfDay(calendar, start, min(end, d.ToMinute)) > 0 {
				wet = d.ToMinute
			}
		}
		if wet < 0 {
			return begin
		}
		if begin = after(calendar, wet, 0); begin == math.MaxInt64 {
			return begin
		}
	}
	return begin
}

// OnWetDay tells whether work between two minutes lies on a day that is known as wet.
func (s Sky) OnWetDay(calendar []Spell, start, end int64) bool {
	for k := 0; k < len(s.Days); k++ {
		from := int64(math.MinInt64)
		if k > 0 {
			from = s.Days[k-1].ToMinute
		}
		if s.Days[k].Known && s.Days[k].Dry == 0 && openOfDay(calendar, max(start, from), min(end, s.Days[k].ToMinute)) > 0 {
			return true
		}
	}
	return false
}

// openOfDay sums the open minutes between two minutes.
func openOfDay(calendar []Spell, from, to int64) int64 {
	var sum int64
	k := sort.Search(len(calendar), func(k int) bool { return calendar[k].ToMinute > from })
	for ; k < len(calendar) && calendar[k].FromMinute < to; k++ {
		sum += max(0, min(to, calendar[k].ToMinute)-max(from, calendar[k].FromMinute))
	}
	return sum
}

// after gives the minute at which so much open time has passed since from, or the first
// open one then; math.MaxInt64 where the calendar ends before.
func after(calendar []Spell, from int64, open float64) int64 {
	k := sort.Search(len(calendar), func(k int) bool { return calendar[k].ToMinute > from })
	left := int64(math.Round(open))
	for ; k < len(calendar); k++ {
		start := max(from, calendar[k].FromMinute)
		if room := calendar[k].ToMinute - start; left >= room {
			left -= room
			continue
		}
		return start + left
	}
	return math.MaxInt64
}

// draw gives for one course which days are dry.
func (s Sky) draw(rng *rand.Rand) []bool {
	dry := make([]bool, len(s.Days))
	season := math.Exp(skySeasons * rng.NormFloat64())
	for k, d := range s.Days {
		u, p := rng.Float64(), d.Dry
		if !d.Known {
			p = p * season / (1 - p + p*season)
			switch {
			case k > 0 && dry[k-1]:
				p += skyStays * (1 - p)
			case k > 0:
				p *= 1 - skyStays
			}
		}
		dry[k] = u < p
	}
	return dry
}
