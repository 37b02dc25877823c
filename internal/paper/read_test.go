package paper

import (
	"bytes"
	"compress/zlib"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// pages gives the text of each page as pdftotext reads it, white space joined.
func pages(t testing.TB, pdf []byte) []string {
	t.Helper()
	out := tool(t, pdf, "pdftotext", "-layout", "-", "-")
	list := strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
	for i, p := range list {
		list[i] = strings.Join(strings.Fields(p), " ")
	}
	return list
}

// tool runs a program of poppler-utils on a PDF; a missing program is a failure.
func tool(t testing.TB, pdf []byte, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stdin = bytes.NewReader(pdf)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	require.NoError(t, err, "%s: %s", name, errs.String())
	return out
}

// word is one word with its box in points from the upper left corner.
type word struct {
	X1   float64 `xml:"xMin,attr"`
	Y1   float64 `xml:"yMin,attr"`
	X2   float64 `xml:"xMax,attr"`
	Y2   float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

type bboxDoc struct {
	Pages []struct {
		Width  float64 `xml:"width,attr"`
		Height float64 `xml:"height,attr"`
		Words  []word  `xml:"word"`
	} `xml:"body>doc>page"`
}

func boxes(t testing.TB, pdf []byte) bboxDoc {
	t.Helper()
	out := tool(t, pdf, "pdftotext", "-bbox", "-", "-")
	var doc bboxDoc
	require.NoError(t, xml.Unmarshal(out, &doc))
	require.NotEmpty(t, doc.Pages)
	return doc
}

// requireTidy fails when a word leaves the margins or lies on another word.
func requireTidy(t testing.TB, pdf []byte) {
	t.Helper()
	const pt = 72 / 25.4
	requireLinesInside(t, pdf)
	for n, page := range boxes(t, pdf).Pages {
		require.InDelta(t, pageW*pt, page.Width, 0.1)
		require.InDelta(t, pageH*pt, page.Height, 0.1)
		for i, a := range page.Words {
			require.GreaterOrEqual(t, a.X1, marginL*pt-0.5, "page %d: %q leaves the left margin", n+1, a.Text)
			require.LessOrEqual(t, a.X2, (pageW-marginR)*pt+0.5, "page %d: %q leaves the right margin", n+1, a.Text)
			require.GreaterOrEqual(t, a.Y1, 10*pt, "page %d: %q is too high", n+1, a.Text)
			require.LessOrEqual(t, a.Y2, 290*pt, "page %d: %q is too low", n+1, a.Text)
			for _, b := range page.Words[i+1:] {
				require.False(t, onTop(a, b), "page %d: %q lies on %q", n+1, a.Text, b.Text)
			}
		}
	}
}

var (
	rectOp = regexp.MustCompile(`(-?[0-9.]+) (-?[0-9.]+) (-?[0-9.]+) (-?[0-9.]+) re`)
	lineOp = regexp.MustCompile(`(-?[0-9.]+) (-?[0-9.]+) [ml]\b`)
)

// requireLinesInside fails when a rule or a box leaves the margins.
func requireLinesInside(t testing.TB, pdf []byte) {
	t.Helper()
	const pt, slack = 72 / 25.4, 0.6
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return v
	}
	inside := func(page int, x, y float64) {
		require.GreaterOrEqual(t, x, marginL*pt-slack, "page %d", page)
		require.LessOrEqual(t, x, (pageW-marginR)*pt+slack, "page %d", page)
		require.GreaterOrEqual(t, y, 7*pt, "page %d", page)
		require.LessOrEqual(t, y, (pageH-10)*pt, "page %d", page)
	}
	for n, page := range contents(t, pdf) {
		for _, m := range rectOp.FindAllStringSubmatch(page, -1) {
			x, y := number(m[1]), number(m[2])
			inside(n+1, x, y)
			inside(n+1, x+number(m[3]), y+number(m[4]))
		}
		for _, m := range lineOp.FindAllStringSubmatch(page, -1) {
			inside(n+1, number(m[1]), number(m[2]))
		}
	}
}

func onTop(a, b word) bool {
	x := min(a.X2, b.X2) - max(a.X1, b.X1)
	y := min(a.Y2, b.Y2) - max(a.Y1, b.Y1)
	return x > 1 && y > 0.5*min(a.Y2-a.Y1, b.Y2-b.Y1)
}

var (
	streamPart = regexp.MustCompile(`(?s)stream\n(.*?)\nendstream`)
	fontSet    = regexp.MustCompile(`BT /F\S+ ([0-9.]+) Tf ET`)
)

// contents gives the drawing operators of each page.
func contents(t testing.TB, pdf []byte) []string {
	t.Helper()
	var out []string
	for _, m := range streamPart.FindAllSubmatch(pdf, -1) {
		r, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue
		}
		text, err := io.ReadAll(r)
		if err == nil && bytes.Contains(text, []byte(" Tf ET")) {
			out = append(out, string(text))
		}
	}
	require.NotEmpty(t, out)
	return out
}

// smallestType gives the smallest type size set on each page, in points.
func smallestType(t testing.TB, pdf []byte) []float64 {
	t.Helper()
	var out []float64
	for _, page := range contents(t, pdf) {
		least := 1000.0
		for _, m := range fontSet.FindAllStringSubmatch(page, -1) {
			size, err := strconv.ParseFloat(m[1], 64)
			require.NoError(t, err)
			least = min(least, size)
		}
		out = append(out, least)
	}
	return out
}

// codes reads the QR codes of all pages.
func codes(t testing.TB, pdf []byte) []string {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "p.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	require.NoError(t, exec.Command("pdftoppm", "-r", "150", "-gray", file, filepath.Join(dir, "p")).Run())
	pictures, err := filepath.Glob(filepath.Join(dir, "p*.pgm"))
	require.NoError(t, err)
	require.NotEmpty(t, pictures)
	var found []string
	for _, picture := range pictures {
		out, err := exec.Command("zbarimg", "-q", "--raw", picture).Output()
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.ExitCode() == 4 { // no code in this picture
			continue
		}
		require.NoError(t, err)
		found = append(found, strings.Fields(string(out))...)
	}
	return found
}
