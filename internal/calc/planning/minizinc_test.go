package planning

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestAgainstConstraintSolver compares small plans with all the optional fields
// with what a general constraint solver found from a model of its own. Its source
// stands in the file.
func TestAgainstConstraintSolver(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("testdata/minizinc.json")
	require.NoError(t, err)
	var file struct {
		Source string
		Cases  []struct {
			Name    string
			Optimum float64
			In      In
		}
	}
	require.NoError(t, json.Unmarshal(raw, &file))
	require.GreaterOrEqual(t, len(file.Cases), 30)
	for _, c := range file.Cases {
		t.Run(c.Name, func(t *testing.T) {
			t.Parallel()
			out := mustPlan(t, c.In)
			require.Equal(t, c.Optimum, out.WeightedTardiness, file.Source)
			require.True(t, out.Proved)
			solversAgree(t, c.In, c.Optimum)
		})
	}
}
