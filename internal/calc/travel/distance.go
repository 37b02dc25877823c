package travel

import (
	"context"

	"kerfbook/internal/calc/contract"
)

// Place is a point on the ground in degrees, north and east positive.
type Place struct {
	Latitude  float64 `json:"latitude" need:"yes"`  // -90 to 90
	Longitude float64 `json:"longitude" need:"yes"` // -360 to 360, for maps that count past 180
}

// DistanceIn asks how far two places are apart.
type DistanceIn struct {
	From Place `json:"from" need:"yes"`
	To   Place `json:"to" need:"yes"`
}

// DistanceOut is the length of the geodesic on the WGS 84 ellipsoid.
type DistanceOut struct {
	KM float64 `json:"km"`
}

// Distance gives the shortest way over the WGS 84 ellipsoid, good to less than a
// millimetre. A place that is not on Earth gives a *contract.Error. Source: see
// geodesicM.
func Distance(_ context.Context, in DistanceIn) (DistanceOut, error) {
	var c contract.Checks
	c.Number("/from/latitude", in.From.Latitude, -90, 90)
	c.Number("/from/longitude", in.From.Longitude, -360, 360)
	c.Number("/to/latitude", in.To.Latitude, -90, 90)
	c.Number("/to/longitude", in.To.Longitude, -360, 360)
	if err := c.Err(); err != nil {
		return DistanceOut{}, err
	}
	return DistanceOut{KM: geodesicM(in.From.Latitude, in.From.Longitude, in.To.Latitude, in.To.Longitude) / 1000}, nil
}
