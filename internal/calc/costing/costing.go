package costing

import (
	"context"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"
)

// Kinds are the kinds of a cost line.
var Kinds = []string{"timber", "labour", "fittings", "finish", "colony", "delivery", "goods"}

const (
	mostLines = 5000
	mostID    = 200 // characters of an id
)

// Line is one thing that a job takes.
type Line struct {
	ID       string  `json:"id" need:"yes"`
	Kind     string  `json:"kind" need:"yes"`
	Quantity Number  `json:"quantity" need:"yes"`
	UnitCost Amount  `json:"unit_cost" need:"yes"`
	Price    *Amount `json:"price,omitempty"`   // list price each, without tax
	TaxPct   *Number `json:"tax_pct,omitempty"` // in place of the job's
}

// CostingIn is a job to be costed.
type CostingIn struct {
	Lines       []Line  `json:"lines" need:"yes"`
	OverheadPct Number  `json:"overhead_pct"`         // raises each line's cost
	MarginPct   *Number `json:"margin_pct,omitempty"` // of the price without tax, where no list price stands; left out: sold at cost
	TaxPct      Number  `json:"tax_pct" need:"yes"`   // 0 when unregistered
	RoundTo     *Step   `json:"round_to,omitempty"`   // step of each line's price with tax
}

// CostedLine is a line with what it costs and what the buyer pays.
type CostedLine struct {
	ID         string  `json:"id"`
	Kind       string  `json:"kind"`
	Cost       Amount  `json:"cost"` // with overhead
	PriceExTax Amount  `json:"price_ex_tax"`
	TaxPct     Number  `json:"tax_pct"`
	Tax        Amount  `json:"tax"`
	Price      Amount  `json:"price"`
	MarginPct  *Number `json:"margin_pct"` // null where nothing is charged
}

// CostingOut holds the costed lines and their sums.
type CostingOut struct {
	Lines      []CostedLine `json:"lines"`
	Cost       Amount       `json:"cost"`
	PriceExTax Amount       `json:"price_ex_tax"`
	Tax        Amount       `json:"tax"`
	Price      Amount       `json:"price"`
	MarginPct  *Number      `json:"margin_pct"` // of the price without tax; null where nothing is charged
	MarkupPct  *Number      `json:"markup_pct"` // of the cost; null where nothing is spent
}

// Costing gives cost, price and tax of every line and of the job. The formulas,
// and what the rounding step acts on, stand at the head of the package.
//
// Quantities and amounts lie between 0 and 1e12, overhead between 0 and 1000 %,
// margin between 0 and 99.99 %, tax between 0 and 100 %; a step is at least one
// minor unit. Anything else, an unknown kind or an id used twice is an error.
func Costing(_ context.Context, in CostingIn) (CostingOut, error) {
	if err := in.check(); err != nil {
		return CostingOut{}, err
	}
	out := CostingOut{Lines: make([]CostedLine, 0, len(in.Lines))}
	for _, l := range in.Lines {
		line := in.costed(l)
		out.Lines = append(out.Lines, line)
		out.Cost.Decimal = out.Cost.Add(line.Cost.Decimal)
		out.PriceExTax.Decimal = out.PriceExTax.Add(line.PriceExTax.Decimal)
		out.Tax.Decimal = out.Tax.Add(line.Tax.Decimal)
		out.Price.Decimal = out.Price.Add(line.Price.Decimal)
	}
	left := out.PriceExTax.Sub(out.Cost.Decimal)
	out.MarginPct = shareOf(left, out.PriceExTax.Decimal)
	out.MarkupPct = shareOf(left, out.Cost.Decimal)
	return out, nil
}

func (in CostingIn) costed(l Line) CostedLine {
	rate := in.TaxPct
	if l.TaxPct != nil {
		rate = *l.TaxPct
	}
	cost := l.Quantity.Mul(l.UnitCost.Decimal).Mul(hundred.Add(in.OverheadPct.Decimal)).Shift(-2).Round(minorPlaces)
	net := in.priced(l, cost)
	split := SplitTax(net, rate.Decimal, false)
	if in.RoundTo != nil {
		split = SplitTax(RoundTo(split.Gross.Decimal, in.RoundTo.Decimal), rate.Decimal, true)
	}
	return CostedLine{
		ID: l.ID, Kind: l.Kind, Cost: NewAmount(cost), TaxPct: rate,
		PriceExTax: split.Net, Tax: split.Tax, Price: split.Gross,
		MarginPct: shareOf(split.Net.Sub(cost), split.Net.Decimal),
	}
}

// priced gives a line's price without tax, before any rounding step.
func (in CostingIn) priced(l Line, cost decimal.Decimal) decimal.Decimal {
	switch {
	case l.Price != nil:
		return l.Quantity.Mul(l.Price.Decimal).Round(minorPlaces)
	case in.MarginPct != nil:
		return cost.Mul(hundred).DivRound(hundred.Sub(in.MarginPct.Decimal), minorPlaces)
	}
	return cost
}

// RoundTo gives the multiple of step nearest to amount, a half going up (away from
// zero below zero). step is positive. It serves for price steps and for cash totals.
func RoundTo(amount, step decimal.Decimal) decimal.Decimal {
	return amount.DivRound(step, 0).Mul(step)
}

// shareOf gives part in percent of whole to four decimals, or nil where whole is nothing.
func shareOf(part, whole decimal.Decimal) *Number {
	if whole.IsZero() {
		return nil
	}
	return &Number{Decimal: part.Mul(hundred).DivRound(whole, 4)}
}

func (in CostingIn) check() error {
	var c checks
	if len(in.Lines) > mostLines {
		c.Add("/lines", "has more than %d lines", mostLines)
		return c.Err()
	}
	seen := make(map[string]bool, len(in.Lines))
	for i, l := range in.Lines {
		l.check(&c, fmt.Sprintf("/lines/%d", i), seen)
	}
	c.number("/overhead_pct", in.OverheadPct, decimal.Zero, decimal.New(1000, 0))
	if in.MarginPct != nil {
		c.number("/margin_pct", *in.MarginPct, decimal.Zero, decimal.New(9999, -2))
	}
	c.percent("/tax_pct", in.TaxPct)
	if in.RoundTo != nil {
		c.step("/round_to", *in.RoundTo)
	}
	return c.Err()
}

func (l Line) check(c *checks, at string, seen map[string]bool) {
	switch {
	case l.ID == "" || len(l.ID) > mostID:
		c.Add(at+"/id", "must have 1 to %d characters", mostID)
	case seen[l.ID]:
		c.Add(at+"/id", "%q stands on two lines", l.ID)
	}
	seen[l.ID] = true
	if !slices.Contains(Kinds, l.Kind) {
		c.Add(at+"/kind", "must be one of %v", Kinds)
	}
	c.number(at+"/quantity", l.Quantity, decimal.Zero, mostAmount)
	c.amount(at+"/unit_cost", l.UnitCost)
	if l.Price != nil {
		c.amount(at+"/price", *l.Price)
	}
	if l.TaxPct != nil {
		c.percent(at+"/tax_pct", *l.TaxPct)
	}
}

// step refuses steps that are no whole number of minor units.
func (c *checks) step(pointer string, s Step) {
	if s.fault == "" && !s.Equal(s.Round(minorPlaces)) {
		c.Add(pointer, "must be whole cents")
		return
	}
	c.within(pointer, s.Decimal, s.fault, decimal.New(1, -minorPlaces), decimal.New(1, 6))
}
