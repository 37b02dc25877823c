package travel

import "math"

// span is a stretch of the auxiliary sphere between two arcs from the equator.
type span struct {
	s1, c1, s2, c2 float64 // sines and cosines of sigma1 and sigma2
	s12            float64 // sigma2 - sigma1, not negative
}

func arcs(sigma1, sigma2 float64) span {
	g := span{s12: math.Max(0, sigma2-sigma1)}
	g.s1, g.c1 = math.Sincos(sigma1)
	g.s2, g.c2 = math.Sincos(sigma2)
	return g
}

// lengths gives the distance s12 and the reduced length m12, both in polar half
// axes (equations 7, 15 to 18, 38 to 43 of Karney 2013).
func (g span) lengths(k2, eps float64) (float64, float64) {
	e2 := eps * eps
	a1 := (1 + e2*(1.0/4+e2*(1.0/64+e2/256))) / (1 - eps)
	a2 := (1 - e2*(3.0/4+e2*(7.0/64+e2*11/256))) / (1 + eps)
	c1 := [7]float64{0,
		eps * (-1.0/2 + e2*(3.0/16-e2/32)),
		e2 * (-1.0/16 + e2*(1.0/32-e2*9/2048)),
		e2 * eps * (-1.0/48 + e2*3/256),
		e2 * e2 * (-5.0/512 + e2*3/512),
		e2 * e2 * eps * -7 / 1280,
		e2 * e2 * e2 * -7 / 2048,
	}
	c2 := [7]float64{0,
		eps * (1.0/2 + e2*(1.0/16+e2/32)),
		e2 * (3.0/16 + e2*(1.0/32+e2*35/2048)),
		e2 * eps * (5.0/48 + e2*5/256),
		e2 * e2 * (35.0/512 + e2*7/512),
		e2 * e2 * eps * 63 / 1280,
		e2 * e2 * e2 * 77 / 2048,
	}
	i1 := a1 * (g.s12 + g.sines(c1[:]))
	i2 := a2 * (g.s12 + g.sines(c2[:]))
	d1, d2 := math.Sqrt(1+k2*g.s1*g.s1), math.Sqrt(1+k2*g.s2*g.s2)
	return i1, d2*g.c1*g.s2 - d1*g.s1*g.c2 - g.c1*g.c2*(i1-i2)
}

// longitude gives the integral I3 of equation 8 between the two arcs (equations
// 23 to 25).
func (g span) longitude(eps float64) float64 {
	const n = third
	a3 := 1 - eps*((1-n)/2+eps*((2+n-3*n*n)/8+eps*((1+3*n+n*n)/16+eps*((3+2*n)/64+eps*3/128))))
	c3 := [6]float64{0,
		eps * ((1-n)/4 + eps*((1-n*n)/8+eps*((3+3*n-n*n)/64+eps*((5+2*n)/128+eps*3/128)))),
		eps * eps * ((2-3*n+n*n)/32 + eps*((3-2*n-3*n*n)/64+eps*((3+n)/128+eps*5/256))),
		eps * eps * eps * ((5-9*n+5*n*n)/192 + eps*((9-10*n)/384+eps*7/512)),
		eps * eps * eps * eps * ((7-14*n)/512 + eps*7/512),
		eps * eps * eps * eps * eps * 21 / 2560,
	}
	return a3 * (g.s12 + g.sines(c3[:]))
}

// sines gives the sum of c[l] (sin 2 l sigma2 - sin 2 l sigma1), l from 1, by
// Clenshaw's summation.
func (g span) sines(c []float64) float64 {
	sum := func(s, co float64) float64 {
		x := 2 * (co - s) * (co + s) // 2 cos 2 sigma
		var b1, b2 float64
		for l := len(c) - 1; l > 0; l-- {
			b1, b2 = c[l]+x*b1-b2, b1
		}
		return 2 * s * co * b1
	}
	return sum(g.s2, g.c2) - sum(g.s1, g.c1)
}
