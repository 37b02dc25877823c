package planning

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"kerfbook/internal/calc/contract"
)

// What is believed of a workshop before it has finished anything: that its standard
// times hold, give or take a third, as firmly as if three builds had said so; our estimate.
const (
	priorMean    = 0.0  // of the log of real on planned minutes
	priorScale   = 0.30 // of the same
	priorCases   = 2    // how many builds the mean weighs
	priorFreedom = 4    // how many builds the scale weighs
)

// Weeks in which less gets done than the hours say: illness, visitors, a machine that
// stands still. How often they come differs from workshop to workshop, so the chance of
// one is itself drawn, evenly up to badWeekMost; a bad one loses evenly between nothing
// and all of its hours; our estimate.
const (
	badWeekMost = 0.24
	weekMinutes = 7 * 24 * 60
)

// minSpeed is the least share of its hours that a week is worked, so that a course
// goes on.
const minSpeed = 0.02

// stretchLuck is how much of the luck of a build is that of the whole stretch of work (a
// blunt saw, wet timber) and not its own, as a share of the variance; our estimate.
const stretchLuck = 0.15

// usualJob is the work, in minutes, of the builds that the scale of luck is learnt from;
// of longer work the luck evens out. Our estimate: two days.
const usualJob = 960

// Luck is what is believed of real minutes beside planned ones: the log of their
// proportion is normal, its mean and scale known as far as finished builds tell. The
// zero Luck has every minute as planned and no bad weeks.
type Luck struct {
	Mean    float64 // of the log of real on planned minutes
	Scale   float64 // of the same for one build
	Cases   float64 // builds that the mean is known from, the prior's included
	Freedom float64 // builds that the scale is known from, the prior's included
}

// Learn gives the luck of a workshop from the proportions of real to planned minutes of
// finished builds, each above 0; others are passed over, and one that lies far off counts
// as less far. With none it is our estimate.
//
// Source: normal model with conjugate prior, Gelman et al., Bayesian Data Analysis,
// 3rd edition, section 3.3; from memory.
func Learn(proportions []float64) Luck {
	var logs []float64
	for _, p := range proportions {
		if p > 0 && !math.IsInf(p, 0) {
			logs = append(logs, math.Log(p))
		}
	}
	logs = clipped(logs)
	sum := 0.0
	for _, x := range logs {
		sum += x
	}
	n := float64(len(logs))
	l := Luck{Mean: (priorCases*priorMean + sum) / (priorCases + n), Cases: priorCases + n, Freedom: priorFreedom + n}
	squares := priorFreedom * priorScale * priorScale
	if n > 0 {
		mean := sum / n
		for _, x := range logs {
			squares += (x - mean) * (x - mean)
		}
		squares += priorCases * n * (mean - priorMean) * (mean - priorMean) / (priorCases + n)
	}
	l.Scale = math.Sqrt(squares / l.Freedom)
	return l
}

// Known is how many finished builds it was learnt from.
func (l Luck) Known() int { return max(0, int(math.Round(l.Freedom-priorFreedom))) }

// Middle is the proportion of real to planned minutes that is as often passed as kept.
func (l Luck) Middle() float64 { return math.Exp(l.Mean) }

// courseTurn is a step of a course: work of one hand, in the order of the plan.
type courseTurn struct {
	job, hand     int // hand -1: nobody
	minutes, wait int64
	last          bool    // of its job
	own           []Spell // the hours that the step keeps to; nil: those of its hand
	step          int
	dry           bool // needs dry weather
}

// Course plays a plan through under a workshop's luck. Unlike Spread it goes by builds
// and weeks: all work shares the doubt about the rates and the luck of the stretch, each
// job has its own, weeks lose hours. It keeps the order of each hand, releases, held
// starts, waits and predecessors, and with the order the set-ups that the plan pays: they
// stretch with the job that pays them. Of limited things it knows what the order says.
type Course struct {
	in    In
	turns []courseTurn
	hands [][]Spell // the open time of each hand
	done  []int64   // end of a job that is over, or -1
	from  []int64   // no step of a job before it, for what was done waits
	preds [][]int
	own   []float64 // how much of its own luck a job has: long ones even it out
	now   int64
	sky   *courseSky // nil: no step needs dry weather
}

// NewCourse prepares plan, which was laid from in, to be played on from minute now: what
// the plan has done by then counts as done. A plan that does not fit in gives a *contract.Error.
func NewCourse(in In, plan Out, now int64) (*Course, error) {
	if len(plan.Jobs) != len(in.Jobs) {
		return nil, contract.Bad("/jobs", "the plan holds %d jobs, the input %d: lay the plan anew first", len(plan.Jobs), len(in.Jobs))
	}
	c := &Course{in: in, now: now, done: make([]int64, len(in.Jobs)), from: make([]int64, len(in.Jobs)), preds: make([][]int, len(in.Jobs)), own: make([]float64, len(in.Jobs))}
	check := checker{in: in}
	open, most := check.spells()
	most = check.places(most)
	index := map[string]int{}
	for j, job := range in.Jobs {
		index[job.ID] = j
	}
	type timed struct {
		courseTurn
		start, end int64
	}
	var list []timed
	for j, job := range in.Jobs {
		steps, jp := stepsOf(job), plan.Jobs[j]
		if len(steps) == 0 || len(jp.Steps) != len(steps) || jp.ID != job.ID {
			return nil, contract.Bad("/jobs", "the plan knows %q with other steps: lay the plan anew first", job.ID)
		}
		for _, id := range job.Predecessors {
			if q, ok := index[id]; ok {
				c.preds[j] = append(c.preds[j], q)
			}
		}
		var minutes int64
		for k, s := range steps {
			minutes += s.Minutes + jp.Steps[k].SetupMinutes
		}
		c.own[j] = 1 / math.Sqrt(max(1, float64(minutes)/usualJob))
		c.done[j] = -1
		if jp.EndMinute <= now {
			c.done[j] = jp.EndMinute
			continue
		}
		for k, sp := range jp.Steps {
			if sp.EndMinute <= now && k+1 < len(steps) { // done; what is left of its wait runs on
				c.from[j] = sp.EndMinute + steps[k].WaitMinutes
				continue
			}
			if sp.Hand > most {
				continue
			}
			t := courseTurn{job: j, hand: sp.Hand - 1, wait: steps[k].WaitMinutes, last: k+1 == len(steps), step: k}
			if check.keepsHours(steps[k]) {
				t.own = check.openTo(open, steps[k])
			}
			t.minutes = worked(check.openTo(open, steps[k]), max(now, sp.StartMinute), max(now, sp.EndMinute))
			list = append(list, timed{t, sp.StartMinute, sp.EndMinute})
		}
	}
	sort.SliceStable(list, func(a, b int) bool {
		if list[a].start != list[b].start {
			return list[a].start < list[b].start
		}
		return list[a].end < list[b].end
	})
	c.turns = make([]courseTurn, len(list))
	for i, t := range list {
		c.turns[i] = t.courseTurn
	}
	c.openHands(open, most, plan)
	return c, nil
}

// openHands gives each hand the spells that have as many hands, those that the plan has it
// work in, and all that come after the last of these: what takes longer than the second
// hands are there is ended by the others.
func (c *Course) openHands(open []Spell, most int, plan Out) {
	if open == nil {
		hands := most
		open = []Spell{{0, math.MaxInt64 / 4, &hands}}
	}
	open = slices.DeleteFunc(open, func(s Spell) bool { return s.ToMinute <= c.now })
	works := make([]map[int]bool, most)
	for h := range works {
		works[h] = map[int]bool{}
	}
	for _, jp := range plan.Jobs {
		for _, sp := range jp.Steps {
			if sp.Hand < 1 || sp.Hand > most || sp.EndMinute <= c.now {
				continue
			}
			k := sort.Search(len(open), func(k int) bool { return open[k].ToMinute > sp.StartMinute })
			for ; k < len(open) && open[k].FromMinute < sp.EndMinute; k++ {
				works[sp.Hand-1][k] = true
			}
		}
	}
	last := make([]int, most)
	for k, s := range open {
		for h := range most {
			if *s.Hands > h || works[h][k] {
				last[h] = k
			}
		}
	}
	c.hands = make([][]Spell, most)
	for k, s := range open {
		for h := range most {
			if *s.Hands > h || works[h][k] || k > last[h] {
				c.hands[h] = append(c.hands[h], s)
			}
		}
	}
}

// Ends plays the plan once for each of the draws of law that are named, and gives
// for each wanted job (by its place in the input) its end in each course, in the order of
// draws; math.MaxInt64 where the calendar ran out. The same draw has the same luck
// whatever else is asked, and jobs at the end of the input do not change that of those before.
func (c *Course) Ends(law *Law, jobs, draws []int) [][]int64 {
	ends := make([][]int64, len(jobs))
	turns := c.until(jobs)
	end, ready := make([]int64, len(c.in.Jobs)), make([]int64, len(c.in.Jobs))
	factor := make([]float64, len(c.in.Jobs))
	for _, d := range draws {
		speeds := law.draw(d, c.own, factor)
		if c.sky != nil {
			c.drawSky(d)
		}
		c.play(turns, factor, speeds, end, ready)
		for i, j := range jobs {
			ends[i] = append(ends[i], end[j])
		}
	}
	return ends
}

// until cuts off the turns behind the last one of the wanted jobs.
func (c *Course) until(jobs []int) []courseTurn {
	want := map[int]bool{}
	for _, j := range jobs {
		want[j] = true
	}
	for i := len(c.turns) - 1; i >= 0; i-- {
		if want[c.turns[i].job] {
			return c.turns[:i+1]
		}
	}
	return nil
}

// handAt is how far a hand has come.
type handAt struct {
	spell int
	at    float64
}

// play goes through the turns once.
func (c *Course) play(turns []courseTurn, factor, speeds []float64, end, ready []int64) {
	for j := range end {
		end[j], ready[j] = math.MaxInt64, max(c.now, c.from[j], c.in.Jobs[j].ReleaseMinute)
		if f := c.in.Jobs[j].FixedStartMinute; f != nil {
			ready[j] = max(ready[j], *f)
		}
		if c.done[j] >= 0 {
			end[j] = c.done[j]
		}
	}
	if c.sky != nil {
		c.playDry(turns, factor, speeds, end, ready)
		return
	}
	hands := make([]handAt, len(c.hands))
	for _, t := range turns {
		from := ready[t.job]
		for _, q := range c.preds[t.job] {
			from = max(from, end[q])
		}
		to := from
		if t.hand >= 0 && from < math.MaxInt64 {
			h, open, own := &hands[t.hand], c.hands[t.hand], handAt{at: hands[t.hand].at}
			if t.own != nil {
				h, open = &own, t.own
				own.spell = sort.Search(len(open), func(k int) bool { return float64(open[k].ToMinute) > max(own.at, float64(from)) })
			}
			to = c.work(h, open, from, float64(t.minutes)*factor[t.job], speeds)
			hands[t.hand].at = h.at
		}
		if t.last {
			end[t.job] = to
		}
		if ready[t.job] = to; to < math.MaxInt64 {
			ready[t.job] = to + t.wait
		}
	}
}

// work lets a hand work so many minutes from a minute on and gives when it is done.
func (c *Course) work(h *handAt, open []Spell, from int64, minutes float64, speeds []float64) int64 {
	at := max(h.at, float64(from))
	for ; h.spell < len(open); h.spell++ {
		s := open[h.spell]
		if float64(s.ToMinute) <= at {
			continue
		}
		at = max(at, float64(s.FromMinute))
		speed := speedOf(speeds, s, c.now)
		if room := (float64(s.ToMinute) - at) * speed; minutes > room {
			minutes -= room
			continue
		}
		h.at = at + minutes/speed
		return int64(math.Ceil(h.at - 1e-6))
	}
	h.at = math.MaxInt64 / 2
	return math.MaxInt64
}

// speedOf is how much of the hours of a spell is worked, by its week.
func speedOf(speeds []float64, s Spell, now int64) float64 {
	if len(speeds) == 0 {
		return 1
	}
	return speeds[min(len(speeds)-1, int((max(s.FromMinute, now)-now)/weekMinutes))]
}

// Law draws the luck of courses. The parts that all work shares are spread evenly over
// the draws, so that few draws show the whole of them.
type Law struct {
	Luck
	shared, scale []float64 // of each draw
}

// courseWeeks is how many weeks of a course have their own luck; later ones have that of
// the last.
const courseWeeks = 120

// NewLaw makes a law of so many draws, 1 or more.
func NewLaw(luck Luck, of int) *Law {
	l := &Law{Luck: luck, shared: make([]float64, of), scale: make([]float64, of)}
	if luck.Freedom <= 0 {
		return l
	}
	rng := rand.New(rand.NewPCG(firstSeed, secondSeed))
	chi := distuv.ChiSquared{K: luck.Freedom}
	shared, scale := rng.Perm(of), rng.Perm(of)
	for d := range of {
		l.scale[d] = luck.Scale * math.Sqrt(luck.Freedom/chi.Quantile((float64(scale[d])+0.5)/float64(of)))
		u := (float64(shared[d]) + 0.5) / float64(of)
		l.shared[d] = luck.Mean + l.scale[d]*math.Sqrt(1/luck.Cases+stretchLuck)*math.Sqrt2*math.Erfinv(2*u-1)
	}
	return l
}

// draw gives for one course how much longer each job takes than planned, into factor,
// given how much of its own luck each has,
// and how much of its hours each week is worked.
func (l *Law) draw(d int, share, factor []float64) []float64 {
	if l.Freedom <= 0 {
		for j := range factor {
			factor[j] = 1
		}
		return nil
	}
	rng := rand.New(rand.NewPCG(firstSeed+uint64(d), secondSeed))
	speeds := make([]float64, courseWeeks)
	bad := badWeekMost * rng.Float64()
	for w := range speeds {
		u, lost := rng.Float64(), rng.Float64()
		if speeds[w] = 1; u < bad {
			speeds[w] = max(minSpeed, 1-lost)
		}
	}
	own := l.scale[d] * math.Sqrt(1-stretchLuck)
	for j := range factor {
		factor[j] = math.Exp(l.shared[d] + own*share[j]*rng.NormFloat64())
	}
	return speeds
}
