package planning

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func allOf(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}

// Without luck a course is the plan: a plan that has every step as early as it can be, in
// its order, gives its own ends back.
func TestCourseWithoutLuckIsThePlan(t *testing.T) {
	t.Parallel()
	for seed := range uint64(6) {
		in := workshopIn(seed, 8+int(seed), 5, 1)
		in.Resources = nil
		for j := range in.Jobs {
			for k := range in.Jobs[j].Steps {
				s := &in.Jobs[j].Steps[k]
				s.Needs, s.Batch, s.Unbroken = nil, nil, false // a course knows none of them
			}
		}
		out := mustPlan(t, in)
		c, err := NewCourse(in, out, 0)
		require.NoError(t, err)
		ends := c.Ends(NewLaw(Luck{}, 1), allOf(len(in.Jobs)), []int{0})
		for j, jp := range out.Jobs {
			require.LessOrEqual(t, ends[j][0], jp.EndMinute, "no later than planned: the order of the hand is that of the plan")
		}
		last := slices.MaxFunc(out.Jobs, func(a, b JobPlan) int { return int(a.EndMinute - b.EndMinute) })
		require.Positive(t, last.EndMinute)
	}
}

// By hand: from minute 30 on, the first job has 70 of its 100 minutes left; the second
// waits for it; 0 to 120 and 200 to 500 are open.
func TestCourseGoesOnFromNow(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 9, "minutes": 100}, {"id": "b", "due_minute": 50, "weight": 1, "steps": [{"minutes": 40, "wait_minutes": 30}, {"minutes": 10}]}],
	  "calendar": [{"from_minute": 0, "to_minute": 120, "hands": 1}, {"from_minute": 200, "to_minute": 500, "hands": 1}]}`)
	out := mustPlan(t, in)
	c, err := NewCourse(in, out, 30)
	require.NoError(t, err)
	ends := c.Ends(NewLaw(Luck{}, 1), []int{0, 1}, []int{0})
	require.Equal(t, [][]int64{{100}, {260}}, ends, "20 minutes to 120, 20 to 220, 30 of waiting, 10 more")
	c, err = NewCourse(in, out, 110)
	require.NoError(t, err)
	require.EqualValues(t, 100, c.Ends(NewLaw(Luck{}, 1), []int{0}, []int{0})[0][0], "it is over")
	_, err = NewCourse(In{}, out, 0)
	require.ErrorContains(t, err, "lay the plan anew first")
}

func TestCourseRunsOutOfHours(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 1, "minutes": 100}, {"id": "b", "due_minute": 0, "weight": 1, "minutes": 1, "predecessors": ["a"]}], "calendar": [{"from_minute": 0, "to_minute": 120, "hands": 1}]}`)
	c, err := NewCourse(in, mustPlan(t, in), 0)
	require.NoError(t, err)
	ends := c.Ends(NewLaw(Learn([]float64{3, 3, 3, 3}), 50), []int{0, 1}, allOf(50))
	require.EqualValues(t, int64(math.MaxInt64), slices.Max(ends[0]))
	require.EqualValues(t, int64(math.MaxInt64), slices.Max(ends[1]), "what waits for it neither")
}

// What is learnt: the middle goes where the builds say, the doubt shrinks with them.
func TestLearn(t *testing.T) {
	t.Parallel()
	none, few, many := Learn(nil), Learn([]float64{1.5, 1.4, 1.6}), Learn(slices.Repeat([]float64{1.5, 1.4, 1.6}, 20))
	require.Zero(t, none.Mean)
	// By hand: (2 x 0 + 3 x 0.4039) / 5, and the mean of the logs itself at the limit.
	require.InDelta(t, 0.2424, few.Mean, 1e-3)
	require.InDelta(t, math.Log(1.5), many.Mean, 0.02)
	require.Greater(t, none.Scale, many.Scale)
	require.Less(t, few.Scale, 0.4)
	require.Equal(t, none, Learn([]float64{0, -1, math.Inf(1), math.NaN()}), "what is no proportion is passed over")
	median := func(l Luck) int64 {
		in := luckyIn(t, `{"jobs": [{"id": "a", "due_minute": 0, "weight": 1, "minutes": 1000}]}`)
		c, err := NewCourse(in, mustPlan(t, in), 0)
		require.NoError(t, err)
		ends := c.Ends(NewLaw(l, 400), []int{0}, allOf(400))[0]
		slices.Sort(ends)
		return ends[200]
	}
	// Real minutes are half as many again, and bad weeks take some of the always open time.
	require.InDelta(t, 1500, median(many), 120)
	require.InDelta(t, 1000, median(none), 120)
}

// Jobs asked for at the end leave the luck of those before as it is.
func TestCourseKeepsTheLuckOfOthers(t *testing.T) {
	t.Parallel()
	in := workshopIn(3, 10, 4, 1)
	out := mustPlan(t, in)
	c, err := NewCourse(in, out, 0)
	require.NoError(t, err)
	law := NewLaw(Learn([]float64{1.2, 0.9}), 40)
	before := c.Ends(law, []int{4}, allOf(40))
	job := workshopJob(rand.New(rand.NewPCG(5, 5)), "asked", 3)
	p, err := Earliest(in, out, job)
	require.NoError(t, err)
	in.Jobs, out.Jobs = append(in.Jobs, job), append(out.Jobs, p)
	with, err := NewCourse(in, out, 0)
	require.NoError(t, err)
	both := with.Ends(law, []int{4, len(in.Jobs) - 1}, allOf(40))
	for d := range 40 {
		require.GreaterOrEqual(t, both[0][d], before[0][d], fmt.Sprint("course ", d, ": more work before it never brings it forward"))
	}
}
