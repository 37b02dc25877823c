package costing_test

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/costing"
	"kerfbook/internal/calc/printed"
)

func dec(t *testing.T, s string) decimal.Decimal {
	t.Helper()
	d, err := decimal.NewFromString(s)
	require.NoError(t, err)
	return d
}

func run(t *testing.T, topic, raw string) (string, error) {
	t.Helper()
	for _, tp := range costing.Topics() {
		if tp.Name == topic {
			out, err := tp.Run(context.Background(), []byte(raw))
			if err != nil {
				return "", err
			}
			text, err := json.Marshal(out)
			require.NoError(t, err)
			return string(text), nil
		}
	}
	t.Fatalf("no topic %s", topic)
	return "", nil
}

func TestCosting(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, in, want, source string }{
		{
			"margin on the rounded cost, overhead in it once",
			`{"lines":[{"id":"a","kind":"timber","quantity":3,"unit_cost":"1.115"}],"overhead_pct":10,"margin_pct":30,"tax_pct":10}`,
			`{"lines":[{"id":"a","kind":"timber","cost":"3.68","price_ex_tax":"5.26","tax_pct":10,"tax":"0.53","price":"5.79","margin_pct":30.038}],` +
				`"cost":"3.68","price_ex_tax":"5.26","tax":"0.53","price":"5.79","margin_pct":30.038,"markup_pct":42.9348}`,
			"by hand: 3 x 1.115 x 1.1 = 3.6795 -> 3.68 (rounding before the overhead gives 3.35 x 1.1 = 3.69); 3.68/0.7 = 5.2571; 0.526 -> 0.53; 1.58/5.26; 1.58/3.68",
		},
		{
			"a list price goes before the margin, a line's tax before the job's",
			`{"lines":[{"id":"a","kind":"colony","quantity":2,"unit_cost":"100","price":"175.25"},{"id":"b","kind":"delivery","quantity":1,"unit_cost":"20","price":"15","tax_pct":0}],"margin_pct":50,"tax_pct":10}`,
			`{"lines":[{"id":"a","kind":"colony","cost":"200.00","price_ex_tax":"350.50","tax_pct":10,"tax":"35.05","price":"385.55","margin_pct":42.9387},` +
				`{"id":"b","kind":"delivery","cost":"20.00","price_ex_tax":"15.00","tax_pct":0,"tax":"0.00","price":"15.00","margin_pct":-33.3333}],` +
				`"cost":"220.00","price_ex_tax":"365.50","tax":"35.05","price":"400.55","margin_pct":39.8085,"markup_pct":66.1364}`,
			"by hand: 150.5/350.5; -5/15; 145.5/365.5; 145.5/220",
		},
		{
			"the step acts on the price with tax; tax is an eleventh of that",
			`{"lines":[{"id":"a","kind":"goods","quantity":1,"unit_cost":"80","price":"101.59"}],"tax_pct":10,"round_to":"5"}`,
			`{"lines":[{"id":"a","kind":"goods","cost":"80.00","price_ex_tax":"100.00","tax_pct":10,"tax":"10.00","price":"110.00","margin_pct":20}],` +
				`"cost":"80.00","price_ex_tax":"100.00","tax":"10.00","price":"110.00","margin_pct":20,"markup_pct":25}`,
			"by hand: 101.59 + 10.16 = 111.75 -> 110; 110/11 = 10",
		},
		{
			"half a step goes up",
			`{"lines":[{"id":"a","kind":"goods","quantity":1,"unit_cost":"0","price":"2.50"}],"tax_pct":0,"round_to":5}`,
			`{"lines":[{"id":"a","kind":"goods","cost":"0.00","price_ex_tax":"5.00","tax_pct":0,"tax":"0.00","price":"5.00","margin_pct":100}],` +
				`"cost":"0.00","price_ex_tax":"5.00","tax":"0.00","price":"5.00","margin_pct":100,"markup_pct":null}`,
			"by hand: 2.50 lies half way between 0 and 5",
		},
		{
			"no list price and no margin: at cost",
			`{"lines":[{"id":"a","kind":"labour","quantity":0.35,"unit_cost":"45.50"}],"tax_pct":15}`,
			`{"lines":[{"id":"a","kind":"labour","cost":"15.93","price_ex_tax":"15.93","tax_pct":15,"tax":"2.39","price":"18.32","margin_pct":0}],` +
				`"cost":"15.93","price_ex_tax":"15.93","tax":"2.39","price":"18.32","margin_pct":0,"markup_pct":0}`,
			"by hand: 0.35 x 45.5 = 15.925 -> 15.93; 15 % = 2.3895",
		},
		{
			"nothing to cost",
			`{"lines":[],"tax_pct":10}`,
			`{"lines":[],"cost":"0.00","price_ex_tax":"0.00","tax":"0.00","price":"0.00","margin_pct":null,"markup_pct":null}`,
			"an empty job costs nothing and has no share of anything",
		},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got, err := run(t, "costing", tc.in)
			require.NoError(t, err)
			require.Equal(t, tc.want, got, tc.source)
		})
	}
}

// TestEInvoiceLines compares a line's price with the nets printed in published
// example invoices (source: testdata/einvoice_lines.csv, which names each file).
func TestEInvoiceLines(t *testing.T) {
	t.Parallel()
	used := 0
	for _, r := range printed.Rows(t, "einvoice_lines.csv") {
		quantity, price, base, extra, rate, net, check := r[3], r[4], r[5], r[6], r[7], r[8], r[9]
		if check != "ok" || extra != "" || (base != "" && !dec(t, base).Equal(dec(t, "1"))) ||
			strings.HasPrefix(quantity+price, "-") || strings.HasPrefix(price, "-") || rate == "" {
			continue // lines with allowances, credits and per-hundred prices are no cost lines
		}
		listed := costing.NewAmount(dec(t, price))
		out, err := costing.Costing(context.Background(), costing.CostingIn{
			TaxPct: costing.NewNumber(dec(t, rate)),
			Lines: []costing.Line{{ID: "1", Kind: "goods", Quantity: costing.NewNumber(dec(t, quantity)),
				UnitCost: costing.Minor(0), Price: &listed}},
		})
		require.NoError(t, err, r)
		require.True(t, dec(t, net).Equal(out.PriceExTax.Decimal), "%v gives %s", r, out.PriceExTax)
		used++
	}
	require.Greater(t, used, 60)
}

// TestCashRounding: source testdata/cash_rounding.csv, totals to five cents.
func TestCashRounding(t *testing.T) {
	t.Parallel()
	for _, r := range printed.Rows(t, "cash_rounding.csv") {
		got := costing.RoundTo(dec(t, r[0]), dec(t, "0.05"))
		require.Equal(t, r[1], got.StringFixed(2), r[0])
	}
}

func TestCostingRefuses(t *testing.T) {
	t.Parallel()
	line := func(more string) string {
		return `{"tax_pct":10,"lines":[{"id":"a","kind":"timber",` + more + `}]}`
	}
	tests := []struct{ name, in, pointer string }{
		{"quantity below zero", line(`"quantity":-1,"unit_cost":"1"`), "/lines/0/quantity"},
		{"quantity in quotes", line(`"quantity":"1","unit_cost":"1"`), "/lines/0/quantity"},
		{"quantity absurd", line(`"quantity":1e999999,"unit_cost":"1"`), "/lines/0/quantity"},
		{"quantity too small to be meant", line(`"quantity":1e-999999,"unit_cost":"1"`), "/lines/0/quantity"},
		{"cost below zero", line(`"quantity":1,"unit_cost":"-1"`), "/lines/0/unit_cost"},
		{"cost absurd", line(`"quantity":1,"unit_cost":"1e999999"`), "/lines/0/unit_cost"},
		{"cost NaN", line(`"quantity":1,"unit_cost":"NaN"`), "/lines/0/unit_cost"},
		{"cost infinite", line(`"quantity":1,"unit_cost":"Infinity"`), "/lines/0/unit_cost"},
		{"cost empty", line(`"quantity":1,"unit_cost":""`), "/lines/0/unit_cost"},
		{"cost with a comma", line(`"quantity":1,"unit_cost":"1,50"`), "/lines/0/unit_cost"},
		{"cost too fine", line(`"quantity":1,"unit_cost":"0.1234567"`), "/lines/0/unit_cost"},
		{"cost a bare number", line(`"quantity":1,"unit_cost":1.5`), "/lines/0/unit_cost"},
		{"cost left out", line(`"quantity":1`), "/lines/0/unit_cost"},
		{"price below zero", line(`"quantity":1,"unit_cost":"1","price":"-2"`), "/lines/0/price"},
		{"tax over a hundred", line(`"quantity":1,"unit_cost":"1","tax_pct":101`), "/lines/0/tax_pct"},
		{"unknown field in a line", line(`"quantity":1,"unit_cost":"1","colour":"red"`), "/colour"},
		{"unknown kind", `{"tax_pct":10,"lines":[{"id":"a","kind":"tea","quantity":1,"unit_cost":"1"}]}`, "/lines/0/kind"},
		{"id twice", `{"tax_pct":10,"lines":[{"id":"a","kind":"timber","quantity":1,"unit_cost":"1"},{"id":"a","kind":"timber","quantity":1,"unit_cost":"1"}]}`, "/lines/1/id"},
		{"tax left out", `{"lines":[]}`, "/tax_pct"},
		{"margin of all", `{"lines":[],"tax_pct":10,"margin_pct":100}`, "/margin_pct"},
		{"overhead below zero", `{"lines":[],"tax_pct":10,"overhead_pct":-1}`, "/overhead_pct"},
		{"step of nothing", `{"lines":[],"tax_pct":10,"round_to":"0"}`, "/round_to"},
		{"step below zero", `{"lines":[],"tax_pct":10,"round_to":-5}`, "/round_to"},
		{"step finer than a cent", `{"lines":[],"tax_pct":10,"round_to":"0.025"}`, "/round_to"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			_, err := run(t, "costing", tc.in)
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tc.pointer, bad.Fields[0].Pointer)
		})
	}
}
