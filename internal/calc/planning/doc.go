// Package planning lays out work for few hands: which step when, so that late
// promises are few, short and light.
//
// Time is clock minutes from an origin. A step is work by one hand inside the
// calendar's open spells; it pauses where a spell ends and goes on where the next
// begins, unless it is unbroken. A wait after a step runs by the clock and needs
// nobody. Neighbouring steps on one hand with the same batch key share one
// set-up, which lies inside the first of them. A resource is held while a step
// that needs it runs; with hours of its own it is there only in them, and such a step
// pauses meanwhile. What is minimised is the sum of weight times tardy minutes.
//
//	symbol  meaning                                    unit
//	p       work of a step without set-up              minutes
//	r       release: no step of the job before it      minute
//	d       due                                        minute
//	w       weight of a late minute of the job         -
//	C       end of the job's last step                 minute
//	T       max(0, C - d)                              minutes
//
// Start reading at Plan. Check tells whether a plan keeps every rule and is
// written apart from the code that lays plans. Earliest fits one more job into a
// plan without moving anything.
//
// It does not guess durations, knows no dates and moves nothing that is fixed.
package planning
