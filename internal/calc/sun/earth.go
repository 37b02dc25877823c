package sun

import "math"

// term is one row of a series: a cos(b + c t), a in 1e-8 radians or
// astronomical units, t in thousands of Julian years from 2000.
type term struct{ a, b, c float64 }

// The rows below are those of table A4.2 of the report (from VSOP87, Bretagnon
// and Francou 1988). Left out are rows of L1 under 9, of L2 to L5 under 3, of B1
// all, and of R those under 5e-6 units: together they move the sun by less
// than 1e-5 degrees in the years that Position takes.
var (
	longitude0 = []term{
		{175347046, 0, 0}, {3341656, 4.6692568, 6283.07585}, {34894, 4.6261, 12566.1517},
		{3497, 2.7441, 5753.3849}, {3418, 2.8289, 3.5231}, {3136, 3.6277, 77713.7715},
		{2676, 4.4181, 7860.4194}, {2343, 6.1352, 3930.2097}, {1324, 0.7425, 11506.7698},
		{1273, 2.0371, 529.691}, {1199, 1.1096, 1577.3435}, {990, 5.233, 5884.927},
		{902, 2.045, 26.298}, {857, 3.508, 398.149}, {780, 1.179, 5223.694},
		{753, 2.533, 5507.553}, {505, 4.583, 18849.228}, {492, 4.205, 775.523},
		{357, 2.92, 0.067}, {317, 5.849, 11790.629}, {284, 1.899, 796.298},
		{271, 0.315, 10977.079}, {243, 0.345, 5486.778}, {206, 4.806, 2544.314},
		{205, 1.869, 5573.143}, {202, 2.458, 6069.777}, {156, 0.833, 213.299},
		{132, 3.411, 2942.463}, {126, 1.083, 20.775}, {115, 0.645, 0.98},
		{103, 0.636, 4694.003}, {102, 0.976, 15720.839}, {102, 4.267, 7.114},
		{99, 6.21, 2146.17}, {98, 0.68, 155.42}, {86, 5.98, 161000.69},
		{85, 1.3, 6275.96}, {85, 3.67, 71430.7}, {80, 1.81, 17260.15},
		{79, 3.04, 12036.46}, {75, 1.76, 5088.63}, {74, 3.5, 3154.69},
		{74, 4.68, 801.82}, {70, 0.83, 9437.76}, {62, 3.98, 8827.39},
		{61, 1.82, 7084.9}, {57, 2.78, 6286.6}, {56, 4.39, 14143.5},
		{56, 3.47, 6279.55}, {52, 0.19, 12139.55}, {52, 1.33, 1748.02},
		{51, 0.28, 5856.48}, {49, 0.49, 1194.45}, {41, 5.37, 8429.24},
		{41, 2.4, 19651.05}, {39, 6.17, 10447.39}, {37, 6.04, 10213.29},
		{37, 2.57, 1059.38}, {36, 1.71, 2352.87}, {36, 1.78, 6812.77},
		{33, 0.59, 17789.85}, {30, 0.44, 83996.85}, {30, 2.74, 1349.87},
		{25, 3.16, 4690.48},
	}
	longitude1 = []term{
		{628331966747, 0, 0}, {206059, 2.678235, 6283.07585}, {4303, 2.6351, 12566.1517},
		{425, 1.59, 3.523}, {119, 5.796, 26.298}, {109, 2.966, 1577.344},
		{93, 2.59, 18849.23}, {72, 1.14, 529.69}, {68, 1.87, 398.15},
		{67, 4.41, 5507.55}, {59, 2.89, 5223.69}, {56, 2.17, 155.42},
		{45, 0.4, 796.3}, {36, 0.47, 775.52}, {29, 2.65, 7.11},
		{21, 5.34, 0.98}, {19, 1.85, 5486.78}, {19, 4.97, 213.3},
		{17, 2.99, 6275.96}, {16, 0.03, 2544.31}, {16, 1.43, 2146.17},
		{15, 1.21, 10977.08}, {12, 2.83, 1748.02}, {12, 3.26, 5088.63},
		{12, 5.27, 1194.45}, {12, 2.08, 4694}, {11, 0.77, 553.57},
		{10, 1.3, 6286.6}, {10, 4.24, 1349.87}, {9, 2.7, 242.73}, {9, 5.64, 951.72},
	}
	longitude2 = []term{
		{52919, 0, 0}, {8720, 1.0721, 6283.0758}, {309, 0.867, 12566.152},
		{27, 0.05, 3.52}, {16, 5.19, 26.3}, {16, 3.68, 155.42}, {10, 0.76, 18849.23},
		{9, 2.06, 77713.77}, {7, 0.83, 775.52}, {5, 4.66, 1577.34},
		{4, 1.03, 7.11}, {4, 3.44, 5573.14}, {3, 5.14, 796.3}, {3, 6.05, 5507.55},
		{3, 1.19, 242.73}, {3, 6.12, 529.69}, {3, 0.31, 398.15}, {3, 2.28, 553.57},
	}
	longitude3 = []term{{289, 5.844, 6283.076}, {35, 0, 0}, {17, 5.49, 12566.15}, {3, 5.2, 155.42}}
	longitude4 = []term{{114, 3.142, 0}, {8, 4.13, 6283.08}}

	latitude0 = []term{
		{280, 3.199, 84334.662}, {102, 5.422, 5507.553}, {80, 3.88, 5223.69},
		{44, 3.7, 2352.87}, {32, 4, 1577.34},
	}

	radius0 = []term{
		{100013989, 0, 0}, {1670700, 3.0984635, 6283.07585}, {13956, 3.05525, 12566.1517},
		{3084, 5.1985, 77713.7715}, {1628, 1.1739, 5753.3849}, {1576, 2.8469, 7860.4194},
		{925, 5.453, 11506.77}, {542, 4.564, 3930.21},
	}
	radius1 = []term{{103019, 1.10749, 6283.07585}, {1721, 1.0644, 12566.1517}, {702, 3.142, 0}}
	radius2 = []term{{4359, 5.7846, 6283.0758}}
)

// series adds up the powers of t, as in equations 9 to 11 of the report.
func series(t float64, powers ...[]term) float64 {
	total, tn := 0.0, 1.0
	for _, rows := range powers {
		sum := 0.0
		for _, r := range rows {
			sum += r.a * math.Cos(r.b+r.c*t)
		}
		total += sum * tn
		tn *= t
	}
	return total * 1e-8
}

// earth gives the Earth's heliocentric longitude and latitude in radians and
// its distance in astronomical units; t is in thousands of Julian years of
// dynamical time from 2000 (section 3.2 of the report).
func earth(t float64) (float64, float64, float64) {
	l := series(t, longitude0, longitude1, longitude2, longitude3, longitude4)
	b := series(t, latitude0)
	r := series(t, radius0, radius1, radius2)
	return l, b, r
}

// wobble is one row of table A4.3 of the report: factors of the five arguments
// and the sizes of the nutation, in 0.0001 seconds of arc.
type wobble struct {
	y          [5]float64
	a, b, c, d float64
}

// Rows under 0.01 seconds of arc are left out: together under 2e-5 degrees.
var wobbles = []wobble{
	{[5]float64{0, 0, 0, 0, 1}, -171996, -174.2, 92025, 8.9},
	{[5]float64{-2, 0, 0, 2, 2}, -13187, -1.6, 5736, -3.1},
	{[5]float64{0, 0, 0, 2, 2}, -2274, -0.2, 977, -0.5},
	{[5]float64{0, 0, 0, 0, 2}, 2062, 0.2, -895, 0.5},
	{[5]float64{0, 1, 0, 0, 0}, 1426, -3.4, 54, -0.1},
	{[5]float64{0, 0, 1, 0, 0}, 712, 0.1, -7, 0},
	{[5]float64{-2, 1, 0, 2, 2}, -517, 1.2, 224, -0.6},
	{[5]float64{0, 0, 0, 2, 1}, -386, -0.4, 200, 0},
	{[5]float64{0, 0, 1, 2, 2}, -301, 0, 129, -0.1},
	{[5]float64{-2, -1, 0, 2, 2}, 217, -0.5, -95, 0.3},
	{[5]float64{-2, 0, 1, 0, 0}, -158, 0, 0, 0},
	{[5]float64{-2, 0, 0, 2, 1}, 129, 0.1, -70, 0},
	{[5]float64{0, 0, -1, 2, 2}, 123, 0, -53, 0},
}

// nutation gives the nutation in longitude and in obliquity, in degrees; t is
// in Julian centuries of dynamical time from 2000 (equations 15 to 23).
func nutation(t float64) (float64, float64) {
	x := [5]float64{
		297.85036 + t*(445267.111480+t*(-0.0019142+t/189474)),
		357.52772 + t*(35999.050340+t*(-0.0001603-t/300000)),
		134.96298 + t*(477198.867398+t*(0.0086972+t/56250)),
		93.27191 + t*(483202.017538+t*(-0.0036825+t/327270)),
		125.04452 + t*(-1934.136261+t*(0.0020708+t/450000)),
	}
	var psi, eps float64
	for _, w := range wobbles {
		arg := 0.0
		for i, y := range w.y {
			arg += y * x[i]
		}
		s, c := math.Sincos(rad(math.Mod(arg, 360)))
		psi += (w.a + w.b*t) * s
		eps += (w.c + w.d*t) * c
	}
	const unit = 36e6 // 0.0001 seconds of arc in a degree
	return psi / unit, eps / unit
}

// obliquity gives the mean obliquity of the ecliptic in degrees; u is in ten
// thousands of Julian years (equation 24 of the report).
func obliquity(u float64) float64 {
	s := 2.45
	for _, c := range []float64{5.79, 27.87, 7.12, -39.05, -249.67, -51.38, 1999.25, -1.55, -4680.93, 84381.448} {
		s = s*u + c
	}
	return s / 3600
}

func rad(degrees float64) float64 { return degrees * (math.Pi / 180) }

func deg(radians float64) float64 { return radians * (180 / math.Pi) }
