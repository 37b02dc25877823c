package planning

import (
	"context"
	"math"
)

// relaxation is what climb works on.
type relaxation interface {
	forward() float64  // lays the cheapest walks, gives the bound
	walk()             // counts the jobs of the cheapest one
	thin(most float64) // takes out what no plan of that cost can use
	base() *relax
}

// climber steers the steps of the multipliers.
type climber struct {
	rounds int     // at most
	work   int64   // at most, in nodes or arcs visited
	start  float64 // how much of the gap the first steps are meant to close
	gain   float64 // relative gain below which a round counts as idle
	every  int     // rounds between thinnings
}

// Tried out on the published instances: the chain gains far more a round.
var (
	relaxClimb = climber{rounds: 30, work: 40_000_000, start: 0.3, gain: 0.0005, every: 20}
	chainClimb = climber{rounds: 400, work: 120_000_000, start: 0.1, gain: 0.0002, every: 10}
	// For a mere bound.
	coarseRelax = climber{rounds: 20, work: 4_000_000, start: 0.3, gain: 0.0005, every: 20}
	coarseChain = climber{rounds: 80, work: 8_000_000, start: 0.15, gain: 0.0002, every: 10}
)

const (
	// climbShrink is how much shorter the steps get after climbPatience idle rounds;
	// climbInertia is how much of the last direction stays in the next. All three
	// were tried out on the published instances.
	climbShrink, climbPatience, climbInertia = 0.75, 25, 0.9
	// turnLeast keeps a step from growing without limit when the direction fades; a
	// walk with one job left out and one repeated turns it by this much.
	turnLeast = 2 * (1 - climbInertia) * (1 - climbInertia)
	// boundTol, absolute and relative to all that is added up, is what rounding may
	// have added to a bound: a walk has fewer than 10000 steps of 53 bits.
	boundTol, boundRelTol = 1e-6, 1e-12
)

// slack is what rounding may have added to a bound beside a plan of cost least.
func (r *relax) slack(least int64) float64 {
	return boundTol + boundRelTol*(float64(least)+r.size)
}

// below is the most that a plan better than least may cost: costs are whole.
func (r *relax) below(least int64) float64 { return float64(least-1) + r.slack(least) }

// climb raises the bound of x by moving the multipliers against the counts of the
// cheapest walk, smoothed over the rounds, until no plan below least can be or
// the limits are reached. least is the cost of a known plan. It gives the best
// bound, rounded up to what a plan can cost, and leaves x at its multipliers.
//
// Source: subgradient steps, Held, Wolfe and Crowder, Math. Programming 6 (1974)
// 62-88; their smoothing, Camerini, Fratta and Maffioli, Math. Programming Study 3
// (1975) 26-34; both from memory.
func (c climber) climb(ctx context.Context, x relaxation, least int64) int64 {
	r := x.base()
	best, idle, step := math.Inf(-1), 0, c.start
	mu, dir := make([]float64, r.n), make([]float64, r.n)
	r.work = 0
	for round := 1; round <= c.rounds && r.work < c.work && ctx.Err() == nil; round++ {
		bound := x.forward()
		if bound > r.below(least) {
			return least
		}
		if idle++; bound > best {
			if bound > best+c.gain*math.Abs(best) {
				idle = 0
			}
			best = bound
			copy(mu, r.mu)
		}
		if round%c.every == 0 {
			if x.thin(r.below(least)); len(r.nodes) == 0 {
				return least
			}
		}
		if idle >= climbPatience {
			step, idle = step*climbShrink, 0
			r.set(mu)
			continue
		}
		x.walk()
		length, whole := turnTo(dir, r.count)
		if whole {
			break // the walk is a plan: there is nothing more to gain
		}
		r.shift(dir, step*(float64(least)-bound)/max(length, turnLeast))
	}
	r.set(mu)
	x.forward()
	x.thin(r.below(least))
	return max(0, int64(math.Ceil(best-r.slack(least))))
}

// turnTo turns the direction towards jobs that the walk leaves out and away from
// those it repeats, and gives its squared length. whole tells that every job is in
// the walk once.
func turnTo(dir []float64, count []int) (length float64, whole bool) {
	whole = true
	for j, n := range count {
		whole = whole && n == 1
		dir[j] = climbInertia*dir[j] + (1-climbInertia)*float64(1-n)
		length += dir[j] * dir[j]
	}
	return length, whole
}
