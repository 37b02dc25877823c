// Package sawing answers what is in a log. All sizes are under bark.
//
// Symbols, areas from diameters as pi d^2/4:
//
//	L    length                                mm
//	As   area of the small end                 mm2
//	Al   area of the large end                 mm2
//	Am   area half way along                   mm2
//	V    volume                                m3
//
// Start reading at LogVolume.
package sawing
