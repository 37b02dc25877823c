package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// endless is a cutting that no desk computer proves in a minute: lengths in thousandths
// of a millimetre, so that no two boards come out alike.
func endless(limitMS int) string {
	type line struct {
		ID       string  `json:"id"`
		LengthMM float64 `json:"length_mm"`
		Count    int     `json:"count"`
	}
	in := map[string]any{"kerf_mm": 3.175, "time_limit_ms": limitMS}
	var boards, parts []line
	for i := range 12 {
		boards = append(boards, line{fmt.Sprint("b", i), float64(2400125+133333*i) / 1000, 10})
	}
	for i := range 60 {
		parts = append(parts, line{fmt.Sprint("p", i), float64(100001+7770*i) / 1000, 4})
	}
	in["boards"], in["parts"] = boards, parts
	raw, _ := json.Marshal(in)
	return string(raw)
}

// A long calculation says each second how far it is, and one that is told to stop gives
// the best it has, unproved, as an answer like any other.
func TestCalcSaysHowFarAndStops(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(t.Context(), 2500*time.Millisecond)
	defer cancel()
	var out, errOut bytes.Buffer
	started := time.Now()
	code := run(ctx, []string{"calc", "cutting"}, nil, strings.NewReader(endless(120_000)), &out, &errOut)
	require.Equal(t, exitDone, code, errOut.String())
	require.Less(t, time.Since(started), 10*time.Second, "it stopped")
	var plan struct {
		BoardsUsed int     `json:"boards_used"`
		Length     float64 `json:"length_used_mm"`
		Bound      float64 `json:"bound"`
		Proved     bool    `json:"proved"`
		Unplaced   []any   `json:"unplaced"`
	}
	require.NoError(t, json.Unmarshal(out.Bytes(), &plan), "standard output holds the answer and nothing else")
	require.False(t, plan.Proved)
	require.Positive(t, plan.BoardsUsed)
	require.Empty(t, plan.Unplaced)
	require.LessOrEqual(t, plan.Bound, plan.Length)
	lines := strings.Split(strings.TrimSpace(errOut.String()), "\n")
	require.GreaterOrEqual(t, len(lines), 2, errOut.String())
	for _, line := range lines {
		require.Regexp(t, `^\d+ s: best [\d.]+ mm, none below [\d.]+\. Ctrl-C takes the best so far\.$`, line)
	}
}

func TestCalcQuiet(t *testing.T) {
	t.Parallel()
	code, out, errOut := say(t, nil, endless(1600), "calc", "cutting", "--quiet")
	require.Equal(t, exitDone, code)
	require.NotEmpty(t, out)
	require.Empty(t, errOut)
}

func TestFarLine(t *testing.T) {
	t.Parallel()
	require.Equal(t, "3 s: no answer yet", farLine(3*time.Second, nil))
}
