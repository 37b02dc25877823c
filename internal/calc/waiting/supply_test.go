package waiting

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// enumerated is the chance of at least k by going through every season and every outcome.
func enumerated(s *Supply, on time.Time, k int) float64 {
	splits, settling := s.rates.unknown()
	total := 0.0
	for _, node := range nodes {
		for bits := range 1 << len(s.seasons) {
			chances, weight := append([]float64{}, s.ready...), 0.5
			for i, year := range s.seasons {
				by := s.seasonBy(year, on)
				good, bad := s.chances(&by, 1+node*splits, 1+node*settling)
				q := s.rates.badOf(year)
				if bits>>i&1 == 1 {
					chances, weight = append(chances, bad...), weight*q
				} else {
					chances, weight = append(chances, good...), weight*(1-q)
				}
			}
			for mask := range 1 << len(chances) {
				p, n := weight, 0
				for i, c := range chances {
					if mask>>i&1 == 1 {
						p, n = p*c, n+1
					} else {
						p *= 1 - c
					}
				}
				if n >= k {
					total += p
				}
			}
		}
	}
	return total
}

func TestTailAgainstEnumeration(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		l := Log{StandYears: rapid.Float64Range(0, 50).Draw(t, "years"), StandLost: rapid.IntRange(0, 5).Draw(t, "lost")}
		for i := range rapid.IntRange(0, 12).Draw(t, "fates") {
			from := date("2024-09-20").AddDate(0, 3*i, 0)
			l.Settlings = append(l.Settlings, Settling{from, from.AddDate(0, 0, rapid.IntRange(30, 120).Draw(t, "days")), rapid.SampledFrom([]string{Settled, Lost, Open}).Draw(t, "how")})
		}
		h := Herd{Today: date("2026-11-10"), Ready: rapid.IntRange(0, 3).Draw(t, "ready")}
		for range rapid.IntRange(0, 3).Draw(t, "pending") {
			h.Pending = append(h.Pending, Pending{From: h.Today.AddDate(0, 0, -rapid.IntRange(0, 150).Draw(t, "age"))})
		}
		for range rapid.IntRange(0, 2).Draw(t, "mothers") {
			h.Mothers = append(h.Mothers, h.Today.AddDate(0, 0, -rapid.IntRange(0, 600).Draw(t, "rested")))
		}
		s := Reckon(Learn(southern, l), h)
		on := h.Today.AddDate(0, 0, rapid.IntRange(0, 600).Draw(t, "on"))
		most := rapid.IntRange(1, 6).Draw(t, "most")
		for k, p := range s.Tail(on, most) {
			require.InDelta(t, enumerated(s, on, k+1), p, 1e-9, "at least %d", k+1)
		}
	})
}

// Every chance in the tail falls with the place and climbs with the day.
func TestTailIsACurve(t *testing.T) {
	t.Parallel()
	s := herdOf(3, 4, 12)
	before := make([]float64, 20)
	for d := 0; d < 1400; d += 20 {
		tail := s.Tail(s.herd.Today.AddDate(0, 0, d), 20)
		for k, p := range tail {
			require.GreaterOrEqual(t, p, before[k]-1e-9)
			require.LessOrEqual(t, p, 1+1e-9)
			if k > 0 {
				require.LessOrEqual(t, p, tail[k-1]+1e-12)
			}
		}
		before = tail
	}
}

func herdOf(ready, pending, mothers int) *Supply {
	h := Herd{Today: date("2026-11-10"), Ready: ready}
	for i := range pending {
		h.Pending = append(h.Pending, Pending{From: h.Today.AddDate(0, 0, -7*i)})
	}
	for i := range mothers {
		h.Mothers = append(h.Mothers, h.Today.AddDate(0, 0, -30*(i%20)))
	}
	return Reckon(Learn(southern, Log{}), h)
}

func TestPlacesAndCurvesAgree(t *testing.T) {
	t.Parallel()
	s := herdOf(2, 3, 10)
	stay := []float64{0.9, 1, 0.5, 0.95, 0.95, 0.95, 0.8, 1, 1, 1}
	places := s.Places(stay, 0.8)
	require.Equal(t, s.herd.Today, *places[0], "two are ready")
	var last time.Time
	for k, on := range places {
		points, first := s.Curve(Before(stay[:k]), 1, 0.8)
		require.NotNil(t, on, "place %d", k+1)
		require.Equal(t, *on, *first)
		require.False(t, on.Before(last))
		last = *on
		require.GreaterOrEqual(t, s.By(*on, stay[:k], 1), 0.8-1e-9)
		if on.After(s.herd.Today) {
			require.Less(t, s.By(on.AddDate(0, 0, -7), stay[:k], 1), 0.8)
		}
		require.LessOrEqual(t, len(points), 60)
	}
	require.Nil(t, herdOf(1, 0, 0).Places([]float64{1, 1}, 0.8)[1], "one colony and nobody kept to be split: the second has no day")
	require.Empty(t, s.Places(nil, 0.8))
	// One before who stays for sure, or drops out for sure.
	on := date("2026-11-10")
	require.InDelta(t, s.By(on, Before{0}, 1), s.By(on, nil, 1), 1e-12)
	require.InDelta(t, s.By(on, Before{1}, 1), s.By(on, nil, 2), 1e-12)
	require.InDelta(t, 0.3*s.By(on, nil, 2)+0.7*s.By(on, nil, 1), s.By(on, Before{0.3}, 1), 1e-12)
}

// A split that has not settled long after the usual time has most likely failed unseen.
func TestOverdueSplitFades(t *testing.T) {
	t.Parallel()
	r := Learn(southern, Log{})
	chance := func(weeks int) float64 {
		h := Herd{Today: date("2026-11-10")}
		h.Pending = []Pending{{From: h.Today.AddDate(0, 0, -7*weeks)}}
		return Reckon(r, h).Tail(date("2030-01-01"), 1)[0]
	}
	require.Greater(t, chance(2), 0.75)
	require.Less(t, chance(30), 0.4)
	require.Less(t, chance(60), 0.05)
	h := Herd{Today: date("2026-11-10"), Pending: []Pending{{From: date("2026-08-01"), Expected: 30}}}
	slow := Reckon(r, h)
	require.Less(t, slow.Tail(date("2026-12-15"), 1)[0], 0.2, "the maker said that it takes 30 weeks")
}

// Four in five: invented herds of laws that the reckoning does not know live on, and the
// share of places served by their day is counted. Each herd counts once.
func TestFourInFiveIsKept(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name  string
		law   law
		years int
		low   float64
	}{
		{"a law it is made for, ten years of log", known, 10, 0.75},
		{"another law, ten years of log", other, 10, 0.75},
		{"another law, two years of log", other, 2, 0.75},
		{"another law, a first year", other, 1, 0.75},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			kept, of, far := 0, 0, 0
			for i := range 300 {
				rng := rand.New(rand.NewPCG(uint64(i), uint64(tt.years)))
				cut := date("2026-01-01").AddDate(0, 0, rng.IntN(365))
				p := play(tt.law, rng, 6+rng.IntN(10), cut.AddDate(-tt.years, 0, 0), cut.AddDate(4, 0, 0))
				h, l := bookOf(p, cut)
				s := Reckon(Learn(southern, l), h)
				k := 1 + rng.IntN(12)
				stay := make([]float64, k)
				for j := range stay {
					stay[j] = 0.9
				}
				_, on := s.Curve(stay[:k-1], 1, 0.8)
				if on == nil || on.After(cut.AddDate(3, 0, 0)) {
					far++
					continue
				}
				ahead := 0
				for range k - 1 {
					if rng.Float64() < 0.9 {
						ahead++
					}
				}
				of++
				if settledBy(p, cut, *on) > ahead {
					kept++
				}
			}
			share := float64(kept) / float64(of)
			t.Logf("%d of %d kept: %.3f; %d without a day", kept, of, share, far)
			require.Less(t, far, 90)
			require.Greater(t, share, tt.low, "four in five, less two standard deviations of the count")
			require.Less(t, share, 0.96, "a day so late that it is always kept tells nothing")
		})
	}
}

// bookOf is what the book held of a herd on a day, all settled ones given away.
func bookOf(p played, cut time.Time) (Herd, Log) {
	h := Herd{Today: cut, Mothers: motherRests(p, cut)}
	l := Log{StandYears: p.log.StandYears, StandLost: p.log.StandLost}
	for _, r := range p.log.Rests {
		if !r.From.Before(cut) {
			continue
		}
		if !r.To.Before(cut) {
			r.To, r.Split = cut, false
		}
		l.Rests = append(l.Rests, r)
	}
	for _, s := range p.log.Settlings {
		if !s.From.Before(cut) {
			continue
		}
		if !s.To.Before(cut) {
			s.To, s.How = cut, Open
			h.Pending = append(h.Pending, Pending{From: s.From})
		}
		l.Settlings = append(l.Settlings, s)
	}
	return h, l
}

// settledBy counts what settled after a day, up to another.
func settledBy(p played, cut, on time.Time) int {
	n := 0
	for _, f := range p.bySplit {
		if !f.settled.IsZero() && f.settled.After(cut) && !f.settled.After(on) {
			n++
		}
	}
	return n
}

func BenchmarkCurveOfALongLine(b *testing.B) {
	h := Herd{Today: date("2026-11-10"), Ready: 20}
	for i := range 150 {
		h.Mothers = append(h.Mothers, h.Today.AddDate(0, 0, -10*(i%60)))
	}
	for i := range 60 {
		h.Pending = append(h.Pending, Pending{From: h.Today.AddDate(0, 0, -2*i)})
	}
	s := Reckon(Learn(southern, Log{}), h)
	before := make(Before, 100)
	for i := range before {
		before[i] = 0.95
	}
	b.Run("reckon", func(b *testing.B) {
		for b.Loop() {
			Reckon(s.rates, h)
		}
	})
	b.Run("curve", func(b *testing.B) {
		for b.Loop() {
			s.Curve(before, 1, 0.8)
		}
	})
	b.Run("places", func(b *testing.B) {
		for b.Loop() {
			s.Places(before, 0.8)
		}
	})
}
