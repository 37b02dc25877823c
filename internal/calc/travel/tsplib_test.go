package travel

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/printed"
)

// tsplib reads an instance as a matrix; the formats and distance rules are those
// of G. Reinelt, TSPLIB95, as noted in testdata/sources.md.
func tsplib(t *testing.T, name string) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer f.Close()
	head := map[string]string{}
	section := ""
	var values []float64
	for sc := bufio.NewScanner(f); sc.Scan(); {
		text := strings.TrimSpace(sc.Text())
		key, value, colon := strings.Cut(text, ":")
		switch {
		case text == "" || text == "EOF":
		case colon:
			head[strings.TrimSpace(key)] = strings.TrimSpace(value)
		case strings.HasSuffix(text, "_SECTION"):
			section = text
		case section == "NODE_COORD_SECTION" || section == "EDGE_WEIGHT_SECTION":
			for _, w := range strings.Fields(text) {
				values = append(values, printed.Number(t, w))
			}
		}
	}
	n, err := strconv.Atoi(head["DIMENSION"])
	require.NoError(t, err)
	if head["EDGE_WEIGHT_TYPE"] == "EXPLICIT" {
		return explicit(t, n, head["EDGE_WEIGHT_FORMAT"], values)
	}
	require.Len(t, values, 3*n)
	return square(n, func(i, j int) float64 {
		xi, yi, xj, yj := values[3*i+1], values[3*i+2], values[3*j+1], values[3*j+2]
		if head["EDGE_WEIGHT_TYPE"] == "EUC_2D" {
			return math.Floor(math.Hypot(xi-xj, yi-yj) + 0.5)
		}
		require.Equal(t, "GEO", head["EDGE_WEIGHT_TYPE"])
		angle := func(v float64) float64 { return 3.141592 * (math.Trunc(v) + 5*(v-math.Trunc(v))/3) / 180 }
		q1, q2, q3 := math.Cos(angle(yi)-angle(yj)), math.Cos(angle(xi)-angle(xj)), math.Cos(angle(xi)+angle(xj))
		return math.Trunc(6378.388*math.Acos(0.5*((1+q1)*q2-(1-q1)*q3)) + 1)
	})
}

func explicit(t *testing.T, n int, format string, values []float64) [][]float64 {
	t.Helper()
	if format == "FULL_MATRIX" {
		require.Len(t, values, n*n)
		return square(n, func(i, j int) float64 { return values[i*n+j] })
	}
	require.Equal(t, "LOWER_DIAG_ROW", format)
	require.Len(t, values, n*(n+1)/2)
	return square(n, func(i, j int) float64 {
		if i < j {
			i, j = j, i
		}
		return values[i*(i+1)/2+j]
	})
}

func square(n int, at func(i, j int) float64) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
		for j := range m[i] {
			if i != j {
				m[i][j] = at(i, j)
			}
		}
	}
	return m
}
