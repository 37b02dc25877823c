package einvoice

import "encoding/xml"

// The elements of UBL 2.1 that are written, in the order its schema asks for; business
// terms of EN 16931-1 beside them.

type document struct {
	XMLName       xml.Name
	Space         string        `xml:"xmlns,attr"`
	Aggregate     string        `xml:"xmlns:cac,attr"`
	Basic         string        `xml:"xmlns:cbc,attr"`
	Specification string        `xml:"cbc:CustomizationID"`           // BT-24
	Process       string        `xml:"cbc:ProfileID"`                 // BT-23
	ID            string        `xml:"cbc:ID"`                        // BT-1
	IssueDate     string        `xml:"cbc:IssueDate"`                 // BT-2
	DueDate       string        `xml:"cbc:DueDate,omitempty"`         // BT-9; an invoice only
	InvoiceCode   string        `xml:"cbc:InvoiceTypeCode,omitempty"` // BT-3
	CreditCode    string        `xml:"cbc:CreditNoteTypeCode,omitempty"`
	Note          string        `xml:"cbc:Note,omitempty"`       // BT-22
	Currency      string        `xml:"cbc:DocumentCurrencyCode"` // BT-5
	Order         idOnly        `xml:"cac:OrderReference"`       // BT-13
	Billing       *reference    `xml:"cac:BillingReference"`     // BG-3
	Seller        side          `xml:"cac:AccountingSupplierParty"`
	Buyer         side          `xml:"cac:AccountingCustomerParty"`
	Delivery      *delivery     `xml:"cac:Delivery"` // BT-72
	Means         means         `xml:"cac:PaymentMeans"`
	Terms         *terms        `xml:"cac:PaymentTerms"` // BT-20
	Tax           taxTotal      `xml:"cac:TaxTotal"`
	Total         total         `xml:"cac:LegalMonetaryTotal"`
	InvoiceLines  []invoiceLine `xml:"cac:InvoiceLine"`
	CreditLines   []creditLine  `xml:"cac:CreditNoteLine"`
}

type idOnly struct {
	ID string `xml:"cbc:ID"`
}

type nameOnly struct {
	Name string `xml:"cbc:Name"`
}

type reference struct {
	Document *idOnly `xml:"cac:InvoiceDocumentReference"`
}

type side struct {
	Party party `xml:"cac:Party"`
}

type party struct {
	Endpoint *scheme   `xml:"cbc:EndpointID"` // BT-34, BT-49
	Name     nameOnly  `xml:"cac:PartyName"`
	Address  address   `xml:"cac:PostalAddress"`
	Tax      *partyTax `xml:"cac:PartyTaxScheme"` // BT-31, BT-48
	Legal    legal     `xml:"cac:PartyLegalEntity"`
	Contact  *contact  `xml:"cac:Contact"`
}

type scheme struct {
	ID    string `xml:"schemeID,attr"`
	Value string `xml:",chardata"`
}

type address struct {
	Street   string  `xml:"cbc:StreetName,omitempty"`
	Town     string  `xml:"cbc:CityName,omitempty"`
	Postcode string  `xml:"cbc:PostalZone,omitempty"`
	Region   string  `xml:"cbc:CountrySubentity,omitempty"`
	Country  country `xml:"cac:Country"`
}

type country struct {
	Code string `xml:"cbc:IdentificationCode"` // BT-40, BT-55
}

type partyTax struct {
	ID     string `xml:"cbc:CompanyID"`
	Scheme idOnly `xml:"cac:TaxScheme"`
}

type legal struct {
	Name   string  `xml:"cbc:RegistrationName"` // BT-27, BT-44
	Number *scheme `xml:"cbc:CompanyID"`        // BT-30, BT-47
}

type contact struct {
	Phone string `xml:"cbc:Telephone,omitempty"`
	Email string `xml:"cbc:ElectronicMail,omitempty"`
}

type delivery struct {
	On string `xml:"cbc:ActualDeliveryDate"`
}

type means struct {
	Code string `xml:"cbc:PaymentMeansCode"` // BT-81
}

type terms struct {
	Note string `xml:"cbc:Note"`
}

type amount struct {
	Currency string `xml:"currencyID,attr"`
	Value    string `xml:",chardata"`
}

type taxTotal struct {
	Amount amount     `xml:"cbc:TaxAmount"` // BT-110
	Groups []taxGroup `xml:"cac:TaxSubtotal"`
}

type taxGroup struct {
	Taxable  amount   `xml:"cbc:TaxableAmount"` // BT-116
	Amount   amount   `xml:"cbc:TaxAmount"`     // BT-117
	Category category `xml:"cac:TaxCategory"`
}

type category struct {
	ID     string  `xml:"cbc:ID"` // BT-118, BT-151
	Pct    *string `xml:"cbc:Percent"`
	Reason string  `xml:"cbc:TaxExemptionReason,omitempty"` // BT-120
	Scheme idOnly  `xml:"cac:TaxScheme"`
}

type total struct {
	Lines     amount  `xml:"cbc:LineExtensionAmount"` // BT-106
	Exclusive amount  `xml:"cbc:TaxExclusiveAmount"`  // BT-109
	Inclusive amount  `xml:"cbc:TaxInclusiveAmount"`  // BT-112
	Prepaid   *amount `xml:"cbc:PrepaidAmount"`       // BT-113
	Payable   amount  `xml:"cbc:PayableAmount"`       // BT-115
}

type invoiceLine struct {
	ID       int         `xml:"cbc:ID"`               // BT-126
	Invoiced *quantityOf `xml:"cbc:InvoicedQuantity"` // BT-129
	Credited *quantityOf `xml:"cbc:CreditedQuantity"`
	Net      amount      `xml:"cbc:LineExtensionAmount"` // BT-131
	Item     item        `xml:"cac:Item"`
	Price    unitPrice   `xml:"cac:Price"`
}

type creditLine invoiceLine

type quantityOf struct {
	Unit  string `xml:"unitCode,attr"` // BT-130
	Value string `xml:",chardata"`
}

type item struct {
	Name     string   `xml:"cbc:Name"` // BT-153
	Category category `xml:"cac:ClassifiedTaxCategory"`
}

type unitPrice struct {
	Amount amount `xml:"cbc:PriceAmount"` // BT-146
}
