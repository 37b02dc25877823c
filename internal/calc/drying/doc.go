// Package drying says when a stickered pack of boards will be dry, from the climate
// it stands in and from meter readings, and how sure that is.
//
// The model. A board loses each day a fixed share of what parts it from the moisture
// content the air would bring it to:
//
//	dM/dt = -(f(T) p / tau) (1 + b x^4) (M - E(t) - d)
//	tau   = 34 days (thickness / 25 mm)^1.5 (G / 0.5) s
//	f(T)  = exp(0.05 (T - 20))
//
// M is the moisture content in %, E the equilibrium moisture content of the month's
// mean temperature T and humidity (Wood Handbook eq. 4-5; months run into one another
// in straight lines between their middles), G the species' specific gravity at 12 %, s how
// much slower it dries than that says (1 where nothing is known). A pack that is moved, into
// a chamber or back into the yard, has the air of each place for its days.
// The form (a logarithm of the distance to the equilibrium, a power of the thickness,
// a site's own weather) is that of Simpson & Hart, Method for estimating air-drying
// times of lumber, Forest Products Journal 51(11/12), 2001; the exponent of thickness
// is near that of Simpson & Tschernitz, from memory. While most of the water is still
// in, the faces give it up faster than the middle can follow: x is the share of the way
// to the place's mean equilibrium that is still to go. The 34 days, the factor of
// temperature and b (about 2) are our estimate, set so that 25 mm boards come to 20 %
// about within the ranges that the Forest Products Laboratory gives (Agriculture
// Handbook 402, from memory).
//
// Where the moisture at stacking was not measured it is that of green wood in the Wood
// Handbook's Table 4-1, two parts of heartwood and one of sapwood, else 70 %. That explains the printed
// ranges of the softwoods (Douglas-fir with a heartwood of 37 % is quick, redwood of
// 86 % and hemlock of 85 % are not); for the oaks and tanoak, s follows from how mild a
// kiln schedule the species asks for (package wood). Classes of how well the heartwood
// lets preservative in were looked at and left out: they put redwood and red oak, which dry
// slowly, among the easiest. range_test.go sets model and print side by side, names the
// species outside (baldcypress and eastern white pine come out too fast), and holds their share.
//
// What is not known is the pace p of this pack, the site's offset d, b, and the green
// moisture where it was not measured. They have prior spreads (model.go), readings weigh
// them, a reading 45 days older than the last counting half; the forecast then sets out
// from the last reading. The chance of a day is the weight of all cases in which the
// pack has once come down to the target by then.
//
// The spreads are calibrated on invented packs that dry by another law (diffusion
// through a slab in weather with good and bad weeks; calibration_test.go): there the
// 4-in-5 date holds in about four of five. That shows that the spread is honest
// about a wrong law; it shows calibration, not truth: nothing here was held against a real pack.
//
// Start reading at Drying.
package drying
