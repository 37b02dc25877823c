package paper

import (
	"strings"
	"testing"
	"unicode"

	"github.com/go-pdf/fpdf"
	"github.com/stretchr/testify/require"
)

// The widths we measure with are those the document is drawn with.
func TestWidthsAgreeWithTheLibrary(t *testing.T) {
	t.Parallel()
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.AddUTF8FontFromBytes("go", "", faces()[0].ttf)
	pdf.AddUTF8FontFromBytes("go", "B", faces()[1].ttf)
	for i, style := range []string{"", "B"} {
		pdf.SetFont("go", style, 12)
		for r := range faces()[i].widths {
			require.InDelta(t, pdf.GetStringWidth(string(r)), textWidth(string(r), i == 1, 12), 0.005, "%q", r)
		}
	}
}

// FuzzWrap holds the laws of wrapping: no line is too wide, no letter is lost.
func FuzzWrap(f *testing.F) {
	f.Add("a word and anotherratherlongwordwithoutanyspace m³\nnext", 30.0)
	f.Add("  ", 20.0)
	f.Add("\xff\u0308蜂\u00a0x", 25.0)
	f.Fuzz(func(t *testing.T, text string, width float64) {
		if !(width >= 12 && width <= 400) || len(text) > 5000 {
			return
		}
		lines := wrap(text, true, 11, width)
		for _, l := range lines {
			require.LessOrEqual(t, textWidth(l, true, 11), width+1e-9, "%q", l)
		}
		require.Equal(t, solid(clean(text)), solid(strings.Join(lines, " ")))
	})
}

// solid is a text without its white space.
func solid(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}
