package travel

import (
	"context"
	"math"
	"math/rand/v2"

	"kerfbook/internal/calc/contract"
)

// solveUneven searches where ways differ by direction or pairs must be kept; the
// bound comes from the cheaper way of each pair and forgets the pairs.
func (t *task) solveUneven(ctx context.Context) answer {
	some, cancel := share(ctx)
	defer cancel()
	l := t.newLine()
	l.search(some, unevenWork)
	length := t.length(l.best)
	w := t.net()
	bound := newBounder(w, t.whole).root(ctx, length-w.tied).bound + w.tied
	return answer{order: l.best, bound: bound, proved: t.meets(bound, length)}
}

// line is an order under improvement. Place n stands for the way back.
type line struct {
	*task
	seq     []int
	place   []int
	ahead   []float64 // cost from the first stop to each place
	astern  []float64 // the same, were all ways gone in reverse
	after   [][]int   // stops that must come later than each
	near    [][]int   // cheap next stops
	close   [][]int   // cheap stops to come from
	longest int       // longest block that is moved
	best    []int
	work    int
}

const (
	wideStops  = 60 // up to so many stops, every block and every gap is tried
	shortBlock = 3  // above, blocks up to so long go beside near stops
)

func (t *task) newLine() *line {
	l := &line{task: t, place: make([]int, t.n), ahead: make([]float64, t.n), astern: make([]float64, t.n),
		after: make([][]int, t.n), longest: shortBlock}
	if t.n <= wideStops {
		l.longest = t.n
	}
	for _, p := range t.before {
		l.after[p[0]] = append(l.after[p[0]], p[1])
	}
	l.nearby()
	l.greedy()
	l.renew(0)
	l.best = append([]int(nil), l.seq...)
	return l
}

func (l *line) nearby() {
	k := min(l.n-1, neighbours)
	into := make([]float64, l.n)
	others := make([]int, 0, l.n)
	for i := range l.n {
		others = others[:0]
		for j := range l.n {
			into[j] = l.at(j, i)
			if j != i {
				others = append(others, j)
			}
		}
		l.near = append(l.near, append([]int(nil), nearest(others, k, l.cost[i*l.n:(i+1)*l.n])...))
		l.close = append(l.close, append([]int(nil), nearest(others, k, into)...))
	}
}

// greedy goes always to the nearest stop that may come next.
func (l *line) greedy() {
	waits := make([]int, l.n)
	for _, p := range l.before {
		waits[p[1]]++
	}
	done := make([]bool, l.n)
	l.seq = []int{l.start}
	for at := l.start; ; {
		done[at] = true
		for _, s := range l.after[at] {
			waits[s]--
		}
		next := -1
		for s := range l.n {
			if !done[s] && waits[s] == 0 && (next < 0 || l.at(at, s) < l.at(at, next)) {
				next = s
			}
		}
		if next < 0 {
			return
		}
		l.seq = append(l.seq, next)
		at = next
	}
}

// renew puts places and sums right from a place on.
func (l *line) renew(from int) {
	for i := from; i < l.n; i++ {
		l.place[l.seq[i]] = i
		if i > 0 {
			l.ahead[i] = l.ahead[i-1] + l.at(l.seq[i-1], l.seq[i])
			l.astern[i] = l.astern[i-1] + l.at(l.seq[i], l.seq[i-1])
		}
	}
	l.work += l.n - from
}

// leg is the cost from the stop at place i to that at place j; the last place
// leads back to the start, or nowhere.
func (l *line) leg(i, j int) float64 {
	if j == l.n {
		if !l.back {
			return 0
		}
		j = 0
	}
	return l.at(l.seq[i], l.seq[j])
}

// search settles, then kicks and settles again until the work limit. It goes on
// from an order a little worse than before, which gets it out of dead ends, and
// comes back to the best one now and then.
func (l *line) search(ctx context.Context, limit int) {
	const worse = 1.02
	l.settle(ctx, limit)
	now := l.length(l.seq)
	best := now
	copy(l.best, l.seq)
	kept := append([]int(nil), l.seq...)
	random := rand.New(rand.NewPCG(1962, 1970))
	watch := contract.WatchOf(ctx)
	for i := 1; i <= 40*l.n && l.work < limit && ctx.Err() == nil; i++ {
		watch.Tell(func() contract.Progress { return far(best, 0) })
		l.kick(random)
		l.settle(ctx, limit)
		v := l.length(l.seq)
		if v < best-slack*best {
			best = v
			copy(l.best, l.seq)
		}
		switch {
		case i%(2*l.n) == 0:
			now = best
			copy(kept, l.best)
		case v <= now*worse:
			now = v
			copy(kept, l.seq)
			continue
		}
		copy(l.seq, kept)
		l.renew(0)
	}
}

// settle makes moves that pay until none does.
func (l *line) settle(ctx context.Context, limit int) {
	for again := true; again; {
		again = false
		for i := 1; i < l.n && ctx.Err() == nil && l.work < limit; i++ {
			for l.improve(i) {
				again = true
			}
		}
	}
}

// improve tries to move or turn round a block that begins at place i.
func (l *line) improve(i int) bool {
	for j := i; j < l.n && j < i+l.longest; j++ {
		if l.longest >= l.n {
			for gap := range l.n {
				if l.move(i, j, gap) {
					return true
				}
			}
			if l.turn(i, j) {
				return true
			}
			continue
		}
		for _, s := range l.close[l.seq[i]] {
			if l.move(i, j, l.place[s]) {
				return true
			}
		}
		for _, s := range l.near[l.seq[j]] {
			if l.move(i, j, l.place[s]-1) {
				return true
			}
		}
	}
	if l.longest < l.n {
		for _, s := range l.near[l.seq[i-1]] {
			if l.place[s] > i && l.turn(i, l.place[s]) {
				return true
			}
		}
	}
	return false
}

// move takes the block i..j out and puts it behind place gap, as it is or turned
// round, if that pays and keeps the pairs.
func (l *line) move(i, j, gap int) bool {
	l.work++
	if gap < 0 || (gap >= i-1 && gap <= j) {
		return false
	}
	open := l.leg(i-1, j+1) - l.leg(i-1, i) - l.leg(j, j+1) - l.leg(gap, gap+1)
	inside, turned := l.ahead[j]-l.ahead[i], l.astern[j]-l.astern[i]
	as := open + l.leg(gap, i) + l.leg(j, gap+1)
	round := open + l.leg(gap, j) + l.leg(i, gap+1) + turned - inside
	least := -slack * (1 + l.ahead[l.n-1])
	if as < least && l.swappable(min(i, gap+1), i, j, max(j, gap)) {
		l.rotate(i, j, gap)
		return true
	}
	if round < least && l.turnable(i, j) && l.swappable(min(i, gap+1), i, j, max(j, gap)) {
		flipStops(l.seq[i : j+1])
		l.rotate(i, j, gap)
		return true
	}
	return false
}

// turn turns the block i..j round where it lies, if that pays and keeps the pairs.
func (l *line) turn(i, j int) bool {
	l.work++
	gain := l.leg(i-1, j) + l.leg(i, j+1) + l.astern[j] - l.astern[i] - l.leg(i-1, i) - l.leg(j, j+1) - l.ahead[j] + l.ahead[i]
	if gain >= -slack*(1+l.ahead[l.n-1]) || !l.turnable(i, j) {
		return false
	}
	flipStops(l.seq[i : j+1])
	l.renew(i)
	return true
}

// rotate carries the block i..j behind place gap.
func (l *line) rotate(i, j, gap int) {
	low, mid, high := i, j+1, gap+1
	if gap < i {
		low, mid, high = gap+1, i, j+1
	}
	flipStops(l.seq[low:mid])
	flipStops(l.seq[mid:high])
	flipStops(l.seq[low:high])
	l.renew(low)
}

func flipStops(s []int) {
	for i, j := 0, len(s)-1; i < j; i, j = i+1, j-1 {
		s[i], s[j] = s[j], s[i]
	}
}

// swappable tells whether the block i..j may change sides with what else lies
// between the places low and high.
func (l *line) swappable(low, i, j, high int) bool {
	first, last := low, i-1 // the stops before the block, which would come after it
	if low == i {
		first, last = i, j // the block itself goes behind
	}
	for p := first; p <= last; p++ {
		l.work++
		for _, s := range l.after[l.seq[p]] {
			if q := l.place[s]; q > last && q <= high {
				return false
			}
		}
	}
	return true
}

// turnable tells whether no pair lies inside the block i..j.
func (l *line) turnable(i, j int) bool {
	for p := i; p <= j; p++ {
		l.work++
		for _, s := range l.after[l.seq[p]] {
			if l.place[s] <= j {
				return false
			}
		}
	}
	return true
}

// kick swaps two neighbouring blocks somewhere, where the pairs allow it.
func (l *line) kick(random *rand.Rand) {
	span := int(math.Min(kickSpan, float64((l.n-1)/2)))
	for range 50 {
		i := 1 + random.IntN(l.n-2)
		j := i + random.IntN(span)
		k := j + 1 + random.IntN(span)
		if k < l.n && l.swappable(i, i, j, k) {
			l.rotate(i, j, k)
			return
		}
	}
}
