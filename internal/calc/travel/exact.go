package travel

import (
	"math"
	"math/bits"
)

// exactStops is the largest run, start included, that exact takes: 16 stops
// besides the start need 2^16 x 16 states, 8 MB and some 20 ms.
const exactStops = 17

// exact gives the shortest order by dynamic programming over sets of stops
// already called at, with only those sets in which every pair holds. Cost: n^2
// 2^n steps. Source: M. Held and R. M. Karp, A dynamic programming approach to
// sequencing problems, J. SIAM 10 (1962); R. Bellman, J. ACM 9 (1962).
func (t *task) exact() []int {
	var stops []int // the others, numbered from 0
	number := make([]int, t.n)
	for s := range t.n {
		if s != t.start {
			number[s] = len(stops)
			stops = append(stops, s)
		}
	}
	m := len(stops)
	if m == 0 {
		return []int{t.start}
	}
	need := make([]uint32, m) // the set that must be done before each
	for _, p := range t.before {
		if p[0] != t.start {
			need[number[p[1]]] |= 1 << number[p[0]]
		}
	}
	best := make([]float64, m<<m) // best[set*m+last]
	from := make([]int8, m<<m)
	for i := range best {
		best[i] = math.Inf(1)
	}
	for j := range m {
		if need[j] == 0 {
			best[m<<j+j] = t.at(t.start, stops[j])
		}
	}
	full := uint32(1)<<m - 1
	for set := uint32(1); set < full; set++ {
		for left := set; left != 0; left &= left - 1 {
			last := bits.TrailingZeros32(left)
			so := best[int(set)*m+last]
			if math.IsInf(so, 1) {
				continue
			}
			for open := full &^ set; open != 0; open &= open - 1 {
				j := bits.TrailingZeros32(open)
				if need[j]&^set != 0 {
					continue
				}
				to := int(set|1<<j)*m + j
				if v := so + t.at(stops[last], stops[j]); v < best[to] {
					best[to], from[to] = v, int8(last)
				}
			}
		}
	}
	last, length := -1, math.Inf(1)
	for j := range m {
		v := best[int(full)*m+j]
		if t.back {
			v += t.at(stops[j], t.start)
		}
		if v < length {
			last, length = j, v
		}
	}
	order := make([]int, t.n)
	order[0] = t.start
	for i, set := t.n-1, full; i > 0; i-- {
		order[i] = stops[last]
		last, set = int(from[int(set)*m+last]), set&^(1<<last)
	}
	return order
}
