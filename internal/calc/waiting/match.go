package waiting

// Cost is what speaks against giving a colony to a buyer, the weightiest first; costs of a
// whole matching are added place by place and compared from the first place on.
type Cost struct {
	OutOfRange int64 // 1: the kind does not live at the buyer's place by nature
	Rehouse    int64 // 1: it must be moved into another box first
	Unsure     int64 // 1: its kind was found but not for sure
	Late       int64 // the longer settled, and the earlier in the line, the less
}

// cost is a Cost that adds and compares fast: whether the pair is forbidden and the first
// three of its parts side by side in one number, each with room for more buyers than
// Match takes, and the last part in another.
type cost struct{ against, late int64 }

const costRoom = 1 << 15

func costOf(k Cost, can bool) cost {
	if !can {
		return cost{against: costRoom * costRoom * costRoom}
	}
	return cost{(k.OutOfRange*costRoom+k.Rehouse)*costRoom + k.Unsure, k.Late}
}

func (c cost) can() bool { return c.against < costRoom*costRoom*costRoom }

func (c cost) plus(d cost) cost { return cost{c.against + d.against, c.late + d.late} }

func (c cost) minus(d cost) cost { return cost{c.against - d.against, c.late - d.late} }

func (c cost) less(d cost) bool {
	return c.against < d.against || c.against == d.against && c.late < d.late
}

// Pair gives a colony to a buyer; both count from 0.
type Pair struct{ Buyer, Colony int }

// Match gives ready colonies to a line of buyers, in the order of the line. What counts, in
// this order:
//
//  1. the first in the line is served if he can be at all, then the second, and so on: nobody
//     is passed over for anybody behind him;
//  2. fewest are given outside the natural range of their kind;
//  3. fewest must be moved into another box first;
//  4. fewest of which the kind is not sure;
//  5. the longest settled go first, to the earliest in the line.
//
// pair says what speaks against a pair, and false where it cannot be. The answer is the
// best there is: by 1 those served are found by growing a matching buyer by buyer, which is
// exact because sets that can be served form a matroid (J. Edmonds and D. R. Fulkerson, J.
// Res. NBS 69B, 1965, 147-153); by 2 to 5 they are matched at least cost (H. W. Kuhn, Naval
// Res. Logist. Q. 2, 1955, 83-97; from memory), with costs that compare part by part. The
// cost is buyers x colonies x those served. Each of the first three parts of a Cost is 0 or 1,
// and there are fewer than 32 000 buyers.
func Match(buyers, colonies int, pair func(buyer, colony int) (Cost, bool)) []Pair {
	costs := make([][]cost, buyers)
	for b := range costs {
		costs[b] = make([]cost, colonies)
		for c := range costs[b] {
			k, ok := pair(b, c)
			costs[b][c] = costOf(k, ok)
		}
	}
	served := servable(costs, colonies)
	rows := make([][]cost, len(served))
	for i, b := range served {
		rows[i] = costs[b]
	}
	out := make([]Pair, len(served))
	for i, c := range cheapest(rows, colonies) {
		out[i] = Pair{served[i], c}
	}
	return out
}

// servable gives the buyers that can be served, each kept unless those before him take
// away his last colony.
func servable(costs [][]cost, colonies int) []int {
	buyerOf := make([]int, colonies) // 1 more than the buyer; 0: free
	var grow func(b int, seen []bool) bool
	grow = func(b int, seen []bool) bool {
		for c := range colonies {
			if !costs[b][c].can() || seen[c] {
				continue
			}
			seen[c] = true
			if buyerOf[c] == 0 || grow(buyerOf[c]-1, seen) {
				buyerOf[c] = b + 1
				return true
			}
		}
		return false
	}
	var served []int
	for b := range costs {
		if len(served) == colonies {
			break
		}
		if grow(b, make([]bool, colonies)) {
			served = append(served, b)
		}
	}
	return served
}

// cheapest gives each row a column of its own at the least cost of all rows together, by
// shortest augmenting paths with potentials. There are no more rows than columns.
func cheapest(rows [][]cost, columns int) []int {
	u, v := make([]cost, len(rows)+1), make([]cost, columns+1)
	rowOf, from := make([]int, columns+1), make([]int, columns+1)
	for i := 1; i <= len(rows); i++ {
		rowOf[0] = i
		at := 0
		least, known := make([]cost, columns+1), make([]bool, columns+1)
		used := make([]bool, columns+1)
		for rowOf[at] != 0 {
			used[at] = true
			row, next := rowOf[at], -1
			for c := 1; c <= columns; c++ {
				if used[c] {
					continue
				}
				if d := rows[row-1][c-1].minus(u[row]).minus(v[c]); !known[c] || d.less(least[c]) {
					least[c], known[c], from[c] = d, true, at
				}
				if next < 0 || least[c].less(least[next]) {
					next = c
				}
			}
			step := least[next]
			for c := 0; c <= columns; c++ {
				if used[c] {
					u[rowOf[c]], v[c] = u[rowOf[c]].plus(step), v[c].minus(step)
				} else {
					least[c] = least[c].minus(step)
				}
			}
			at = next
		}
		for at != 0 {
			rowOf[at] = rowOf[from[at]]
			at = from[at]
		}
	}
	out := make([]int, len(rows))
	for c := 1; c <= columns; c++ {
		if rowOf[c] > 0 {
			out[rowOf[c]-1] = c - 1
		}
	}
	return out
}
