package costing

import (
	"context"

	"github.com/shopspring/decimal"
)

// TaxIn is an amount to be split into net and tax. A credit has a minus sign.
type TaxIn struct {
	Amount      Amount `json:"amount" need:"yes"`
	TaxPct      Number `json:"tax_pct" need:"yes"` // 0 when unregistered
	IncludesTax bool   `json:"includes_tax" need:"yes"`
}

// Split is an amount without tax, the tax on it, and both together.
type Split struct {
	Net   Amount `json:"net"`
	Tax   Amount `json:"tax"`
	Gross Amount `json:"gross"`
}

// Tax splits one amount. The amount lies between -1e12 and 1e12, the rate between
// 0 and 100 %; anything else is an error.
func Tax(_ context.Context, in TaxIn) (Split, error) {
	var c checks
	c.within("/amount", in.Amount.Decimal, in.Amount.fault, mostAmount.Neg(), mostAmount)
	c.percent("/tax_pct", in.TaxPct)
	if err := c.Err(); err != nil {
		return Split{}, err
	}
	return SplitTax(in.Amount.Decimal, in.TaxPct.Decimal, in.IncludesTax), nil
}

// SplitTax gives net, tax and gross of an amount at a rate of ratePct percent of
// the net. The amount is first rounded to the minor unit, then the tax on it,
// halves away from zero; net + tax = gross always. At 10 % the tax in a gross
// amount is one eleventh of it. Source: A New Tax System (Goods and Services Tax)
// Act 1999 ss 9-70, 9-90.
func SplitTax(amount, ratePct decimal.Decimal, includesTax bool) Split {
	amount = amount.Round(minorPlaces)
	if includesTax {
		tax := amount.Mul(ratePct).DivRound(hundred.Add(ratePct), minorPlaces)
		return Split{Net: NewAmount(amount.Sub(tax)), Tax: NewAmount(tax), Gross: NewAmount(amount)}
	}
	tax := amount.Mul(ratePct).Shift(-2).Round(minorPlaces)
	return Split{Net: NewAmount(amount), Tax: NewAmount(tax), Gross: NewAmount(amount.Add(tax))}
}
