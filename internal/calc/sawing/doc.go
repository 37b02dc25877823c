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
// # Why the pattern is the best of its family
//
// Pushing inwards loses nothing. How far a board may reach from the butt falls with
// the distance of its farthest corner from the pith. Take a pattern, and the
// innermost row on each side of the pith: moving the rows beyond it inwards until
// they lie a kerf apart brings every corner nearer, or leaves it. So only the row or
// cut over the pith is free, and likewise the lane or cut over the pith in each row. In a lane
// beside the pith the same holds of what stands behind a board. Hence two functions
// say it all: the best from a place outwards, for rows and for the lanes of one row.
//
// Both directions. Turning the log a quarter about its axis turns level rows into
// upright ones and changes no board: the best of one direction is the best of the other.
//
// A wide board stands nearer to the butt. Where a narrow board stands before one
// wider board in a strip that holds both, change their order: the wide one then ends
// sooner than before, and the narrow one reaches no farther than the wide one did,
// in a place no farther from the pith. So nothing is lost by boards that grow narrower.
//
// Few lengths need trying. With the places chosen, the value is linear in the ends
// of the boards. Let boards that touch at their least lengths move as one body: the
// value of moving it is linear, so it moves until it meets the cone, or the butt. If
// it pays to move it down to the butt, so that a board there has only its least length,
// then what stands behind is worth more for a metre than that board, and takes its
// place with profit. So each board ends where the cone stops it, or where the boards
// behind it, each at its least length, must begin so that the last of them ends at the
// cone. A shorter end is kept only when the lane is then worth more (type end).
//
// Bounds. What stands behind a board is worth no more for a metre than it, and
// reaches no farther than the narrowest would (rower.most). A row farther out is
// worth no more (stack.hope). Both only pass over what cannot be best; the tests
// compare with searches that pass over nothing.
//
// Start reading at LogVolume and Pattern. Inside the search of a pattern, places
// are whole ticks of 0.05 mm, and sizes and kerf are taken up to them.
package sawing
