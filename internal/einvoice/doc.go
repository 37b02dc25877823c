// Package einvoice writes an issued invoice or adjustment note as an electronic invoice:
// UBL 2.1 XML (ISO/IEC 19845) that follows EN 16931-1 and, for a workshop with an
// Australian business number, the A-NZ extension of Peppol BIS Billing 3.0.
//
// It is a pure function of its Doc and sends nothing. Amounts are minor units; the XML
// carries decimals. Start reading at XML.
package einvoice
