package cutting

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkAgainstSolver plans generated days here and with cbc, a general solver
// for integer programs (Debian coinor-cbc), on a plain formulation: how many of
// each length on each single board, and whether the board is used. It fails when
// the solver's best plan is better than ours, and reports the ratio of times.
//
//	CUTTING_SOLVER_DAYS=200 CUTTING_SOLVER_SECONDS=10 \
//	go test ./internal/calc/cutting -run '^$' -bench AgainstSolver -benchtime 1x -timeout 2h -v
//
// Left out, these are 10 days and 5 seconds a day.
func BenchmarkAgainstSolver(b *testing.B) {
	days, seconds := setting(b, "CUTTING_SOLVER_DAYS", 10), setting(b, "CUTTING_SOLVER_SECONDS", 5)
	cbc, err := exec.LookPath("cbc")
	require.NoError(b, err, "install coinor-cbc")
	for b.Loop() {
		var ours, theirs time.Duration
		proved, provedThere, better := 0, 0, 0
		for seed := 1; seed <= days; seed++ {
			in := day(uint64(seed))
			started := time.Now()
			out, err := Plan(context.Background(), in)
			require.NoError(b, err)
			require.Empty(b, out.Unplaced)
			took := time.Since(started)
			ours += took
			best, optimal, solver := solveByCBC(b, cbc, in, seconds)
			theirs += solver
			require.LessOrEqual(b, out.LengthUsedMM, best+1e-3, "day %d", seed)
			if optimal {
				require.LessOrEqual(b, out.Bound.InexactFloat64(), best+1e-3, "day %d: the bound", seed)
				provedThere++
			}
			if out.Proved {
				proved++
			}
			if out.LengthUsedMM < best-1e-3 {
				better++
			}
			b.Logf("day %3d: %8.0f mm here, proved %-5v in %6.1f ms; solver %8.0f, proved %-5v in %6.1f s",
				seed, out.LengthUsedMM, out.Proved, float64(took.Microseconds())/1000, best, optimal, solver.Seconds())
		}
		b.ReportMetric(float64(days), "days")
		b.ReportMetric(float64(proved), "proved")
		b.ReportMetric(float64(provedThere), "solver-proved")
		b.ReportMetric(float64(better), "better-than-solver")
		b.ReportMetric(theirs.Seconds()/ours.Seconds(), "times-faster")
	}
}

func setting(tb testing.TB, name string, otherwise int) int {
	tb.Helper()
	text, ok := os.LookupEnv(name)
	if !ok {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	require.NoError(tb, err, name)
	return n
}

// solveByCBC gives the solver's best length, 1e18 when it found no plan, and
// whether it says that this is the optimum.
func solveByCBC(tb testing.TB, cbc string, in In, seconds int) (float64, bool, time.Duration) {
	tb.Helper()
	dir := tb.TempDir()
	program, solution := filepath.Join(dir, "day.lp"), filepath.Join(dir, "day.sol")
	require.NoError(tb, os.WriteFile(program, []byte(plainProgram(in)), 0o600))
	started := time.Now()
	report, err := exec.Command(cbc, program, "sec", strconv.Itoa(seconds), "solve", "solution", solution).CombinedOutput()
	took := time.Since(started)
	require.NoError(tb, err, string(report))
	text, err := os.ReadFile(solution)
	require.NoError(tb, err, string(report))
	first, _, _ := strings.Cut(string(text), "\n")
	_, value, found := strings.Cut(first, "objective value")
	const none = 1e18
	if !found || strings.Contains(first, "nfeasible") || strings.Contains(first, "no integer solution") {
		return none, false, took
	}
	best, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
	require.NoError(tb, err, first)
	return best, strings.HasPrefix(first, "Optimal"), took
}

// plainProgram writes the day in the LP format.
func plainProgram(in In) string {
	var s strings.Builder
	w := bufio.NewWriter(&s)
	fmt.Fprint(w, "Minimize\nlength:")
	type single struct {
		length float64
		first  bool // of its lot
	}
	var boards []single
	for _, b := range in.Boards {
		for i := range b.Count {
			fmt.Fprintf(w, " + %g y%d\n", b.LengthMM, len(boards))
			boards = append(boards, single{b.LengthMM, i == 0})
		}
	}
	fmt.Fprint(w, "\nSubject To\n")
	for k, p := range in.Parts {
		for j := range boards {
			fmt.Fprintf(w, " + x%d_%d", k, j)
			if j%10 == 9 {
				fmt.Fprintln(w)
			}
		}
		fmt.Fprintf(w, " = %d\n", p.Count)
	}
	for j, b := range boards {
		for k, p := range in.Parts {
			fmt.Fprintf(w, " + %.1f x%d_%d\n", p.LengthMM+in.KerfMM, k, j)
		}
		fmt.Fprintf(w, " - %.1f y%d <= 0\n", b.length-2*in.TrimMM+in.KerfMM, j)
		if !b.first { // equal boards in their order: fewer equal plans
			fmt.Fprintf(w, " y%d - y%d >= 0\n", j-1, j)
		}
	}
	fmt.Fprintln(w, "Generals")
	for k := range in.Parts {
		for j := range boards {
			fmt.Fprintf(w, " x%d_%d\n", k, j)
		}
	}
	fmt.Fprintln(w, "Binaries")
	for j := range boards {
		fmt.Fprintf(w, " y%d\n", j)
	}
	fmt.Fprintln(w, "End")
	w.Flush()
	return s.String()
}
