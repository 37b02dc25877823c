package web

import (
	"fmt"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/show"
)

func (s *Server) registerBringInPages(r *routes) {
	r.get(access.Settings, "/settings/bring-in", s.handleBringIn)
	s.plainPost(r, access.Settings, "/settings/bring-in", s.handleBringInPost)
}

type bringInView struct {
	Form    *Form
	Kinds   []Choice
	Brought *broughtView
	Word    string
	Ready   bool // looked at, and nothing is wrong
	Tables  []tableHelp
	Out     []tableGroup
}

type broughtView struct {
	Words, WrongWords, More string
	Wrong                   bool
	Rows                    []broughtRow
}

type broughtRow struct {
	Line  int
	Said  string
	Wrong []wrongCell
}

type wrongCell struct{ Column, Detail string }

type tableHelp struct{ About, Columns, Need, Example string }

var bringInPage = definePage[bringInView]("bring-in")

// broughtRows is how many lines the page shows; wrong ones go first.
const broughtRows = 200

// tablesOut are the lists as CSV, by what a maker calls them.
var tablesOut = []tableGroup{
	{"Buyers and deals", []sheetLink{tableLink("people", "parties"), tableLink("places", "sites"), tableLink("enquiries", "enquiries"), tableLink("quotes", "quotes"), tableLink("orders", "orders"),
		tableLink("list prices", "prices"), tableLink("classes of buyer", "buyer-classes"), tableLink("services", "services")}},
	{"Money", []sheetLink{tableLink("payments", "payments"), tableLink("invoices", "invoices"), tableLink("deposits held", "deposits-held"), tableLink("purchases", "purchases"), tableLink("standing costs", "standing-costs")}},
	{"Timber and fittings", []sheetLink{tableLink("boards", "lots"), tableLink("logs", "logs"), tableLink("packs", "packs"), tableLink("timbers", "timber-species"), tableLink("board sizes", "board-sizes"), tableLink("fittings and goods", "items"),
		tableLink("suppliers", "suppliers")}},
	{"Bench", []sheetLink{tableLink("models", "models"), tableLink("options", "box-options"), tableLink("fits", "fits"), tableLink("builds", "builds"), tableLink("boxes", "boxes"), tableLink("shelf", "shelf"), tableLink("days away", "away")}},
	{"Bees", []sheetLink{tableLink("species", "bee-species"), tableLink("colonies", "colonies"), tableLink("host trees", "host-trees"), tableLink("runs to come", "runs"), {"past runs", "/api/v1/runs?past=true&format=csv"},
		tableLink("handovers", "handovers"), tableLink("follow-ups due", "follow-ups")}},
}

// tableGroup is one heading's lists.
type tableGroup struct {
	Title  string
	Tables []sheetLink
}

func tableLink(text, list string) sheetLink {
	return sheetLink{text, "/api/v1/" + list + "?format=csv"}
}

func (s *Server) handleBringIn(c echo.Context) error {
	return bringInPage.show(s, c, "Tables in and out", s.bringInView(formOf(c)))
}

func (s *Server) bringInView(f *Form) bringInView {
	v := bringInView{Form: f, Out: tablesOut}
	for _, k := range answer.TableKinds {
		v.Kinds = append(v.Kinds, Choice{Value: k.Name, Text: k.About})
		v.Tables = append(v.Tables, tableHelp{k.About, strings.Join(k.Columns, ", "), strings.Join(k.Need, ", "), k.Example})
	}
	return v
}

// handleBringInPost looks at a table, or brings it in; what was looked at stays on the page.
func (s *Server) handleBringInPost(c echo.Context) error {
	f := formOf(c)
	body, name, err := f.File("file")
	if err != nil {
		return err
	}
	if len(body) == 0 {
		body = []byte(strings.ReplaceAll(f.Text("text"), "\r\n", "\n"))
	}
	if len(body) == 0 {
		f.Wrong("file", "Choose a file, or write the table below.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleBringIn)
	}
	look := f.Text("deed") != "bring"
	got, err := s.Answer.BringIn(c.Request().Context(), f.Text("kind"), body, look)
	if err != nil {
		return again(err, s.handleBringIn)
	}
	if got.Done {
		c.Response().Writer = saidWriter{c.Response().Writer, c.Request()} // a plain post keeps no answer
		return goTo(c, "/settings/bring-in", fmt.Sprintf("%s came in; %d were there before.", show.Count(int64(got.New), "line", "lines"), got.Already))
	}
	v := s.bringInView(f)
	f.values.Set("text", answer.TableText(body))
	v.Brought, v.Ready, v.Word = broughtOf(got), got.Wrong == 0 && got.New > 0, "A look at the table"
	if name != "" {
		v.Word = "A look at " + name
	}
	return bringInPage.show(s, c, "Tables in and out", v)
}

func broughtOf(got answer.Brought) *broughtView {
	v := &broughtView{Wrong: got.Wrong > 0, WrongWords: show.Count(int64(got.Wrong), "line is", "lines are") + " to be mended", Words: fmt.Sprintf("%s would come in, %d came in before", show.Count(int64(got.New), "line", "lines"), got.Already)}
	add := func(wrong bool) {
		for _, l := range got.Lines {
			if len(l.Wrong) > 0 != wrong || len(v.Rows) == broughtRows {
				continue
			}
			r := broughtRow{Line: l.Line, Said: l.Said}
			for _, w := range l.Wrong {
				r.Wrong = append(r.Wrong, wrongCell{w.Pointer, w.Detail})
			}
			v.Rows = append(v.Rows, r)
		}
	}
	add(true)
	add(false)
	if n := len(got.Lines) - len(v.Rows); n > 0 {
		v.More = fmt.Sprintf("%d more lines are not shown.", n)
	}
	return v
}
