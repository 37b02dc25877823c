package supply

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

// alike gives n colonies of one chance, all ready on one day.
func alike(n int, p float64) []Colony {
	cs := make([]Colony, n)
	for i := range cs {
		cs[i] = Colony{fmt.Sprint("c", i), "2026-10-01", p}
	}
	return cs
}

func TestSupplyBinomialTable(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name   string
		n      int
		p      float64
		k      int
		want   float64 // printed: 1 - Pr[X <= k-1]
		source string
	}{
		{"5 at even odds", 5, 0.5, 3, 0.5, "symmetry"},
		{"10 at 0.3, 4 or more", 10, 0.3, 4, 1 - 0.6496, "cumulative binomial table, n=10 p=.30 x=3: .6496 (from memory)"},
		{"20 at 0.4, 9 or more", 20, 0.4, 9, 1 - 0.5956, "cumulative binomial table, n=20 p=.40 x=8: .5956 (from memory)"},
		{"15 at 0.2, 4 or more", 15, 0.2, 4, 1 - 0.6482, "cumulative binomial table, n=15 p=.20 x=3: .6482 (from memory)"},
		{"one of three at 0.9", 3, 0.9, 1, 0.999, "1 - 0.1^3"},
		{"all of three at 0.9", 3, 0.9, 3, 0.729, "0.9^3"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			out, err := Supply(context.Background(), In{Colonies: alike(tt.n, tt.p), PlaceInLine: tt.k})
			require.NoError(t, err)
			require.Len(t, out.Curve, 1)
			require.InDelta(t, tt.want, out.Curve[0].Chance, 0.00005, tt.source)
			require.InDelta(t, binomialTail(tt.n, tt.k, tt.p), out.Curve[0].Chance, 1e-12, "closed form")
		})
	}
}

// binomialTail is Pr[X >= k] by the closed form with log-gamma.
func binomialTail(n, k int, p float64) float64 {
	lg := func(x int) float64 { v, _ := math.Lgamma(float64(x + 1)); return v }
	sum := 0.0
	for s := k; s <= n; s++ {
		sum += math.Exp(lg(n) - lg(s) - lg(n-s) + float64(s)*math.Log(p) + float64(n-s)*math.Log(1-p))
	}
	return sum
}

// enumerated is the chance on a day by going through every possible outcome.
func enumerated(in In, day string) float64 {
	season := func(f float64) float64 {
		total := 0.0
		for mask := 0; mask < 1<<len(in.Colonies); mask++ {
			p, ready := 1.0, 0
			for i, c := range in.Colonies {
				chance := c.Chance * f
				if c.ReadyOn > day {
					chance = 0
				}
				if mask>>i&1 == 1 {
					p, ready = p*chance, ready+1
				} else {
					p *= 1 - chance
				}
			}
			if ready >= in.PlaceInLine {
				total += p
			}
		}
		return total
	}
	q := in.SharedBadSeasonChance
	return (1-q)*season(1) + q*season(in.BadSeasonFactor)
}

func TestSupplyAgainstEnumeration(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := In{
			PlaceInLine:           rapid.IntRange(1, 7).Draw(t, "place"),
			SharedBadSeasonChance: rapid.Float64Range(0, 1).Draw(t, "bad"),
			BadSeasonFactor:       rapid.Float64Range(0, 1).Draw(t, "factor"),
		}
		days := map[string]bool{}
		for i := range rapid.IntRange(0, 9).Draw(t, "n") {
			c := Colony{fmt.Sprint("c", i), fmt.Sprintf("2026-10-%02d", rapid.IntRange(1, 5).Draw(t, "day")), rapid.Float64Range(0, 1).Draw(t, "p")}
			in.Colonies, days[c.ReadyOn] = append(in.Colonies, c), true
		}
		pct := rapid.Float64Range(1, 100).Draw(t, "certainty")
		in.CertaintyPct = &pct
		out, err := Supply(context.Background(), in)
		require.NoError(t, err)
		require.Len(t, out.Curve, len(days), "a point on every day")
		first := ""
		for _, pt := range out.Curve {
			want := enumerated(in, pt.On)
			require.InDelta(t, want, pt.Chance, 1e-12)
			if first == "" && want >= pct/100-chanceTol {
				first = pt.On
			}
		}
		require.Equal(t, first, out.ReadyOn)
		require.Equal(t, first == "", out.Never)
	})
}

func TestSupplyDates(t *testing.T) {
	t.Parallel()
	pct := func(v float64) *float64 { return &v }
	cs := []Colony{{"late", "2026-12-01", 0.75}, {"early", "2026-09-01", 0.5}, {"mid", "2026-10-15", 0.25}}
	tests := []struct {
		name   string
		in     In
		on     string
		last   float64
		source string
	}{
		{"one of three, even odds", In{Colonies: cs, PlaceInLine: 1, CertaintyPct: pct(50)}, "2026-09-01", 0.90625, "1 - .5*.75*.25"},
		{"one of three, 62.5 is just reached", In{Colonies: cs, PlaceInLine: 1, CertaintyPct: pct(62.5)}, "2026-10-15", 0.90625, "1 - .5*.75"},
		{"one of three at four in five", In{Colonies: cs, PlaceInLine: 1}, "2026-12-01", 0.90625, "default certainty of the contract"},
		{"three of three", In{Colonies: cs, PlaceInLine: 3}, "", 0.09375, ".5*.25*.75"},
		{"four of three", In{Colonies: cs, PlaceInLine: 4}, "", 0, "nobody can be fourth of three"},
		{"bad season halves all", In{Colonies: cs, PlaceInLine: 1, SharedBadSeasonChance: 0.5, BadSeasonFactor: 0.5}, "", 0.5*0.90625 + 0.5*(1-0.75*0.875*0.625), "mixture by hand"},
		{"bad season for certain, nothing left", In{Colonies: cs, PlaceInLine: 1, SharedBadSeasonChance: 1}, "", 0, "factor 0 by default"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			out, err := Supply(context.Background(), tt.in)
			require.NoError(t, err)
			require.Equal(t, tt.on, out.ReadyOn, tt.source)
			require.Equal(t, tt.on == "", out.Never)
			require.InDelta(t, tt.last, out.Curve[len(out.Curve)-1].Chance, 1e-15, tt.source)
		})
	}
}

func TestSupplyRefuses(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	ok := Colony{"a", "2026-10-01", 0.5}
	tests := []struct{ name, pointer, raw string }{
		{"place zero", "/place_in_line", `{"colonies": [], "place_in_line": 0}`},
		{"chance above one", "/colonies/0/chance", `{"colonies": [{"id": "a", "ready_on": "2026-10-01", "chance": 1.5}], "place_in_line": 1}`},
		{"no such day", "/colonies/0/ready_on", `{"colonies": [{"id": "a", "ready_on": "2026-02-29", "chance": 1}], "place_in_line": 1}`},
		{"equal ids", "/colonies/1/id", `{"colonies": [{"id": "a", "ready_on": "2026-10-01", "chance": 1}, {"id": "a", "ready_on": "2026-10-01", "chance": 1}], "place_in_line": 1}`},
		{"no id", "/colonies/0/id", `{"colonies": [{"ready_on": "2026-10-01", "chance": 1}], "place_in_line": 1}`},
		{"certainty of nothing", "/certainty_pct", `{"colonies": [], "place_in_line": 1, "certainty_pct": 0}`},
		{"factor above one", "/bad_season_factor", `{"colonies": [], "place_in_line": 1, "bad_season_factor": 2}`},
		{"bad season chance negative", "/shared_bad_season_chance", `{"colonies": [], "place_in_line": 1, "shared_bad_season_chance": -0.1}`},
		{"unknown field", "/place", `{"colonies": [], "place": 1}`},
	}
	topic := Topics()[0]
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := topic.Run(context.Background(), []byte(tt.raw))
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tt.pointer, bad.Fields[0].Pointer)
		})
	}
	_, err := Supply(context.Background(), In{Colonies: []Colony{{"a", "2026-10-01", nan}}, PlaceInLine: 1})
	require.ErrorContains(t, err, "/colonies/0/chance")
	many := make([]Colony, MaxColonies+1)
	for i := range many {
		many[i] = ok
	}
	_, err = Supply(context.Background(), In{Colonies: many, PlaceInLine: 1})
	require.ErrorContains(t, err, "at most")
}

func TestSupplyJSON(t *testing.T) {
	t.Parallel()
	topic := Topics()[0]
	out, err := topic.Run(context.Background(), []byte(topic.Example))
	require.NoError(t, err)
	require.Equal(t, "2026-11-15", out.(Out).ReadyOn, "0.9 x 0.902 + 0.1 x 0.3515 = 0.847, by hand")

	out, err = topic.Run(context.Background(), []byte(`{"colonies": [], "place_in_line": 1}`))
	require.NoError(t, err)
	raw, err := json.Marshal(out)
	require.NoError(t, err)
	require.JSONEq(t, `{"never": true, "curve": []}`, string(raw), "contract: never stands in place of ready_on, an empty list is []")
}

func FuzzSupply(f *testing.F) {
	topic := Topics()[0]
	f.Add([]byte(topic.Example))
	f.Fuzz(func(t *testing.T, raw []byte) {
		out, err := topic.Run(context.Background(), raw)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		before := 0.0
		for _, pt := range out.(Out).Curve {
			require.GreaterOrEqual(t, pt.Chance, before-1e-12)
			require.LessOrEqual(t, pt.Chance, 1.0)
			before = pt.Chance
		}
	})
}
