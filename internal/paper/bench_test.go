package paper

import (
	"strings"
	"testing"
	"time"

	"github.com/go-pdf/fpdf"
	"github.com/stretchr/testify/require"
)

// BenchmarkQuote and BenchmarkBareRun put the same text on two pages with the
// same two fonts; design section 7 allows the first 1.3 times the second.
func BenchmarkQuote(b *testing.B) {
	d := testQuote()
	for b.Loop() {
		_, err := Quote(d)
		require.NoError(b, err)
	}
}

func BenchmarkBareRun(b *testing.B) {
	pdf, err := Quote(testQuote())
	require.NoError(b, err)
	text := strings.Split(strings.TrimSuffix(string(tool(b, pdf, "pdftotext", "-layout", "-", "-")), "\f"), "\f")
	for b.Loop() {
		bareRun(b, text)
	}
}

// bareRun writes lines of text and nothing else.
func bareRun(tb testing.TB, text []string) {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.AddUTF8FontFromBytes("go", "", faces()[0].ttf)
	pdf.AddUTF8FontFromBytes("go", "B", faces()[1].ttf)
	pdf.SetAutoPageBreak(false, 0)
	for _, page := range text {
		pdf.AddPage()
		y := 15.0
		for i, line := range strings.Split(page, "\n") {
			style := ""
			if i%6 == 0 {
				style = "B"
			}
			pdf.SetFont("go", style, 10)
			pdf.Text(15, y, strings.TrimSpace(line))
			y += 4.5
		}
	}
	require.NoError(tb, pdf.Output(&strings.Builder{}))
}

// The best of several turns each, taken by turns so that a busy machine hurts both, and
// more turns where it does.
// Source of the limit: design, section 7, "a two-page PDF".
func TestQuoteCostsLittleMoreThanItsText(t *testing.T) {
	d := testQuote()
	pdf, err := Quote(d)
	require.NoError(t, err)
	text := strings.Split(strings.TrimSuffix(string(tool(t, pdf, "pdftotext", "-layout", "-", "-")), "\f"), "\f")
	require.Len(t, text, 2)
	quote, bare := time.Hour, time.Hour
	for turn := 0; turn < 12 || turn < 200 && quote.Seconds() > 1.3*bare.Seconds(); turn++ {
		start := time.Now()
		_, err := Quote(d)
		require.NoError(t, err)
		quote = min(quote, time.Since(start))
		start = time.Now()
		bareRun(t, text)
		bare = min(bare, time.Since(start))
	}
	require.LessOrEqual(t, quote.Seconds(), 1.3*bare.Seconds())
}
