package cutting

import (
	"context"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// largeParts makes a case of at most 11 pieces, one to three on a board, that is small
// enough for leastLength; shortTo is the share of the pieces for which there are boards.
func largeParts(r *rand.Rand) In {
	in := In{KerfMM: float64(r.IntN(60)) / 10, TrimMM: float64(r.IntN(3) * 5)}
	for i := range 3 {
		in.Boards = append(in.Boards, Board{ID: fmt.Sprint("b", i), LengthMM: float64(1800 + 50*r.IntN(37)), Count: 1 + r.IntN(4)})
	}
	for i := range 6 {
		in.Parts = append(in.Parts, Part{ID: fmt.Sprint("p", i), LengthMM: float64(500+r.IntN(1200)) + float64(r.IntN(10))/10, Count: 1})
	}
	for range r.IntN(6) {
		in.Parts[r.IntN(len(in.Parts))].Count++
	}
	return in
}

// leastLength is the least total length of boards that hold all pieces, by dynamic
// programming over every subset of them; -1 when they do not fit.
func leastLength(in In) int {
	var pieces []int
	for _, p := range in.Parts {
		for range p.Count {
			pieces = append(pieces, tenths(p.LengthMM+in.KerfMM))
		}
	}
	size := make([]int, 1<<len(pieces))
	for set := 1; set < len(size); set++ {
		low := bits.TrailingZeros(uint(set))
		size[set] = size[set&(set-1)] + pieces[low]
	}
	radix := []int{1}
	for _, b := range in.Boards {
		radix = append(radix, radix[len(radix)-1]*(b.Count+1))
	}
	uses := radix[len(in.Boards)]
	const none = math.MaxInt
	least := make([]int, len(size)*uses)
	for i := range least {
		least[i] = none
	}
	least[0] = 0
	for set := range size {
		rest := len(size) - 1 - set
		if rest == 0 {
			break
		}
		first := rest & -rest
		for sub := rest; sub > 0; sub = (sub - 1) & rest {
			if sub&first == 0 {
				continue
			}
			for k, b := range in.Boards {
				if size[sub] > tenths(b.LengthMM-2*in.TrimMM+in.KerfMM) {
					continue
				}
				for u := range uses {
					if v := least[set*uses+u]; v != none && u/radix[k]%(b.Count+1) < b.Count {
						to := &least[(set|sub)*uses+u+radix[k]]
						*to = min(*to, v+int(b.LengthMM))
					}
				}
			}
		}
	}
	best := -1
	for _, v := range least[(len(size)-1)*uses:] {
		if v != none && (best < 0 || v < best) {
			best = v
		}
	}
	return best
}

// TestWholeNumbersAgainstEverySubset: the whole-number program alone, from the first plan
// that was built, comes to the least length and proves it.
func TestWholeNumbersAgainstEverySubset(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(3, 14))
	better, cases := 0, 0
	for cases < 60 {
		in := largeParts(r)
		want := leastLength(in)
		if want < 0 || refused(in) {
			continue
		}
		cases++
		m := newModel(in)
		e := &effort{ctx: context.Background(), deadline: time.Now().Add(time.Hour), limit: math.MaxInt}
		s := newSearch(m, e)
		s.build()
		if s.worth.leftPieces > 0 {
			continue
		}
		before := s.worth.price
		b := s.newBrancher(s.cheapest())
		b.root()
		b.settle(1_000_000_000, manyColumns)
		require.Equal(t, int64(want), m.money(s.worth.price).IntPart(), "%+v", in)
		require.Equal(t, s.worth.price, b.low, "proved: %+v", in)
		if s.worth.price < before {
			better++
		}
		out := run(t, in)
		require.Equal(t, float64(want), out.LengthUsedMM)
		require.True(t, out.Proved)
	}
	require.Greater(t, better, 5, "cases in which the first plan was not the best")
}

// TestPlanesCutNoPlanOff: every plane that is found holds for the whole-number points of
// small programs, of which there are few enough to try all.
func TestPlanesCutNoPlanOff(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(9, 9))
	e := &effort{ctx: context.Background(), deadline: time.Now().Add(time.Hour), limit: math.MaxInt}
	const n, most = 6, 3
	planes := 0
	for range printed.Cases(300) {
		columns := make([]column, n)
		for j := range columns {
			columns[j] = column{price: 3 + r.IntN(9), most: most}
		}
		tab := newTableau(columns)
		for range 4 {
			c := constraint{make([]int32, n), 1 + r.IntN(6)}
			for j := range c.at {
				c.at[j] = int32(r.IntN(3))
			}
			tab.add(c)
		}
		given := len(tab.rows)
		for range 4 {
			row, ok := tab.solve(e)
			require.True(t, ok)
			if row >= 0 {
				break
			}
			for _, c := range tab.planes(e, tab.point()) {
				tab.add(c)
				planes++
			}
		}
		least := math.MaxInt
		for code := range int(math.Pow(most+1, n)) {
			x, price := [n]int{}, 0
			for j := range x {
				x[j] = code % (most + 1)
				code /= most + 1
				price += x[j] * columns[j].price
			}
			for i, c := range tab.rows {
				sum := 0
				for j, v := range x {
					sum += v * int(c.at[j])
				}
				if i < given && sum < c.least {
					price = math.MaxInt
					break
				}
				require.GreaterOrEqual(t, sum, c.least, "plane %d", i)
			}
			least = min(least, price)
		}
		if row, _ := tab.solve(e); row < 0 && least < math.MaxInt {
			bound, _ := tab.weigh(columns, 1<<20, -1, 0)
			require.LessOrEqual(t, ceilDiv(max(0, bound), 1<<20), least)
			require.InDelta(t, tab.total, float64(bound)/(1<<20), 0.01, "the whole numbers lose next to nothing")
		}
	}
	require.Greater(t, planes, printed.Cases(300))
}

// TestWholeNumbersAgainstSolver: the least lengths of days of large parts, as cbc 2.10
// proves them for the program over all patterns that fill a board (made once, by a script
// of its own; no figure was changed).
func TestWholeNumbersAgainstSolver(t *testing.T) {
	t.Parallel()
	proved, days := 0, 0
	for seed, want := range map[uint64]int64{1: 64250, 2: 95200, 5: 75650, 9: 96050, 10: 109250, 14: 45900, 22: 111550, 27: 88850, 28: 55400, 34: 43500, 35: 70000, 43: 96200, 50: 92850} {
		if testing.Short() && seed > 9 {
			continue
		}
		days++
		in := oddDays[0].in(seed)
		m := newModel(in)
		e := &effort{ctx: context.Background(), deadline: time.Now().Add(time.Hour), limit: math.MaxInt}
		s := newSearch(m, e)
		s.build()
		b := s.newBrancher(s.cheapest())
		b.root()
		for _, many := range []int{fewColumns, 2 * fewColumns, manyColumns} {
			b.settle(150_000_000, many)
		}
		require.GreaterOrEqual(t, m.money(s.worth.price).IntPart(), want, "day %d", seed)
		require.LessOrEqual(t, m.money(b.low).IntPart(), want, "day %d", seed)
		if s.worth.price == b.low {
			proved++
		}
	}
	require.GreaterOrEqual(t, proved, days-2)
}

// TestLengthOfWhatIsMissing: the miss prices give the length back, and never more.
func TestLengthOfWhatIsMissing(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(5, 5))
	for range 200 {
		m := newModel(largeParts(r))
		s := &search{model: m}
		miss, ok := s.missPrices()
		require.True(t, ok)
		length, price := 0, 0
		for k, kd := range m.kinds {
			n := r.IntN(kd.demand + 1)
			length += n * kd.length
			price += n * miss[k]
		}
		require.Equal(t, length, s.lengthOf(price))
		require.LessOrEqual(t, s.lengthOf(price-1), length)
	}
}
