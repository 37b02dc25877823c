package sun

import (
	"context"
	"math"
	"time"

	"kerfbook/internal/calc/contract"
)

// PositionIn asks where the sun stands.
type PositionIn struct {
	Latitude  float64 `json:"latitude" need:"yes"`   // degrees, -90 to 90
	Longitude float64 `json:"longitude" need:"yes"`  // degrees, -180 to 180, east positive
	At        string  `json:"at" need:"yes"`         // RFC 3339, years 1600 to 2500
	Elevation float64 `json:"elevation_m,omitempty"` // metres above the sea, -500 to 9000
}

// PositionOut is the sun's place in the sky.
type PositionOut struct {
	Elevation float64 `json:"elevation_deg"` // centre of the disc, without refraction
	Azimuth   float64 `json:"azimuth_deg"`   // from north, clockwise, 0 up to 360
}

// The years for which the series and deltaT are good to 0.001 degrees or so.
const (
	firstYear = 1600
	lastYear  = 2500
)

// Position gives the sun's place as seen from a place on the ground, parallax
// included, refraction left out. A place that is not on Earth, an instant that
// is not RFC 3339 or outside 1600 to 2500 gives a *contract.Error. Within 0.001
// degrees of the report's worked example. Source: the report, sections 3.2 to 3.15.
func Position(_ context.Context, in PositionIn) (PositionOut, error) {
	var c contract.Checks
	checkPlace(&c, in.Latitude, in.Longitude)
	c.Number("/elevation_m", in.Elevation, -500, 9000)
	at, err := time.Parse(time.RFC3339, in.At)
	switch {
	case err != nil:
		c.Add("/at", "write the instant like 2026-06-21T12:00:00+10:00")
	case at.Year() < firstYear || at.Year() > lastYear:
		c.Add("/at", "the year must lie between %d and %d", firstYear, lastYear)
	}
	if err := c.Err(); err != nil {
		return PositionOut{}, err
	}
	el, az := topocentric(julian(at), in.Latitude, in.Longitude, in.Elevation)
	return PositionOut{Elevation: el, Azimuth: az}, nil
}

func checkPlace(c *contract.Checks, latitude, longitude float64) {
	c.Number("/latitude", latitude, -90, 90)
	c.Number("/longitude", longitude, -180, 180)
}

// julian gives the Julian day of an instant, in universal time.
func julian(at time.Time) float64 {
	const unixEpoch = 2440587.5 // Julian day of 1970-01-01 00:00 UTC
	return unixEpoch + (float64(at.Unix())+float64(at.Nanosecond())*1e-9)/86400
}

// instant is the reverse of julian, to the millisecond.
func instant(jd float64) time.Time {
	return time.UnixMilli(int64(math.Round((jd - 2440587.5) * 86400e3))).UTC()
}

// apparent is the sun as seen from the middle of the Earth.
type apparent struct {
	ascension, declination float64 // degrees
	sidereal               float64 // apparent sidereal time at Greenwich, degrees
	radius                 float64 // astronomical units
}

// geocentric follows sections 3.2 to 3.10 of the report.
func geocentric(jd float64) apparent {
	const j2000, century = 2451545.0, 36525.0
	jde := jd + deltaT(2000+(jd-j2000)/365.25)/86400
	jce := (jde - j2000) / century
	l, b, r := earth(jce / 10)
	psi, eps := nutation(jce)
	eps += obliquity(jce / 100)
	aberration := -20.4898 / (3600 * r)
	lambda := l + math.Pi + rad(psi+aberration)
	beta := -b
	sl, cl := math.Sincos(lambda)
	se, ce := math.Sincos(rad(eps))
	jc := (jd - j2000) / century
	sidereal := 280.46061837 + 360.98564736629*(jd-j2000) + jc*jc*(0.000387933-jc/38710000)
	return apparent{
		ascension:   turn(deg(math.Atan2(sl*ce-math.Tan(beta)*se, cl))),
		declination: deg(math.Asin(math.Sin(beta)*ce + math.Cos(beta)*se*sl)),
		sidereal:    turn(sidereal + psi*ce),
		radius:      r,
	}
}

// topocentric gives elevation and azimuth in degrees (sections 3.11 to 3.15).
func topocentric(jd, latitude, longitude, height float64) (float64, float64) {
	s := geocentric(jd)
	const flat, equator = 0.99664719, 6378140.0 // axis ratio of the Earth; its radius at the equator in m
	sphi, cphi := math.Sincos(rad(latitude))
	u := math.Atan2(flat*sphi, cphi)
	x := math.Cos(u) + height/equator*cphi
	y := flat*math.Sin(u) + height/equator*sphi
	parallax := math.Sin(rad(8.794 / (3600 * s.radius)))
	hour := rad(s.sidereal + longitude - s.ascension)
	sd, cd := math.Sincos(rad(s.declination))
	shift := math.Atan2(-x*parallax*math.Sin(hour), cd-x*parallax*math.Cos(hour))
	dec := math.Atan2((sd-y*parallax)*math.Cos(shift), cd-x*parallax*math.Cos(hour))
	sh, ch := math.Sincos(hour - shift)
	el := math.Asin(clamp(sphi*math.Sin(dec) + cphi*math.Cos(dec)*ch))
	az := math.Atan2(sh, ch*sphi-math.Tan(dec)*cphi)
	return deg(el), turn(deg(az) + 180)
}

// turn brings an angle into 0 up to 360 degrees.
func turn(d float64) float64 {
	d = math.Mod(d, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 { // a negative hair rounds up to a whole turn
		d = 0
	}
	return d
}

// halfTurn brings an angle into -180 up to 180 degrees.
func halfTurn(d float64) float64 { return turn(d+180) - 180 }

func clamp(v float64) float64 { return math.Max(-1, math.Min(1, v)) }
