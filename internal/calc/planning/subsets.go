package planning

import "context"

// subsetWork is the work limit of the walk over subsets, in sets kept.
const subsetWork = 150_000

// reached is the cheapest order of a set of jobs at the front of a plan.
type reached struct {
	set   uint64
	cost  int64
	paid  float64 // multipliers of the jobs in it
	tick  int32
	last  int32 // job
	above int32 // index of the set without that job, one level up
}

// front walks over sets of jobs, each done at the front of the plan, by size.
type front struct {
	*chain
	where  []int32 // of job j ending at tick t, at j*(ticks+1)+t: its node, or -1
	levels [][]reached
}

// subsets looks for a plan below least among all orders, set by set: of two
// orders of one set the cheaper leads on, and a set is left when its cost and the
// chain's bound for the rest are not below least. It gives the best order (nil
// when none is below least) and whether nothing was cut short.
//
// Source: dynamic programming over subsets, Held and Karp, J. SIAM 10 (1962)
// 196-210.
func (c *chain) subsets(ctx context.Context, least int64) ([]int, bool) {
	c.backward()
	f := &front{chain: c, where: make([]int32, c.n*(c.ticks+1)), levels: [][]reached{{{last: -1}}}}
	for x := range f.where {
		f.where[x] = -1
	}
	for t := 0; t <= c.ticks; t++ {
		for x := c.at[t]; x < c.at[t+1]; x++ {
			f.where[int(c.nodes[x].job)*(c.ticks+1)+t] = x
		}
	}
	kept := 0
	for range c.n {
		next := f.grow(ctx, c.below(least))
		if kept += len(next); kept > subsetWork || ctx.Err() != nil {
			return nil, false
		}
		f.levels = append(f.levels, next)
	}
	if len(f.levels[c.n]) == 0 {
		return nil, true
	}
	order := make([]int, c.n)
	x := int32(0)
	for k := c.n; k > 0; k-- {
		a := &f.levels[k][x]
		order[k-1], x = int(a.last), a.above
	}
	return order, true
}

// grow gives the sets that have one job more than those of the last level and may
// still lead to a plan of cost up to most.
func (f *front) grow(ctx context.Context, most float64) []reached {
	var next []reached
	index := map[uint64]int32{}
	for x, a := range f.levels[len(f.levels)-1] {
		for j, p := range f.p {
			t := int(a.tick) + p
			if a.set>>j&1 == 1 || t > f.ticks {
				continue
			}
			node := f.where[j*(f.ticks+1)+t]
			if node < 0 {
				continue
			}
			b := reached{a.set | 1<<j, a.cost + int64(f.nodes[node].cost), a.paid + f.mu[j], int32(t), int32(j), int32(x)}
			if float64(b.cost)-b.paid+f.sum+f.bwd[node] > most {
				continue
			}
			y, known := index[b.set]
			switch {
			case !known:
				index[b.set] = int32(len(next))
				next = append(next, b)
			case b.cost < next[y].cost:
				next[y] = b
			}
		}
		if len(next) > subsetWork || x%256 == 255 && ctx.Err() != nil {
			break
		}
	}
	return next
}
