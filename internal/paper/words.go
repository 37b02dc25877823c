package paper

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"
	"text/template"

	"kerfbook/templates"
)

// maxWording is the most bytes one file of wording, or its result, may have.
const maxWording = 64 << 10

// Words is the wording of the sheets: the built-in files of templates/papers,
// some of them replaced by a maker's own. It is safe for use by many at once.
//
// A file is a text/template whose result is read line by line: "# " starts a
// heading, "- " an item, "! " a caution in a ruled box, "| a | b" a table row and
// "+ " a further line in its last field; a blank line ends a paragraph. Its fields are those of the paper's struct.
type Words struct {
	files  map[string]*template.Template
	own    map[string]bool
	failed func(name string, err error)      // hears of a wording that fails on a paper
	filled func(name string, said []Passage) // hears what a wording said on a paper
}

// builtin is the wording shipped with the program.
var builtin = sync.OnceValue(func() *Words {
	w, err := loadBuiltin()
	if err != nil {
		panic(err) // a mistake in our own files; a test reads them all
	}
	return w
})

func loadBuiltin() (*Words, error) {
	w := &Words{files: map[string]*template.Template{}, own: map[string]bool{}}
	names, err := fs.Glob(templates.FS, "papers/*.tmpl")
	if err != nil {
		return nil, fmt.Errorf("list the built-in wording: %w", err)
	}
	for _, name := range names {
		text, err := fs.ReadFile(templates.FS, name)
		if err != nil {
			return nil, fmt.Errorf("read the built-in wording: %w", err)
		}
		base := path.Base(name)
		if w.files[base], err = parseWording(base, string(text)); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// WordingNames lists the files a maker may change, sorted.
func WordingNames() []string {
	var names []string
	for name := range builtin().files {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// BuiltinWording gives the text of one built-in file, as a start for a changed one.
func BuiltinWording(name string) (string, error) {
	text, err := fs.ReadFile(templates.FS, path.Join("papers", path.Base(name)))
	if err != nil {
		return "", fmt.Errorf("wording %q: the files are %s", name, strings.Join(WordingNames(), ", "))
	}
	return string(text), nil
}

// LoadWords reads the *.tmpl files of a maker's folder over the built-in ones.
// Every file is parsed and tried on made-up papers. The errors name file and
// line; a file with one is left out, so the Words that come back always work.
func LoadWords(own fs.FS) (*Words, []error) {
	w := &Words{files: map[string]*template.Template{}, own: map[string]bool{}}
	for name, t := range builtin().files {
		w.files[name] = t
	}
	if own == nil {
		return w, nil
	}
	names, err := fs.Glob(own, "*.tmpl")
	if err != nil {
		return w, []error{fmt.Errorf("list the wording: %w", err)}
	}
	var problems []error
	for _, name := range names {
		if err := w.replace(own, name); err != nil {
			problems = append(problems, fmt.Errorf("%w; the built-in wording is used", err))
		}
	}
	return w, problems
}

func (w *Words) replace(own fs.FS, name string) error {
	if w.files[name] == nil {
		return fmt.Errorf("%s:1: no sheet uses this file; the files are %s", name, strings.Join(WordingNames(), ", "))
	}
	info, err := fs.Stat(own, name)
	if err != nil {
		return fmt.Errorf("%s:1: cannot be read: %w", name, err)
	}
	if info.Size() > maxWording {
		return fmt.Errorf("%s:1: longer than %d bytes", name, maxWording)
	}
	text, err := fs.ReadFile(own, name)
	if err != nil {
		return fmt.Errorf("%s:1: cannot be read: %w", name, err)
	}
	t, err := parseWording(name, string(text))
	if err != nil {
		return err
	}
	for _, sample := range samplesFor(name) {
		if _, err := fill(t, sample); err != nil {
			return err
		}
	}
	w.files[name], w.own[name] = t, true
	return nil
}

// Own tells whether a maker's file is in use for the name.
func (w *Words) Own(name string) bool { return w.own[name] }

// blocks fills a wording with a paper's struct. When a maker's file fails on
// this very paper, the built-in one takes its place.
func (w *Words) blocks(name string, doc any) ([]block, error) {
	t := w.files[name]
	if t == nil {
		return nil, fmt.Errorf("wording %s: no such file", name)
	}
	text, err := fill(t, doc)
	if err != nil && w.own[name] {
		if w.failed != nil {
			w.failed(name, err)
		}
		text, err = fill(builtin().files[name], doc)
	}
	if err != nil {
		return nil, err
	}
	list := readBlocks(text)
	if w.filled != nil {
		w.filled(name, passages(list))
	}
	return list, nil
}

func parseWording(name, text string) (*template.Template, error) {
	t, err := template.New(name).Option("missingkey=error").Funcs(wordingFuncs).Parse(text)
	if err != nil {
		return nil, wordingError(err)
	}
	return t, nil
}

var wordingFuncs = template.FuncMap{
	"join":  func(list []string, sep string) string { return strings.Join(list, sep) },
	"day":   Day,
	"lower": strings.ToLower,
}

// fill runs a wording; too long a result is an error, not a heap of paper.
func fill(t *template.Template, doc any) (string, error) {
	out := &limitedText{}
	if err := t.Execute(out, doc); err != nil {
		return "", wordingError(err)
	}
	return out.buf.String(), nil
}

var errTooLong = errors.New("the text becomes too long")

type limitedText struct{ buf bytes.Buffer }

func (l *limitedText) Write(p []byte) (int, error) {
	if l.buf.Len()+len(p) > maxWording {
		return 0, errTooLong
	}
	return l.buf.Write(p)
}

// templatePlace finds "name.tmpl:12:5: " in an error of text/template.
var templatePlace = regexp.MustCompile(`template: ([^:\s]+):(\d+)(?::\d+)?: `)

// wordingError puts the file and the line first.
func wordingError(err error) error {
	m := templatePlace.FindStringSubmatchIndex(err.Error())
	if m == nil {
		return fmt.Errorf("wording: %w", err)
	}
	text := err.Error()
	return fmt.Errorf("%s:%s: %s", text[m[2]:m[3]], text[m[4]:m[5]], text[m[1]:])
}
