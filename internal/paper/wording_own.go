package paper

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"text/template"
	"text/template/parse"
)

// rangesInside is how deep loops may lie in one another; our limit, so that no wording
// takes the program long.
const rangesInside = 3

// With gives these words with some of a maker's own over them, by name. A text with a
// mistake is left out and told of; failed hears of one that fails on a paper later, and
// may be nil. The words given back are for one paper.
func (w *Words) With(own map[string]string, failed func(name string, err error)) (*Words, []error) {
	if w == nil {
		w = builtin()
	}
	out := &Words{files: map[string]*template.Template{}, own: map[string]bool{}, failed: failed}
	for name, t := range w.files {
		out.files[name], out.own[name] = t, w.own[name]
	}
	var problems []error
	for name, text := range own {
		t, err := ownWording(name, text)
		if err != nil {
			problems = append(problems, err)
			continue
		}
		out.files[name], out.own[name] = t, true
	}
	slices.SortFunc(problems, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
	return out, problems
}

// Heard calls filled with what each wording says on the papers drawn with these words.
func (w *Words) Heard(filled func(name string, said []Passage)) *Words {
	w.filled = filled
	return w
}

// SamplePaper draws the made-up paper on which a wording is tried.
func SamplePaper(name string, words *Words) ([]byte, error) {
	switch d := samplesFor(name)[0].(type) {
	case HandoverDoc:
		d.Words = words
		return Handover(d)
	case SiteDoc:
		d.Words = words
		return Site(d)
	case RunDoc:
		d.Words = words
		return Run(d)
	case OrderDoc:
		d.Words = words
		return Order(d)
	case JobCardDoc:
		d.Words = words
		return JobCard(d)
	case SawingDoc:
		d.Words = words
		return Sawing(d)
	case MovementsDoc:
		d.Words = words
		return Movements(d)
	case RegisterDoc:
		d.Words = words
		return Register(d)
	case QuoteDoc:
		d.Words = words
		return Quote(d)
	}
	return nil, fmt.Errorf("wording %s: no sheet is drawn with it", name)
}

// CheckWording tells what is wrong with a maker's text for a wording: where it does not
// parse, names a field that its sheet does not have, or fails on a made-up paper. The
// error names file and line.
func CheckWording(name, text string) error {
	_, err := ownWording(name, text)
	return err
}

func ownWording(name, text string) (*template.Template, error) {
	if builtin().files[name] == nil {
		return nil, fmt.Errorf("%s:1: no sheet uses this wording; there are %s", name, strings.Join(WordingNames(), ", "))
	}
	if len(text) > maxWording {
		return nil, fmt.Errorf("%s:1: longer than %d bytes", name, maxWording)
	}
	t, err := parseWording(name, text)
	if err != nil {
		return nil, err
	}
	samples := samplesFor(name)
	c := wordingCheck{name: name, text: text, fields: map[string]bool{}}
	namesIn(reflect.TypeOf(samples[0]), c.fields, map[reflect.Type]bool{})
	if t.Tree != nil && t.Root != nil {
		if err := c.list(t.Root, 0); err != nil {
			return nil, err
		}
	}
	if defined := t.Templates(); len(defined) > 1 {
		return nil, fmt.Errorf("%s:1: {{define}} cannot be used here", name)
	}
	for _, sample := range samples {
		if _, err := fill(t, sample); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// WordingFields gives the fields a wording may name, those of the sheet itself.
func WordingFields(name string) []string {
	var list []string
	typ := reflect.TypeOf(samplesFor(name)[0])
	for _, f := range reflect.VisibleFields(typ) {
		if f.IsExported() && !f.Anonymous && f.Name != "Words" {
			list = append(list, f.Name)
		}
	}
	for i := range typ.NumMethod() {
		if m := typ.Method(i); m.Type.NumIn() == 1 {
			list = append(list, m.Name)
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// namesIn gathers the names of fields and of methods without arguments that can be
// reached from typ.
func namesIn(typ reflect.Type, names map[string]bool, seen map[reflect.Type]bool) {
	for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice || typ.Kind() == reflect.Map {
		typ = typ.Elem()
	}
	if seen[typ] || typ.Kind() != reflect.Struct {
		return
	}
	seen[typ] = true
	for i := range typ.NumMethod() {
		m := typ.Method(i)
		names[m.Name] = true
		if m.Type.NumOut() > 0 {
			namesIn(m.Type.Out(0), names, seen)
		}
	}
	for i := range typ.NumField() {
		f := typ.Field(i)
		if f.IsExported() || f.Anonymous {
			names[f.Name] = true
			namesIn(f.Type, names, seen)
		}
	}
}

// wordingCheck walks a wording for what only shows on some paper: fields that do not
// exist, and what could keep the program busy.
type wordingCheck struct {
	name, text string
	fields     map[string]bool
}

func (c wordingCheck) wrong(at parse.Node, format string, args ...any) error {
	line := 1 + strings.Count(c.text[:min(int(at.Position()), len(c.text))], "\n")
	return fmt.Errorf("%s:%d: %s", c.name, line, fmt.Sprintf(format, args...))
}

func (c wordingCheck) list(l *parse.ListNode, ranges int) error {
	if l == nil {
		return nil
	}
	for _, n := range l.Nodes {
		if err := c.node(n, ranges); err != nil {
			return err
		}
	}
	return nil
}

func (c wordingCheck) node(n parse.Node, ranges int) error {
	switch n := n.(type) {
	case *parse.ActionNode:
		return c.pipe(n.Pipe)
	case *parse.IfNode:
		return c.branch(&n.BranchNode, ranges)
	case *parse.WithNode:
		return c.branch(&n.BranchNode, ranges)
	case *parse.RangeNode:
		if ranges == rangesInside {
			return c.wrong(n, "at most %d {{range}} in one another", rangesInside)
		}
		if !overField(n.Pipe) {
			return c.wrong(n, "{{range}} goes over a list of the sheet, such as .Sun")
		}
		return c.branch(&n.BranchNode, ranges+1)
	case *parse.TemplateNode:
		return c.wrong(n, "{{template}} and {{block}} cannot be used here")
	}
	return nil
}

// overField reports whether a loop runs over a field and nothing else.
func overField(p *parse.PipeNode) bool {
	if p == nil || len(p.Cmds) != 1 || len(p.Cmds[0].Args) != 1 {
		return false
	}
	switch a := p.Cmds[0].Args[0].(type) {
	case *parse.FieldNode:
		return true
	case *parse.VariableNode:
		return len(a.Ident) > 1
	}
	return false
}

func (c wordingCheck) branch(n *parse.BranchNode, ranges int) error {
	if err := c.pipe(n.Pipe); err != nil {
		return err
	}
	if err := c.list(n.List, ranges); err != nil {
		return err
	}
	return c.list(n.ElseList, ranges)
}

func (c wordingCheck) pipe(p *parse.PipeNode) error {
	if p == nil {
		return nil
	}
	for _, cmd := range p.Cmds {
		for _, arg := range cmd.Args {
			if err := c.argument(arg); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c wordingCheck) argument(n parse.Node) error {
	var idents []string
	switch a := n.(type) {
	case *parse.FieldNode:
		idents = a.Ident
	case *parse.VariableNode:
		idents = a.Ident[1:]
	case *parse.ChainNode:
		if err := c.argument(a.Node); err != nil {
			return err
		}
		idents = a.Field
	case *parse.PipeNode:
		return c.pipe(a)
	case *parse.IdentifierNode:
		if a.Ident == "printf" || a.Ident == "call" {
			return c.wrong(n, "%s cannot be used here", a.Ident)
		}
	}
	for _, name := range idents {
		if !c.fields[name] {
			return c.wrong(n, "there is no field .%s on this sheet; it has %s", name, strings.Join(WordingFields(c.name), ", "))
		}
	}
	return nil
}
