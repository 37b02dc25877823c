package sun

// deltaT gives the seconds by which dynamical time runs ahead of the clock, for
// a year with its fraction.
//
// Source: the polynomials of F. Espenak and J. Meeus, Five Millennium Canon of
// Solar Eclipses, NASA/TP-2006-214141, for 1961 to 2150, and their long-term
// parabola otherwise (from memory). Differs from the source: the pieces before
// 1961 are left out. The parabola is then wrong by up to half a minute, which
// moves the sun by 0.0004 degrees.
func deltaT(year float64) float64 {
	u := (year - 1820) / 100
	parabola := -20 + 32*u*u
	switch t := year - 2000; {
	case year < 1961 || year >= 2150:
		return parabola
	case year < 1986:
		t = year - 1975
		return 45.45 + 1.067*t - t*t/260 - t*t*t/718
	case year < 2005:
		return 63.86 + t*(0.3345+t*(-0.060374+t*(0.0017275+t*(0.000651814+t*0.00002373599))))
	case year < 2050:
		return 62.92 + t*(0.32217+t*0.005589)
	}
	return parabola - 0.5628*(2150-year)
}
