package cutting

import (
	"math"
	"strconv"
)

// program is the linear program over patterns: how often to cut each pattern so
// that every part is covered, no board is used more often than there are, and
// the price is least. Patterns are added as they are needed. It is solved by the
// simplex method on a dense inverse of the basis; its figures guide the search,
// and what is claimed from them is checked in whole numbers (see dual.go).
//
//	minimise    sum over patterns of price x
//	part i:     sum of a_i x - surplus_i + missing_i = wanted_i    (missing costs a great deal)
//	stock s:    sum of x of its patterns + unused_s = boards_s
type program struct {
	*model
	*effort
	aim      aim
	rows     int
	patterns []pattern
	byKey    map[string]int
	rhs      []float64
	huge     float64     // price of a missing part, and of a barred pattern
	basis    []int       // variable of each row
	in       []bool      // pattern is in the basis
	inverse  [][]float64 // column by column
	x        []float64   // value of each row's variable
	dual     []float64   // by row
	step     []float64   // scratch: the entering column times the inverse
	pivots   int
}

// aim is what a program minimises: a price for each board of a stock, and for
// each part that is missing; miss nil means that nothing may be missing.
type aim struct{ price, miss []int }

// top is the largest price.
func (a aim) top() int {
	top := 1
	for _, v := range a.price {
		top = max(top, v)
	}
	for _, v := range a.miss {
		top = max(top, v)
	}
	return top
}

// cheapest is the aim to place all at the least price.
func (m *model) cheapest() aim {
	a := aim{price: make([]int, len(m.stocks))}
	for s, st := range m.stocks {
		a.price[s] = st.price
	}
	return a
}

// pattern is a way of filling a board.
type pattern struct {
	stock  int
	cuts   []cut
	price  float64
	barred int // how many branches bar it
}

// Variables are patterns 0, 1, …; then, below 0, surplus or unused of row r is
// -1-r and missing of row r is -1-rows-r.
func (p *program) slack(row int) int   { return -1 - row }
func (p *program) missing(row int) int { return -1 - p.rows - row }

// Tolerances of the simplex method, for prices scaled to about 1.
const (
	costTol  = 1e-9 // a reduced cost below minus this may still improve
	pivotTol = 1e-9 // a smaller pivot is taken for zero
	ratioTol = 1e-11
	feasTol  = 1e-7 // a value above minus this counts as not negative
)

// axpyPerStep is how many cells of a dense row go into one step of work.
const axpyPerStep = 4

func newProgram(m *model, e *effort, a aim) *program {
	p := &program{model: m, effort: e, aim: a, rows: len(m.kinds) + len(m.stocks), byKey: map[string]int{}}
	p.rhs = make([]float64, p.rows)
	p.x = make([]float64, p.rows)
	p.dual = make([]float64, p.rows)
	p.step = make([]float64, p.rows)
	p.basis = make([]int, p.rows)
	p.inverse = make([][]float64, p.rows)
	for i := range p.inverse {
		p.inverse[i] = make([]float64, p.rows)
	}
	for i, k := range m.kinds {
		p.rhs[i] = float64(k.demand)
	}
	for s, st := range m.stocks {
		p.rhs[len(m.kinds)+s] = float64(st.count)
	}
	const factor = 20 // no part is worth so many boards unless boards run out
	p.huge = factor * float64(a.top())
	p.reset()
	return p
}

// reset starts from the plan that misses every part.
func (p *program) reset() {
	for r := range p.basis {
		p.basis[r] = p.slack(r)
		if r < len(p.kinds) {
			p.basis[r] = p.missing(r)
		}
		clear(p.inverse[r])
		p.inverse[r][r] = 1
	}
	for i := range p.in {
		p.in[i] = false
	}
	copy(p.x, p.rhs)
	p.price()
}

// add puts in a pattern, once, and gives its number.
func (p *program) add(stock int, cuts []cut) int {
	key := patternKey(stock, cuts)
	if i, ok := p.byKey[key]; ok {
		return i
	}
	p.byKey[key] = len(p.patterns)
	p.patterns = append(p.patterns, pattern{stock: stock, cuts: cuts, price: float64(p.aim.price[stock])})
	p.in = append(p.in, false)
	return len(p.patterns) - 1
}

func patternKey(stock int, cuts []cut) string {
	b := strconv.AppendInt(make([]byte, 0, 64), int64(stock), 36)
	for _, c := range cuts {
		b = strconv.AppendInt(append(b, ' '), int64(c.kind), 36)
		b = strconv.AppendInt(append(b, '.'), int64(c.count), 36)
	}
	return string(b)
}

func (p *program) costOf(v int) float64 {
	switch {
	case v >= 0 && p.patterns[v].barred > 0:
		return p.huge
	case v >= 0:
		return p.patterns[v].price
	case v < -p.rows && p.aim.miss != nil:
		return float64(p.aim.miss[-1-p.rows-v])
	case v < -p.rows:
		return p.huge
	}
	return 0
}

// reduced is the price of one more of variable v at the present duals.
func (p *program) reduced(v int) float64 {
	if v >= 0 {
		pt := &p.patterns[v]
		c := p.costOf(v) - p.dual[len(p.kinds)+pt.stock]
		for _, k := range pt.cuts {
			c -= p.dual[k.kind] * float64(k.count)
		}
		return c
	}
	if v < -p.rows {
		return p.costOf(v) - p.dual[-1-p.rows-v]
	}
	if r := -1 - v; r >= len(p.kinds) {
		return -p.dual[r]
	}
	return p.dual[-1-v]
}

// column multiplies the inverse with variable v's column, into step.
func (p *program) column(v int) {
	clear(p.step)
	switch {
	case v >= 0:
		pt := &p.patterns[v]
		for _, k := range pt.cuts {
			axpy(p.step, p.inverse[k.kind], float64(k.count))
		}
		axpy(p.step, p.inverse[len(p.kinds)+pt.stock], 1)
	case v < -p.rows:
		axpy(p.step, p.inverse[-1-p.rows-v], 1)
	case -1-v < len(p.kinds):
		axpy(p.step, p.inverse[-1-v], -1)
	default:
		axpy(p.step, p.inverse[-1-v], 1)
	}
}

func axpy(dst, src []float64, f float64) {
	dst = dst[:len(src)]
	for i, v := range src {
		dst[i] += f * v
	}
}

// price works out the duals afresh.
func (p *program) price() {
	cost := make([]float64, p.rows)
	for r, v := range p.basis {
		cost[r] = p.costOf(v)
	}
	for j, col := range p.inverse {
		sum := 0.0
		for r, c := range cost {
			sum += c * col[r]
		}
		p.dual[j] = sum
	}
	p.spend(p.rows * p.rows / axpyPerStep)
}

// pivot brings v into the basis at row r; step holds its column.
func (p *program) pivot(v, r int, reduced float64) {
	at := p.step[r]
	theta := p.x[r] / at
	for i := range p.x {
		p.x[i] -= theta * p.step[i]
	}
	p.x[r] = theta
	touched := 0
	for j, col := range p.inverse {
		if col[r] == 0 {
			continue
		}
		f := col[r] / at
		p.dual[j] += reduced * f
		axpy(col, p.step, -f)
		col[r] = f
		if math.Abs(f) < 1e-13 {
			col[r] = 0
		}
		touched++
	}
	if old := p.basis[r]; old >= 0 {
		p.in[old] = false
	}
	p.basis[r] = v
	if v >= 0 {
		p.in[v] = true
	}
	p.pivots++
	p.spend(touched*p.rows/axpyPerStep + p.rows)
}

// primal improves a feasible basis with the patterns that are known; false when
// the effort ends first.
func (p *program) primal() bool {
	for stuck := 0; !p.over; {
		v, best := 0, -costTol*p.huge
		found := false
		look := func(w int) {
			if c := p.reduced(w); c < best {
				v, best, found = w, c, true
			}
		}
		for w := range p.patterns {
			if !p.in[w] {
				look(w)
			}
		}
		for r := range p.rows {
			look(p.slack(r))
		}
		p.spend(4 * len(p.patterns))
		if !found {
			return true
		}
		p.column(v)
		r := p.leaving()
		if r < 0 {
			return true // cannot be: every price is at least 0
		}
		if p.x[r] < feasTol {
			if stuck++; stuck > 20*p.rows {
				return true // degenerate for too long: the duals will do
			}
		} else {
			stuck = 0
		}
		p.pivot(v, r, best)
	}
	return false
}

// leaving is the row whose variable first falls to 0; among equals the one with
// the largest pivot.
func (p *program) leaving() int {
	row, least := -1, math.Inf(1)
	for r, d := range p.step {
		if d <= pivotTol {
			continue
		}
		ratio := max(p.x[r], 0) / d
		if ratio < least-ratioTol || ratio < least+ratioTol && d > p.step[row] {
			row, least = r, min(least, ratio)
		}
	}
	return row
}

// restore makes the basis feasible again after the right-hand side has changed,
// keeping the reduced costs at 0 or above (the dual simplex method).
func (p *program) restore() bool {
	for range 50 * p.rows {
		r, worst := -1, -feasTol
		for i, v := range p.x {
			if v < worst {
				r, worst = i, v
			}
		}
		if r < 0 {
			return true
		}
		if p.over {
			return false
		}
		v, reduced, ok := p.entering(r)
		if !ok {
			return false
		}
		p.column(v)
		if p.step[r] > -pivotTol {
			return false
		}
		p.pivot(v, r, reduced)
	}
	return false
}

// entering is the variable that keeps the reduced costs right when row r leaves.
func (p *program) entering(r int) (int, float64, bool) {
	row := make([]float64, p.rows)
	for j, col := range p.inverse {
		row[j] = col[r]
	}
	v, least, reduced, size := 0, math.Inf(1), 0.0, 0.0
	found := false
	look := func(w int, alpha float64) {
		if alpha > -pivotTol*100 {
			return
		}
		c := max(p.reduced(w), 0)
		ratio := c / -alpha
		if ratio < least-ratioTol || ratio < least+ratioTol && -alpha > size {
			v, least, reduced, size, found = w, min(ratio, least), c, -alpha, true
		}
	}
	for w := range p.patterns {
		if p.in[w] {
			continue
		}
		pt := &p.patterns[w]
		alpha := row[len(p.kinds)+pt.stock]
		for _, k := range pt.cuts {
			alpha += row[k.kind] * float64(k.count)
		}
		look(w, alpha)
	}
	for i := range p.rows {
		if i < len(p.kinds) {
			look(p.slack(i), -row[i])
			look(p.missing(i), row[i])
		} else {
			look(p.slack(i), row[i])
		}
	}
	p.spend(4 * len(p.patterns))
	return v, reduced, found
}

// rebuild takes a basis that was kept and works out inverse, values and duals
// for the present right-hand side. It gives false when the basis is singular.
func (p *program) rebuild(basis []int) bool {
	for i := range p.in {
		p.in[i] = false
	}
	for r := range p.basis {
		p.basis[r] = p.slack(r)
		clear(p.inverse[r])
		p.inverse[r][r] = 1
		if r < len(p.kinds) {
			p.inverse[r][r] = -1
		}
	}
	free := make([]bool, p.rows) // rows that still hold a slack to be replaced
	for r := range free {
		free[r] = true
	}
	for _, v := range basis {
		if v < 0 && v >= -p.rows {
			free[-1-v] = false
		}
	}
	for _, v := range basis {
		if v < 0 && v >= -p.rows {
			continue
		}
		p.column(v)
		r := -1
		for i, d := range p.step {
			if free[i] && math.Abs(d) > pivotTol && (r < 0 || math.Abs(d) > math.Abs(p.step[r])) {
				r = i
			}
		}
		if r < 0 {
			return false
		}
		free[r] = false
		p.pivot(v, r, 0)
	}
	p.values()
	p.price()
	return true
}

// values works out the basic values afresh.
func (p *program) values() {
	clear(p.x)
	for j, col := range p.inverse {
		if p.rhs[j] != 0 {
			axpy(p.x, col, p.rhs[j])
		}
	}
	p.spend(p.rows * p.rows / axpyPerStep)
}

// objective is the price of the present plan, missing parts included.
func (p *program) objective() float64 {
	sum := 0.0
	for r, v := range p.basis {
		sum += p.costOf(v) * p.x[r]
	}
	return sum
}
