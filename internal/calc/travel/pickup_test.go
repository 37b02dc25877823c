package travel

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Runs as they are driven: up to nine stops by their coordinates, hives fetched before they
// are delivered, sums in every order that keeps the pairs. The exhaustive search is [shortest].
func TestPickUpBeforeDeliveryAgainstEveryOrder(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(11, 25))
	for i := range 60 {
		n := 3 + i%7 // 3 to 9 stops
		in := RunIn{Start: Mark{ID: "0"}, Return: ptr(i%3 != 0), DetourFactor: ptr(1 + float64(i%4)/5)}
		for s := range n {
			in.Stops = append(in.Stops, Stop{strconv.Itoa(s), -27 - 2*random.Float64(), 151 + 2*random.Float64()})
		}
		if i%5 == 4 { // two hives stand at one place
			in.Stops[n-1].Latitude, in.Stops[n-1].Longitude = in.Stops[1].Latitude, in.Stops[1].Longitude
		}
		var before [][]Mark
		for p := 1; p+1 < n; p += 2 {
			if random.IntN(4) > 0 {
				in.Before = append(in.Before, []Mark{{ID: strconv.Itoa(p)}, {ID: strconv.Itoa(p + 1)}})
				before = append(before, []Mark{index(p), index(p + 1)})
			}
		}
		if n >= 5 && i%2 == 0 { // one pick-up serves two deliveries
			in.Before = append(in.Before, []Mark{{ID: "1"}, {ID: "4"}})
			before = append(before, []Mark{index(1), index(4)})
		}
		out := run(t, in)
		require.True(t, out.Proved)
		want := shortest(n, 0, *in.Return, before, func(a, b int) float64 {
			return *in.DetourFactor * geodesicM(in.Stops[a].Latitude, in.Stops[a].Longitude, in.Stops[b].Latitude, in.Stops[b].Longitude) / 1000
		})
		require.InDelta(t, want, out.KM, 1e-9*(1+want), "run %d", i)
	}
}

// Fresh pairs against GeodSolve of GeographicLib (C. F. F. Karney), where it is installed:
// all over the Earth, a garden apart, along the equator and a meridian, at the poles, and
// nearly antipodal, where simpler methods do not end.
func TestDistanceAgainstGeodSolve(t *testing.T) {
	t.Parallel()
	tool, err := exec.LookPath("GeodSolve")
	if err != nil {
		t.Log("GeodSolve is not installed (package geographiclib-tools); the printed pairs in testdata stand alone")
		return
	}
	random := rand.New(rand.NewPCG(9, 26))
	at := func() Place {
		return Place{math.Asin(2*random.Float64()-1) * 180 / math.Pi, 360*random.Float64() - 180}
	}
	var pairs [][2]Place
	for i := range 400 {
		a := at()
		b := at()
		tiny := func(scale float64) float64 { return scale * (2*random.Float64() - 1) }
		switch i % 8 {
		case 1: // in one yard
			b = Place{clampLat(a.Latitude + tiny(1e-4)), clampLon(a.Longitude + tiny(1e-4))}
		case 2, 3: // nearly antipodal
			b = Place{clampLat(-a.Latitude + tiny(0.5)), clampLon(opposite(a.Longitude) + tiny(0.5))}
		case 4: // antipodal on or near the equator, the hardest of all
			a.Latitude = tiny(1e-3)
			b = Place{tiny(1e-3), clampLon(opposite(a.Longitude) + tiny(0.7))}
		case 5: // exactly antipodal
			b = Place{-a.Latitude, opposite(a.Longitude)}
		case 6: // on one meridian, or from a pole
			b.Longitude = a.Longitude
			if i%16 == 6 {
				a.Latitude = math.Copysign(90, a.Latitude)
			}
		case 7: // along the equator
			a.Latitude, b.Latitude = 0, 0
		}
		pairs = append(pairs, [2]Place{a, b})
	}
	var lines strings.Builder
	for _, p := range pairs {
		fmt.Fprintf(&lines, "%.15f %.15f %.15f %.15f\n", p[0].Latitude, p[0].Longitude, p[1].Latitude, p[1].Longitude)
	}
	cmd := exec.CommandContext(t.Context(), tool, "-i", "-p", "6")
	cmd.Stdin = strings.NewReader(lines.String())
	raw, err := cmd.Output()
	require.NoError(t, err)
	sc := bufio.NewScanner(strings.NewReader(string(raw)))
	worst := 0.0
	for i, p := range pairs {
		require.True(t, sc.Scan(), "GeodSolve answers every pair")
		fields := strings.Fields(sc.Text())
		want, err := strconv.ParseFloat(fields[len(fields)-1], 64)
		require.NoError(t, err)
		got := metres(t, p[0], p[1])
		worst = math.Max(worst, math.Abs(got-want))
		require.InDelta(t, want, got, 1e-5, "pair %d: %v", i, p)
	}
	t.Logf("%d pairs, at most %.1e m apart", len(pairs), worst)
}

func clampLat(v float64) float64 { return math.Max(-90, math.Min(90, v)) }

func clampLon(v float64) float64 { return math.Max(-180, math.Min(180, v)) }

func opposite(lon float64) float64 {
	if lon > 0 {
		return lon - 180
	}
	return lon + 180
}
