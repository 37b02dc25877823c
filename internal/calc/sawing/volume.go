package sawing

import (
	"context"
	"math"

	"kerfbook/internal/calc/contract"
)

// Bounds of a log that is taken as meant.
const (
	mostLogLengthMM   = 50_000
	mostLogDiameterMM = 5_000
	mm3PerM3          = 1e9
)

// LogVolumeIn is a log's length and the diameters that its method needs.
type LogVolumeIn struct {
	LengthMM float64  `json:"length_mm" need:"yes"`
	SmallMM  *float64 `json:"small_mm,omitempty"`  // smalian, newton, cone; 0 is a tip
	LargeMM  *float64 `json:"large_mm,omitempty"`  // smalian, newton, cone
	MiddleMM *float64 `json:"middle_mm,omitempty"` // huber, newton
	Method   string   `json:"method" need:"yes"`   // smalian, huber, newton or cone
}

// LogVolumeOut is the volume of solid wood.
type LogVolumeOut struct {
	VolumeM3 float64 `json:"volume_m3"`
}

// LogVolume gives the volume of a log by one of four rules:
//
//	smalian  V = L (As + Al)/2
//	huber    V = L Am
//	newton   V = L (As + 4 Am + Al)/6
//	cone     V = L (As + sqrt(As Al) + Al)/3, exact for a truncated cone
//
// Lengths lie between 1 and 50 000 mm, diameters up to 5000 mm. An unknown method, a
// diameter that it needs and does not get, and a small end larger than the large end
// are errors. Source: Australian National University, forest mensuration pages
// (Brack & Wood 1998); Newton's form from memory, in Husch et al., Forest Mensuration.
func LogVolume(_ context.Context, in LogVolumeIn) (LogVolumeOut, error) {
	var c contract.Checks
	c.Number("/length_mm", in.LengthMM, 1, mostLogLengthMM)
	ends := in.Method == "smalian" || in.Method == "newton" || in.Method == "cone"
	middle := in.Method == "huber" || in.Method == "newton"
	if !ends && !middle {
		c.Add("/method", "must be smalian, huber, newton or cone")
	}
	small := diameter(&c, "/small_mm", in.SmallMM, ends, 0)
	large := diameter(&c, "/large_mm", in.LargeMM, ends, 1)
	mid := diameter(&c, "/middle_mm", in.MiddleMM, middle, 1)
	if in.SmallMM != nil && in.LargeMM != nil && small > large {
		c.Add("/small_mm", "is larger than the large end: swap them, or look whether one is a girth")
	}
	if err := c.Err(); err != nil {
		return LogVolumeOut{}, err
	}
	return LogVolumeOut{VolumeM3: volumeM3(in.Method, in.LengthMM, small, mid, large)}, nil
}

func volumeM3(method string, lengthMM, smallMM, middleMM, largeMM float64) float64 {
	as, am, al := areaMM2(smallMM), areaMM2(middleMM), areaMM2(largeMM)
	switch method {
	case "smalian":
		return lengthMM * (as + al) / 2 / mm3PerM3
	case "huber":
		return lengthMM * am / mm3PerM3
	case "newton":
		return lengthMM * (as + 4*am + al) / 6 / mm3PerM3
	}
	return ConeVolumeM3(lengthMM, smallMM, largeMM)
}

// ConeVolumeM3 gives the volume of a truncated cone from its length and end diameters.
func ConeVolumeM3(lengthMM, smallMM, largeMM float64) float64 {
	as, al := areaMM2(smallMM), areaMM2(largeMM)
	return lengthMM * (as + math.Sqrt(as*al) + al) / 3 / mm3PerM3
}

// areaMM2 gives the area of a circle.
func areaMM2(diameterMM float64) float64 { return math.Pi / 4 * diameterMM * diameterMM }

// diameter reads one, or says that it is missing.
func diameter(c *contract.Checks, pointer string, v *float64, needed bool, low float64) float64 {
	if v == nil {
		if needed {
			c.Add(pointer, "is missing; this method needs it")
		}
		return 0
	}
	c.Number(pointer, *v, low, mostLogDiameterMM)
	return *v
}
