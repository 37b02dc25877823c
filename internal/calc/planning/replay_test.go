package planning

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

// replayed lays out again and looks the answer over with the checker.
func replayed(t require.TestingT, in In, plan Out) (Out, []string) {
	out, lost, err := Replay(in, plan)
	require.NoError(t, err)
	kept := in
	kept.Jobs = slices.DeleteFunc(slices.Clone(in.Jobs), func(j Job) bool { return slices.Contains(lost, j.ID) })
	c := checker{in: kept, out: out, index: map[string]int{}}
	for _, rule := range []func() error{c.all, c.steps, c.waits, c.busy, c.shared, c.sums, c.sequence} {
		if slices.ContainsFunc(kept.Jobs, func(j Job) bool { return j.FixedStartMinute != nil }) {
			return out, lost // what is held may have to begin later than its minute
		}
		require.NoError(t, rule())
	}
	return out, lost
}

// Any plan laid again under unchanged rules is lawful and ends no job later; laid again
// once more it stays as it is.
func TestReplayOfAPlanIsNoWorse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawIn(t, 6, 3)
		for j := range in.Jobs {
			in.Jobs[j].FixedStartMinute = nil
		}
		plan, err := Plan(t.Context(), unhurried(in))
		if err != nil {
			requireBadOrNil(t, err)
			return
		}
		out, lost := replayed(t, in, plan)
		require.Empty(t, lost)
		if len(in.Resources) == 0 {
			for j, p := range out.Jobs {
				require.LessOrEqual(t, p.EndMinute, plan.Jobs[j].EndMinute)
			}
		}
		again, lost := replayed(t, in, out)
		require.Empty(t, lost)
		require.Equal(t, out, again)
	})
}

// By hand, always open: a takes 10, b 20 behind it, c 5 with a wait of 7 between its steps.
func TestReplayByHand(t *testing.T) {
	t.Parallel()
	const raw = `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 10, "weight": 9}, {"id": "b", "minutes": 20, "due_minute": 30, "weight": 3}, {"id": "c", "due_minute": 99, "weight": 2, "steps": [{"minutes": 2, "wait_minutes": 7}, {"minutes": 3}]}]}`
	in := luckyIn(t, raw)
	plan := mustPlan(t, in)
	require.Equal(t, []string{"a", "b", "c"}, plan.Order)
	ends := func(change func(*In)) []int64 {
		changed := luckyIn(t, raw)
		change(&changed)
		out, lost := replayed(t, changed, plan)
		require.Empty(t, lost)
		return []int64{out.Jobs[0].EndMinute, out.Jobs[1].EndMinute, out.Jobs[2].EndMinute}
	}
	long := int64(15)
	require.Equal(t, []int64{10, 30, 42}, ends(func(*In) {}), "30 + 2 + 7 + 3")
	require.Equal(t, []int64{15, 35, 47}, ends(func(in *In) { in.Jobs[0].Minutes = &long }), "a takes five more: all behind it")
	require.Equal(t, []int64{10, 44, 56}, ends(func(in *In) { in.Jobs[1].ReleaseMinute = 24 }), "the order is kept, the hand waits")
	one := 1
	require.Equal(t, []int64{10, 130, 142}, ends(func(in *In) { in.Calendar = []Spell{{0, 20, &one}, {120, 500, &one}} }), "ten of b before the gap, ten after it")
}

// What finds no hours is named, and with it what waits for it; the rest stands.
func TestReplayNamesWhatFindsNoRoom(t *testing.T) {
	t.Parallel()
	in := luckyIn(t, `{"jobs": [{"id": "a", "minutes": 10, "due_minute": 10, "weight": 9}, {"id": "b", "minutes": 20, "due_minute": 30, "weight": 3}, {"id": "c", "minutes": 1, "due_minute": 99, "weight": 1, "predecessors": ["b"]}, {"id": "d", "minutes": 4, "due_minute": 200, "weight": 1}]}`)
	plan := mustPlan(t, in)
	one := 1
	in.Calendar = []Spell{{0, 16, &one}}
	out, lost := replayed(t, in, plan)
	require.Equal(t, []string{"b", "c"}, lost)
	require.Equal(t, []string{"a", "d"}, out.Order)
	require.EqualValues(t, 14, out.Jobs[1].EndMinute)
	var bad *contract.Error
	_, _, err := Replay(In{Jobs: in.Jobs[:2]}, plan)
	require.ErrorAs(t, err, &bad)
	require.ErrorContains(t, err, "lay the plan anew first")
	in.Jobs[0].ID = "other"
	_, _, err = Replay(in, plan)
	require.ErrorContains(t, err, "with other steps")
}

// A workshop's plan under longer work, later timber and lost hours: the order of each
// hand stays, nothing is before its release, and every rule holds.
func TestReplayOfAWorkshop(t *testing.T) {
	t.Parallel()
	for seed := range uint64(8) {
		in := workshopIn(seed, 14, 5, 1+int(seed%2))
		for j := range in.Jobs {
			for k := range in.Jobs[j].Steps {
				in.Jobs[j].Steps[k].Needs = nil // a thing that is held may change an order
			}
		}
		plan := mustPlan(t, in)
		rng := rand.New(rand.NewPCG(seed, 3))
		for j := range in.Jobs {
			in.Jobs[j].ReleaseMinute += int64(rng.IntN(3)) * 1440
			for k := range in.Jobs[j].Steps {
				in.Jobs[j].Steps[k].Minutes += int64(rng.IntN(20))
			}
		}
		in.Calendar = append(slices.Clone(in.Calendar[:4]), in.Calendar[8:]...)
		out, lost := replayed(t, in, plan)
		was, is := map[int][]string{}, map[int][]string{}
		for hand, list := range map[*map[int][]string][]JobPlan{&was: plan.Jobs, &is: out.Jobs} {
			type turn struct {
				at int64
				id string
			}
			turns := map[int][]turn{}
			for _, p := range list {
				for _, s := range p.Steps {
					if !slices.Contains(lost, p.ID) {
						turns[s.Hand] = append(turns[s.Hand], turn{s.StartMinute, p.ID})
					}
				}
			}
			for h, l := range turns {
				slices.SortStableFunc(l, func(a, b turn) int { return int(a.at - b.at) })
				for _, x := range l {
					(*hand)[h] = append((*hand)[h], x.id)
				}
			}
		}
		require.Equal(t, was, is, "seed %d", seed)
	}
}
