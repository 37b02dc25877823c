package paper

import "fmt"

// QuoteDoc is an offer to a buyer. The lists NotIncluded, Delays, Guarantee and
// Terms come from the wording quote_*.tmpl when they are nil.
type QuoteDoc struct {
	Head
	Revision     int    // 1 for the first; printed from 2 on
	Replaces     string // number of the quote it takes the place of
	Buyer        Party
	Site         Place
	Subject      string // one line: what it is for
	Alternatives []Alternative
	ValidUntil   string
	// ConfirmAtAcceptance: nothing is held; the dates are confirmed when the buyer says yes.
	ConfirmAtAcceptance bool
	Bees                []string // kinds outside their natural range at the buyer's place: what to ask, and whom
	NotIncluded         []string
	Delays              []string
	Guarantee           []string
	PayWays             []PayWay
	Terms               []string
	Note                string
}

// Alternative is one of the things offered, of which the buyer takes one.
type Alternative struct {
	Letter   string // "A"
	Title    string
	Lines    []Line
	EachHead string  // heading of the column of single prices: "Each, incl. GST"
	Totals   []Total // net, tax, total as they apply
	NoTax    bool    // prints that no tax is charged
	Deposit  string
	Promised []Promise
	Drawing  *BoxDrawing
}

// Quote draws a quote.
func Quote(d QuoteDoc) ([]byte, error) {
	words := d.words()
	title := "Quote"
	if d.Revision > 1 {
		title = fmt.Sprintf("Quote, revision %d", d.Revision)
	}
	s := newSheet(d.Head, title)
	s.panels(panel{"For", d.Buyer.lines()}, panel{"To stand at", d.Site.lines()},
		panel{"Valid until", some(d.ValidUntil, prefixed("In place of ", d.Replaces))})
	if d.Subject != "" {
		s.paraWith(d.Subject, true, 11.5, 0)
	}
	s.para(d.Note)
	if len(d.Alternatives) > 1 {
		s.para("Alternatives: please take one of them.")
	}
	for _, a := range d.Alternatives {
		s.alternative(a, len(d.Alternatives) > 1)
	}
	if d.ConfirmAtAcceptance {
		s.para("Dates are confirmed at acceptance: no bench time, timber or colony is held before that.")
	}
	s.titledList("About the bees", d.Bees)
	for _, part := range []struct {
		title, file string
		own         []string
	}{
		{"Not included", "quote_not_included.tmpl", d.NotIncluded},
		{"What could delay it", "quote_delays.tmpl", d.Delays},
		{"Guarantee", "quote_guarantee.tmpl", d.Guarantee},
		{"Terms", "quote_terms.tmpl", d.Terms},
	} {
		if part.title == "Terms" {
			s.pay(d.PayWays)
		}
		list := part.own
		if list == nil {
			blocks, err := words.blocks(part.file, d)
			if err != nil {
				return nil, err
			}
			list = items(blocks)
		}
		s.titledList(part.title, list)
	}
	s.signature("Accepted (say which alternative), name and date")
	return s.finish()
}

func (s *sheet) alternative(a Alternative, many bool) {
	title := a.Title
	if many && a.Letter != "" {
		title = a.Letter + ".  " + a.Title
	}
	s.headingWith(first(title, "What is offered"), 26)
	s.prices(a.Lines, a.EachHead)
	s.totals(a.Totals)
	if a.NoTax {
		s.noTax()
	}
	if a.Deposit != "" {
		s.pairs([]pair{{"Deposit to confirm", a.Deposit}})
		s.gap(1)
	}
	s.dates(a.Promised)
	if a.Drawing != nil {
		s.boxDrawing(*a.Drawing)
	}
}

func prefixed(prefix, s string) string {
	if s == "" {
		return ""
	}
	return prefix + s
}

// titledList writes a heading and a list; neither when the list is empty.
func (s *sheet) titledList(title string, list []string) {
	list = some(list...)
	if len(list) == 0 {
		return
	}
	const whole = 45.0 // mm; a list up to this height is kept on one page
	h := 0.0
	for _, item := range list {
		h += float64(len(wrap(item, false, s.body, s.w-bulletIndent)))*lineHeight(s.body) + 0.7
	}
	if h > whole {
		h = lineHeight(s.body) * 2
	}
	s.headingWith(title, h)
	s.bullets(list)
}

// signature leaves a line to write on.
func (s *sheet) signature(label string) {
	s.need(18)
	s.y += 13
	s.rule(s.x, s.y, s.x+s.w*0.62, thinRule)
	s.rule(s.x+s.w*0.68, s.y, s.x+s.w, thinRule)
	s.y += 4
	s.text(s.x, s.y, clip(label, false, s.small, s.w*0.62), false, s.small)
	s.text(s.x+s.w*0.68, s.y, "signature", false, s.small)
	s.y += 3
}
