package costing_test

import (
	"context"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/costing"
	"kerfbook/internal/calc/printed"
)

func TestTax(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, in, want, source string }{
		{"half a cent goes away from zero", `{"amount":"10.05","tax_pct":10,"includes_tax":false}`, `{"net":"10.05","tax":"1.01","gross":"11.06"}`, "by hand: 1.005"},
		{"a credit mirrors it", `{"amount":"-10.05","tax_pct":10,"includes_tax":false}`, `{"net":"-10.05","tax":"-1.01","gross":"-11.06"}`, "by hand: -1.005"},
		{"a half that binary numbers miss", `{"amount":"26.75","tax_pct":10,"includes_tax":false}`, `{"net":"26.75","tax":"2.68","gross":"29.43"}`, "by hand: 2.675"},
		{"unregistered", `{"amount":"99.99","tax_pct":0,"includes_tax":true}`, `{"net":"99.99","tax":"0.00","gross":"99.99"}`, "no tax at 0 %"},
		{"three twenty-thirds at 15 %", `{"amount":"230.00","tax_pct":15,"includes_tax":true}`, `{"net":"200.00","tax":"30.00","gross":"230.00"}`, "New Zealand GST: 230 x 3/23"},
		{"a broken rate", `{"amount":"100.00","tax_pct":8.875,"includes_tax":false}`, `{"net":"100.00","tax":"8.88","gross":"108.88"}`, "by hand: 8.875"},
		{"the amount itself is brought to cents first", `{"amount":"1.005","tax_pct":10,"includes_tax":false}`, `{"net":"1.01","tax":"0.10","gross":"1.11"}`, "by hand"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got, err := run(t, "tax", tc.in)
			require.NoError(t, err)
			require.Equal(t, tc.want, got, tc.source)
		})
	}
}

// TestGSTInclusive: source testdata/gst_inclusive.csv (GST Act 1999 ss 9-70, 9-90).
func TestGSTInclusive(t *testing.T) {
	t.Parallel()
	for _, r := range printed.Rows(t, "gst_inclusive.csv") {
		got := costing.SplitTax(dec(t, r[0]), dec(t, "10"), true)
		require.Equal(t, []string{r[1], r[2]}, []string{got.Tax.StringFixed(2), got.Net.StringFixed(2)}, r[0])
	}
}

// TestTaxOnceALine: source testdata/gst_rounding_rules.csv, the rule of s 9-90(2)(b)
// with two decimals, which is the one this package states.
func TestTaxOnceALine(t *testing.T) {
	t.Parallel()
	for _, r := range printed.Rows(t, "gst_rounding_rules.csv") {
		var total, tax decimal.Decimal
		for _, price := range strings.Fields(r[0]) {
			s := costing.SplitTax(dec(t, price), dec(t, "10"), true)
			total, tax = total.Add(s.Gross.Decimal), tax.Add(s.Tax.Decimal)
		}
		require.Equal(t, []string{r[1], r[3]}, []string{total.StringFixed(2), tax.StringFixed(2)}, r[0])
	}
}

func TestTaxRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct{ in, pointer string }{
		{`{"amount":"1e9","tax_pct":10,"includes_tax":true}`, "/amount"},
		{`{"amount":"NaN","tax_pct":10,"includes_tax":true}`, "/amount"},
		{`{"amount":"9999999999999999","tax_pct":10,"includes_tax":true}`, "/amount"},
		{`{"amount":"9999999999999","tax_pct":10,"includes_tax":true}`, "/amount"},
		{`{"amount":"--1","tax_pct":10,"includes_tax":true}`, "/amount"},
		{`{"amount":"1.","tax_pct":10,"includes_tax":true}`, "/amount"},
		{`{"amount":"1","tax_pct":-10,"includes_tax":true}`, "/tax_pct"},
		{`{"amount":"1","tax_pct":1e400,"includes_tax":true}`, "/tax_pct"},
		{`{"amount":"1","tax_pct":10}`, "/includes_tax"},
		{`{"amount":"1","tax_pct":10,"includes_tax":"yes"}`, "/includes_tax"},
	}
	for _, tc := range tests {
		_, err := run(t, "tax", tc.in)
		var bad *contract.Error
		require.ErrorAs(t, err, &bad, tc.in)
		require.Equal(t, tc.pointer, bad.Fields[0].Pointer, tc.in)
	}
}

// TestBusinessNumber: source testdata/abn.csv, a note on each row.
func TestBusinessNumber(t *testing.T) {
	t.Parallel()
	for _, r := range printed.Rows(t, "abn.csv") {
		out, err := costing.BusinessNumber(context.Background(), costing.BusinessNumberIn{ABN: r[0]})
		require.NoError(t, err)
		require.Equal(t, r[1] == "valid", out.Valid, r)
		require.Equal(t, out.Valid, out.Reason == "", r)
	}
}

func TestBusinessNumberAsTyped(t *testing.T) {
	t.Parallel()
	tests := []struct {
		typed string
		want  costing.BusinessNumberOut
	}{
		{" 53 004 085 616 ", costing.BusinessNumberOut{Valid: true, Written: "53 004 085 616", Company: "004 085 616"}}, // source: testdata/abn.csv
		{"5300408561x", costing.BusinessNumberOut{Reason: "an ABN has digits and blanks only"}},
		{"", costing.BusinessNumberOut{Reason: "an ABN has digits and blanks only"}},
		{"53004085", costing.BusinessNumberOut{Reason: "an ABN has eleven digits"}},
		{"04004085616", costing.BusinessNumberOut{Reason: "an ABN does not begin with 0"}},
	}
	for _, tc := range tests {
		out, err := costing.BusinessNumber(context.Background(), costing.BusinessNumberIn{ABN: tc.typed})
		require.NoError(t, err)
		require.Equal(t, tc.want, out)
	}
	_, err := costing.BusinessNumber(context.Background(), costing.BusinessNumberIn{ABN: strings.Repeat("1", 101)})
	require.Error(t, err)
}

// TestCompanyNumber: source testdata/acn.csv.
func TestCompanyNumber(t *testing.T) {
	t.Parallel()
	for _, r := range printed.Rows(t, "acn.csv") {
		require.Equal(t, r[1] == "valid", costing.CompanyNumberValid(r[0]), r)
	}
	require.False(t, costing.CompanyNumberValid("00408561"))
}
