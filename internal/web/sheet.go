package web

import (
	"crypto/rand"
	"strconv"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
)

// sheetView is a page of the ledger that needs no layout of its own: facts, ruled tables
// and forms under one another, with the lesser forms and the cautions in the margin.
type sheetView struct {
	Problem  string // of a one-button form that was not taken
	Late     string // a word in the ink of what is late, before the lead
	Lead     string
	Links    []sheetLink
	Short    []string // what is short
	Buttons  []sheetButton
	Dates    []sheetFact // in large type
	Curve    *dryCurve   // the drying curve of a pack
	Facts    []sheetFact
	Costs    []sheetFact // shown to who may see costs
	Drawings []benchDrawing
	LogEnd   *logEnd // a log's end, drawn
	Tables   []sheetTable
	Forms    []sheetForm
	Side     []sheetForm // in the margin
	Cautions []string
	More     string // address of the next page
	History  string // address of the record's history
}

type sheetLink struct{ Text, Href string }

type sheetFact struct{ Name, Text, Href string }

// sheetTable is one ruled table.
type sheetTable struct {
	Title          string
	Heads          []sheetHead
	Rows           [][]sheetCell
	Empty          string // said when there is no row
	More, MoreText string
	Buttons        []sheetButton // below it
	Fold           bool          // opens at a tap
	Narrow         bool          // few and short columns: stays a table on a phone
}

type sheetHead struct {
	Text   string
	Number bool
}

type sheetCell struct {
	Label, Text, Href, Late string
	Number                  bool
	Buttons                 []sheetButton
	Field                   Field // a field of the form the table stands in
}

// sheetButton is a form of one button.
type sheetButton struct {
	Action, Text, About string
	Key                 string
	Version             int
	Main                bool
}

// sheetForm is one form with its fields in groups.
type sheetForm struct {
	Title, Action, About, Button string
	Form                         *Form
	Parts                        []sheetPart
	Table                        sheetTable
	Fold                         bool   // opens at a tap
	ID                           string // where a link of the page leads to; not with Fold
	Look                         bool   // changes nothing: what is typed goes into the address
	Hidden                       []sheetHidden
	TableFirst                   bool // the table stands above the fields
}

// sheetHidden is a value that goes along with a form.
type sheetHidden struct{ Name, Value string }

type sheetPart struct {
	Legend string
	Fields []kindField
	Fold   bool // opens at a tap; the legend is what is tapped
}

// Open reports whether something in the part was typed or needs a change.
func (p sheetPart) Open() bool {
	for _, f := range p.Fields {
		if f.Field.Value != "" && len(f.Field.Choices) == 0 || f.Field.Wrong != "" {
			return true
		}
	}
	return false
}

var sheetPage = definePage[sheetView]("sheet")

// showSheet shows a sheet; what was wrong with a form that is not on it stands at its top.
func (s *Server) showSheet(c echo.Context, title string, v sheetView) error {
	if f, ok := c.Get(formIn).(*Form); ok && f.Problem != "" {
		v.Problem = f.Problem
		for _, list := range [][]sheetForm{v.Forms, v.Side} {
			for _, shown := range list {
				if shown.Form == f {
					v.Problem = ""
				}
			}
		}
	}
	return sheetPage.show(s, c, title, v)
}

// heads makes the heads of a table; one that begins with # is of numbers.
func heads(names ...string) []sheetHead {
	list := make([]sheetHead, len(names))
	for i, n := range names {
		list[i] = sheetHead{Text: n}
		if len(n) > 0 && n[0] == '#' {
			list[i] = sheetHead{Text: n[1:], Number: true}
		}
	}
	return list
}

// add puts a row into the table; labels and kinds of the cells are those of the heads.
func (t *sheetTable) add(cells ...sheetCell) {
	for i := range cells {
		if i < len(t.Heads) {
			cells[i].Label, cells[i].Number = t.Heads[i].Text, t.Heads[i].Number
		}
	}
	t.Rows = append(t.Rows, cells)
}

func cellOf(text string) sheetCell { return sheetCell{Text: text} }

func linkCell(text, href string) sheetCell { return sheetCell{Text: text, Href: href} }

func numCell(n int) sheetCell { return sheetCell{Text: strconv.Itoa(n)} }

// button makes a one-button form with its own key.
func button(action, text, about string) sheetButton {
	return sheetButton{Action: action, Text: text, About: about, Key: rand.Text()}
}

// one is a form of a single group of fields.
func one(fields ...kindField) []sheetPart { return []sheetPart{{Fields: fields}} }

func in(f Field) kindField { return kindField{"field", f} }

func choose(f Field) kindField { return kindField{"choice", f} }

func tick(f Field) kindField { return kindField{"tick", f} }

func area(f Field) kindField { return kindField{"textarea", f} }

// told drops facts without text.
func told(list ...sheetFact) []sheetFact {
	out := list[:0:0]
	for _, f := range list {
		if f.Text != "" {
			out = append(out, f)
		}
	}
	return out
}

// deed calls what the last part of a post's address names, and goes back to the record.
func (s *Server) deed(c echo.Context, show echo.HandlerFunc, back func(int64) string, deeds map[string]func(echo.Context, int64) (string, error)) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	do, ok := deeds[c.Param("deed")]
	if !ok {
		return fault.New(fault.NotFound, "There is no such page.")
	}
	said, err := do(c, id)
	if err != nil {
		return again(err, show)
	}
	return goTo(c, back(id), said)
}

// chosen reads the id of a choice that must be made.
func (f *Form) chosen(name, sentence string) int64 {
	id := f.ID(name)
	if id == 0 && f.wrong[name] == "" {
		f.Wrong(name, sentence)
	}
	return id
}

// optional reads a whole number of zero or more; 0 when the field is empty.
func (f *Form) optional(name string, high int64) int {
	if f.Text(name) == "" {
		return 0
	}
	return int(f.Int(name, 0, high))
}

// optionalDecimal reads a number of zero or more; zero when the field is empty.
func (f *Form) optionalDecimal(name string, places int32) decimal.Decimal {
	if f.Text(name) == "" {
		return decimal.Zero
	}
	return f.Decimal(name, places)
}

// maybeDecimal reads a number of zero or more; nil when the field is empty.
func (f *Form) maybeDecimal(name string, places int32) *decimal.Decimal {
	if f.Text(name) == "" {
		return nil
	}
	d := f.Decimal(name, places)
	return &d
}

// optionalMoney reads an amount of zero or more into minor units; was when the field is
// empty or the person may not see costs.
func (s *Server) optionalMoney(c echo.Context, f *Form, name string, was int64) (int64, error) {
	if f.Text(name) == "" || !person(c).May(access.Prices) {
		return was, nil
	}
	set, err := s.settings(c)
	if err != nil {
		return 0, err
	}
	return f.Money(name, currency(set)), nil
}

// joined gives a sentence and what else is to be said.
func joined(first string, notes []string) string {
	for _, n := range notes {
		first += " " + n
	}
	return first
}

// What the pages of timber and bench carry where that work is planned: usual practice,
// local rules and the makers' manuals come first.
const (
	sawCare     = "Saw: guard and riving knife on, push stick to hand, nobody in line with the blade where a board may kick back. Look for nails and twist before each cut. The saw's own manual and your regulator's rules come first."
	dustCare    = "Wood dust harms lungs and nose: extraction on, a fitted mask on, for sweeping too."
	liftCare    = "Logs, packs and full boxes are heavy: a trolley, a lever or a second person."
	treatedCare = "No treated timber near bees, in a box or as stickers. Paint and oil outside only, and let them cure before bees move in."
)
