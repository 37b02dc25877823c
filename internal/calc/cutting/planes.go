package cutting

import (
	"cmp"
	"math"
	"slices"
)

// Cutting planes: any sum of constraints with factors that are not negative, rounded up on
// both sides, holds for whole numbers (V. Chvátal, Discrete Mathematics 4 (1973) 305-337;
// R. E. Gomory, Bulletin of the AMS 64 (1958) 275-278, from memory). The factors are read
// from rows of the tableau, as fractions of one small number, so that the sum can be worked
// out in whole numbers.
const (
	mostDivisor = 60   // of the factors
	leastBreach = 1e-3 // by how much the present point must break a plane
	planesRound = 12   // planes that are added at a time
	planeRounds = 25   // times that planes are sought at the first node
	mostPlanes  = 120  // constraints of the program, planes and branches among them, more than at first
)

// plane is a constraint that the present point breaks.
type plane struct {
	constraint
	breach float64 // for the length of at
}

// planes gives the constraints that cut off the present point the deepest.
func (t *tableau) planes(e *effort, x []float64) []constraint {
	var found []plane
	for r, v := range t.value {
		if off := math.Abs(v - math.Round(v)); off < leastBreach {
			continue
		}
		factors, d := t.factors(r)
		if d == 0 {
			continue
		}
		for m := 1; m < d; m++ {
			if p := t.combine(factors, m, d, x); p.breach > leastBreach {
				found = append(found, p)
			}
			if m >= 6 && m < d-3 { // the first and the last few are enough
				m = d - 4
			}
			if !e.spend(len(factors) * t.n / axpyPerStep) {
				return nil
			}
		}
	}
	slices.SortStableFunc(found, func(a, b plane) int { return cmp.Compare(b.breach, a.breach) })
	var kept []constraint
	for _, p := range found {
		if len(kept) == planesRound {
			break
		}
		if !slices.ContainsFunc(kept, func(c constraint) bool { return c.least == p.least && slices.Equal(c.at, p.at) }) {
			kept = append(kept, p.constraint)
		}
	}
	return kept
}

// factor is a constraint's share of a row, as a multiple of one over the divisor.
type factor struct{ row, share int }

// factors reads from row r the shares of the constraints, and their divisor; 0 where they
// are no multiples of one over a small number.
func (t *tableau) factors(r int) ([]factor, int) {
	var at []int
	var share []float64
	for p, v := range t.free {
		if v < t.n {
			continue
		}
		if f := t.t[r][p]; math.Abs(f-math.Round(f)) > wholeTol {
			at, share = append(at, v-t.n), append(share, f)
		}
	}
	if len(at) == 0 {
		return nil, 0
	}
search:
	for d := 2; d <= mostDivisor; d++ {
		for _, f := range share {
			if g := f * float64(d); math.Abs(g-math.Round(g)) > wholeTol*10 {
				continue search
			}
		}
		list := make([]factor, len(at))
		for i, f := range share {
			list[i] = factor{at[i], ((int(math.Round(f*float64(d))) % d) + d) % d}
		}
		return list, d
	}
	return nil, 0
}

// combine adds up m times the factors, each taken modulo the divisor, and rounds up.
func (t *tableau) combine(factors []factor, m, d int, x []float64) plane {
	sum := make([]int32, t.n)
	least := 0
	for _, f := range factors {
		share := f.share * m % d
		if share == 0 {
			continue
		}
		c := t.rows[f.row]
		least += share * c.least
		for j, a := range c.at {
			sum[j] += int32(share) * a
		}
	}
	short, length := 0.0, 0.0
	for j, v := range sum {
		sum[j] = int32(ceilAny(int(v), d))
		short += float64(sum[j]) * x[j]
		length += float64(sum[j]) * float64(sum[j])
	}
	p := plane{constraint: constraint{sum, ceilAny(least, d)}}
	p.breach = (float64(p.least) - short) / math.Sqrt(max(1, length))
	return p
}

// ceilAny is a/b rounded up, for any a and positive b.
func ceilAny(a, b int) int {
	q := a / b
	if a%b > 0 {
		q++
	}
	return q
}
