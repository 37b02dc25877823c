package costing_test

import (
	"context"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/costing"
)

// FuzzCosting holds the laws of a costing over whatever input is taken: net and
// tax make the price, totals are sums, a step divides every price.
func FuzzCosting(f *testing.F) {
	for _, tp := range costing.Topics() {
		f.Add([]byte(tp.Example))
	}
	f.Add([]byte(`{"tax_pct":10,"margin_pct":33.3,"round_to":"0.05","lines":[{"id":"a","kind":"timber","quantity":3e2,"unit_cost":"0.004999"}]}`))
	f.Add([]byte(`{"tax_pct":1e-5,"lines":[{"id":"","kind":"","quantity":null,"unit_cost":"-0"}]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var in costing.CostingIn
		if contract.Decode(raw, &in) != nil {
			return
		}
		out, err := costing.Costing(context.Background(), in)
		if err != nil {
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			return
		}
		var cost, net, tax, price decimal.Decimal
		for _, l := range out.Lines {
			require.True(t, l.PriceExTax.Add(l.Tax.Decimal).Equal(l.Price.Decimal))
			require.True(t, l.Price.Equal(l.Price.Round(2)))
			if in.RoundTo != nil {
				require.True(t, l.Price.Mod(in.RoundTo.Decimal).IsZero())
			}
			cost, net = cost.Add(l.Cost.Decimal), net.Add(l.PriceExTax.Decimal)
			tax, price = tax.Add(l.Tax.Decimal), price.Add(l.Price.Decimal)
		}
		require.True(t, cost.Equal(out.Cost.Decimal))
		require.True(t, net.Equal(out.PriceExTax.Decimal))
		require.True(t, tax.Equal(out.Tax.Decimal))
		require.True(t, price.Equal(out.Price.Decimal))
	})
}

// FuzzTax: net + tax = gross, a credit mirrors a charge, and amounts print and
// read back alike.
func FuzzTax(f *testing.F) {
	f.Add("10.05", int64(1000), true)
	f.Add("-0.01", int64(0), false)
	f.Add("1e5", int64(888), true)
	f.Fuzz(func(t *testing.T, text string, basisPoints int64, includes bool) {
		a, err := costing.ParseAmount(text)
		if err != nil {
			return
		}
		rate := costing.NewNumber(decimal.New(basisPoints, -2))
		got, err := costing.Tax(context.Background(), costing.TaxIn{Amount: a, TaxPct: rate, IncludesTax: includes})
		if err != nil {
			return
		}
		require.True(t, got.Net.Add(got.Tax.Decimal).Equal(got.Gross.Decimal))
		back, err := costing.Tax(context.Background(), costing.TaxIn{Amount: costing.NewAmount(a.Neg()), TaxPct: rate, IncludesTax: includes})
		require.NoError(t, err)
		require.True(t, back.Tax.Neg().Equal(got.Tax.Decimal))
		again, err := costing.ParseAmount(got.Gross.StringFixed(2))
		require.NoError(t, err)
		require.True(t, again.Equal(got.Gross.Decimal))
		require.Equal(t, got.Gross.MinorUnits(), got.Net.MinorUnits()+got.Tax.MinorUnits())
	})
}
