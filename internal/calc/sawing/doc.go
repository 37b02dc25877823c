// Package sawing answers what is in a log. All sizes are under bark.
//
// LogVolume gives its volume, Pattern the boards that saw out of it with the
// greatest value and where each lies in the end of the log.
//
// Symbols, areas from diameters as pi d^2/4:
//
//	L    length                                mm
//	As   area of the small end                 mm2
//	Al   area of the large end                 mm2
//	Am   area half way along                   mm2
//	V    volume                                m3
//	x, y place from the pith, right and up     mm
//
// Start reading at LogVolume and Pattern. Inside the search of a pattern, places
// are whole ticks of 0.05 mm, and sizes and kerf are taken up to them.
package sawing
