package sawing

import "math"

// cone is the log as the search sees it, sweep taken off. Lengths across it are
// whole ticks.
type cone struct {
	tick         float64 // mm
	step         int     // ticks in a millimetre, or 1: how finely short boards are placed
	small, large float64 // radii in ticks
	small2       float64 // small squared
	lengthMM     float64
}

// finest is the usual tick: half of any tenth of a millimetre is a whole one.
const finest = 0.05 // mm

// cone chooses the tick so that the work stays within bounds. The work goes with
// the places of rows, the places of boards in them, and the sizes; kerf and sizes
// of whole millimetres need far fewer places than odd ones.
func (in PatternIn) cone() cone {
	// Place x place x size: some 100 ms for the finest tick, half a second for the others.
	const finestWork, mostWork = 20e6, 60e6
	tick := finest
	if in.shorter() && in.work(finest) > finestWork {
		for _, tick = range []float64{0.1, 0.2, 0.5, 1, 2} {
			if in.work(tick) <= mostWork {
				break
			}
		}
	}
	c := cone{tick: tick, step: max(1, int(math.Round(1/tick))), lengthMM: in.LengthMM}
	c.small, c.large = (in.SmallEndMM-in.SweepMM)/2/tick, (in.LargeEndMM-in.SweepMM)/2/tick
	c.small2 = c.small * c.small * (1 + 1e-12) // a corner on the bark is inside
	return c
}

// work estimates the steps of a search with short boards.
func (in PatternIn) work(tick float64) float64 {
	c := cone{tick: tick}
	common := max(1, int(math.Round(1/tick))) // the ticks in all distances between places
	for _, b := range in.Boards {
		common = divisor(common, divisor(c.up(b.WidthMM+in.KerfMM), c.up(b.ThicknessMM+in.KerfMM)))
	}
	radius := in.LargeEndMM / 2
	return radius / math.Max(1, tick) * radius / (tick * float64(common)) * 2 * float64(len(in.Boards))
}

// divisor gives the greatest common divisor.
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// up takes a size up to whole ticks; what is a whole tick stays one.
func (c cone) up(mm float64) int { return int(math.Ceil(mm/c.tick - 1e-6)) }

// mm turns a place into millimetres, without the dust of binary fractions.
func (c cone) mm(ticks float64) float64 { return math.Round(ticks*c.tick*1e4) / 1e4 }

// boardMM gives the length of the longest board from the butt whose farthest
// corner lies at the square of a distance from the axis.
func (c cone) boardMM(reach2 float64) float64 {
	if reach2 <= c.small2 {
		return c.lengthMM
	}
	reach := math.Sqrt(reach2)
	if reach >= c.large {
		return 0
	}
	const hair = 1e-6 // steps: what rounding takes from a whole step is given back
	return math.Floor(c.lengthMM*(c.large-reach)/(c.large-c.small)*lengthSteps+hair) / lengthSteps
}

// reach2 gives the square of the farthest a corner of a board of some length may lie.
func (c cone) reach2(boardMM float64) float64 {
	if boardMM >= c.lengthMM {
		return c.small2
	}
	r := c.large - (c.large-c.small)*boardMM/c.lengthMM
	return r * r * (1 + 1e-12)
}

// tidy takes the dust of binary fractions off a length in mm.
func tidy(mm float64) float64 { return math.Round(mm*dust) / dust }
