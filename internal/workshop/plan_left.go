package workshop

import (
	"math"
	"slices"
	"strconv"

	"kerfbook/internal/calc/planning"
)

// leftOver is how much of its standard an operation is reckoned to take still when it has
// had all of it and is not done; our estimate.
const leftOver = 0.1

// leftMin gives the minutes that an operation still takes for the pieces that are open,
// set-up included: its standard for those pieces, or where that is less what the time spent
// leaves of the standard of the whole batch. What is finished has had its minutes.
func (w work) leftMin(o Operation) float64 {
	if w.Open <= 0 {
		return 0
	}
	standard := o.StandardMin(w.Open)
	return max(standard*leftOver, min(standard, o.StandardMin(w.Quantity)-o.SpentMin))
}

// step is what is left of an operation. The same operation of builds of one model shares
// its set-up where they lie next to each other; one that has begun is set up already.
func (w work) step(o Operation) planning.Step {
	s := planning.Step{Minutes: int64(math.Ceil(w.leftMin(o))), WaitMinutes: int64(o.WaitMin), Needs: o.needs()}
	setup := int64(o.SetupMin)
	if s.Minutes == 0 || setup == 0 {
		return s
	}
	s.Batch = &planning.Batch{Key: strconv.FormatInt(w.ModelID, 10) + " " + o.Name}
	if o.SpentMin == 0 && s.Minutes > setup { // else it is nothing but set-up, or that is done
		s.Minutes, s.Batch.SetupMinutes = s.Minutes-setup, setup
	}
	return s
}

// batchOf is the set-up minutes of a step, 0 where it has none.
func batchOf(s planning.Step) int64 {
	if s.Batch == nil {
		return 0
	}
	return s.Batch.SetupMinutes
}

// stillSetUp spares the first step on each hand its set-up where the plan had it share
// that of a step which is done meanwhile: jobs are what is left, was their places in plan.
// A plan whose builds have gone out does not tell; the set-up counts then.
func stillSetUp(jobs []planning.Job, was []planning.JobPlan, plan planning.Out) {
	type place struct{ job, step int }
	first := map[int]place{}
	for i, p := range was {
		for k, s := range p.Steps {
			f, ok := first[s.Hand]
			if s.Hand > 0 && (!ok || s.StartMinute < was[f.job].Steps[f.step].StartMinute) {
				first[s.Hand] = place{i, k}
			}
		}
	}
	for hand, f := range first {
		at := was[f.job].Steps[f.step]
		if batchOf(jobs[f.job].Steps[f.step]) == 0 || at.SetupMinutes > 0 || !doneBefore(plan, jobs, hand, at.StartMinute) {
			continue
		}
		j := &jobs[f.job]
		j.Steps = slices.Clone(j.Steps)
		j.Steps[f.step].Batch = &planning.Batch{Key: j.Steps[f.step].Batch.Key}
	}
}

// doneBefore tells whether the step in front of minute start on a hand of plan belongs to
// a build that is still open; all its steps that are left lie behind.
func doneBefore(plan planning.Out, jobs []planning.Job, hand int, start int64) bool {
	id, last := "", int64(-1)
	for _, p := range plan.Jobs {
		for _, s := range p.Steps {
			if s.Hand == hand && s.StartMinute < start && s.StartMinute > last {
				id, last = p.ID, s.StartMinute
			}
		}
	}
	return slices.ContainsFunc(jobs, func(j planning.Job) bool { return j.ID == id })
}

// replayAll lays the jobs of in anew in the order of was, without those that find no room
// any more: they go out of in, and their ids are given.
func replayAll(in *planning.In, was planning.Out) (planning.Out, []string, error) {
	var lost []string
	for len(in.Jobs) > 0 {
		out, none, err := planning.Replay(*in, was)
		if err != nil || len(none) == 0 {
			return out, lost, err
		}
		lost = append(lost, none...)
		in.Jobs = slices.DeleteFunc(in.Jobs, func(j planning.Job) bool { return slices.Contains(none, j.ID) })
		was.Jobs = slices.DeleteFunc(was.Jobs, func(p planning.JobPlan) bool { return slices.Contains(none, p.ID) })
	}
	return planning.Out{}, lost, nil
}

// settled is a plan without the set-ups that builds put in later have made needless.
func settled(in planning.In, out planning.Out) planning.Out {
	s, err := planning.Settle(in, out)
	if err != nil { // nothing planned, or nothing open: as it is
		return out
	}
	return s
}
