package paper

import "strings"

// QuoteText gives a quote as a short text to copy into a message: what is
// offered, price, dates, deposit and until when. Nothing stands in it that does
// not stand on the paper.
func QuoteText(d QuoteDoc) string {
	var b strings.Builder
	line := func(s string) {
		if s != "" {
			b.WriteString(s + "\n")
		}
	}
	line(join(", ", strings.TrimSpace("Quote "+d.Number), d.Workshop.Name))
	line(d.Subject)
	for _, a := range d.Alternatives {
		b.WriteString("\n")
		if len(d.Alternatives) > 1 && a.Letter != "" {
			line(a.Letter + ": " + a.Title)
		} else {
			line(a.Title)
		}
		for _, l := range a.Lines {
			line("- " + join(" × ", l.Quantity, l.What) + prefixed(": ", l.Amount))
		}
		for _, t := range a.Totals {
			if t.Strong {
				line(t.Label + ": " + t.Amount)
			}
		}
		if a.NoTax {
			line("No " + d.Workshop.taxName() + " is charged.")
		}
		for _, p := range a.Promised {
			line(p.What + ": " + p.When)
		}
		line(prefixed("Deposit: ", a.Deposit))
	}
	b.WriteString("\n")
	line(prefixed("Valid until ", d.ValidUntil))
	if d.ConfirmAtAcceptance {
		line("Dates are confirmed at acceptance.")
	}
	line(join(", ", d.Workshop.Owner, d.Workshop.Phone))
	return strings.TrimSpace(b.String()) + "\n"
}
