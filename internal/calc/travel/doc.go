// Package travel measures the way between places and puts the stops of a run
// into the shortest order.
//
// Start at Distance for two places and Run for a day's stops. Distances are
// geodesics on the WGS 84 ellipsoid; a run multiplies them by a detour factor,
// because roads bend, or takes a table of road distances as typed. The package
// knows no roads, no traffic and no opening hours.
//
//	symbol       meaning                                          unit
//	a, f         half axis and flattening of WGS 84               m, -
//	phi, lambda  latitude, longitude                              degrees
//	beta         reduced latitude, tan beta = (1 - f) tan phi     radians
//	alpha        azimuth of the geodesic, alpha0 at the equator   radians
//	sigma        arc on the auxiliary sphere from the equator     radians
//	omega        longitude on the auxiliary sphere                radians
//
// Run is exact up to 16 stops besides the start, by dynamic programming, and
// says proved. Above that it searches by chained Lin-Kernighan moves and proves
// what it can by branch and bound over 1-trees; otherwise bound_km says how far
// off the answer may be. The search ends at a work limit that is the same on
// every machine, or earlier when the time is out.
package travel
