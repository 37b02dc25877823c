package cutting

import (
	"cmp"
	"slices"
)

// Work for packing at one price: our estimate, from the benchmarks.
const (
	packWork = 20_000_000
	// quickShare of it goes before the linear program.
	quickShare = 4
	// leastTry is the least work that is worth giving to one choice of boards.
	leastTry = 1_500_000
	// lessBeyond is how much less work the prices beyond the bound get.
	lessBeyond = 4
	// betterShare of it goes to each choice of better boards.
	betterShare = 10
	// The linear program over more kinds than this is dear: packing may take longer.
	manyKinds = 50
	// firstShare of the work goes to the first choice of boards alone.
	firstShare = 4
	// listed choices of boards are looked at, at most; tried ones are packed.
	listed, tried = 64, 12
)

// targets looks for plans that meet the bound, or come near it: boards of just one
// total price are chosen and packed. The bound gets most of the work; where that
// fails, prices further and further up are tried until one succeeds, and then
// those between.
func (s *search) targets(work int) {
	if s.choose == nil {
		return
	}
	work *= max(1, len(s.kinds)/manyKinds)
	s.within(4*work, func() {
		v := s.bound
		if v >= s.worth.price || s.packAt(v, work) {
			return
		}
		work /= lessBeyond
		above := s.worth.price // nothing to try from here up
		for step := 1; v+1 < above && !s.over; {
			step = min(step, above-1-v)
			next := s.raise(v + step)
			switch {
			case next >= above:
				above = v + step
				step = max(1, step/2)
			case s.packAt(next, work):
				above = next
				step = max(1, (above-v)/4)
			default:
				v, step = next, 2*step
			}
		}
	})
}

// packAt tries to pack all parts on boards of total price v. The choice with the
// fewest boards is tried first, then several choices together, the half that is
// further from a plan being given up again and again.
func (s *search) packAt(v, work int) bool {
	choices, _ := s.choose.list(v, listed)
	if len(choices) == 0 {
		return false
	}
	first := s.packed(choices[0])
	alone := work
	if work > leastTry {
		alone = max(leastTry, work/firstShare)
	}
	if first.more(alone) {
		return s.offer(first.draft())
	}
	if work -= alone; work <= 0 {
		return false
	}
	tries := []*packer{first}
	for _, take := range s.roomiest(choices[1:], min(tried, work/leastTry)) {
		tries = append(tries, s.packed(take))
	}
	for rounds := 4; len(tries) > 0 && !s.over; rounds-- {
		for _, p := range tries {
			if p.more(work / max(1, rounds) / len(tries)) {
				return s.offer(p.draft())
			}
		}
		if rounds <= 1 {
			return false
		}
		work -= work / rounds
		slices.SortStableFunc(tries, func(a, b *packer) int { return cmp.Compare(a.short(), b.short()) })
		tries = tries[:(len(tries)+1)/2]
	}
	return false
}

// betterBoards looks, at the price that is reached, for a choice of fewer boards,
// or of as many that uses up more or older offcuts.
func (s *search) betterBoards() {
	if s.choose == nil || s.many() {
		return
	}
	choices, _ := s.choose.list(s.worth.price, listed)
	for _, take := range choices {
		boards := 0
		for _, n := range take {
			boards += n
		}
		if boards > s.worth.boards {
			return
		}
		if boards == s.worth.boards && s.offcuts(take) <= s.worth.offcuts {
			continue
		}
		p := s.packed(take)
		if p.more(packWork/betterShare) && s.offer(p.draft()) || s.over {
			return
		}
	}
}

func (s *search) packed(take []int) *packer {
	s.throws++ // other dice each time
	p := newPacker(s.model, s.effort, s.throws)
	p.start(take, s.demand)
	return p
}

// roomiest gives some of the choices: the first few, which have few boards, and
// those with the most room, most in all.
func (s *search) roomiest(choices [][]int, most int) [][]int {
	few := min(len(choices), most/3)
	rest := slices.Clone(choices[few:])
	slices.SortStableFunc(rest, func(a, b []int) int { return cmp.Compare(s.room(b), s.room(a)) })
	return append(slices.Clone(choices[:few]), rest[:min(len(rest), most-few)]...)
}

func (s *search) room(take []int) int {
	sum := 0
	for i, n := range take {
		sum += n * s.reach[i]
	}
	return sum
}
