package cutting

import (
	"cmp"
	"slices"
)

// knapsack finds the pattern of greatest gain for each stock, in whole numbers.
type knapsack struct {
	*model
	*effort
	best  []int
	bits  [][]uint64
	items []piece
}

// piece is so many parts of one kind, taken together or not at all.
type piece struct{ kind, count, size, gain int }

// maxCells is the largest table, in cells; beyond it a tree search is used first.
const (
	maxCells  = 2_000_000
	cellsEver = 40_000_000
	maxNodes  = 300_000
)

// load lists what may be cut: gain[k] each, at most wanted[k] of kind k.
func (q *knapsack) load(gain, wanted []int, room int) {
	q.items = q.items[:0]
	for k, kd := range q.kinds {
		if gain[k] <= 0 {
			continue
		}
		n := min(wanted[k], room/kd.size)
		for lot := 1; n > 0; lot *= 2 {
			lot = min(lot, n)
			n -= lot
			q.items = append(q.items, piece{k, lot, lot * kd.size, lot * gain[k]})
		}
	}
}

// cells is the size of the table that load needs.
func (q *knapsack) cells(room int) int { return len(q.items) * (room + 1) }

// fillTable works out the greatest gain for every room up to room.
func (q *knapsack) fillTable(room int) {
	if cap(q.best) < room+1 {
		q.best = make([]int, room+1)
	}
	q.best = q.best[:room+1]
	clear(q.best)
	words := room/64 + 1
	for i, it := range q.items {
		if len(q.bits) == i {
			q.bits = append(q.bits, nil)
		}
		if cap(q.bits[i]) < words {
			q.bits[i] = make([]uint64, words)
		}
		q.bits[i] = q.bits[i][:words]
		clear(q.bits[i])
		bits := q.bits[i]
		low := q.best[:room+1-min(it.size, room+1)]
		for v := len(low) - 1; v >= 0; v-- {
			if g := low[v] + it.gain; g > q.best[v+it.size] {
				q.best[v+it.size] = g
				bits[uint(v+it.size)/64] |= 1 << (uint(v+it.size) % 64)
			}
		}
		if !q.spend(room) {
			return
		}
	}
}

// read gives the pattern behind best[room].
func (q *knapsack) read(room int) []cut {
	taken := map[int]int{}
	for i := len(q.items) - 1; i >= 0; i-- {
		if has(q.bits[i], room) {
			taken[q.items[i].kind] += q.items[i].count
			room -= q.items[i].size
		}
	}
	cuts := make([]cut, 0, len(taken))
	for k, n := range taken {
		cuts = append(cuts, cut{k, n})
	}
	slices.SortFunc(cuts, func(a, b cut) int { return cmp.Compare(a.kind, b.kind) })
	return cuts
}

// tree searches patterns one kind after the other, best gain for its size first.
type tree struct {
	q       *knapsack
	kinds   []int // by falling gain for size
	gain    []int
	wanted  []int
	allowed func([]cut) bool
	taken   []cut
	best    int // only more than this counts
	found   []cut
	nodes   int
}

// search gives the pattern of greatest gain above floor, nil when there is none,
// and whether it looked everywhere.
func (q *knapsack) search(gain, wanted []int, room, floor, nodes int, allowed func([]cut) bool) (cuts []cut, best int, whole bool) {
	t := &tree{q: q, gain: gain, wanted: wanted, allowed: allowed, best: floor, nodes: nodes}
	for k := range q.kinds {
		if gain[k] > 0 && wanted[k] > 0 && q.kinds[k].size <= room {
			t.kinds = append(t.kinds, k)
		}
	}
	slices.SortStableFunc(t.kinds, func(a, b int) int {
		return cmpProducts(gain[b], q.kinds[a].size, gain[a], q.kinds[b].size)
	})
	t.walk(0, room, 0)
	q.spend(4 * (nodes - t.nodes))
	slices.SortFunc(t.found, func(a, b cut) int { return cmp.Compare(a.kind, b.kind) })
	return t.found, t.best, t.nodes > 0
}

func (t *tree) walk(at, room, gain int) {
	if t.nodes--; t.nodes <= 0 {
		return
	}
	if gain > t.best && (t.allowed == nil || t.allowed(t.taken)) {
		t.best, t.found = gain, slices.Clone(t.taken)
	}
	for i := at; i < len(t.kinds); i++ {
		k := t.kinds[i]
		size, each := t.q.kinds[k].size, t.gain[k]
		// The rest of the room filled at this rate is the most there can be.
		if t.best >= gain && cmpProducts(room, each, t.best-gain+1, size) < 0 {
			return
		}
		for n := min(t.wanted[k], room/size); n > 0; n-- {
			t.taken = append(t.taken, cut{k, n})
			t.walk(i+1, room-n*size, gain+n*each)
			t.taken = t.taken[:len(t.taken)-1]
			if t.nodes <= 0 {
				return
			}
		}
	}
}
