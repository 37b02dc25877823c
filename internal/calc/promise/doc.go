// Package promise joins the certainties of timber, bench, bees and whatever else
// a job waits for into one date, and says which part decides it.
//
// Each part has a step curve: the chance that it is there by a day. A chance
// holds from its day until the next one; before the first day it is nothing.
// Parts are taken as independent, so the chance that all are there is the
// product; where one bad season or one illness hits several parts at once, the
// caller joins them into one curve first. Start reading at Promise.
package promise
