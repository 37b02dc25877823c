package planning

import "math"

// chainJobs is the most jobs a chain takes: one bit of a word for each.
const chainJobs = 64

// chain is the relaxation with one more rule: no two neighbours of the walk would
// be cheaper the other way round, equal ones standing by index. Some best order
// keeps it. It is slower than relax and much tighter, and is laid over the pairs
// that relax has left.
type chain struct {
	*relax
	allow  []uint64  // of each node: the jobs that may stand right before it
	fwd    []float64 // of each node: the cheapest walk from 0 that ends with it
	bwd    []float64 // the cheapest walk to the end after it
	parent []int32   // the node before it in that from 0, -1 at the front
	ended  []int32   // the nodes that end at a tick, at its place in at, by fwd
	starts []int32   // begun[starts[t]:starts[t+1]] start at tick t
	begun  []int32   // those nodes, by the cheapest walk that begins with them
}

// newChain works the rule out for all nodes of r, which it shares.
func newChain(r *relax) *chain {
	n := len(r.nodes)
	c := &chain{relax: r, allow: make([]uint64, n), fwd: make([]float64, n), bwd: make([]float64, n), parent: make([]int32, n)}
	for t := 0; t <= c.ticks; t++ {
		for x := c.at[t]; x < c.at[t+1]; x++ {
			j := int(c.nodes[x].job)
			for i, p := range c.p {
				before := t - c.p[j] // when i ends
				if i == j || before < p {
					continue
				}
				asIs := c.cost(i, int64(before)*c.unit) + c.cost(j, int64(t)*c.unit)
				swapped := c.cost(j, int64(t-p)*c.unit) + c.cost(i, int64(t)*c.unit)
				if asIs < swapped || asIs == swapped && i < j {
					c.allow[x] |= 1 << i
				}
			}
		}
	}
	c.group()
	return c
}

// group sorts the nodes by end and by start.
func (c *chain) group() {
	c.ended, c.begun, c.starts = make([]int32, len(c.nodes)), make([]int32, len(c.nodes)), make([]int32, c.ticks+2)
	for x := range c.ended {
		c.ended[x] = int32(x)
	}
	for t := 0; t <= c.ticks; t++ {
		for x := c.at[t]; x < c.at[t+1]; x++ {
			c.starts[t-c.p[c.nodes[x].job]+1]++
		}
	}
	for t := 0; t <= c.ticks; t++ {
		c.starts[t+1] += c.starts[t]
	}
	fill := append([]int32(nil), c.starts...)
	for t := 0; t <= c.ticks; t++ {
		for x := c.at[t]; x < c.at[t+1]; x++ {
			u := t - c.p[c.nodes[x].job]
			c.begun[fill[u]] = x
			fill[u]++
		}
	}
}

// byValue sorts nodes by value; they come nearly sorted from the round before.
func byValue(nodes []int32, value []float64) {
	for i := 1; i < len(nodes); i++ {
		x, v, k := nodes[i], value[nodes[i]], i
		for ; k > 0 && value[nodes[k-1]] > v; k-- {
			nodes[k] = nodes[k-1]
		}
		nodes[k] = x
	}
}

// forward finds the cheapest walks from 0 and gives the bound that they make. The
// first node allowed, by value, is the one that a walk comes from.
func (c *chain) forward() float64 {
	for t := 1; t <= c.ticks; t++ {
		for x := c.at[t]; x < c.at[t+1]; x++ {
			n := &c.nodes[x]
			u, allow := t-c.p[n.job], c.allow[x]
			best, from := math.Inf(1), int32(-1)
			if u == 0 {
				best = 0
			}
			for _, y := range c.ended[c.at[u]:c.at[u+1]] {
				if c.work++; allow>>c.nodes[y].job&1 == 1 {
					best, from = c.fwd[y], y
					break
				}
			}
			c.fwd[x], c.parent[x] = best+n.cost-c.mu[n.job], from
		}
		byValue(c.ended[c.at[t]:c.at[t+1]], c.fwd)
	}
	if x := c.last(); x >= 0 {
		return c.fwd[x] + c.sum
	}
	return math.Inf(1)
}

// last gives the node that ends the cheapest whole walk, -1 when there is none.
func (c *chain) last() int32 {
	best := int32(-1)
	for x := c.at[c.ticks]; x < c.at[c.ticks+1]; x++ {
		if best < 0 || c.fwd[x] < c.fwd[best] {
			best = x
		}
	}
	return best
}

// backward finds the cheapest walks to the end. While it runs, bwd holds the walk
// with the node itself.
func (c *chain) backward() {
	for t := c.ticks; t > 0; t-- {
		next := c.begun[c.starts[t]:c.starts[t+1]]
		byValue(next, c.bwd)
		for x := c.at[t]; x < c.at[t+1]; x++ {
			n := &c.nodes[x]
			best := math.Inf(1)
			if t == c.ticks {
				best = 0
			}
			for _, y := range next {
				if c.work++; c.allow[y]>>n.job&1 == 1 {
					best = c.bwd[y]
					break
				}
			}
			c.bwd[x] = best + n.cost - c.mu[n.job]
		}
	}
	for x, n := range c.nodes {
		c.bwd[x] -= n.cost - c.mu[n.job]
	}
}

// walk counts how often each job is in the cheapest walk.
func (c *chain) walk() {
	clear(c.count)
	for x := c.last(); x >= 0; x = c.parent[x] {
		c.count[c.nodes[x].job]++
	}
}

// thin takes out every node through which no plan of cost up to most leads, and
// finds the walks anew.
func (c *chain) thin(most float64) {
	c.backward()
	k, from := int32(0), int32(0)
	for t := 0; t <= c.ticks; t++ {
		to := c.at[t+1]
		c.at[t] = k
		for x := from; x < to; x++ {
			if c.fwd[x]+c.bwd[x]+c.sum <= most {
				c.nodes[k], c.allow[k] = c.nodes[x], c.allow[x]
				k++
			}
		}
		from = to
	}
	c.at[c.ticks+1] = k
	c.nodes = c.nodes[:k]
	c.allow, c.fwd, c.bwd, c.parent = c.allow[:k], c.fwd[:k], c.bwd[:k], c.parent[:k]
	c.group()
	c.forward()
}
