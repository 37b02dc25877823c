package cutting

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// reference is an instance with a published optimum; see testdata/README.md.
type reference struct {
	name    string
	source  string
	stock   int
	parts   []Part
	optimum int
}

func (r reference) in() In {
	pieces := 0
	for _, p := range r.parts {
		pieces += p.Count
	}
	return In{Boards: []Board{{ID: "stock", LengthMM: float64(r.stock), Count: pieces}}, Parts: r.parts}
}

// numbers reads all whole numbers of a file.
func numbers(tb testing.TB, path string) []int {
	tb.Helper()
	f, err := os.Open(path)
	require.NoError(tb, err)
	defer f.Close()
	var all []int
	words := bufio.NewScanner(f)
	words.Split(bufio.ScanWords)
	for words.Scan() {
		n, err := strconv.Atoi(words.Text())
		require.NoError(tb, err, path)
		all = append(all, n)
	}
	require.NoError(tb, words.Err())
	return all
}

// references reads the instances whose name starts with prefix.
func references(tb testing.TB, prefix string) []reference {
	tb.Helper()
	var all []reference
	for _, row := range printed.Rows(tb, "optimum.csv") {
		if !strings.HasPrefix(row[0], prefix) {
			continue
		}
		n := numbers(tb, filepath.Join("testdata", row[1]))
		r := reference{name: row[0], source: "BPPLIB bounds file, testdata/optimum.csv", stock: n[1]}
		for i, size := range n[2:] {
			r.parts = append(r.parts, Part{ID: fmt.Sprint("item ", i), LengthMM: float64(size), Count: 1})
		}
		require.Len(tb, r.parts, n[0])
		r.optimum, _ = strconv.Atoi(row[6])
		all = append(all, r)
	}
	return all
}

func rolls(tb testing.TB) []reference {
	tb.Helper()
	var all []reference
	for _, row := range printed.Rows(tb, "csp/optimum.csv") {
		n := numbers(tb, filepath.Join("testdata/csp", row[0]+".txt"))
		r := reference{name: row[0], source: "testdata/csp/optimum.csv: " + row[4], stock: n[1]}
		for i := 2; i < len(n); i += 2 {
			r.parts = append(r.parts, Part{ID: fmt.Sprint("width ", n[i]), LengthMM: float64(n[i]), Count: n[i+1]})
		}
		require.Len(tb, r.parts, n[0])
		r.optimum, _ = strconv.Atoi(row[2])
		all = append(all, r)
	}
	return all
}

func TestBoundNeverAboveReference(t *testing.T) {
	t.Parallel()
	all := append(references(t, ""), rolls(t)...)
	require.Greater(t, len(all), 90)
	for _, r := range all {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			in := r.in()
			limit := 20_000_000
			in.WorkLimit = &limit
			out, err := Plan(context.Background(), in)
			require.NoError(t, err)
			require.NoError(t, Check(in, out))
			require.GreaterOrEqual(t, out.BoardsUsed, r.optimum, r.source)
			require.LessOrEqual(t, out.Bound.IntPart(), int64(r.optimum), r.source)
			require.Empty(t, out.Unplaced)
		})
	}
}

// TestReferenceOptimum: the published number of boards, proved, under the work
// limit alone. The HARD instances take too long for a test; BenchmarkReference
// runs them.
func TestReferenceOptimum(t *testing.T) {
	t.Parallel()
	all := rolls(t)
	for _, family := range []string{"Falkenauer", "N"} {
		all = append(all, references(t, family)...)
	}
	require.Greater(t, len(all), 85)
	for _, r := range all {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			in := r.in()
			work, never := 2_000_000_000, maxTimeMS
			in.WorkLimit, in.TimeLimitMS = &work, &never
			out := run(t, in)
			require.Equal(t, r.optimum, out.BoardsUsed, r.source)
			require.True(t, out.Proved, r.source)
		})
	}
}

// TestWithAKerf: sizes shorter by a kerf on boards shorter by a kerf need as many
// boards (testdata/README.md, last lines).
func TestWithAKerf(t *testing.T) {
	t.Parallel()
	const kerf = 3.2
	for _, r := range append(references(t, "Falkenauer_u120"), references(t, "Falkenauer_t60")...) {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			in := r.in()
			work, never := 2_000_000_000, maxTimeMS
			in.WorkLimit, in.TimeLimitMS = &work, &never
			in.KerfMM = kerf
			in.Boards[0].LengthMM -= kerf
			for i := range in.Parts {
				in.Parts[i].LengthMM -= kerf
			}
			out := run(t, in)
			require.Equal(t, r.optimum, out.BoardsUsed, r.source)
			require.True(t, out.Proved)
		})
	}
}
