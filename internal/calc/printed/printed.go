// Package printed reads the tables and instances in testdata, printed or published by
// others, whose sources stand in their heading lines. It is for tests only.
package printed

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Table reads a CSV file of testdata, the row of column names first, without the lines that begin
// with #. It fails the test where there is no row below the names.
func Table(tb testing.TB, name string) [][]string {
	tb.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		tb.Fatalf("%s: %v", name, err)
	}
	if len(all) < 2 {
		tb.Fatalf("%s has no rows", name)
	}
	return all
}

// Rows gives the rows of a CSV file below its column names.
func Rows(tb testing.TB, name string) [][]string {
	tb.Helper()
	return Table(tb, name)[1:]
}

// Records gives the rows of a CSV file by their column names.
func Records(tb testing.TB, name string) []map[string]string {
	tb.Helper()
	all := Table(tb, name)
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for i, column := range all[0] {
			m[column] = row[i]
		}
		out = append(out, m)
	}
	return out
}

// Number reads a number of a table.
func Number(tb testing.TB, s string) float64 {
	tb.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// Cases gives how many of n cases a test takes: all of them, or a fifth with -short, which the gate uses where the race
// detector makes each case ten times as long; it runs all of them without it.
func Cases(n int) int {
	if testing.Short() {
		return (n + 4) / 5
	}
	return n
}
