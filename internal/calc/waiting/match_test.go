package waiting

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// against is a Cost behind whether the pair cannot be, part by part.
type against [5]int64

// weighed is a matching as it is compared: who is served, then the costs.
type weighed struct {
	served []bool
	cost   against
}

func (w weighed) better(o weighed) bool {
	for i := range w.served {
		if w.served[i] != o.served[i] {
			return w.served[i]
		}
	}
	return slices.Compare(w.cost[:], o.cost[:]) < 0
}

func weigh(costs [][]against, of []int) weighed {
	w := weighed{served: make([]bool, len(of))}
	for b, c := range of {
		if c >= 0 {
			w.served[b] = true
			for i, v := range costs[b][c] {
				w.cost[i] += v
			}
		}
	}
	return w
}

// bruteForce tries every matching there is.
func bruteForce(costs [][]against, colonies int) weighed {
	of := make([]int, len(costs))
	for i := range of {
		of[i] = -1
	}
	best := weigh(costs, of)
	taken := make([]bool, colonies)
	var try func(b int)
	try = func(b int) {
		if b == len(costs) {
			if w := weigh(costs, of); w.better(best) {
				best = w
			}
			return
		}
		of[b] = -1
		try(b + 1)
		for c := range colonies {
			if taken[c] || costs[b][c][0] != 0 {
				continue
			}
			taken[c], of[b] = true, c
			try(b + 1)
			taken[c], of[b] = false, -1
		}
	}
	try(0)
	return best
}

func TestMatchIsTheBestOfAll(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		buyers, colonies := rapid.IntRange(0, 5).Draw(t, "buyers"), rapid.IntRange(0, 5).Draw(t, "colonies")
		costs := make([][]against, buyers)
		for b := range costs {
			costs[b] = make([]against, colonies)
			for c := range costs[b] {
				if rapid.IntRange(0, 3).Draw(t, "can") == 0 {
					costs[b][c] = against{1}
					continue
				}
				for i := 1; i < 4; i++ {
					costs[b][c][i] = int64(rapid.IntRange(0, 1).Draw(t, "against"))
				}
				costs[b][c][4] = int64(rapid.IntRange(0, 20).Draw(t, "late"))
			}
		}
		got := Match(buyers, colonies, func(b, c int) (Cost, bool) {
			k := costs[b][c]
			return Cost{k[1], k[2], k[3], k[4]}, k[0] == 0
		})
		of := make([]int, buyers)
		for i := range of {
			of[i] = -1
		}
		taken := map[int]bool{}
		for _, p := range got {
			require.Zero(t, costs[p.Buyer][p.Colony][0], "a pair that cannot be")
			require.False(t, taken[p.Colony], "a colony twice")
			require.Equal(t, -1, of[p.Buyer], "a buyer twice")
			taken[p.Colony], of[p.Buyer] = true, p.Colony
		}
		require.Equal(t, bruteForce(costs, colonies), weigh(costs, of))
	})
}

// Nobody is passed over for anybody behind him, whatever speaks against the colony left for
// him; among equals the longest settled goes to the first. Worked by hand.
func TestMatchOrder(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name     string
		costs    [][]Cost
		cannot   map[[2]int]bool
		expected []Pair
	}{
		{"first in line before range", [][]Cost{{{OutOfRange: 1}}, {{}}}, nil, []Pair{{0, 0}}},
		{"fewest out of range", [][]Cost{{{OutOfRange: 1}, {Rehouse: 1, Unsure: 1, Late: 9}}}, nil, []Pair{{0, 1}}},
		{"range before box", [][]Cost{{{}, {Rehouse: 1}}, {{OutOfRange: 1}, {Rehouse: 1}}}, nil, []Pair{{0, 0}, {1, 1}}},
		{"the first moves over for the second", [][]Cost{{{}, {}}, {{}, {}}}, map[[2]int]bool{{1, 1}: true}, []Pair{{0, 1}, {1, 0}}},
		{"longest settled to the first", [][]Cost{{{Late: 0}, {Late: 2}}, {{Late: 0}, {Late: 1}}}, nil, []Pair{{0, 0}, {1, 1}}},
		{"no colony", [][]Cost{{}, {}}, nil, []Pair{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := Match(len(tt.costs), len(tt.costs[0]), func(b, c int) (Cost, bool) { return tt.costs[b][c], !tt.cannot[[2]int{b, c}] })
			require.Equal(t, tt.expected, got)
		})
	}
}

func BenchmarkMatch(b *testing.B) {
	for _, n := range []int{50, 200} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				Match(n, n, func(i, j int) (Cost, bool) {
					return Cost{OutOfRange: int64(i * j % 2), Rehouse: int64((i + j) % 3 / 2), Late: int64((n - i) * j)}, true
				})
			}
		})
	}
}
