// Package sun tells where the sun stands, when it rises and sets, and how long
// it shines on the front of a box that hangs under an eave.
//
// The sun's place follows Ibrahim Reda and Afshin Andreas, Solar Position
// Algorithm for Solar Radiation Applications, NREL/TP-560-34302 (2003, revised
// 2008), called "the report" in this package. Start at Position for one
// instant, DayTimes for a day, Eave for a wall.
//
//	symbol       meaning                                        unit
//	phi          latitude, north positive                       degrees
//	sigma        longitude, east positive                       degrees
//	delta        declination of the sun                         degrees
//	H            hour angle, 0 at true noon, west positive      degrees
//	elevation    above the level horizon, without refraction    degrees
//	azimuth      from north, clockwise                          degrees
//
// Solar time in this package is true solar time: 12:00 is when the sun crosses
// the meridian, and an hour is 15 degrees of hour angle.
//
// Differs from the report: series terms too small to matter are left out (see
// earth.go), and the difference between dynamical and clock time comes from a
// polynomial instead of being asked for (see deltat.go). The package knows no
// clouds, hills or trees, and never asks what day it is today.
package sun

import _ "time/tzdata" // zones must be known on machines that have no zone files
