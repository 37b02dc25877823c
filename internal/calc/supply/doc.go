// Package supply says by when a buyer in a line of waiting will have a colony.
//
// Each colony on the way is ready on its day with a chance of its own, and stays
// ready. In a bad season, which hits all of them at once, every chance shrinks by
// one factor. How many are ready by a day then follows a mixture of two
// Poisson-binomial distributions, worked out exactly by adding one colony at a
// time. Start reading at Supply.
//
//	symbol   meaning                                        unit
//	p_i      chance of colony i in an ordinary season       0 to 1
//	q        chance that the season is bad                  0 to 1
//	f        what a bad season multiplies every p_i with    0 to 1
//	k        place in the line, 1 is next                   colonies
//	P(d)     (1-q) Pr[S >= k | p] + q Pr[S >= k | f p], S the number of
//	         colonies with a day up to d that are ready
//
// It does not guess chances and knows no species: both come from the caller.
package supply
