package paper

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every house wording may itself be kept as a maker's own, and its sample can be drawn.
func TestHouseWordingPassesTheCheck(t *testing.T) {
	t.Parallel()
	for _, name := range WordingNames() {
		text, err := BuiltinWording(name)
		require.NoError(t, err)
		require.NoError(t, CheckWording(name, text), name)
		var heard []Passage
		words, problems := (*Words)(nil).With(map[string]string{name: text + "\n\n- gum tips\n"}, nil)
		require.Empty(t, problems, name)
		pdf, err := SamplePaper(name, words.Heard(func(n string, said []Passage) {
			if n == name {
				heard = said
			}
		}))
		require.NoError(t, err, name)
		require.Contains(t, strings.Join(pages(t, pdf), " "), "gum tips", name)
		require.Equal(t, Passage{Kind: "item", Text: "gum tips"}, heard[len(heard)-1], name)
	}
}

// Source of the limits: our choices, so that no wording keeps the program busy.
func TestWordingMistakesNameTheirLine(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ name, text, says string }{
		{"unknown field", "- one\n\n- {{.Colour}}\n", "handover_front.tmpl:3: there is no field .Colour on this sheet; it has"},
		{"where no made-up paper looks", "# a\n{{if eq .Serial \"77\"}}\n{{.Serail}}{{end}}", "handover_front.tmpl:3: there is no field .Serail"},
		{"of another thing", "{{with .Colony}}\n{{.Owner.Name}}{{end}}", "handover_front.tmpl:2: "},
		{"through a variable", "{{$d := .}}\n{{$d.Colur}}", "handover_front.tmpl:2: there is no field .Colur"},
		{"syntax", "one\n{{if}}", "handover_front.tmpl:2: "},
		{"unknown function", "one\ntwo {{shout .Serial}}", "handover_front.tmpl:2: "},
		{"a loop over a number", "{{range 1000000000}}{{end}}", "{{range}} goes over a list"},
		{"a loop over a number by a name", "{{$n := 1000000000}}{{range $n}}{{end}}", "{{range}} goes over a list"},
		{"loops in loops", strings.Repeat("{{range $.Year}}", 12) + strings.Repeat("{{end}}", 12), "at most 3 {{range}}"},
		{"calls itself", "{{define \"a\"}}{{template \"a\"}}{{end}}{{template \"a\"}}", "cannot be used here"},
		{"wide figures", "{{printf \"%999999d%999999d\" 1 1}}", "printf cannot be used here"},
		{"inside a bracket", "{{if (printf \"%d\" 1)}}x{{end}}", "printf cannot be used here"},
		{"too long", strings.Repeat("- long\n", 10000), "longer than 65536 bytes"},
	} {
		require.ErrorContains(t, CheckWording("handover_front.tmpl", tt.text), tt.says, tt.name)
		words, problems := (*Words)(nil).With(map[string]string{"handover_front.tmpl": tt.text}, nil)
		require.Len(t, problems, 1, tt.name)
		d := testHandover()
		d.Words = words
		pdf, err := Handover(d)
		require.NoError(t, err, tt.name)
		require.Contains(t, pages(t, pdf)[0], "Tonight", tt.name)
	}
	require.ErrorContains(t, CheckWording("letter.tmpl", "x"), "no sheet uses this wording")
}

func TestWordingThatFailsOnThisPaperIsHeardOf(t *testing.T) {
	t.Parallel()
	const text = "{{if gt (len .Guarantee) 1}}\n{{index .Guarantee 9}}{{end}}- mine"
	var failed []string
	words, problems := (*Words)(nil).With(map[string]string{"handover_front.tmpl": text}, func(name string, err error) { failed = append(failed, err.Error()) })
	require.Empty(t, problems, "the made-up papers have one sentence")
	d := testHandover()
	d.Words, d.Guarantee = words, []string{"one", "two"}
	pdf, err := Handover(d)
	require.NoError(t, err)
	require.Contains(t, pages(t, pdf)[0], "Tonight", "the house wording stands in")
	require.Len(t, failed, 1)
	require.Contains(t, failed[0], "handover_front.tmpl:2:")
}

func FuzzCheckWording(f *testing.F) {
	for _, name := range WordingNames() {
		text, err := BuiltinWording(name)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Add("{{with $x := .Year}}{{range .}}{{end}}{{end}}")
	f.Fuzz(func(t *testing.T, text string) {
		if err := CheckWording("handover_back.tmpl", text); err != nil && !strings.HasPrefix(err.Error(), "handover_back.tmpl:") && !strings.HasPrefix(err.Error(), "wording: ") {
			t.Fatalf("says no line: %v", err)
		}
	})
}
