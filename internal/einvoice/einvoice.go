package einvoice

import (
	"encoding/xml"
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// Party is a seller or buyer.
type Party struct {
	Name           string `json:"name"`
	Street         string `json:"street,omitempty"`
	Town           string `json:"town,omitempty"`
	Postcode       string `json:"postcode,omitempty"`
	Region         string `json:"region,omitempty"`
	Country        string `json:"country"`                   // ISO 3166-1 alpha-2
	BusinessNumber string `json:"business_number,omitempty"` // digits of an ABN
	Email          string `json:"email,omitempty"`
	Phone          string `json:"phone,omitempty"`
}

// Line is a line of the invoice; amounts are minor units, below nothing where the line
// takes something off.
type Line struct {
	What     string          `json:"what"`
	Quantity decimal.Decimal `json:"quantity"` // more than nothing
	NetMinor int64           `json:"net_minor"`
	TaxMinor int64           `json:"tax_minor"`
	TaxPct   decimal.Decimal `json:"tax_pct"`
}

// Doc is what the electronic invoice says.
type Doc struct {
	Number      string `json:"number"`
	Credits     string `json:"credits,omitempty"` // number of the invoice it takes off; then it is a credit note
	IssuedOn    string `json:"issued_on"`         // 2026-03-02
	DueOn       string `json:"due_on,omitempty"`
	SuppliedOn  string `json:"supplied_on,omitempty"`
	Currency    string `json:"currency"` // ISO 4217
	MinorDigits int32  `json:"minor_digits"`
	Registered  bool   `json:"registered"` // for tax, on that day
	TaxName     string `json:"tax_name"`   // GST
	Order       string `json:"order"`      // the buyer's number, else ours
	Note        string `json:"note,omitempty"`
	Seller      Party  `json:"seller"`
	Buyer       Party  `json:"buyer"`
	Lines       []Line `json:"lines"`
	PaidMinor   int64  `json:"paid_minor,omitempty"` // before it was issued
}

const (
	specificationEN  = "urn:cen.eu:en16931:2017"
	specificationANZ = "urn:cen.eu:en16931:2017#conformant#urn:fdc:peppol.eu:2017:poacc:billing:international:aunz:3.0"
	processBilling   = "urn:fdc:peppol.eu:2017:poacc:billing:01:1.0"
	schemeABN        = "0151" // Australian Business Number, of the ISO/IEC 6523 list
	schemeEmail      = "EM"
	invoiceCode      = "380" // UNCL 1001: commercial invoice
	creditCode       = "381" // UNCL 1001: credit note
	unitOne          = "C62" // UN/ECE Recommendation 20: one
	meansUndefined   = "1"   // UNCL 4461: instrument not defined
	categoryStandard = "S"   // UNCL 5305
	categoryZero     = "Z"
	categoryOutside  = "O"
	cbcSpace         = "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"
	cacSpace         = "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2"
	invoiceSpace     = "urn:oasis:names:specification:ubl:schema:xsd:Invoice-2"
	creditSpace      = "urn:oasis:names:specification:ubl:schema:xsd:CreditNote-2"
	reasonOutside    = "Seller is not registered for tax"
	pricePlaces      = 6 // decimals of a unit price; amounts have those of the currency
	linesMost        = 10_000
)

// XML writes the electronic invoice. Errors: no line, a quantity that is not more than
// nothing, a seller or buyer without a name.
func XML(d Doc) ([]byte, error) {
	if len(d.Lines) == 0 || len(d.Lines) > linesMost {
		return nil, fmt.Errorf("e-invoice %s: has %d lines", d.Number, len(d.Lines))
	}
	if strings.TrimSpace(d.Seller.Name) == "" || strings.TrimSpace(d.Buyer.Name) == "" {
		return nil, fmt.Errorf("e-invoice %s: seller and buyer need names", d.Number)
	}
	w := writer{Doc: d, sign: 1}
	root := w.invoice()
	if d.Credits != "" {
		w.sign = -1
		root = w.creditNote()
	}
	for i, l := range d.Lines {
		if !l.Quantity.IsPositive() {
			return nil, fmt.Errorf("e-invoice %s: line %d has no quantity", d.Number, i+1)
		}
	}
	w.fill(root)
	body, err := xml.MarshalIndent(root, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("e-invoice %s: %w", d.Number, err)
	}
	return append([]byte(xml.Header), append(body, '\n')...), nil
}

// writer turns a Doc into elements; sign is -1 for a credit note, whose amounts are more
// than nothing.
type writer struct {
	Doc
	sign int64
}

func (w writer) invoice() *document {
	r := &document{XMLName: xml.Name{Local: "Invoice"}, Space: invoiceSpace, InvoiceCode: invoiceCode}
	if w.DueOn != "" {
		r.DueDate = w.DueOn
	}
	return r
}

func (w writer) creditNote() *document {
	return &document{XMLName: xml.Name{Local: "CreditNote"}, Space: creditSpace, CreditCode: creditCode, Billing: &reference{Document: &idOnly{ID: w.Credits}}}
}

func (w writer) fill(r *document) {
	r.Basic, r.Aggregate = cbcSpace, cacSpace
	r.Specification, r.Process = specificationEN, processBilling
	// The A-NZ extension asks for the electronic address of both sides.
	if w.Seller.BusinessNumber != "" && (w.Buyer.BusinessNumber != "" || w.Buyer.Email != "") {
		r.Specification = specificationANZ
	}
	r.ID, r.IssueDate, r.Currency, r.Note = w.Number, w.IssuedOn, w.Currency, w.Note
	r.Order = idOnly{ID: w.Doc.Order}
	r.Seller, r.Buyer = side{w.party(w.Doc.Seller, true)}, side{w.party(w.Doc.Buyer, false)}
	if w.SuppliedOn != "" {
		r.Delivery = &delivery{On: w.SuppliedOn}
	}
	r.Means = means{Code: meansUndefined}
	if w.DueOn != "" {
		r.Terms = &terms{Note: "To pay by " + w.DueOn}
	}
	w.totals(r)
	for i, l := range w.Doc.Lines {
		line := w.line(i+1, l)
		if w.sign < 0 {
			r.CreditLines = append(r.CreditLines, creditLine(line))
		} else {
			r.InvoiceLines = append(r.InvoiceLines, line)
		}
	}
}

func (w writer) party(p Party, seller bool) party {
	out := party{Name: nameOnly{p.Name}, Legal: legal{Name: p.Name}, Address: address{Street: p.Street, Town: p.Town, Postcode: p.Postcode, Region: p.Region, Country: country{p.Country}}}
	switch {
	case p.BusinessNumber != "":
		out.Endpoint, out.Legal.Number = &scheme{schemeABN, p.BusinessNumber}, &scheme{schemeABN, p.BusinessNumber}
	case p.Email != "":
		out.Endpoint = &scheme{schemeEmail, p.Email}
	}
	if p.BusinessNumber != "" && (!seller || w.Registered) {
		out.Tax = &partyTax{ID: p.BusinessNumber, Scheme: idOnly{ID: w.TaxName}}
	}
	if seller && (p.Phone != "" || p.Email != "") {
		out.Contact = &contact{Phone: p.Phone, Email: p.Email}
	}
	return out
}

func (w writer) amount(minor int64) amount {
	return amount{w.Currency, decimal.New(w.sign*minor, -w.MinorDigits).StringFixed(w.MinorDigits)}
}

// category is the tax category of a rate; outside the tax for who is not registered.
func (w writer) category(pct decimal.Decimal) category {
	c := category{ID: categoryStandard, Scheme: idOnly{ID: w.TaxName}}
	switch {
	case !w.Registered:
		c.ID = categoryOutside
		return c
	case pct.IsZero():
		c.ID = categoryZero
	}
	text := pct.String()
	c.Pct = &text
	return c
}

func (w writer) totals(r *document) {
	var net, tax int64
	type group struct{ net, tax int64 }
	groups := map[string]*group{}
	var order []decimal.Decimal
	for _, l := range w.Doc.Lines {
		net, tax = net+l.NetMinor, tax+l.TaxMinor
		key := l.TaxPct.String()
		if groups[key] == nil {
			groups[key] = &group{}
			order = append(order, l.TaxPct)
		}
		groups[key].net += l.NetMinor
		groups[key].tax += l.TaxMinor
	}
	r.Tax.Amount = w.amount(tax)
	for _, pct := range order {
		g := groups[pct.String()]
		c := w.category(pct)
		if c.ID == categoryOutside {
			c.Reason = reasonOutside
		}
		r.Tax.Groups = append(r.Tax.Groups, taxGroup{Taxable: w.amount(g.net), Amount: w.amount(g.tax), Category: c})
	}
	r.Total = total{Lines: w.amount(net), Exclusive: w.amount(net), Inclusive: w.amount(net + tax), Payable: w.amount(net + tax - w.PaidMinor)}
	if w.PaidMinor != 0 {
		paid := w.amount(w.PaidMinor)
		r.Total.Prepaid = &paid
	}
}

func (w writer) line(n int, l Line) invoiceLine {
	quantity, net := l.Quantity, w.sign*l.NetMinor
	if net < 0 { // a price is never below nothing: the quantity is
		quantity, net = quantity.Neg(), -net
	}
	price := decimal.New(net, -w.MinorDigits).DivRound(quantity.Abs(), pricePlaces)
	out := invoiceLine{ID: n, Net: w.amount(l.NetMinor), Item: item{Name: l.What, Category: w.category(l.TaxPct)}, Price: unitPrice{amount{w.Currency, plain(price, w.MinorDigits)}}}
	q := quantityOf{unitOne, quantity.String()}
	if w.sign < 0 {
		out.Credited = &q
	} else {
		out.Invoiced = &q
	}
	return out
}

// plain writes a price with at least the currency's decimals.
func plain(d decimal.Decimal, digits int32) string {
	if d.Exponent() > -digits || d.Round(digits).Equal(d) {
		return d.StringFixed(digits)
	}
	return strings.TrimRight(d.String(), "0")
}
