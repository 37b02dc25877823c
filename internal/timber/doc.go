// Package timber keeps the timber from the log to the rack, and everything else that
// lies in the workshop and is counted: species, logs, drying packs, lots of boards,
// fittings, finish and goods, purchases, and every move of stock.
//
// Promises beyond the book are refused, by package claims. Physical facts never are:
// [MoveTx] takes a cut from an empty lot, books what the book did not know as found,
// ends the claims that no longer hold, and says so. Counts change in no other way.
//
// It decides nothing about what a job needs; it answers what is there, what is free and
// what is coming ([Room.FreeBoards], [Room.DryingPacks]). Start reading at [Room] and
// [MoveTx].
package timber
