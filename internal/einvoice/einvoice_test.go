package einvoice

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
)

// node is an element of the XML as any reader sees it.
type node struct {
	name     string // with its usual prefix: cbc:ID
	attr     map[string]string
	text     string
	children []*node
}

var prefixes = map[string]string{cbcSpace: "cbc:", cacSpace: "cac:", invoiceSpace: "", creditSpace: ""}

func read(t testing.TB, body []byte) *node {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(body))
	stack := []*node{{}}
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		top := stack[len(stack)-1]
		switch tok := tok.(type) {
		case xml.StartElement:
			prefix, known := prefixes[tok.Name.Space]
			require.True(t, known, "namespace %q", tok.Name.Space)
			n := &node{name: prefix + tok.Name.Local, attr: map[string]string{}}
			for _, a := range tok.Attr {
				n.attr[a.Name.Local] = a.Value
			}
			top.children = append(top.children, n)
			stack = append(stack, n)
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			top.text += string(tok)
		}
	}
	return stack[0].children[0]
}

// all gives the elements at a path of names parted by blanks.
func (n *node) all(path string) []*node {
	list := []*node{n}
	for _, name := range strings.Fields(path) {
		var next []*node
		for _, one := range list {
			for _, c := range one.children {
				if c.name == name {
					next = append(next, c)
				}
			}
		}
		list = next
	}
	return list
}

func (n *node) value(path string) string {
	if list := n.all(path); len(list) > 0 {
		return strings.TrimSpace(list[0].text)
	}
	return ""
}

func (n *node) number(path string) decimal.Decimal {
	d, err := decimal.NewFromString(n.value(path))
	if err != nil {
		return decimal.Zero
	}
	return d
}

func (n *node) walk(f func(*node)) {
	f(n)
	for _, c := range n.children {
		c.walk(f)
	}
}

// order is the order in which the UBL 2.1 schema lists the elements we write (OASIS
// UBL 2.1, UBL-Invoice-2.1.xsd, UBL-CreditNote-2.1.xsd and the common components; from
// memory).
var order = map[string][]string{
	"Invoice": {"cbc:CustomizationID", "cbc:ProfileID", "cbc:ID", "cbc:IssueDate", "cbc:DueDate", "cbc:InvoiceTypeCode", "cbc:Note", "cbc:DocumentCurrencyCode", "cac:OrderReference", "cac:BillingReference",
		"cac:AccountingSupplierParty", "cac:AccountingCustomerParty", "cac:Delivery", "cac:PaymentMeans", "cac:PaymentTerms", "cac:TaxTotal", "cac:LegalMonetaryTotal", "cac:InvoiceLine"},
	"CreditNote": {"cbc:CustomizationID", "cbc:ProfileID", "cbc:ID", "cbc:IssueDate", "cbc:CreditNoteTypeCode", "cbc:Note", "cbc:DocumentCurrencyCode", "cac:OrderReference", "cac:BillingReference",
		"cac:AccountingSupplierParty", "cac:AccountingCustomerParty", "cac:Delivery", "cac:PaymentMeans", "cac:PaymentTerms", "cac:TaxTotal", "cac:LegalMonetaryTotal", "cac:CreditNoteLine"},
	"cac:Party":              {"cbc:EndpointID", "cac:PartyName", "cac:PostalAddress", "cac:PartyTaxScheme", "cac:PartyLegalEntity", "cac:Contact"},
	"cac:PostalAddress":      {"cbc:StreetName", "cbc:CityName", "cbc:PostalZone", "cbc:CountrySubentity", "cac:Country"},
	"cac:TaxSubtotal":        {"cbc:TaxableAmount", "cbc:TaxAmount", "cac:TaxCategory"},
	"cac:TaxCategory":        {"cbc:ID", "cbc:Percent", "cbc:TaxExemptionReason", "cac:TaxScheme"},
	"cac:LegalMonetaryTotal": {"cbc:LineExtensionAmount", "cbc:TaxExclusiveAmount", "cbc:TaxInclusiveAmount", "cbc:PrepaidAmount", "cbc:PayableAmount"},
	"cac:InvoiceLine":        {"cbc:ID", "cbc:InvoicedQuantity", "cbc:LineExtensionAmount", "cac:Item", "cac:Price"},
	"cac:CreditNoteLine":     {"cbc:ID", "cbc:CreditedQuantity", "cbc:LineExtensionAmount", "cac:Item", "cac:Price"},
}

var day = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)

// broken gives the rules of EN 16931-1 and of the A-NZ extension that an e-invoice breaks.
// Rules are named as in the published Schematron (A-NZ-PEPPOL/A-NZ-PEPPOL-BIS-3.0,
// Validation documents/Schematron/AUNZ-PEPPOL-validation.sch and AUNZ-UBL-validation.sch),
// with its slack of one unit of currency in BR-CO-17 and of 0.02 in R120; the wording of
// BR-S, BR-Z and BR-O is from memory.
func broken(n *node) []string {
	var out []string
	rule := func(id string, ok bool) {
		if !ok && !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	credit := n.name == "CreditNote"
	anz := strings.HasSuffix(n.value("cbc:CustomizationID"), "aunz:3.0")
	for id, path := range map[string]string{"BR-01": "cbc:CustomizationID", "BR-02": "cbc:ID", "BR-03": "cbc:IssueDate", "BR-05": "cbc:DocumentCurrencyCode", "BR-06": "cac:AccountingSupplierParty cac:Party cac:PartyLegalEntity cbc:RegistrationName",
		"BR-07": "cac:AccountingCustomerParty cac:Party cac:PartyLegalEntity cbc:RegistrationName", "BR-09": "cac:AccountingSupplierParty cac:Party cac:PostalAddress cac:Country cbc:IdentificationCode",
		"BR-11": "cac:AccountingCustomerParty cac:Party cac:PostalAddress cac:Country cbc:IdentificationCode", "R001": "cbc:ProfileID", "R003": "cac:OrderReference cbc:ID", "BR-49": "cac:PaymentMeans cbc:PaymentMeansCode"} {
		rule(id, n.value(path) != "")
	}
	if credit {
		rule("BR-04", n.value("cbc:CreditNoteTypeCode") == "381")
		rule("BR-55", n.value("cac:BillingReference cac:InvoiceDocumentReference cbc:ID") != "")
	} else {
		rule("BR-04", n.value("cbc:InvoiceTypeCode") == "380")
	}
	if anz {
		rule("R010", n.value("cac:AccountingCustomerParty cac:Party cbc:EndpointID") != "")
		rule("R020", n.value("cac:AccountingSupplierParty cac:Party cbc:EndpointID") != "")
	}
	currency := n.value("cbc:DocumentCurrencyCode")
	n.walk(func(e *node) {
		rule("R008", len(e.children) > 0 || strings.TrimSpace(e.text) != "")
		if strings.HasSuffix(e.name, "Amount") {
			rule("R051", e.attr["currencyID"] == currency)
			d, err := decimal.NewFromString(strings.TrimSpace(e.text))
			rule("BR-DEC", err == nil && (e.name == "cbc:PriceAmount" || d.Equal(d.Round(2))))
		}
		if strings.HasSuffix(e.name, "Date") {
			rule("date", day.MatchString(e.text))
		}
		if names, known := order[e.name]; known {
			last := 0
			for _, c := range e.children {
				i := slices.Index(names, c.name)
				rule("order of "+e.name, i >= last)
				last = max(last, i)
			}
		}
	})
	lines, quantity := n.all("cac:InvoiceLine"), "cbc:InvoicedQuantity"
	if credit {
		lines, quantity = n.all("cac:CreditNoteLine"), "cbc:CreditedQuantity"
	}
	rule("BR-16", len(lines) > 0)
	net := decimal.Zero
	byRate := map[string]decimal.Decimal{}
	ids := map[string]bool{}
	for _, l := range lines {
		rule("BR-21", l.value("cbc:ID") != "" && !ids[l.value("cbc:ID")])
		ids[l.value("cbc:ID")] = true
		rule("BR-22", l.value(quantity) != "")
		rule("BR-23", l.all(quantity) != nil && l.all(quantity)[0].attr["unitCode"] != "")
		rule("BR-24", l.value("cbc:LineExtensionAmount") != "")
		rule("BR-25", l.value("cac:Item cbc:Name") != "")
		rule("BR-27", !l.number("cac:Price cbc:PriceAmount").IsNegative())
		rule("R120", l.number(quantity).Mul(l.number("cac:Price cbc:PriceAmount")).Sub(l.number("cbc:LineExtensionAmount")).Abs().LessThanOrEqual(decimal.RequireFromString("0.02")))
		c := l.all("cac:Item cac:ClassifiedTaxCategory")
		rule("BR-CO-04", len(c) == 1)
		net = net.Add(l.number("cbc:LineExtensionAmount"))
		key := c[0].value("cbc:ID") + c[0].value("cbc:Percent")
		byRate[key] = byRate[key].Add(l.number("cbc:LineExtensionAmount"))
		rule("BR-Z-05", c[0].value("cbc:ID") != "Z" || c[0].number("cbc:Percent").IsZero())
		rule("BR-S-05", c[0].value("cbc:ID") != "S" || c[0].number("cbc:Percent").IsPositive())
		rule("BR-O-05", c[0].value("cbc:ID") != "O" || len(c[0].all("cbc:Percent")) == 0)
	}
	total := func(name string) decimal.Decimal { return n.number("cac:LegalMonetaryTotal cbc:" + name) }
	rule("BR-CO-10", total("LineExtensionAmount").Equal(net))
	rule("BR-CO-13", total("TaxExclusiveAmount").Equal(net))
	rule("BR-CO-15", total("TaxInclusiveAmount").Equal(total("TaxExclusiveAmount").Add(n.number("cac:TaxTotal cbc:TaxAmount"))))
	rule("BR-CO-16", total("PayableAmount").Equal(total("TaxInclusiveAmount").Sub(total("PrepaidAmount"))))
	rule("BR-CO-25", !total("PayableAmount").IsPositive() || n.value("cbc:DueDate") != "" || n.value("cac:PaymentTerms cbc:Note") != "" || credit)
	sum := decimal.Zero
	subtotals := n.all("cac:TaxTotal cac:TaxSubtotal")
	rule("BR-CO-18", len(subtotals) > 0)
	rule("BR-S-01", len(subtotals) == len(byRate))
	for _, g := range subtotals {
		taxable, tax, pct := g.number("cbc:TaxableAmount"), g.number("cbc:TaxAmount"), g.number("cac:TaxCategory cbc:Percent")
		sum = sum.Add(tax)
		id := g.value("cac:TaxCategory cbc:ID")
		rule("BR-S-08", byRate[id+g.value("cac:TaxCategory cbc:Percent")].Equal(taxable))
		rule("BR-CO-17", tax.Abs().Sub(taxable.Abs().Mul(pct).Div(decimal.NewFromInt(100)).Round(2)).Abs().LessThanOrEqual(decimal.NewFromInt(1)))
		rule("BR-Z-09", id == "S" || tax.IsZero())
		rule("BR-O-10", id != "O" || g.value("cac:TaxCategory cbc:TaxExemptionReason") != "")
		rule("BR-S-02", id != "S" || n.value("cac:AccountingSupplierParty cac:Party cac:PartyTaxScheme cbc:CompanyID") != "")
		rule("BR-O-02", id != "O" || n.value("cac:AccountingSupplierParty cac:Party cac:PartyTaxScheme cbc:CompanyID") == "")
	}
	rule("BR-CO-14", n.number("cac:TaxTotal cbc:TaxAmount").Equal(sum))
	slices.Sort(out)
	return out
}

func sample() Doc {
	d := decimal.NewFromInt
	return Doc{Number: "I0012", IssuedOn: "2026-03-02", DueOn: "2026-03-16", SuppliedOn: "2026-02-28", Currency: "AUD", MinorDigits: 2, Registered: true, TaxName: "GST", Order: "PO 4411", Note: "Tax invoice",
		Seller: Party{Name: "Creek & Sons <Workshop>", Street: "1 Gully Road", Town: "Gully Flat", Postcode: "4599", Region: "QLD", Country: "AU", BusinessNumber: "51824753556", Phone: "07 5550 0199"},
		Buyer:  Party{Name: "Ottoline", Country: "AU", Email: "o@example.com"},
		Lines: []Line{{What: "Hive box", Quantity: d(1), NetMinor: 45000, TaxMinor: 4500, TaxPct: d(10)}, {What: "Honey", Quantity: decimal.RequireFromString("2.5"), NetMinor: 1001, TaxPct: d(0)},
			{What: "Less deposit invoice I0001", Quantity: d(1), NetMinor: -27273, TaxMinor: -2727, TaxPct: d(10)}}, PaidMinor: 1000}
}

func TestInvoiceKeepsTheRules(t *testing.T) {
	t.Parallel()
	plainBuyer, unregistered, credit := sample(), sample(), sample()
	plainBuyer.Buyer.Email = ""
	unregistered.Registered = false
	for i := range unregistered.Lines {
		unregistered.Lines[i].TaxMinor, unregistered.Lines[i].TaxPct = 0, decimal.Zero
	}
	credit.Credits, credit.DueOn, credit.PaidMinor = "I0012", "", 0
	credit.Lines = []Line{{What: "Hive box", Quantity: decimal.NewFromInt(1), NetMinor: -3000, TaxMinor: -300, TaxPct: decimal.NewFromInt(10)}, {What: "Less deposit", Quantity: decimal.NewFromInt(1), NetMinor: 1000, TaxMinor: 100, TaxPct: decimal.NewFromInt(10)}}
	for name, d := range map[string]Doc{"taxed": sample(), "a buyer without an address": plainBuyer, "not registered": unregistered, "credit note": credit} {
		body, err := XML(d)
		require.NoError(t, err, name)
		require.Empty(t, broken(read(t, body)), "%s:\n%s", name, body)
	}
	body, err := XML(sample())
	require.NoError(t, err)
	n := read(t, body)
	require.Equal(t, "187.28", n.value("cac:LegalMonetaryTotal cbc:LineExtensionAmount"))
	require.Equal(t, "205.01", n.value("cac:LegalMonetaryTotal cbc:TaxInclusiveAmount"))
	require.Equal(t, "195.01", n.value("cac:LegalMonetaryTotal cbc:PayableAmount"))
	require.Equal(t, specificationANZ, n.value("cbc:CustomizationID"))
	body, err = XML(plainBuyer)
	require.NoError(t, err)
	require.Equal(t, specificationEN, read(t, body).value("cbc:CustomizationID"), "without an electronic address it is no Peppol invoice")
	body, err = XML(credit)
	require.NoError(t, err)
	n = read(t, body)
	require.Equal(t, "CreditNote", n.name)
	require.Equal(t, "22.00", n.value("cac:LegalMonetaryTotal cbc:PayableAmount"), "what a credit note gives back is more than nothing")
}

// The checker itself: each break of the XML is found.
func TestRulesAreFoundBroken(t *testing.T) {
	t.Parallel()
	body, err := XML(sample())
	require.NoError(t, err)
	for _, c := range []struct{ old, new, rule string }{
		{"<cbc:ProfileID>" + processBilling + "</cbc:ProfileID>", "", "R001"},
		{"<cbc:PayableAmount currencyID=\"AUD\">195.01", "<cbc:PayableAmount currencyID=\"AUD\">196.01", "BR-CO-16"},
		{"<cbc:LineExtensionAmount currencyID=\"AUD\">10.01", "<cbc:LineExtensionAmount currencyID=\"AUD\">10.51", "BR-CO-10"},
		{"<cbc:PriceAmount currencyID=\"AUD\">4.004", "<cbc:PriceAmount currencyID=\"AUD\">4.104", "R120"},
		{"<cbc:TaxAmount currencyID=\"AUD\">17.73", "<cbc:TaxAmount currencyID=\"AUD\">37.73", "BR-CO-17"},
		{"<cbc:IssueDate>2026-03-02</cbc:IssueDate>", "", "BR-03"},
		{"currencyID=\"AUD\">187.28", "currencyID=\"NZD\">187.28", "R051"},
		{"<cbc:Percent>10</cbc:Percent>", "<cbc:Percent></cbc:Percent>", "R008"},
		{"schemeID=\"0151\">51824753556</cbc:EndpointID>", "schemeID=\"0151\"></cbc:EndpointID>", "R020"},
	} {
		require.Contains(t, string(body), c.old)
		require.Contains(t, broken(read(t, []byte(strings.ReplaceAll(string(body), c.old, c.new)))), c.rule)
	}
}

func TestRefusesWhatIsNoInvoice(t *testing.T) {
	t.Parallel()
	for name, edit := range map[string]func(*Doc){"no line": func(d *Doc) { d.Lines = nil }, "no seller": func(d *Doc) { d.Seller.Name = " " }, "no buyer": func(d *Doc) { d.Buyer.Name = "" }, "no quantity": func(d *Doc) { d.Lines[0].Quantity = decimal.Zero }} {
		d := sample()
		edit(&d)
		_, err := XML(d)
		require.Error(t, err, name)
	}
}

func TestAnyInvoiceKeepsTheRules(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(9, 2))
	for range 500 {
		d := sample()
		d.Lines = nil
		for i := range rnd.IntN(30) + 1 {
			l := Line{What: fmt.Sprintf("Line %d <&>", i), Quantity: decimal.New(rnd.Int64N(9000)+1, -int32(rnd.IntN(3))), NetMinor: rnd.Int64N(500000)}
			if rnd.IntN(5) == 0 {
				l.NetMinor = -l.NetMinor
			}
			if rnd.IntN(3) > 0 {
				l.TaxPct, l.TaxMinor = decimal.NewFromInt(10), decimal.NewFromInt(l.NetMinor).DivRound(decimal.NewFromInt(10), 0).IntPart()
			}
			d.Lines = append(d.Lines, l)
		}
		body, err := XML(d)
		require.NoError(t, err)
		require.Empty(t, broken(read(t, body)), string(body))
	}
}
