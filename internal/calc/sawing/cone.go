package sawing

import "math"

// cone is the log as the search sees it, sweep taken off, radii in ticks.
type cone struct {
	small, large float64
	small2       float64 // small squared
	lengthMM     float64
}

func (in PatternIn) cone() cone {
	c := cone{small: (in.SmallEndMM - in.SweepMM) / 2 * ticksPerMM, large: (in.LargeEndMM - in.SweepMM) / 2 * ticksPerMM, lengthMM: in.LengthMM}
	c.small2 = c.small * c.small * (1 + 1e-12) // a corner on the bark is inside
	return c
}

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
	return math.Floor(c.lengthMM*(c.large-reach)/(c.large-c.small)/lengthStep+hair) * lengthStep
}

// reach2 gives the square of the farthest a corner of a board of some length may lie.
func (c cone) reach2(boardMM float64) float64 {
	if boardMM >= c.lengthMM {
		return c.small2
	}
	r := c.large - (c.large-c.small)*boardMM/c.lengthMM
	return r * r * (1 + 1e-12)
}

// upTicks takes a size up to whole ticks; what is a whole tick stays one.
func upTicks(mm float64) int { return int(math.Ceil(mm*ticksPerMM - 1e-6)) }
