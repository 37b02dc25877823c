package paper

// InvoiceDoc is a bill. Its title is "Tax invoice" only when the workshop is
// registered for tax; with Credits it is an adjustment or credit note.
type InvoiceDoc struct {
	Head
	Buyer      Party
	Order      string
	TheirOrder string // the buyer's own number
	Subject    string // "Deposit", "Balance on handover"
	Supplied   string // date of supply where it differs from the issue date
	Lines      []Line
	EachHead   string
	Totals     []Total
	TaxInside  string // where all lines are taxed: "Total includes GST of $40.91"
	Received   []Payment
	Due        string // amount still to pay
	DueOn      string
	Credits    string // number of the invoice it reduces
	PayWays    []PayWay
	Note       string
}

func (d InvoiceDoc) title() string {
	switch {
	case d.Credits != "" && d.Workshop.TaxRegistered:
		return "Adjustment note"
	case d.Credits != "":
		return "Credit note"
	case d.Workshop.TaxRegistered:
		return "Tax invoice"
	default:
		return "Invoice"
	}
}

// Invoice draws an invoice, tax invoice, credit note or adjustment note.
func Invoice(d InvoiceDoc) ([]byte, error) {
	s := newSheet(d.Head, d.title())
	about := some(prefixed("Order ", d.Order), prefixed("Your order ", d.TheirOrder), prefixed("Supplied ", d.Supplied), prefixed("Reduces invoice ", d.Credits))
	s.panels(panel{"To", d.Buyer.lines()}, panel{"About", about}, panel{"To pay", some(d.Due, prefixed("by ", d.DueOn))})
	if d.Subject != "" {
		s.paraWith(d.Subject, true, 11.5, 0)
	}
	s.para(d.Note)
	s.prices(d.Lines, d.EachHead)
	s.totals(d.Totals)
	if d.Workshop.TaxRegistered {
		s.para(d.TaxInside)
	} else {
		s.noTax()
	}
	s.received(d.Received)
	if d.Due != "" {
		s.totals([]Total{{Label: "Still to pay" + prefixed(" by ", d.DueOn), Amount: d.Due, Strong: true}})
	}
	s.pay(d.PayWays)
	return s.finish()
}

// ReceiptDoc says that money came in, or that a box was sold from the shelf.
type ReceiptDoc struct {
	Head
	From     Party
	Amount   string
	How      string // "cash", "bank transfer"
	On       string
	For      string // "Deposit on order O-0017"
	Lines    []Line // of a sale from the shelf
	EachHead string
	Totals   []Total
	Serials  []string
	Balance  string // still to pay; empty: not said
	Note     string
}

// Receipt draws a receipt.
func Receipt(d ReceiptDoc) ([]byte, error) {
	s := newSheet(d.Head, "Receipt")
	s.panels(panel{"From", d.From.lines()}, panel{"Received", some(d.Amount, prefixed("on ", d.On), d.How)}, panel{"For", some(d.For)})
	if len(d.Lines) > 0 {
		s.prices(d.Lines, d.EachHead)
		s.totals(d.Totals)
		if !d.Workshop.TaxRegistered {
			s.noTax()
		}
	} else {
		s.totals([]Total{{Label: "Received with thanks", Amount: d.Amount, Strong: true}})
	}
	list := []pair{{"Still to pay", d.Balance}}
	for _, serial := range d.Serials {
		list = append(list, pair{"Serial of the box", serial})
	}
	s.pairs(list)
	s.para(d.Note)
	s.signature("Received for " + first(d.Workshop.Name, "the workshop"))
	return s.finish()
}
