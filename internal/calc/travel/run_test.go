package travel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/printed"
)

func index(i int) Mark { return Mark{Index: i, Number: true} }

func ptr[T any](v T) *T { return &v }

// requireRun is the tests' own checker: it looks at the input and the answer
// only, and shares nothing with the searches.
func requireRun(t require.TestingT, in RunIn, out RunOut) {
	all := map[Mark]int{}
	var leg func(i, j int) float64
	if in.MatrixKM != nil {
		for i := range in.MatrixKM {
			all[index(i)] = i
		}
		leg = func(i, j int) float64 { return in.MatrixKM[i][j] }
	} else {
		for i, s := range in.Stops {
			all[Mark{ID: s.ID}] = i
		}
		factor := 1.3
		if in.DetourFactor != nil {
			factor = *in.DetourFactor
		}
		leg = func(i, j int) float64 {
			a, b := in.Stops[i], in.Stops[j]
			return factor * geodesicM(a.Latitude, a.Longitude, b.Latitude, b.Longitude) / 1000
		}
	}
	require.Len(t, out.Order, len(all))
	require.Equal(t, in.Start, out.Order[0])
	when := map[Mark]int{}
	km := 0.0
	for i, m := range out.Order {
		_, known := all[m]
		_, twice := when[m]
		require.True(t, known && !twice, "%v is unknown or called at twice", m)
		when[m] = i
		if i > 0 {
			km += leg(all[out.Order[i-1]], all[m])
		}
	}
	if len(all) > 1 && (in.Return == nil || *in.Return) {
		km += leg(all[out.Order[len(all)-1]], all[out.Order[0]])
	}
	require.InDelta(t, km, out.KM, 1e-6*(1+km))
	for _, p := range in.Before {
		require.Less(t, when[p[0]], when[p[1]])
	}
	require.LessOrEqual(t, out.BoundKM, out.KM*(1+1e-9))
	if out.Proved {
		require.InDelta(t, out.KM, out.BoundKM, 1e-9*(1+out.KM))
	}
}

func run(t require.TestingT, in RunIn) RunOut {
	out, err := Run(context.Background(), in)
	require.NoError(t, err)
	requireRun(t, in, out)
	return out
}

// Up to 24 towns the optimum must be proved, up to 52 it must be found. The
// limit of time is far above the work limit, so that a busy machine changes nothing.
func TestTSPLIB(t *testing.T) {
	t.Parallel()
	for _, r := range printed.Records(t, "optimum.csv") {
		in := RunIn{MatrixKM: tsplib(t, r["file"]), Start: index(3), TimeLimitMS: ptr(60000)}
		began := time.Now()
		out := run(t, in)
		t.Log(r["instance"], out.KM, out.BoundKM, out.Proved, time.Since(began))
		require.Equal(t, printed.Number(t, r["optimum"]), out.KM, r["instance"]+": "+"TSPLIB's list of optimal lengths")
		if printed.Number(t, r["nodes"]) <= 24 {
			require.True(t, out.Proved, r["instance"])
		}
		require.Equal(t, out, run(t, in), "the same again")
	}
}

// shortest tries every order: slow, and nothing like the searches.
func shortest(n, start int, back bool, before [][]Mark, leg func(i, j int) float64) float64 {
	best := math.Inf(1)
	order := []int{start}
	done := make([]bool, n)
	done[start] = true
	var walk func(km float64)
	walk = func(km float64) {
		if len(order) == n {
			if back {
				km += leg(order[n-1], start)
			}
			best = math.Min(best, km)
			return
		}
		for s := range n {
			open := !done[s]
			for _, p := range before {
				open = open && (p[1].Index != s || done[p[0].Index])
			}
			if open {
				done[s] = true
				order = append(order, s)
				walk(km + leg(order[len(order)-2], s))
				order = order[:len(order)-1]
				done[s] = false
			}
		}
	}
	walk(0)
	return best
}

// drawTask draws small tables of every kind; pairs run along a hidden order, so
// that they never go round in a circle.
func drawTask(t *rapid.T, low, high int) RunIn {
	n := rapid.IntRange(low, high).Draw(t, "n")
	even, whole := rapid.Bool().Draw(t, "even"), rapid.Bool().Draw(t, "whole")
	km := make([][]float64, n)
	for i := range km {
		km[i] = make([]float64, n)
		for j := range km[i] {
			if even && j < i {
				km[i][j] = km[j][i]
			} else if whole {
				km[i][j] = float64(rapid.IntRange(0, 50).Draw(t, "km"))
			} else {
				km[i][j] = rapid.Float64Range(0, 100).Draw(t, "km")
			}
		}
	}
	in := RunIn{MatrixKM: km, Start: index(rapid.IntRange(0, n-1).Draw(t, "start")), Return: ptr(rapid.Bool().Draw(t, "return"))}
	hidden := rapid.Permutation(rapidRange(n)).Draw(t, "hidden")
	for range rapid.IntRange(0, n/2).Draw(t, "pairs") {
		a, b := rapid.IntRange(0, n-1).Draw(t, "a"), rapid.IntRange(0, n-1).Draw(t, "b")
		if a < b && hidden[b] != in.Start.Index {
			in.Before = append(in.Before, []Mark{index(hidden[a]), index(hidden[b])})
		}
	}
	for i, p := range in.Before { // the start stands first in the hidden order's stead
		if p[1] == in.Start {
			in.Before = append(in.Before[:i], in.Before[i+1:]...)
		}
	}
	return in
}

func rapidRange(n int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func TestSmallRunsAgainstEveryOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawTask(t, 1, 7)
		out := run(t, in)
		require.True(t, out.Proved)
		want := shortest(len(in.MatrixKM), in.Start.Index, *in.Return, in.Before, func(i, j int) float64 { return in.MatrixKM[i][j] })
		if len(in.MatrixKM) == 1 {
			want = 0 // no way back from where one stands
		}
		require.InDelta(t, want, out.KM, 1e-9)
	})
}

// The searches for large runs are put to small ones, where exact knows best.
func TestSearchesAgainstExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawTask(t, 5, 11)
		task, _, err := readRun(in)
		require.NoError(t, err)
		best := task.length(task.exact())
		uneven := task.solveUneven(context.Background())
		require.NoError(t, task.check(uneven.order))
		require.LessOrEqual(t, uneven.bound, best+1e-6)
		require.GreaterOrEqual(t, task.length(uneven.order), best-1e-9)
		if uneven.proved {
			require.InDelta(t, best, task.length(uneven.order), 1e-6)
		}
		if task.even && len(task.before) == 0 {
			a := task.solveEven(context.Background())
			require.NoError(t, task.check(a.order))
			require.True(t, a.proved)
			require.InDelta(t, best, task.length(a.order), 1e-6)
		}
	})
}

func TestSearchesFindTheBestOfSixteen(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(4, 4))
	for i := range 5 {
		in := RunIn{Start: Mark{ID: "0"}, Return: ptr(i%2 == 0)}
		for s := range 16 {
			in.Stops = append(in.Stops, Stop{strconv.Itoa(s), -27 - random.Float64(), 152 + random.Float64()})
		}
		if i >= 3 { // one-way streets: a table that differs by direction
			in = RunIn{MatrixKM: square(16, func(int, int) float64 { return 1 + random.Float64() }), Start: index(0), Return: in.Return}
			out := run(t, in)
			task, _, err := readRun(in)
			require.NoError(t, err)
			require.InDelta(t, out.KM, task.length(task.solveUneven(context.Background()).order), 1e-6, "run %d", i)
			continue
		}
		for p := 1; p <= i; p++ {
			in.Before = append(in.Before, []Mark{{ID: strconv.Itoa(2 * p)}, {ID: strconv.Itoa(2*p + 1)}})
		}
		task, _, err := readRun(in)
		require.NoError(t, err)
		out := run(t, in)
		require.True(t, out.Proved)
		require.InDelta(t, out.KM, task.length(task.solveUneven(context.Background()).order), 1e-6, "run %d", i)
	}
}

// towns scatters stops over a district of about 100 x 100 km.
func towns(n int) RunIn {
	random := rand.New(rand.NewPCG(uint64(n), 1))
	in := RunIn{Start: Mark{ID: "0"}}
	for s := range n {
		in.Stops = append(in.Stops, Stop{strconv.Itoa(s), -28 + random.Float64(), 152 + random.Float64()})
	}
	return in
}

// For random places in a square the shortest tour tends to 0.7124 sqrt(n A)
// (D. S. Johnson and L. A. McGeoch 1997); the search must come within 8 %.
func TestTwoThousandStopsInTime(t *testing.T) {
	t.Parallel()
	in := towns(2000)
	began := time.Now()
	out := run(t, in)
	t.Log(out.KM, out.BoundKM, time.Since(began))
	require.Less(t, time.Since(began), slower*5*time.Second, "a second of search on a busy machine")
	in.TimeLimitMS = ptr(60000) // only the work limit counts for how good it is
	out = run(t, in)
	area := 110.8 * 111.3 * math.Cos(27.5*math.Pi/180) // km^2 of one degree square there
	require.Less(t, out.KM/1.3, 1.08*0.7124*math.Sqrt(2000*area)*(1+0.33/2000))
	require.Greater(t, out.BoundKM, 0.9*out.KM)

	for i := range 400 {
		in.Before = append(in.Before, []Mark{{ID: strconv.Itoa(3*i + 1)}, {ID: strconv.Itoa(3*i + 2)}})
	}
	in.TimeLimitMS = ptr(300)
	began = time.Now()
	run(t, in)
	t.Log(time.Since(began))
	require.Less(t, time.Since(began), slower*5*time.Second)
}

func TestRunAnswersTheSameTwice(t *testing.T) {
	t.Parallel()
	in := towns(60)
	in.TimeLimitMS = ptr(60000)
	a := run(t, in)
	require.Equal(t, a, run(t, in))
	in.Stops = in.Stops[:24]
	in.Before = [][]Mark{{{ID: "5"}, {ID: "3"}}}
	require.Equal(t, run(t, in), run(t, in))
}

func TestRunBadInput(t *testing.T) {
	t.Parallel()
	square := `"matrix_km":[[0,1,2],[1,0,3],[2,3,0]]`
	stops := `"stops":[{"id":"a","latitude":-27,"longitude":153},{"id":"b","latitude":-28,"longitude":153}]`
	for _, tt := range []struct{ name, in, pointer string }{
		{"no stops at all", `{"start":"a"}`, "/stops"},
		{"an empty list", `{"stops":[],"start":"a"}`, "/stops"},
		{"both", `{` + stops + `,` + square + `,"start":"a"}`, "/matrix_km"},
		{"no start", `{` + stops + `}`, "/start"},
		{"unknown start", `{` + stops + `,"start":"c"}`, "/start"},
		{"an index for an id", `{` + stops + `,"start":0}`, "/start"},
		{"an id for an index", `{` + square + `,"start":"0"}`, "/start"},
		{"half a stop", `{` + square + `,"start":0.5}`, "/start"},
		{"a list for a stop", `{` + square + `,"start":0,"before":[[[1],2]]}`, "/before/0/0"},
		{"not square", `{"matrix_km":[[0,1],[1]],"start":0}`, "/matrix_km/1"},
		{"a negative way", `{"matrix_km":[[0,1],[-1,0]],"start":0}`, "/matrix_km/1/0"},
		{"twice the same id", `{"stops":[{"id":"a","latitude":1,"longitude":1},{"id":"a","latitude":2,"longitude":1}],"start":"a"}`, "/stops/1/id"},
		{"off the Earth", `{"stops":[{"id":"a","latitude":-95,"longitude":1}],"start":"a"}`, "/stops/0/latitude"},
		{"before itself", `{` + square + `,"start":0,"before":[[1,1]]}`, "/before/0"},
		{"before the start", `{` + square + `,"start":0,"before":[[1,0]]}`, "/before/0/1"},
		{"a circle", `{` + square + `,"start":0,"before":[[0,1],[1,2],[2,1]]}`, "/before/1"},
		{"three in a pair", `{` + square + `,"start":0,"before":[[0,1,2]]}`, "/before/0"},
		{"unknown in a pair", `{` + square + `,"start":0,"before":[[1,9]]}`, "/before/0/1"},
		{"a factor on a matrix", `{` + square + `,"start":0,"detour_factor":1.3}`, "/detour_factor"},
		{"roads shorter than straight", `{` + stops + `,"start":"a","detour_factor":0.5}`, "/detour_factor"},
		{"no time", `{` + stops + `,"start":"a","time_limit_ms":0}`, "/time_limit_ms"},
	} {
		_, err := Topics()[1].Run(context.Background(), []byte(tt.in))
		var bad *contract.Error
		require.True(t, errors.As(err, &bad), tt.name)
		require.Equal(t, tt.pointer, bad.Fields[0].Pointer, tt.name)
	}
	_, err := Run(context.Background(), towns(2001))
	var bad *contract.Error
	require.True(t, errors.As(err, &bad))
}

func TestRunShapes(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ name, in, want string }{
		{"a single stop", `{"stops":[{"id":"a","latitude":-27,"longitude":153}],"start":"a"}`, `{"order":["a"],"km":0,"proved":true,"bound_km":0}`},
		{"indices", `{"matrix_km":[[0,1,9],[9,0,2],[4,9,0]],"start":1}`, `{"order":[1,2,0],"km":7,"proved":true,"bound_km":7}`},
		{"ends anywhere", `{"matrix_km":[[0,1,9],[9,0,2],[4,9,0]],"start":1,"return":false}`, `{"order":[1,2,0],"km":6,"proved":true,"bound_km":6}`},
		{"a pair turns it round", `{"matrix_km":[[0,1,9],[9,0,2],[4,9,0]],"start":1,"before":[[0,2]]}`, `{"order":[1,0,2],"km":27,"proved":true,"bound_km":27}`},
	} {
		out, err := Topics()[1].Run(context.Background(), []byte(tt.in))
		require.NoError(t, err, tt.name)
		raw, err := json.Marshal(out)
		require.NoError(t, err)
		require.JSONEq(t, tt.want, string(raw), tt.name)
	}
}

func TestExamplesRun(t *testing.T) {
	t.Parallel()
	for _, topic := range Topics() {
		out, err := topic.Run(context.Background(), []byte(topic.Example))
		require.NoError(t, err, topic.Name)
		require.NotEmpty(t, fmt.Sprint(out))
	}
}

func FuzzTopics(f *testing.F) {
	for i, topic := range Topics() {
		f.Add(i, []byte(topic.Example))
	}
	f.Add(1, []byte(`{"matrix_km":[[0,1],[1e300,0]],"start":0,"before":[[0,1]]}`))
	f.Fuzz(func(t *testing.T, i int, raw []byte) {
		topics := Topics()
		out, err := topics[((i%len(topics))+len(topics))%len(topics)].Run(context.Background(), raw)
		if err != nil {
			var bad *contract.Error
			require.True(t, errors.As(err, &bad), "only bad input may fail: %v", err)
			return
		}
		_, err = json.Marshal(out)
		require.NoError(t, err)
	})
}
