package planning

import (
	"fmt"
	"slices"

	"pgregory.net/rapid"
)

// drawIn draws a small problem with any of the optional fields.
func drawIn(t *rapid.T, jobs, steps int) In {
	var in In
	if rapid.Bool().Draw(t, "some hands") {
		h := rapid.IntRange(1, 3).Draw(t, "hands")
		in.Hands = &h
	}
	if rapid.Bool().Draw(t, "calendar") {
		at := int64(0)
		for range rapid.IntRange(1, 4).Draw(t, "spells") {
			at += rapid.Int64Range(0, 15).Draw(t, "closed")
			to := at + rapid.Int64Range(5, 30).Draw(t, "open")
			h := rapid.IntRange(1, 2).Draw(t, "spell hands")
			in.Calendar = append(in.Calendar, Spell{at, to, &h})
			at = to
		}
		one := 1
		in.Calendar = append(in.Calendar, Spell{at + 5, at + 2000, &one})
	}
	for r := range rapid.IntRange(0, 2).Draw(t, "resources") {
		in.Resources = append(in.Resources, Resource{ID: fmt.Sprint("r", r), Count: rapid.IntRange(1, 2).Draw(t, "count"), Hours: drawHours(t)})
	}
	for j := range rapid.IntRange(1, jobs).Draw(t, "jobs") {
		in.Jobs = append(in.Jobs, drawJob(t, in, j, steps))
	}
	return in
}

func drawJob(t *rapid.T, in In, j, steps int) Job {
	job := Job{ID: fmt.Sprint("j", j), DueMinute: rapid.Int64Range(0, 60).Draw(t, "due"),
		Weight: float64(rapid.IntRange(0, 6).Draw(t, "weight")) / 2}
	if rapid.Bool().Draw(t, "released") {
		job.ReleaseMinute = rapid.Int64Range(0, 40).Draw(t, "release")
	}
	for q := range j {
		if rapid.IntRange(0, 4).Draw(t, "pred") == 0 {
			job.Predecessors = append(job.Predecessors, fmt.Sprint("j", q))
		}
	}
	if rapid.IntRange(0, 9).Draw(t, "held") == 0 {
		f := rapid.Int64Range(0, 80).Draw(t, "fixed")
		job.FixedStartMinute, job.ReleaseMinute = &f, 0
	}
	n := rapid.IntRange(0, steps).Draw(t, "steps")
	if n == 0 {
		m := rapid.Int64Range(1, 15).Draw(t, "minutes")
		job.Minutes = &m
	}
	for k := range n {
		s := Step{Minutes: rapid.Int64Range(1, 12).Draw(t, "minutes"), Unbroken: rapid.IntRange(0, 3).Draw(t, "unbroken") == 0}
		if k > 0 && rapid.IntRange(0, 9).Draw(t, "zero") == 0 {
			s = Step{}
		}
		if rapid.Bool().Draw(t, "waits") {
			s.WaitMinutes = rapid.Int64Range(0, 20).Draw(t, "wait")
		}
		for _, r := range in.Resources {
			if rapid.IntRange(0, 2).Draw(t, "need") == 0 {
				s.Needs = append(s.Needs, slices.Repeat([]string{r.ID}, rapid.IntRange(1, r.Count).Draw(t, "units"))...)
			}
		}
		if s.Minutes > 0 && rapid.IntRange(0, 2).Draw(t, "batched") == 0 {
			key := rapid.SampledFrom([]string{"glue", "paint"}).Draw(t, "key")
			s.Batch = &Batch{key, map[string]int64{"glue": 4, "paint": 7}[key]}
		}
		job.Steps = append(job.Steps, s)
	}
	return job
}

// drawHours draws the hours of a resource, mostly none.
func drawHours(t *rapid.T) []Stretch {
	if rapid.IntRange(0, 3).Draw(t, "hours") > 0 {
		return nil
	}
	var hours []Stretch
	at := int64(0)
	for range rapid.IntRange(1, 3).Draw(t, "stretches") {
		at += rapid.Int64Range(0, 12).Draw(t, "gone")
		hours = append(hours, Stretch{at, at + rapid.Int64Range(1, 20).Draw(t, "there")})
		at = hours[len(hours)-1].ToMinute
	}
	return append(hours, Stretch{at + 3, at + 1500})
}
