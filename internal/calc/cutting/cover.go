package cutting

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// maxCoverCells keeps the table of prices small enough to be made at once.
const maxCoverCells = 1 << 20

// coverBound gives the least price at which boards hold size in all: what no
// plan that places so much can go below. A board counts with the greatest sum of
// parts that it can hold (reach), not with its whole room.
//
// It is exact over the whole boards where prices are small numbers, and the same
// with fractions of a board, rounded up, where they are not.
func (m *model) coverBound(e *effort, size int, reach []int) int {
	if size <= 0 {
		return 0
	}
	low := m.coverFraction(size, reach)
	if low < 0 {
		return 0
	}
	total := 0
	for i, s := range m.stocks {
		n := min(s.count, ceilDiv(size, max(reach[i], 1)))
		if s.price > 0 && n > maxCoverCells/s.price {
			return low
		}
		total += n * s.price
	}
	if total > maxCoverCells || e.over {
		return low
	}
	best := m.coverTable(e, total, size, reach)
	if e.over {
		return low
	}
	for v := low; v <= total; v++ {
		if best[v] >= size {
			return v
		}
	}
	return low
}

// coverTable gives the greatest reach that boards of exactly each total price
// have, -1 where no boards have that price.
func (m *model) coverTable(e *effort, total, size int, reach []int) []int {
	best := make([]int, total+1)
	for i := range best {
		best[i] = -1
	}
	best[0] = 0
	for i, s := range m.stocks {
		n := min(s.count, ceilDiv(size, max(reach[i], 1)))
		for lot := 1; n > 0; lot *= 2 {
			lot = min(lot, n)
			n -= lot
			price, gain := lot*s.price, lot*reach[i]
			for v := total; v >= price; v-- {
				if best[v-price] >= 0 {
					best[v] = max(best[v], best[v-price]+gain)
				}
			}
			if !e.spend(total) {
				return best
			}
		}
	}
	return best
}

// coverFraction takes the boards that are cheapest for their reach, the last one
// in part. It gives -1 when all boards together are too short.
func (m *model) coverFraction(size int, reach []int) int {
	order := make([]int, len(m.stocks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmpProducts(m.stocks[a].price, reach[b], m.stocks[b].price, reach[a])
	})
	price := 0
	for _, i := range order {
		s, r := m.stocks[i], reach[i]
		if r == 0 {
			continue
		}
		if whole := size / r; whole < s.count {
			return price + whole*s.price + mulDivCeil(size%r, s.price, r)
		}
		price += s.count * s.price
		if size -= s.count * r; size <= 0 {
			return price
		}
	}
	return -1
}

// cmpProducts compares a*b with c*d without overflow; none is negative.
func cmpProducts(a, b, c, d int) int {
	h1, l1 := bits.Mul64(uint64(a), uint64(b))
	h2, l2 := bits.Mul64(uint64(c), uint64(d))
	return cmp.Or(cmp.Compare(h1, h2), cmp.Compare(l1, l2))
}

// mulDivCeil is a*b/c rounded up, for a < c.
func mulDivCeil(a, b, c int) int {
	h, l := bits.Mul64(uint64(a), uint64(b))
	q, r := bits.Div64(h, l, uint64(c))
	if r > 0 {
		q++
	}
	return int(min(q, math.MaxInt64))
}

// reaches gives for each kind of board the greatest sum of sizes that it can
// hold, or its room where the table would be too large.
func (m *model) reaches(e *effort) []int {
	reach := make([]int, len(m.stocks))
	if len(m.stocks) == 0 {
		return reach
	}
	room := m.stocks[0].room
	words := room/64 + 1
	copies := 0
	for _, k := range m.kinds {
		copies += min(k.demand, room/k.size)
	}
	if room > maxTableBits*8 || copies*words > maxTableWords*2 {
		for i, s := range m.stocks {
			reach[i] = s.room
		}
		return reach
	}
	e.spend(copies * words)
	now, next := make([]uint64, words), make([]uint64, words)
	now[0] = 1
	for _, k := range m.kinds {
		for range min(k.demand, room/k.size) {
			shiftOr(next, now, k.size)
			now, next = next, now
		}
	}
	for i, s := range m.stocks {
		reach[i] = highest(now, s.room+1)
	}
	return reach
}
