package costing

import (
	"bytes"
	"encoding/json"
	"strings"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/contract"
)

const (
	minorPlaces = 2  // decimals of the minor unit
	mostPlaces  = 6  // decimals of an amount each, a quantity or a percentage
	mostDigits  = 15 // digits before the decimal point
)

// mostAmount bounds every amount and quantity, so that no product of them grows absurd.
var mostAmount = decimal.New(1, 12)

var hundred = decimal.New(100, 0)

// Amount is money. In JSON it is a string such as "12.50", with up to six decimals
// going in and two coming out. Text that is no amount is kept as a fault and
// refused, with its field, by the calculation that reads it.
type Amount struct {
	decimal.Decimal
	fault string
}

// NewAmount gives d as money.
func NewAmount(d decimal.Decimal) Amount { return Amount{Decimal: d} }

// Minor gives n minor units (cents) as money.
func Minor(n int64) Amount { return Amount{Decimal: decimal.New(n, -minorPlaces)} }

// MinorUnits gives the amount in minor units (cents), halves away from zero.
func (a Amount) MinorUnits() int64 {
	return a.Round(minorPlaces).Shift(minorPlaces).IntPart()
}

// ParseAmount reads digits with an optional minus sign and up to six decimals.
// Exponents, separators, currency signs and blanks are refused.
func ParseAmount(s string) (Amount, error) {
	d, fault := plainDecimal(s)
	if fault != "" {
		return Amount{}, contract.Bad("", "%s", fault)
	}
	return Amount{Decimal: d}, nil
}

// UnmarshalJSON reads a JSON string.
func (a *Amount) UnmarshalJSON(raw []byte) error {
	var s string
	if json.Unmarshal(raw, &s) != nil {
		*a = Amount{fault: `must be an amount in quotes, such as "12.50"`}
		return nil
	}
	a.Decimal, a.fault = plainDecimal(s)
	return nil
}

// MarshalJSON writes the amount with two decimals, halves away from zero.
func (a Amount) MarshalJSON() ([]byte, error) {
	return []byte(`"` + a.StringFixed(minorPlaces) + `"`), nil
}

// plainDecimal reads s, or says what is wrong with it.
func plainDecimal(s string) (decimal.Decimal, string) {
	whole, places, dot := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	switch {
	case !digits(whole), dot && !digits(places):
		return decimal.Zero, `must be an amount of digits with at most one point, such as "12.50"`
	case len(whole) > mostDigits:
		return decimal.Zero, "is too large"
	case len(places) > mostPlaces:
		return decimal.Zero, "has more than six decimals"
	}
	d, err := decimal.NewFromString(s)
	if err != nil {
		return decimal.Zero, `must be an amount, such as "12.50"`
	}
	return d, ""
}

func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// Step is an Amount which may also be written in JSON as a number: it is read
// digit by digit, so 0.05 stays what it says.
type Step struct{ Amount }

// UnmarshalJSON reads a JSON string or number.
func (s *Step) UnmarshalJSON(raw []byte) error {
	if len(raw) > 0 && raw[0] != '"' {
		s.Decimal, s.fault = plainDecimal(string(raw))
		return nil
	}
	return s.Amount.UnmarshalJSON(raw)
}

// Number is a quantity or a percentage: a JSON number, kept digit by digit.
type Number struct {
	decimal.Decimal
	fault string
}

// NewNumber gives d as a Number.
func NewNumber(d decimal.Decimal) Number { return Number{Decimal: d} }

// Whole gives n as a Number.
func Whole(n int64) Number { return Number{Decimal: decimal.New(n, 0)} }

// UnmarshalJSON reads a JSON number. Six decimals are kept; anything finer is rounded.
func (n *Number) UnmarshalJSON(raw []byte) error {
	*n = Number{fault: "must be a number"}
	if bytes.ContainsAny(raw, `"{[tfn`) || len(raw) > 64 {
		return nil
	}
	d, err := decimal.NewFromString(string(raw))
	if err != nil || d.Exponent() < -60 || d.Exponent() > mostDigits {
		n.fault = "must be a number of a sensible size"
		return nil
	}
	*n = Number{Decimal: d.Round(mostPlaces)}
	return nil
}

// MarshalJSON writes a JSON number.
func (n Number) MarshalJSON() ([]byte, error) { return []byte(n.String()), nil }

// checks gathers wrong amounts and numbers.
type checks struct{ contract.Checks }

func (c *checks) amount(pointer string, a Amount) {
	c.within(pointer, a.Decimal, a.fault, decimal.Zero, mostAmount)
}

func (c *checks) number(pointer string, n Number, low, high decimal.Decimal) {
	c.within(pointer, n.Decimal, n.fault, low, high)
}

func (c *checks) percent(pointer string, n Number) {
	c.number(pointer, n, decimal.Zero, hundred)
}

func (c *checks) within(pointer string, d decimal.Decimal, fault string, low, high decimal.Decimal) {
	switch {
	case fault != "":
		c.Add(pointer, "%s", fault)
	case d.LessThan(low) || d.GreaterThan(high):
		c.Add(pointer, "must lie between %s and %s", low, high)
	}
}
