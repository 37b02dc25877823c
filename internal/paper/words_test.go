package paper

import (
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

func TestBuiltinWording(t *testing.T) {
	t.Parallel()
	w, err := loadBuiltin()
	require.NoError(t, err)
	require.Len(t, w.files, 13)
	for _, name := range WordingNames() {
		for _, sample := range samplesFor(name) {
			text, err := fill(w.files[name], sample)
			require.NoError(t, err, name)
			require.NotEmpty(t, readBlocks(text), name)
			require.NotContains(t, text, "<no value>", name)
		}
		text, err := BuiltinWording(name)
		require.NoError(t, err)
		require.NotEmpty(t, text)
	}
	_, err = BuiltinWording("../embed.go")
	require.ErrorContains(t, err, "the files are handover_back.tmpl")
}

func TestOwnWording(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, file, text string
		errs             string // what the one error says; empty: none
		shown            string // on the quote
		source           string
	}{
		{"good", "quote_guarantee.tmpl", "- Ten years on the joints, {{.Workshop.Name}}.\n", "", "Ten years on the joints, Three Gullies", "brief: a maker may change the wording"},
		{"syntax", "quote_guarantee.tmpl", "- one\n- {{if}} two\n", "quote_guarantee.tmpl:2: ", "put right free of charge", "a mistake names file and line"},
		{"unknown field", "quote_guarantee.tmpl", "- one\n\n- {{.Colour}}\n", "quote_guarantee.tmpl:3: ", "put right free of charge", "same"},
		{"unknown file", "guarantee.tmpl", "- one\n", "guarantee.tmpl:1: no sheet uses this file; the files are handover_back.tmpl", "put right free of charge", "same"},
		{"too long", "quote_guarantee.tmpl", strings.Repeat("- long\n", 10000), "quote_guarantee.tmpl:1: longer than 65536 bytes", "put right free of charge", "our limit"},
		{"becomes too long", "quote_guarantee.tmpl", "{{range 100000}}- again and again\n{{end}}", "the text becomes too long", "put right free of charge", "our limit"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			words, errs := LoadWords(fstest.MapFS{tt.file: {Data: []byte(tt.text)}})
			if tt.errs == "" {
				require.Empty(t, errs)
			} else {
				require.Len(t, errs, 1)
				require.ErrorContains(t, errs[0], tt.errs)
				require.ErrorContains(t, errs[0], "the built-in wording is used")
			}
			require.Equal(t, tt.errs == "", words.Own("quote_guarantee.tmpl"))
			d := testQuote()
			d.Words = words
			pdf, err := Quote(d)
			require.NoError(t, err)
			require.Contains(t, strings.Join(pages(t, pdf), " "), tt.shown)
		})
	}
}

// A file that works on the samples but fails on this very paper must not stop it.
func TestOwnWordingFailsLate(t *testing.T) {
	t.Parallel()
	words, errs := LoadWords(fstest.MapFS{"handover_front.tmpl": {Data: []byte(`{{if eq .Serial "10427"}}{{index .Law 7}}{{end}}Only this.`)}})
	require.Empty(t, errs)
	d := testHandover()
	d.Words = words
	pdf, err := Handover(d)
	require.NoError(t, err)
	require.Contains(t, strings.Join(pages(t, pdf), " "), "Set the box in its place for good")
	d.Serial = "10435"
	pdf, err = Handover(d)
	require.NoError(t, err)
	require.Contains(t, strings.Join(pages(t, pdf), " "), "Only this.")
}

func TestNoOwnFolder(t *testing.T) {
	t.Parallel()
	words, errs := LoadWords(nil)
	require.Empty(t, errs)
	require.Len(t, words.files, 13)
}

func TestReadBlocks(t *testing.T) {
	t.Parallel()
	got := readBlocks("# Head\nfirst line\nsecond line\n\n- item\n  goes on\n! care\n| a | b |c\n+ more\n")
	require.Equal(t, []block{
		{kind: blockHeading, text: "Head"}, {kind: blockPara, text: "first line second line"}, {kind: blockItem, text: "item goes on"},
		{kind: blockCaution, text: "care"}, {kind: blockRow, cells: []string{"a", "b", "c\n– more"}},
	}, got)
}
