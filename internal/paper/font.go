package paper

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

const (
	mmPerPt = 25.4 / 72
	leading = 1.36 // line height over type size; our estimate for easy reading at arm's length
)

// face is one embedded font with the widths of its letters, read once.
type face struct {
	ttf    []byte
	widths map[rune]uint16 // thousandths of the type size
}

// faces are the two fonts of every paper: regular and bold.
var faces = sync.OnceValue(func() [2]*face {
	return [2]*face{loadFace(goregular.TTF), loadFace(gobold.TTF)}
})

// loadFace reads the widths of all letters up to U+FFFF. The fonts are part of
// the program, so a failure is a programmer's mistake and panics.
func loadFace(ttf []byte) *face {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic("paper: embedded font: " + err.Error())
	}
	var buf sfnt.Buffer
	units := fixed.Int26_6(f.UnitsPerEm())
	widths := make(map[rune]uint16, 700)
	for r := rune(0x20); r < 0xFFFF; r++ {
		g, err := f.GlyphIndex(&buf, r)
		if err != nil || g == 0 {
			continue
		}
		adv, err := f.GlyphAdvance(&buf, g, units<<6, 0)
		if err != nil {
			panic("paper: embedded font: " + err.Error())
		}
		widths[r] = uint16((int(adv)*1000/int(units) + 32) / 64)
	}
	return &face{ttf: ttf, widths: widths}
}

// clean makes a text printable: composed letters (u and a diaeresis become ü),
// no control characters, and "?" for what the fonts do not have.
func clean(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] < 0x20 || s[i] > 0x7e {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	known := faces()[0].widths
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case unicode.Is(unicode.Cf, r), unicode.Is(unicode.Mn, r), r == '\r':
			return -1 // joiners, direction marks, marks that did not compose
		case unicode.IsControl(r):
			return ' '
		}
		if _, ok := known[r]; ok {
			return r
		}
		if unicode.IsSpace(r) {
			return ' '
		}
		return '?'
	}, norm.NFC.String(strings.ToValidUTF8(s, "?")))
}

// textWidth is the width in mm of a cleaned text at a type size in points.
func textWidth(s string, bold bool, size float64) float64 {
	w := faces()[btoi(bold)].widths
	sum := 0
	for _, r := range s {
		sum += int(w[r])
	}
	return float64(sum) / 1000 * size * mmPerPt
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// wrap breaks a text into lines no wider than width mm. It breaks at spaces; a
// word wider than the line is broken inside. Line feeds are kept. An empty text
// gives no line.
func wrap(s string, bold bool, size, width float64) []string {
	s = strings.TrimRight(clean(s), " \n")
	if s == "" {
		return nil
	}
	var out []string
	space := textWidth(" ", bold, size)
	for _, para := range strings.Split(s, "\n") {
		var line strings.Builder
		lineW := 0.0
		for _, word := range strings.Fields(para) {
			w := textWidth(word, bold, size)
			if lineW > 0 && lineW+space+w <= width {
				line.WriteString(" " + word)
				lineW += space + w
				continue
			}
			if lineW > 0 {
				out = append(out, line.String())
				line.Reset()
			}
			if w > width {
				var full []string
				full, word = cutWord(word, bold, size, width)
				out, w = append(out, full...), textWidth(word, bold, size)
			}
			line.WriteString(word)
			lineW = w
		}
		out = append(out, line.String())
	}
	return out
}

// cutWord splits a word that is wider than a line into full lines and a rest.
func cutWord(word string, bold bool, size, width float64) ([]string, string) {
	var full []string
	piece := ""
	for _, r := range word {
		if piece != "" && textWidth(piece+string(r), bold, size) > width {
			full = append(full, piece)
			piece = ""
		}
		piece += string(r)
	}
	return full, piece
}

// clip shortens a text to one line of the width, with "…" at its end.
func clip(s string, bold bool, size, width float64) string {
	s = strings.Join(strings.Fields(clean(s)), " ")
	if textWidth(s, bold, size) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && textWidth(string(runes)+"…", bold, size) > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}
