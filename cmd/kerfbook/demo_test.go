package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// One new job goes through the REST address of the invented workshop and leaves every kind
// of paper behind; what the quote says is what the order, the receipts and the invoice say.
func TestDemoOnce(t *testing.T) {
	t.Parallel()
	dir, err := os.MkdirTemp("/dev/shm", "kerfbook-once-")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	papers := t.TempDir()
	once := []string{"demo", "--once", "--papers", papers, "--data", dir, "--days", "90"}
	code, out, errOut := say(t, nil, "", once...)
	require.Equal(t, exitDone, code, errOut)
	require.Contains(t, out, "A buyer rings")
	require.Contains(t, out, "is handed over; 0.00 is left to pay.")

	price := regexp.MustCompile(`Quote Q\d+: ([\d.]+) with tax`).FindStringSubmatch(out)
	require.NotNil(t, price, out)
	serial := regexp.MustCompile(`box (\d+) with colony (C\d+)`).FindStringSubmatch(out)
	require.NotNil(t, serial, out)
	for kind, words := range map[string][]string{
		"quote":       {price[1], "Isolde Fennimore", "valid until"},
		"order":       {price[1], "Isolde Fennimore"},
		"receipt":     {"Isolde Fennimore"},
		"jobcard":     {"90 × 25", "Brood side"},
		"part-labels": {"Brood side"},
		"labels":      {serial[1]},
		"label":       {serial[1]},
		"sawing":      {"L0"},
		"run":         {"Isolde Fennimore"},
		"site":        {"Ferry Lane"},
		"handover":    {serial[1], serial[2], "Tetragonula carbonaria"},
		"invoice":     {price[1], "Tax invoice"},
	} {
		text := pdfText(t, papers, kind)
		for _, word := range words {
			require.Contains(t, strings.ToLower(text), strings.ToLower(word), kind)
		}
	}

	code, out, errOut = say(t, nil, "", once...) // the same book again
	require.Equal(t, exitDone, code, errOut)
	require.Contains(t, out, "Done: ")
	require.NotContains(t, errOut, "models and prices", "the second time nothing is filled")
}

// pdfText reads all papers of a kind.
func pdfText(t *testing.T, dir, kind string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, kind+"-[A-Z0-9]*.pdf"))
	require.NoError(t, err)
	require.NotEmpty(t, files, kind)
	var all strings.Builder
	for _, f := range files {
		text, err := exec.CommandContext(t.Context(), "pdftotext", "-layout", f, "-").Output()
		require.NoError(t, err, f)
		all.Write(text)
	}
	return all.String()
}
