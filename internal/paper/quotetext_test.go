package paper

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestQuoteText(t *testing.T) {
	t.Parallel()
	got := QuoteText(testQuote())
	require.True(t, strings.HasPrefix(got, "Quote Q-0042, Three Gullies Box Works\nTwo hive boxes"))
	for _, want := range []string{"A: Box with one honey section, painted\n- 2 × Hive box, 35 mm hoop pine, one honey section: $620.00\n", "Total to pay: $1,200.00\n",
		"Both boxes: Fri 17 April 2026\n", "Deposit: $240.00 (20 %)\n", "\nB: The same", "Valid until Thu 26 March 2026\n", "Ines Harrowgate, 0491 570 156\n"} {
		require.Contains(t, got, want)
	}
	require.NotContains(t, got, "No GST is charged")
	require.Equal(t, "Quote\n", QuoteText(QuoteDoc{}))
	one := testQuote()
	one.Alternatives = one.Alternatives[:1]
	one.Alternatives[0].NoTax = true
	require.Contains(t, QuoteText(one), "\nBox with one honey section, painted\n")
	require.Contains(t, QuoteText(one), "No GST is charged.\n")
}

func TestQuoteWithoutTax(t *testing.T) {
	t.Parallel()
	d := testQuote()
	d.Workshop.TaxRegistered = false
	d.Alternatives = d.Alternatives[1:]
	d.Alternatives[0].NoTax = true
	for i := range d.Alternatives[0].Lines {
		d.Alternatives[0].Lines[i].Tax = ""
	}
	d.Alternatives[0].Totals = d.Alternatives[0].Totals[2:]
	d.Revision, d.Replaces, d.ConfirmAtAcceptance = 1, "", true
	pdf, err := Quote(d)
	require.NoError(t, err)
	text := strings.Join(pages(t, pdf), " ")
	require.Contains(t, text, "No GST is charged: the workshop is not registered for it.")
	require.Contains(t, text, "Dates are confirmed at acceptance")
	require.NotContains(t, text, "GST 10 %")
	require.NotContains(t, text, "revision 1")
	require.NotContains(t, text, "B. The same", "one offer needs no letter")
	requireTidy(t, pdf)
}
