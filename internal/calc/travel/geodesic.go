package travel

import "math"

// The WGS 84 ellipsoid (NIMA TR8350.2) and what follows from it.
const (
	equatorM   = 6378137.0                      // half axis at the equator, m
	flattening = 1 / 298.257223563              // f
	axisRatio  = 1 - flattening                 // b/a
	poleM      = equatorM * axisRatio           // half axis at the pole, m
	third      = flattening / (2 - flattening)  // third flattening n
	ecc2       = flattening * (2 - flattening)  // first eccentricity squared
	second2    = ecc2 / (axisRatio * axisRatio) // second eccentricity squared
)

// geodesicM gives the length in metres of the shortest way on the ellipsoid
// between two places in degrees. Good to well under a millimetre everywhere,
// nearly antipodal places included.
//
// Source: C. F. F. Karney, Algorithms for geodesics, J. Geod. 87, 43-55 (2013),
// section 4 with the series of section 3. Differs from the source: the root
// for the azimuth is kept in a bracket, with a halving step wherever Newton's
// leaves it, instead of starting nearly antipodal pairs from the astroid; it
// needs more steps there and ends at the same length.
func geodesicM(lat1, lon1, lat2, lon2 float64) float64 {
	lambda := math.Abs(math.Remainder(lon2-lon1, 360))
	// The nearer to a pole comes first and lies in the south.
	if math.Abs(lat1) < math.Abs(lat2) {
		lat1, lat2 = lat2, lat1
	}
	if lat1 > 0 {
		lat1, lat2 = -lat1, -lat2
	}
	lat1, lat2 = offEquator(lat1), offEquator(lat2)
	p := pair{lambda: radians(lambda)}
	p.sb1, p.cb1 = reduced(lat1)
	p.sb2, p.cb2 = reduced(lat2)
	if lambda == 0 || lambda == 180 || lat1 == -90 {
		if s, ok := p.meridian(lambda); ok {
			return s
		}
	}
	if lat1 == 0 && lambda <= 180*axisRatio {
		return equatorM * p.lambda // along the equator
	}
	return p.solve()
}

// offEquator puts what lies within a tenth of a nanometre of the equator on it.
func offEquator(lat float64) float64 {
	if math.Abs(lat) < 1e-15 {
		return 0
	}
	return lat
}

func radians(d float64) float64 { return d * (math.Pi / 180) }

// reduced gives sine and cosine of the reduced latitude; the cosine is never 0.
func reduced(lat float64) (float64, float64) {
	const tiny = 1e-150
	s, c := math.Sincos(radians(lat))
	if lat == 90 || lat == -90 {
		c = 0
	}
	s *= axisRatio
	r := math.Hypot(s, c)
	return s / r, math.Max(c/r, tiny)
}

// pair holds two places in the order of geodesicM.
type pair struct {
	sb1, cb1, sb2, cb2 float64 // sine and cosine of the reduced latitudes
	lambda             float64 // difference in longitude, 0 to pi
}

// meridian gives the length along the meridian, and whether it is the shortest
// way: it is while the reduced length stays positive.
func (p pair) meridian(lambda float64) (float64, bool) {
	ca1 := 1.0
	if lambda == 180 {
		ca1 = -1
	}
	g := arcs(math.Atan2(-math.Abs(p.sb1), ca1*p.cb1), math.Atan2(p.sb2, p.cb2))
	k2 := second2
	length, reducedLength := g.lengths(k2, epsilon(k2))
	return poleM * length, g.s12 < 1 || reducedLength >= 0
}

// solve finds the azimuth at the first place whose geodesic meets the second
// place's longitude, and gives its length in metres. The azimuth is kept as its
// distance from due east, because close to the equator that may be far less
// than the last bit of a quarter turn.
func (p pair) solve() float64 {
	const (
		good    = 4e-16 // radians of longitude: 3 nanometres at the equator
		newton  = 25    // steps before only halving is trusted
		halving = 120   // enough to reach the last bit from a half turn
	)
	low, high := -math.Pi/2, math.Pi/2
	turn := p.guess()
	length := 0.0
	for i := range newton + halving {
		try := p.from(turn)
		length = try.length
		miss := try.lambda - p.lambda
		if math.Abs(miss) <= good {
			break
		}
		if miss < 0 {
			low = turn
		} else {
			high = turn
		}
		next := turn - miss/try.slope
		if !(next > low && next < high) || i >= newton || !(try.slope > 0) {
			next = low + (high-low)/2
		}
		if next == turn || next <= low || next >= high {
			break
		}
		turn = next
	}
	return poleM * length
}

// guess is the azimuth on a sphere with the longitude stretched (equation 48),
// from due east, clockwise.
func (p pair) guess() float64 {
	mean := (p.cb1 + p.cb2) / 2
	omega := math.Min(p.lambda/math.Sqrt(1-ecc2*mean*mean), math.Pi)
	so, co := math.Sincos(omega)
	return math.Atan2(p.sb1*p.cb2*co-p.cb1*p.sb2, p.cb2*so)
}

// attempt is where a geodesic with a given azimuth comes to the second latitude.
type attempt struct {
	lambda float64 // longitude passed, radians
	slope  float64 // its derivative by the azimuth
	length float64 // in polar half axes
}

// from follows the geodesic that leaves the first place east plus turn to where it goes north through the second latitude (equations 8 to 11, 45, 46).
func (p pair) from(turn float64) attempt {
	ca1, sa1 := math.Sincos(-turn)
	if p.sb1 == 0 && ca1 == 0 {
		ca1 = -1e-150 // a line along the equator has no northward crossing
	}
	sa0 := sa1 * p.cb1
	ca0 := math.Hypot(ca1, sa1*p.sb1)
	// cos^2 beta2 cos^2 alpha2, arranged so that nothing cancels.
	var gap float64
	if p.cb1 < -p.sb1 {
		gap = (p.cb2 - p.cb1) * (p.cb1 + p.cb2)
	} else {
		gap = (p.sb1 - p.sb2) * (p.sb1 + p.sb2)
	}
	ca2cb2 := math.Sqrt(math.Max(0, ca1*p.cb1*ca1*p.cb1+gap))
	southward := -math.Abs(p.sb1) // keeps the sign of -0 at the equator
	g := arcs(math.Atan2(southward, ca1*p.cb1), math.Atan2(p.sb2, ca2cb2))
	omega := math.Atan2(sa0*p.sb2, ca2cb2) - math.Atan2(sa0*southward, ca1*p.cb1)
	if omega < 0 {
		omega = 0
	}
	k2 := second2 * ca0 * ca0
	eps := epsilon(k2)
	length, reducedLength := g.lengths(k2, eps)
	a := attempt{length: length, lambda: omega - flattening*sa0*g.longitude(eps)}
	if ca2cb2 > 0 {
		a.slope = reducedLength * axisRatio / ca2cb2
	} else {
		a.slope = -2 * axisRatio * math.Sqrt(1+second2*p.sb1*p.sb1) / p.sb1
	}
	return a
}

// epsilon is the small parameter of the series (equation 16).
func epsilon(k2 float64) float64 { return k2 / (2*(1+math.Sqrt(1+k2)) + k2) }
