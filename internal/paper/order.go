package paper

// OrderDoc confirms an order: what was taken, for how much and for when.
type OrderDoc struct {
	Head
	Buyer    Party
	Site     Place
	Quote    string // number of the accepted quote; empty: an order without one
	Accepted string // date of acceptance
	Lines    []Line
	EachHead string
	Totals   []Total
	NoTax    bool
	Deposit  string // amount of the deposit
	Received []Payment
	Balance  string
	Units    []Promise // one a unit: what it is and when
	Drawing  *BoxDrawing
	PayWays  []PayWay
	Terms    []string // nil: wording order_terms.tmpl
	Note     string
}

// Order draws an order confirmation.
func Order(d OrderDoc) ([]byte, error) {
	s := newSheet(d.Head, "Order confirmation")
	s.panels(panel{"For", d.Buyer.lines()}, panel{"To stand at", d.Site.lines()},
		panel{"Agreed", some(d.Accepted, prefixed("on quote ", d.Quote))})
	s.para(d.Note)
	s.headingWith("What is ordered", 26)
	s.prices(d.Lines, d.EachHead)
	s.totals(d.Totals)
	if d.NoTax {
		s.noTax()
	}
	s.headingWith("Promised", 14)
	s.dates(d.Units)
	s.received(d.Received)
	s.pairs([]pair{{"Deposit", d.Deposit}, {"Still to pay", d.Balance}})
	s.gap(1)
	s.pay(d.PayWays)
	terms := d.Terms
	if terms == nil {
		blocks, err := d.words().blocks("order_terms.tmpl", d)
		if err != nil {
			return nil, err
		}
		terms = items(blocks)
	}
	s.titledList("What was agreed", terms)
	if d.Drawing != nil {
		s.boxDrawing(*d.Drawing)
	}
	return s.finish()
}

// noTax says that no tax is in the price.
func (s *sheet) noTax() {
	s.gap(-1.5)
	s.textRight(s.x+s.w-cellPad, s.y+2.2, "No "+s.head.Workshop.taxName()+" is charged: the workshop is not registered for it.", false, s.small)
	s.gap(5)
}

// received lists payments.
func (s *sheet) received(list []Payment) {
	if len(list) == 0 {
		return
	}
	s.headingWith("Received", 14)
	rows := make([]row, 0, len(list))
	for _, p := range list {
		rows = append(rows, texts(p.On, p.How, p.Amount))
	}
	s.table([]column{{head: "On", share: 3}, {head: "How", share: 4}, {head: "Amount", share: 2, align: right}}, rows, false)
}
