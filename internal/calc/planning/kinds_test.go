package planning

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"kerfbook/internal/calc/contract"
)

// drawKinds draws an input with any field of the contract, lawful or a little beside it:
// hands left out in spells, spells of nobody and out of order, things twice, low and high
// minutes, weights with decimals, ids that are strange, rings.
func drawKinds(t *rapid.T) In {
	in := drawIn(t, 7, 4)
	pick := func(name string) bool { return rapid.IntRange(0, 3).Draw(t, name) == 0 }
	limit := rapid.SampledFrom([]int64{1, 5, 60}).Draw(t, "limit")
	in.TimeLimitMS = &limit
	for i := range in.Calendar {
		switch rapid.IntRange(0, 7).Draw(t, "spell") {
		case 0:
			in.Calendar[i].Hands = nil
		case 1:
			none := 0
			in.Calendar[i].Hands = &none
		}
	}
	if len(in.Calendar) > 1 && pick("out of order") {
		slices.Reverse(in.Calendar)
	}
	for j := range in.Jobs {
		job := &in.Jobs[j]
		if pick("fine weight") {
			job.Weight = float64(rapid.IntRange(0, 99_999).Draw(t, "weight")) / 1000
		}
		if rapid.IntRange(0, 30).Draw(t, "odd") == 0 {
			job.Predecessors = append(job.Predecessors, in.Jobs[rapid.IntRange(0, len(in.Jobs)-1).Draw(t, "ring")].ID)
		}
		for k := range job.Steps {
			s := &job.Steps[k]
			if pick("luck") {
				low, high := rapid.Int64Range(0, s.Minutes).Draw(t, "low"), s.Minutes+rapid.Int64Range(0, 40).Draw(t, "high")
				s.LowMinutes, s.HighMinutes = &low, &high
			}
			if rapid.IntRange(0, 40).Draw(t, "much") == 0 {
				s.WaitMinutes = rapid.SampledFrom([]int64{-1, MaxMinute, MaxMinute + 1, 100_000}).Draw(t, "wait")
			}
		}
	}
	if pick("strange ids") {
		was, is := in.Jobs[0].ID, fmt.Sprintf("ä \"%d\"\n", len(in.Jobs))
		in.Jobs[0].ID = is
		for j := range in.Jobs {
			for n, p := range in.Jobs[j].Predecessors {
				if p == was {
					in.Jobs[j].Predecessors[n] = is
				}
			}
		}
	}
	return in
}

// Whatever the contract allows goes through the topic as a caller's JSON does: the answer
// passes the checker, or it says what to change. Jobs with luck, and no others, say by
// when they are done in four of five cases.
func TestEveryKindOfInput(t *testing.T) {
	t.Parallel()
	topic := Topics()[0]
	rapid.Check(t, func(t *rapid.T) {
		in := drawKinds(t)
		raw, err := json.Marshal(in)
		require.NoError(t, err)
		answer, err := topic.Run(t.Context(), raw)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad, "%s", raw)
			require.NotEmpty(t, bad.Fields)
			return
		}
		out := answer.(Out)
		require.NoError(t, Check(in, out), "%s", raw)
		lucky := slices.ContainsFunc(in.Jobs, func(j Job) bool {
			return slices.ContainsFunc(j.Steps, func(s Step) bool { return s.LowMinutes != nil || s.HighMinutes != nil })
		})
		for _, p := range out.Jobs {
			require.True(t, lucky || p.EndP80Minute == nil)
			require.LessOrEqual(t, p.EndMinute, int64(MaxMinute)+1000, "nothing is planned beyond a hundred years; behind what ends then come minutes of work")
		}
		back, err := json.Marshal(out)
		require.NoError(t, err)
		var again Out
		require.NoError(t, json.Unmarshal(back, &again))
		require.NoError(t, Check(in, again), "as it is written down")
	})
}
