package cutting

import (
	"encoding/json"
	"fmt"

	"github.com/shopspring/decimal"
)

// Cost is an amount of money, written as a decimal string.
type Cost struct {
	decimal.Decimal
	fault string // what was typed is no amount
}

// NewCost gives d as a Cost.
func NewCost(d decimal.Decimal) *Cost { return &Cost{Decimal: d} }

const (
	minorPlaces  = 2  // an amount is written with at least so many decimals
	maxCostBytes = 80 // no amount needs more
)

// UnmarshalJSON reads "12.50". What is no amount is refused later, by Plan, which
// knows where it stood.
func (c *Cost) UnmarshalJSON(raw []byte) error {
	*c = Cost{fault: `must be an amount in quotes, such as "12.50"`}
	var text string
	if len(raw) > maxCostBytes || json.Unmarshal(raw, &text) != nil {
		return nil
	}
	if d, err := decimal.NewFromString(text); err == nil {
		*c = Cost{Decimal: d}
	}
	return nil
}

// MarshalJSON writes "12.50", and more decimals where there are more.
func (c Cost) MarshalJSON() ([]byte, error) { return []byte(`"` + amountText(c.Decimal) + `"`), nil }

func amountText(d decimal.Decimal) string {
	if d.Equal(d.Truncate(minorPlaces)) {
		return d.StringFixed(minorPlaces)
	}
	return d.String()
}

// Bound is a number that is written as a decimal string when it is a cost and as
// a number when it is mm or boards.
type Bound struct {
	decimal.Decimal
	money bool
}

// MarshalJSON writes "12.50" for a cost, 12.5 otherwise.
func (b Bound) MarshalJSON() ([]byte, error) {
	if b.money {
		return Cost{Decimal: b.Decimal}.MarshalJSON()
	}
	return []byte(b.Decimal.String()), nil
}

// UnmarshalJSON reads either form.
func (b *Bound) UnmarshalJSON(raw []byte) error {
	b.money = len(raw) > 0 && raw[0] == '"'
	if err := b.Decimal.UnmarshalJSON(raw); err != nil {
		return fmt.Errorf("read bound: %w", err)
	}
	return nil
}
