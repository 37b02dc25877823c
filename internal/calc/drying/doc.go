// Package drying says when a stickered pack of boards will be dry, from the climate
// it stands in and from meter readings, and how sure that is.
//
// The model. A board loses each day a fixed share of what parts it from the moisture
// content the air would bring it to:
//
//	dM/dt = -(f(T) p / tau) (1 + b x^4) (M - E(t) - d)
//	tau   = 34 days (thickness / 25 mm)^1.5 (G / 0.5)
//	f(T)  = exp(0.05 (T - 20))
//
// M is the moisture content in %, E the equilibrium moisture content of the month's
// mean temperature T and humidity (Wood Handbook eq. 4-5; months run into one another
// in straight lines between their middles), G the species' specific gravity at 12 %.
// The form (a logarithm of the distance to the equilibrium, a power of the thickness,
// a site's own weather) is that of Simpson & Hart, Method for estimating air-drying
// times of lumber, Forest Products Journal 51(11/12), 2001; the exponent of thickness
// is near that of Simpson & Tschernitz, from memory. While most of the water is still
// in, the faces give it up faster than the middle can follow: x is the share of the way
// to the year's mean equilibrium that is still to go. The 34 days, the factor of
// temperature and b (about 2) are our estimate, set so that 25 mm boards come to 20 %
// about within the ranges that the Forest Products Laboratory gives (Agriculture
// Handbook 402, from memory; range_test.go sets them side by side).
//
// What is not known is the pace p of this pack, the site's offset d, b, and the green
// moisture where it was not measured. They have prior spreads (model.go), readings weigh
// them, a reading 60 days older than the last counting half; the forecast then sets out
// from the last reading. The chance of a day is the weight of all cases in which the
// pack has once come down to the target by then.
//
// The spreads are calibrated on invented packs that dry by another law (diffusion
// through a slab in weather with good and bad weeks; calibration_test.go): there the
// 4-in-5 date holds in about four of five. That shows that the spread is honest
// about a wrong law, not that the law is right for a real pack.
//
// Start reading at Drying.
package drying
