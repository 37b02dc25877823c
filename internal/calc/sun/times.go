package sun

import (
	"context"
	"math"
	"time"

	"kerfbook/internal/calc/contract"
)

// DayTimesIn asks for the times of one day.
type DayTimesIn struct {
	Latitude  float64 `json:"latitude" need:"yes"`  // degrees, -90 to 90
	Longitude float64 `json:"longitude" need:"yes"` // degrees, -180 to 180, east positive
	On        string  `json:"on" need:"yes"`        // date in the zone, YYYY-MM-DD
	TimeZone  string  `json:"time_zone" need:"yes"` // name in the IANA database, like Australia/Brisbane
}

// DayTimesOut holds instants in RFC 3339 in the asked zone, cut to the second. One
// that does not happen that day is nil; noon always happens.
type DayTimesOut struct {
	Sunrise   *string `json:"sunrise"`    // upper limb on the horizon, refraction included
	Sunset    *string `json:"sunset"`     // the same
	CivilDusk *string `json:"civil_dusk"` // centre 6 degrees below the horizon, after noon
	Noon      *string `json:"noon"`       // the sun crosses the meridian
}

const (
	riseElevation = -0.833 // degrees: refraction 34' and half-diameter 16' (U.S. Naval Observatory)
	duskElevation = -6.0   // degrees: end of civil twilight (the same)
)

// DayTimes gives sunrise, noon, sunset and the end of civil twilight. The day is
// the one around that true noon which lies nearest to 12:00 of the date in the
// zone: sunrise is looked for in the half day before it, sunset in the half day
// after, so that far north a sunset after midnight carries the next date. A bad
// place, date or zone gives a *contract.Error.
func DayTimes(_ context.Context, in DayTimesIn) (DayTimesOut, error) {
	var c contract.Checks
	checkPlace(&c, in.Latitude, in.Longitude)
	on := checkDate(&c, in.On)
	zone, err := time.LoadLocation(in.TimeZone)
	if err != nil || in.TimeZone == "" || in.TimeZone == "Local" {
		c.Add("/time_zone", "give a zone by its name in the IANA database, like Australia/Brisbane")
	}
	if err := c.Err(); err != nil {
		return DayTimesOut{}, err
	}
	midday := time.Date(on.Year(), on.Month(), on.Day(), 12, 0, 0, 0, zone)
	noon := nearestNoon(julian(midday), in.Longitude)
	show := func(jd float64, ok bool) *string {
		if !ok {
			return nil
		}
		s := write(instant(jd), zone)
		return &s
	}
	return DayTimesOut{
		Sunrise:   show(crossing(noon, -1, riseElevation, in.Latitude, in.Longitude)),
		Sunset:    show(crossing(noon, +1, riseElevation, in.Latitude, in.Longitude)),
		CivilDusk: show(crossing(noon, +1, duskElevation, in.Latitude, in.Longitude)),
		Noon:      show(noon, true),
	}, nil
}

// write cuts to the second, not rounds: a reader who rounds to the minute then
// gets the true instant's minute.
func write(at time.Time, zone *time.Location) string {
	at = at.In(zone).Truncate(time.Second)
	if name, offset := at.Zone(); offset%60 != 0 {
		// Local mean times of long ago have seconds, which RFC 3339 cannot write.
		at = at.In(time.FixedZone(name, offset-offset%60))
	}
	return at.Format(time.RFC3339)
}

func checkDate(c *contract.Checks, text string) time.Time {
	on, err := time.Parse(time.DateOnly, text)
	switch {
	case err != nil:
		c.Add("/on", "write the date like 2026-06-21")
	case on.Year() < firstYear || on.Year() > lastYear:
		c.Add("/on", "the year must lie between %d and %d", firstYear, lastYear)
	}
	return on
}

// hourAngle gives the sun's hour angle in degrees, -180 up to 180.
func hourAngle(s apparent, longitude float64) float64 {
	return halfTurn(s.sidereal + longitude - s.ascension)
}

// nearestNoon gives the true noon at a longitude within half a day of jd.
func nearestNoon(jd, longitude float64) float64 {
	for range 4 { // each step shrinks the error by the sun's drift, about 1/365
		jd -= hourAngle(geocentric(jd), longitude) / 360
	}
	return jd
}

// geocentricElevation leaves the parallax out, as the definition of sunrise does.
func geocentricElevation(jd, latitude, longitude float64) float64 {
	s := geocentric(jd)
	sphi, cphi := math.Sincos(rad(latitude))
	sd, cd := math.Sincos(rad(s.declination))
	return deg(math.Asin(clamp(sphi*sd + cphi*cd*math.Cos(rad(hourAngle(s, longitude))))))
}

// crossing walks from noon towards the midnight before (way -1) or after (way
// +1) and gives the first instant at which the sun goes through an elevation.
// It is false when the sun stays above or below it all the way.
func crossing(noon float64, way, elevation, latitude, longitude float64) (float64, bool) {
	above := func(jd float64) bool { return geocentricElevation(jd, latitude, longitude) > elevation }
	if !above(noon) {
		return 0, false
	}
	const steps = 48 // quarter hours of half a day
	near := noon
	for i := 1; i <= steps; i++ {
		far := noon + way*0.5*float64(i)/steps
		if above(far) {
			near = far
			continue
		}
		for range 24 { // a quarter hour halved to below a millisecond
			if mid := (near + far) / 2; above(mid) {
				near = mid
			} else {
				far = mid
			}
		}
		return (near + far) / 2, true
	}
	return 0, false
}
