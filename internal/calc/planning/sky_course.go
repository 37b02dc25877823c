package planning

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
)

// DryStep is a step of a plan that needs dry weather.
type DryStep struct {
	Job   string
	Step  int   // from 0
	Waits int64 // minutes of the wait or the release before it that stand in the plan for the weather alone
}

// courseSky is what a course knows of the weather.
type courseSky struct {
	Sky
	dry []bool // of the course that is played
}

// NeedsDry says which steps of the course need dry weather, and how dry the days are. Such
// a step runs on dry days only; while it waits, and what waits for it, the hand goes on
// with the next work of the plan. What the plan only expected of the weather does not count.
func (c *Course) NeedsDry(sky Sky, steps []DryStep) {
	if len(sky.Days) == 0 || len(steps) == 0 {
		return
	}
	c.in.Jobs = slices.Clone(c.in.Jobs)
	for _, d := range steps {
		j := slices.IndexFunc(c.in.Jobs, func(x Job) bool { return x.ID == d.Job })
		if j < 0 {
			continue
		}
		if d.Step == 0 {
			c.in.Jobs[j].ReleaseMinute -= d.Waits
		}
		for i := range c.turns {
			t := &c.turns[i]
			if t.job == j && t.step == d.Step-1 {
				t.wait -= d.Waits
			}
			t.dry = t.dry || t.job == j && t.step == d.Step
		}
	}
	c.sky = &courseSky{Sky: sky}
}

// skySeed sets the draws of the weather apart from those of the work.
const skySeed = 7919

func (c *Course) drawSky(d int) {
	c.sky.dry = c.sky.draw(rand.New(rand.NewPCG(firstSeed+uint64(d), secondSeed+skySeed)))
}

// dryPlay is a course being played under the weather.
type dryPlay struct {
	*Course
	factor, speeds []float64
	hands          []handAt
	end, ready     []int64
	held           []heldTurn
	stuck          []int // turns of each job that are held
}

// heldTurn waits for dry weather, or for a turn that does.
type heldTurn struct {
	courseTurn
	left float64 // minutes of it
}

// playDry goes through the turns once; what waits for the weather lets the next ones go first.
func (c *Course) playDry(turns []courseTurn, factor, speeds []float64, end, ready []int64) {
	p := dryPlay{Course: c, factor: factor, speeds: speeds, hands: make([]handAt, len(c.hands)), end: end, ready: ready, stuck: make([]int, len(end))}
	for _, t := range turns {
		x := heldTurn{t, float64(t.minutes) * factor[t.job]}
		if !p.waits(t) {
			p.letGo(p.soonest(t, false))
		}
		if p.waits(t) || t.dry && p.soonest(t, true) > p.soonest(t, false) {
			p.hold(x)
			continue
		}
		p.do(x, false)
	}
	for len(p.held) > 0 {
		x := p.held[0]
		p.held, p.stuck[x.job] = p.held[1:], p.stuck[x.job]-1
		p.do(x, true)
	}
}

func (p *dryPlay) hold(x heldTurn) {
	p.held = append(p.held, x)
	p.stuck[x.job]++
}

// waits tells whether something before t is held.
func (p *dryPlay) waits(t courseTurn) bool {
	return p.stuck[t.job] > 0 || slices.ContainsFunc(p.preds[t.job], func(q int) bool { return p.stuck[q] > 0 })
}

// from is the minute from which the jobs let t run.
func (p *dryPlay) from(t courseTurn) int64 {
	from := p.ready[t.job]
	for _, q := range p.preds[t.job] {
		from = max(from, p.end[q])
	}
	return from
}

// place gives the hours that t works in, from where its hand has come, and the minute from
// which on it may.
func (p *dryPlay) place(t courseTurn) (open []Spell, spell int, at float64) {
	h := p.hands[t.hand]
	open, spell, at = p.Course.hands[t.hand], h.spell, max(h.at, float64(p.from(t)))
	if t.own != nil {
		open = t.own
		spell = sort.Search(len(open), func(k int) bool { return float64(open[k].ToMinute) > at })
	}
	return open, spell, at
}

// dryOn tells whether the day of a spell is dry.
func (p *dryPlay) dryOn(s Spell) bool { return p.sky.dry[p.sky.day(max(p.now, s.FromMinute))] }

// soonest is the minute at which t could run; with the sky only on a dry day.
// math.MaxInt64 where the hours run out.
func (p *dryPlay) soonest(t courseTurn, sky bool) int64 {
	from := p.from(t)
	if t.hand < 0 || from == math.MaxInt64 {
		return from
	}
	open, spell, at := p.place(t)
	for ; spell < len(open); spell++ {
		if s := open[spell]; float64(s.ToMinute) > at && (!sky || p.dryOn(s)) {
			return int64(math.Ceil(max(at, float64(s.FromMinute)) - 1e-6))
		}
	}
	return math.MaxInt64
}

// letGo runs what is held and could run by minute at.
func (p *dryPlay) letGo(at int64) {
	for again := true; again && len(p.held) > 0; {
		again = false
		for i, x := range p.held {
			first := !slices.ContainsFunc(p.held[:i], func(o heldTurn) bool { return o.job == x.job })
			if !first || slices.ContainsFunc(p.preds[x.job], func(q int) bool { return p.stuck[q] > 0 }) {
				continue
			}
			if x.dry && p.soonest(x.courseTurn, true) <= at || !x.dry && p.from(x.courseTurn) <= at {
				p.held = slices.Delete(p.held, i, i+1)
				p.stuck[x.job]--
				p.do(x, false)
				again = true
				break
			}
		}
	}
}

// do lets a hand work on x. With finish it goes on until it is done; else dry work that
// runs into a wet day is held with what is left of it.
func (p *dryPlay) do(x heldTurn, finish bool) {
	from := p.from(x.courseTurn)
	to := from
	if x.hand >= 0 && from < math.MaxInt64 {
		if x.dry {
			to, x.left = p.workDry(x, finish)
		} else {
			h := &p.hands[x.hand]
			if x.own != nil {
				open, spell, at := p.place(x.courseTurn)
				own := handAt{spell: spell, at: at}
				to = p.work(&own, open, from, x.left, p.speeds)
				h.at = own.at
			} else {
				to = p.work(h, p.Course.hands[x.hand], from, x.left, p.speeds)
			}
			x.left = 0
		}
		if x.left > 0 && to < math.MaxInt64 {
			p.ready[x.job] = max(p.ready[x.job], to)
			p.held = slices.Insert(p.held, 0, x) // it goes before what waits for it
			p.stuck[x.job]++
			return
		}
	}
	if x.last {
		p.end[x.job] = to
	}
	if p.ready[x.job] = to; to < math.MaxInt64 {
		p.ready[x.job] = to + x.wait
	}
}

// workDry works on dry days, to the end of the dry ones or of the work, and gives when it
// stopped and what is left; math.MaxInt64 where the hours ran out.
func (p *dryPlay) workDry(x heldTurn, finish bool) (int64, float64) {
	h := &p.hands[x.hand]
	open, k, at := p.place(x.courseTurn)
	begun, left := false, x.left
	for ; k < len(open); k++ {
		s := open[k]
		if float64(s.ToMinute) <= at {
			continue
		}
		if !p.dryOn(s) {
			if begun && !finish {
				return int64(math.Ceil(at - 1e-6)), left
			}
			continue
		}
		at, begun = max(at, float64(s.FromMinute)), true
		speed := speedOf(p.speeds, s, p.now)
		if room := (float64(s.ToMinute) - at) * speed; left > room {
			left -= room
			at = float64(s.ToMinute)
			h.at = at
			continue
		}
		h.at = at + left/speed
		return int64(math.Ceil(h.at - 1e-6)), 0
	}
	h.at = math.MaxInt64 / 2
	return math.MaxInt64, left
}
