package cutting

import (
	"math"
	"slices"
)

// constraint is sum of at x >= least, in whole numbers.
type constraint struct {
	at    []int32 // by column
	least int
}

// tableau is a linear program in full: every basic variable as a sum of those that are
// not. Variables 0 to n-1 are the columns; n+i is the surplus of constraint i.
//
//	basic_r = value_r - sum over c of t_rc nonbasic_c
type tableau struct {
	n     int
	rows  []constraint
	t     [][]float64
	value []float64
	basic []int
	free  []int     // nonbasic variable of each place
	cost  []float64 // reduced price of each place, never below 0
	total float64   // price of the present point
}

func newTableau(columns []column) *tableau {
	t := &tableau{n: len(columns)}
	for i, c := range columns {
		t.free = append(t.free, i)
		t.cost = append(t.cost, float64(c.price))
	}
	return t
}

// copied is a tableau that can be changed while t stays.
func (t *tableau) copied() *tableau {
	c := *t
	c.rows = slices.Clip(t.rows)
	c.value, c.basic, c.free, c.cost = slices.Clone(t.value), slices.Clone(t.basic), slices.Clone(t.free), slices.Clone(t.cost)
	c.t = make([][]float64, len(t.t), len(t.t)+8)
	all := make([]float64, len(t.t)*t.n)
	for i, row := range t.t {
		c.t[i] = all[i*t.n : (i+1)*t.n : (i+1)*t.n]
		copy(c.t[i], row)
	}
	return &c
}

func (t *tableau) cells() int { return len(t.t) * t.n }

// add puts in a constraint.
func (t *tableau) add(c constraint) {
	row := make([]float64, t.n)
	value := -float64(c.least)
	for p, v := range t.free {
		if v < t.n {
			row[p] = -float64(c.at[v])
		}
	}
	for r, v := range t.basic {
		if v >= t.n || c.at[v] == 0 {
			continue
		}
		f := float64(c.at[v])
		axpy(row, t.t[r], f)
		value += f * t.value[r]
	}
	t.rows = append(t.rows, c)
	t.t = append(t.t, row)
	t.value = append(t.value, value)
	t.basic = append(t.basic, t.n+len(t.rows)-1)
}

// pivot lets the variable of place p into the basis at row r.
func (t *tableau) pivot(r, p int) {
	row := t.t[r]
	at := row[p]
	for i := range row {
		row[i] /= at
	}
	row[p] = 1 / at
	t.value[r] /= at
	for i, other := range t.t {
		f := other[p]
		if i == r || f == 0 {
			continue
		}
		other[p] = 0
		axpy(other, row, -f)
		t.value[i] -= f * t.value[r]
	}
	if f := t.cost[p]; f != 0 {
		t.cost[p] = 0
		axpy(t.cost, row, -f)
		t.total += f * t.value[r]
	}
	t.basic[r], t.free[p] = t.free[p], t.basic[r]
}

// Tolerances of the tableau.
const (
	tableauTol = 1e-9
	wholeTol   = 1e-6 // nearer to a whole number than this is one
)

// solve makes every basic variable 0 or more by the dual simplex method. It gives -1, or
// the row that shows that this cannot be; ok is false when the effort ended first.
func (t *tableau) solve(e *effort) (row int, ok bool) {
	for range 200 * (len(t.t) + 1) {
		r, worst := -1, -feasTol
		for i, v := range t.value {
			if v < worst {
				r, worst = i, v
			}
		}
		if r < 0 {
			return -1, true
		}
		p, least := -1, math.Inf(1)
		for i, v := range t.t[r] {
			if v > -tableauTol {
				continue
			}
			ratio := max(t.cost[i], 0) / -v
			if ratio < least-ratioTol || ratio < least+ratioTol && v < t.t[r][p] {
				p, least = i, min(ratio, least)
			}
		}
		if p < 0 {
			return r, true
		}
		t.pivot(r, p)
		if !e.spend(t.cells()/axpyPerStep + 1) {
			return -1, false
		}
	}
	return -1, false
}

// point gives the value of each column.
func (t *tableau) point() []float64 {
	x := make([]float64, t.n)
	for r, v := range t.basic {
		if v < t.n {
			x[v] = t.value[r]
		}
	}
	return x
}

// weigh gives, in scaled prices and whole numbers, what no whole-number point of the
// program goes below, worked out from the duals as in dual.go, and by how much more a point
// costs for each column that it uses. lost adds that many times the combination of
// constraints by which row shows that there is no point at all; row is -1 for none.
func (t *tableau) weigh(columns []column, scale int, row int, lost float64) (bound int, more []int) {
	duals := make([]int, len(t.rows))
	for p, v := range t.free {
		if v < t.n {
			continue
		}
		y := t.cost[p]
		if row >= 0 {
			y += lost * t.t[row][p]
		}
		duals[v-t.n] = int(max(0, y) * float64(scale))
	}
	if row >= 0 && t.basic[row] >= t.n {
		duals[t.basic[row]-t.n] = int(lost * float64(scale))
	}
	more = make([]int, t.n)
	for j, c := range columns {
		more[j] = c.price * scale
	}
	for i, y := range duals {
		if y == 0 {
			continue
		}
		bound += y * t.rows[i].least
		for j, a := range t.rows[i].at {
			more[j] -= y * int(a)
		}
	}
	for j, c := range columns {
		if more[j] < 0 {
			bound += more[j] * c.most
			more[j] = 0
		}
	}
	return bound, more
}
