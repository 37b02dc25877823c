// Package wood answers what moisture does to wood: the moisture content it settles
// at, how far it shrinks, what it weighs and how it insulates. It refuses figures
// outside the ranges named at each function rather than stretching a formula.
//
// Symbols:
//
//	M     moisture content                  % of oven-dry mass
//	Mfs   fibre saturation                  % (30 where not known)
//	Mref  moisture that a total runs to     % (0, or 12 in many local tables)
//	S     shrinkage                         % of the green size
//	T     air temperature                   degrees C
//	h     relative humidity                 0 to 1
//	G     specific gravity: oven-dry mass over volume at M, over that of water
//	rho   density                           kg/m3
//	k     conductivity across the grain     W/(m K)
//
// The source of all equations is the Wood Handbook (Wood Handbook: Wood as an
// Engineering Material, USDA Forest Products Laboratory, FPL-GTR-190, 2010, and
// FPL-GTR-282, 2021), chapter 4. Differs from the source: a total that runs to a
// moisture above zero is stretched along the same straight line,
// S(M) = S(Mref) (Mfs - M)/(Mfs - Mref).
//
// Start reading at EMC, ShrinkagePct and SpeciesTable.
package wood
