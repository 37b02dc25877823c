package planning

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// workshopIn draws builds like those of a workshop of one: weeks of days with a
// lunch gap, a second pair of hands on some days, batches by operation, glue and
// paint that wait, few clamps. Made up here.
func workshopIn(seed uint64, builds, steps, hands int) In {
	rng := rand.New(rand.NewPCG(seed, 7))
	in := In{Resources: []Resource{{ID: "clamps", Count: 2}, {ID: "rack", Count: 3}}}
	total := int64(0)
	for j := range builds {
		job := workshopJob(rng, fmt.Sprint("b", j), steps)
		for _, s := range job.Steps {
			total += s.Minutes
		}
		in.Jobs = append(in.Jobs, job)
	}
	days := total/480 + 5
	for j := range in.Jobs {
		in.Jobs[j].DueMinute = in.Jobs[j].ReleaseMinute + int64(rng.IntN(int(days)))*1440*7/5
	}
	for d := range 3 * days {
		h := 1
		if d%7 == 2 {
			h = hands
		}
		if d%7 < 5 {
			in.Calendar = append(in.Calendar, Spell{d*1440 + 480, d*1440 + 720, &h}, Spell{d*1440 + 780, d*1440 + 1020, &h})
		}
	}
	return in
}

func workshopJob(rng *rand.Rand, id string, steps int) Job {
	job := Job{ID: id, Weight: float64(1 + rng.IntN(5))}
	if rng.IntN(3) == 0 {
		job.ReleaseMinute = int64(rng.IntN(20) * 1440)
	}
	for k := range steps {
		s := Step{Minutes: int64(10 + 5*rng.IntN(12))}
		switch k % 4 {
		case 0:
			s.Batch = &Batch{fmt.Sprint("op", k), 15}
		case 1:
			s.WaitMinutes, s.Needs = int64(60*rng.IntN(8)), []string{"clamps"}
		case 2:
			s.Unbroken = true
		case 3:
			s.WaitMinutes, s.Needs = int64(720*rng.IntN(3)), []string{"rack"}
		}
		job.Steps = append(job.Steps, s)
	}
	return job
}

func TestWorkshopPlans(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ builds, steps, hands int }{{60, 8, 1}, {60, 8, 2}, {20, 6, 1}, {8, 4, 1}, {5, 3, 2}, {200, 8, 1}} {
		t.Run(fmt.Sprint(tt), func(t *testing.T) {
			t.Parallel()
			in := workshopIn(1, tt.builds, tt.steps, tt.hands)
			start := time.Now()
			out := mustPlan(t, in)
			t.Logf("%v: %g, bound %g, proved %v", time.Since(start), out.WeightedTardiness, out.Bound, out.Proved)
		})
	}
}

// TestEarliestMovesNothing adds one more job to a plan, and looks the two over
// together: the old minutes stand and the new ones are lawful.
func TestEarliestMovesNothing(t *testing.T) {
	t.Parallel()
	for seed := range uint64(12) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			in := workshopIn(seed, 10+int(seed), 5, 1+int(seed%2))
			out := mustPlan(t, in)
			job := workshopJob(rand.New(rand.NewPCG(seed, 99)), "new", 6)
			if seed%3 == 0 {
				job.Predecessors = []string{"b0"}
			}
			if seed%2 == 0 {
				for _, s := range job.Steps {
					if s.Batch != nil {
						s.Batch.Key += " of its own"
					}
				}
			}
			got, err := Earliest(in, out, job)
			require.NoError(t, err)
			with := in
			with.Jobs = append(append([]Job(nil), in.Jobs...), job)
			both := out
			both.Jobs = append(append([]JobPlan(nil), out.Jobs...), got)
			c := checker{in: with, out: both, index: map[string]int{}}
			for _, rule := range []func() error{c.all, c.steps, c.waits, c.busy} {
				require.NoError(t, rule())
			}
			if err := c.shared(); err != nil {
				// The new job may make a set-up needless that the plan has paid for.
				require.Equal(t, uint64(1), seed%2)
				require.ErrorContains(t, err, "where 0 are due")
			}
			require.Equal(t, got.TardyMinutes, max(0, got.EndMinute-job.DueMinute))
		})
	}
}

func TestEarliestRefuses(t *testing.T) {
	t.Parallel()
	ten, one := int64(10), 1
	in := In{Jobs: []Job{{ID: "a", Minutes: &ten, Weight: 1}}, Calendar: []Spell{{0, 15, &one}}}
	out := mustPlan(t, in)
	_, err := Earliest(in, out, Job{ID: "b", Minutes: &ten, Weight: 1})
	require.ErrorContains(t, err, `"b" finds no place beside the plan`)
	_, err = Earliest(in, out, Job{ID: "a", Minutes: &ten, Weight: 1})
	require.ErrorContains(t, err, "twice")
	_, err = Earliest(In{}, out, Job{ID: "b", Minutes: &ten, Weight: 1})
	require.ErrorContains(t, err, "lay the plan anew first")
}

func TestTimeLimitIsKept(t *testing.T) {
	t.Parallel()
	in := workshopIn(3, 150, 8, 1)
	took := func(limit int64) time.Duration {
		in.TimeLimitMS = &limit
		start := time.Now()
		out, err := Plan(context.Background(), in)
		require.NoError(t, err)
		require.NoError(t, Check(in, out))
		return time.Since(start)
	}
	// A tenth over the limit on a quiet machine; on a busy one only the two compare.
	short := min(took(60), took(60), took(60))
	require.Less(t, short, took(2000))

	ctx, stop := context.WithCancel(context.Background())
	stop()
	out, err := Plan(ctx, in)
	require.NoError(t, err, "a caller out of time still gets a lawful plan")
	require.NoError(t, Check(in, out))
}

// BenchmarkSixtyBuilds is the figure for a page: under 200 ms.
func BenchmarkSixtyBuilds(b *testing.B) {
	in := workshopIn(2, 60, 8, 1)
	for b.Loop() {
		_, err := Plan(context.Background(), in)
		require.NoError(b, err)
	}
}

// BenchmarkEarliest is the figure for a promise beside 200 builds: under 30 ms.
func BenchmarkEarliest(b *testing.B) {
	in := workshopIn(1, 200, 8, 1)
	out, err := Plan(context.Background(), in)
	require.NoError(b, err)
	job := workshopJob(rand.New(rand.NewPCG(1, 99)), "new", 8)
	for b.Loop() {
		_, err := Earliest(in, out, job)
		require.NoError(b, err)
	}
}
