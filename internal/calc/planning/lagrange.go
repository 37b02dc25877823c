package planning

import "math"

// relaxNodes is the most (job, end) pairs a proof is laid out for, coarseNodes the
// most that a mere bound is.
const (
	relaxNodes  = 400_000
	coarseNodes = 30_000
)

// node says that a job ends at a certain time of work.
type node struct {
	job  int32
	cost float64
}

// relax bounds the plain problem from below. The rule that every job is done
// once is given up and paid for with a multiplier of each job instead; what is
// left is a shortest walk through the time of work, in which no job follows
// itself. A (job, end) pair through which every walk costs more than a plan that
// is known is taken out for good.
//
// Source: Lagrangian bounds of time-indexed relaxations, Abdul-Razaq and Potts, J.
// Oper. Res. Soc. 39 (1988) 141-152; Tanaka, Fujikuma and Araki, J. Scheduling 12
// (2009) 575-593 for taking pairs out; both from memory.
type relax struct {
	*line
	unit  int64 // minutes of work of one tick
	p     []int // ticks of each job
	ticks int
	at    []int32 // nodes[at[t]:at[t+1]] end at tick t
	nodes []node
	mu    []float64
	sum   float64 // of mu
	size  float64 // of mu without signs
	fore  []pair  // of each tick: the two cheapest walks from 0 to it
	back  []pair  // the two cheapest walks from it to the end
	count []int   // of each job in the cheapest walk
	work  int64   // nodes visited
}

// pair is the two cheapest walks with different jobs at their loose end.
type pair struct {
	one, two float64
	job      int32 // of one
	other    int32 // of two
}

var noPair = pair{math.Inf(1), math.Inf(1), -1, -1}

// add takes a walk with job at its loose end into account.
func (q *pair) add(v float64, job int32) {
	if v < q.one {
		q.two, q.other = q.one, q.job
		q.one, q.job = v, job
	} else if v < q.two {
		q.two, q.other = v, job
	}
}

// but gives the cheapest walk whose loose end is not job.
func (q *pair) but(job int32) float64 {
	if q.job == job {
		return q.two
	}
	return q.one
}

// butJob gives the job at the loose end of that walk.
func (q *pair) butJob(job int32) int32 {
	if q.job == job {
		return q.other
	}
	return q.job
}

// newRelax lays the pairs out in ticks that divide the work of every job, or gives
// nil when there are more than most of them.
func newRelax(l *line, most int64) *relax {
	unit := int64(0)
	for _, p := range l.p {
		unit = gcd(unit, p)
	}
	if l.total/unit*int64(l.n) > most {
		return nil
	}
	return layRelax(l, unit)
}

// newCoarse lays out at most about most pairs, in ticks as long as that takes, and
// gives what the jobs that are left out cost at least. The work of each job is
// rounded down to whole ticks, so that it ends no later than it would, and a job
// shorter than a tick is left out: the bound stays true, orders found mean nothing.
func newCoarse(l *line, most int64) (*relax, int64) {
	if r := newRelax(l, most); r != nil {
		return r, 0
	}
	unit := l.total*int64(l.n)/most + 1
	long, rest := &line{clock: l.clock, total: l.total}, int64(0)
	for j, p := range l.p {
		if p < unit {
			rest += l.cost(j, p)
			continue
		}
		long.n++
		long.p, long.w, long.d = append(long.p, p), append(long.w, l.w[j]), append(long.d, l.d[j])
		if l.head != nil {
			long.head = append(long.head, l.head[j])
		}
	}
	return layRelax(long, unit), rest
}

func layRelax(l *line, unit int64) *relax {
	r := &relax{line: l, unit: unit, p: make([]int, l.n), mu: make([]float64, l.n), count: make([]int, l.n)}
	for j, p := range l.p {
		r.p[j] = int(p / unit)
		r.ticks += r.p[j]
	}
	r.at = make([]int32, r.ticks+2)
	r.nodes = make([]node, 0, r.ticks*l.n)
	for t := 0; t <= r.ticks; t++ {
		r.at[t] = int32(len(r.nodes))
		for j, p := range r.p {
			if t >= p {
				r.nodes = append(r.nodes, node{int32(j), float64(l.cost(j, int64(t)*unit))})
			}
		}
	}
	r.at[r.ticks+1] = int32(len(r.nodes))
	r.fore, r.back = make([]pair, r.ticks+1), make([]pair, r.ticks+1)
	return r
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// forward finds the cheapest walks from 0 and gives the bound that they make.
func (r *relax) forward() float64 {
	r.fore[0] = pair{0, 0, -1, -1}
	for t := 1; t <= r.ticks; t++ {
		q := noPair
		for _, n := range r.nodes[r.at[t]:r.at[t+1]] {
			before := &r.fore[t-r.p[n.job]]
			q.add(before.but(n.job)+n.cost-r.mu[n.job], n.job)
		}
		r.fore[t] = q
	}
	r.work += int64(len(r.nodes))
	return r.fore[r.ticks].one + r.sum
}

// backward finds the cheapest walks to the end.
func (r *relax) backward() {
	for t := range r.back {
		r.back[t] = noPair
	}
	r.back[r.ticks] = pair{0, 0, -1, -1}
	for t := r.ticks; t > 0; t-- {
		for _, n := range r.nodes[r.at[t]:r.at[t+1]] {
			r.back[t-r.p[n.job]].add(r.back[t].but(n.job)+n.cost-r.mu[n.job], n.job)
		}
	}
	r.work += int64(len(r.nodes))
}

// walk counts how often each job is in the cheapest walk.
func (r *relax) walk() {
	clear(r.count)
	job := r.fore[r.ticks].job
	for t := r.ticks; t > 0; {
		r.count[job]++
		t -= r.p[job]
		job = r.fore[t].butJob(job)
	}
}

// thin takes out every pair through which no plan of cost up to most leads.
func (r *relax) thin(most float64) {
	r.backward()
	k, from := int32(0), int32(0)
	for t := 0; t <= r.ticks; t++ {
		to := r.at[t+1]
		r.at[t] = k
		for _, n := range r.nodes[from:to] {
			through := r.fore[t-r.p[n.job]].but(n.job) + n.cost - r.mu[n.job] + r.back[t].but(n.job) + r.sum
			if through <= most {
				r.nodes[k] = n
				k++
			}
		}
		from = to
	}
	r.at[r.ticks+1] = k
	r.nodes = r.nodes[:k]
}

// shift moves the multipliers by step times dir.
func (r *relax) shift(dir []float64, step float64) {
	for j := range r.mu {
		r.mu[j] += step * dir[j]
	}
	r.add()
}

// set puts the multipliers at mu.
func (r *relax) set(mu []float64) {
	copy(r.mu, mu)
	r.add()
}

// add adds the multipliers up.
func (r *relax) add() {
	r.sum, r.size = 0, 0
	for _, m := range r.mu {
		r.sum += m
		r.size += math.Abs(m)
	}
}

// base gives r itself, for climb.
func (r *relax) base() *relax { return r }
