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
	ends  [][]int // by stock and item: the greatest gain with this item the last one
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

// fillTable works out the greatest gain for every room up to room, and for each
// stock the greatest gain by last item.
func (q *knapsack) fillTable(room int) {
	if q.ends == nil {
		q.ends = make([][]int, len(q.stocks))
	}
	for s := range q.ends {
		q.ends[s] = q.ends[s][:0]
	}
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
		for s, st := range q.stocks {
			end := -1
			if st.room <= room && st.room >= it.size {
				end = q.best[st.room-it.size] + it.gain
			}
			q.ends[s] = append(q.ends[s], end)
		}
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

// read gives the pattern of greatest gain whose last item is end.
func (q *knapsack) read(room, end int) []cut {
	var cuts []cut
	for i := end; i >= 0; i-- {
		if i < end && !has(q.bits[i], room) {
			continue
		}
		room -= q.items[i].size
		if n := len(cuts); n > 0 && cuts[n-1].kind == q.items[i].kind {
			cuts[n-1].count += q.items[i].count
		} else {
			cuts = append(cuts, cut{q.items[i].kind, q.items[i].count})
		}
	}
	sortCuts(cuts)
	return cuts
}

// finest lists up to most items of stock s by falling gain of the pattern that
// ends with them, as far as they lie above floor.
func (q *knapsack) finest(s, most, floor int) []int {
	var all []int
	for i, g := range q.ends[s] {
		if g > floor {
			all = append(all, i)
		}
	}
	slices.SortStableFunc(all, func(a, b int) int { return cmp.Compare(q.ends[s][b], q.ends[s][a]) })
	return all[:min(len(all), most)]
}

// tree searches patterns one kind after the other, best gain for its size first.
type tree struct {
	q       *knapsack
	kinds   []int // by falling gain for size
	gain    []int
	wanted  []int
	allowed func([]cut) bool
	taken   []cut
	best    int     // only more than this counts
	found   [][]cut // each better than the one before
	nodes   int
}

// search gives patterns of rising gain above floor, the greatest last, and whether
// it looked everywhere.
func (q *knapsack) search(gain, wanted []int, room, floor, nodes int, allowed func([]cut) bool) (cuts [][]cut, best int, whole bool) {
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
	for _, cuts := range t.found {
		sortCuts(cuts)
	}
	return t.found, t.best, t.nodes > 0
}

func (t *tree) walk(at, room, gain int) {
	if t.nodes--; t.nodes <= 0 {
		return
	}
	if gain > t.best && (t.allowed == nil || t.allowed(t.taken)) {
		t.best, t.found = gain, append(t.found, slices.Clone(t.taken))
	}
	for i := at; i < len(t.kinds); i++ {
		t.nodes--
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
