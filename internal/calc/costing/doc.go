// Package costing turns what a job takes into cost, margin, price and tax. It
// also splits an amount into net and tax, and checks an Australian Business
// Number. It knows no currency: a minor unit is a hundredth.
//
// Symbols, for one line:
//
//	q    quantity                                    number, up to six decimals
//	u    unit cost                                   money each
//	p    list price each, without tax                money each
//	o    overhead                                    percent of cost
//	m    margin                                      percent of the price without tax
//	t    tax                                         percent of the price without tax
//	s    step the buyer's price is rounded to        money
//
//	cost  = round(q u (1 + o/100))                   rounded once, overhead with it
//	net   = round(q p), or round(cost / (1 - m/100)) where there is no list price
//	tax   = round(net t/100)
//	price = net + tax
//
// With a step, price becomes the nearest multiple of s (half up), then
// tax = round(price t/(100 + t)) and net = price - tax. Rounding is to the minor
// unit, halves away from zero. This is the second of the two ways which A New Tax
// System (Goods and Services Tax) Act 1999 s 9-90(2) allows, with two decimals
// kept: tax is rounded on every line and the rounded amounts are added.
//
// Totals are the sums of the lines, nothing is rounded again. The step acts on
// every line, those with a list price included: only there is the tax rate one,
// and sums of multiples of s are multiples of s. A caller that wants one round
// figure for a whole box gives the box as one line.
//
// Start reading at Costing.
package costing
