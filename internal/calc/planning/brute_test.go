package planning

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

// brute is the slow independent solver: every start minute up to a horizon, every
// hand and both answers to "is set-up paid" for every step, each complete plan
// put before Check. It knows nothing of lists, active plans or dominance.
type brute struct {
	in      In
	horizon int64
	hands   int
	plan    Out
	best    float64
}

// bruteForce gives the least cost below beat, or beat when there is none.
func bruteForce(in In, horizon int64, beat float64) float64 {
	b := &brute{in: in, horizon: horizon, best: beat, hands: 1}
	if in.Hands != nil {
		b.hands = *in.Hands
	}
	for i, s := range in.Calendar {
		if i == 0 {
			b.hands = 0
		}
		b.hands = max(b.hands, *s.Hands)
	}
	for _, j := range in.Jobs {
		b.plan.Jobs = append(b.plan.Jobs, JobPlan{ID: j.ID, Steps: make([]StepPlan, len(stepsOf(j)))})
	}
	b.hands = (&checker{in: in}).places(b.hands)
	b.step(0, 0, 0)
	return b.best
}

func (b *brute) open(s Step, t int64) bool {
	for _, r := range b.in.Resources {
		there := func(h Stretch) bool { return h.FromMinute <= t && t < h.ToMinute }
		if r.Hours != nil && slices.Contains(s.Needs, r.ID) && !slices.ContainsFunc(r.Hours, there) {
			return false
		}
	}
	if b.in.Calendar == nil {
		return true
	}
	for _, s := range b.in.Calendar {
		if s.FromMinute <= t && t < s.ToMinute {
			return true
		}
	}
	return false
}

func (b *brute) step(i, k int, cost float64) {
	if i == len(b.in.Jobs) {
		b.finish(cost)
		return
	}
	j := b.in.Jobs[i]
	steps := stepsOf(j)
	s := steps[k]
	from := j.ReleaseMinute
	if k > 0 {
		from = b.plan.Jobs[i].Steps[k-1].EndMinute + steps[k-1].WaitMinutes
	}
	for start := from; start <= b.horizon; start++ {
		if cost+j.Weight*float64(max(0, start+1-j.DueMinute)) >= b.best {
			return
		}
		if k == 0 && j.FixedStartMinute != nil && start != *j.FixedStartMinute {
			continue
		}
		setups := []int64{0}
		if s.Batch != nil && s.Batch.SetupMinutes > 0 {
			setups = append(setups, s.Batch.SetupMinutes)
		}
		for _, setup := range setups {
			end, left := start, s.Minutes+setup
			for ; left > 0; end++ {
				if b.open(s, end) {
					left--
				}
			}
			hands := b.hands
			if s.Minutes+setup == 0 {
				hands = 1
			}
			for h := 1; h <= hands; h++ {
				b.plan.Jobs[i].Steps[k] = StepPlan{start, end, h, setup}
				if b.overlaps(i, k) {
					continue
				}
				if k+1 < len(steps) {
					b.step(i, k+1, cost)
				} else {
					if total := cost + j.Weight*float64(max(0, end-j.DueMinute)); total < b.best {
						b.step(i+1, 0, total)
					}
				}
			}
		}
	}
}

// overlaps prunes what Check would refuse anyway.
func (b *brute) overlaps(i, k int) bool {
	s := b.plan.Jobs[i].Steps[k]
	if s.StartMinute == s.EndMinute {
		return false
	}
	if !b.open(stepsOf(b.in.Jobs[i])[k], s.StartMinute) {
		return true
	}
	for x := 0; x <= i; x++ {
		for y, o := range b.plan.Jobs[x].Steps {
			if x == i && y >= k {
				break
			}
			if o.EndMinute > o.StartMinute && o.Hand == s.Hand && o.StartMinute < s.EndMinute && s.StartMinute < o.EndMinute {
				return true
			}
		}
	}
	return false
}

func (b *brute) finish(cost float64) {
	c := checker{in: b.in, out: b.plan, index: map[string]int{}}
	for i := range b.plan.Jobs {
		p := &b.plan.Jobs[i]
		p.StartMinute, p.EndMinute = p.Steps[0].StartMinute, p.Steps[len(p.Steps)-1].EndMinute
	}
	for _, rule := range []func() error{c.all, c.steps, c.waits, c.busy, c.shared} {
		if rule() != nil {
			return
		}
	}
	b.best = cost
}

// drawTiny draws at most so many steps of a few minutes with all optional fields.
func drawTiny(t *rapid.T, left int) In {
	var in In
	small := func(name string, lo, hi int64) int64 { return rapid.Int64Range(lo, hi).Draw(t, name) }
	if rapid.Bool().Draw(t, "two hands") {
		h := 2
		in.Hands = &h
	}
	if rapid.Bool().Draw(t, "calendar") {
		at := int64(0)
		for range 2 {
			at += small("closed", 0, 2)
			h := rapid.IntRange(1, 2).Draw(t, "spell hands")
			to := at + small("open", 1, 5)
			in.Calendar = append(in.Calendar, Spell{at, to, &h})
			at = to
		}
		one := 1
		at += small("closed", 0, 2)
		in.Calendar = append(in.Calendar, Spell{at, at + 60, &one})
	}
	if rapid.Bool().Draw(t, "clamp") {
		in.Resources = []Resource{{ID: "clamp", Count: rapid.IntRange(1, 2).Draw(t, "count")}}
	}
	for j := 0; left > 0; j++ {
		n := rapid.IntRange(1, min(left, 3)).Draw(t, "steps")
		left -= n
		job := Job{ID: string(rune('a' + j)), DueMinute: small("due", 0, 8), Weight: float64(small("weight", 1, 4)), ReleaseMinute: small("release", 0, 4)}
		if j > 0 && rapid.IntRange(0, 3).Draw(t, "pred") == 0 {
			job.Predecessors = []string{"a"}
		}
		if rapid.IntRange(0, 5).Draw(t, "held") == 0 {
			f := job.ReleaseMinute + small("fixed", 0, 5)
			job.FixedStartMinute = &f
		}
		for range n {
			s := Step{Minutes: small("minutes", 1, 3), WaitMinutes: small("wait", 0, 3), Unbroken: rapid.IntRange(0, 2).Draw(t, "unbroken") == 0}
			if in.Resources != nil && rapid.Bool().Draw(t, "needs") {
				s.Needs = slices.Repeat([]string{"clamp"}, rapid.IntRange(1, in.Resources[0].Count).Draw(t, "units"))
			}
			if rapid.Bool().Draw(t, "batched") {
				s.Batch = &Batch{rapid.SampledFrom([]string{"x", "y"}).Draw(t, "key"), 2}
			}
			job.Steps = append(job.Steps, s)
		}
		in.Jobs = append(in.Jobs, job)
	}
	return in
}

// TestSmallPlansAreBest compares with the slow solver: the plan is the best there
// is, is said to be proved, and no plan is refused that exists.
func TestSmallPlansAreBest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := unhurried(drawTiny(t, 4))
		out, err := Plan(context.Background(), in)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.True(t, math.IsInf(bruteForce(in, 20, math.Inf(1)), 1), "refused with %v, but there is a plan", err)
			return
		}
		require.True(t, out.Proved)
		require.Equal(t, out.WeightedTardiness, out.Bound)
		require.Equal(t, out.WeightedTardiness, bruteForce(in, 30, out.WeightedTardiness))
		solversAgree(t, in, out.WeightedTardiness)
	})
}

// solversAgree looks at the parts by themselves: going through all plans finds the
// best one without a start, and no bound passes it.
func solversAgree(t require.TestingT, in In, best float64) {
	p, err := newProblem(in)
	require.NoError(t, err)
	heads, err := p.heads()
	require.NoError(t, err)
	want := int64(math.Round(best * float64(p.scale)))
	last, least, all := p.solve(context.Background(), never)
	require.True(t, all)
	require.NotNil(t, last)
	require.Equal(t, want, least)
	tt := newTimetable(p)
	tt.layTurns(last)
	require.Equal(t, want, tt.value().tardy)
	require.NoError(t, Check(in, p.out(tt, least)))

	require.LessOrEqual(t, p.bound(heads), want)
	if crowd := p.newCrowd(heads); crowd != nil {
		require.LessOrEqual(t, crowd.least(context.Background(), want+50), want)
		v := newVoyage(crowd)
		v.start(context.Background())
		require.LessOrEqual(t, p.bound(heads), v.least, "no job of the crowd ends before its head")
	}
}
